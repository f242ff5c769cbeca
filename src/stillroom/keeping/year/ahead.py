"""The plan: how long each tincture lasts, and what to gather, pour and fill so that it does."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from graphlib import TopologicalSorter

from stillroom.dates import day_or_none
from stillroom.keeping.bottles.status import UNUSABLE
from stillroom.keeping.cupboard.cupboard import spirits
from stillroom.keeping.cupboard.lot_reading import own_shrinkage
from stillroom.keeping.cupboard_views import SpiritView
from stillroom.keeping.jars.expecting import in_brief, yield_outlook
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.memo import remembered
from stillroom.keeping.settings import settings_of
from stillroom.keeping.tolerances import EMPTY_ML, LOOSE_ML
from stillroom.keeping.words import folded, listed
from stillroom.keeping.year.entries import entries
from stillroom.keeping.year.gathering import months_typed, windows_learned, windows_typed
from stillroom.keeping.year.learned import (
    JarToPlan,
    Key,
    jars_to_plan,
    poured_into_jars,
    rate_of_use,
    usual_recipe,
)
from stillroom.keeping.year.plan_views import (
    AS_IT_IS,
    Ahead,
    PlanView,
    SpiritNeeded,
    ToGet,
    WhatIf,
)
from stillroom.reckoning.charge import Condition, Part, default_water_fraction, will_it_keep
from stillroom.reckoning.drying import drying_ratio
from stillroom.reckoning.planning import Range, Supply, Window, plan
from stillroom.reckoning.shelf_life import keep_until
from stillroom.reckoning.states import JarState
from stillroom.reckoning.year import DatedAmount, What
from stillroom.reckoning.yields import Pressing

_SAME_STRENGTH = 0.5

_FOR_PEOPLE = """
    SELECT m.person, m.day, t.code, -m.volume_ml FROM movement m
    JOIN bottle b ON b.id = m.bottle_id JOIN tincture t ON t.id = b.tincture_id
    WHERE m.person <> ''
"""
# What batches without a jar were made of.
_MADE_OF = """
    SELECT t.code, t.made_on, s.code FROM flow f
    JOIN tincture t ON t.id = f.to_id AND t.straining_id IS NULL
    JOIN tincture s ON s.id = f.from_id
"""
# Every batch, and how much of each batch in it a millilitre took.
_PARTS = """
    SELECT t.code, s.code, f.volume_ml / t.volume_ml FROM tincture t
    LEFT JOIN flow f ON f.to_id = t.id AND t.straining_id IS NULL AND f.kind <> 'held back'
    LEFT JOIN tincture s ON s.id = f.from_id
"""
# What is there, without all else that the lists of bottles show.
_BOTTLED = f"""
    SELECT t.code, sum(h.left_ml), t.keep_until, t.status
    FROM (
        SELECT b.tincture_id, sum(m.volume_ml) AS left_ml
        FROM bottle b JOIN movement m ON m.bottle_id = b.id
        GROUP BY b.id HAVING left_ml > {EMPTY_ML}
    ) h JOIN tincture t ON t.id = h.tincture_id GROUP BY t.id
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


def plan_view(keeper: Keeper, what_if: WhatIf = AS_IT_IS) -> PlanView:
    """What to make so that so many months of use are always in hand.

    Tinctures from jars are planned, each with its use in blends; a blend is made of them. Nothing
    is written.
    """
    return remembered(keeper, "plan", what_if, lambda: _plan_view(keeper, what_if))


def _plan_view(keeper: Keeper, what_if: WhatIf) -> PlanView:
    left_out = {folded(name) for name in what_if.without}
    jars: dict[Key, list[JarToPlan]] = defaultdict(list)
    for jar in jars_to_plan(keeper):
        if not left_out.intersection(folded(herb[0]) for herb in jar.herbs):
            jars[jar.key].append(jar)
    key_of = {jar.code: key for key, group in jars.items() for jar in group}
    moved = _follow(keeper, key_of)
    of_key: dict[Key, list[DatedAmount]] = defaultdict(list)
    for entry in entries(keeper):
        if entry.batch in key_of:
            of_key[key_of[entry.batch]].append(entry)
    of_shelf = _OfShelf(
        *_in_stock(keeper, key_of),
        windows=windows_learned(keeper) | windows_typed(keeper),
        months=months_typed(keeper),
        moved=moved,
        more=_more(keeper, key_of, what_if),
        in_store=_in_store(keeper),
        poured=poured_into_jars(keeper),
        what_if=what_if,
    )
    found = [_ahead(keeper, key, group, of_key[key], of_shelf) for key, group in jars.items()]
    shown = [
        each for each in found if each.rate or each.left_ml > EMPTY_ML or each.steeping_ml.high
    ]
    shown.sort(key=lambda each: (not _is_due(each), _start(each), each.herb.casefold(), each.part))
    return PlanView(keeper.today, tuple(shown), tuple(_spirits_needed(keeper, shown)))


