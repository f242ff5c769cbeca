"""What isn't finished is marked after every change, whatever makes it; each trigger is needed.

The marks are compared with sums made in Python from the plain rows.
"""

import sqlite3
from collections.abc import Iterator
from contextlib import closing

import pytest

from stillroom.keeping.tolerances import EMPTY_ML, LOOSE_ML

from .test_constraints import AT, DAY, SCHEMA, shelf

CHANGES = f"""
    UPDATE undo_state SET correcting = 1;
    INSERT INTO straining (id, jar_id, strained_on, yield_ml, pressing)
        VALUES (9, 1, '{DAY}', 500, 'pressed');
    INSERT INTO tincture (id, code, straining_id, made_on, volume_ml)
        VALUES (9, '26-009', 9, '{DAY}', 500);
    INSERT INTO bottle (id, code, tincture_id, size_ml, filled_on)
        VALUES (9, '26-009.1', 9, 600, '{DAY}'), (10, '26-009.2', 9, 600, '{DAY}');
    INSERT INTO movement (id, bottle_id, volume_ml, kind, at, day)
        VALUES (90, 9, 500, 'fill', '{AT}', '{DAY}');
    INSERT INTO movement (id, bottle_id, volume_ml, kind, at, day)
        VALUES (91, 9, -500, 'draw', '{AT}', '{DAY}');
    UPDATE movement SET volume_ml = -400 WHERE id = 91;
    UPDATE movement SET volume_ml = -500 WHERE id = 91;
    UPDATE movement SET volume_ml = 300 WHERE id = 90;
    UPDATE movement SET volume_ml = 500 WHERE id = 90;
    UPDATE movement SET bottle_id = 10 WHERE id = 90;
    UPDATE movement SET bottle_id = 9 WHERE id = 90;
    DELETE FROM movement WHERE id = 91;
    UPDATE bottle SET tincture_id = 1 WHERE id = 9;
    UPDATE bottle SET tincture_id = 9 WHERE id = 9;
    UPDATE movement SET kind = 'count' WHERE id = 90;
    UPDATE movement SET kind = 'fill' WHERE id = 90;
    DELETE FROM movement WHERE id = 90;
    UPDATE tincture SET lost_ml = 500 WHERE id = 9;
    UPDATE tincture SET lost_ml = 0 WHERE id = 9;
    INSERT INTO tincture (id, code, made_on, volume_ml, lost_ml)
        VALUES (8, '26-010', '{DAY}', 500, 500);
    INSERT INTO batch_input (id, tincture_id, kind, source_id, volume_ml)
        VALUES (9, 8, 'batch', 9, 500);
    UPDATE batch_input SET volume_ml = 200 WHERE id = 9;
    UPDATE batch_input SET volume_ml = 500 WHERE id = 9;
    UPDATE batch_input SET source_id = 1 WHERE id = 9;
    UPDATE batch_input SET source_id = 9 WHERE id = 9;
    DELETE FROM batch_input WHERE id = 9;
    INSERT INTO pour (id, jar_id, kind, source_id, volume_ml, poured_on)
        VALUES (9, 1, 'tincture', 9, 500, '{DAY}');
    UPDATE pour SET volume_ml = 200 WHERE id = 9;
    UPDATE pour SET volume_ml = 500 WHERE id = 9;
    UPDATE pour SET source_id = 1 WHERE id = 9;
    UPDATE pour SET source_id = 9 WHERE id = 9;
    DELETE FROM pour WHERE id = 9;
    DELETE FROM bottle WHERE id IN (9, 10);
    DELETE FROM tincture WHERE id = 9;
"""


@pytest.fixture
def db() -> Iterator[sqlite3.Connection]:
    with closing(shelf(SCHEMA)) as made:
        yield made


def statements() -> list[str]:
    return [each for each in CHANGES.split(";") if each.strip()]


def summed(db: sqlite3.Connection) -> tuple[set[int], set[int]]:
    """Bottles that hold liquid and tinctures still to be bottled, by adding up every row."""
    held: dict[int, float] = {}
    filled: dict[int, float] = {}
    of_bottle = dict(db.execute("SELECT id, tincture_id FROM bottle"))
    for bottle_id, volume_ml, kind in db.execute("SELECT bottle_id, volume_ml, kind FROM movement"):
        held[bottle_id] = held.get(bottle_id, 0.0) + volume_ml
        if kind == "fill":
            of = of_bottle[bottle_id]
            filled[of] = filled.get(of, 0.0) + volume_ml
    for table in ("batch_input", "pour"):
        for of, volume_ml in db.execute(f"SELECT source_id, volume_ml FROM {table}"):
            if of is not None:
                filled[of] = filled.get(of, 0.0) + volume_ml
    waiting = {
        of
        for of, volume_ml, lost_ml in db.execute("SELECT id, volume_ml, lost_ml FROM tincture")
        if volume_ml - lost_ml - filled.get(of, 0.0) >= LOOSE_ML
    }
    return {bottle_id for bottle_id, ml in held.items() if ml > EMPTY_ML}, waiting


def marked(db: sqlite3.Connection) -> tuple[set[int], set[int]]:
    in_stock, to_bottle = (
        {found for (found,) in db.execute(f"SELECT * FROM {table}")}
        for table in ("in_stock", "to_bottle")
    )
    return in_stock, to_bottle


def differs_after_a_change(db: sqlite3.Connection) -> bool:
    """Whether the marks are ever not what the rows add up to; False where they always agree."""
    if marked(db) != summed(db):
        return True
    for statement in statements():
        try:
            db.execute(statement)
        except sqlite3.IntegrityError:  # a mark of what is gone
            return True
        if marked(db) != summed(db):
            return True
    return False


def test_the_marks_follow_every_change(db: sqlite3.Connection) -> None:
    assert not differs_after_a_change(db)
    assert db.execute("PRAGMA foreign_key_check").fetchall() == []


def test_every_marking_trigger_is_needed(db: sqlite3.Connection) -> None:
    triggers = db.execute(
        """SELECT name FROM sqlite_schema
           WHERE type = 'trigger' AND (name GLOB 'stock_*' OR name GLOB 'wait_*')"""
    ).fetchall()
    assert len(triggers) == 17
    idle = []
    for (trigger,) in triggers:
        with closing(shelf(SCHEMA)) as without:
            without.execute(f"DROP TRIGGER {trigger}")
            if not differs_after_a_change(without):
                idle.append(trigger)
    assert idle == []


@pytest.mark.parametrize("table", ["in_stock", "to_bottle"])
def test_only_existing_rows_are_marked(db: sqlite3.Connection, table: str) -> None:
    for wrong in ("999", "'word'", "NULL"):
        before = marked(db)
        try:
            db.execute(f"INSERT INTO {table} VALUES ({wrong})")
        except sqlite3.IntegrityError:
            pass
        assert marked(db) == before
