"""The rows that the cells of one column name."""

from collections.abc import Mapping, Sequence
from typing import Any

from stillroom.keeping.interchange.cells import Link
from stillroom.keeping.interchange.columns import FileTable, Remembered, Row
from stillroom.records.failures import Run


class NoSuchRow(LookupError):
    """A cell names what isn't there."""

    def __init__(self, link: Link) -> None:
        """Keep the link that leads nowhere."""
        super().__init__(link)
        self.link = link


class LinkedIds:
    """The ids of the rows that one column names, each looked up once; None for a blank cell."""

    def __init__(
        self, name: str, link: Link, run: Run, came: Mapping[tuple[str, object], int]
    ) -> None:
        """Look among the lines that `came`, by file and key, before asking the shelf."""
        self._link = link
        self._names = (name, link.key) if link.key else (name,)
        self._run = run
        self._came = came
        self._ids = Remembered(self._find)

    def of(self, row: Row) -> int | None:
        """The id that a line names; NoSuchRow where there is none."""
        found: int | None = self._ids[tuple(row[name] for name in self._names)]
        return found

    def of_all(self, values: Mapping[str, Sequence[Any]]) -> list[int | None]:
        """The ids that many lines name, from their values by column; NoSuchRow where one does."""
        cells = zip(*(values[name] for name in self._names), strict=True)
        return list(map(self._ids.__getitem__, cells))

    def _find(self, cells: tuple[Any, ...]) -> int | None:
        if cells[0] is None:
            return None
        if not self._link.key:
            came = self._came.get((self._link.file, cells[0]))
            if came is not None:
                return came
        if self._link.find:
            named = dict(zip(self._names, cells, strict=True))
            found = self._run(self._link.find, named).fetchone()
            if found is not None:
                return int(found[0])
        raise NoSuchRow(self._link)


def links_of(
    table: FileTable, run: Run, came: Mapping[tuple[str, object], int]
) -> dict[str, LinkedIds]:
    """The links of a file by the names of their columns."""
    return {
        column.name: LinkedIds(column.name, column.cell, run, came)
        for column in table.columns
        if isinstance(column.cell, Link)
    }
