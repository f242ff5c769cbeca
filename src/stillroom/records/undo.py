"""The undo log: triggers write the inverse of every row change, as SQLite's manual describes.

https://www.sqlite.org/undoredo.html. Ours are ordinary triggers in the file rather than temporary
ones, and the log is a table, so that an action can be taken back after a restart and by another
program. While an action is rewound the same triggers record how to bring it back: that is redo.
"""

from collections.abc import Iterable

from peewee import Database

from stillroom.errors import Refused

_RECORDING = "(SELECT action_id FROM undo_state) IS NOT NULL"


def _trigger(table: str, verb: str, inverse_sql: str) -> str:
    return f"""
        CREATE TRIGGER undo_{table}_{verb} AFTER {verb.upper()} ON {table} WHEN {_RECORDING}
        BEGIN
            INSERT INTO undo_step (action_id, sql)
            VALUES ((SELECT action_id FROM undo_state), {inverse_sql});
        END"""


def _inverses(table: str, columns: list[str]) -> dict[str, str]:
    old_values = " || ',' || ".join(f"quote(OLD.{c})" for c in columns)
    assignments = " || ',' || ".join(f"'{c}=' || quote(OLD.{c})" for c in columns)
    return {
        "insert": f"'DELETE FROM {table} WHERE id=' || NEW.id",
        "update": f"'UPDATE {table} SET ' || {assignments} || ' WHERE id=' || NEW.id",
        "delete": f"'INSERT INTO {table} ({','.join(columns)}) VALUES (' || {old_values} || ')'",
    }


def write_triggers(db: Database, tables: Iterable[str]) -> None:
    """Make the undo triggers of these tables anew, to fit their present columns."""
    for table in tables:
        columns = [row[1] for row in db.execute_sql(f"PRAGMA table_info({table})")]
        for verb, inverse_sql in _inverses(table, columns).items():
            db.execute_sql(f"DROP TRIGGER IF EXISTS undo_{table}_{verb}")
            db.execute_sql(_trigger(table, verb, inverse_sql))


def begin(db: Database, at: str, maker: str, title: str) -> int:
    """Start recording an action; returns its id. What had been undone is forgotten for good."""
    db.execute_sql("DELETE FROM action WHERE undone")
    (action_id,) = db.execute_sql("SELECT coalesce(max(id), 0) + 1 FROM action").fetchone()
    db.execute_sql(
        "INSERT INTO action (id, at, maker, title) VALUES (?, ?, ?, ?)",
        (action_id, at, maker, title),
    )
    db.execute_sql("UPDATE undo_state SET action_id = ?, rewinding = 0", (action_id,))
    return int(action_id)


def finish(db: Database, action_id: int, title: str, *, keep: int) -> None:
    """Stop recording; an action that changed nothing leaves no trace, and the oldest are let go."""
    db.execute_sql("UPDATE undo_state SET action_id = NULL")
    steps = db.execute_sql("SELECT 1 FROM undo_step WHERE action_id = ? LIMIT 1", (action_id,))
    if steps.fetchone() is None:
        db.execute_sql("DELETE FROM action WHERE id = ?", (action_id,))
        return
    db.execute_sql("UPDATE action SET title = ? WHERE id = ?", (title, action_id))
    db.execute_sql("DELETE FROM action WHERE id <= ?", (action_id - keep,))


def mark(db: Database, action_id: int, *, undone: bool) -> None:
    """Write down that an action is undone, or stands again."""
    db.execute_sql("UPDATE action SET undone = ? WHERE id = ?", (undone, action_id))


def rewind(db: Database, action_id: int) -> None:
    """Run an action's steps backwards, recording in their place the steps that bring it back."""
    steps = db.execute_sql(
        "SELECT sql FROM undo_step WHERE action_id = ? ORDER BY id DESC", (action_id,)
    ).fetchall()
    db.execute_sql("DELETE FROM undo_step WHERE action_id = ?", (action_id,))
    db.execute_sql("UPDATE undo_state SET action_id = ?, rewinding = 1", (action_id,))
    for (sql,) in steps:
        if db.execute_sql(sql).rowcount != 1:
            raise Refused(
                "What it changed was changed again by other means, so it cannot be turned back."
            )
    db.execute_sql("UPDATE undo_state SET action_id = NULL, rewinding = 0")
