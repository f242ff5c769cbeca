"""The plan: how long each tincture lasts, and what to gather, pour and fill so that it does."""

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace
from datetime import date
from graphlib import TopologicalSorter

from stillroom.dates import day_or_none
from stillroom.keeping.bottles.status import UNUSABLE
from stillroom.keeping.cupboard.cupboard import spirits
from stillroom.keeping.cupboard_views import SpiritView
from stillroom.keeping.jars.expecting import yield_outlook
from stillroom.keeping.jars.jar_view import jar_view
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import settings_of
from stillroom.keeping.tolerances import EMPTY_ML, LOOSE_ML
from stillroom.keeping.words import folded, listed
from stillroom.keeping.year.entries import entries
from stillroom.keeping.year.learned import (
    JarToPlan,
    Key,
    jars_to_plan,
    rate_of_use,
    usual_recipe,
    windows_learned,
)
from stillroom.reckoning.charge import will_it_keep
from stillroom.reckoning.planning import Plan, Range, Supply, UseRate, UsualRecipe, Window, plan
from stillroom.reckoning.shelf_life import keep_until
from stillroom.reckoning.states import JarState
from stillroom.reckoning.year import DatedAmount
from stillroom.reckoning.yields import Pressing

MONTHS_IN_HAND = 12.0
"""A year's use, as most herbs can be gathered once a year. Judgement."""
_SAME_STRENGTH = 0.5

# What batches without a jar were made of.
_MADE_OF = """
    SELECT t.code, t.made_on, s.code FROM flow f
    JOIN tincture t ON t.id = f.to_id AND t.straining_id IS NULL
    JOIN tincture s ON s.id = f.from_id
"""
# What is there, without all else that the lists of bottles show.
_BOTTLED = f"""
    SELECT t.code, sum(m.volume_ml) AS left_ml, t.keep_until, t.status
    FROM bottle b JOIN movement m ON m.bottle_id = b.id JOIN tincture t ON t.id = b.tincture_id
    GROUP BY b.id HAVING left_ml > {EMPTY_ML}
"""
_WAITING = f"""
    SELECT t.code, u.left_ml, t.keep_until, t.status
    FROM unbottled u JOIN tincture t ON t.id = u.tincture_id WHERE u.left_ml >= {LOOSE_ML}
"""
_IN_STORE = """
    SELECT h.name, l.part, l.condition, sum(s.left_g) FROM herb_lot l
    JOIN herb h ON h.id = l.herb_id JOIN in_store s ON s.lot_id = l.id
    WHERE l.used_up_on IS NULL GROUP BY h.name, l.part, l.condition HAVING sum(s.left_g) > 0.05
"""


@dataclass(frozen=True)
class Ahead:
    """What there is of one tincture, how it is used, and what it asks for."""

    herb: str
    part: str
    condition: str
    """As it was put in last."""
    in_bottles_ml: float
    to_bottle_ml: float
    steeping_ml: Range
    by_eye: int
    """Jars that steep and whose yield can't be predicted: they are in no figure."""
    rate: UseRate | None
    """None where it wasn't in stock long enough."""
    recipe: UsualRecipe | None
    window: Window | None
    plan: Plan | None
    months_in_hand: float
    in_store_g: tuple[tuple[str, float], ...] = ()
    """Herb in store: its condition, and g."""

    @property
    def left_ml(self) -> float:
        """In bottles and to be bottled."""
        return self.in_bottles_ml + self.to_bottle_ml


@dataclass(frozen=True)
class SpiritNeeded:
    """Spirit of one strength that the plan asks for."""

    strength_abv: float
    needed_ml: float
    there_ml: float
    """In the cupboard, where it is counted."""
    per_ml: float | None
    """By the latest purchase of that strength with a price."""

    @property
    def to_buy_ml(self) -> float:
        """What is missing."""
        return max(0.0, self.needed_ml - self.there_ml)

    @property
    def cost(self) -> float | None:
        """Of what is missing; None where no price is known."""
        return None if self.per_ml is None else self.to_buy_ml * self.per_ml


@dataclass(frozen=True)
class PlanView:
    """The plan of a shelf."""

    day: date
    herbs: tuple[Ahead, ...]
    """What has to start first at the top."""
    spirits: tuple[SpiritNeeded, ...]

    @property
    def due(self) -> tuple[Ahead, ...]:
        """What has to start within a month, or should have."""
        return tuple(h for h in self.herbs if h.plan is not None and h.plan.is_due)


def plan_view(
    keeper: Keeper, *, months_in_hand: float = MONTHS_IN_HAND, without: Collection[str] = ()
) -> PlanView:
    """What to make so that so many months of use are always in hand.

    Tinctures from jars are planned, each with its use in blends; a blend is made of them. Those
    whose herb is in `without` are left out. Nothing is written.
    """
    left_out = {folded(name) for name in without}
    jars: dict[Key, list[JarToPlan]] = defaultdict(list)
    for jar in jars_to_plan(keeper):
        if folded(jar.key[0]) not in left_out:
            jars[jar.key].append(jar)
    key_of = {jar.code: key for key, group in jars.items() for jar in group}
    moved = _follow(keeper, key_of)
    of_key: dict[Key, list[DatedAmount]] = defaultdict(list)
    for entry in entries(keeper):
        if entry.batch in key_of:
            of_key[key_of[entry.batch]].append(entry)
    lots, bottles, waiting = _in_stock(keeper, key_of)
    windows = windows_learned(keeper)
    found = [
        _ahead(
            keeper, key, group, of_key[key], lots[key],
            (bottles[key], waiting[key]), windows.get(key), months_in_hand, moved,
        )
        for key, group in jars.items()
    ]  # fmt: skip
    store: dict[Key, list[tuple[str, float]]] = defaultdict(list)
    for herb, part, condition, grams in keeper.rows(_IN_STORE):
        store[herb, part].append((condition, grams))
    found = [replace(e, in_store_g=tuple(store.get((e.herb, e.part), ()))) for e in found]
    shown = [
        each for each in found if each.rate or each.left_ml > EMPTY_ML or each.steeping_ml.high
    ]
    shown.sort(key=lambda each: (_start(each), each.herb.casefold(), each.part))
    return PlanView(keeper.today, tuple(shown), tuple(_spirits_needed(keeper, shown)))


