"""The description of an export for other programs: a Data Package, with a schema of each file.

Of the Frictionless standards, version 1 (https://specs.frictionlessdata.io/table-schema/).
"""

import json
from typing import Any

from stillroom.keeping.interchange.cells import (
    CellKind,
    Day,
    DayOfYear,
    Json,
    Link,
    Moment,
    Month,
    Number,
    OneOf,
    Text,
    Whole,
    YesNo,
)
from stillroom.keeping.interchange.columns import FORMAT, FORMAT_VERSION, FileColumn, FileTable
from stillroom.keeping.interchange.tables import TABLES

PACKAGE = "datapackage.json"
_GUARD = 1
"""The apostrophe before a text that a spreadsheet would take for a formula."""


def data_package() -> str:
    """The description as JSON."""
    said = {
        "profile": "tabular-data-package",
        "name": FORMAT.replace(" ", "-"),
        "version": str(FORMAT_VERSION),
        "resources": [_resource(table) for table in TABLES],
    }
    return json.dumps(said, ensure_ascii=False, indent=1) + "\n"


def _resource(table: FileTable) -> dict[str, Any]:
    return {
        "profile": "tabular-data-resource",
        "name": table.name.replace("_", "-"),
        "path": table.file,
        "description": table.about,
        "format": "csv",
        "encoding": "utf-8",
        "dialect": {"delimiter": ",", "doubleQuote": True, "lineTerminator": "\r\n"},
        "schema": {
            "fields": [_field(column) for column in table.columns],
            "missingValues": [""],
        },
    }


def _field(column: FileColumn) -> dict[str, Any]:
    field = {"name": column.name, **_type(column.cell), "description": column.about}
    constraints = dict(field.pop("constraints", {}))
    if column.required:
        constraints["required"] = True
    return {**field, "constraints": constraints} if constraints else field


def _type(cell: CellKind) -> dict[str, Any]:
    """The type of a field with its constraints."""
    match cell:
        case Number():
            limits = {"minimum": cell.least, "maximum": cell.most}
            return {"type": "number", "constraints": limits}
        case Whole():
            return {"type": "integer", "constraints": {"minimum": cell.least, "maximum": cell.most}}
        case YesNo():
            return {"type": "boolean", "trueValues": ["yes"], "falseValues": ["no"]}
        case OneOf():
            return {"type": "string", "constraints": {"enum": [str(each) for each in cell.options]}}
        case Day():
            return {"type": "date"}
        case Month():
            return {"type": "yearmonth"}
        case DayOfYear():
            return {"type": "string", "constraints": {"pattern": r"\d\d-\d\d"}}
        case Moment():
            pattern = r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{6}\+00:00"
            return {"type": "string", "constraints": {"pattern": pattern}}
        case Json():
            return {"type": "object"}
        case Link(numbered=True):
            return {"type": "integer", "constraints": {"minimum": 1}}
        case Text():
            return {"type": "string", "constraints": {"maxLength": cell.limit + _GUARD}}
        case _:
            return {"type": "string"}
