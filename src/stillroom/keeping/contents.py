"""What is in a millilitre of a tincture: its herbs, through blends of any depth."""

import json
from collections.abc import Callable, Collection, Hashable, Iterable, Mapping, Sequence
from graphlib import TopologicalSorter
from math import fsum
from types import MappingProxyType
from typing import Any, NamedTuple, TypeVar

from stillroom.keeping.cupboard_views import HerbEquivalent
from stillroom.keeping.graph import SOURCES_OF
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.others_in import others_in
from stillroom.keeping.strained_jars import Carried, HerbKey, StrainedJar, strained_jars
from stillroom.reckoning.doses import in_each_ml
from stillroom.reckoning.other_liquids import Others

K = TypeVar("K", bound=Hashable)
Content = Mapping[K, float | None]
"""Amounts in a millilitre of a tincture, by item; None where there is some but not how much."""


Item = tuple[str, HerbKey | None]
"""What is counted: `herb` in g, `dried` (its dried equivalent, g) and `at most` (a mark) of one
herb; `poured`, mL of all the liquid."""

POURED: Item = ("poured", None)

_POURED_ON = """
    SELECT t.id FROM tincture t JOIN straining s ON s.id = t.straining_id
    WHERE EXISTS (SELECT 1 FROM pour p WHERE p.jar_id = s.jar_id
                  AND p.kind IN ('tincture', 'held back'))
"""

_PARTS = """
    SELECT p.tincture_id, t.volume_ml, coalesce(p.source_id, b.tincture_id),
           coalesce(p.volume_ml, -m.volume_ml)
    FROM batch_input p
    JOIN tincture t ON t.id = p.tincture_id
    LEFT JOIN movement m ON m.id = p.movement_id
    LEFT JOIN bottle b ON b.id = m.bottle_id
    WHERE p.kind IN ('bottle', 'batch')
"""
_ALL_PARTS = f"{_PARTS} ORDER BY p.id"
_ADDED_OF = f"""{SOURCES_OF}
    SELECT tincture_id, sum(volume_ml) FROM batch_input
    WHERE kind NOT IN ('bottle', 'batch') AND tincture_id IN (SELECT from_id FROM source)
    GROUP BY tincture_id
"""
_PARTS_OF = f"""{SOURCES_OF} {_PARTS}
    AND p.tincture_id IN (SELECT from_id FROM source) ORDER BY p.id
"""


def herb_equivalents(keeper: Keeper, tincture_id: int) -> tuple[HerbEquivalent, ...]:
    """The grams of each herb that a millilitre of a tincture stands for."""
    return herb_equivalents_of(keeper, [tincture_id])[tincture_id]


def herb_equivalents_of(
    keeper: Keeper, tincture_ids: Collection[int]
) -> dict[int, tuple[HerbEquivalent, ...]]:
    """The grams of each herb that a millilitre of each of these tinctures stands for, by its id."""
    contents = contents_of(keeper, tincture_ids)
    return {each: equivalents(contents.get(each, {})) for each in tincture_ids}


def herb_g_per_ml(herbs: Collection[HerbEquivalent]) -> float | None:
    """Grams of all the herbs together that a millilitre stands for; None if any is by eye."""
    known = [herb.g_per_ml for herb in herbs if herb.g_per_ml is not None]
    return fsum(known) if known and len(known) == len(herbs) else None


def grams_by_herb(herbs: Iterable[HerbEquivalent]) -> dict[str, float | None]:
    """Grams that a millilitre stands for by the herb's name, in any part and condition."""
    amounts: dict[str, float | None] = {}
    for each in herbs:
        _add(amounts, each.herb, each.g_per_ml)
    return amounts


def blend_ratios(keeper: Keeper, blend_ids: Collection[int]) -> dict[int, float | None]:
    """The n of each blend's 1:n, all herb to all liquid poured; None where any herb is by eye."""
    if not blend_ids:
        return {}
    contents = contents_of(keeper, blend_ids)
    return {each: ratio_in(contents.get(each, {})) for each in blend_ids}


def ratio_in(content: Content[Item]) -> float | None:
    """The n of 1:n, liquid poured to all herb, in a content; None where any herb is by eye."""
    herb_g, poured_ml = herb_g_per_ml(equivalents(content)), content.get(POURED)
    return poured_ml / herb_g if herb_g and poured_ml else None


