"""A hand at the shelf that does anything a person can do, at random but repeatably.

Tests and benchmark scripts share it: every choice comes from one `random.Random`.
"""

import csv
import json
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory
from typing import TypeVar

from stillroom.clock import SetClock
from stillroom.errors import StillroomError, StoreError
from stillroom.keeping import closing, settings
from stillroom.keeping.bottles import (
    blends,
    bottling,
    formulas,
    losses,
    print_log,
    returns,
    status,
    stock,
)
from stillroom.keeping.bottles.labels import labels_for
from stillroom.keeping.bottles.stocktake import settle_stocktake
from stillroom.keeping.correcting import correct as correcting
from stillroom.keeping.correcting.fact_reader import show_value
from stillroom.keeping.correcting.facts import facts_of
from stillroom.keeping.correcting.kinds import Fact, FactKind, Subject, SubjectKind
from stillroom.keeping.cupboard import counting, cupboard, liquids, lots
from stillroom.keeping.cupboard.lot_reading import herb_lot
from stillroom.keeping.drafts import (
    ALL,
    AgainDraft,
    BlendDraft,
    BlendPartDraft,
    BottleDraft,
    BottlingDraft,
    ChargeDraft,
    FormulaDraft,
    FormulaPartDraft,
    HerbDraft,
    HerbLotDraft,
    InputDraft,
    JarDraft,
    LiquidDraft,
    PourDraft,
    ShelfDraft,
    SpiritDraft,
    StrainDraft,
    ToTake,
)
from stillroom.keeping.interchange.columns import MANIFEST
from stillroom.keeping.interchange.edited import import_edited
from stillroom.keeping.interchange.merging import merge_folder
from stillroom.keeping.interchange.writing import export_folder
from stillroom.keeping.jars import amending, marc
from stillroom.keeping.jars import jar as jars
from stillroom.keeping.jars.straining import drain, strain
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.undo import undo
from stillroom.keeping.wording import wording
from stillroom.keeping.year import gathering
from stillroom.quantities import UnitSystem
from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.states import (
    BY_HAND,
    HERB_DISCARDS,
    LOSS_KINDS,
    CupboardMovementKind,
    HerbCame,
    InputKind,
    LiquidKind,
    OtherLiquidKind,
)
from stillroom.reckoning.yields import Pressing
from stillroom.records.file_state import OWN_SETTINGS
from stillroom.records.tables import UNDOABLE

T = TypeVar("T")
MOST_MERGED = 8
"""Jars on a shelf that is made one with another."""
HISTORY = ("journal", "journal_changes", "events", "corrected", "print_log")
"""Files whose lines stay when an import is undone."""

HERBS = (
    "Calendula",
    "Elecampane",
    "Fennel",
    "Élécampane “grande”",
    "カミツレ",
    "[bold]Ginger[/]",
    "O'Brien's thyme; DROP TABLE jar;--",
    "=SUM(A1)",
)
TEXTS = (
    "",
    "Strong smell.",
    "two\nlines",
    "it's 'quoted' \"twice\"",
    "שלום",
    "%s ?1 :today",
    "🌿" * 50,
)


def content(keeper: Keeper) -> dict[str, list[tuple[object, ...]]]:
    """Every row of the record, table by table; not what the file itself counts its acts by.

    Of the ledger, what holds: neither the lines of undone acts nor those about undo and redo.
    """
    tables = [record.table() for record in UNDOABLE]
    rows = {table: keeper.rows(f'SELECT * FROM "{table}" ORDER BY id') for table in tables}
    rows["event"] = keeper.rows(
        """SELECT e.* FROM standing e LEFT JOIN journal j ON j.id = e.journal_id
           WHERE coalesce(j.kind, '') NOT IN ('undo', 'redo') ORDER BY e.id"""
    )
    rows["setting"] = [row for row in rows["setting"] if row[1] not in OWN_SETTINGS]
    return rows


