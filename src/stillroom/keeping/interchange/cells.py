"""What one cell of an interchange file may hold: how it is written, and read back exactly."""

import json
import re
from abc import ABC, abstractmethod
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from stillroom.errors import NotUnderstood
from stillroom.keeping.keeper import stamp
from stillroom.keeping.words import NAME_LENGTH, clean_name, clean_note

# Spreadsheets take a cell for a formula by its first character, and some look past leading space
# or fold full-width signs. An apostrophe in front makes it text; as every run of apostrophes
# before such a sign gets one more when written and loses one when read, the way back is exact.
_FORMULA = re.compile(r"'*\s*[=+\-@\t\r\n＝＋－＠]")


def guarded(text: str) -> str:
    """A text no spreadsheet takes for a formula."""
    return f"'{text}" if _FORMULA.match(text) else text


def unguarded(cell: str) -> str:
    """The text that `guarded` was given."""
    return cell[1:] if cell.startswith("'") and _FORMULA.match(cell) else cell


class CellKind(ABC):
    """A kind of value in a column; empty where nothing is known."""

    blank: Any = None
    """The value of an empty cell."""

    @property
    @abstractmethod
    def expects(self) -> str:
        """What the cell may hold, in words."""

    @abstractmethod
    def read(self, cell: str) -> Any:
        """The value to store; NotUnderstood explains what would be valid."""

    def write(self, value: Any) -> str:
        """The cell for a value as stored."""
        return str(value)

    def plain(self, value: Any) -> Any:
        """The value for a program to read, typed."""
        return value


@dataclass(frozen=True)
class Text(CellKind):
    """Words, on one line or on several."""

    limit: int = NAME_LENGTH
    lines: bool = False
    blank: Any = ""

    @property
    def expects(self) -> str:
        lines = ", on any number of lines" if self.lines else ""
        return f"text of up to {self.limit} characters{lines}"

    def write(self, value: Any) -> str:
        return guarded(value)

    def read(self, cell: str) -> Any:
        text = unguarded(cell)
        if self.lines:
            return clean_note(text, "This", limit=self.limit)
        return clean_name(text, "This", required=False, limit=self.limit)


@dataclass(frozen=True)
class Json(CellKind):
    """A row of the shelf as a JSON object."""

    @property
    def expects(self) -> str:
        return "a JSON object"

    def read(self, cell: str) -> Any:
        try:
            is_object = isinstance(json.loads(cell), dict)
        except (ValueError, RecursionError):
            is_object = False
        if not is_object:
            raise NotUnderstood("Enter a JSON object.")
        return cell


@dataclass(frozen=True)
class Link(CellKind):
    """The key of a line in another file."""

    file: str
    find: str = ""
    """SQL that finds the row's id from the cells of the line; blank where the key is a number that
    the other file gives its lines."""
    key: str = ""
    """The cell of this line that holds the other line's key, where it is not the cell itself."""
    numbered: bool = False
    """Whether the key is a number."""

    @property
    def expects(self) -> str:
        return f"a line of {self.file}"

    def write(self, value: Any) -> str:
        return str(value) if self.numbered else guarded(value)

    def read(self, cell: str) -> Any:
        if self.numbered:
            return _whole(cell, 1, 10**9)
        return clean_name(unguarded(cell), "This", required=False)


_NUMBER = re.compile(r"-?\d{1,15}(\.\d{1,30})?([eE][+-]?\d{1,3})?")


@dataclass(frozen=True)
class Number(CellKind):
    """A number with a decimal point, in the unit in the column's name."""

    least: float = 0.0
    most: float = 1e6
    above: bool = False
    """Whether the least itself is too little."""

    @property
    def expects(self) -> str:
        start = "above" if self.above else "from"
        return f"a number {start} {_short(self.least)} to {_short(self.most)}"

    def write(self, value: Any) -> str:
        return _short(value)

    def read(self, cell: str) -> Any:
        if not _NUMBER.fullmatch(cell):
            hint = " with a point, not a comma" if "," in cell else ""
            raise NotUnderstood(f"Enter {self.expects}{hint}, without a unit.")
        value = float(cell)
        if not self.least <= value <= self.most or (self.above and value == self.least):
            raise NotUnderstood(f"Out of range. Enter {self.expects}.")
        return value


