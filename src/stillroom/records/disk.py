"""SQLite on a disk that may be full, failing, locked or gone: its failures in plain words."""

import sqlite3
from collections.abc import Sequence
from typing import Any

from peewee import DatabaseError, IntegrityError, SqliteDatabase

from ..errors import StoreError

_LOCKED = (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED)
_DAMAGED = (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB)
_FAILED = (
    sqlite3.SQLITE_IOERR,
    sqlite3.SQLITE_CANTOPEN,
    sqlite3.SQLITE_PERM,
    sqlite3.SQLITE_PROTOCOL,
    sqlite3.SQLITE_NOLFS,
    sqlite3.SQLITE_NOMEM,
)


def error_code(error: BaseException) -> int:
    """SQLite's primary result code behind an exception of the driver or of peewee."""
    cause = getattr(error, "orig", error)  # where peewee keeps the driver's own exception
    return int(getattr(cause, "sqlite_errorcode", sqlite3.SQLITE_OK)) & 0xFF


def disk_failure(error: BaseException, *, writing: bool) -> str:
    """What to tell people of a failure of the file or its disk; blank where it is neither."""
    code = error_code(error)
    so = " Nothing was saved; try again." if writing else " Try again."
    if code in _LOCKED:
        return f"Another program is writing to this shelf.{so}"
    if code == sqlite3.SQLITE_FULL:
        return "The disk is full. Nothing was saved; make room and try again."
    if code == sqlite3.SQLITE_READONLY:
        return "The shelf can no longer be written to. Nothing was saved."
    if code in _DAMAGED:
        return f"The shelf's file is damaged ({error}). Restore a backup."
    if code in _FAILED:
        return f"The disk does not answer as it should ({error}).{so}"
    return ""


class ShelfDatabase(SqliteDatabase):
    """peewee's SQLite, with the failures of a disk told in plain words."""

    def execute_sql(self, sql: str, params: Sequence[object] | None = None) -> Any:
        """Run one statement; StoreError where the file or its disk fails."""
        try:
            return super().execute_sql(sql, params)  # type: ignore[no-untyped-call]
        except IntegrityError:
            raise
        except DatabaseError as error:
            # Words, not an exception, in the variable: that would hold on to its own traceback,
            # and with it the cursor that keeps the file open.
            failure = disk_failure(error, writing=self.in_transaction())
            if not failure:
                raise
            raise StoreError(failure) from error

    def rollback(self) -> None:
        """Roll back, unless SQLite has done so itself, as it does when a disk is full or fails."""
        if self.connection().in_transaction:  # type: ignore[no-untyped-call]
            super().rollback()
