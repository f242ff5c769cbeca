"""Everything that the sums of a year are made of, read from the shelf as entries of single days."""

from collections.abc import Container, Iterable, Iterator
from datetime import date
from functools import lru_cache
from typing import Any

from stillroom.keeping.keeper import Keeper
from stillroom.keeping.memo import remembered
from stillroom.keeping.words import listed
from stillroom.reckoning.states import (
    HerbCame,
    HerbMovementKind,
    LiquidKind,
    LossKind,
    MovementKind,
)
from stillroom.reckoning.year import DatedAmount, What

BLENDS = "Blends"
"""The heading of blends without a name, as on the Bottles page."""

_LOTS = """
    SELECT l.code, h.name, l.came, l.got_on, l.mass_g, l.dry_on, l.dry_g, l.from_lot_id
    FROM herb_lot l JOIN herb h ON h.id = l.herb_id
"""
_HERB_MOVEMENTS = """
    SELECT l.code, h.name, m.day, m.kind, -m.mass_g FROM herb_movement m
    JOIN herb_lot l ON l.id = m.lot_id JOIN herb h ON h.id = l.herb_id
    WHERE m.mass_g IS NOT NULL
"""
_JARS = """
    SELECT j.id, coalesce(t.code, j.code), j.filled_on, h.name, l.mass_g
    FROM jar j
    LEFT JOIN straining s ON s.jar_id = j.id
    LEFT JOIN tincture t ON t.straining_id = s.id
    LEFT JOIN charge_line l ON l.jar_id = j.id
    LEFT JOIN herb h ON h.id = l.herb_id
    ORDER BY j.id, l.id
"""
# What the marc of an earlier jar held back was poured once before.
_POURS = f"SELECT jar_id, poured_on, volume_ml FROM pour WHERE kind <> '{LiquidKind.HELD_BACK}'"
_TINCTURES = """
    SELECT t.id, t.code, t.name, s.jar_id, t.made_on, t.volume_ml, s.yield_ml, s.liquid_ml,
           t.keep_until
    FROM tincture t LEFT JOIN straining s ON s.id = t.straining_id
"""
# Days and kinds as numbers: text is checked as it is read, which takes its time with so many.
_MOVEMENTS = """
    SELECT b.tincture_id, CAST(julianday(m.day) - 1721424.5 AS INTEGER), k.id, m.volume_ml
    FROM movement m JOIN bottle b ON b.id = m.bottle_id
    JOIN movement_kind k ON k.name = m.kind
"""
_KINDS = "SELECT id, name FROM movement_kind"
# What went on from where it waited, before it was bottled.
_WENT_ON = f"""
    SELECT i.source_id, t.made_on, '{MovementKind.BLEND}', i.volume_ml
    FROM batch_input i JOIN tincture t ON t.id = i.tincture_id WHERE i.source_id IS NOT NULL
    UNION ALL
    SELECT source_id, poured_on, '{MovementKind.POUR_ON}', volume_ml FROM pour
    WHERE source_id IS NOT NULL
"""
_LOSSES = "SELECT tincture_id, day, kind, volume_ml FROM loss"
_OUT = {
    MovementKind.DRAW: What.TAKEN,
    MovementKind.GIVE: What.GIVEN,
    MovementKind.SPILL: What.SPILLED,
    MovementKind.BLEND: What.INTO_BLENDS,
    MovementKind.POUR_ON: What.ON_HERB,
    MovementKind.DISCARD: What.DISCARDED,
    MovementKind.FILTERED_OFF: What.FILTERED_OFF,
    MovementKind.DREGS: What.DREGS,
    MovementKind.EVAPORATED: What.EVAPORATED,
    MovementKind.SAMPLE: What.SAMPLE,
    MovementKind.SPOILED: What.SPOILED,
}
_HERB_WENT = {
    HerbMovementKind.GIVE: What.HERB_GIVEN,
    HerbMovementKind.DISCARD: What.HERB_LOST,
    HerbMovementKind.SPOILED: What.HERB_LOST,
    HerbMovementKind.USED_UP: What.HERB_LOST,
}
_LOST = {kind: What.LOST if kind is LossKind.NOT_STATED else What(str(kind)) for kind in LossKind}


def entries(keeper: Keeper) -> list[DatedAmount]:
    """Everything that was filled, strained, bottled, used and lost, in no order."""
    return remembered(keeper, "entries", (), lambda: list(_entries(keeper)))


@lru_cache(maxsize=8192)
def _of_number(number: int) -> date:
    return date.fromordinal(number)


@lru_cache(maxsize=8192)
def _day(text: str) -> date:
    return date.fromisoformat(text)


