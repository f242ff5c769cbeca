"""Histories of a shelf with slips that are corrected later, and the same entered right.

    python -m tests.correcting.histories --histories 300 [--seed 1]

Each history fills, tops up, shakes and strains four jars, two of which may take from lots of herb,
bottles them, draws, counts, pours together, discards, and makes a blend and a blend of that blend.
In its twin some facts are typed wrong, at least one of which reaches a blend; each is corrected
some acts later, now and then with an undo and a redo between. At the end both shelves must hold
the same, figure for figure; only ledger and journal differ, and what was shown on a day (the yield
expected then).
"""

import argparse
import random
import sys
import tempfile
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from shutil import copyfile
from typing import Any

from stillroom.clock import SetClock
from stillroom.keeping.bottles.blends import make_blend
from stillroom.keeping.bottles.bottle_views import bottle_row, bottle_rows
from stillroom.keeping.bottles.bottling import bottle_up
from stillroom.keeping.bottles.stock import (
    discard_bottle,
    pour_together,
    put_right,
    set_keep_until,
    take_out,
)
from stillroom.keeping.contents import herb_equivalents
from stillroom.keeping.correcting.correct import correct, plan_correction
from stillroom.keeping.correcting.kinds import Subject, SubjectKind
from stillroom.keeping.correcting.subjects import subject_of_tincture
from stillroom.keeping.cupboard.cupboard import add_spirit, keep_bottle_size
from stillroom.keeping.cupboard.lot_views import HerbLotView
from stillroom.keeping.cupboard.lots import add_lot
from stillroom.keeping.cupboard.taking import charge_of_lot
from stillroom.keeping.drafts import (
    BlendDraft,
    BlendPartDraft,
    BottleDraft,
    BottlingDraft,
    ChargeDraft,
    HerbLotDraft,
    JarDraft,
    PourDraft,
    SpiritDraft,
    StrainDraft,
)
from stillroom.keeping.jars.jar import fill_jar, shake, top_up
from stillroom.keeping.jars.straining import strain
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.shelf_file.check import check
from stillroom.keeping.undo import redo, undo
from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.states import HerbCame, LiquidKind, MovementKind
from stillroom.reckoning.yields import Pressing
from stillroom.records.store import Store

BEGIN = datetime(2026, 1, 10, 9, 15, tzinfo=UTC)
Story = dict[str, Any]
"""Every fact of a history by its name, such as `J1.weight`."""

HERBS = ("Fennel", "Anise", "Calendula", "Yarrow", "Valerian", "Sage", "Thyme", "Elder")
SHARED = "Rosemary"
"""The herb of three lots, which two jars take from."""
GATHERED, BOUGHT = HerbCame.GATHERED, HerbCame.BOUGHT
JARS = range(4)
BATCHES = range(3)
SPARE = 3
"""The jar that is still steeping at the end; a straining may go to it by mistake."""


def story(rng: random.Random) -> Story:
    """A history as it happened."""
    told: Story = {}
    for n in range(2):
        told |= {
            f"S{n}.name": f"Spirit {n}", f"S{n}.strength": rng.choice((40.0, 45.5, 60.0)),
            f"S{n}.volume": 6000.0, f"S{n}.price": 80.0 + rng.randrange(40),
            f"S{n}.origin": f"lot {rng.randrange(100)}", f"S{n}.note": "", f"S{n}.bought": 40,
        }  # fmt: skip
    for n in JARS:
        told |= {
            f"J{n}.herb": HERBS[n], f"J{n}.part": rng.choice(list(Part)),
            f"J{n}.condition": rng.choice(list(Condition)),
            f"J{n}.weight": rng.choice((None, *(float(w) for w in range(80, 140)))),
            f"J{n}.water": rng.choice((None, None, 0.12, 0.55)),
            f"J{n}.gathered": rng.randrange(12, 30), f"J{n}.origin": "garden",
            f"J{n}.second": rng.choice((None, None, (HERBS[n + 4], 20.0 + n))),
            f"J{n}.abv": None, f"J{n}.spirit": rng.randrange(2),
            f"J{n}.poured": float(rng.randrange(700, 900)),
            f"J{n}.water_ml": rng.choice((None, 50.0, 80.0)),
            f"J{n}.topped": rng.choice((None, 60.0, 75.0)),
            f"J{n}.filled": rng.randrange(3, 9), f"J{n}.steep": rng.randrange(14, 40),
            f"J{n}.shakes-per-day": rng.randrange(1, 4),
            f"J{n}.capacity": rng.choice((None, 1500.0)),
            f"J{n}.simmered": rng.random() < 0.2, f"J{n}.note": "",
            f"J{n}.shaken": rng.randrange(2),
        }  # fmt: skip
    if told["J1.second"]:
        told["J1.second"] = (HERBS[0], 21.0)
    for n in BATCHES:
        told |= {
            f"T{n}.jar": n, f"T{n}.yield": float(rng.randrange(560, 640)),
            f"T{n}.pressing": rng.choice(list(Pressing)), f"T{n}.marc": None,
            f"T{n}.measured": rng.choice((None, None, 33.5)), f"T{n}.strained": rng.randrange(2),
            f"T{n}.note": "", f"T{n}.bottles": [(250.0, 240.0 - rng.randrange(20), "Larder"),
                                              (100.0, 95.0, ""), (100.0, 60.0, "Case")],
            f"T{n}.bottled": rng.randrange(2), f"T{n}.write_off": rng.random() < 0.5,
            f"T{n}.draws": 1,
        }  # fmt: skip
    for n in range(5):
        told |= {
            f"D{n}.bottle": (n % 3, 0), f"D{n}.volume": float(rng.randrange(5, 20)),
            f"D{n}.kind": rng.choice((MovementKind.DRAW, MovementKind.GIVE, MovementKind.SPILL)),
            f"D{n}.day": rng.randrange(2), f"D{n}.note": "", f"D{n}.for": "", f"D{n}.times": 1,
        }  # fmt: skip
    told["D3.bottle"], told["D4.bottle"] = (3, 0), (4, 0)
    told["C0.seen"], told["C1.seen"] = 180.0 + rng.random(), 70.0 + rng.random()
    told |= {
        "B3.name": "Winter", "B3.note": "", "B3.made": rng.randrange(2),
        "B3.parts": [((0, 0), float(rng.randrange(40, 70))),
                     ((1, 0), float(rng.randrange(40, 70)))],
        "T3.bottles": [(100.0, 60.0, "")], "T3.bottled": 0, "T3.write_off": rng.random() < 0.5,
        "B4.name": "Deep winter", "B4.note": "", "B4.made": rng.randrange(2),
        "B4.parts": [((3, 0), float(rng.randrange(15, 25))),
                     ((2, 0), float(rng.randrange(40, 70)))],
        "T4.bottles": [(100.0, 45.0, "Case")], "T4.bottled": 0, "T4.write_off": rng.random() < 0.5,
        "keep": rng.random() < 0.3,
    }  # fmt: skip
    told["J0.lot"], told["J3.lot"] = rng.sample((None, 0, 1, 2), 2)
    return told


