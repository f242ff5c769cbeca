"""The lines of one CSV file, in the order its specification names its columns."""

import csv
import io
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

from stillroom.errors import Refused
from stillroom.files import open_ordinary
from stillroom.keeping.interchange.columns import FileColumn

MOST_BYTES = 200_000_000
"""Of one file of an export: a hundred times what a large dispensary writes in ten years."""

Reword = Callable[[str, str], str]
"""A change made to every cell before it is read; it is given the cell and its column's name."""


class Lines:
    """A file read line by line; what is wrong with it as a file gathers in `problems`."""

    def __init__(
        self,
        path: Path,
        columns: Sequence[FileColumn],
        reword: Reword | None,
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
        self._reword = reword

    def __iter__(self) -> Iterator[tuple[int, list[str]]]:
        """Every line with its number in the file and one cell for each column."""
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
            self._stop(None, f"The file can't be read: {error.strerror}.")

    def _stop(self, line: int | None, message: str) -> None:
        self.problems.append((line, message))
        self.is_whole = False

    def _read(self, reader: Any) -> Iterator[tuple[int, list[str]]]:
        heading: list[str] = next(reader, [])
        places = self._places([name.strip() for name in heading])
        if places is None:
            return
        line = 2 if self._by_rows else reader.line_num + 1
        try:
            for cells in reader:
                if cells:
                    self.count += 1
                    if len(cells) == len(heading):
                        yield line, self._ordered(cells, places)
                    else:
                        said = f"It has {len(cells)} cells, but the heading has {len(heading)}."
                        self.problems.append((line, said))
                line = line + 1 if self._by_rows else reader.line_num + 1
        except csv.Error as error:
            self._stop(line, f"Not CSV ({error}): look for a missing or extra double quote.")

    def _ordered(self, cells: list[str], places: list[int | None]) -> list[str]:
        ordered = ["" if place is None else cells[place] for place in places]
        if self._reword is None:
            return ordered
        named = zip(ordered, self._columns, strict=True)
        return [self._reword(cell, column.name) for cell, column in named]

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
