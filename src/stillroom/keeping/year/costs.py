"""What tinctures cost by the price of each purchase; what has no price is named."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from stillroom.keeping.cupboard.cupboard import spirits
from stillroom.keeping.cupboard.liquids import liquids
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.memo import remembered
from stillroom.keeping.trace.lineage import purchase_words
from stillroom.keeping.wording import wording
from stillroom.keeping.words import in_a_row
from stillroom.reckoning.batch_costs import BatchCost, BatchInputs, batch_costs
from stillroom.reckoning.costs import Bought
from stillroom.reckoning.states import InputKind, LiquidKind

HERB, LIQUID = "the herb", "the liquid poured"
"""What has no price: herb of no lot, and liquid that a notebook leaves out."""
ELSEWHERE = "spirit that isn't in the cupboard"

_BATCHES = """
    SELECT t.id, t.volume_ml, s.jar_id, t.code, t.made_on FROM tincture t
    LEFT JOIN straining s ON s.id = t.straining_id
"""
# Each purchase that went in: on the herb of a jar, or into a batch without one.
_BOUGHT = f"""
    SELECT jar_id, NULL, kind, spirit_id, liquid_id, volume_ml, poured_on FROM pour
    WHERE kind IN ('{LiquidKind.SPIRIT}', '{LiquidKind.LIQUID}')
    UNION ALL
    SELECT NULL, i.tincture_id, i.kind, i.spirit_id, i.liquid_id, i.volume_ml, t.made_on
    FROM batch_input i JOIN tincture t ON t.id = i.tincture_id
    WHERE i.kind IN ('{InputKind.SPIRIT}', '{InputKind.LIQUID}')
"""
# What a marc held back was paid for by the batch that was strained from it first.
_PARTS = """
    SELECT to_id, from_id, volume_ml FROM flow WHERE to_id IS NOT NULL AND kind <> 'held back'
"""
# A lot, and the lot that it was a part of; drying costs nothing, so less herb bears the same price.
_HERBS = """
    SELECT c.jar_id, c.mass_g, j.filled_on, l.id, l.code, h.name, l.price, l.mass_g,
           w.price, w.mass_g,
           (SELECT sum(m.mass_g) FROM herb_movement m WHERE m.lot_id = l.id AND m.kind = 'dried')
    FROM charge_line c
    JOIN jar j ON j.id = c.jar_id
    LEFT JOIN herb_lot l ON l.id = c.lot_id
    LEFT JOIN herb h ON h.id = l.herb_id
    LEFT JOIN herb_lot w ON w.id = l.from_lot_id
    ORDER BY c.id
"""
_BOTTLES = """
    SELECT b.tincture_id, b.code, m.volume_ml FROM bottle b
    JOIN movement m ON m.bottle_id = b.id AND m.kind = 'fill' ORDER BY b.id
"""


@dataclass(frozen=True)
class PurchaseCost:
    """How much of a purchase went in during a period."""

    name: str
    """With the day and seller, where known."""
    volume_ml: float | None
    """None of herb."""
    mass_g: float | None
    """None of a liquid."""
    cost: float | None
    """None where no price is known."""


@dataclass(frozen=True)
class CostOfBatch:
    """A batch with what it cost."""

    code: str
    made_on: date
    cost: BatchCost
    bottles: tuple[tuple[str, float, float], ...]
    """Code, mL filled and cost of each; glass and label are not counted."""


@dataclass(frozen=True)
class _Purchase:
    """A purchase in the cupboard."""

    key: tuple[str, int]
    """Its kind and id."""
    name: str
    bought_ml: float | None
    price: float | None

    def cost(self, volume_ml: float) -> float | None:
        """Of some of it; None where its price or volume isn't known."""
        if self.price is None or not self.bought_ml:
            return None
        return Bought(volume_ml, self.bought_ml, self.price).cost


_ELSEWHERE = _Purchase(("", 0), ELSEWHERE, None, None)


@dataclass(frozen=True)
class _PurchaseUsed:
    """Some of a purchase that went into a jar or batch."""

    jar_id: int | None
    tincture_id: int | None
    lot: _Purchase
    volume_ml: float
    day: date


def _bought(keeper: Keeper) -> list[_PurchaseUsed]:
    said = wording(keeper)
    lots: dict[tuple[str, int], _Purchase] = {}
    for each in spirits(keeper):
        name = in_a_row(each.name, *purchase_words(each, said))
        key = str(LiquidKind.SPIRIT), each.spirit_id
        lots[key] = _Purchase(key, name, each.bought_ml, each.price)
    for liquid in liquids(keeper):
        name = in_a_row(liquid.name, *purchase_words(liquid, said))
        key = str(LiquidKind.LIQUID), liquid.liquid_id
        lots[key] = _Purchase(key, name, liquid.bought_ml, liquid.price)
    return [
        _PurchaseUsed(
            jar_id,
            tincture_id,
            lots.get((kind, liquid_id if kind == LiquidKind.LIQUID else spirit_id), _ELSEWHERE),
            volume_ml,
            date.fromisoformat(day),
        )
        for jar_id, tincture_id, kind, spirit_id, liquid_id, volume_ml, day in keeper.rows(_BOUGHT)
    ]


