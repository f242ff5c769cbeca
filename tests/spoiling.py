"""Writing into a shelf what no use case would, as damage or another program might."""

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

TRIGGERS = "SELECT type, name, tbl_name, rootpage, sql FROM sqlite_schema WHERE type = 'trigger'"


@contextmanager
def without_rules(shelf: Path, *, with_checks: bool = False) -> Iterator[sqlite3.Connection]:
    """The shelf without its triggers and CHECKs; the triggers come back word for word."""
    connection = closing(sqlite3.connect(shelf, isolation_level=None))
    with connection as db, rules_off(db, with_checks=with_checks):
        yield db


@contextmanager
def rules_off(db: sqlite3.Connection, *, with_checks: bool = False) -> Iterator[None]:
    """A connection without triggers and CHECKs, until the triggers come back at the end."""
    triggers = db.execute(TRIGGERS).fetchall()
    with rewriting_schema(db):
        db.execute("DELETE FROM sqlite_schema WHERE type = 'trigger'")
    if not with_checks:
        db.execute("PRAGMA ignore_check_constraints = 1")
    try:
        yield
    finally:
        db.execute("PRAGMA ignore_check_constraints = 0")
        with rewriting_schema(db):
            db.executemany("INSERT INTO sqlite_schema VALUES (?, ?, ?, ?, ?)", triggers)


@contextmanager
def rewriting_schema(db: sqlite3.Connection) -> Iterator[None]:
    """Write rows of the schema as they are: to drop and create 200 triggers takes 30 times as long.

    As https://www.sqlite.org/pragma.html#pragma_writable_schema describes. Every connection reads
    the schema again once its number has changed.
    """
    (version,) = db.execute("PRAGMA schema_version").fetchone()
    db.execute("PRAGMA writable_schema = ON")
    db.execute("BEGIN")  # one transaction for all the rows, not one for each
    yield
    db.execute(f"PRAGMA schema_version = {version + 1}")
    db.execute("COMMIT")
    db.execute("PRAGMA writable_schema = RESET")
