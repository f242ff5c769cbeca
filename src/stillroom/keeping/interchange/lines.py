"""The lines of one CSV file, in the order its specification names its columns."""

import csv
import io
from collections.abc import Iterator, Sequence
from itertools import islice
from pathlib import Path
from typing import Any, NamedTuple

from stillroom.errors import Refused
from stillroom.files import open_ordinary
from stillroom.keeping.interchange.columns import FileColumn

MOST_BYTES = 200_000_000
"""Of one file of an export: a hundred times what a large dispensary writes in ten years."""

AT_ONCE = 200
"""Lines that are read before any is taken in."""


class Lines(NamedTuple):
    """Some lines of a file."""

    numbers: Sequence[int]
    """Of each in the file."""
    columns: Sequence[Sequence[str]]
    """The cells of each column that the specification names."""

    def each(self, start: int) -> Iterator[tuple[int, tuple[str, ...]]]:
        """Every line from one on: its number in the file, and one cell for each column."""
        return islice(zip(self.numbers, zip(*self.columns, strict=True), strict=True), start, None)


class FileLines:
    """A file read line by line; what is wrong with it as a file gathers in `problems`."""

    def __init__(
        self,
        path: Path,
        columns: Sequence[FileColumn],
        *,
        by_rows: bool = False,
    ) -> None:
        """Prepare to read a file; `by_rows` numbers lines as the rows of a spreadsheet are."""
        self._by_rows = by_rows
        self.problems: list[tuple[int | None, str]] = []
        self.count = 0
        """Lines after the heading, so far."""
        self.is_whole = True
        """Whether it could be read to its end."""
        self._path = path
        self._columns = columns

    def __iter__(self) -> Iterator[Lines]:
        """Every line, some at a time."""
        try:
            # A byte that is not UTF-8 becomes a lone surrogate, which no text column takes.
            with open_ordinary(self._path, MOST_BYTES) as file:
                text = io.TextIOWrapper(file, "utf-8-sig", errors="surrogateescape", newline="")
                yield from self._read(csv.reader(text, strict=True))
        except Refused as error:
            self._stop(None, str(error))
        except csv.Error as error:
            self._stop(None, f"Not CSV: {error}.")
        except OSError as error:
            self._stop_unreadable(error)

    def _stop(self, line: int | None, message: str) -> None:
        self.problems.append((line, message))
        self.is_whole = False

    def _stop_unreadable(self, error: OSError) -> None:
        self._stop(None, f"The file can't be read: {error.strerror}.")

    def _read(self, reader: Any) -> Iterator[Lines]:
        heading: list[str] = next(reader, [])
        places = self._places([name.strip() for name in heading])
        if places is None:
            return
        numbers: list[int] = []
        rows: list[list[str]] = []
        width = len(heading)
        line = 2 if self._by_rows else reader.line_num + 1
        try:
            for cells in reader:
                if len(cells) == width:
                    numbers.append(line)
                    rows.append(cells)
                    if len(rows) == AT_ONCE:
                        yield self._ordered(numbers, rows, places)
                        numbers, rows = [], []
                elif cells:
                    said = f"It has {len(cells)} cells, but the heading has {width}."
                    self.problems.append((line, said))
                    self.count += 1
                line = line + 1 if self._by_rows else reader.line_num + 1
        except csv.Error as error:
            self._stop(line, f"Not CSV ({error}): look for a missing or extra double quote.")
        except OSError as error:
            self._stop_unreadable(error)
        if rows:
            yield self._ordered(numbers, rows, places)

    def _ordered(
        self, numbers: list[int], rows: list[list[str]], places: list[int | None]
    ) -> Lines:
        self.count += len(rows)
        columns = list(zip(*rows, strict=True))
        blanks = ("",) * len(rows)
        return Lines(numbers, [blanks if at is None else columns[at] for at in places])

    def _places(self, heading: list[str]) -> list[int | None] | None:
        """The position of each column; None, with problems reported, if the heading is wrong."""
        names = [column.name for column in self._columns]
        if len(heading) == 1 and len(heading[0].split(";")) > 1:
            self._stop(1, "Its cells are separated by semicolons. Save it with commas.")
            return None
        for name in dict.fromkeys(heading):
            if name not in names:
                self._stop(1, f"There is no column {name!r}: the columns are {', '.join(names)}.")
            elif heading.count(name) > 1:
                self._stop(1, f"The column {name} appears twice.")
        for column in self._columns:
            if column.required and column.name not in heading:
                self._stop(1, f"The column {column.name} is missing.")
        if not self.is_whole:
            return None
        return [heading.index(name) if name in heading else None for name in names]