@dataclass(frozen=True)
class _HerbUsed:
    """Some herb that went into a jar."""

    jar_id: int
    name: str
    mass_g: float | None
    day: date
    per_g: float | None
    """None where its lot has no price or weight."""

    @property
    def cost(self) -> float | None:
        """Of what went in."""
        return None if self.per_g is None or self.mass_g is None else self.per_g * self.mass_g


def _herbs(keeper: Keeper) -> list[_HerbUsed]:
    found = []
    for row in keeper.rows(_HERBS):
        jar_id, used_g, day, lot_id, code, herb, price, mass_g, all_price, all_g, dried_g = row
        if price is None and all_price is not None and all_g and mass_g is not None:
            price = all_price * mass_g / all_g
        per_g = None
        if price is not None and mass_g is not None and (base_g := mass_g + (dried_g or 0.0)) > 0:
            per_g = price / base_g
        name = HERB if lot_id is None else f"{herb} {code}"
        found.append(_HerbUsed(jar_id, name, used_g, date.fromisoformat(day), per_g))
    return found


def all_costs(keeper: Keeper) -> dict[int, BatchCost]:
    """The cost of each batch by its id."""
    of_jars: dict[int | None, list[tuple[str, float | None]]] = defaultdict(list)
    of_batches: dict[int | None, list[tuple[str, float | None]]] = defaultdict(list)
    for each in _bought(keeper):
        where = of_batches if each.jar_id is None else of_jars
        key = each.tincture_id if each.jar_id is None else each.jar_id
        where[key].append((each.lot.name, each.lot.cost(each.volume_ml)))
    for herb in _herbs(keeper):
        of_jars[herb.jar_id].append((herb.name, herb.cost))
    parts: dict[int, list[tuple[int, float]]] = defaultdict(list)
    for tincture_id, from_id, volume_ml in keeper.rows(_PARTS):
        parts[tincture_id].append((from_id, volume_ml))
    poured = {row[0] for row in keeper.rows("SELECT DISTINCT jar_id FROM pour")}
    inputs = {}
    for tincture_id, volume_ml, jar_id, *_ in keeper.rows(_BATCHES):
        bought = of_batches[tincture_id] if jar_id is None else of_jars[jar_id]
        without = [name for name, cost in bought if cost is None]
        if jar_id is not None and jar_id not in poured:
            without.append(LIQUID)
        paid = tuple(cost for _, cost in bought if cost is not None)
        inputs[tincture_id] = BatchInputs(
            volume_ml, paid, tuple(without), tuple(parts[tincture_id])
        )
    return batch_costs(inputs)


def cost_of_batch(keeper: Keeper, tincture_id: int) -> BatchCost:
    """What one batch cost, by the price of each purchase in it."""
    return remembered(keeper, "cost of batches", (), lambda: all_costs(keeper))[tincture_id]


def purchase_costs(keeper: Keeper, since: date, until: date) -> list[PurchaseCost]:
    """Spirits, other liquids and lots of herb that went in during a period."""
    used: dict[_Purchase, float] = defaultdict(float)
    for each in _bought(keeper):
        if since <= each.day <= until:
            used[each.lot] += each.volume_ml
    found = [PurchaseCost(lot.name, ml, None, lot.cost(ml)) for lot, ml in used.items()]
    herbs: dict[tuple[str, float | None], float] = defaultdict(float)
    for herb in _herbs(keeper):
        if since <= herb.day <= until and herb.name != HERB and herb.mass_g is not None:
            herbs[herb.name, herb.per_g] += herb.mass_g
    found += [
        PurchaseCost(name, None, grams, None if per_g is None else per_g * grams)
        for (name, per_g), grams in herbs.items()
    ]
    return sorted(found, key=lambda each: (each.name == ELSEWHERE, each.name.casefold()))


def costs_of_batches(keeper: Keeper, tincture_ids: Iterable[int] = ()) -> list[CostOfBatch]:
    """The batches with their cost, by day; all of them unless some are named."""
    wanted = set(tincture_ids)
    bottles: dict[int, list[tuple[str, float]]] = defaultdict(list)
    for tincture_id, code, volume_ml in keeper.rows(_BOTTLES):
        bottles[tincture_id].append((code, volume_ml))
    costs = all_costs(keeper)
    return [
        CostOfBatch(
            code,
            date.fromisoformat(made_on),
            costs[tincture_id],
            tuple((b, ml, ml * costs[tincture_id].per_ml) for b, ml in bottles[tincture_id]),
        )
        for tincture_id, _, _, code, made_on in sorted(
            keeper.rows(_BATCHES), key=lambda row: (row[4], row[0])
        )
        if not wanted or tincture_id in wanted
    ]
