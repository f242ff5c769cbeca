"""What is closed, and whether an act changes it: by the rows that it wrote.

The rows come from the journal, which has each changed row before and after, and from the undo log,
which has the id of each new one. So no use case can forget to ask.
"""

import json
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple

from peewee import Database

Row = Mapping[str, Any]

_NEW_ROW = re.compile(r"DELETE FROM (\w+) WHERE id=(\d+)", re.ASCII)
"""The step that takes a new row back, as `records/undo.py` writes it."""
_OF_JAR = """SELECT t.id FROM straining s JOIN tincture t ON t.straining_id = s.id
             WHERE s.jar_id = :jar_id"""
_OF_NO_BATCH = "SELECT NULL WHERE 0"


class ClosedFacts(NamedTuple):
    """What of a table is closed with a month or a batch."""

    days: tuple[str, ...]
    """Columns that hold days; the first is the day that its other facts belong to."""
    of_batch: str
    """SQL for the batches that a row is part of."""
    undated: frozenset[str] = frozenset()
    """ClosedFacts of the batch that don't belong to a day: they may follow in a later month."""
    loose: frozenset[str] = frozenset()
    """What is no fact of the record, such as where a bottle is now."""


_TABLES = {
    "jar": ClosedFacts(
        ("filled_on", "ended_on"),
        _OF_JAR.replace(":jar_id", ":id"),
        frozenset({"strain_on", "shakes_per_day", "state"}),
        frozenset({"shelf_id", "place", "covered"}),
    ),
    "charge_line": ClosedFacts((), _OF_JAR),
    "pour": ClosedFacts(("poured_on",), _OF_JAR),
    "shake": ClosedFacts(("day",), _OF_JAR),
    "straining": ClosedFacts(
        ("strained_on",),
        "SELECT id FROM tincture WHERE straining_id = :id",
        loose=frozenset({"teaches"}),
    ),
    "straining_go": ClosedFacts(
        ("strained_on",), "SELECT id FROM tincture WHERE straining_id = :straining_id"
    ),
    "tincture": ClosedFacts(
        ("made_on",),
        "SELECT :id",
        frozenset({"lost_ml", "keep_until", "keep_until_by_hand"}),
        frozenset({"status"}),
    ),
    "bottle": ClosedFacts(("filled_on",), "SELECT :tincture_id", loose=frozenset({"place"})),
    "movement": ClosedFacts(
        ("day",),
        """SELECT tincture_id FROM bottle WHERE id = :bottle_id AND :kind = 'fill'
           UNION SELECT tincture_id FROM batch_input WHERE movement_id = :id
           UNION SELECT t.id FROM pour p JOIN straining s ON s.jar_id = p.jar_id
           JOIN tincture t ON t.straining_id = s.id WHERE p.movement_id = :id""",
    ),
    "batch_input": ClosedFacts((), "SELECT :tincture_id"),
    "loss": ClosedFacts(("day",), "SELECT :tincture_id"),
    "returned": ClosedFacts(("day",), _OF_NO_BATCH),
    "cupboard_movement": ClosedFacts(("day",), "SELECT id FROM tincture WHERE 0"),
    # What a jar took of a lot is in its own line; the rest of a lot is part of no batch.
    "herb_lot": ClosedFacts(
        ("got_on", "laid_out_on", "dry_on", "used_up_on"),
        _OF_NO_BATCH,
        frozenset({
            "laid_out_g", "dry_g", "condition", "water_fraction", "price", "note", "from_lot_id",
        }),
    ),
    "herb_movement": ClosedFacts(("day",), _OF_NO_BATCH),
}  # fmt: skip
_DAYS_OF_OTHERS = {
    "charge_line": "SELECT filled_on FROM jar WHERE id = :jar_id",
    "batch_input": "SELECT made_on FROM tincture WHERE id = :tincture_id",
}
"""SQL for the day of a row that has none of its own."""
_LINES_ABOUT = """
    WITH line AS (
        SELECT * FROM event WHERE journal_id = :line_id AND bottle_id IS NULL AND kind <> 'closed'
               AND kind NOT IN (SELECT name FROM batch_status))
    SELECT tincture_id FROM line WHERE tincture_id IS NOT NULL
    UNION SELECT t.id FROM line JOIN straining s ON s.jar_id = line.jar_id
    JOIN tincture t ON t.straining_id = s.id
"""
"""Lines of the ledger that a batch record prints: notes, and what was done to jar or tincture."""


