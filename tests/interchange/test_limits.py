"""What the import takes is what the schema takes: neither is wider without a reason here."""

import re
import sqlite3
from collections.abc import Iterator
from math import inf, nextafter

import pytest

from stillroom.errors import NotUnderstood
from stillroom.keeping.interchange.cells import CellKind, Number, OneOf, Text, Whole, YesNo
from stillroom.keeping.interchange.columns import FileColumn, FileTable
from stillroom.keeping.interchange.tables import TABLES
from stillroom.keeping.keeper import Keeper

WORDS = re.compile(r"'([^']*)'")
NUMBERS = re.compile(r"(?<![\w.])\d+(?:\.\d+)?(?:e\d+)?(?![\w.])")


NARROWER = {
    ("herbs_in_jars", "water_fraction"): (0.999999, 1.0),  # herb that is all water is no herb
    ("herb_lots", "water_fraction"): (0.999999, 1.0),
    ("tinctures", "lost_ml"): (1e6, inf),  # a rule between columns: at most the volume
    ("movements", "volume_ml"): (-1e-300, 1e-300),  # nothing moved: the import's rule refuses it
    ("cupboard_movements", "volume_ml"): (-1e-300, 1e-300),
}
"""Where the two differ on purpose: between these values, ends included, and nowhere else."""
UNBOUNDED = 10**9
"""The most a whole number may be in a file where the schema sets no upper limit."""


def on_purpose(table: FileTable, column: FileColumn, value: object) -> bool:
    least, most = NARROWER.get((table.name, column.name), (inf, -inf))
    if isinstance(column.cell, Whole) and column.cell.most == UNBOUNDED:
        most, least = inf, UNBOUNDED
    return isinstance(value, (int, float)) and least <= value <= most


def stored() -> Iterator[tuple[FileTable, FileColumn]]:
    for table in TABLES:
        for column in table.columns:
            if column.stored_in and isinstance(column.cell, (OneOf, Number, Text, Whole, YesNo)):
                yield table, column


STORED = list(stored())


def check_of(keeper: Keeper, table: str, field: str) -> str:
    """The CHECK of one column, cut out of the table's SQL by its brackets; blank without one."""
    ((sql,),) = keeper.rows("SELECT sql FROM sqlite_schema WHERE name = ?", table)
    begun = re.search(rf"(?:^|,)\s*{field}\s+(?:TEXT|REAL|INTEGER)\b", sql, re.MULTILINE)
    assert begun, f"{table} has no column {field}"
    check = re.compile(r"[^,(]*(?:\([^()]*\)[^,(]*)*?CHECK \(").match(sql, begun.end())
    if not check:
        return words_of(keeper, table, field)
    depth, end = 1, check.end()
    while depth:
        depth += {"(": 1, ")": -1}.get(sql[end], 0)
        end += 1
    return str(sql[check.end() : end - 1])


def words_of(keeper: Keeper, table: str, field: str) -> str:
    """The words of a table that a column may hold only words of, as a CHECK; blank without one."""
    for _, _, parent, column, its_column, *_ in keeper.rows(f"PRAGMA foreign_key_list({table})"):
        if column == field and its_column == "name":
            words = ", ".join(f"'{word}'" for (word,) in keeper.rows(f"SELECT name FROM {parent}"))
            return f"{field} IN ({words})"
    return ""


def probes(cell: CellKind, check: str) -> list[object]:
    """Values on both sides of every limit that either of the two knows, and every word."""
    if isinstance(cell, OneOf):
        return ["", "herb", *cell.options, *WORDS.findall(check)]
    limits = [float(number) for number in NUMBERS.findall(check)]
    if isinstance(cell, Text):
        lengths = {int(limit) for limit in [*limits, cell.limit]}
        return ["x" * n for length in lengths for n in (length - 1, length, length + 1) if n > 0]
    if isinstance(cell, YesNo):
        return [-1, 0, 1, 2]
    assert isinstance(cell, (Number, Whole))
    edges = {*limits, float(cell.least), float(cell.most), -1.0}
    if isinstance(cell, Whole):
        return [int(edge) + step for edge in edges for step in (-1, 0, 1)]
    return [
        beside for edge in edges for beside in (nextafter(edge, -inf), edge, nextafter(edge, inf))
    ]


def import_takes(column: FileColumn, value: object) -> bool:
    if value == "" and not column.required:
        return True
    cell = column.cell
    known: dict[object, str] = {0: "no", 1: "yes"}
    written = known.get(value, str(value)) if isinstance(cell, YesNo) else None
    text = f"{value:.20e}" if isinstance(value, float) else str(value)
    try:
        cell.read(written if written is not None else text)
    except NotUnderstood:
        return False
    return True


def as_stored(column: FileColumn, value: object) -> object:
    """An empty cell becomes what the column has for it."""
    return column.cell.blank if value == "" and not column.required else value


def schema_takes(check: str, field: str, value: object) -> bool:
    with sqlite3.connect(":memory:") as db:
        ((holds,),) = db.execute(f"SELECT {check or 1} FROM (SELECT ? AS {field})", (value,))
    db.close()
    return holds is None or bool(holds)


@pytest.mark.parametrize(("table", "column"), STORED, ids=[f"{t.name}.{c.name}" for t, c in STORED])
def test_the_limits_and_choices_of_import_are_those_of_the_schema(
    keeper: Keeper, table: FileTable, column: FileColumn
) -> None:
    field = column.stored_in
    assert field
    check = check_of(keeper, table.record, field)
    differ = [
        value if not isinstance(value, str) else value[:20] + f" ({len(value)})"
        for value in probes(column.cell, check)
        if import_takes(column, value) != schema_takes(check, field, as_stored(column, value))
        and not on_purpose(table, column, value)
    ]
    assert differ == []