def equivalents(content: Content[Item]) -> tuple[HerbEquivalent, ...]:
    """The herbs of a content, in the order they came into it."""
    return tuple(
        HerbEquivalent(
            *key,
            g_per_ml=amount,
            dried_g_per_ml=content[("dried", key)],
            is_at_most=("at most", key) in content,
        )
        for (item, key), amount in content.items()
        if item == "herb" and key is not None
    )


class Inflow(NamedTuple):
    """What a jar's tincture has from others poured on its herb, and in how much liquid."""

    tincture_id: int
    liquid_ml: float
    carried: Sequence[Carried]
    ratio: float | None
    """The n of 1:n on its label."""


def contents_of(keeper: Keeper, tincture_ids: Collection[int]) -> dict[int, Content[Item]]:
    """What is in these tinctures and in those they were made of."""
    of_jars, into = _jars_of(keeper, tincture_ids)
    wanted = json.dumps(list(tincture_ids))
    parts = keeper.rows(_PARTS_OF, wanted)
    # A ratio counts all liquid: a tincture thinned to twice its volume is half as rich in herb.
    added = {blend_id: {POURED: added_ml} for blend_id, added_ml in keeper.rows(_ADDED_OF, wanted)}
    return _carried_on(parts, of_jars, into, _with_label_ratio, added)


def _jars_of(
    keeper: Keeper, tincture_ids: Collection[int]
) -> tuple[dict[int, Content[Item]], list[Inflow]]:
    """What the jars behind these tinctures gave of their own, and what they had from others."""
    jars = strained_jars(keeper, tincture_ids).values()
    others = others_in(keeper, {each.from_id for jar in jars for each in jar.carried})
    of_jars = {jar.tincture_id: _own(jar, others) for jar in jars}
    return of_jars, [
        Inflow(jar.tincture_id, jar.liquid_ml(others), jar.carried, jar.ratio)
        for jar in jars
        if jar.carried
    ]


def _with_label_ratio(content: Content[Item], jar: Inflow) -> Content[Item]:
    """Let a content agree with the ratio on the label, which counts all herb that was used.

    So that batches of one ratio blend to the same ratio, as all others do.
    """
    herb_g = herb_g_per_ml(equivalents(content))
    if not any(each.is_poured for each in jar.carried):
        return content
    poured = None if jar.ratio is None or herb_g is None else jar.ratio * herb_g
    return {**content, POURED: poured}


def _own(jar: StrainedJar, others: Mapping[int, Others]) -> Content[Item]:
    """What a millilitre of its tincture holds of its own herb and liquid."""
    put_in: dict[Item, float | None] = {}
    liquid = jar.liquid(others)
    for key, charge in jar.herbs:
        if charge.is_marc:  # counted where it was fresh on the shelf: it comes with its liquid
            continue
        is_by_eye = charge.mass_g is None or not charge.is_water_known
        _add(put_in, ("herb", key), charge.mass_g)
        _add(put_in, ("dried", key), None if is_by_eye else charge.dried_g)
        if liquid.is_partial:
            _add(put_in, ("at most", key), 0.0)
    if not jar.pours and not jar.carried:  # from a notebook that leaves out what was poured
        return dict.fromkeys(put_in)
    _add(put_in, POURED, fsum(pour.volume_ml for pour in jar.pours))
    return {
        item: None if amount is None else in_each_ml(amount, liquid.volume_ml, jar.yield_ml)
        for item, amount in put_in.items()
    }


def mixed(parts: Iterable[tuple[float, Content[K]]], volume_ml: float) -> Content[K]:
    """What is in a millilitre of a blend, from the volume and content of each part."""
    amounts: dict[K, float | None] = {}
    for part_ml, content in parts:
        for key, per_ml in content.items():
            _add(amounts, key, None if per_ml is None else part_ml * per_ml / volume_ml)
    return amounts


def _add(amounts: dict[K, float | None], key: K, amount: float | None) -> None:
    so_far = amounts.get(key, 0.0)
    amounts[key] = None if amount is None or so_far is None else so_far + amount


