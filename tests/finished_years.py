"""Adds finished batches to a shelf, as years of work leave them: nothing of them is unfinished.

Straight through SQL, as tests/make_big_shelf.py does it, so that a long history costs little.
"""

import sqlite3
from contextlib import closing
from pathlib import Path

FIRST_ID = 1_000_000
"""Ids of what is added start here."""
SHAKES, BOTTLES, DRAWS = 20, 3, 6
"""Of each jar; the draws of each bottle empty it."""
AT, DAY = "{day}T09:15:00.000000+00:00", "{day}"


def add_finished_batches(path: Path, batches: int) -> None:
    """Add jars to a closed shelf that were filled, strained, bottled and used up in 2018."""
    with closing(sqlite3.connect(path)) as db:
        db.execute("PRAGMA foreign_keys = ON")
        (herb_id,) = db.execute("SELECT min(id) FROM herb").fetchone()
        (shelf_id,) = db.execute("SELECT min(id) FROM shelf").fetchone()
        for number in range(batches):
            _add(db, number, herb_id, shelf_id)
        db.commit()


def _add(db: sqlite3.Connection, number: int, herb_id: int, shelf_id: int) -> None:
    of, code = FIRST_ID + number, f"18-{number:04d}"
    day, strained = (
        f"2018-{1 + number % 6:02d}-{1 + number % 28:02d}",
        f"2018-07-{1 + number % 28:02d}",
    )
    at = f"{day}T09:15:00.000000+00:00"
    run = db.execute
    run("INSERT INTO jar (id, code, shelf_id, place, filled_on, strain_on, state, ended_on)"
        " VALUES (?, ?, ?, ?, ?, ?, 'strained', ?)",
        (of, code, shelf_id, 1 + number, day, strained, strained))  # fmt: skip
    run("INSERT INTO charge_line (id, jar_id, herb_id, part, condition, mass_g)"
        " VALUES (?, ?, ?, 'root', 'dried', 100)", (of, of, herb_id))  # fmt: skip
    run("INSERT INTO pour (id, jar_id, kind, volume_ml, strength_abv, poured_on)"
        " VALUES (?, ?, 'spirit', 500, 40, ?)", (of, of, day))  # fmt: skip
    db.executemany(
        "INSERT INTO shake (jar_id, day, turn, at) VALUES (?, ?, ?, ?)",
        [(of, f"2018-07-{1 + turn:02d}", 1, at) for turn in range(SHAKES)],
    )
    run("INSERT INTO straining (id, jar_id, strained_on, yield_ml, pressing, liquid_ml)"
        " VALUES (?, ?, ?, 300, 'pressed', 500)", (of, of, strained))  # fmt: skip
    run("INSERT INTO tincture (id, code, straining_id, made_on, volume_ml, ratio, keep_until)"
        " VALUES (?, ?, ?, ?, 300, 5, '2023-07-01')", (of, code, of, strained))  # fmt: skip
    for bottle in range(BOTTLES):
        bottle_id = FIRST_ID + number * BOTTLES + bottle
        run("INSERT INTO bottle (id, code, tincture_id, size_ml, filled_on)"
            " VALUES (?, ?, ?, 100, ?)",
            (bottle_id, f"{code}.{bottle}", of, strained))  # fmt: skip
        moves = [(100.0, "fill")] + [(-100.0 / DRAWS, "draw")] * DRAWS
        db.executemany(
            "INSERT INTO movement (bottle_id, volume_ml, kind, at, day) VALUES (?, ?, ?, ?, ?)",
            [(bottle_id, ml, kind, at, strained) for ml, kind in moves],
        )
        db.executemany(
            "INSERT INTO event (at, day, kind, jar_id, tincture_id, bottle_id)"
            " VALUES (?, ?, ?, ?, ?, ?)",
            [(at, strained, kind, of, of, bottle_id) for _, kind in moves],
        )
        run("INSERT INTO print_log (at, day, kind, bottle, text, copies, units, day_form,"
            " decimal_comma) VALUES (?, ?, 'printed', ?, 'A label', 1, 'metric', 'iso', 0)",
            (at, strained, f"{code}.{bottle}"))  # fmt: skip
    title = f"Strained {code}"
    run("INSERT INTO journal (id, at, day, kind, title) VALUES (?, ?, ?, 'act', ?)",
        (of, at, strained, title))  # fmt: skip
    for record, before, after in (
        ("bottle", '{"code": "x"}', '{"code": "x", "place": "y"}'),
        ("jar", '{"state": "steeping"}', '{"state": "strained"}'),
    ):
        run("INSERT INTO journal_change (journal_id, record, row_id, before, after)"
            " VALUES (?, ?, ?, ?, ?)", (of, record, of, before, after))  # fmt: skip
    run("INSERT INTO event (at, day, kind, jar_id, journal_id) VALUES (?, ?, 'strained', ?, ?)",
        (at, strained, of, of))  # fmt: skip
