"""How quickly a large shelf is exported and imported, beside plain `sqlite3` and `csv`.

    python tests/benchmarks/bench_interchange.py [BOTTLES]

Prints times and ratios for 10,000 bottles with their jars, shakes, movements and events, and the
most memory the process ever took after a tenth of them and after all. Plain means: rows to lines
and lines to rows, with no check, no link by name, no undo. Nothing is asserted: times differ from
run to run.
"""

import csv
import resource
import sqlite3
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

from stillroom.clock import SetClock
from stillroom.keeping.interchange.reading import import_folder
from stillroom.keeping.interchange.tables import TABLES
from stillroom.keeping.interchange.writing import export_folder
from stillroom.keeping.keeper import Keeper
from stillroom.records.store import Store

BOTTLES_PER_JAR = 4
SHAKES_PER_JAR = 14
MOVEMENTS_PER_BOTTLE = 3
SPIRITS = 20
CLOCK = SetClock(datetime(2026, 11, 26, 9, 15, tzinfo=UTC))
AT, DAY = "2026-11-02T07:00:00.000000+00:00", "2026-11-02"


def fill_shelf(path: Path, bottles: int) -> None:
    """Make a shelf with that many bottles, straight through SQL."""
    Store.open(path, create=True).close()
    jars = range(1, bottles // BOTTLES_PER_JAR + 1)
    with closing(sqlite3.connect(path)) as db, db:
        many = db.executemany
        db.execute("INSERT INTO shelf VALUES (1, 'Larder', 1, '')")
        many("INSERT INTO herb (id, name) VALUES (?, ?)", ((i, f"Herb {i}") for i in range(1, 101)))
        many(
            "INSERT INTO spirit (id, name, strength_abv) VALUES (?, 'Vodka', 40)",
            ((i,) for i in range(1, SPIRITS + 1)),
        )
        many(
            "INSERT INTO jar (id, code, shelf_id, place, filled_on, strain_on, state, ended_on)"
            " VALUES (?, ?, 1, ?, '2026-11-01', '2026-11-15', 'strained', '2026-11-15')",
            ((i, f"26-{i:03d}", i) for i in jars),
        )
        many(
            "INSERT INTO charge_line (jar_id, herb_id, part, condition, mass_g, origin)"
            " VALUES (?, ?, 'root', 'dried', 120.5, 'Hedge along the lane')",
            ((i, i % 100 + 1) for i in jars),
        )
        many(
            "INSERT INTO pour (jar_id, kind, spirit_id, volume_ml, strength_abv, poured_on)"
            " VALUES (?, 'spirit', ?, 602.5, 40, '2026-11-01')",
            ((i, i % SPIRITS + 1) for i in jars),
        )
        many(
            f"INSERT INTO shake (jar_id, day, turn, at, maker) VALUES (?, ?, 1, '{AT}', 'EV')",
            ((i, f"2026-11-{day + 1:02d}") for i in jars for day in range(SHAKES_PER_JAR)),
        )
        many(
            "INSERT INTO straining (id, jar_id, strained_on, yield_ml, pressing)"
            " VALUES (?, ?, '2026-11-15', 430.25, 'pressed')",
            ((i, i) for i in jars),
        )
        many(
            "INSERT INTO tincture (id, code, straining_id, made_on, volume_ml, strength_abv,"
            " strength_by, ratio) VALUES (?, ?, ?, '2026-11-15', 430.25, 38.125, 'calculated', 5)",
            ((i, f"26-{i:03d}", i) for i in jars),
        )
        fill_bottles(db, bottles)


def fill_bottles(db: sqlite3.Connection, bottles: int) -> None:
    """Bottles, what went in and out, and the ledger."""
    every = range(1, bottles + 1)
    db.executemany(
        "INSERT INTO bottle (id, code, tincture_id, size_ml, filled_on, place)"
        " VALUES (?, ?, ?, 100, '2026-11-15', 'Box')",
        (
            (i, f"26-{(i - 1) // 4 + 1:03d}.{(i - 1) % 4 + 1}", (i - 1) // BOTTLES_PER_JAR + 1)
            for i in every
        ),
    )
    db.executemany(
        "INSERT INTO movement (bottle_id, volume_ml, kind, at, day, maker, note)"
        f" VALUES (?, ?, ?, '{AT}', '{DAY}', 'EV', ?)",
        (
            (i, *((100.0, "fill", "") if n == 0 else (-12.5, "draw", "own use")))
            for i in every
            for n in range(MOVEMENTS_PER_BOTTLE)
        ),
    )
    db.executemany(
        "INSERT INTO event (at, day, maker, kind, text, tincture_id, bottle_id)"
        f" VALUES ('{AT}', '{DAY}', 'EV', 'draw', ?, ?, ?)",
        (
            (f"-12.5 mL own use {n}", (i - 1) // BOTTLES_PER_JAR + 1, i)
            for i in every
            for n in range(MOVEMENTS_PER_BOTTLE)
        ),
    )


def plain_export(path: Path, folder: Path) -> None:
    """Every table to a CSV file."""
    folder.mkdir()
    with closing(sqlite3.connect(path)) as db:
        for table in TABLES:
            with (folder / table.file).open("w", encoding="utf-8", newline="") as file:
                csv.writer(file).writerows(db.execute(f"SELECT * FROM {table.record}"))


def plain_import(folder: Path, path: Path, schema_of: Path) -> None:
    """Every CSV file to a table with the same columns, as text and without rules."""
    with closing(sqlite3.connect(schema_of)) as shelf, closing(sqlite3.connect(path)) as db, db:
        for table in TABLES:
            names = [row[1] for row in shelf.execute(f"PRAGMA table_info({table.record})")]
            db.execute(f"CREATE TABLE {table.record} ({', '.join(names)})")
            marks = ", ".join("?" * len(names))
            with (folder / table.file).open(encoding="utf-8", newline="") as file:
                lines = csv.reader(file)
                db.executemany(f"INSERT INTO {table.record} VALUES ({marks})", lines)


def seconds(work: Callable[[], object]) -> float:
    """How long something takes."""
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def own_export(path: Path, folder: Path) -> None:
    """The shelf to its folder."""
    store = Store.open(path)
    export_folder(Keeper(store, CLOCK), folder)
    store.close()


def own_import(folder: Path, path: Path) -> None:
    """A folder into an empty shelf, in one undoable act."""
    store = Store.open(path, create=True)
    report = import_folder(Keeper(store, CLOCK), folder)
    assert report.is_done, report.bad[:3]
    store.close()


def peak_mb() -> float:
    """The most memory this process has taken so far."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def measure(bottles: int, place: Path) -> None:
    """Export and import a shelf both ways, and print what that took."""
    place.mkdir()
    shelf = place / "shelf.stillroom"
    fill_shelf(shelf, bottles)
    out = seconds(lambda: own_export(shelf, place / "out"))
    plain_out = seconds(lambda: plain_export(shelf, place / "plain"))
    back = seconds(lambda: own_import(place / "out", place / "again.stillroom"))
    peak = peak_mb()
    plain_back = seconds(lambda: plain_import(place / "plain", place / "plain.db", shelf))
    print(f"{bottles} bottles")
    print(f"  export {out:6.2f} s, plain {plain_out:6.2f} s, ratio {out / plain_out:5.1f}")
    print(f"  import {back:6.2f} s, plain {plain_back:6.2f} s, ratio {back / plain_back:5.1f}")
    print(f"  most memory so far {peak:6.1f} MB")


def main() -> None:
    """Measure a tenth and the whole."""
    bottles = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    with tempfile.TemporaryDirectory() as scratch:
        for count in (bottles // 10, bottles):
            measure(count, Path(scratch) / str(count))


if __name__ == "__main__":
    main()