def _start(each: Ahead) -> date:
    if each.plan is None or each.plan.start_by is None or not each.plan.is_needed:
        return date.max
    return each.plan.start_by


def _in_stock(
    keeper: Keeper, key_of: dict[str, Key]
) -> tuple[dict[Key, list[Supply]], dict[Key, float], dict[Key, float]]:
    """What is there to use, with its dates; and how much of it is in bottles, and is not yet."""
    lots: dict[Key, list[Supply]] = defaultdict(list)
    bottles: dict[Key, float] = defaultdict(float)
    waiting: dict[Key, float] = defaultdict(float)
    for sql, held in ((_BOTTLED, bottles), (_WAITING, waiting)):
        for code, left_ml, until, status in keeper.rows(sql):
            key, keep_day = key_of.get(code), day_or_none(until)
            if key is None or status in UNUSABLE:
                continue
            if keep_day is None or keep_day >= keeper.today:
                lots[key].append(Supply(left_ml, keep_day))
                held[key] += left_ml
    return lots, bottles, waiting


def _ahead(
    keeper: Keeper,
    key: Key,
    jars: list[JarToPlan],
    of_herb: list[DatedAmount],
    lots: list[Supply],
    held: tuple[float, float],
    window: Window | None,
    months_in_hand: float,
    moved: Collection[tuple[str, date]],
) -> Ahead:
    steeping = Range(0.0, 0.0, 0.0)
    by_eye = 0
    pressing = next((jar.pressing for jar in jars if jar.pressing), Pressing.SQUEEZED)
    lots = list(lots)
    for jar in jars:
        if jar.state not in (JarState.STEEPING, JarState.DRAINED):
            continue
        view = jar_view(keeper, jar.jar_id)
        expected = yield_outlook(keeper, view, pressing)
        if expected.expected_ml is None:
            by_eye += 1
            continue
        steeping += Range(expected.low_ml or 0.0, expected.expected_ml, expected.high_ml or 0.0)
        ready = max(view.card.strain_on, keeper.today)
        good = keep_until(ready, will_it_keep(view.outlook.strength_abv))
        lots.append(Supply(expected.expected_ml, good, ready))
    rate = rate_of_use(of_herb, keeper.today, moved)
    recipe = usual_recipe(keeper, jars, of_herb, pressing)
    asked = None
    if rate is not None:
        days = settings_of(keeper).steep_days
        asked = plan(lots, rate, recipe, keeper.today, months_in_hand, window, days)
    return Ahead(
        herb=key[0],
        part=key[1],
        condition=listed(h[2] for h in jars[0].herbs),
        in_bottles_ml=held[0],
        to_bottle_ml=held[1],
        steeping_ml=steeping,
        by_eye=by_eye,
        rate=rate,
        recipe=recipe,
        window=window,
        plan=asked,
        months_in_hand=months_in_hand,
    )


def _follow(keeper: Keeper, key_of: dict[str, Key]) -> set[tuple[str, date]]:
    """Add the batches that were joined or thinned from tinctures of one kind, which they still are.

    Returns from which batch something went into one of these, and on which day: that is no use.
    """
    made_of: dict[str, set[str]] = defaultdict(set)
    made_on: dict[str, date] = {}
    for code, day, source in keeper.rows(_MADE_OF):
        made_of[code].add(source)
        made_on[code] = date.fromisoformat(day)
    moved = set()
    for code in TopologicalSorter(made_of).static_order():
        keys = {key_of.get(source) for source in made_of.get(code, ())}
        key = keys.pop() if len(keys) == 1 else None
        if key is not None:
            key_of[code] = key
            moved |= {(source, made_on[code]) for source in made_of[code]}
    return moved


def _spirits_needed(keeper: Keeper, herbs: Iterable[Ahead]) -> Iterable[SpiritNeeded]:
    needed: dict[float, float] = defaultdict(float)
    for each in herbs:
        if each.plan is not None and each.plan.herb_g is not None and each.recipe is not None:
            for strength_abv, ml_per_g in each.recipe.spirits:
                needed[round(strength_abv, 1)] += each.plan.herb_g.middle * ml_per_g
    lots = spirits(keeper)
    for strength_abv, volume_ml in sorted(needed.items()):
        if not volume_ml:
            continue
        same = [s for s in lots if abs(s.strength_abv - strength_abv) <= _SAME_STRENGTH]
        there = sum(lot.left_ml or 0.0 for lot in same)
        yield SpiritNeeded(strength_abv, volume_ml, there, _latest_price(same))


def _latest_price(lots: Iterable[SpiritView]) -> float | None:
    priced = [lot for lot in lots if lot.price_per_ml is not None]
    if not priced:
        return None
    return max(priced, key=lambda lot: (lot.bought_on or date.min, lot.spirit_id)).price_per_ml
