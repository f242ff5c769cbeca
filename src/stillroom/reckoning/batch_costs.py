"""What batches cost: what was bought for each, and its share of the batches that went into it."""

from collections.abc import Mapping
from dataclasses import dataclass
from graphlib import TopologicalSorter


@dataclass(frozen=True)
class BatchInputs:
    """What a batch was made of."""

    volume_ml: float
    """What was obtained: it pays for what the marc kept."""
    paid: tuple[float, ...] = ()
    """For each thing bought, the part of its price that went in."""
    without: tuple[str, ...] = ()
    """What has no known price."""
    parts: tuple[tuple[int, float], ...] = ()
    """Other batches by their key, and mL of each."""


@dataclass(frozen=True)
class BatchCost:
    """What a batch cost, as far as prices are known."""

    total: float
    without: tuple[str, ...]
    """What has no known price and is not in the figure; each once."""
    volume_ml: float
    is_priced: bool
    """Whether something in it has a price: otherwise the figure means nothing."""

    @property
    def per_ml(self) -> float:
        """Of what was obtained."""
        return self.total / self.volume_ml

    @property
    def per_100_ml(self) -> float:
        """The cost of 100 mL."""
        return 100.0 * self.per_ml


def batch_costs(batches: Mapping[int, BatchInputs]) -> dict[int, BatchCost]:
    """Returns the cost of each batch, parts before what was made of them.

    A part pays by volume; what shrinks when liquids are mixed costs nothing less.

    >>> spirit = BatchInputs(400, (20.0,), ("herb",))
    >>> blend = BatchInputs(100, parts=((1, 80.0), (2, 20.0)))
    >>> made = batch_costs({1: spirit, 2: BatchInputs(50, (10.0,)), 3: blend})
    >>> made[3].total, made[3].without, made[3].per_100_ml
    (8.0, ('herb',), 8.0)
    """
    order = TopologicalSorter({key: [of for of, _ in each.parts] for key, each in batches.items()})
    costs: dict[int, BatchCost] = {}
    for key in order.static_order():
        if key not in batches:
            continue
        inputs = batches[key]
        total, without, is_priced = sum(inputs.paid), list(inputs.without), bool(inputs.paid)
        for of, volume_ml in inputs.parts:
            part = costs[of]
            total += part.per_ml * volume_ml
            without += part.without
            is_priced = is_priced or part.is_priced
        named = tuple(dict.fromkeys(without))
        costs[key] = BatchCost(total, named, inputs.volume_ml, is_priced)
    return costs
