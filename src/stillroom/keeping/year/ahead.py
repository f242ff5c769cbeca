"""The plan: how long each tincture lasts, and what to gather, pour and fill so that it does."""

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace
from datetime import date, timedelta
from graphlib import TopologicalSorter
from itertools import pairwise
from statistics import median

from stillroom.dates import day_or_none
from stillroom.keeping.bottles.status import UNUSABLE
from stillroom.keeping.cupboard.cupboard import spirits
from stillroom.keeping.jars.expecting import yield_outlook
from stillroom.keeping.jars.jar_view import jar_view
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import settings_of
from stillroom.keeping.tolerances import EMPTY_ML, LOOSE_ML
from stillroom.keeping.views import SpiritView
from stillroom.keeping.words import folded, listed
from stillroom.keeping.year.entries import entries
from stillroom.reckoning.charge import will_it_keep
from stillroom.reckoning.planning import (
    ENOUGH_DAYS,
    Plan,
    Range,
    Supply,
    UseRate,
    UsualRecipe,
    Window,
    learned_window,
    plan,
    use_rate,
)
from stillroom.reckoning.shelf_life import keep_until
from stillroom.reckoning.states import JarState
from stillroom.reckoning.year import USED, DatedAmount, What
from stillroom.reckoning.yields import Pressing

MONTHS_IN_HAND = 12.0
"""A year's use, as most herbs can be gathered once a year. Judgement."""
YEAR = timedelta(days=365)
_ON_THE_WAY = (What.FILTERED_OFF, What.DREGS, What.EVAPORATED, What.SAMPLE, What.LOST)
"""What is lost between straining and bottle."""
_SAME_STRENGTH = 0.5
_ANOTHER = 0
"""The id of no jar."""

Key = tuple[str, str]
"""Herbs and parts, as they are listed."""

# Of each jar: its batch code, what went in, and the latest first.
_JARS = """
    SELECT j.id, coalesce(t.code, j.code), j.state, j.filled_on, j.strain_on, h.name, l.part,
           l.condition, l.mass_g, s.pressing
    FROM jar j
    JOIN charge_line l ON l.jar_id = j.id
    JOIN herb h ON h.id = l.herb_id
    LEFT JOIN straining s ON s.jar_id = j.id
    LEFT JOIN tincture t ON t.straining_id = s.id
    ORDER BY j.filled_on DESC, j.id DESC, l.id
"""
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
_GATHERED = """
    SELECT h.name, l.part, l.gathered_on FROM charge_line l
    JOIN herb h ON h.id = l.herb_id WHERE l.gathered_on IS NOT NULL
    UNION
    SELECT h.name, l.part, l.got_on FROM herb_lot l
    JOIN herb h ON h.id = l.herb_id WHERE l.came = 'gathered'
"""
_IN_STORE = """
    SELECT h.name, l.part, l.condition, sum(s.left_g) FROM herb_lot l
    JOIN herb h ON h.id = l.herb_id JOIN in_store s ON s.lot_id = l.id
    WHERE l.used_up_on IS NULL GROUP BY h.name, l.part, l.condition HAVING sum(s.left_g) > 0.05
"""


@dataclass
class _JarToPlan:
    """A jar as far as a plan needs it."""

    jar_id: int
    code: str
    state: JarState
    steep_days: int
    herbs: list[tuple[str, str, str, float | None]]
    """Name, part, condition and g of each."""
    pressing: Pressing | None

    @property
    def key(self) -> Key:
        """What it is a jar of."""
        return listed(h[0] for h in self.herbs), listed(h[1] for h in self.herbs)

    @property
    def mass_g(self) -> float | None:
        """Of all its herbs; None where one is by eye."""
        masses = [h[3] for h in self.herbs]
        return None if None in masses else sum(m for m in masses if m)


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
    jars: dict[Key, list[_JarToPlan]] = defaultdict(list)
    for jar in _jars(keeper):
        if folded(jar.key[0]) not in left_out:
            jars[jar.key].append(jar)
    key_of = {jar.code: key for key, group in jars.items() for jar in group}
    moved = _follow(keeper, key_of)
    of_key: dict[Key, list[DatedAmount]] = defaultdict(list)
    for entry in entries(keeper):
        if entry.batch in key_of:
            of_key[key_of[entry.batch]].append(entry)
    lots, bottles, waiting = _in_stock(keeper, key_of)
    windows = _windows(keeper)
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