@dataclass
class World:
    """A shelf on which a history takes place."""

    keeper: Keeper
    clock: SetClock
    told: Story
    spirits: list[int] = field(default_factory=list)
    lots: list[HerbLotView] = field(default_factory=list)
    jars: list[int] = field(default_factory=list)
    tinctures: dict[int, int] = field(default_factory=dict)
    movements: dict[str, list[int]] = field(default_factory=dict)
    days: dict[str, date] = field(default_factory=dict)
    """Days of acts by the names of their facts, for the corrections."""

    def day(self, name: str) -> date:
        """The day of an act: some days ago."""
        self.days[name] = self.keeper.today
        return self.keeper.today - timedelta(days=self.told[name])

    def bottle(self, batch: int, number: int) -> int:
        """The id of a bottle."""
        rows = self.keeper.rows(
            "SELECT id FROM bottle WHERE tincture_id = ? ORDER BY id", self.tinctures[batch]
        )
        return int(rows[number][0])

    def code(self, batch: int, number: int) -> str:
        """The code of a bottle."""
        return bottle_row(self.keeper, self.bottle(batch, number)).code

    def field_of(self, movement_id: int) -> str:
        """What a movement is called among the facts of its bottle."""
        ((number,),) = self.keeper.rows(
            """SELECT count(*) FROM movement m JOIN movement o ON o.bottle_id = m.bottle_id
               WHERE m.id = ? AND o.id <= m.id AND o.kind <> 'fill'""",
            movement_id,
        )
        return f"movement-{number}"

    def of_movement(self, name: str, number: int = 0) -> Subject:
        """The bottle that an entry is of now."""
        ((bottle_id,),) = self.keeper.rows(
            "SELECT bottle_id FROM movement WHERE id = ?", self.movements[name][number]
        )
        return Subject(SubjectKind.BOTTLE, bottle_id)

    def _last_movement(self) -> int:
        return int(self.keeper.rows("SELECT max(id) FROM movement")[0][0])

    # What is done, step by step

    def buy(self) -> None:
        for n in range(2):
            t = {key: self.told[f"S{n}.{key}"] for key in
                 ("name", "strength", "volume", "price", "origin", "note")}  # fmt: skip
            draft = SpiritDraft(
                t["name"], t["strength"], t["volume"], t["price"], self.day(f"S{n}.bought"),
                t["origin"], t["note"],
            )  # fmt: skip
            self.spirits.append(add_spirit(self.keeper, draft))
        keep_bottle_size(self.keeper, 100.0, 40)
        for n, (water, came) in enumerate(((0.6, GATHERED), (0.75, GATHERED), (None, BOUGHT))):
            self.lots.append(add_lot(self.keeper, HerbLotDraft(
                SHARED, Part.LEAF, Condition.FRESH, came,
                self.keeper.today - timedelta(days=40), f"bed {n}",
                mass_g=100.0 + n, price=10.0 + n, water_fraction=water,
            )))  # fmt: skip

    def fill(self, n: int) -> None:
        t = {key.partition(".")[2]: value for key, value in self.told.items()
             if key.startswith(f"J{n}.")}  # fmt: skip
        filled_on = self.day(f"J{n}.filled")
        gathered = self.day(f"J{n}.gathered")
        charges = [
            ChargeDraft(
                t["herb"], t["part"], t["condition"], t["weight"], t["water"], "", gathered,
                t["origin"],
            )
        ]  # fmt: skip
        if t["second"]:
            name, mass = t["second"]
            charges.append(ChargeDraft(name, Part.LEAF, Condition.DRIED, mass))
        if "lot" in t:
            charges.append(
                ChargeDraft(SHARED, Part.LEAF, Condition.FRESH, 15.0)
                if t["lot"] is None
                else charge_of_lot(self.lots[t["lot"]], 15.0)
            )
        abv = t["abv"] or self.told[f"S{t['spirit']}.strength"]
        pours = [PourDraft(LiquidKind.SPIRIT, t["poured"], abv, self.spirits[t["spirit"]])]
        if t["water_ml"]:
            pours.append(PourDraft(LiquidKind.WATER, t["water_ml"]))
        draft = JarDraft(
            tuple(charges), tuple(pours), filled_on,
            self.keeper.today + timedelta(days=t["steep"]), t["shakes-per-day"],
            capacity_ml=t["capacity"], simmered=t["simmered"], note=t["note"],
        )  # fmt: skip
        self.days[f"J{n}.steep"] = self.keeper.today
        self.jars.append(fill_jar(self.keeper, draft).jar_id)

    def top_up(self, n: int) -> None:
        if self.told[f"J{n}.topped"]:
            top_up(self.keeper, self.jars[n],
                   PourDraft(LiquidKind.SPIRIT, self.told[f"J{n}.topped"], 55.0))  # fmt: skip

    def shake(self, n: int) -> None:
        self.days[f"J{n}.shaken"] = self.keeper.today
        for _ in range(self.told[f"J{n}.shaken"]):
            shake(self.keeper, self.jars[n])

    def strain(self, n: int) -> None:
        t = {key: self.told[f"T{n}.{key}"] for key in
             ("jar", "yield", "pressing", "marc", "measured", "note")}  # fmt: skip
        draft = StrainDraft(
            self.jars[t["jar"]], self.day(f"T{n}.strained"), t["yield"], t["pressing"], t["marc"],
            t["measured"], t["note"], confirmed=True,
        )  # fmt: skip
        self.tinctures[n] = strain(self.keeper, draft).tincture_id

    def fill_bottles(self, n: int) -> None:
        bottles = tuple(BottleDraft(*each) for each in self.told[f"T{n}.bottles"])
        day = self.day(f"T{n}.bottled")
        bottle_up(
            self.keeper,
            BottlingDraft(self.tinctures[n], bottles, day, self.told[f"T{n}.write_off"]),
        )
        if n == 2 and self.told["keep"]:
            set_keep_until(self.keeper, self.tinctures[2], date(2027, 6, 1), confirmed=True)

    def draw(self, n: int) -> None:
        name = f"D{n}"
        for _ in range(self.told[f"{name}.times"]):
            take_out(
                self.keeper, self.bottle(*self.told[f"{name}.bottle"]), self.told[f"{name}.volume"],
                kind=self.told[f"{name}.kind"], note=self.told[f"{name}.note"],
                person=self.told[f"{name}.for"],
                day=self.day(f"{name}.day"), confirmed=True,
            )  # fmt: skip
            self.movements.setdefault(name, []).append(self._last_movement())

    def count(self, n: int, batch: int, number: int) -> None:
        put_right(self.keeper, self.bottle(batch, number), self.told[f"C{n}.seen"])
        self.movements[f"C{n}"] = [self._last_movement()]

    def combine(self) -> None:
        pour_together(self.keeper, self.bottle(1, 2), self.bottle(1, 0))

    def discard(self) -> None:
        discard_bottle(self.keeper, self.bottle(2, 1), "cloudy")

    def blend(self, n: int) -> None:
        parts = tuple(
            BlendPartDraft(self.bottle(*of), volume_ml)
            for of, volume_ml in self.told[f"B{n}.parts"]
        )
        draft = BlendDraft(
            self.told[f"B{n}.name"], parts, self.day(f"B{n}.made"), self.told[f"B{n}.note"]
        )
        self.tinctures[n] = make_blend(self.keeper, draft, confirmed=True).tincture_id


