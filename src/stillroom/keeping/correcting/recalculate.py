"""Everything that is stored and follows from other facts, calculated again.

The figures come from the functions by which a jar is strained and a blend is made.
"""

import json
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from graphlib import TopologicalSorter
from typing import Any

from stillroom.dates import day_or_none
from stillroom.keeping.bottles.blends import PouredIn, blend_keep_until, blended
from stillroom.keeping.bottles.tinctures import charges_of_jars, tincture_views
from stillroom.keeping.contents import blend_ratios
from stillroom.keeping.graph import LEFT_TO_BOTTLE
from stillroom.keeping.jars.jar_view import jar_view
from stillroom.keeping.jars.liquid import outlook, pours_of_jars
from stillroom.keeping.jars.marc import held_back
from stillroom.keeping.jars.straining import finished, known_liquid_ml
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.others_in import others_in, others_poured
from stillroom.keeping.tolerances import MEASURE_ML
from stillroom.keeping.views import ChargeView, Outlook, PourView
from stillroom.reckoning.charge import Keeping, will_it_keep
from stillroom.reckoning.other_liquids import NO_OTHERS
from stillroom.reckoning.shelf_life import keep_until
from stillroom.reckoning.states import LiquidKind, StrengthBy

BLEND_ROOM = 1.01
"""A blend that was bottled may come to a hundredth more than is calculated: what was measured into
bottles was there. Judgement: no mixture of these liquids swells or shrinks by much more unseen."""

_JAR_MADE = f"""
    SELECT t.id, s.id, s.jar_id, s.yield_ml, s.measured_abv, s.liquid_ml, t.made_on,
           t.strength_abv, t.strength_by, t.keep_until, t.keep_until_by_hand, t.ratio,
           t.volume_ml, t.lost_ml, {LEFT_TO_BOTTLE}
    FROM tincture t JOIN straining s ON s.id = t.straining_id
    WHERE t.id IN (SELECT value FROM json_each(?)) ORDER BY t.id
"""
_BLENDS = f"""
    SELECT t.id, t.made_on, t.strength_abv, t.strength_by, t.keep_until, t.keep_until_by_hand,
           t.ratio, t.volume_ml, t.lost_ml, {LEFT_TO_BOTTLE}
    FROM tincture t
    WHERE t.straining_id IS NULL AND t.id IN (SELECT value FROM json_each(?)) ORDER BY t.id
"""
_PARTS = """
    SELECT p.tincture_id, t.id, coalesce(p.volume_ml, -m.volume_ml),
           CASE WHEN t.id IS NULL THEN coalesce(p.strength_abv, 0) ELSE t.strength_abv END,
           coalesce(t.strength_by, 'measured'), t.keep_until, p.liquid_id
    FROM batch_input p
    LEFT JOIN movement m ON m.id = p.movement_id
    LEFT JOIN bottle b ON b.id = m.bottle_id
    LEFT JOIN tincture t ON t.id = coalesce(p.source_id, b.tincture_id)
    WHERE p.tincture_id IN (SELECT value FROM json_each(?)) ORDER BY p.id
"""


@dataclass(frozen=True)
class Figures:
    """The stored figures of a tincture that follow from other facts."""

    volume_ml: float
    strength_abv: float | None
    strength_by: StrengthBy
    ratio: float | None
    keep_until: date | None
    liquid_ml: float | None = None
    """What was in the jar; None for a blend."""


@dataclass(frozen=True)
class StoredFigures:
    """The figures of a tincture as they are stored, and as they are calculated."""

    tincture_id: int
    straining_id: int | None
    stored: Figures
    calculated: Figures
    as_first_released: Figures
    """The same as the first release calculated it: more than the strength can be, where herb by
    eye hides water."""
    keep_until_by_hand: bool
    lost_ml: float
    left_ml: float
    """mL neither in bottles nor written off."""