def batches_of(keeper: Keeper, wanted: Key) -> set[str]:
    """The codes of the batches of one herb and part, joined and thinned ones too."""
    key_of = {jar.code: jar.key for jar in jars_to_plan(keeper)}
    _follow(keeper, key_of)
    return {code for code, key in key_of.items() if key == wanted}


@dataclass(frozen=True)
class _OfShelf:
    """What the plan of every herb is made from."""

    lots: Mapping[Key, list[Supply]]
    bottles: Mapping[Key, float]
    waiting: Mapping[Key, float]
    past: Mapping[Key, float]
    withheld: Mapping[Key, float]
    windows: Mapping[Key, Window]
    months: Mapping[str, float]
    moved: Collection[tuple[str, date]]
    more: Mapping[Key, list[tuple[DatedAmount, float]]]
    in_store: Mapping[Key, list[tuple[str, float]]]
    poured: Mapping[int, float]
    what_if: WhatIf


def _in_store(keeper: Keeper) -> dict[Key, list[tuple[str, float]]]:
    store: dict[Key, list[tuple[str, float]]] = defaultdict(list)
    for herb, part, condition, grams in keeper.rows(_IN_STORE):
        store[herb, part].append((condition, grams))
    return store


def _more(
    keeper: Keeper, key_of: dict[str, Key], what_if: WhatIf
) -> dict[Key, list[tuple[DatedAmount, float]]]:
    """What those got who are to get more or less, in blends too, each with the change."""
    shares = {folded(name): share for name, share in what_if.more}
    more: dict[Key, list[tuple[DatedAmount, float]]] = defaultdict(list)
    if not shares:
        return more
    parts = _parts(keeper, key_of)
    for person, day, code, volume_ml in keeper.rows(_FOR_PEOPLE):
        if share := shares.get(folded(person)):
            for key, part in parts[code].items():
                got = DatedAmount(date.fromisoformat(day), code, "", What.GIVEN, part * volume_ml)
                more[key].append((got, share))
    return more


def _parts(keeper: Keeper, key_of: dict[str, Key]) -> dict[str, dict[Key, float]]:
    """How much of each planned tincture a millilitre of a batch took, by the batch's code."""
    into: dict[str, list[tuple[str, float]]] = {}
    for code, source, part in keeper.rows(_PARTS):
        into.setdefault(code, [])
        if source is not None:
            into[code].append((source, part))
    parts: dict[str, dict[Key, float]] = {}
    order = TopologicalSorter({code: [of for of, _ in each] for code, each in into.items()})
    for code in order.static_order():
        if code in key_of:
            parts[code] = {key_of[code]: 1.0}
            continue
        took: dict[Key, float] = defaultdict(float)
        for source, part in into[code]:
            for key, share in parts[source].items():
                took[key] += part * share
        parts[code] = took
    return parts


def _is_due(each: Ahead) -> bool:
    return each.plan is not None and each.plan.is_due


def _start(each: Ahead) -> date:
    if each.plan is None or each.plan.start_on is None or not each.plan.is_needed:
        return date.max
    return each.plan.start_on


def _in_stock(
    keeper: Keeper, key_of: dict[str, Key]
) -> tuple[
    dict[Key, list[Supply]], dict[Key, float], dict[Key, float], dict[Key, float], dict[Key, float]
]:
    """What is there to use, with its dates, and how much of it is in bottles and is to be bottled.

    Then what isn't to be used: past its date, and of batches that were rejected or withdrawn.
    """
    lots: dict[Key, list[Supply]] = defaultdict(list)
    bottles, waiting, past, withheld = (defaultdict[Key, float](float) for _ in range(4))
    for sql, held in ((_BOTTLED, bottles), (_WAITING, waiting)):
        for code, left_ml, until, status in keeper.rows(sql):
            key, keep_day = key_of.get(code), day_or_none(until)
            if key is None:
                continue
            if status in UNUSABLE:
                withheld[key] += left_ml
            elif keep_day is not None and keep_day < keeper.today:
                past[key] += left_ml
            else:
                lots[key].append(Supply(left_ml, keep_day))
                held[key] += left_ml
    return lots, bottles, waiting, past, withheld