STEPS: tuple[Callable[[World], None], ...] = (
    World.buy,
    *(lambda w, n=n: w.fill(n) for n in JARS),
    lambda w: w.top_up(0),
    lambda w: w.shake(0),
    *(lambda w, n=n: w.strain(n) for n in BATCHES),
    *(lambda w, n=n: w.fill_bottles(n) for n in BATCHES),
    lambda w: w.draw(0),
    lambda w: w.draw(1),
    lambda w: w.draw(2),
    lambda w: w.count(0, 0, 0),
    lambda w: w.blend(3),
    lambda w: w.fill_bottles(3),
    lambda w: w.combine(),
    lambda w: w.draw(3),
    lambda w: w.blend(4),
    lambda w: w.fill_bottles(4),
    lambda w: w.draw(4),
    lambda w: w.discard(),
    lambda w: w.count(1, 0, 1),
)
FILL, TOP_UP, SHAKE, STRAIN, BOTTLE, DRAW, COUNT = 1, 5, 6, 7, 10, 13, 16
BLEND = {3: 17, 4: 21}
BOTTLE_BLEND = {3: 18, 4: 22}
DRAW_STEPS = (13, 14, 15, 20, 23)
COUNT_STEPS = (16, 25)


@dataclass(frozen=True)
class Slip:
    """A fact typed wrong, and how it is corrected."""

    name: str
    """The fact in the story."""
    wrong: Any
    step: int
    """The step in which it is typed."""
    correction: Callable[[World], tuple[Subject, dict[str, str]]]
    reaches_blend: bool = False
    with_it: tuple[tuple[str, Any], ...] = ()
    """Other facts of the story that are wrong with it."""