def jar_figures(keeper: Keeper, tincture_ids: Collection[int]) -> list[StoredFigures]:
    """The figures of tinctures from jars; blends are left out."""
    rows = keeper.rows(_JAR_MADE, json.dumps(list(tincture_ids)))
    jar_ids = [row[2] for row in rows]
    charges, pours = charges_of_jars(keeper, jar_ids), pours_of_jars(keeper, jar_ids)
    return [_jar_made(row, charges.get(row[2], ()), pours.get(row[2], ())) for row in rows]


def _jar_made(
    row: tuple[Any, ...], charges: tuple[ChargeView, ...], pours: tuple[PourView, ...]
) -> StoredFigures:
    tincture_id, straining_id, _, yield_ml, measured, liquid_ml, made_on, *rest = row
    strength, strength_by, keep_day, by_hand, ratio, volume_ml, lost_ml, left_ml = rest
    stored = Figures(
        volume_ml, strength, StrengthBy(strength_by), ratio, day_or_none(keep_day), liquid_ml
    )
    found = outlook(charges, pours)
    day = date.fromisoformat(made_on)
    abv, known_by, keeping = _strength(stored, found, bool(pours), yield_ml, measured)
    calculated = Figures(
        volume_ml=volume_ml,
        strength_abv=abv,
        strength_by=known_by,
        ratio=found.ratio,
        keep_until=None if keeping is None else keep_until(day, keeping),
        liquid_ml=known_liquid_ml(charges, pours, found),
    )
    older = calculated
    if known_by is StrengthBy.ESTIMATED and pours:
        older = replace(
            calculated,
            strength_abv=found.strength_abv,
            keep_until=keep_until(day, Keeping(found.keeps)),
        )
    return StoredFigures(
        tincture_id, straining_id, stored, calculated, older, bool(by_hand), lost_ml, left_ml
    )


def _strength(
    stored: Figures, found: Outlook, is_poured: bool, yield_ml: float, measured: float | None
) -> tuple[float | None, StrengthBy, Keeping | None]:
    """The strength of what was strained, how it is known, and whether it will keep.

    Where nothing is recorded of what was poured, only a figure from a label can be known.
    """
    if is_poured or measured is not None:
        return finished(found, yield_ml, measured)
    if stored.strength_abv is None or stored.strength_by is StrengthBy.MEASURED:
        return None, StrengthBy.UNKNOWN, None
    return stored.strength_abv, stored.strength_by, will_it_keep(stored.strength_abv)


def blend_figures(keeper: Keeper, tincture_ids: Collection[int]) -> list[StoredFigures]:
    """The figures of blends from the figures of their parts as they are stored.

    The ratio is left as it is stored: it follows from the herbs, not from the parts' figures.
    """
    wanted = json.dumps(list(tincture_ids))
    drawn = keeper.rows(_PARTS, wanted)
    # Where herb by eye hides water, the first release stored more than the strength can be.
    estimated = {row[1] for row in drawn if row[4] == StrengthBy.ESTIMATED}
    at_most = tincture_views(keeper, estimated) if estimated else {}
    inside = others_in(keeper, [row[1] for row in drawn if row[1] is not None])
    parts: dict[int, list[PouredIn]] = {}
    older: dict[int, list[PouredIn]] = {}
    for blend_id, from_id, part_ml, strength, known_by, day, liquid_id in drawn:
        others = inside.get(from_id, NO_OTHERS)
        if liquid_id is not None:
            others = others_poured(keeper, {liquid_id: 1.0}, 1.0)
        part = PouredIn(part_ml, strength, StrengthBy(known_by), day_or_none(day), others)
        older.setdefault(blend_id, []).append(part)
        if from_id in at_most:
            part = replace(part, strength_abv=at_most[from_id].strength_abv)
        parts.setdefault(blend_id, []).append(part)
    rows = keeper.rows(_BLENDS, wanted)
    return [_blend(row, parts[row[0]], older[row[0]]) for row in rows if row[0] in parts]


