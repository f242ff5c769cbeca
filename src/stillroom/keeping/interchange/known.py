"""The rows that a shelf had already for the lines of a file."""

from typing import Any

from stillroom.keeping.interchange.columns import FileTable, Row
from stillroom.records.failures import Run


class KnownRows:
    """The shelf's own rows of one kind, as they were before its file is read."""

    def __init__(
        self, table: FileTable, sql: Any, run: Run, *, alike: tuple[str, ...], is_edited: bool
    ) -> None:
        """Look rows up by their key, or where no key is unique by the fields in which they are
        `alike`; `is_edited` where the other fields may differ."""
        self._sql = sql
        self._run = run
        self._alike = alike
        only = table.only or "1"
        sql_of_last = f"SELECT coalesce(max(id), 0) FROM {table.record} WHERE {only}"
        self.last_id = int(sql(sql_of_last).fetchone()[0])
        """The last id that the shelf had, 0 for none."""
        self._find = f"SELECT id FROM {table.record} WHERE id <= :last_id AND {table.known}"
        self._lay_out = f"CREATE TEMP TABLE unclaimed AS SELECT * FROM {table.record} ORDER BY id"
        same = " + ".join(f"({field} IS :{field})" for field in table.fields)
        self._order = f"{same} DESC, rowid" if is_edited else "rowid"

    def lay_out(self) -> None:
        """Copy the rows of a kind without unique keys, to be ticked off one by one."""
        if self._alike and self.last_id:
            self._sql(self._lay_out)
            self._sql(f"CREATE INDEX temp.by_all ON unclaimed ({', '.join(self._alike)})")

    def clear_away(self) -> None:
        """Drop the copy."""
        self._sql("DROP TABLE IF EXISTS temp.unclaimed")

    def id_of(self, row: Row) -> int | None:
        """The id of the row the shelf had already for a line."""
        if not self.last_id:
            return None
        if self._alike:
            return self._claim(row)
        found = self._run(self._find, row | {"last_id": self.last_id}).fetchone()
        return int(found[0]) if found else None

    def _claim(self, row: Row) -> int | None:
        """Tick off a row; of two alike that may be edited, the one that nobody changed."""
        alike = " AND ".join(f"{field} IS :{field}" for field in self._alike)
        sql = f"SELECT rowid, id FROM temp.unclaimed WHERE {alike} ORDER BY {self._order} LIMIT 1"
        found = self._sql(sql, row).fetchone()
        if found is None:
            return None
        self._sql("DELETE FROM temp.unclaimed WHERE rowid = ?", found[:1])
        return int(found[1])