@dataclass
class Driver:
    """Does one random thing after another to a shelf."""

    keeper: Keeper
    random: Random
    clock: SetClock | None = None
    """Moved on by some hours between the steps, where given."""
    done: dict[str, int] = field(default_factory=dict)
    """How often each use case went through."""

    def act(self) -> str:
        """Try random use cases until one goes through; returns its name."""
        while True:
            name = self.step()
            if name:
                return name

    def step(self) -> str:
        """Try one random use case; returns its name, blank where the shelf refused it."""
        if self.clock is not None:
            self.clock.advance(hours=self.random.choice((0, 0, 1, 5, 20)))
        return self._attempt(self.random.choice(STEPS))

    def act_anew(self) -> str:
        """Do what was never done yet, where the shelf allows it; otherwise any use case."""
        missing = [step for step in dict.fromkeys(STEPS) if step.__name__ not in self.done]
        for step in self.random.sample(missing, len(missing)):
            if name := self._attempt(step):
                return name
        return self.act()

    def _attempt(self, step: Callable[["Driver"], None]) -> str:
        try:
            step(self)
        except StoreError:
            raise
        except (StillroomError, LookupError):  # refused, or nothing there to do it with
            return ""
        name = step.__name__
        self.done[name] = self.done.get(name, 0) + 1
        return name

    def aside(self) -> str:
        """Try something that leaves nothing to undo; returns its name, blank where refused."""
        aside = self.random.choice(ASIDES)
        try:
            aside(self)
        except StoreError:
            raise
        except (StillroomError, LookupError):
            return ""
        return aside.__name__

    def one(self, sql: str, *values: object) -> int:
        """The id of a random row; LookupError where there is none."""
        return int(self.random.choice(self.keeper.rows(sql, *values))[0])

    def pick(self, *choices: T) -> T:
        """One of the choices."""
        return self.random.choice(choices)

    def text(self) -> str:
        """A note that may hold anything."""
        return self.random.choice(TEXTS)

    def day(self, earliest: int = -40, latest: int = 0) -> date:
        """A day so many days from today."""
        return self.keeper.today + timedelta(days=self.random.randint(earliest, latest))

    def steeping(self) -> int:
        """A jar that steeps."""
        return self.one("SELECT id FROM jar WHERE state = 'steeping'")

    def bottle(self) -> int:
        """A bottle with something in it, most of the time."""
        return self.one(
            """SELECT b.id FROM bottle b JOIN movement m ON m.bottle_id = b.id
               GROUP BY b.id HAVING sum(m.volume_ml) > 0.01 OR b.id % 7 = 0"""
        )


def _pour(d: Driver) -> PourDraft:
    kind = d.pick(*[LiquidKind.SPIRIT] * 3, LiquidKind.WATER, LiquidKind.DECOCTION)
    volume = round(d.random.uniform(50, 900), d.pick(0, 1, 6))
    if kind != LiquidKind.SPIRIT:
        return PourDraft(kind, volume)
    known = d.keeper.rows("SELECT id, strength_abv FROM spirit")
    if known and d.random.random() < 0.6:
        spirit_id, strength = d.random.choice(known)
        return PourDraft(kind, volume / 5, strength, spirit_id)
    return PourDraft(kind, volume, d.pick(37.5, 40, 70, 96))


def _jar(d: Driver) -> JarDraft:
    charges = tuple(
        ChargeDraft(
            d.pick(*HERBS),
            d.pick(*Part),
            d.pick(*Condition),
            d.pick(None, 10.0, round(d.random.uniform(1, 200), 3)),
            water_fraction=d.pick(None, None, 0.7),
            botanical=d.pick("", "Calendula officinalis"),
            origin=d.pick("", "the lower bed"),
        )
        for _ in range(d.pick(1, 1, 2, 3))
    )
    filled = d.day()
    return JarDraft(
        charges,
        tuple(_pour(d) for _ in range(d.pick(1, 1, 2))),
        filled,
        filled + timedelta(days=d.pick(0, 14, 42)),
        shakes_per_day=d.pick(0, 1, 1, 2, 3),
        capacity_ml=d.pick(None, 1000.0),
        simmered=d.pick(False, False, True),
        note=d.text(),
    )


def fill_jar(d: Driver) -> None:
    jars.fill_jar(d.keeper, _jar(d))


def fill_from_lot(d: Driver) -> None:
    lot = herb_lot(d.keeper, d.one("SELECT id FROM herb_lot"))
    charge = ChargeDraft(
        lot.herb, lot.part, lot.condition, d.pick(None, 20.0, 60.0), lot_id=lot.lot_id
    )
    jars.fill_jar(d.keeper, replace(_jar(d), charges=(charge,), filled_on=d.keeper.today,
                                    strain_on=d.day(0, 40)))  # fmt: skip