def ml(value: float) -> str:
    """A volume as typed."""
    return f"{value!r} ml"


def _jar(w: World, n: int) -> Subject:
    return Subject(SubjectKind.JAR, w.jars[n])


def _of_batch(w: World, n: int) -> Subject:
    return subject_of_tincture(w.keeper, w.tinctures[n])


def _day(w: World, told: Story, name: str) -> str:
    return (w.days[name] - timedelta(days=told[name])).isoformat()


def slips(told: Story, rng: random.Random) -> dict[str, Slip]:
    """A slip in every fact that can be corrected, by a name for the fact."""
    found: dict[str, Slip] = {}

    def slip(
        kind: str, name: str, wrong: Any, step: int, correction: Any, *, blend: bool = False,
        with_it: tuple[tuple[str, Any], ...] = (),
    ) -> None:  # fmt: skip
        found[f"{kind} {name}"] = Slip(name, wrong, step, correction, blend, with_it)

    for n in range(2):

        def spirit(w: World, n: int = n) -> Subject:
            return Subject(SubjectKind.SPIRIT, w.spirits[n])

        for key, wrong, text in (
            ("strength", told[f"S{n}.strength"] - 2.5, f"{told[f'S{n}.strength']} %"),
            ("volume", 5500.0, ml(told[f"S{n}.volume"])),
            ("price", 12.5, str(told[f"S{n}.price"])),
            ("name", "Brandy", told[f"S{n}.name"]),
            ("origin", "nowhere", told[f"S{n}.origin"]),
            ("note", "wrong note", ""),
        ):
            slip(
                "spirit",
                f"S{n}.{key}",
                wrong,
                0,
                lambda w, s=spirit, k=key, t=text: (s(w), {k: t}),
                blend=key == "strength",
            )
        slip(
            "spirit",
            f"S{n}.bought",
            33,
            0,
            lambda w, s=spirit, n=n: (s(w), {"bought": _day(w, told, f"S{n}.bought")}),
        )

    for n in JARS:
        _jar_slips(told, rng, n, slip)
    for n in BATCHES:
        _straining_slips(told, rng, n, slip)
    for n in (*BATCHES, 3, 4):
        _bottling_slips(told, n, slip)
    _movement_slips(told, rng, slip)
    for n in (3, 4):
        _blend_slips(told, n, slip)
    return found


