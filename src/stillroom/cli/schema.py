"""JSON Schema in few words: what a value may be, and its meaning."""

from collections.abc import Mapping
from typing import Any

SHAPES_VERSION = 1
"""Printed with every result.

Rises when a field is renamed or removed, or changes its meaning; a new field doesn't raise it.
"""

Schema = dict[str, Any]
"""A schema of JSON Schema, draft 2020-12."""

TEXT: Schema = {"type": "string"}
YES_NO: Schema = {"type": "boolean"}
WHOLE: Schema = {"type": "integer"}
NUMBER: Schema = {"type": "number"}
DAY: Schema = {"type": "string", "format": "date"}
MOMENT: Schema = {"type": "string", "pattern": r"^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d"}
ANYTHING: Schema = {}


def meaning(schema: Schema, words: str) -> Schema:
    """The same, with what it means."""
    return schema | {"description": words}


def or_null(schema: Schema) -> Schema:
    """That, or null where it isn't known or there is none."""
    return {"anyOf": [schema, {"type": "null"}]}


def one_of(*schemas: Schema) -> Schema:
    """A value that has one of these shapes."""
    return {"anyOf": list(schemas)}


def list_of(schema: Schema) -> Schema:
    """Any number of that."""
    return {"type": "array", "items": schema}


def by_name(schema: Schema) -> Schema:
    """Any number of that, each under a name of its own."""
    return {"type": "object", "additionalProperties": schema}


def record(fields: Mapping[str, Schema], sometimes: Mapping[str, Schema] | None = None) -> Schema:
    """An object with these fields; `sometimes` are those that may be missing."""
    return {
        "type": "object",
        "properties": {**fields, **(sometimes or {})},
        "required": list(fields),
    }


def shared(name: str) -> Schema:
    """A shape that several have in common, by its name."""
    return {"$ref": f"#/$defs/{name}"}


def strict(schema: Any) -> Any:
    """The same, without fields that aren't named."""
    if isinstance(schema, list):
        return [strict(each) for each in schema]
    if not isinstance(schema, dict):
        return schema
    inner = {key: strict(value) for key, value in schema.items()}
    if "properties" in schema and isinstance(schema.get("type"), str):
        inner.setdefault("additionalProperties", False)
    return inner
