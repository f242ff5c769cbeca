"""Makes the shelf of ten busy years, to measure on.

    python tests/make_big_shelf.py FILE [--schema 1] [--seed 1] [--share 1.0]

3,000 jars, 10,000 bottles, 35,000 movements, 80,000 shakes, and blends up to five deep. The rows go
in as plain SQL, under the rules of the schema; the figures of tinctures are then calculated by the
program on a copy. With --schema 1 the file is as the first release left it, to be migrated.
"""

import argparse
import random
import shutil
import sqlite3
import sys
import tempfile
import time
from contextlib import closing
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from stillroom.clock import SetClock
from stillroom.keeping.correcting.recalculate import before_change, recalculate
from stillroom.keeping.keeper import Keeper
from stillroom.records.disk import ShelfDatabase
from stillroom.records.schema import migrate, migrations
from stillroom.records.store import Store

TODAY = date(2026, 11, 26)
YEARS = 10
JARS, BOTTLES, MOVEMENTS, SHAKES = 3_000, 10_000, 35_000, 80_000
ACTIONS = 5_000
"""Acts that can be undone."""
DEEPEST = 5
TO_BOTTLE_FOR = timedelta(days=14)
"""How long after straining some is still to be bottled."""
HERBS = (
    "Sage", "Thyme", "Fennel", "Yarrow", "Calendula", "Elecampane", "Valerian", "Mugwort",
    "Rosehip", "Ginger", "Chamomile", "Marshmallow", "Cramp bark", "Angelica", "Skullcap",
    "Lavender",
)  # fmt: skip
PARTS = ("leaf", "aerial parts", "flower", "root", "seed", "bark")