def add_lot(d: Driver) -> None:
    draft = HerbLotDraft(
        d.pick(*HERBS),
        d.pick(*Part),
        d.pick(Condition.FRESH, Condition.FRESH, Condition.DRIED),
        d.pick(*HerbCame),
        d.day(),
        d.pick("", "the lower bed"),
        d.pick("", "L 7"),
        d.pick(None, 200.0, 900.0),
        d.pick(None, 12.5),
        d.pick(None, 0.7),
    )
    lots.add_lot(d.keeper, draft)


def _some_lot(d: Driver) -> int:
    return d.one("SELECT id FROM herb_lot")


def lay_out(d: Driver) -> None:
    lots.lay_out(d.keeper, _some_lot(d), d.pick(None, None, 50.0))


def dry(d: Driver) -> None:
    lots.dry(d.keeper, d.one("SELECT id FROM herb_lot WHERE laid_out_on IS NOT NULL"),
             d.pick(None, 30.0, 160.0))  # fmt: skip


def weigh_lot(d: Driver) -> None:
    lots.weigh_lot(d.keeper, _some_lot(d), d.pick(0.0, 25.0, 150.0), note=d.text())


def give_herb(d: Driver) -> None:
    lots.give_herb(d.keeper, _some_lot(d), d.pick(None, 5.0), person=d.pick("", "Ada Vale"))


def discard_herb(d: Driver) -> None:
    kind = d.pick(*HERB_DISCARDS)
    lots.discard_herb(d.keeper, _some_lot(d), d.pick(None, 5.0), kind=kind)


def use_up(d: Driver) -> None:
    lots.use_up(d.keeper, _some_lot(d), note=d.text())


def remove_lot(d: Driver) -> None:
    lots.remove_lot(d.keeper, _some_lot(d))


def amend_jar(d: Driver) -> None:
    amending.amend_jar(d.keeper, d.steeping(), _jar(d))


def shake(d: Driver) -> None:
    jars.shake(d.keeper, d.steeping())


def shake_all(d: Driver) -> None:
    jars.shake_all(d.keeper)


def top_up(d: Driver) -> None:
    jars.top_up(d.keeper, d.steeping(), _pour(d), covers=d.pick(True, False))


def mark_covered(d: Driver) -> None:
    jars.mark_covered(d.keeper, d.steeping(), d.pick(True, False))


def move_jar(d: Driver) -> None:
    jars.move_jar(d.keeper, d.one("SELECT id FROM jar"), d.one("SELECT id FROM shelf"))


def set_dates(d: Driver) -> None:
    jars.set_dates(d.keeper, d.steeping(), d.day(), d.day(-5, 20), d.pick(0, 1, 2))


def note_jar(d: Driver) -> None:
    jars.note_jar(d.keeper, d.one("SELECT id FROM jar"), d.text())


def discard_jar(d: Driver) -> None:
    jars.discard_jar(d.keeper, d.steeping(), d.text())


def strain_jar(d: Driver) -> None:
    strain(d.keeper, _straining(d, d.steeping()))


def drain_jar(d: Driver) -> None:
    drain(d.keeper, _straining(d, d.one("SELECT id FROM jar WHERE ended_on IS NULL")))


def pour_again(d: Driver) -> None:
    day = d.day(0)
    marc.pour_again(
        d.keeper,
        AgainDraft(
            d.one("SELECT id FROM jar WHERE state = 'strained'"), (_pour(d),), day, day,
            simmered=d.pick(True, False, False), marc_g=d.pick(None, None, 240.0),
            held_ml=d.pick(None, 90.0),
        ),
    )  # fmt: skip


def fill_on_tincture(d: Driver) -> None:
    draft = _jar(d)
    if d.pick(True, False):
        which = {"bottle_id": d.bottle()}
    else:
        which = {"source_id": d.one("SELECT tincture_id FROM unbottled WHERE left_ml > 1")}
    pour = PourDraft(LiquidKind.TINCTURE, d.pick(5.0, 20.0, 60.0), **which)
    jars.fill_jar(d.keeper, replace(draft, pours=(*draft.pours, pour), filled_on=d.day(0)))


def press_jar(d: Driver) -> None:
    strain(d.keeper, _straining(d, d.one("SELECT id FROM jar WHERE state = 'drained'")))


