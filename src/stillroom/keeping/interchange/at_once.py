"""Many lines of a file taken in at once, where the shelf has none of its kind and all are good.

That is so with an export that goes into an empty shelf. Where one of them isn't good, they are
left to be read line by line, which finds and reports what is wrong.
"""

import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from itertools import repeat
from typing import Any

from stillroom.errors import NotUnderstood
from stillroom.keeping.interchange.columns import FileTable, Remembered
from stillroom.keeping.interchange.lines import Lines
from stillroom.keeping.interchange.links import LinkedIds, NoSuchRow
from stillroom.records.disk import ShelfDatabase

Values = dict[str, Sequence[Any]]
"""What many lines say, by column and by the field that a column fills."""


class TakingAtOnce:
    """Takes in lines of one file; what it shares with the reading line by line is handed to it."""

    def __init__(
        self,
        table: FileTable,
        db: ShelfDatabase,
        *,
        meanings: Sequence[Remembered],
        linked: Mapping[str, LinkedIds],
        numbers: dict[object, int],
        came: dict[tuple[str, object], int],
    ) -> None:
        """Read each column by its `meanings`; `numbers` has the last of each owner."""
        self._table = table
        self._db = db
        self._meanings = meanings
        self._linked = linked
        self._numbers = numbers
        self._came = came
        self._last_id = f"SELECT coalesce(max(id), 0) FROM {table.record}"

    def take(self, lines: Lines) -> range:
        """Take in lines up to the first that the shelf's own rules refuse.

        Returns the ids of their rows: none where a line is not good for another reason.
        """
        try:
            values = self._read(lines)
            self._look_up(values)
        except (NotUnderstood, NoSuchRow):
            return range(0)
        if not (self._are_new(values) and self._are_next(values) and self._obey_rules(values)):
            return range(0)
        ids = self._put_in(values)
        if self._table.followed:
            self._came.update(zip(self._keys(values), ids, strict=False))
        if self._table.counted_by:
            owners = values[self._table.counted_by][: len(ids)]
            self._numbers.update(zip(owners, values["number"], strict=False))
        return ids

    def _read(self, lines: Lines) -> Values:
        return {
            column.name: list(map(meanings.__getitem__, cells))
            for column, meanings, cells in zip(
                self._table.columns, self._meanings, lines.columns, strict=True
            )
        }

    def _look_up(self, values: Values) -> None:
        """Add to the values by column those by field: the ids of what the lines name."""
        for column in self._table.columns:
            if column.stored_in:
                linked = self._linked.get(column.name)
                found = linked.of_all(values) if linked else values[column.name]
                values[column.stored_in] = found

    def _are_new(self, values: Values) -> bool:
        """Whether no key by which later lines are found appears twice."""
        if not self._table.followed:
            return True
        keys = set(self._keys(values))
        return len(keys) == len(values[self._table.key[0]]) and self._came.keys().isdisjoint(keys)

    def _keys(self, values: Values) -> Iterator[tuple[str, object]]:
        return zip(repeat(self._table.file), values[self._table.key[0]], strict=False)

    def _are_next(self, values: Values) -> bool:
        """Whether each numbered line follows the one before it."""
        if not self._table.counted_by:
            return True
        last: dict[object, int] = {}
        for owner, number in zip(values[self._table.counted_by], values["number"], strict=True):
            if number != (last.get(owner) or self._numbers.get(owner, 0)) + 1:
                return False
            last[owner] = number
        return True

    def _obey_rules(self, values: Values) -> bool:
        if not self._table.rules:
            return True
        rows = [dict(zip(values, row, strict=True)) for row in zip(*values.values(), strict=True)]
        return all(all(map(rule.holds, rows)) for rule in self._table.rules)

    def _put_in(self, values: Values) -> range:
        """Insert rows, up to the first that is refused; returns their ids."""
        (before,) = self._db.execute_sql(self._last_id).fetchone()
        rows = zip(*(values[field] for field in self._table.fields), strict=True)
        with suppress(sqlite3.IntegrityError, OverflowError, UnicodeError):
            self._db.execute_many(self._table.insert, rows)
        (after,) = self._db.execute_sql(self._last_id).fetchone()
        return range(before + 1, after + 1)
