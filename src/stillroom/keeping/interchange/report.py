"""What an import found and did, for people and for programs."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

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

    def __str__(self) -> str:
        place = self.file if self.line is None else f"{self.file} line {self.line}"
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

    def __str__(self) -> str:
        which = f"row {self.rows[0]}" if len(self.rows) == 1 else f"rows {row_ranges(self.rows)}"
        unread = ", ".join(f'"{text}"' for text in self.unread)
        why = f", where {unread} is not clear" if unread else ""
        first, *others = (_option(self.key, choice) for choice in self.choices)
        return f"{_ASKED[self.key]} in {which}{why}. Add {first}" + (
            f" (or {', '.join(others)})." if others else "."
        )


_ASKED = {
    "part": "Which part of the plant",
    "condition": "Fresh or dried",
    "pressing": "How the herb was pressed",
    "strained": "The straining date",
}


def _option(key: str, value: str) -> str:
    pair = f"{key}={value}"
    return f'--set "{pair}"' if " " in pair else f"--set {pair}"


def row_ranges(rows: Iterable[int]) -> str:
    """Rows as a person lists them: `2-5, 9`."""
    runs: list[list[int]] = []
    for row in sorted(set(rows)):
        if runs and row == runs[-1][-1] + 1:
            runs[-1].append(row)
        else:
            runs.append([row])
    return ", ".join(f"{run[0]}-{run[-1]}" if len(run) > 1 else str(run[0]) for run in runs)


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
