"""The interchange files: one specification that writing, reading and the description share."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from stillroom.keeping.interchange.cells import (
    CellKind,
)
from stillroom.keeping.keeper import Keeper

MANIFEST = "manifest.json"
"""The file of a folder that says what it is."""
FORMAT = "stillroom shelf"
FORMAT_VERSION = 2
"""What is written. Version 1, of the first release, had no journal; it is read for good."""

MOST_REMEMBERED, LONGEST_REMEMBERED = 10_000, 100
"""Cells of a column that are remembered with what they mean, and the letters of one of them."""

_TEXT = (str, bytes)

Row = dict[str, Any]
"""The values of one line by column, with the ids its links led to."""


class Remembered(dict[Any, Any]):
    """What was worked out for each cell of a column, or for each value: most come again."""

    def __init__(self, work_out: Callable[[Any], Any]) -> None:
        """Remember what a function returns; what it raises is not remembered."""
        super().__init__()
        self._work_out = work_out

    def __missing__(self, key: Any) -> Any:
        found = self._work_out(key)
        if not isinstance(key, _TEXT) or len(key) < LONGEST_REMEMBERED:
            if len(self) >= MOST_REMEMBERED:
                self.clear()
            self[key] = found
        return found


@dataclass(frozen=True)
class FileColumn:
    """One column of a file."""

    name: str
    cell: CellKind
    about: str
    required: bool = True
    field: str | None = ""
    """The table's column it fills; blank for one of the same name, None where it is a key only."""
    source: str = ""
    """SQL that gives its value; blank for the field itself."""
    settled: bool = True
    """Whether a line the shelf has already must agree in it."""

    @property
    def stored_in(self) -> str | None:
        """The table's column it fills."""
        return self.name if self.field == "" else self.field


@dataclass(frozen=True)
class Rule:
    """What must hold between the cells of one line."""

    column: str
    holds: Callable[[Row], bool]
    message: str


@dataclass(frozen=True)
class FileTable:
    """One file, with the record it carries."""

    name: str
    """Of the file, without its ending."""
    record: str
    """The SQL table."""
    about: str
    columns: tuple[FileColumn, ...]
    key: tuple[str, ...]
    """Columns that identify a line."""
    order: str = "id"
    known: str = ""
    """SQL condition that picks the shelf's own row for a line, where the key is unique there."""
    alike: tuple[str, ...] = ()
    """Fields that show whether the shelf has a line already, where no key is unique there."""
    alike_in_1: tuple[str, ...] = ()
    """The same in a folder of format 1, where it differs."""
    counted_by: str = ""
    """The field within which lines are numbered from 1."""
    blamed: str = ""
    """The column at fault when the shelf's own rules refuse a line."""
    rules: tuple[Rule, ...] = ()
    followed: bool = False
    """Whether later lines or checks ask where its rows came from."""
    own: tuple[str, ...] = ()
    """First keys of rows that belong to the file itself: neither written nor read."""
    only: str = ""
    """SQL condition on the rows that are written; blank for all."""
    from_1: Callable[[Row], None] | None = None
    """Turns a line of format 1 into one of ours, where that needs more than blank cells."""
    since: int = 1
    """The first version of the format that has this file."""
    until: int = FORMAT_VERSION
    """The last version that has it."""
    proof: Callable[[Keeper], object] | None = None
    """Raises ValueError when a line just taken in makes the shelf unusable."""

    @property
    def file(self) -> str:
        """The file's name."""
        return f"{self.name}.csv"

    @property
    def fields(self) -> tuple[str, ...]:
        """The fields that a line fills."""
        return tuple(c.stored_in for c in self.columns if c.stored_in)

    @property
    def insert(self) -> str:
        """SQL for a row of its own with these fields."""
        marks = ", ".join("?" * len(self.fields))
        return f"INSERT INTO {self.record} ({', '.join(self.fields)}) VALUES ({marks})"

    @property
    def select(self) -> str:
        """SQL for its lines in their lasting order."""
        sources = (c.source or f"{self.record}.{c.stored_in}" for c in self.columns)
        own = ", ".join(f"'{key}'" for key in self.own)
        conditions = [f"{self.key[0]} NOT IN ({own})"] if own else []
        where = " AND ".join(filter(None, [*conditions, self.only])) or "1"
        return f"SELECT {', '.join(sources)} FROM {self.record} WHERE {where} ORDER BY {self.order}"
