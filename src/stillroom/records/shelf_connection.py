"""How a shelf is connected to, for records to be read and written."""

import sqlite3
from pathlib import Path

from peewee import DatabaseError

from stillroom.errors import StoreError
from stillroom.records.connecting import BUSY_TIMEOUT_MS, uri
from stillroom.records.disk import ShelfDatabase, disk_failure, error_code
from stillroom.records.shelf_file import looking_mode

_WRITING = "mode=rw&psow=0"
"""How a shelf is opened to write: not counting on "power-safe overwrite".

SQLite takes it that a disk whose power fails leaves alone the bytes beside those it was writing. A
memory card may spoil the sector they share. Without that assumption each act's last write to the
log is repeated up to the end of a sector, so that the next act begins in another:
https://www.sqlite.org/psow.html. It costs 4 kB an act, about a tenth, and no further sync.
"""
_PRAGMAS = (
    # First of all: what follows may have to wait for another program.
    ("busy_timeout", BUSY_TIMEOUT_MS),
    # FULL, not NORMAL: in WAL mode NORMAL may lose the latest commits in a power cut.
    ("synchronous", "full"),
    # On macOS a plain fsync leaves data in the disk's own memory; elsewhere this changes nothing.
    ("fullfsync", 1),
    ("foreign_keys", 1),
)

_READ_ONLY_PRAGMAS = (("query_only", 1), ("busy_timeout", BUSY_TIMEOUT_MS))


def open_database(path: Path, *, read_only: bool) -> ShelfDatabase:
    """Connect to a shelf and read from it once; StoreError where it can't be opened."""
    db = ShelfDatabase(
        uri(path, looking_mode(path) if read_only else _WRITING),
        uri=True,
        pragmas=list(_READ_ONLY_PRAGMAS if read_only else _PRAGMAS),
        timeout=BUSY_TIMEOUT_MS / 1000,
    )
    try:
        db.connect()
        # Read once now: only then does SQLite look at the file and its log.
        db.connection().execute("PRAGMA user_version").fetchone()  # type: ignore[no-untyped-call]
    except UnicodeDecodeError as error:  # SQLite cites a damaged rule in its own message
        raise StoreError(
            f"The shelf {path} is damaged (its rules can't be read). Restore a backup."
        ) from error
    except (DatabaseError, sqlite3.Error) as error:
        if error_code(error) == sqlite3.SQLITE_BUSY:
            raise StoreError(f"The shelf {path} is locked by another program.") from error
        failure = disk_failure(error, writing=False)
        raise StoreError(f"The shelf {path} can't be opened. {failure}") from error
    return db