def _straining(d: Driver, jar_id: int) -> StrainDraft:
    return StrainDraft(
        jar_id,
        d.day(-3),
        d.pick(0.0, *(round(d.random.uniform(20, 700), 2) for _ in range(5))),
        d.pick(*Pressing),
        marc_g=d.pick(None, 80.5),
        measured_abv=d.pick(None, 38.2),
        note="",
        confirmed=d.pick(True, False),
    )


def bottle_up(d: Driver) -> None:
    tincture_id = d.one("SELECT id FROM tincture ORDER BY id DESC LIMIT 5")
    sizes = [d.pick(10.0, 30.0, 50.0, 100.0) for _ in range(d.pick(1, 2, 3))]
    bottles = tuple(BottleDraft(s, s * d.pick(1, 0.5, 1 / 3), d.pick("", "A1")) for s in sizes)
    bottling.bottle_up(
        d.keeper, BottlingDraft(tincture_id, bottles, d.day(-1), d.pick(True, False))
    )


def take_out(d: Driver) -> None:
    volume = d.pick(1.0, 5.0, round(d.random.uniform(0.1, 40), 4))
    stock.take_out(
        d.keeper,
        d.bottle(),
        volume,
        kind=d.pick(*BY_HAND),
        person=d.text(),
        note=d.text(),
        confirmed=d.pick(True, False),
    )


def weigh_in(d: Driver) -> None:
    stock.weigh_in(d.keeper, d.bottle(), 50 + d.random.uniform(0, 40), 50, note=d.text())


def put_right(d: Driver) -> None:
    stock.put_right(d.keeper, d.bottle(), round(d.random.uniform(0, 40), 1), note=d.text())


def pour_together(d: Driver) -> None:
    giver = d.bottle()
    taker = d.one(
        """SELECT id FROM bottle
           WHERE tincture_id = (SELECT tincture_id FROM bottle WHERE id = ?)""",
        giver,
    )
    stock.pour_together(d.keeper, giver, taker)


def move_bottle(d: Driver) -> None:
    stock.move_bottle(d.keeper, d.bottle(), d.pick("", "top shelf", "[red]"))


def discard_bottle(d: Driver) -> None:
    stock.discard_bottle(d.keeper, d.bottle(), d.text())


def take_stock(d: Driver) -> None:
    place = d.pick("", "top shelf", "A1")
    here = d.keeper.rows("SELECT id, size_ml FROM bottle WHERE place = ? LIMIT 3", place)
    seen = {bottle_id: size * d.pick(0, 0.25, 1) for bottle_id, size in here}
    settle_stocktake(d.keeper, place, seen)


def set_keep_until(d: Driver) -> None:
    tincture_id = d.one("SELECT id FROM tincture")
    stock.set_keep_until(d.keeper, tincture_id, d.pick(None, d.day(-5, 900)))


def release(d: Driver) -> None:
    status.release(d.keeper, d.one("SELECT id FROM tincture"), d.text(), confirmed=True)


def reject(d: Driver) -> None:
    status.reject(d.keeper, d.one("SELECT id FROM tincture"), d.text())


def withdraw(d: Driver) -> None:
    status.withdraw(d.keeper, [d.one("SELECT id FROM tincture")], "a lot", d.text())


def correct(d: Driver) -> None:
    """Correct a fact of something to another value, often in a jar that was bottled and blended."""
    tables = {
        SubjectKind.JAR: "jar",
        SubjectKind.BLEND: "tincture WHERE straining_id IS NULL",
        SubjectKind.BOTTLE: "bottle",
        SubjectKind.SPIRIT: "spirit",
        SubjectKind.HERB: "herb",
    }
    kind = d.pick(*[SubjectKind.JAR] * 3, *tables)
    subject = Subject(kind, d.one(f"SELECT id FROM {tables[kind]}"))
    facts = [f for f in facts_of(d.keeper, subject) if f.name != "merge"]
    fact = d.random.choice(facts)
    correcting.correct(
        d.keeper,
        subject,
        {fact.name: _another(d, fact)},
        why=d.text(),
        confirmed=d.pick(True, False),
    )


