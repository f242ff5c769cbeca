"""The rows that the cells of one column name."""

from collections.abc import Iterable, Mapping, Sequence
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
        self._name = name
        self._link = link
        self._run = run
        self._came = came
        self._ids = Remembered(self._find_by_two if link.key else self._find)

    def of(self, row: Row) -> int | None:
        """The id that a line names; NoSuchRow where there is none."""
        cell = row[self._name]
        found: int | None = self._ids[(cell, row[self._link.key]) if self._link.key else cell]
        return found

    def of_all(self, values: Mapping[str, Sequence[Any]]) -> list[int | None]:
        """The ids that many lines name, from their values by column; NoSuchRow where one does."""
        cells: Iterable[Any] = values[self._name]
        if self._link.key:
            cells = zip(cells, values[self._link.key], strict=True)
        return list(map(self._ids.__getitem__, cells))

    def _find(self, cell: Any) -> int | None:
        if cell is None:
            return None
        came = self._came.get((self._link.file, cell))
        return self._ask({self._name: cell}) if came is None else came

    def _find_by_two(self, cells: tuple[Any, Any]) -> int | None:
        cell, key = cells
        return None if cell is None else self._ask({self._name: cell, self._link.key: key})

    def _ask(self, named: Mapping[str, Any]) -> int:
        found = self._run(self._link.find, named).fetchone() if self._link.find else None
        if found is None:
            raise NoSuchRow(self._link)
        return int(found[0])


def links_of(
    table: FileTable, run: Run, came: Mapping[tuple[str, object], int]
) -> dict[str, LinkedIds]:
    """The links of a file by the names of their columns."""
    return {
        column.name: LinkedIds(column.name, column.cell, run, came)
        for column in table.columns
        if isinstance(column.cell, Link)
    }
