"""The journal: a line for every act, and each changed row as it was and as it became.

Triggers copy the rows, so that no use case can forget to. A row that was added needs no copy: it is
there, and if undo takes it away, that is copied.
"""

from collections.abc import Iterable, Mapping

from peewee import Database

from stillroom.records.file_state import LISTS_OF_WORDS

OUTSIDE = "A fact changes only in an act that the journal records."
"""What the schema says to any other program that changes a row."""
_UNRECORDED = "FROM undo_state WHERE journal_id IS NULL"

LOOSE = ("setting", "shelf", "bottle_size", "herb", "gathering_window", "formula", "formula_part")
"""Tables that hold no fact of a batch: other programs may change them, too."""


FIXED = frozenset({
    "at", "day", "kind", "state", "status", "part", "condition", "pressing", "came", "strength_by",
    "day_by", "keep_until", "month", "record",
})  # fmt: skip
"""Columns of words and dates that the program gives; so are those that end in `_on` or `_day`."""


def is_fixed(table: str, column: str) -> bool:
    """Whether only the program gives a column its words: no name of a person is among them."""
    return (
        column in FIXED
        or column.endswith(("_on", "_day"))
        or table in LISTS_OF_WORDS
        or (table, column) == ("setting", "name")
    )


def write_journal_triggers(db: Database, tables: Iterable[str]) -> None:
    """Make the triggers of these tables that copy a row before it changes or goes."""
    for table in tables:
        types = {row[1]: row[2] for row in db.execute_sql(f"PRAGMA table_info({table})")}
        columns = list(types)
        words = [c for c in columns if types[c] == "TEXT" and not is_fixed(table, c)]
        changed = _differ(c for c in columns if c not in words)
        if words:
            # A name that is removed would stay in a copy.
            changed += f" OR (({_differ(words)}) AND NOT EXISTS (SELECT 1 FROM forgetting))"
        refused = "" if table in LOOSE else f"SELECT RAISE(ABORT, '{OUTSIDE}') {_UNRECORDED};"
        for verb, condition, after in (
            ("update", changed, _as_json("NEW", columns)),
            ("delete", "1", "NULL"),
        ):
            db.execute_sql(f"DROP TRIGGER IF EXISTS journal_{table}_{verb}")
            db.execute_sql(f"""
                CREATE TRIGGER journal_{table}_{verb} AFTER {verb.upper()} ON {table}
                WHEN {condition}
                BEGIN
                    {refused}
                    INSERT INTO journal_change (journal_id, record, row_id, before, after)
                    SELECT journal_id, '{table}', OLD.id, {_as_json("OLD", columns)}, {after}
                    FROM undo_state WHERE journal_id IS NOT NULL;
                END""")


def _differ(columns: Iterable[str]) -> str:
    return " OR ".join(f"OLD.{column} IS NOT NEW.{column}" for column in columns)


def _as_json(row: str, columns: Iterable[str]) -> str:
    pairs = ", ".join(f"'{column}', {row}.{column}" for column in columns)
    return f"json_object({pairs})"


_SUBJECT = """
    coalesce((SELECT j.code || ' ' || (SELECT h.name FROM charge_line l
                                       JOIN herb h ON h.id = l.herb_id
                                       WHERE l.jar_id = j.id ORDER BY l.id LIMIT 1)
              FROM jar j WHERE j.id = :jar_id),
             (SELECT code FROM bottle WHERE id = :bottle_id),
             (SELECT code FROM tincture WHERE id = :tincture_id),
             (SELECT name FROM spirit WHERE id = :spirit_id),
             (SELECT l.code || ' ' || h.name FROM herb_lot l JOIN herb h ON h.id = l.herb_id
              WHERE l.id = :lot_id),
             (SELECT name FROM herb WHERE id = :herb_id), '')
"""
_EVENT = f"""
    INSERT INTO event (at, day, maker, kind, text, jar_id, tincture_id, bottle_id, spirit_id,
                       herb_id, lot_id, subject, journal_id)
    VALUES (:at, :day, :maker, :kind, :text, :jar_id, :tincture_id, :bottle_id, :spirit_id,
            :herb_id, :lot_id, {_SUBJECT}, :line_id)
"""
_ABOUT = ("jar_id", "tincture_id", "bottle_id", "spirit_id", "herb_id", "lot_id")


def write_event(
    db: Database,
    at: str,
    day: str,
    maker: str,
    kind: str,
    text: str,
    line_id: int,
    about: Mapping[str, int | None],
) -> int:
    """Write a line in the ledger, with the name of what it is about; returns its id."""
    values = {"at": at, "day": day, "maker": maker, "kind": kind, "text": text, "line_id": line_id}
    values |= {name: about.get(name) for name in _ABOUT}
    return int(db.execute_sql(_EVENT, values).lastrowid)


def begin_line(
    db: Database, at: str, day: str, maker: str, kind: str, title: str, of_id: int | None = None
) -> int:
    """Write the line of an act that begins; returns its id. Changes are recorded under it."""
    line_id = int(
        db.execute_sql(
            "INSERT INTO journal (at, day, maker, kind, title, of_id) VALUES (?, ?, ?, ?, ?, ?)",
            (at, day, maker, kind, title, of_id),
        ).lastrowid
    )
    db.execute_sql("UPDATE undo_state SET journal_id = ?", (line_id,))
    return line_id


def end_line(db: Database, line_id: int, title: str, why: str = "") -> None:
    """Complete the line of an act: from here on it stays as it is."""
    db.execute_sql("UPDATE journal SET title = ?, why = ? WHERE id = ?", (title, why, line_id))
    db.execute_sql("UPDATE undo_state SET journal_id = NULL")


def drop_line(db: Database, line_id: int) -> None:
    """Take back the line of an act that came to nothing."""
    db.execute_sql("DELETE FROM journal WHERE id = ?", (line_id,))
    db.execute_sql("UPDATE undo_state SET journal_id = NULL")


def mark_corrected(db: Database, event_id: int, line_id: int) -> None:
    """Record that a line of the ledger is corrected by an act, of which this is the line."""
    db.execute_sql(
        "INSERT OR IGNORE INTO corrected (event_id, journal_id) VALUES (?, ?)", (event_id, line_id)
    )