def _another(d: Driver, fact: Fact) -> str:
    """Something else that may be typed for a fact."""
    if fact.choices:
        return d.random.choice(fact.choices)[0]
    if fact.cell.column == "shakes":
        return f"{d.day(-9)}: {d.pick(0, 1, 2)}"
    if fact.cell.column in ("bottle_id", "jar_id"):
        table = fact.cell.column.removesuffix("_id")
        return str(d.random.choice(d.keeper.rows(f"SELECT code FROM {table}"))[0])
    if fact.kind is FactKind.DAY:
        return str(d.day(-9))
    if fact.kind is FactKind.TEXT:
        return d.pick(*HERBS, "something else") if "name" in fact.name else d.text() or "-"
    value = fact.value if isinstance(fact.value, float | int) else 20.0
    said = wording(d.keeper)
    return show_value(fact.kind, value * d.pick(0.97, 1.02, 1.5), (), said) or "-"


def _others(d: Driver) -> tuple[InputDraft, ...]:
    """Water, a liquid or spirit of the cupboard, or what waits of a batch; most often nothing."""
    kind = d.pick(None, None, None, *InputKind)
    volume: ToTake = ALL if d.pick(True, False) else d.random.uniform(0.5, 30)
    tables = {
        InputKind.BATCH: "tincture",
        InputKind.SPIRIT: "spirit",
        InputKind.LIQUID: "liquid",
    }
    if kind is InputKind.WATER:
        return (InputDraft(kind, d.random.uniform(0.5, 30)),)
    if kind in tables:
        return (InputDraft(kind, volume, d.one(f"SELECT id FROM {tables[kind]}")),)
    return ()


def lose(d: Driver) -> None:
    volume: ToTake = ALL if d.pick(True, False) else d.random.uniform(0.1, 20)
    kind = d.pick(*LOSS_KINDS)
    losses.lose(d.keeper, d.one("SELECT id FROM tincture"), kind, volume, note=d.text())


def bring_back(d: Driver) -> None:
    volume: ToTake = ALL if d.pick(True, False) else d.random.uniform(0.1, 20)
    bottle_id = d.one("SELECT bottle_id FROM movement WHERE kind IN ('draw', 'give')")
    returns.record_return(d.keeper, bottle_id, volume, person=d.text(), note=d.text())


def _liquid(d: Driver) -> LiquidDraft:
    kind = d.pick(*OtherLiquidKind)
    return LiquidDraft(
        f"{kind}".capitalize(),
        kind,
        d.pick(1.261, 1.42),
        d.text(),
        d.pick(None, 5.0),
        d.pick(None, 99.5),
        d.pick(None, 250.0, 1000.0),
        d.pick(None, 8.5),
        d.pick(None, d.day()),
        note=d.text(),
    )


def add_liquid(d: Driver) -> None:
    liquids.add_liquid(d.keeper, _liquid(d))


def change_liquid(d: Driver) -> None:
    liquids.change_liquid(d.keeper, d.one("SELECT id FROM liquid"), _liquid(d))


def _some_liquid(d: Driver) -> tuple[InputKind, int]:
    kind = d.pick(InputKind.SPIRIT, InputKind.LIQUID)
    return kind, d.one(f"SELECT id FROM {kind}")


def count_in_cupboard(d: Driver) -> None:
    counting.count_in_cupboard(d.keeper, *_some_liquid(d), d.pick(0.0, 120.0), note=d.text())


def take_from_cupboard(d: Driver) -> None:
    kind = d.pick(*CupboardMovementKind)
    volume: ToTake = ALL if d.pick(True, False) else d.random.uniform(1, 30)
    counting.take_from_cupboard(
        d.keeper, *_some_liquid(d), volume, kind, person=d.pick("", "Ada Vale"), day=d.day()
    )


def remove_liquid(d: Driver) -> None:
    liquids.remove_liquid(d.keeper, d.one("SELECT id FROM liquid"))


def make_blend(d: Driver) -> None:
    parts = {d.bottle(): d.random.uniform(0.5, 8) for _ in range(d.pick(2, 3))}
    draft = BlendDraft(
        d.pick("Evening blend", "Cough blend"),
        tuple(BlendPartDraft(*part) for part in parts.items()),
        d.day(-1),
        note=d.text(),
        others=_others(d),
    )
    blends.make_blend(d.keeper, draft, confirmed=d.pick(True, False))


def keep_formula(d: Driver) -> None:
    parts = tuple(
        FormulaPartDraft(d.pick(*HERBS[:4], "Evening blend"), d.random.uniform(1, 9)) for _ in "ab"
    )
    known = [formula_id for (formula_id,) in d.keeper.rows("SELECT id FROM formula")]
    draft = FormulaDraft(d.pick("Winter mix", "Summer mix"), parts, d.text())
    formulas.keep_formula(d.keeper, draft, d.pick(None, *known))