class BigShelf:
    """Ten years of one shelf, row by row."""

    def __init__(self, db: sqlite3.Connection, seed: int, share: float) -> None:
        self.db = db
        self.luck = random.Random(seed)
        self.jars = int(JARS * share)
        self.bottles = int(BOTTLES * share)
        self.movements = int(MOVEMENTS * share)
        self.shakes = int(SHAKES * share)
        self.left: dict[int, float] = {}
        """mL by bottle."""
        self.filled: dict[int, date] = {}
        """Day by bottle."""
        self.depth: dict[int, int] = {}
        """How many blends deep a bottle's liquid is."""
        self.batches: dict[int, int] = {}
        """Batches by year."""
        self.moved = 0

    def row(self, table: str, **values: object) -> int:
        """Insert a row; returns its id."""
        names, marks = ", ".join(values), ", ".join("?" * len(values))
        sql = f"INSERT INTO {table} ({names}) VALUES ({marks})"
        return int(self.db.execute(sql, tuple(values.values())).lastrowid or 0)

    def event(self, day: date, kind: str, text: str, **about: int) -> None:
        """A line of the ledger."""
        self.row("event", at=moment(day), day=f"{day}", maker="EV", kind=kind, text=text, **about)

    def make(self) -> None:
        """Everything, in the order of its days."""
        for herb in HERBS:
            self.row("herb", name=herb)
        for number in range(1, 13):
            self.row("shelf", name=f"Shelf {number}", position=number)
        for year in range(YEARS):
            self.row("spirit", name="Vodka", strength_abv=40.0, bought_on=f"{2016 + year}-11-20")
        days = sorted(self.luck.randrange(1, 365 * YEARS) for _ in range(self.jars))
        per_jar = self.shakes // self.jars
        for number, ago in enumerate(reversed(days)):
            self.jar(number, TODAY - timedelta(days=ago), per_jar)
            if number % 20 == 19:
                self.blend(TODAY - timedelta(days=max(0, ago - 40)))
        self.draws(self.movements - self.moved)
        self.actions()

    def code(self, day: date) -> str:
        """The next batch code of a year."""
        self.batches[day.year] = number = self.batches.get(day.year, 0) + 1
        return f"{day:%y}-{number:03d}"

    def jar(self, number: int, filled_on: date, shakes: int) -> None:
        """A jar with its herb and spirit, its shakes, and what became of it."""
        steep = self.luck.randrange(28, 40)
        strain_on = filled_on + timedelta(days=steep)
        is_done = strain_on <= TODAY
        code = self.code(filled_on)
        herb_id = 1 + self.luck.randrange(len(HERBS))
        jar_id = self.row(
            "jar",
            code=code,
            shelf_id=1 + number % 12,
            place=1 + number // 12,
            filled_on=f"{filled_on}",
            strain_on=f"{strain_on}",
            state="strained" if is_done else "steeping",
            ended_on=f"{strain_on}" if is_done else None,
            note="from the terrace" if number % 7 == 0 else "",
        )
        mass_g, volume_ml = self.luck.randrange(60, 200), float(self.luck.randrange(400, 1000))
        self.row(
            "charge_line",
            jar_id=jar_id,
            herb_id=herb_id,
            part=PARTS[herb_id % len(PARTS)],
            condition="dried",
            mass_g=mass_g,
            gathered_on=f"{filled_on - timedelta(days=20)}",
            origin="Mill Lane",
        )
        self.row(
            "pour",
            jar_id=jar_id,
            kind="spirit",
            spirit_id=1 + (filled_on - date(2016, 11, 20)).days % YEARS,
            volume_ml=volume_ml,
            strength_abv=40.0,
            poured_on=f"{filled_on}",
        )
        self.event(filled_on, "filled", f"Filled {code}", jar_id=jar_id)
        for turn in range(min(shakes, steep, (TODAY - filled_on).days)):
            day = filled_on + timedelta(days=1 + turn)
            self.row("shake", jar_id=jar_id, day=f"{day}", turn=1, at=moment(day), maker="EV")
            if turn % 4 == 0:
                self.event(day, "shaken", "Shook 3 jars still due a shake")
        if is_done:
            self.strained(jar_id, code, strain_on, round(0.8 * volume_ml))

    def strained(self, jar_id: int, code: str, day: date, yield_ml: float) -> None:
        """The straining, its tincture and bottles."""
        straining_id = self.row(
            "straining",
            jar_id=jar_id,
            strained_on=f"{day}",
            yield_ml=yield_ml,
            pressing=self.luck.choice(("drained", "squeezed", "pressed")),
            liquid_ml=1.0,  # calculated at the end
        )
        tincture_id = self.row(
            "tincture",
            code=code,
            straining_id=straining_id,
            made_on=f"{day}",
            volume_ml=yield_ml,
            keep_until=f"{day + timedelta(days=1826)}",
        )
        about = {"jar_id": jar_id, "tincture_id": tincture_id}
        self.event(day, "strained", f"{yield_ml:g} mL", **about)
        count = 4 if len(self.left) < (jar_id - 1) * self.bottles / self.jars else 3
        self.fill(tincture_id, code, day, [yield_ml / (count + 0.1)] * count, depth=0)
        if day <= TODAY - TO_BOTTLE_FOR:  # the rest was written off
            rest_ml = yield_ml - sum([yield_ml / (count + 0.1)] * count)
            self.db.execute("UPDATE tincture SET lost_ml = ? WHERE id = ?", (rest_ml, tincture_id))

    def fill(
        self, tincture_id: int, code: str, day: date, volumes_ml: list[float], depth: int
    ) -> None:
        """Bottles of a tincture."""
        for number, volume_ml in enumerate(volumes_ml, start=1):
            bottle_id = self.row(
                "bottle",
                code=f"{code}.{number}",
                tincture_id=tincture_id,
                size_ml=500.0,
                filled_on=f"{day}",
                place=f"Case {number}",
            )
            self.left[bottle_id] = 0.0
            self.filled[bottle_id], self.depth[bottle_id] = day, depth
            self.move(bottle_id, volume_ml, "fill", day)
            self.event(day, "bottled", "Filled", tincture_id=tincture_id, bottle_id=bottle_id)

    def move(self, bottle_id: int, volume_ml: float, kind: str, day: date, note: str = "") -> int:
        """Liquid into or out of a bottle."""
        self.left[bottle_id] += volume_ml
        self.moved += 1
        return self.row(
            "movement",
            bottle_id=bottle_id,
            volume_ml=volume_ml,
            kind=kind,
            at=moment(day),
            day=f"{day}",
            maker="EV",
            note=note,
        )

    def blend(self, day: date) -> None:
        """A blend of two bottles, the first of them as deep a blend as there is room for."""
        recent = [b for b in list(self.left)[-200:] if self.left[b] > 60 and self.filled[b] <= day]
        blends = [b for b in recent if 0 < self.depth[b] < DEEPEST]
        plain = [b for b in recent if not self.depth[b]]
        if len(plain) < 2:
            return
        parts = [max(blends, key=self.depth.__getitem__) if blends else plain[0], plain[-1]]
        if self.tincture_of(parts[0]) == self.tincture_of(parts[1]):
            return
        code = self.code(day)
        blend_id = self.row(
            "tincture", code=code, name=f"Blend {code}", made_on=f"{day}", volume_ml=100.0
        )
        for part in parts:
            movement_id = self.move(part, -50.0, "blend", day, f"into {code}")
            self.row("blend_part", tincture_id=blend_id, movement_id=movement_id)
        self.event(day, "blended", "100 mL", tincture_id=blend_id)
        depth = 1 + max(self.depth[part] for part in parts)
        self.fill(blend_id, code, day, [90.0], depth)

    def tincture_of(self, bottle_id: int) -> int:
        """The tincture in a bottle."""
        sql = "SELECT tincture_id FROM bottle WHERE id = ?"
        return int(self.db.execute(sql, (bottle_id,)).fetchone()[0])

    def draws(self, count: int) -> None:
        """What was taken out, given away and spilled."""
        bottles = list(self.left)
        taken = []
        for _ in range(count):
            bottle_id = self.luck.choice(bottles)
            volume_ml = min(float(self.luck.choice((5, 10, 15, 20, 30))), self.left[bottle_id])
            if volume_ml < 1:
                bottle_id = max(self.luck.sample(bottles, 50), key=self.left.__getitem__)
                volume_ml = min(5.0, self.left[bottle_id])
            after = (TODAY - self.filled[bottle_id]).days
            day = self.filled[bottle_id] + timedelta(days=self.luck.randrange(after + 1))
            kind = self.luck.choice(("draw", "draw", "draw", "give", "spill"))
            note = f"Client {self.luck.randrange(200)}" if kind == "give" else ""
            self.left[bottle_id] -= volume_ml
            taken.append((day, bottle_id, volume_ml, kind, note))
        for day, bottle_id, volume_ml, kind, note in sorted(taken):
            self.left[bottle_id] += volume_ml  # `move` takes it out again
            self.move(bottle_id, -volume_ml, kind, day, note)
            self.event(day, kind, f"−{volume_ml:g} mL {note}".strip(), bottle_id=bottle_id)

    def actions(self) -> None:
        """What undo could take back."""
        for number in range(1, min(ACTIONS, self.jars) + 1):
            action_id = self.row("action", at=moment(TODAY), title=f"Changed a note {number}")
            sql = f"UPDATE jar SET note='{'x' * 200}' WHERE id={number}"
            self.row("undo_step", action_id=action_id, sql=sql)


