"""What an import found and did, for people and for programs."""

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from stillroom.errors import Refused
from stillroom.keeping.interchange.cells import Link
from stillroom.keeping.interchange.columns import FileColumn


@dataclass(frozen=True)
class BadLine:
    """One thing in a file that cannot be taken in, and what would be right."""

    file: str
    line: int | None
    """Counted from 1, the heading included; None where it is about the whole file."""
    column: str
    """Blank where it is about the whole line."""
    message: str
    is_row: bool = False
    """Whether it is numbered as the rows of a spreadsheet are."""

    def __str__(self) -> str:
        counted = "row" if self.is_row else "line"
        place = self.file if self.line is None else f"{self.file} {counted} {self.line}"
        return (
            f"{place}, {self.column}: {self.message}" if self.column else f"{place}: {self.message}"
        )


@dataclass(frozen=True)
class Question:
    """A fact that the shelf needs and a spreadsheet leaves out, for all the rows without it."""

    key: str
    """Of `--set KEY=VALUE`."""
    rows: tuple[int, ...]
    """As the spreadsheet numbers them."""
    unread: tuple[str, ...]
    """What is in the cells that could not be understood."""
    choices: tuple[str, ...]
    """Every value the answer may have."""
    herbs: tuple[str, ...] = ()
    """The herbs that it is about."""

    @property
    def asks(self) -> str:
        """The question in words, without the ways to answer it."""
        if self.key in _OF_THE_SHEET:
            return _OF_THE_SHEET[self.key].format(*self.unread)
        which = f"row {self.rows[0]}" if len(self.rows) == 1 else f"rows {row_ranges(self.rows)}"
        unread = ", ".join(f'"{text}"' for text in self.unread)
        why = f", where {unread} is not clear" if unread else ""
        return f"{_ASKED[self.key]} in {which}{why}"

    def option(self, choice: str) -> str:
        """What to add to the command for one of the answers."""
        name = {"sheet": "--sheet-name", "dates": "--dates", "decimal": "--decimal"}.get(self.key)
        if self.key in ("column", "meaning"):
            name = "--map"
        return f"{name} {_quoted(choice)}" if name else f"--set {_quoted(f'{self.key}={choice}')}"

    def __str__(self) -> str:
        if not self.choices:
            return f"{self.asks}."
        first, *others = map(self.option, self.choices)
        said = f"{self.asks}. Add {first}" + (f" (or {', '.join(others)})." if others else ".")
        if self.herbs:
            said += f" It is about {', '.join(self.herbs)}."
        if len(self.herbs) > 1:
            one = _quoted(f"{self.key}:{self.herbs[0]}={self.choices[0]}")
            said += f" For one herb: --set {one}."
        return said


_ASKED = {
    "part": "Which part of the plant",
    "condition": "Fresh or dried",
    "pressing": "How the herb was pressed",
    "strained": "The straining date",
    "herb": "The herb is blank",
    "day": "The date is blank",
    "ranges": "What to take of a range of figures",
}
_OF_THE_SHEET = {
    "sheet": "Which sheet of the file",
    "column": "Which column has the {0}",
    "meaning": "What the column {0} holds",
    "dates": "Whether dates such as 3/4 have the day or the month first",
    "decimal": "Whether figures such as 1,250 have a decimal comma or a decimal point",
}


def _quoted(text: str) -> str:
    return f'"{text}"' if any(sign in text for sign in " ?()/&;*") else text


def row_ranges(rows: Iterable[int]) -> str:
    """Rows as a person lists them: `2-5, 9`."""
    runs: list[list[int]] = []
    for row in sorted(set(rows)):
        if runs and row == runs[-1][-1] + 1:
            runs[-1].append(row)
        else:
            runs.append([row])
    return ", ".join(f"{run[0]}-{run[-1]}" if len(run) > 1 else str(run[0]) for run in runs)


def rows_listed(text: str) -> frozenset[int]:
    """Rows from a list of them; Refused where it is none.

    >>> sorted(rows_listed("4, 9-11"))
    [4, 9, 10, 11]
    """
    rows: set[int] = set()
    for piece in filter(None, (piece.strip() for piece in text.split(","))):
        found = re.fullmatch(r"(\d{1,7})(?: ?- ?(\d{1,7}))?", piece)
        if not found:
            raise Refused(f"{piece} is no row. Write rows such as 4,9-12.")
        rows |= set(range(int(found[1]), int(found[2] or found[1]) + 1))
    return frozenset(rows)


@dataclass(frozen=True)
class ImportReport:
    """The outcome of an import; with a bad line or a question in it, nothing was changed."""

    bad: tuple[BadLine, ...] = ()
    questions: tuple[Question, ...] = ()
    """What a person must answer before anything is imported."""
    added: dict[str, int] = field(default_factory=dict)
    """Lines taken in, by kind of record."""
    unchanged: dict[str, int] = field(default_factory=dict)
    """Lines the shelf had already, by kind of record."""
    assumed: tuple[str, ...] = ()
    """What was assumed because a notebook leaves it out, one sentence each."""
    skipped: tuple[str, ...] = ()
    """Rows of a notebook that hold no jar and no bottle."""
    columns: dict[str, str] = field(default_factory=dict)
    """What each heading of a notebook was read as."""
    read: tuple[str, ...] = ()
    """How a notebook was read: its encoding, the order of its dates, sheets left out."""
    preview: tuple[str, ...] = ()
    """Each jar of a notebook as it is, or would be, on the shelf."""
    dry_run: bool = False

    @property
    def is_clean(self) -> bool:
        """Whether every line could be read, and all is known that must be."""
        return not (self.bad or self.questions)

    @property
    def is_done(self) -> bool:
        """Whether the shelf now holds what was read."""
        return self.is_clean and not self.dry_run

    @property
    def total_added(self) -> int:
        """Lines taken in, of every kind."""
        return sum(self.added.values())


def conflict(column: FileColumn, own: Any) -> str:
    """What is said of a cell that differs from the shelf's own value."""
    if isinstance(column.cell, Link):
        return "The shelf has a different value here. Make them the same, or leave this line out."
    said = "nothing" if own in (None, "") else f"{column.cell.write(own)!r}"
    return f"The shelf has {said} here. Make them the same, or leave this line out."