def drop_formula(d: Driver) -> None:
    formulas.drop_formula(d.keeper, d.one("SELECT id FROM formula"))


def set_season(d: Driver) -> None:
    first, last = d.pick(((6, 15), (8, 31)), ((12, 1), (2, 29)), (None, None))
    months = d.pick(None, 6.0, 18.0)
    draft = gathering.SeasonDraft(d.pick(*HERBS[:4]), d.pick(*Part), first, last, months)
    gathering.set_season(d.keeper, draft)


def _spirit(d: Driver) -> SpiritDraft:
    bought = d.pick(None, 700.0, 5000.0, round(d.random.uniform(100, 900), 1))
    return SpiritDraft(
        d.pick("Vodka", "Grain spirit", "Rhum “agricole”"),
        d.pick(37.5, 40, 96.4),
        bought,
        d.pick(None, 12.99),
        d.pick(None, d.day()),
        note=d.text(),
    )


def add_spirit(d: Driver) -> None:
    cupboard.add_spirit(d.keeper, _spirit(d))


def change_spirit(d: Driver) -> None:
    cupboard.change_spirit(d.keeper, d.one("SELECT id FROM spirit"), _spirit(d))


def remove_spirit(d: Driver) -> None:
    cupboard.remove_spirit(d.keeper, d.one("SELECT id FROM spirit"))


def _herb(d: Driver) -> HerbDraft:
    return HerbDraft(d.pick(*HERBS, "Yarrow", "Angelica"), d.pick("", "Inula helenium"), d.text())


def add_herb(d: Driver) -> None:
    cupboard.add_herb(d.keeper, _herb(d))


def change_herb(d: Driver) -> None:
    cupboard.change_herb(d.keeper, d.one("SELECT id FROM herb"), _herb(d))


def remove_herb(d: Driver) -> None:
    cupboard.remove_herb(d.keeper, d.one("SELECT id FROM herb"))


def _shelf(d: Driver) -> ShelfDraft:
    name = d.pick("North larder", "Window", "Étagère", f"Plank {d.random.randint(1, 6)}")
    return ShelfDraft(name, d.text(), d.pick(None, None, 2))


def add_shelf(d: Driver) -> None:
    cupboard.add_shelf(d.keeper, _shelf(d))


def change_shelf(d: Driver) -> None:
    cupboard.change_shelf(d.keeper, d.one("SELECT id FROM shelf"), _shelf(d))


def shift_shelf(d: Driver) -> None:
    cupboard.shift_shelf(d.keeper, d.one("SELECT id FROM shelf"), d.pick(-1, 1))


def remove_shelf(d: Driver) -> None:
    cupboard.remove_shelf(d.keeper, d.one("SELECT id FROM shelf"))


def keep_bottle_size(d: Driver) -> None:
    cupboard.keep_bottle_size(d.keeper, d.pick(10.0, 30.0, 50.0, 100.0), d.pick(None, 0, 3, 24))


def drop_bottle_size(d: Driver) -> None:
    cupboard.drop_bottle_size(d.keeper, d.one("SELECT id FROM bottle_size"))


def save_settings(d: Driver) -> None:
    wanted = settings.Settings(
        units=d.pick(*UnitSystem),
        maker=d.pick("", "AB", "é"),
        steep_days=d.pick(14, 28),
        drops_per_ml=d.pick(None, 29.5),
    )
    if wanted == settings.settings_of(d.keeper):
        raise LookupError("what changes nothing is no action")
    settings.save_settings(d.keeper, wanted)


def merge(d: Driver) -> None:
    """Make one with this a shelf whose every code is taken here: its own, of other herbs."""
    ((jars_here,),) = d.keeper.rows("SELECT count(*) FROM jar")
    if not 0 < jars_here < MOST_MERGED:
        raise LookupError("a shelf that is made one with its like grows too fast")
    with TemporaryDirectory(prefix="stillroom-") as place:
        folder = Path(place) / d.pick("ada", "Øystein's")
        export_folder(d.keeper, folder)
        manifest = folder / MANIFEST
        counts = json.loads(manifest.read_text()) | {"lines": {}}
        manifest.write_text(json.dumps(counts))
        for file in folder.glob("*.csv"):
            heading, *rows = _rows(file)
            if file.stem in HISTORY:
                _write_rows(file, [heading])
                continue
            named = "name" if file.name == "herbs.csv" else "herb"
            if named in heading:
                at = heading.index(named)
                for row in rows:
                    row[at] = row[at] and f"{row[at]} of the hill"
                _write_rows(file, [heading, *rows])
        found = merge_folder(d.keeper, folder, renumber=True)
        if not found.is_done:
            raise LookupError(f"nothing was merged: {found.bad}")