def _jar_slips(told: Story, rng: random.Random, n: int, slip: Any) -> None:
    name, at, reaches = f"J{n}", FILL + n, n < SPARE
    weight = told[f"{name}.weight"]
    other_part = rng.choice([p for p in Part if p != told[f"{name}.part"]])
    other = Condition.DRIED if told[f"{name}.condition"] == Condition.FRESH else Condition.FRESH
    water = told[f"{name}.water"]
    for key, wrong, text in (
        ("herb", f"Mugwort {n}", told[f"{name}.herb"]),
        ("part", other_part, str(told[f"{name}.part"])),
        ("condition", other, str(told[f"{name}.condition"])),
        ("weight", 95.5 if weight is None else None, "" if weight is None else f"{weight} g"),
        ("water", 0.3 if water is None else None, "" if water is None else f"{100 * water:g} %"),
        ("origin", "market", "garden"),
        ("shakes-per-day", 5, str(told[f"{name}.shakes-per-day"])),
        ("capacity", 1000.0, "" if not told[f"{name}.capacity"] else ml(told[f"{name}.capacity"])),
        ("simmered", not told[f"{name}.simmered"], "yes" if told[f"{name}.simmered"] else "no"),
        ("note", "on the wrong jar", ""),
    ):
        slip(
            "jar",
            f"{name}.{key}",
            wrong,
            at,
            lambda w, k=key, t=text: (_jar(w, n), {k: t}),
            blend=reaches and key in ("part", "condition", "weight", "water", "simmered"),
        )
    if f"{name}.lot" in told:
        lot = told[f"{name}.lot"]
        last = 3 if told[f"{name}.second"] else 2
        slip(
            "jar",
            f"{name}.lot",
            rng.choice([each for each in (None, 0, 1, 2) if each != lot]),
            at,
            lambda w: (_jar(w, n), {f"lot-{last}": "" if lot is None else w.lots[lot].code}),
            blend=reaches,
        )
    slip(
        "jar",
        f"{name}.gathered",
        11,
        at,
        lambda w: (_jar(w, n), {"gathered": _day(w, told, f"{name}.gathered")}),
    )
    slip(
        "jar",
        f"{name}.filled",
        2,
        at,
        lambda w: (_jar(w, n), {"filled": _day(w, told, f"{name}.filled")}),
    )
    slip(
        "jar",
        f"{name}.steep",
        50,
        at,
        lambda w: (
            _jar(w, n),
            {
                "strain": (
                    w.days[f"{name}.steep"] + timedelta(days=told[f"{name}.steep"])
                ).isoformat()
            },
        ),
    )
    slip(
        "jar",
        f"{name}.poured",
        told[f"{name}.poured"] + 55.5,
        at,
        lambda w: (_jar(w, n), {"pour-1.volume": ml(told[f"{name}.poured"])}),
        blend=reaches,
    )
    slip(
        "jar",
        f"{name}.spirit",
        1 - told[f"{name}.spirit"],
        at,
        lambda w: (_jar(w, n), {"pour-1.spirit": str(w.spirits[told[f"{name}.spirit"]])}),
        blend=reaches,
    )
    slip(
        "pour",
        f"{name}.abv",
        43.5,
        at,
        lambda w: (
            _jar(w, n),
            {"pour-1.strength": f"{_strength(told, n)} %"},
        ),
        blend=reaches,
    )
    slip(
        "herb renamed",
        f"{name}.herb",
        f"{told[f'{name}.herb']}x",
        at,
        lambda w: (_herb(w, f"{told[f'{name}.herb']}x"), {"name": told[f"{name}.herb"]}),
    )
    if n == 1 and told[f"{name}.second"]:
        herb, mass = told[f"{name}.second"]
        slip(
            "herb merged",
            f"{name}.second",
            (f"{herb}x", mass),
            at,
            lambda w: (_herb(w, f"{herb}x"), {"merge": herb}),
        )
    if told[f"{name}.second"]:
        herb, mass = told[f"{name}.second"]
        added = 3 if f"{name}.lot" in told else 2
        slip(
            "forgotten herb",
            f"{name}.second",
            None,
            at,
            lambda w: (
                _jar(w, n),
                {
                    f"herb-{added}": herb,
                    f"part-{added}": "leaf",
                    f"condition-{added}": "dried",
                    f"weight-{added}": f"{mass} g",
                },
            ),
            blend=reaches,
        )
        slip(
            "second herb",
            f"{name}.second",
            ("Oregano", mass + 5),
            at,
            lambda w: (_jar(w, n), {"herb-2": herb, "weight-2": f"{mass} g"}),
            blend=reaches,
        )
    else:
        slip(
            "herb too many",
            f"{name}.second",
            ("Oregano", 15.0),
            at,
            lambda w: (_jar(w, n), {"herb-2": ""}),
            blend=reaches,
        )
    if told[f"{name}.water_ml"]:
        slip(
            "forgotten pour",
            f"{name}.water_ml",
            None,
            at,
            lambda w: (
                _jar(w, n),
                {
                    f"pour-{_pours(w, n) + 1}.volume": ml(told[f"{name}.water_ml"]),
                    f"pour-{_pours(w, n) + 1}.kind": "water",
                },
            ),
            blend=reaches,
        )
    else:
        slip(
            "pour too many",
            f"{name}.water_ml",
            45.0,
            at,
            lambda w: (_jar(w, n), {"pour-2.volume": "0"}),
            blend=reaches,
        )
    if n == 0:
        slip(
            "shakes",
            f"{name}.shaken",
            1 - told[f"{name}.shaken"],
            SHAKE,
            lambda w: (
                _jar(w, n),
                {"shakes": f"{w.days[f'{name}.shaken'].isoformat()}: {told[f'{name}.shaken']}"},
            ),
        )
    if n == 0 and told[f"{name}.topped"]:
        slip(
            "top-up",
            f"{name}.topped",
            told[f"{name}.topped"] + 20,
            TOP_UP,
            lambda w: (_jar(w, n), {f"pour-{_pours(w, n)}.volume": ml(told[f"{name}.topped"])}),
            blend=True,
        )


def _strength(told: Story, n: int) -> float:
    return float(told[f"S{told[f'J{n}.spirit']}.strength"])


def _herb(w: World, name: str) -> Subject:
    return Subject(
        SubjectKind.HERB, w.keeper.rows("SELECT id FROM herb WHERE name = ?", name)[0][0]
    )


def _pours(w: World, n: int) -> int:
    return int(w.keeper.rows("SELECT count(*) FROM pour WHERE jar_id = ?", w.jars[n])[0][0])