def moment(day: date) -> str:
    """A moment of a day as it is stored."""
    return f"{day}T09:15:00.000000+00:00"


def make_big_shelf(path: Path, schema: int = 2, seed: int = 1, share: float = 1.0) -> None:
    """Make it; FileExistsError where there is a file. `share` of 0.01 is a hundredth of it."""
    if path.exists():
        raise FileExistsError(path)
    db = ShelfDatabase(str(path))
    number, script = migrations()[0]
    migrate(db, number, script)
    db.close()
    with closing(sqlite3.connect(path, isolation_level=None)) as plain:
        plain.execute("PRAGMA foreign_keys = ON")
        plain.execute("BEGIN")
        BigShelf(plain, seed, share).make()
        plain.execute("COMMIT")
    write_figures(path)
    if schema == 2:
        Store.open(path).close()
        for copy in path.parent.glob(f"{path.name}.before-schema-*"):
            copy.unlink()


def write_figures(path: Path) -> None:
    """Give the tinctures of a shelf of schema 1 the figures that follow from their facts."""
    with tempfile.TemporaryDirectory() as scratch:
        copy = Path(scratch) / path.name
        shutil.copyfile(path, copy)
        store = Store.open(copy)
        keeper = Keeper(store, SetClock(datetime(2026, 11, 26, 9, 15, tzinfo=UTC)))
        tinctures = [row[0] for row in keeper.rows("SELECT id FROM tincture")]
        with store.db.atomic("IMMEDIATE"):
            store.db.execute_sql(
                """INSERT INTO journal (at, day, kind, title)
                   VALUES (?, ?, 'correction', 'Figures')""",
                (moment(TODAY), f"{TODAY}"),
            )
            store.db.execute_sql("UPDATE undo_state SET journal_id = last_insert_rowid()")
            recalculate(keeper, tinctures, before_change(keeper, tinctures))
        columns = "volume_ml", "lost_ml", "strength_abv", "strength_by", "ratio", "keep_until"
        figures = keeper.rows(f"SELECT {', '.join(columns)}, id FROM tincture")
        liquids = keeper.rows("SELECT liquid_ml, id FROM straining")
        store.close()
    with closing(sqlite3.connect(path, isolation_level=None)) as db:
        db.execute("BEGIN")
        sets = ", ".join(f"{column} = ?" for column in columns)
        db.executemany(f"UPDATE tincture SET {sets} WHERE id = ?", figures)
        db.executemany("UPDATE straining SET liquid_ml = ? WHERE id = ?", liquids)
        db.execute(
            """UPDATE tincture SET lost_ml = volume_ml - (
                   SELECT sum(m.volume_ml) FROM bottle b JOIN movement m ON m.bottle_id = b.id
                   WHERE b.tincture_id = tincture.id AND m.kind = 'fill')
               WHERE straining_id IS NULL AND made_on <= ?""",
            (f"{TODAY - TO_BOTTLE_FOR}",),
        )
        db.execute("COMMIT")


def main() -> None:
    """Make it."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("file", type=Path)
    parser.add_argument("--schema", type=int, choices=(1, 2), default=2)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--share", type=float, default=1.0)
    asked = parser.parse_args()
    began = time.perf_counter()
    make_big_shelf(asked.file, asked.schema, asked.seed, asked.share)
    size = asked.file.stat().st_size / 1e6
    print(f"{asked.file}: {size:.1f} MB, {time.perf_counter() - began:.1f} s")


if __name__ == "__main__":
    main()