def _blend(
    row: tuple[Any, ...], parts: Sequence[PouredIn], older: Sequence[PouredIn]
) -> StoredFigures:
    tincture_id, made_on, strength, strength_by, keep_day, by_hand, *rest = row
    stored_ratio, volume_ml, lost_ml, left_ml = rest
    stored = Figures(
        volume_ml, strength, StrengthBy(strength_by), stored_ratio, day_or_none(keep_day)
    )
    day = date.fromisoformat(made_on)
    return StoredFigures(
        tincture_id,
        None,
        stored,
        _of_parts(parts, day, stored_ratio),
        _of_parts(older, day, stored_ratio),
        bool(by_hand),
        lost_ml,
        left_ml,
    )


def _of_parts(parts: Sequence[PouredIn], made_on: date, ratio: float | None) -> Figures:
    made, known_by = blended(parts)
    abv = None if known_by is StrengthBy.UNKNOWN else made.strength_abv
    return Figures(
        volume_ml=made.volume_ml,
        strength_abv=abv,
        strength_by=known_by,
        ratio=ratio,
        keep_until=blend_keep_until(parts, made_on, abv),
    )


@dataclass(frozen=True)
class Before:
    """What must be known of the tinctures before their facts are changed."""

    written_off: frozenset[int]
    """Ids of tinctures of which the rest after bottling was written off."""
    without_liquid: frozenset[int]
    """Those whose jar's liquid isn't stored although it can be calculated: their yield wasn't
    measured."""


def before_change(keeper: Keeper, tincture_ids: Collection[int]) -> Before:
    """What to remember of these tinctures, to be read before their facts change."""
    figures = [*jar_figures(keeper, tincture_ids), *blend_figures(keeper, tincture_ids)]
    return Before(
        frozenset(f.tincture_id for f in figures if f.lost_ml > 0 and f.left_ml < MEASURE_ML),
        frozenset(
            f.tincture_id
            for f in figures
            if f.stored.liquid_ml is None and f.calculated.liquid_ml is not None
        ),
    )


def recalculate(keeper: Keeper, tincture_ids: Collection[int], before: Before) -> None:
    """Write the figures of these tinctures again, inside a running act; each after its sources.

    What marcs hold back, and the strength of tinctures poured on herb, follow as well.
    """
    fed = jars_fed(keeper)
    over_herb = {to_id: jar_id for to_id, _, jar_id in fed if to_id is not None}
    for found in jar_figures(keeper, [each for each in tincture_ids if each not in over_herb]):
        _write(keeper, found, found.calculated, before)
    blends = []
    for tincture_id in _in_order(keeper, tincture_ids, fed):
        if tincture_id in over_herb:
            _refresh_pours(keeper, [over_herb[tincture_id]])
            figures = jar_figures(keeper, [tincture_id])
        else:
            blends.append(tincture_id)
            figures = blend_figures(keeper, [tincture_id])
        for found in figures:
            _write(keeper, found, found.calculated, before)
    reached = set(tincture_ids)
    _refresh_pours(keeper, [j for to_id, from_id, j in fed if to_id is None and from_id in reached])
    for blend_id, ratio in blend_ratios(keeper, blends).items():
        keeper.store.db.execute_sql("UPDATE tincture SET ratio = ? WHERE id = ?", (ratio, blend_id))


Fed = tuple[int | None, int, int]
"""Of a jar that had a tincture poured on its herb, or whose marc held it: the tincture that the jar
became, if it is strained, the tincture that went on, and the jar."""


def jars_fed(keeper: Keeper) -> list[Fed]:
    """What went on the herb of another jar, or was held back by its marc."""
    return [
        (to_id, from_id, jar_id)
        for to_id, from_id, jar_id in keeper.rows(
            "SELECT DISTINCT to_id, from_id, jar_id FROM flow WHERE jar_id IS NOT NULL"
        )
    ]


@dataclass(frozen=True)
class PourFigures:
    """A tincture that went on herb, or that a marc held: as stored, and as it is calculated."""

    pour_id: int
    code: str
    """Of the jar."""
    kind: LiquidKind
    stored: tuple[float, float | None]
    """mL and % v/v."""
    calculated: tuple[float, float | None]


