"""The shelf file: opening it safely, bringing its schema up to date, looking after it."""

import os
import sqlite3
import struct
from dataclasses import dataclass
from importlib import resources
from pathlib import Path
from urllib.parse import quote

from peewee import PeeweeException, SqliteDatabase

from ..errors import StoreError
from . import RECORDS
from .base import database
from .undo import write_triggers

APPLICATION_ID = 0x5374696C
"""Marks an SQLite file as a shelf: "Stil" in ASCII."""

BUSY_TIMEOUT_MS = 250
"""How long a write waits for another program; longer would freeze the screen."""

_PRAGMAS = (
    ("journal_mode", "wal"),
    # FULL, not NORMAL: in WAL mode NORMAL may lose the latest commits in a power cut.
    ("synchronous", "full"),
    ("foreign_keys", 1),
    ("busy_timeout", BUSY_TIMEOUT_MS),
)
_READ_ONLY_PRAGMAS = (("query_only", 1), ("busy_timeout", BUSY_TIMEOUT_MS))
_HEADER = b"SQLite format 3\x00"


def migrations() -> list[tuple[int, str]]:
    """The numbered SQL scripts that make the schema, in order."""
    folder = resources.files(__package__) / "migrations"
    scripts = [p for p in folder.iterdir() if p.name.endswith(".sql")]
    return sorted((int(p.name[:4]), p.read_text(encoding="utf-8")) for p in scripts)


def _statements(script: str) -> list[str]:
    """Split a script into statements; triggers hold semicolons, so SQLite itself says where."""
    found, pending = [], ""
    for line in script.splitlines(keepends=True):
        pending += line
        if sqlite3.complete_statement(pending):
            found.append(pending)
            pending = ""
    return found


@dataclass
class Store:
    """An open shelf file."""

    path: Path
    db: SqliteDatabase
    read_only: bool = False
    """Whether the file or its folder cannot be written: good for looking only."""

    @classmethod
    def open(cls, path: Path, *, create: bool = False) -> "Store":
        """Open a shelf, making an empty one where `create` allows it.

        Raises StoreError, in one sentence and with the file untouched, for anything that is not a
        whole shelf this version can read.
        """
        if not path.exists():
            if not create:
                raise StoreError(f"There is no shelf at {path}.")
            _make_new(path)
        _refuse_what_is_not_a_shelf(path)
        read_only = not _can_write(path)
        store = cls(path, _connect(path, read_only=read_only), read_only)
        if not read_only:
            store._bring_up_to_date()
        return store

    def close(self) -> None:
        """Let go of the file."""
        self.db.close()

    @property
    def schema_version(self) -> int:
        """The number of the last migration the file has had."""
        return int(self.db.execute_sql("PRAGMA user_version").fetchone()[0])

    @property
    def data_version(self) -> int:
        """A number that changes when another program writes to the file."""
        return int(self.db.execute_sql("PRAGMA data_version").fetchone()[0])

    def copy_to(self, target: Path) -> None:
        """Write a whole, single-file copy of the shelf to a path that does not exist yet."""
        self.db.execute_sql("VACUUM INTO ?", (str(target),))
        target.chmod(0o600)

    def _bring_up_to_date(self) -> None:
        try:
            version = self.schema_version
            pending = [(number, sql) for number, sql in migrations() if number > version]
            if not pending:
                return
            if version:
                self.copy_to(_free_name(self.path, f".before-schema-{pending[-1][0]}"))
            for number, script in pending:
                self._migrate(number, script)
            # The main file's header must tell the version to a program that only peeks at it.
            self.db.execute_sql("PRAGMA wal_checkpoint(TRUNCATE)")
        except (PeeweeException, OSError) as error:
            raise StoreError(
                f"The shelf {self.path} cannot be brought up to date: {error}."
            ) from error

    def _migrate(self, number: int, script: str) -> None:
        with self.db.atomic("IMMEDIATE"):
            if self.schema_version >= number:  # another program was faster
                return
            for statement in _statements(script):
                self.db.execute_sql(statement)
            write_triggers(self.db, [r._meta.table_name for r in RECORDS])
            self.db.execute_sql(f"PRAGMA application_id = {APPLICATION_ID}")
            self.db.execute_sql(f"PRAGMA user_version = {number}")


def _make_new(path: Path) -> None:
    """Make an empty shelf under another name first: a half-made file never stands at `path`."""
    draft = _free_name(path, ".new")
    try:
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        draft.touch(mode=0o600, exist_ok=False)
        store = Store(draft, _connect(draft, read_only=False))
        store._bring_up_to_date()
        store.close()
        os.link(draft, path)  # unlike a rename, never replaces what another program just made
    except OSError as error:
        raise StoreError(f"No shelf can be made at {path}: {error.strerror}.") from error
    finally:
        draft.unlink(missing_ok=True)


def _can_write(path: Path) -> bool:
    return os.access(path, os.W_OK) and os.access(path.parent, os.W_OK)


def _connect(path: Path, *, read_only: bool) -> SqliteDatabase:
    # `immutable` because a folder that cannot be written has no room for the WAL's index either.
    mode = "mode=ro&immutable=1" if read_only else "mode=rw"
    pragmas = _READ_ONLY_PRAGMAS if read_only else _PRAGMAS
    db = SqliteDatabase(f"file:{quote(str(path))}?{mode}", uri=True, pragmas=list(pragmas))
    database.initialize(db)
    try:
        db.connect()
    except PeeweeException as error:
        raise StoreError(f"The shelf {path} cannot be opened: {error}.") from error
    return db


def _refuse_what_is_not_a_shelf(path: Path) -> None:
    """Judge a file from its first bytes and a read-only look, so that nothing can change it."""
    if path.is_dir():
        raise StoreError(f"{path} is a folder, not a shelf file.")
    try:
        with path.open("rb") as file:
            head = file.read(100)
    except OSError as error:
        raise StoreError(f"The shelf {path} cannot be read: {error.strerror}.") from error
    if not head:
        raise StoreError(f"{path} is an empty file, not a shelf.")
    if len(head) < 100 or not head.startswith(_HEADER):
        raise StoreError(f"{path} is not a shelf file.")
    (version,) = struct.unpack(">I", head[60:64])
    (application_id,) = struct.unpack(">I", head[68:72])
    if application_id != APPLICATION_ID:
        raise StoreError(f"{path} is a database of another program, not a shelf.")
    if version > migrations()[-1][0]:
        raise StoreError(
            f"{path} was written by a newer Stillroom (schema {version}); this one would harm it."
        )
    _refuse_damaged(path)


def _refuse_damaged(path: Path) -> None:
    try:
        connection = sqlite3.connect(f"file:{quote(str(path))}?mode=ro", uri=True, timeout=0.25)
        try:
            verdict = connection.execute("PRAGMA quick_check(1)").fetchone()[0]
        finally:
            connection.close()
    except sqlite3.OperationalError as error:
        if "locked" in str(error):
            raise StoreError(f"The shelf {path} is locked by another program.") from error
        verdict = str(error)
    except sqlite3.DatabaseError as error:
        verdict = str(error)
    if verdict != "ok":
        raise StoreError(
            f"The shelf {path} is damaged ({verdict}). Restore a backup, or copy it before repair."
        )


def _free_name(path: Path, suffix: str) -> Path:
    """A name beside `path` that is not taken."""
    candidate = path.with_name(path.name + suffix)
    count = 1
    while candidate.exists():
        count += 1
        candidate = path.with_name(f"{path.name}{suffix}-{count}")
    return candidate
