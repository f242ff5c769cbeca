"""Writing into a shelf what no use case would, as damage or another program might."""

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

TRIGGERS = "SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'"


@contextmanager
def without_rules(shelf: Path) -> Iterator[sqlite3.Connection]:
    """The shelf without its triggers, which come back word for word at the end."""
    with closing(sqlite3.connect(shelf, isolation_level=None)) as db, rules_off(db):
        yield db


@contextmanager
def rules_off(db: sqlite3.Connection) -> Iterator[None]:
    """A connection without triggers and CHECKs, until the triggers come back at the end."""
    triggers = db.execute(TRIGGERS).fetchall()
    for name, _ in triggers:
        db.execute(f"DROP TRIGGER {name}")
    db.execute("PRAGMA ignore_check_constraints = 1")
    try:
        yield
    finally:
        db.execute("PRAGMA ignore_check_constraints = 0")
        for _, sql in triggers:
            db.execute(sql)
