"""The undo log: triggers write the inverse of every row change, as SQLite's manual describes.

https://www.sqlite.org/undoredo.html. Ours are ordinary triggers in the file rather than temporary
ones, and the log is a table, so that an action can be undone after a restart and by another
program. While an action is rewound the same triggers record how to bring it back: that is redo.
"""

import re
import sqlite3
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager

from peewee import Database, ProgrammingError

from stillroom.errors import Refused, StoreError
from stillroom.records.disk import error_code, is_disk_at_fault
from stillroom.records.file_state import LISTS_OF_WORDS, read_state

STEP_LIMIT = 5_000_000
"""Instructions of SQLite's machine that a step may take; one row takes a few hundred."""
_LOOK_EVERY = 10_000
"""Instructions between two looks at how many there have been."""
_STEP_FORM = re.compile(r"(INSERT INTO|UPDATE|DELETE FROM) \w+ ", re.ASCII)
"""How every step begins; OR REPLACE would take away rows of which no trigger knows."""
_ROW_CHANGES = (sqlite3.SQLITE_INSERT, sqlite3.SQLITE_UPDATE, sqlite3.SQLITE_DELETE)
_LOOKS = (sqlite3.SQLITE_READ, sqlite3.SQLITE_SELECT, sqlite3.SQLITE_FUNCTION)
_LOGS = ("undo_step", "journal_change")
"""Where our triggers write."""
_MARKS = ("in_stock", "to_bottle")
"""Where they mark what isn't finished."""
_STRANGE_STEP = (
    "The undo steps stored for this aren't ones that Stillroom writes. Nothing was changed; "
    "check the shelf."
)
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
    """Re-create the undo triggers of these tables, to match their present columns."""
    for table in tables:
        columns = [row[1] for row in db.execute_sql(f"PRAGMA table_info({table})")]
        for verb, inverse_sql in _inverses(table, columns).items():
            db.execute_sql(f"DROP TRIGGER IF EXISTS undo_{table}_{verb}")
            db.execute_sql(_trigger(table, verb, inverse_sql))


def begin(db: Database, at: str, maker: str, title: str, *, correcting: bool = False) -> int:
    """Start recording an action; returns its id. What had been undone can't be redone any more."""
    db.execute_sql("DELETE FROM action WHERE undone")
    (action_id,) = db.execute_sql("SELECT coalesce(max(id), 0) + 1 FROM action").fetchone()
    db.execute_sql(
        "INSERT INTO action (id, at, maker, title) VALUES (?, ?, ?, ?)",
        (action_id, at, maker, title),
    )
    db.execute_sql(
        "UPDATE undo_state SET action_id = ?, rewinding = 0, correcting = ?",
        (action_id, correcting),
    )
    return int(action_id)


def finish(db: Database, action_id: int, title: str, line_id: int, *, keep: int) -> bool:
    """Stop recording; whether anything was done. The oldest actions are let go.

    An action that changed nothing, nor wrote a line in the ledger, leaves no trace.
    """
    db.execute_sql("UPDATE undo_state SET action_id = NULL, correcting = 0")
    steps, is_noted = db.execute_sql(
        """SELECT (SELECT count(*) FROM undo_step WHERE action_id = ?),
                  EXISTS (SELECT 1 FROM event WHERE journal_id = ?)""",
        (action_id, line_id),
    ).fetchone()
    if not (steps or is_noted):
        db.execute_sql("DELETE FROM action WHERE id = ?", (action_id,))
        return False
    db.execute_sql(
        "UPDATE action SET title = ?, journal_id = ?, steps = ? WHERE id = ?",
        (title, line_id, steps, action_id),
    )
    db.execute_sql("DELETE FROM action WHERE id <= ?", (action_id - keep,))
    return True


def mark(db: Database, action_id: int, *, undone: bool) -> None:
    """Record that an action is undone, or redone."""
    db.execute_sql("UPDATE action SET undone = ? WHERE id = ?", (undone, action_id))


def rewind(db: Database, action_id: int) -> None:
    """Run an action's steps backwards, recording in their place the steps that bring it back.

    Raises Refused where a step does not change one row of a record: the file may be anyone's.
    """
    # As bytes, since text may be shown otherwise than it is stored.
    steps = db.execute_sql(
        "SELECT CAST(sql AS BLOB) FROM undo_step WHERE action_id = ? ORDER BY id DESC", (action_id,)
    ).fetchall()
    db.execute_sql("DELETE FROM undo_step WHERE action_id = ?", (action_id,))
    db.execute_sql("UPDATE undo_state SET action_id = ?, rewinding = 1", (action_id,))
    state = read_state(db.execute_sql)
    with _row_changes_only(db) as begin_step:
        for (sql,) in steps:
            begin_step()
            if _run(db, sql.decode(errors="replace")) != 1:
                raise Refused(
                    "What it changed has been changed again since, so it can't be undone."
                )
    if read_state(db.execute_sql) != state:  # which file it is was never a person's to change
        raise Refused(_STRANGE_STEP)
    db.execute_sql("UPDATE undo_state SET action_id = NULL, rewinding = 0")


def _run(db: Database, sql: str) -> int:
    """Run a step; returns how many rows it changed."""
    if not _STEP_FORM.match(sql):
        raise Refused(_STRANGE_STEP)
    try:
        return int(db.execute_sql(sql).rowcount)
    except (ProgrammingError, sqlite3.Warning, ValueError) as error:  # two statements, a NUL, a ?
        raise Refused(_STRANGE_STEP) from error
    except StoreError as error:
        if error.__cause__ is not None and is_disk_at_fault(error_code(error.__cause__)):
            raise
        raise Refused(_STRANGE_STEP) from error


@contextmanager
def _row_changes_only(db: Database) -> Iterator[Callable[[], None]]:
    """Let SQLite run nothing but changes to rows of records, and none of them for long.

    Gives what to call before each statement. The rules of the schema may look around, and write to
    the undo log: https://www.sqlite.org/c3ref/set_authorizer.html.
    """
    from stillroom.records.tables import UNDOABLE  # no start waits for the tables

    records = {record.table() for record in UNDOABLE}
    left = 0

    def begin_step() -> None:
        nonlocal left
        left = STEP_LIMIT // _LOOK_EVERY

    def is_over() -> bool:
        nonlocal left
        left -= 1
        return left < 0

    def judge(
        act: int, first: str | None, _: str | None, database: str | None, trigger: str | None
    ) -> int:
        if trigger:
            is_ours = (
                act in _LOOKS
                or (act == sqlite3.SQLITE_INSERT and first in _LOGS)
                or (act in _ROW_CHANGES and first in _MARKS)
            )
        else:
            is_ours = first in records and (act in _ROW_CHANGES or act == sqlite3.SQLITE_READ)
            # What a foreign key points to, or is pointed to by, is read as well.
            is_ours = is_ours or (
                first in (*LISTS_OF_WORDS, *_MARKS) and act == sqlite3.SQLITE_READ
            )
        is_here = database in (None, "main")
        return sqlite3.SQLITE_OK if is_ours and is_here else sqlite3.SQLITE_DENY

    connection = db.connection()
    connection.set_authorizer(judge)
    connection.set_progress_handler(is_over, _LOOK_EVERY)
    try:
        yield begin_step
    finally:
        connection.set_authorizer(None)
        connection.set_progress_handler(None, 0)