def _short(value: float) -> str:
    """The shortest digits that read back as the same number."""
    return repr(float(value)).removesuffix(".0")


@dataclass(frozen=True)
class Whole(CellKind):
    """A whole number."""

    least: int = 0
    most: int = 10**9

    @property
    def expects(self) -> str:
        return f"a whole number from {self.least} to {self.most}"

    def read(self, cell: str) -> Any:
        return _whole(cell, self.least, self.most)


_WHOLE = re.compile(r"-?\d{1,12}", re.ASCII)


def _whole(cell: str, least: int, most: int) -> int:
    if not _WHOLE.fullmatch(cell) or not least <= (number := int(cell)) <= most:
        raise NotUnderstood(f"Enter a whole number from {least} to {most}.")
    return number


@dataclass(frozen=True)
class YesNo(CellKind):
    """Yes or no."""

    blank: int | None = None

    @property
    def expects(self) -> str:
        return "yes or no"

    def write(self, value: Any) -> str:
        return "yes" if value else "no"

    def read(self, cell: str) -> Any:
        if cell not in ("yes", "no"):
            raise NotUnderstood("Enter yes or no.")
        return int(cell == "yes")

    def plain(self, value: Any) -> Any:
        return bool(value)


@dataclass(frozen=True)
class OneOf(CellKind):
    """One of a few words."""

    options: tuple[str, ...]
    blank: Any = None

    @property
    def expects(self) -> str:
        return one_of(self.options)

    def read(self, cell: str) -> Any:
        if cell not in self.options:
            raise NotUnderstood(f"Enter {self.expects}.")
        return cell


def one_of(words: Iterable[str]) -> str:
    """Words to choose from: `leaf, root or bark`."""
    *others, last = words
    return f"{', '.join(others)} or {last}" if others else last


@dataclass(frozen=True)
class Day(CellKind):
    """A day of the shelf."""

    past: bool = False
    """Whether it is a day that must have come already."""

    @property
    def expects(self) -> str:
        return "a date such as 2026-11-26" + (", not in the future" if self.past else "")

    def read(self, cell: str) -> Any:
        try:
            day = date.fromisoformat(cell)
        except ValueError:
            day = None
        # The standard's other spellings pass Python, but SQLite and spreadsheets know only this.
        if day is None or day.isoformat() != cell:
            raise NotUnderstood("Enter a date as year-month-day, such as 2026-11-26.")
        return cell


@dataclass(frozen=True)
class Month(CellKind):
    """A month of a year."""

    @property
    def expects(self) -> str:
        return "a month such as 2026-11"

    def read(self, cell: str) -> Any:
        try:
            is_month = date.fromisoformat(f"{cell}-01").strftime("%Y-%m") == cell
        except ValueError:
            is_month = False
        if not is_month:
            raise NotUnderstood("Enter a month as year-month, such as 2026-11.")
        return cell


@dataclass(frozen=True)
class DayOfYear(CellKind):
    """A day of any year."""

    @property
    def expects(self) -> str:
        return "a month and day such as 06-15"

    def read(self, cell: str) -> Any:
        # In a leap year, as 29 February is a day of some years.
        try:
            is_day = date.fromisoformat(f"2024-{cell}").strftime("%m-%d") == cell
        except ValueError:
            is_day = False
        if not is_day:
            raise NotUnderstood("Enter a day as month-day, such as 06-15.")
        return cell


_AS_STAMPED = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{6}\+00:00", re.ASCII)
"""The form that `stamp` gives a moment."""


@dataclass(frozen=True)
class Moment(CellKind):
    """A moment with its offset from UTC."""

    @property
    def expects(self) -> str:
        return "a time such as 2026-11-26T09:15:00.000000+00:00"

    def read(self, cell: str) -> Any:
        try:
            moment = datetime.fromisoformat(cell)
        except ValueError:
            moment = None
        if moment is None or moment.tzinfo is None:
            raise NotUnderstood(f"Enter {self.expects}.")
        if _AS_STAMPED.fullmatch(cell):
            return cell
        try:
            return stamp(moment)
        except OverflowError:
            raise NotUnderstood(f"Enter {self.expects}.") from None