def _ahead(
    keeper: Keeper,
    key: Key,
    jars: list[JarToPlan],
    of_herb: list[DatedAmount],
    shelf: _OfShelf,
) -> Ahead:
    steeping = Range(0.0, 0.0, 0.0)
    by_eye = 0
    pressing = next((jar.pressing for jar in jars if jar.pressing), Pressing.SQUEEZED)
    lots = list(shelf.lots.get(key, ()))
    for jar in jars:
        if jar.state not in (JarState.STEEPING, JarState.DRAINED):
            continue
        view = in_brief(keeper, jar.jar_id)
        expected = yield_outlook(keeper, view, pressing)
        if expected.expected_ml is None:
            by_eye += 1
            continue
        steeping += Range(expected.low_ml or 0.0, expected.expected_ml, expected.high_ml or 0.0)
        ready = max(jar.strain_on, keeper.today)
        good = keep_until(ready, will_it_keep(view.outlook.strength_abv))
        lots.append(Supply(expected.expected_ml, good, ready))
    rate = rate_of_use(of_herb, keeper.today, shelf.moved, shelf.more.get(key, ()))
    recipe = usual_recipe(keeper, jars, of_herb, pressing, shelf.poured)
    settings, window = settings_of(keeper), shelf.windows.get(key)
    months = shelf.what_if.months or shelf.months.get(key[0], settings.months_in_hand)
    asked = None
    if rate is not None:
        asked = plan(
            lots, rate, recipe, keeper.today, months, window, settings.steep_days,
            has_herb=key in shelf.in_store,
        )  # fmt: skip
    found = Ahead(
        herb=key[0],
        part=key[1],
        condition=listed(h[2] for h in jars[0].herbs),
        in_bottles_ml=shelf.bottles.get(key, 0.0),
        to_bottle_ml=shelf.waiting.get(key, 0.0),
        past_date_ml=shelf.past.get(key, 0.0),
        withheld_ml=shelf.withheld.get(key, 0.0),
        steeping_ml=steeping,
        by_eye=by_eye,
        rate=rate,
        recipe=recipe,
        window=window,
        plan=asked,
        months_in_hand=months,
        in_store_g=tuple(shelf.in_store.get(key, ())),
    )
    return replace(found, to_get=_to_get(keeper, found))


def _to_get(keeper: Keeper, each: Ahead) -> ToGet | None:
    """What to gather or buy; the herb in store goes into the jars first."""
    if each.plan is None or not each.plan.is_needed or each.plan.herb_g is None:
        return None
    dry_share, dryings = None, 0
    if each.condition == Condition.DRIED and each.part in set(Part):
        dry_share, dryings = _dry_share(keeper, each.herb, Part(each.part))
    there_g = 0.0
    for condition, grams in each.in_store_g:
        if condition == each.condition:
            there_g += grams
        elif dry_share is not None:
            there_g += grams * dry_share.middle
    asked = each.plan.herb_g
    herb_g = Range(*(max(0.0, g - there_g) for g in (asked.low, asked.middle, asked.high)))
    fresh_g = dry_share and Range(
        herb_g.low / dry_share.high, herb_g.middle / dry_share.middle, herb_g.high / dry_share.low
    )
    return ToGet(there_g, herb_g, fresh_g, dryings)


def _dry_share(keeper: Keeper, herb: str, part: Part) -> tuple[Range | None, int]:
    """What a gram laid out fresh weighs dried, and the own dryings that it rests on."""
    rows = keeper.rows("SELECT id FROM herb WHERE name = ?", herb)
    own = own_shrinkage(keeper, rows[0][0], part) if rows else None
    if own is not None:
        return Range(own.low, own.share, own.high), own.count
    share = 1.0 / drying_ratio(default_water_fraction(part, Condition.FRESH))
    # Resin is never dried: it has no other weight fresh.
    return (Range(share, share, share), 0) if share < 1.0 else (None, 0)


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