def _straining_slips(told: Story, rng: random.Random, n: int, slip: Any) -> None:
    name, at = f"T{n}", STRAIN + n
    measured = told[f"{name}.measured"]
    pressing = rng.choice([p for p in Pressing if p != told[f"{name}.pressing"]])
    for key, field_name, wrong, text in (
        ("yield", "yield", told[f"{name}.yield"] + 44.5, ml(told[f"{name}.yield"])),
        ("pressing", "pressing", pressing, str(told[f"{name}.pressing"])),
        ("marc", "marc", 120.0, ""),
        ("note", "straining-note", "wrong", ""),
        (
            "measured",
            "measured",
            31.5 if measured is None else None,
            "" if measured is None else f"{measured} %",
        ),
    ):
        slip(
            "straining",
            f"{name}.{key}",
            wrong,
            at,
            lambda w, f=field_name, t=text: (_of_batch(w, n), {f: t}),
            blend=key == "measured",
        )
    slip(
        "straining",
        f"{name}.strained",
        1 - told[f"{name}.strained"],
        at,
        lambda w: (_of_batch(w, n), {"strained": _day(w, told, f"{name}.strained")}),
    )
    if n == 2:  # the last to be strained: no later straining was of the jar that was meant
        slip(
            "wrong jar",
            f"{name}.jar",
            SPARE,
            at,
            lambda w: (_of_batch(w, n), {"jar": _code_of_jar(w, n)}),
            blend=True,
        )


def _code_of_jar(w: World, n: int) -> str:
    return str(w.keeper.rows("SELECT code FROM jar WHERE id = ?", w.jars[n])[0][0])


def _bottling_slips(told: Story, n: int, slip: Any) -> None:
    name = f"T{n}"
    at = BOTTLE + n if n < 3 else BOTTLE_BLEND[n]
    right = told[f"{name}.bottles"]
    for number, (size, volume, place) in enumerate(right, start=1):
        if number == 2 and n in (0, 2):
            continue  # what it holds decides what is counted and discarded at the end
        for key, wrong, text in (
            ("size", (300.0, volume, place), ml(size)),
            ("volume", (size, volume - 8.5, place), ml(volume)),
            ("place", (size, volume, "Attic"), place),
        ):
            bottles = [*right[: number - 1], wrong, *right[number:]]
            slip(
                f"bottle {number} {key}",
                f"{name}.bottles",
                bottles,
                at,
                lambda w, k=f"bottle-{number}.{key}", t=text: (_of_batch(w, n), {k: t}),
            )
    extra = len(right) + 1
    slip(
        "bottle too many",
        f"{name}.bottles",
        [*right, (15.0, 10.0, "")],
        at,
        lambda w: (_of_batch(w, n), {f"bottle-{extra}.volume": "0"}),
    )
    if n == 0:
        size, volume, place = right[-1]
        slip(
            "forgotten bottle",
            f"{name}.bottles",
            right[:-1],
            at,
            lambda w: (
                _of_batch(w, n),
                {
                    f"bottle-{extra - 1}.size": ml(size),
                    f"bottle-{extra - 1}.volume": ml(volume),
                    f"bottle-{extra - 1}.place": place,
                    f"bottle-{extra - 1}.day": _day(w, told, f"{name}.bottled"),
                },
            ),
        )
    if n < 3:
        slip(
            "bottled",
            f"{name}.bottled",
            1 - told[f"{name}.bottled"],
            at,
            lambda w: (
                _of_batch(w, n),
                {
                    f"bottle-{number}.day": _day(w, told, f"{name}.bottled")
                    for number in range(1, len(right) + 1)
                },
            ),
        )


def _movement_slips(told: Story, rng: random.Random, slip: Any) -> None:
    for n, at in enumerate(DRAW_STEPS):
        name = f"D{n}"
        kinds = (MovementKind.DRAW, MovementKind.GIVE, MovementKind.SPILL)
        kind = rng.choice([k for k in kinds if k != told[f"{name}.kind"]])
        for key, wrong, text in (
            ("volume", told[f"{name}.volume"] + 3.5, ml(told[f"{name}.volume"])),
            ("kind", kind, str(told[f"{name}.kind"])),
            ("note", "spilled", ""),
            ("for", "Ada", ""),
        ):
            slip(
                "movement",
                f"{name}.{key}",
                wrong,
                at,
                lambda w, m=name, k=key, t=text: (
                    w.of_movement(m),
                    {f"{w.field_of(w.movements[m][0])}.{k}": t},
                ),
            )
        slip(
            "movement",
            f"{name}.day",
            1 - told[f"{name}.day"],
            at,
            lambda w, m=name: (
                w.of_movement(m),
                {f"{w.field_of(w.movements[m][0])}.day": _day(w, told, f"{m}.day")},
            ),
        )
        slip(
            "entered twice",
            f"{name}.times",
            2,
            at,
            lambda w, m=name: (
                w.of_movement(m, 1),
                {f"{w.field_of(w.movements[m][1])}.volume": "0"},
            ),
        )
    for n, wrong in ((0, (0, 1)), (2, (2, 2))):
        name = f"D{n}"
        slip(
            "wrong bottle",
            f"{name}.bottle",
            wrong,
            DRAW_STEPS[n],
            lambda w, m=name: (
                w.of_movement(m),
                {f"{w.field_of(w.movements[m][0])}.bottle": w.code(*told[f"{m}.bottle"])},
            ),
        )
    for n, at in enumerate(COUNT_STEPS):
        name = f"C{n}"
        slip(
            "count",
            f"{name}.seen",
            told[f"{name}.seen"] - 4,
            at,
            lambda w, m=name: (
                w.of_movement(m),
                {f"{w.field_of(w.movements[m][0])}.seen": ml(told[f"{m}.seen"])},
            ),
        )