def _jars(keeper: Keeper) -> Iterable[_JarToPlan]:
    found: dict[int, _JarToPlan] = {}
    for row in keeper.rows(_JARS):
        jar_id, code, state, filled_on, strain_on, *herb, pressing = row
        if jar_id not in found:
            steep = (date.fromisoformat(strain_on) - date.fromisoformat(filled_on)).days
            pressed = Pressing(pressing) if pressing else None
            found[jar_id] = _JarToPlan(jar_id, code, JarState(state), steep, [], pressed)
        found[jar_id].herbs.append((herb[0], herb[1], herb[2], herb[3]))
    return found.values()


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


def _windows(keeper: Keeper) -> dict[Key, Window]:
    """When each part was gathered so far, by its herb and part."""
    days: dict[Key, list[date]] = defaultdict(list)
    for herb, part, day in keeper.rows(_GATHERED):
        days[herb, part].append(date.fromisoformat(day))
    return {key: window for key, each in days.items() if (window := learned_window(each))}


def _ahead(
    keeper: Keeper,
    key: Key,
    jars: list[_JarToPlan],
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
    rate = _rate(of_herb, keeper.today, moved)
    recipe = _recipe(keeper, jars, of_herb, pressing)
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


def _rate(
    of_herb: Iterable[DatedAmount], today: date, moved: Collection[tuple[str, date]]
) -> UseRate | None:
    """The use of the last year, or of the last two where it was seldom in stock."""
    every = [entry for entry in of_herb if entry.day <= today]
    for back in (YEAR, 2 * YEAR):
        since = today - back
        days = _days_in_stock(every, since, today)
        if days >= ENOUGH_DAYS:
            break
    lately = [entry for entry in every if entry.day > since]
    taken = [
        entry.amount
        for entry in lately
        if entry.what in USED
        and not (entry.what is What.INTO_BLENDS and (entry.batch, entry.day) in moved)
    ]
    missing = -sum(entry.amount for entry in lately if entry.what is What.COUNTED)
    return use_rate(taken, days, missing)


def _days_in_stock(every: Iterable[DatedAmount], since: date, until: date) -> int:
    """Days that began with some in stock."""
    changes: dict[date, float] = defaultdict(float)
    for entry in every:
        changes[max(entry.day, since)] += entry.change_ml
    days, held_ml = 0, 0.0
    for day, following in pairwise([*sorted(changes), until]):
        held_ml += changes[day]
        if held_ml > EMPTY_ML:
            days += (following - day).days
    return days


def _recipe(
    keeper: Keeper, jars: list[_JarToPlan], of_herb: Iterable[DatedAmount], pressing: Pressing
) -> UsualRecipe | None:
    """As the last weighed jar was made; None where none was weighed."""
    for jar in jars:
        if not jar.mass_g:
            continue
        view = jar_view(keeper, jar.jar_id)
        # A jar like it, which learns from its own straining too.
        another = replace(view, card=view.card._replace(jar_id=_ANOTHER))
        expected = yield_outlook(keeper, another, pressing)
        poured_ml = sum(pour.volume_ml for pour in view.pours)
        if expected.expected_ml is None or not expected.low_ml or not poured_ml:
            continue
        ethanol_ml = sum(pour.volume_ml * pour.strength_abv for pour in view.pours)
        per_g = Range(expected.low_ml, expected.expected_ml, expected.high_ml or 0.0)
        return UsualRecipe(
            poured_ml_per_g=poured_ml / jar.mass_g,
            strength_abv=ethanol_ml / poured_ml,
            spirits=tuple(
                (pour.strength_abv, pour.volume_ml / jar.mass_g)
                for pour in view.pours
                if pour.strength_abv
            ),
            yield_ml_per_g=per_g.times(_kept(of_herb) / jar.mass_g),
            jar_ml=median(_poured(keeper, jars) or [poured_ml]),
            steep_days=int(median(each.steep_days for each in jars)),
        )
    return None


def _poured(keeper: Keeper, jars: Iterable[_JarToPlan]) -> list[float]:
    wanted = {jar.jar_id for jar in jars}
    sums: dict[int, float] = defaultdict(float)
    for jar_id, volume_ml in keeper.rows("SELECT jar_id, volume_ml FROM pour"):
        if jar_id in wanted:
            sums[jar_id] += volume_ml
    return list(sums.values())


def _kept(of_herb: Iterable[DatedAmount]) -> float:
    """The share of what was strained that came into bottles."""
    strained = lost = 0.0
    for entry in of_herb:
        strained += entry.amount if entry.what is What.STRAINED else 0.0
        lost += entry.amount if entry.what in _ON_THE_WAY else 0.0
    return 1.0 - lost / strained if strained and lost < strained else 1.0


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
