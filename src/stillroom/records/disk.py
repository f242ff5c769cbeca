"""SQLite on a disk that may be full, failing, locked or gone: its failures in plain words."""

import sqlite3
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from threading import local
from typing import Any
from weakref import WeakSet

from peewee import DatabaseError, IntegrityError, ProgrammingError, SqliteDatabase

from stillroom.errors import StoreError
from stillroom.printable import without_controls

_LOCKED = (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED)
_DAMAGED = (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB)
_DISK = (
    sqlite3.SQLITE_FULL,
    sqlite3.SQLITE_IOERR,
    sqlite3.SQLITE_READONLY,
    sqlite3.SQLITE_CANTOPEN,
    sqlite3.SQLITE_NOMEM,
)


def error_code(error: BaseException) -> int:
    """SQLite's primary result code behind an exception of the driver or of peewee."""
    cause = getattr(error, "orig", error)  # where peewee keeps the driver's own exception
    return int(getattr(cause, "sqlite_errorcode", sqlite3.SQLITE_OK)) & 0xFF


def is_disk_at_fault(code: int) -> bool:
    """Whether a result code blames the file, its disk or another program, not the statement."""
    return code in (*_LOCKED, *_DAMAGED, *_DISK)


def is_locked(error: BaseException) -> bool:
    """Whether a failure, already in plain words, came from another program's lock."""
    return error.__cause__ is not None and error_code(error.__cause__) in _LOCKED


def lenient_text(stored: bytes) -> str:
    """Text as stored; where a flipped bit has spoiled a letter, the rest can still be read.

    No text of ours holds control characters: in one that does, they are shown as pictures.
    """
    text = stored.decode(errors="replace")
    # Asked here as well, since every text that is read comes this way.
    return text if text.isprintable() else without_controls(text)


def disk_failure(error: BaseException, *, writing: bool) -> str:
    """The message for a failure of the file or its disk."""
    code = error_code(error)
    cause = getattr(error, "orig", error)
    if getattr(cause, "sqlite_errorcode", 0) == sqlite3.SQLITE_IOERR_SHMSIZE:
        code = sqlite3.SQLITE_FULL  # no room for the index of the log
    so = " Nothing was saved. Try again." if writing else " Try again."
    if code in _LOCKED:
        return f"Another program is writing to this shelf.{so}"
    if code == sqlite3.SQLITE_FULL:
        return "The disk is full. Nothing was saved. Make room and try again."
    if code == sqlite3.SQLITE_READONLY:
        return "The shelf can no longer be written to. Nothing was saved."
    if code in _DAMAGED:
        return f"The shelf's file is damaged ({error}). Restore a backup."
    if code == sqlite3.SQLITE_ERROR:  # the tables or their rules are not what they were
        return f"The shelf's file is damaged ({error}). Check it, or restore a backup."
    return f"The disk reported an error ({error}).{so}"


class _Cursors(local):
    """The cursors of this thread that something still holds."""

    def __init__(self) -> None:
        self.held: WeakSet[sqlite3.Cursor] = WeakSet()


class ShelfDatabase(SqliteDatabase):
    """peewee's SQLite, with disk failures in plain words."""

    has_failed = False
    """Whether the file was found to be other than it should be."""
    refuse_to_connect: Callable[[], None] | None = None
    """Raises StoreError where another file has taken the name: SQLite would play our log into it
    when the connection of a thread ends."""

    def __init__(self, *values: Any, **named: Any) -> None:
        super().__init__(*values, **named)
        self._cursors = _Cursors()

    def connect(self, reuse_if_open: bool = False) -> bool:
        """Connect; each thread does so on its own, and at any time."""
        if self.refuse_to_connect:
            self.refuse_to_connect()
        is_new = bool(super().connect(reuse_if_open))
        if is_new:
            self.connection().text_factory = lenient_text  # type: ignore[no-untyped-call]
        return is_new

    @contextmanager
    def text_as_bytes(self) -> Iterator[None]:
        """Read text as it is stored, for a reader that sees the same text often to make it lenient
        once."""
        connection: sqlite3.Connection = self.connection()  # type: ignore[no-untyped-call]
        connection.text_factory = bytes
        try:
            yield
        finally:
            connection.text_factory = lenient_text

    def cursor(self, named_cursor: None = None) -> sqlite3.Cursor:
        """A cursor, known until nothing holds it any more."""
        cursor: sqlite3.Cursor = super().cursor(named_cursor)  # type: ignore[no-untyped-call]
        self._cursors.held.add(cursor)
        return cursor

    def close(self) -> bool:
        """Close the connection of this thread.

        A query that wasn't read to its end would keep the file open, with an empty log beside it.
        The traceback of whatever stopped the reading may hold it as long as the program runs.
        """
        for cursor in tuple(self._cursors.held):
            with suppress(sqlite3.Error):
                cursor.close()
        return bool(super().close())

    def execute_sql(
        self, sql: str, params: Sequence[object] | Mapping[str, object] | None = None
    ) -> Any:
        """Run one statement; StoreError where the file or its disk fails."""
        try:
            return super().execute_sql(sql, params)  # type: ignore[no-untyped-call]
        except (IntegrityError, ProgrammingError):  # the shelf's rules, or a mistake of ours
            raise
        except UnicodeDecodeError as error:  # SQLite cites a damaged schema in its own message
            self.has_failed = True
            raise StoreError("The shelf's file is damaged. Restore a backup.") from error
        except DatabaseError as error:
            raise self._failure(error) from error

    def execute_many(self, sql: str, rows: Iterable[Sequence[object]]) -> None:
        """Run one statement for each row, up to the first that the shelf's rules refuse.

        Raises sqlite3.IntegrityError for that one; StoreError where the file or its disk fails.
        """
        connection: sqlite3.Connection = self.connection()  # type: ignore[no-untyped-call]
        try:
            connection.executemany(sql, rows)
        except (sqlite3.IntegrityError, sqlite3.ProgrammingError):
            raise
        except sqlite3.DatabaseError as error:
            raise self._failure(error) from error

    def _failure(self, error: Exception) -> StoreError:
        if error_code(error) in (*_DAMAGED, sqlite3.SQLITE_ERROR):
            self.has_failed = True
        return StoreError(disk_failure(error, writing=self.in_transaction()))

    def rollback(self) -> None:
        """Roll back, unless SQLite has done so itself, as it does when a disk is full or fails."""
        if self.connection().in_transaction:  # type: ignore[no-untyped-call]
            super().rollback()