def through_blends(
    keeper: Keeper,
    of_jars: Mapping[int, Content[K]],
    added: Mapping[int, Mapping[K, float]] = MappingProxyType({}),
    of: Collection[int] | None = None,
) -> dict[int, Content[K]]:
    """The content of tinctures from jars, carried on into every blend made with them.

    `added` is what went straight into batches, mL of each thing by the batch. Where only some
    tinctures are asked for, `of`, no other is read than those in them.
    """
    if of is None:
        parts, into = keeper.rows(_ALL_PARTS), inflows(keeper)
    else:
        parts, into = keeper.rows(_PARTS_OF, json.dumps(list(of))), _jars_of(keeper, of)[1]
    return _carried_on(parts, of_jars, into, added=added)


def inflows(keeper: Keeper) -> list[Inflow]:
    """Of every tincture whose jar had others poured on its herb, what came from them."""
    return _jars_of(keeper, [found for (found,) in keeper.rows(_POURED_ON)])[1]


def herb_on_label_g(keeper: Keeper, tincture_id: int) -> float | None:
    """Grams of herb that a label counts with each millilitre of a tincture; None if not known.

    All the herb that was used for it, where what came out is all that came: 1 oz in 10 fl oz, of
    which 8 are poured on, are 1/8 oz to the fluid ounce. Where a second pour is in it, whose herb
    is counted with the first, it is what the liquid carried over.
    """
    used_g = _herb_used_g(keeper, tincture_id)
    return herb_g_per_ml(herb_equivalents(keeper, tincture_id)) if used_g is None else used_g


def _herb_used_g(keeper: Keeper, tincture_id: int) -> float | None:
    strained = keeper.rows(
        """SELECT sum(p.volume_ml) / t.ratio / s.yield_ml FROM tincture t
           JOIN straining s ON s.id = t.straining_id JOIN pour p ON p.jar_id = s.jar_id
           WHERE t.id = ? GROUP BY t.id""",
        tincture_id,
    )
    if strained:
        ((herb_g,),) = strained
        return herb_g if herb_g is None else float(herb_g)
    parts = keeper.rows(f"{_PARTS} AND p.tincture_id = ?", tincture_id)
    total_g: float | None = 0.0 if parts else None
    for _, volume_ml, from_id, part_ml in parts:
        herb_g = _herb_used_g(keeper, from_id)
        if herb_g is None or total_g is None:
            return None
        total_g += float(part_ml / volume_ml) * herb_g
    return total_g


def _unchanged(content: Content[K], jar: Inflow) -> Content[K]:
    return content


def _carried_on(
    parts: Iterable[tuple[Any, ...]],
    of_jars: Mapping[int, Content[K]],
    into: Iterable[Inflow],
    finish: Callable[[Content[K], Inflow], Content[K]] = _unchanged,
    added: Mapping[int, Mapping[K, float]] = MappingProxyType({}),
) -> dict[int, Content[K]]:
    contents = dict(of_jars)
    jars = {jar.tincture_id: jar for jar in into}
    blends: dict[int, tuple[float, list[tuple[int, float]]]] = {}
    for blend_id, volume_ml, from_id, part_ml in parts:
        blends.setdefault(blend_id, (volume_ml, []))[1].append((from_id, part_ml))
    graph = {blend_id: {from_id for from_id, _ in drawn} for blend_id, (_, drawn) in blends.items()}
    graph |= {jar.tincture_id: {each.from_id for each in jar.carried} for jar in jars.values()}
    for tincture_id in TopologicalSorter(graph).static_order():
        if tincture_id in blends:
            volume_ml, drawn = blends[tincture_id]
            inside = [(part_ml, contents.get(from_id, {})) for from_id, part_ml in drawn]
            # As if it were a millilitre that holds so much.
            inside.append((1.0, added.get(tincture_id, {})))
            contents[tincture_id] = mixed(inside, volume_ml)
        elif jar := jars.get(tincture_id):
            came = [(each.volume_ml, contents.get(each.from_id, {})) for each in jar.carried]
            own = (1.0, contents.get(tincture_id, {}))
            carried = (1.0, mixed(came, jar.liquid_ml))
            contents[tincture_id] = finish(mixed([own, carried], 1.0), jar)
    return contents