def _rows(file: Path) -> list[list[str]]:
    with file.open(encoding="utf-8", newline="") as opened:
        return list(csv.reader(opened))


def _write_rows(file: Path, rows: list[list[str]]) -> None:
    with file.open("w", encoding="utf-8", newline="") as opened:
        csv.writer(opened, lineterminator="\r\n").writerows(rows)


def edit_in_a_spreadsheet(d: Driver) -> None:
    """Bring back an export in which a cell was changed or a row deleted."""
    with TemporaryDirectory(prefix="stillroom-") as place:
        export_folder(d.keeper, Path(place) / "out")
        name, column = d.pick(
            ("jars", "note"), ("herbs_in_jars", "mass_g"), ("pours", "volume_ml"),
            ("movements", ""), ("shakes", ""), ("pours", ""), ("spirits", ""), ("bottle_sizes", ""),
        )  # fmt: skip
        file = Path(place) / "out" / f"{name}.csv"
        rows = _rows(file)
        row = d.random.randrange(1, max(2, len(rows)))
        if row == len(rows):
            raise LookupError("there is no row to edit")
        if column:
            place_of = rows[0].index(column)
            rows[row][place_of] = "from a spreadsheet" if column == "note" else "77.5"
        else:
            del rows[row]
        _write_rows(file, rows)
        found = import_edited(
            d.keeper, Path(place) / "out", delete_missing=not column, confirmed=True
        )
        if not (found.is_done and found.preview):
            raise LookupError("nothing was edited")


# What happens daily is drawn more often.
STEPS: tuple[Callable[[Driver], None], ...] = (
    *(fill_jar,) * 5,
    *(fill_from_lot,) * 2,
    *(add_lot,) * 3,
    *(lay_out,) * 2,
    *(dry,) * 2,
    weigh_lot,
    give_herb,
    discard_herb,
    use_up,
    remove_lot,
    *(shake,) * 4,
    *(strain_jar,) * 3,
    *(drain_jar,) * 2,
    *(press_jar,) * 2,
    pour_again,
    *(fill_on_tincture,) * 2,
    *(bottle_up,) * 4,
    *(take_out,) * 4,
    amend_jar,
    shake_all,
    top_up,
    mark_covered,
    move_jar,
    set_dates,
    note_jar,
    discard_jar,
    weigh_in,
    put_right,
    pour_together,
    move_bottle,
    discard_bottle,
    take_stock,
    set_keep_until,
    *(release,) * 2,
    reject,
    withdraw,
    *(correct,) * 6,
    *(make_blend,) * 3,
    lose,
    bring_back,
    *(add_liquid,) * 2,
    change_liquid,
    count_in_cupboard,
    take_from_cupboard,
    remove_liquid,
    keep_formula,
    drop_formula,
    set_season,
    add_spirit,
    change_spirit,
    remove_spirit,
    add_herb,
    change_herb,
    remove_herb,
    add_shelf,
    change_shelf,
    shift_shelf,
    remove_shelf,
    keep_bottle_size,
    drop_bottle_size,
    save_settings,
    merge,
    *(edit_in_a_spreadsheet,) * 2,
)


def print_labels(d: Driver) -> None:
    """What is printed stays so: no undo takes it back."""
    labels = labels_for(d.keeper, [d.bottle()])
    if said := print_log.record_printed(d.keeper, labels):
        raise LookupError(said)


def close_and_open(d: Driver) -> None:
    """Close a month or a record and undo that at once: later, undo would stop there."""
    if d.pick(True, False):
        closing.close_month(d.keeper, d.day(-400, -60))
    else:
        closing.close_batch(d.keeper, d.one("SELECT id FROM tincture"))
    undo(d.keeper)


ASIDES: tuple[Callable[[Driver], None], ...] = (print_labels, close_and_open)
"""What leaves nothing that undo would take back."""
