"""The schema: the scripts that make it, and whether a file has that schema and nothing besides."""

import sqlite3
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from functools import cache
from hashlib import sha256
from itertools import chain
from pathlib import Path
from typing import NamedTuple

from peewee import SqliteDatabase

from stillroom.errors import StoreError
from stillroom.records.disk import ShelfDatabase
from stillroom.records.file_state import APPLICATION_ID
from stillroom.records.journal import write_journal_triggers
from stillroom.records.undo import write_triggers

_MIGRATIONS = Path(__file__).parent / "migrations"

DIGESTS = {
    1: "1cb1a7ef2d0baf9b1c62c8b5ab4eccd9d476e2e9be86b58fc733bc5513c2931f",
    2: "982d741d5bd573bbf6c53498aecd45cf744e868aee87c9dacb995d3cd25c9890",
}
"""For each schema the `digest` of what its migrations make, so that no start has to make it."""

FIRST_SCHEMA_ONLY = {"blend_part"}
"""Tables of the first schema that have no record any more."""

READ_SCHEMA = "SELECT type, name, tbl_name, sql FROM sqlite_schema"
"""Reads the schema of an open file; nothing in it is executed by that."""

_MADE_TRIGGERS = """
    SELECT name FROM sqlite_schema WHERE type = 'trigger' AND (
        name GLOB 'undo_*_insert' OR name GLOB 'undo_*_update' OR name GLOB 'undo_*_delete'
        OR name GLOB 'journal_*_update' OR name GLOB 'journal_*_delete')
"""
"""Finds the triggers that are made from the columns of the tables."""

_STATISTICS = {
    ("sqlite_stat1", "CREATE TABLE sqlite_stat1(tbl,idx,stat)"),
    ("sqlite_stat4", "CREATE TABLE sqlite_stat4(tbl,idx,neq,nlt,ndlt,sample)"),
}
"""What SQLite's own ANALYZE leaves in a file: https://www.sqlite.org/fileformat2.html, 2.6.3."""


class SchemaPart(NamedTuple):
    """One table, index, trigger or view of a schema."""

    type: str
    name: str
    table: str
    sql: str


def migrations() -> list[tuple[int, str]]:
    """The numbered SQL scripts that make the schema, in order."""
    return [(n, path.read_text(encoding="utf-8")) for n, path in sorted(_scripts().items())]


def _scripts() -> dict[int, Path]:
    return {int(path.name[:4]): path for path in _MIGRATIONS.glob("*.sql")}


def newest_schema() -> int:
    """The number of the last migration this version knows."""
    return max(_scripts())


def migrate(
    db: SqliteDatabase,
    number: int,
    script: str,
    *,
    with_triggers: bool = True,
    on_step: Callable[[float], None] = lambda done: None,
) -> None:
    """Run one migration in one transaction, unless another program was faster.

    `on_step` is called with the share of its statements that are done.
    The triggers that are made from the columns may be left out where the next migration follows at
    once, in a file that is nobody's shelf yet.
    """
    with _without_foreign_keys(db), db.atomic("IMMEDIATE"):
        if db.user_version >= number:
            return
        # They are made again, and SQLite would read all of them at each change of a table.
        for (trigger,) in db.execute_sql(_MADE_TRIGGERS).fetchall():
            db.execute_sql(f"DROP TRIGGER {trigger}")
        statements = _statements(script)
        for done, statement in enumerate(statements, start=1):
            db.execute_sql(statement)
            on_step(done / len(statements))
        if with_triggers:
            _make_triggers(db)
        if broken := db.execute_sql("PRAGMA foreign_key_check").fetchone():
            raise StoreError(f"Row {broken[1]} of {broken[0]} points to what doesn't exist.")
        db.application_id = APPLICATION_ID
        db.user_version = number