def _of_store(keeper: Keeper) -> Iterator[DatedAmount]:
    """Herb gathered, bought, dried, given and lost."""
    for code, herb, came, got_on, mass_g, dry_on, dry_g, from_id in keeper.rows(_LOTS):
        if mass_g is not None and from_id is None:
            what = What.HERB_BOUGHT if came == HerbCame.BOUGHT else What.GATHERED
            yield DatedAmount(_day(got_on), code, herb, what, mass_g)
        if dry_g is not None:
            yield DatedAmount(_day(dry_on), code, herb, What.DRIED, dry_g)
    for code, herb, day, kind, mass_g in keeper.rows(_HERB_MOVEMENTS):
        if (went := _HERB_WENT.get(HerbMovementKind(kind))) is not None:
            yield DatedAmount(_day(day), code, herb, went, mass_g)


def _entries(keeper: Keeper) -> Iterator[DatedAmount]:
    yield from _of_store(keeper)
    codes: dict[int, str] = {}
    filled_on: dict[int, date] = {}
    herbs: dict[int, list[str]] = {}
    charges = keeper.rows(_JARS)
    for jar_id, code, day, herb, _ in charges:
        codes[jar_id], filled_on[jar_id] = code, _day(day)
        herbs.setdefault(jar_id, []).extend([herb] if herb else [])
    headings = {jar_id: listed(names) for jar_id, names in herbs.items()}
    for jar_id, day in filled_on.items():
        yield DatedAmount(day, codes[jar_id], headings[jar_id], What.JARS, 1)
    for jar_id, code, _, herb, mass_g in charges:
        if herb:
            what, amount = (What.BY_EYE, 1) if mass_g is None else (What.HERB, mass_g)
            yield DatedAmount(filled_on[jar_id], code, headings[jar_id], what, amount)
    for jar_id, day, volume_ml in _of_known(keeper.rows(_POURS), codes):
        poured_on = _day(day)
        yield DatedAmount(poured_on, codes[jar_id], headings[jar_id], What.POURED, volume_ml)
    batches: dict[int, tuple[str, str]] = {}
    keep_until: dict[int, str | None] = {}
    for row in keeper.rows(_TINCTURES):
        tincture_id, code, name, jar_id, made, volume_ml, yield_ml, liquid_ml, until = row
        if jar_id and jar_id not in headings:
            continue  # as below
        heading = headings[jar_id] if jar_id else name or BLENDS
        batches[tincture_id], keep_until[tincture_id] = (code, heading), until
        made_on = _day(made)
        if jar_id:
            yield DatedAmount(made_on, code, heading, What.STRAININGS, 1)
        yield DatedAmount(
            made_on, code, heading, What.STRAINED if jar_id else What.BLENDED, volume_ml
        )
        if liquid_ml:
            yield DatedAmount(made_on, code, heading, What.LIQUID, liquid_ml)
            yield DatedAmount(made_on, code, heading, What.OF_LIQUID, yield_ml)
    for tincture_id, day, kind, volume_ml in _of_known(keeper.rows(_LOSSES), batches):
        what = _LOST[LossKind(kind)]
        yield DatedAmount(_day(day), *batches[tincture_id], what, volume_ml)
    for tincture_id, day, kind, volume_ml in _of_known(keeper.rows(_WENT_ON), batches):
        what = _OUT[MovementKind(kind)]
        yield DatedAmount(_day(day), *batches[tincture_id], what, volume_ml)
    past = {
        tincture_id: date.fromisoformat(day).toordinal()
        for tincture_id, day in keep_until.items()
        if day
    }
    counts = {kind_id: _of_movement(MovementKind(kind)) for kind_id, kind in keeper.rows(_KINDS)}
    discards = {k for k, (what, _) in counts.items() if what is What.DISCARDED}
    for tincture_id, number, kind_id, volume_ml in _of_known(keeper.rows(_MOVEMENTS), batches):
        counts_as, sign = counts[kind_id]
        if counts_as is None:
            continue
        if kind_id in discards and past.get(tincture_id, number) < number:
            counts_as = What.PAST
        yield DatedAmount(_of_number(number), *batches[tincture_id], counts_as, sign * volume_ml)


def _of_known(rows: Iterable[tuple[Any, ...]], known: Container[int]) -> Iterator[tuple[Any, ...]]:
    """The rows of what is there; in a damaged file others refer to nothing, as `check` finds."""
    return (row for row in rows if row[0] in known)


def _of_movement(kind: MovementKind) -> tuple[What | None, float]:
    """What a movement counts as, and the sign of its amount; none where it only moves liquid."""
    if kind is MovementKind.FILL:
        return What.BOTTLED, 1.0
    if kind.corrects:
        return What.COUNTED, 1.0
    return _OUT.get(kind), -1.0