@dataclass(frozen=True)
class WhatIsClosed:
    """Months and batches that are closed."""

    months: frozenset[str]
    """Such as `2026-10`."""
    batches: Mapping[int, str]
    """Codes by the id of the tincture."""

    def and_still(self, later: "WhatIsClosed") -> "WhatIsClosed":
        """What was closed at both times."""
        batches = {each: code for each, code in self.batches.items() if each in later.batches}
        return WhatIsClosed(self.months & later.months, batches)

    def __bool__(self) -> bool:
        """Whether anything is closed."""
        return bool(self.months or self.batches)


def what_is_closed(db: Database) -> WhatIsClosed:
    """What is closed now."""
    rows = db.execute_sql(
        """SELECT c.month, t.id, t.code FROM closing c LEFT JOIN tincture t ON t.id = c.tincture_id
           ORDER BY t.code"""
    ).fetchall()
    return WhatIsClosed(
        frozenset(month for month, _, _ in rows if month),
        {tincture_id: code for month, tincture_id, code in rows if tincture_id is not None},
    )


def closed_that_changes(
    db: Database, closed: WhatIsClosed, line_id: int, action_id: int, of_id: int | None = None
) -> tuple[list[str], list[str]]:
    """The closed months, and the codes of the closed batches, that an act has written to.

    `line_id` is its line in the journal, `action_id` its steps in the undo log; `of_id` the line
    of the act that it undoes or redoes.
    """
    months: set[str] = set()
    batches: set[int] = set()
    for table, before, after in _rows_written(db, line_id, action_id):
        facts = _TABLES[table]
        changed = {
            column
            for column in {**(before or {}), **(after or {})}
            if not (before and after) or before[column] != after[column]
        } - facts.loose
        if not changed:
            continue
        for row in filter(None, (before, after)):
            months |= {day[:7] for day in _days(db, table, facts, row, changed) if day}
            if closed.batches:
                batches |= {found for (found,) in db.execute_sql(facts.of_batch, dict(row))}
    if closed.batches:
        batches |= {
            found for (found,) in db.execute_sql(_LINES_ABOUT, {"line_id": of_id or line_id})
        }
    return (
        sorted(months & closed.months),
        [code for tincture_id, code in closed.batches.items() if tincture_id in batches],
    )


def _rows_written(
    db: Database, line_id: int, action_id: int
) -> Iterator[tuple[str, Row | None, Row | None]]:
    """Table, row before and row after of each row that an act wrote."""
    for table, before, after in db.execute_sql(
        "SELECT record, before, after FROM journal_change WHERE journal_id = ?", (line_id,)
    ).fetchall():
        if table in _TABLES:
            was = json.loads(before)
            # A straining that goes on is no record of its first day: its goes are.
            is_open = table == "straining" and after and was["more"]
            yield table, None if is_open else was, after and json.loads(after)
    steps = db.execute_sql(
        "SELECT sql FROM undo_step WHERE action_id = ? AND sql LIKE 'DELETE FROM %'", (action_id,)
    ).fetchall()
    for (sql,) in steps:
        new = _NEW_ROW.fullmatch(sql)
        if new and new[1] in _TABLES:
            found = db.execute_sql(f"SELECT * FROM {new[1]} WHERE id = ?", (int(new[2]),))
            names = [column[0] for column in found.description]
            for row in found.fetchall():
                yield new[1], None, dict(zip(names, row, strict=True))


def _days(
    db: Database, table: str, facts: ClosedFacts, row: Row, changed: set[str]
) -> Iterator[str | None]:
    """The days that what has changed belongs to."""
    for column in facts.days:
        if column in changed:
            yield row[column]
    if changed - facts.undated - set(facts.days):
        if facts.days:
            yield row[facts.days[0]]
        else:
            for (day,) in db.execute_sql(_DAYS_OF_OTHERS[table], dict(row)):
                yield day
