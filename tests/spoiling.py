"""Writing into a shelf what no use case would, as damage or another program might."""

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

TRIGGERS = "SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'"


@contextmanager
def without_rules(shelf: Path) -> Iterator[sqlite3.Connection]:
    """The shelf without its triggers, which come back word for word at the end."""
    with closing(sqlite3.connect(shelf, isolation_level=None)) as db:
        triggers = db.execute(TRIGGERS).fetchall()
        for name, _ in triggers:
            db.execute(f"DROP TRIGGER {name}")
        try:
            yield db
        finally:
            for _, sql in triggers:
                db.execute(sql)
