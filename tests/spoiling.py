"""Writing into a shelf what no use case would, as damage or another program might."""

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

TRIGGERS = "SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'"


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
    for name, _ in triggers:
        db.execute(f"DROP TRIGGER {name}")
    if not with_checks:
        db.execute("PRAGMA ignore_check_constraints = 1")
    try:
        yield
    finally:
        db.execute("PRAGMA ignore_check_constraints = 0")
        for _, sql in triggers:
            db.execute(sql)
