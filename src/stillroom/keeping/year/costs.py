"""What tinctures cost by the price of each lot of spirit; what has no price is named."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from stillroom.keeping.cupboard.cupboard import spirits
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.trace.lineage import purchase_words
from stillroom.keeping.views import SpiritView
from stillroom.keeping.wording import Wording, wording
from stillroom.keeping.words import in_a_row
from stillroom.reckoning.batch_costs import BatchCost, BatchInputs, batch_costs
from stillroom.reckoning.costs import Bought
from stillroom.reckoning.states import LiquidKind

HERB, LIQUID = "the herb", "the liquid poured"
"""What has no price: herbs have none on this shelf, and a notebook may leave out the liquid."""
ELSEWHERE = "spirit that isn't in the cupboard"

_BATCHES = """
    SELECT t.id, t.volume_ml, s.jar_id, t.code, t.made_on FROM tincture t
    LEFT JOIN straining s ON s.id = t.straining_id
"""
_POURS = "SELECT jar_id, kind, spirit_id, volume_ml, poured_on FROM pour ORDER BY id"
_PARTS = """
    SELECT p.tincture_id, b.tincture_id, -m.volume_ml FROM blend_part p
    JOIN movement m ON m.id = p.movement_id
    JOIN bottle b ON b.id = m.bottle_id ORDER BY p.id
"""
_BOTTLES = """
    SELECT b.tincture_id, b.code, m.volume_ml FROM bottle b
    JOIN movement m ON m.bottle_id = b.id AND m.kind = 'fill' ORDER BY b.id
"""


@dataclass(frozen=True)
class SpiritCost:
    """A lot of spirit poured in a period."""

    name: str
    """With strength, seller, lot and day, as far as they are known."""
    volume_ml: float
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


def all_costs(keeper: Keeper) -> dict[int, BatchCost]:
    """The cost of each batch by its id."""
    said = wording(keeper)
    lots = {each.spirit_id: each for each in spirits(keeper)}
    poured: dict[int, list[tuple[float | None, str]]] = defaultdict(list)
    for jar_id, kind, spirit_id, volume_ml, _ in keeper.rows(_POURS):
        if kind == LiquidKind.SPIRIT:
            lot = lots.get(spirit_id)
            paid = None if lot is None else price_of(lot, volume_ml)
            poured[jar_id].append((paid, ELSEWHERE if lot is None else lot_name(lot, said)))
    parts: dict[int, list[tuple[int, float]]] = defaultdict(list)
    for tincture_id, from_id, volume_ml in keeper.rows(_PARTS):
        parts[tincture_id].append((from_id, volume_ml))
    any_poured = {row[0] for row in keeper.rows("SELECT DISTINCT jar_id FROM pour")}
    inputs = {}
    for tincture_id, volume_ml, jar_id, *_ in keeper.rows(_BATCHES):
        without = [name for paid, name in poured[jar_id] if paid is None]
        if jar_id is not None:
            without += [HERB] if jar_id in any_poured else [LIQUID, HERB]
        inputs[tincture_id] = BatchInputs(
            volume_ml,
            tuple(paid for paid, _ in poured[jar_id] if paid is not None),
            tuple(without),
            tuple(parts[tincture_id]),
        )
    return batch_costs(inputs)


def lot_name(lot: SpiritView, said: Wording) -> str:
    """A lot of spirit, told apart from others of its name."""
    return in_a_row(lot.name, *purchase_words(lot, said))


def price_of(lot: SpiritView, volume_ml: float) -> float | None:
    """What some of a lot cost; None where its price or volume isn't known."""
    if lot.price is None or not lot.bought_ml:
        return None
    return Bought(volume_ml, lot.bought_ml, lot.price).cost


def spirit_costs(keeper: Keeper, since: date, until: date) -> list[SpiritCost]:
    """Spirit poured in a period, by lot, the oldest lot first."""
    said = wording(keeper)
    lots = {each.spirit_id: each for each in spirits(keeper)}
    used: dict[int | None, float] = defaultdict(float)
    for _, kind, spirit_id, volume_ml, day in keeper.rows(_POURS):
        if kind == LiquidKind.SPIRIT and since <= date.fromisoformat(day) <= until:
            used[spirit_id] += volume_ml
    found = [
        SpiritCost(lot_name(lot, said), used[spirit_id], price_of(lot, used[spirit_id]))
        for spirit_id, lot in sorted(lots.items())
        if spirit_id in used
    ]
    if None in used:
        found.append(SpiritCost(ELSEWHERE, used[None], None))
    return found


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