@contextmanager
def _without_foreign_keys(db: SqliteDatabase) -> Iterator[None]:
    """Let a table that others point to be dropped and made again.

    As https://www.sqlite.org/lang_altertable.html#otheralter describes; a transaction can't.
    """
    (were_on,) = db.execute_sql("PRAGMA foreign_keys").fetchone()
    db.execute_sql("PRAGMA foreign_keys = OFF")
    try:
        yield
    finally:
        db.execute_sql(f"PRAGMA foreign_keys = {were_on}")


def _make_triggers(db: SqliteDatabase) -> None:
    # Only here: a start that has nothing to migrate goes without.
    from stillroom.records.tables import RECORDS, UNDOABLE

    present = set(db.get_tables())
    if "journal" in present:
        undoable = [record.table() for record in UNDOABLE]
        write_triggers(db, undoable)
        write_journal_triggers(db, undoable)
    else:
        tables = {record.table() for record in RECORDS} | FIRST_SCHEMA_ONLY
        write_triggers(db, sorted(tables & present))


def _statements(script: str) -> list[str]:
    """Split a script into statements; triggers hold semicolons, so SQLite itself finds the ends."""
    found, pending = [], ""
    for line in script.splitlines(keepends=True):
        pending += line
        if sqlite3.complete_statement(pending):
            found.append(pending)
            pending = ""
    if pending.strip():
        raise ValueError(f"A migration ends inside a statement: {pending.strip()[:60]}")
    return found


def parts(rows: Iterable[tuple[object, ...]]) -> list[SchemaPart]:
    """The parts of a schema in order, from the rows that READ_SCHEMA gives.

    Left out are the indexes that SQLite makes for UNIQUE, which have no SQL, and its statistics.
    """
    found = (SchemaPart(*map(str, row)) for row in rows if row[-1] is not None)
    return sorted(p for p in found if not (p.type == "table" and (p.name, p.sql) in _STATISTICS))


def digest(found: list[SchemaPart]) -> str:
    """A schema in 64 hexadecimal digits."""
    return _digest([tuple(text.encode() for text in part) for part in found])


def is_as_made(shelf: sqlite3.Connection, version: int) -> bool:
    """Whether a file has the very bytes of our schema, which is quicker than reading it as text.

    False also where only `differences` can judge, as after an ANALYZE.
    """
    as_text, shelf.text_factory = shelf.text_factory, bytes
    try:
        found = [row for row in shelf.execute(READ_SCHEMA) if row[-1] is not None]
    finally:
        shelf.text_factory = as_text
    if not all(isinstance(value, bytes) for row in found for value in row):
        return False
    return _digest(sorted(found)) == DIGESTS.get(version)


def _digest(found: Sequence[tuple[bytes, ...]]) -> str:
    # With the number of rows, no text with a NUL in it can pass for two.
    return sha256(b"\0".join((b"%d" % len(found), *chain(*found)))).hexdigest()


@cache
def parts_as_made(version: int) -> list[SchemaPart]:
    """The parts of a shelf that nothing but the migrations up to `version` has touched."""
    db = ShelfDatabase(":memory:")
    for number, script in migrations():
        if number <= version:
            migrate(db, number, script, with_triggers=number == version)
    made = parts(db.execute_sql(READ_SCHEMA).fetchall())
    db.close()
    return made


def differences(found: list[SchemaPart], version: int) -> Iterator[str]:
    """What a schema has that ours has not, or lacks, each in a sentence; nothing where it is ours.

    A version that is not known here has nothing to be compared with.
    """
    if version not in DIGESTS or digest(found) == DIGESTS[version]:
        return
    ours = {(part.type, part.name): part for part in parts_as_made(version)}
    theirs = {(part.type, part.name): part for part in found}
    for kind, name in sorted(theirs.keys() - ours.keys()):
        on = theirs[kind, name].table
        where = f" on {on}" if on != name else ""
        yield f"The {kind} {name}{where} isn't part of a shelf."
    for kind, name in sorted(ours.keys() - theirs.keys()):
        yield f"The {kind} {name} is missing."
    for kind, name in sorted(ours.keys() & theirs.keys()):
        if ours[kind, name] != theirs[kind, name]:
            yield f"The {kind} {name} was changed by another program."