def _blend_slips(told: Story, n: int, slip: Any) -> None:
    name, at = f"B{n}", BLEND[n]
    (first, first_ml), (second, second_ml) = told[f"{name}.parts"]
    slip(
        "part volume",
        f"{name}.parts",
        [(first, first_ml), (second, second_ml + 7.5)],
        at,
        lambda w: (_of_batch(w, n), {"part-2.volume": ml(second_ml)}),
        blend=True,
    )
    other = (1, 1) if n == 3 else (1, 0)
    slip(
        "part bottle",
        f"{name}.parts",
        [(first, first_ml), (other, second_ml)],
        at,
        lambda w: (_of_batch(w, n), {"part-2.bottle": w.code(*second)}),
        blend=True,
    )
    slip(
        "part too many",
        f"{name}.parts",
        [(first, first_ml), (second, second_ml), ((2, 2), 5.5)],
        at,
        lambda w: (_of_batch(w, n), {"part-3.volume": "0"}),
        blend=True,
    )
    slip(
        "blend",
        f"{name}.name",
        "Summer",
        at,
        lambda w: (_of_batch(w, n), {"name": told[f"{name}.name"]}),
    )
    slip("blend", f"{name}.note", "wrong", at, lambda w: (_of_batch(w, n), {"note": ""}))
    slip(
        "blend",
        f"{name}.made",
        1 - told[f"{name}.made"],
        at,
        lambda w: (_of_batch(w, n), {"made": _day(w, told, f"{name}.made")}),
    )


def run(
    new: Path, folder: Path, told: Story, chosen: list[tuple[Slip, int]], rng: random.Random
) -> "World":
    """Live a history in a copy of a new shelf; each slip is corrected after the step that goes
    with it."""
    clock = SetClock(BEGIN)
    folder.mkdir(parents=True, exist_ok=True)
    keeper = Keeper(Store.open(copyfile(new, folder / "shelf.stillroom")), clock)
    mistold = dict(told)
    for slip, _ in chosen:
        mistold |= {slip.name: slip.wrong, **dict(slip.with_it)}
    world = World(keeper, clock, mistold)
    for number, step in enumerate(STEPS):
        step(world)
        clock.advance(days=3)
        for slip, when in chosen:
            if when == number:
                subject, texts = slip.correction(world)
                planned = plan_correction(keeper, subject, texts)
                done = correct(keeper, subject, texts, why="misread", confirmed=True)
                assert planned == done
                world.told[slip.name] = told[slip.name]  # what follows is entered right
                if rng.random() < 0.2:
                    undo(keeper)
                    redo(keeper)
    return world


def choose(told: Story, rng: random.Random) -> list[tuple[Slip, int]]:
    """One to four slips in different facts, at least one of which reaches a blend."""
    catalogue = slips(told, rng)
    reaching = rng.choice([slip for slip in catalogue.values() if slip.reaches_blend])
    # It is corrected when a blend has been made with it.
    chosen = [(reaching, rng.randrange(max(reaching.step, BLEND[3]), len(STEPS)))]
    for slip in rng.sample(list(catalogue.values()), rng.randrange(4)):
        if not any(_meet(slip, other) for other, _ in chosen):
            chosen.append((slip, rng.randrange(slip.step, len(STEPS))))
    return chosen


def _meet(one: Slip, other: Slip) -> bool:
    """Whether two slips are in one fact, so that the second would hide the first."""
    jar = one.name.partition(".")[0] == other.name.partition(".")[0]
    listed = ("bottles", "parts", "second", "water_ml", "topped", "times")
    lists = one.name.endswith(listed) or other.name.endswith(listed)
    moved = "T2.jar" in (one.name, other.name) and {one.name[:2], other.name[:2]} & {"J3", "T2"}
    merged = {"J0.herb", "J1.second"} == {one.name, other.name}
    strengths = (".abv", ".spirit", ".strength")
    both = one.name.endswith(strengths) and other.name.endswith(strengths)
    return one.name == other.name or (jar and lists) or bool(moved) or merged or both


def told_by(keeper: Keeper) -> dict[str, Any]:
    """All that a shelf holds, without ids, ledger, journal and what was shown on a day."""
    held: dict[str, Any] = {}
    for name, sql in _TABLES.items():
        held[name] = sorted(map(tuple, keeper.rows(sql)), key=repr)
    held["stock"] = [
        (b.code, b.left_ml, b.strength_abv, b.ratio, b.keep_until, b.strength_by, b.herb)
        for b in sorted(bottle_rows(keeper, empties=True), key=lambda row: row.code)
    ]
    held["contents"] = [
        (code, sorted((h.herb, h.g_per_ml, h.dried_g_per_ml) for h in
                      herb_equivalents(keeper, tincture_id)))
        for tincture_id, code in keeper.rows("SELECT id, code FROM tincture ORDER BY code")
    ]  # fmt: skip
    return held


