"""A person's own spreadsheet, saved as text: any delimiter, any usual name for a column."""

import csv
import io
import re
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from stillroom.errors import Refused
from stillroom.files import open_ordinary

_DELIMITERS = (",", ";", "\t")
_UNITS = r"g|kg|oz|lb|ml|l|cl|dl|fl oz|%|abv|% abv|vol|% vol|proof"
_UNIT_AT_END = re.compile(rf"(?P<name>.*\S) (?P<unit>{_UNITS})")
_BARE_NUMBER = re.compile(r"[\d.,\s]*\d[\d.,\s]*")
MOST_BYTES = 20_000_000


class Spreadsheet:
    """A spreadsheet with a heading; a fault of the file itself is in `problem`."""

    def __init__(self, path: Path, headings: Mapping[str, str]) -> None:
        """Read a file, with the names that each column may have, parted by bars."""
        self.problem = ""
        self.others: dict[str, int] = {}
        """Positions of the columns whose headings mean nothing here."""
        self.columns: dict[str, int] = {}
        """The position of each column."""
        self.headings: dict[str, str] = {}
        """What each column is called here."""
        self._units: dict[str, str] = {}
        self._text = self._read(path)
        self._delimiter = self._most_used()
        if not self.problem:
            self._find_columns(headings)

    def __iter__(self) -> Iterator[tuple[int, dict[str, str], dict[str, str]]]:
        """Every row that holds something: its number in the spreadsheet, its cells by column, and
        what is in the other columns by heading."""
        reader = self._reader()
        next(reader, None)
        row = 2
        try:
            for cells in reader:
                if any(cell.strip() for cell in cells):
                    others = {name: _at(place, cells) for name, place in self.others.items()}
                    yield row, {name: self._cell(name, cells) for name in self.columns}, others
                row += 1
        except csv.Error as error:
            self.problem = f"From line {row} on, the file is not CSV ({error})."

    def _read(self, path: Path) -> str:
        try:
            with open_ordinary(path, MOST_BYTES) as file:
                raw = file.read(MOST_BYTES)
        except Refused as error:
            self.problem = str(error)
            return ""
        except OSError as error:
            self.problem = f"The file can't be read: {error.strerror}."
            return ""
        for encoding in ("utf-16",) if raw[:2] in (b"\xff\xfe", b"\xfe\xff") else ("utf-8-sig",):
            try:
                return raw.decode(encoding)
            except UnicodeDecodeError:
                self.problem = "The file is not in UTF-8. Save it as CSV in UTF-8."
        return ""

    def _most_used(self) -> str:
        heading = self._text.split("\n", 1)[0]
        return max(_DELIMITERS, key=heading.count)

    def _reader(self) -> Any:
        return csv.reader(io.StringIO(self._text, newline=None), delimiter=self._delimiter)

    def _find_columns(self, headings: Mapping[str, str]) -> None:
        known = {name: column for column, names in headings.items() for name in names.split("|")}
        for place, heading in enumerate(next(self._reader(), [])):
            name, unit = _plain(heading)
            column = known.get(name) or known.get(f"{name} {unit}".strip())
            if column is None or column in self.columns:
                if name:
                    self.others.setdefault(heading.strip(), place)
                continue
            self.columns[column] = place
            self.headings[column] = heading.strip()
            self._units[column] = unit

    def _cell(self, column: str, cells: list[str]) -> str:
        """The text of a cell; a bare number takes the unit that its heading names."""
        text = _at(self.columns[column], cells)
        unit = self._units[column]
        return f"{text} {unit}" if unit and _BARE_NUMBER.fullmatch(text) else text


def _at(place: int, cells: list[str]) -> str:
    return cells[place].strip() if place < len(cells) else ""


def _plain(heading: str) -> tuple[str, str]:
    """A heading in plain small words, and the unit at its end."""
    words = " ".join(re.sub(r"[\W_]+", " ", heading.casefold().replace("%", " percent ")).split())
    words = words.replace("percent", "%")
    found = _UNIT_AT_END.fullmatch(words)
    return (found["name"], found["unit"]) if found else (words, "")
