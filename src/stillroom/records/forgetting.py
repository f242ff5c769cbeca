"""Where a name is written in a shelf, and writing a mark in its place.

Every column of text of every table is searched, as the file itself lists them, so that a new one
can't be forgotten. Copies of a row, in the journal and in the steps of undo, count as places of the
column that they are copies of.
"""

import json
import re
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from typing import Any, NamedTuple

from peewee import Database, IntegrityError

from stillroom.errors import Refused
from stillroom.records.file_state import OWN_SETTINGS
from stillroom.records.journal import is_fixed
from stillroom.records.whole_words import WholeWords

REMOVED, SHORT = "(name removed)", "–"
"""What takes the place of a name; the short one where a column has no room for the other."""
PERSONS = (
    ("movement", "person"),
    ("cupboard_movement", "person"),
    ("herb_movement", "person"),
    ("returned", "person"),
)
"""The columns that hold a name and nothing else."""
_JSON = {("journal_change", "before"), ("journal_change", "after")}
_STEPS = ("undo_step", "sql")
_IN = {"setting": f"name NOT IN {OWN_SETTINGS}"}
"""Which rows may have a name in them, where not all."""
_COPIES = {("action", "title"): ("journal", "title")}
"""Columns that repeat another."""

_STRING = re.compile(r'"(?:[^"\\]|\\.)*"')
_VALUE = re.compile(r"'(?:[^']|'')*'|X'[0-9A-F]*'|[^',()]+")
_INSERT = re.compile(r"INSERT INTO (\w+) \(([^)]*)\) VALUES \(")
_UPDATE = re.compile(r"UPDATE (\w+) SET ")
_SET = re.compile(r"(\w+)=")


class StoredText(NamedTuple):
    """A text of one column, which may be at several places."""

    table: str
    column: str
    text: str

    @property
    def is_person(self) -> bool:
        """Whether it is in a column for names."""
        return (self.table, self.column) in PERSONS


@dataclass(frozen=True)
class Place:
    """One cell of the file in which a name was found."""

    table: str
    column: str
    row_id: int
    stored: str
    texts: tuple[StoredText, ...]
    """The texts in it that have the name."""


def text_columns(db: Database) -> Iterator[tuple[str, str]]:
    """Every table and column that may hold text."""
    tables = "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite\\_%' "
    for (table,) in db.execute_sql(f"{tables} ESCAPE '\\' ORDER BY name").fetchall():
        for row in db.execute_sql(f"PRAGMA table_info({table})").fetchall():
            if row[2].upper() not in ("INTEGER", "REAL"):
                yield table, row[1]


def places(db: Database, words: WholeWords) -> Iterator[Place]:
    """Every cell that has a name in it."""
    for table, column in text_columns(db):
        if is_fixed(table, column):
            continue
        about = "record" if (table, column) in _JSON else "NULL"
        # As bytes, since text may be shown otherwise than it is stored.
        rows = db.execute_sql(
            f"SELECT rowid, CAST({column} AS BLOB), {about} FROM {table} WHERE {_IN.get(table, 1)}"
        )
        for row_id, stored, record in rows:
            text = (stored or b"").decode(errors="surrogateescape")
            if not _may_have(text, words, table, column):
                continue
            found = tuple(t for t, _ in _texts(table, column, record, text) if words.found(t.text))
            if found:
                yield Place(table, column, row_id, text, found)


def _may_have(stored: str, words: WholeWords, table: str, column: str) -> bool:
    """Whether a cell is worth taking apart."""
    if (table, column) in _JSON:
        return "\\" in stored or words.may_be_in(stored)
    if (table, column) == _STEPS:
        stored = stored.replace("''", "'")
    return words.may_be_in(stored)


def replace(
    db: Database, found: Iterable[Place], words: WholeWords, chosen: Collection[StoredText]
) -> int:
    """Write the mark in place of the name in the texts chosen; returns how many cells changed.

    Raises Refused where a column's own rules allow neither mark.
    """
    limits: dict[tuple[str, str], int] = {}
    changed = 0
    for place in found:
        wanted = [text for text in place.texts if text in chosen]
        if not wanted:
            continue
        for text in wanted:
            key = text[:2]
            limits.setdefault(key, _limit(db, *key))
        _write(db, place, words, set(wanted), limits)
        changed += 1
    return changed


def drop_samples(db: Database) -> None:
    """Clear the copies of values that SQLite's ANALYZE may have left."""
    if db.execute_sql("SELECT 1 FROM sqlite_schema WHERE name = 'sqlite_stat4'").fetchone():
        db.execute_sql("DELETE FROM sqlite_stat4")