def pour_figures(keeper: Keeper, jar_ids: Collection[int]) -> list[PourFigures]:
    """What follows from other batches in these jars."""
    found = []
    rows = keeper.rows(
        """SELECT p.id, j.code, p.kind, p.volume_ml, p.strength_abv, j.marc_of_id, -m.volume_ml,
                  coalesce(p.source_id, b.tincture_id)
           FROM pour p JOIN jar j ON j.id = p.jar_id
           LEFT JOIN movement m ON m.id = p.movement_id LEFT JOIN bottle b ON b.id = m.bottle_id
           WHERE p.kind IN ('tincture', 'held back')
                 AND p.jar_id IN (SELECT value FROM json_each(?)) ORDER BY p.id""",
        json.dumps(list(jar_ids)),
    )
    sources = tincture_views(keeper, {row[7] for row in rows} - {None})
    for pour_id, code, kind, volume_ml, abv, marc_of_id, moved_ml, source_id in rows:
        if source_id in sources:
            calculated = (moved_ml or volume_ml, sources[source_id].strength_abv)
        elif marc_of_id is not None:
            held = held_back(jar_view(keeper, marc_of_id))
            held_ml = volume_ml if held.volume_ml is None else held.volume_ml
            calculated = (max(held_ml, MEASURE_ML), held.strength_abv)
        else:
            continue
        stored = (volume_ml, abv)
        found.append(PourFigures(pour_id, code, LiquidKind(kind), stored, calculated))
    return found


def _refresh_pours(keeper: Keeper, jar_ids: Collection[int]) -> None:
    for each in pour_figures(keeper, jar_ids) if jar_ids else ():
        if each.calculated != each.stored:
            volume_ml, abv = each.calculated
            keeper.store.db.execute_sql(
                "UPDATE pour SET volume_ml = ?, strength_abv = ? WHERE id = ?",
                (volume_ml, abv, each.pour_id),
            )


def _in_order(keeper: Keeper, tincture_ids: Collection[int], fed: Iterable[Fed]) -> list[int]:
    wanted = set(tincture_ids)
    graph: dict[int, set[int]] = {}
    for to_id, from_id, _ in fed:
        if to_id in wanted:
            graph.setdefault(to_id, set()).add(from_id)
    for blend_id, from_id, *_ in keeper.rows(_PARTS, json.dumps(list(tincture_ids))):
        graph.setdefault(blend_id, set())
        if from_id is not None:
            graph[blend_id].add(from_id)
    return [each for each in TopologicalSorter(graph).static_order() if each in graph]


def _write(keeper: Keeper, found: StoredFigures, figures: Figures, before: Before) -> None:
    bottled_ml = found.stored.volume_ml - found.lost_ml - found.left_ml
    volume_ml, lost_ml = figures.volume_ml, found.lost_ml
    if found.tincture_id in before.written_off:
        lost_ml = max(0.0, volume_ml - bottled_ml)
    if found.straining_id is None:
        volume_ml = as_bottled(volume_ml, bottled_ml + lost_ml)
    keep_day = found.stored.keep_until if found.keep_until_by_hand else figures.keep_until
    keeper.store.db.execute_sql(
        """UPDATE tincture SET volume_ml = ?, lost_ml = ?, strength_abv = ?, strength_by = ?,
                  ratio = ?, keep_until = ? WHERE id = ?""",
        (
            volume_ml,
            lost_ml,
            figures.strength_abv,
            figures.strength_by.value,
            figures.ratio,
            keep_day and keep_day.isoformat(),
            found.tincture_id,
        ),
    )
    if found.straining_id is not None and found.tincture_id not in before.without_liquid:
        keeper.store.db.execute_sql(
            "UPDATE straining SET liquid_ml = ? WHERE id = ?",
            (figures.liquid_ml, found.straining_id),
        )


def as_bottled(calculated_ml: float, taken_ml: float) -> float:
    """The volume of a blend: as calculated, or a little more where that was bottled.

    >>> as_bottled(200.0, 200.4), as_bottled(200.0, 210.0)
    (200.4, 200.0)
    """
    if calculated_ml < taken_ml <= calculated_ml * BLEND_ROOM:
        return taken_ml
    return calculated_ml