_TABLES = {
    "spirits": "SELECT name, strength_abv, bought_ml, price, bought_on, origin, note FROM spirit",
    "sizes": "SELECT size_ml, empties FROM bottle_size",
    "jars": """SELECT code, simmered, filled_on, strain_on, shakes_per_day, capacity_ml, covered,
                      state, ended_on, note FROM jar""",
    "herbs in jars": """SELECT j.code, h.name, l.part, l.condition, l.mass_g, l.water_fraction,
                               l.gathered_on, l.origin, o.code
                        FROM charge_line l JOIN jar j ON j.id = l.jar_id
                        JOIN herb h ON h.id = l.herb_id LEFT JOIN herb_lot o ON o.id = l.lot_id""",
    "lots": """SELECT l.code, s.left_g FROM herb_lot l JOIN in_store s ON s.lot_id = l.id""",
    "pours": """SELECT j.code, p.kind, coalesce(s.name, ''), p.volume_ml, p.strength_abv,
                       p.poured_on
                FROM pour p JOIN jar j ON j.id = p.jar_id
                LEFT JOIN spirit s ON s.id = p.spirit_id""",
    "shakes": "SELECT j.code, s.day, s.turn FROM shake s JOIN jar j ON j.id = s.jar_id",
    "strainings": """SELECT j.code, s.strained_on, s.yield_ml, s.pressing, s.marc_g,
                            s.measured_abv, s.liquid_ml, s.teaches, s.note
                     FROM straining s JOIN jar j ON j.id = s.jar_id""",
    "tinctures": """SELECT code, name, made_on, volume_ml, strength_abv, strength_by, ratio,
                           keep_until, keep_until_by_hand, lost_ml, note FROM tincture""",
    "bottles": """SELECT b.code, t.code, b.size_ml, b.filled_on, b.place
                  FROM bottle b JOIN tincture t ON t.id = b.tincture_id""",
    "movements": """SELECT b.code, m.kind, m.volume_ml, m.day, m.note, m.person
                    FROM movement m JOIN bottle b ON b.id = m.bottle_id""",
    "parts": """SELECT t.code, b.code, m.volume_ml FROM batch_input p
                JOIN tincture t ON t.id = p.tincture_id JOIN movement m ON m.id = p.movement_id
                JOIN bottle b ON b.id = m.bottle_id""",
    "losses": """SELECT t.code, l.kind, l.volume_ml FROM loss l
                 JOIN tincture t ON t.id = l.tincture_id""",
}


def differences(one: Any, other: Any, where: str = "") -> Iterator[str]:
    """Where two shelves differ; figures may by a millionth."""
    if isinstance(one, float) and isinstance(other, float | int):
        if abs(one - other) > 1e-6:
            yield f"{where}: {one} and {other}"
    elif isinstance(one, dict):
        for key in one:
            yield from differences(one[key], other[key], f"{where} {key}".strip())
    elif isinstance(one, list | tuple) and isinstance(other, list | tuple):
        if len(one) != len(other):
            yield f"{where}: {one} and {other}"
        for a, b in zip(one, other, strict=False):
            label = f"{where} {a[0]}" if isinstance(a, tuple) and a else where
            yield from differences(a, b, label)
    elif one != other:
        yield f"{where}: {one} and {other}"


@dataclass(frozen=True)
class Outcome:
    """How a history and its twin ended."""

    slips: tuple[str, ...]
    problems: tuple[str, ...]


def compare(new: Path, folder: Path, seed: int) -> Outcome:
    """Live the history of a seed with slips and without; what differs at the end.

    `new` is the file of a new shelf, of which both begin as copies.
    """
    rng = random.Random(seed)
    told = story(rng)
    chosen = choose(told, rng)
    names = tuple(f"{s.name} at step {when}" for s, when in chosen)
    right = run(new, folder / "right", told, [], rng)
    expected = told_by(right.keeper)
    right.keeper.store.close()
    corrected = run(new, folder / "corrected", told, chosen, rng)
    problems = list(differences(expected, told_by(corrected.keeper)))
    problems += [finding.what for finding in check(corrected.keeper)]
    corrected.keeper.store.close()
    return Outcome(names, tuple(problems))


def main() -> int:
    """Compare many histories; ends with 1 at the first that differs."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--histories", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    drawn: Counter[str] = Counter()
    for seed in range(asked.seed, asked.seed + asked.histories):
        with tempfile.TemporaryDirectory() as folder:
            new = Path(folder, "new.stillroom")
            Store.open(new, create=True).close()
            outcome = compare(new, Path(folder), seed)
        drawn.update(name.partition(" at ")[0].partition(".")[2] for name in outcome.slips)
        if outcome.problems:
            print(f"seed {seed}, slips {outcome.slips}:")
            print("\n".join(outcome.problems))
            return 1
    print(f"{asked.histories} histories end the same. Facts drawn: {dict(drawn)}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