def _write(
    db: Database,
    place: Place,
    words: WholeWords,
    wanted: set[StoredText],
    limits: dict[tuple[str, str], int],
) -> None:
    sql = f"UPDATE {place.table} SET {place.column} = CAST(? AS TEXT) WHERE rowid = ?"
    failure: Exception | None = None
    for number in range(1, 1000):  # a name that is unique in its column may be taken

        def marked(text: StoredText, number: int = number) -> str:
            return _marked(text, words, limits[text[:2]], number) if text in wanted else text.text

        record = place.texts[0].table if (place.table, place.column) in _JSON else None
        new = _rewritten(place, record, marked)
        try:
            db.execute_sql(sql, (new.encode(errors="surrogateescape"), place.row_id))
        except IntegrityError as error:
            failure = error
            if "UNIQUE" not in str(error):
                break
        else:
            return
    raise Refused(
        f"The name can't be removed from the {place.column} of a {place.table.replace('_', ' ')}. "
        "Change that yourself first. Nothing was changed."
    ) from failure


def _marked(text: StoredText, words: WholeWords, limit: int, number: int) -> str:
    numbered = "" if number == 1 else f" {number}"
    marked = words.replaced(text.text, f"{REMOVED}{numbered}")
    return marked if len(marked) <= limit else words.replaced(text.text, f"{SHORT}{numbered}")


def _limit(db: Database, table: str, column: str) -> int:
    """How many letters a column's CHECK allows."""
    row = db.execute_sql("SELECT sql FROM sqlite_schema WHERE name = ?", (table,)).fetchone()
    rule = rf"length\((?:trim\()?{column}\)?\)\s*(?:<=|BETWEEN\s+\d+\s+AND)\s*(\d+)"
    found = re.search(rule, row[0]) if row else None
    return int(found[1]) if found else 10**9


def _rewritten(place: Place, record: str | None, marked: Any) -> str:
    """A cell with each of its texts as `marked` has it."""
    pieces, end = [], 0
    for text, (start, stop) in _texts(place.table, place.column, record, place.stored):
        new = marked(text)
        if new != text.text:
            kept = place.stored[start:stop]
            pieces += [place.stored[end:start], _quoted(new, kept) if kept[:1] in "'\"" else new]
            end = stop
    return "".join([*pieces, place.stored[end:]])


def _quoted(text: str, like: str) -> str:
    """A text as it is written in SQL or JSON."""
    if like.startswith("'"):
        return "'" + text.replace("'", "''") + "'"
    return json.dumps(text, ensure_ascii=False)


def _texts(
    table: str, column: str, record: str | None, stored: str
) -> Iterator[tuple[StoredText, tuple[int, int]]]:
    """The texts that a cell holds, each with the column it belongs to and its place."""
    if (table, column) in _JSON:
        found = _in_json(record or "", stored)
    elif (table, column) == _STEPS:
        found = _in_step(stored)
    else:
        name = _COPIES.get((table, column), (table, column))
        found = iter([(StoredText(*name, stored), (0, len(stored)))])
    return ((text, place) for text, place in found if not is_fixed(text.table, text.column))


def _in_json(record: str, stored: str) -> Iterator[tuple[StoredText, tuple[int, int]]]:
    key = ""
    for match in _STRING.finditer(stored):
        text = json.loads(match[0])
        if stored[match.end() :].lstrip()[:1] == ":":
            key = text
        else:
            yield StoredText(record, key, text), match.span()


def _in_step(stored: str) -> Iterator[tuple[StoredText, tuple[int, int]]]:
    """The texts in a step as the undo triggers write it, an INSERT or an UPDATE of one row."""
    insert, update = _INSERT.match(stored), _UPDATE.match(stored)
    if insert:
        names = iter(insert[2].split(","))
        at = insert.end()
    elif update:
        names = iter(())
        at = update.end()
    else:
        return
    table = (insert or update)[1]  # type: ignore[index]
    while True:
        if update:
            name = _SET.match(stored, at)
            if name is None:
                return
            column, at = name[1], name.end()
        else:
            column = next(names, "")
        value = _VALUE.match(stored, at)
        if value is None or not column:
            return
        if value[0].startswith("'"):
            yield StoredText(table, column, value[0][1:-1].replace("''", "'")), value.span()
        at = value.end()
        if stored[at : at + 1] != ",":
            return
        at += 1
