"""Which liquids of the cupboard are in a tincture, beside spirit and water, and how much of each.

They are carried from batch to batch by volume, as they are added: through bottles, through what
waits to be bottled, and over the herb of a jar.
"""

import json
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from graphlib import TopologicalSorter

from stillroom.keeping.graph import SOURCES_OF
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.strained_jars import strained_jars
from stillroom.reckoning.other_liquids import LiquidShare, Others
from stillroom.reckoning.states import OtherLiquidKind

_STEPS = f"""{SOURCES_OF}
    SELECT f.to_id, f.from_id, f.volume_ml FROM flow f
    WHERE f.to_id IN (SELECT from_id FROM source) ORDER BY f.to_id
"""
_OWN = f"""{SOURCES_OF}
    SELECT i.tincture_id, i.liquid_id, i.volume_ml FROM batch_input i
    WHERE i.liquid_id IS NOT NULL AND i.tincture_id IN (SELECT from_id FROM source)
    UNION ALL
    SELECT t.id, p.liquid_id, p.volume_ml FROM tincture t
    JOIN straining s ON s.id = t.straining_id JOIN pour p ON p.jar_id = s.jar_id
    WHERE p.liquid_id IS NOT NULL AND t.id IN (SELECT from_id FROM source)
"""
# A batch made of others is as much as it came to; of a jar it is all the liquid that was in it.
_VOLUMES = f"""{SOURCES_OF}
    SELECT t.id, CASE WHEN s.id IS NULL THEN t.volume_ml
                 ELSE max(coalesce(s.liquid_ml, 0), s.yield_ml) END,
           s.id IS NOT NULL AND s.liquid_ml IS NULL
    FROM tincture t LEFT JOIN straining s ON s.id = t.straining_id
    WHERE t.id IN (SELECT from_id FROM source)
"""

Shares = Mapping[int, float]
"""mL of each liquid in a millilitre, by its id."""


@dataclass(frozen=True)
class _KnownLiquid:
    name: str
    kind: OtherLiquidKind
    g_per_ml: float
    glycerol: float | None
    acidity: float | None


def others_in(keeper: Keeper, tincture_ids: Iterable[int]) -> dict[int, Others]:
    """The other liquids in a millilitre of each of these tinctures; those without any left out."""
    if not (known := _liquids(keeper)):
        return {}
    wanted = list(dict.fromkeys(tincture_ids))
    found = shares_in(keeper, wanted)
    return {
        each: of_shares(found[each], known) for each in wanted if any(found.get(each, {}).values())
    }


def others_poured(keeper: Keeper, amounts_ml: Mapping[int, float], total_ml: float) -> Others:
    """The same of a mixture, from how many mL of each liquid are in it."""
    return of_shares({each: ml / total_ml for each, ml in amounts_ml.items()}, _liquids(keeper))


def _liquids(keeper: Keeper) -> dict[int, _KnownLiquid]:
    rows = keeper.rows("SELECT id, name, kind, density_g_per_ml, glycerol, acidity FROM liquid")
    return {
        liquid_id: _KnownLiquid(name, OtherLiquidKind(kind), *figures)
        for liquid_id, name, kind, *figures in rows
    }


def of_shares(shares: Shares, known: Mapping[int, _KnownLiquid]) -> Others:
    """Shares of liquids with their names and what they weigh."""
    return Others(
        tuple(
            LiquidShare(liquid.name, liquid.kind, share, liquid.g_per_ml, liquid.glycerol,
                        liquid.acidity)
            for liquid_id, share in shares.items()
            if share > 0
            for liquid in (known[liquid_id],)
        )
    )  # fmt: skip


def shares_in(keeper: Keeper, tincture_ids: Iterable[int]) -> dict[int, dict[int, float]]:
    """mL of each liquid in a millilitre of each of these tinctures, and of those in them."""
    wanted = json.dumps(list(tincture_ids))
    amounts: dict[int, dict[int, float]] = defaultdict(lambda: defaultdict(float))
    for to_id, liquid_id, volume_ml in keeper.rows(_OWN, wanted):
        amounts[to_id][liquid_id] += volume_ml
    steps: dict[int, list[tuple[int, float]]] = defaultdict(list)
    for to_id, from_id, volume_ml in keeper.rows(_STEPS, wanted):
        steps[to_id].append((from_id, volume_ml))
    rows = keeper.rows(_VOLUMES, wanted)
    volumes = {tincture_id: volume_ml for tincture_id, volume_ml, _ in rows}
    # Of herb by eye and of a marc no liquid is stored; it shrinks as it mixes, like any other.
    mixed = [each for each, _, is_mixed in rows if is_mixed and (each in amounts or each in steps)]
    jars = {jar.tincture_id: jar for jar in strained_jars(keeper, mixed).values()}
    known = _liquids(keeper) if mixed else {}
    graph = {each: {from_id for from_id, _ in steps.get(each, ())} for each in volumes}
    shares: dict[int, dict[int, float]] = {}
    for tincture_id in TopologicalSorter(graph).static_order():
        amount = dict(amounts.get(tincture_id, {}))
        for from_id, volume_ml in steps.get(tincture_id, ()):
            for liquid_id, share in shares[from_id].items():
                amount[liquid_id] = amount.get(liquid_id, 0.0) + share * volume_ml
        volume_ml = volumes[tincture_id]
        if tincture_id in mixed and (jar := jars.get(tincture_id)):
            volume_ml = jar.liquid_ml(
                {each.from_id: of_shares(shares[each.from_id], known) for each in jar.carried}
            )
        shares[tincture_id] = {key: ml / volume_ml for key, ml in amount.items()}
    return shares
