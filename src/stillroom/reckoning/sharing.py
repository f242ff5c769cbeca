"""Which bottles to pour from, and how much of each, so that their strengths cancel out.

The sum is solved in masses, where it is linear. Each liquid has, in one millilitre, a *size*, which
must add up to the size of what is made, and a *surplus* of ethanol over what that size needs to be
of the wanted strength, which must add up to nothing: positive in a liquid that is too strong,
negative in one that is too weak, water the weakest of all. Nothing but the standard library is
needed: a linear program with two equations and one upper bound a bottle is solved exactly by
pairing strong with weak, and whole sets of bottles are few enough to try one by one.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from math import comb, inf

RELATIVE_ROUNDING = 1e-9
"""A share of the size of what is made, below which an amount is a rounding of nothing."""
EVEN = 1e-12
"""Grams of ethanol per unit of size: a surplus below this is none."""
MOST_SETS_TRIED = 2048
"""All there are of up to eleven bottles; of twenty, the sets of up to three."""


@dataclass(frozen=True)
class Source:
    """One liquid that may be poured, by the millilitre."""

    size: float
    """Of 1 mL, in the unit in which sizes add up: mL of what is poured, or g of what is made."""
    surplus_g: float
    """Ethanol in 1 mL beyond what its size needs at the wanted strength."""
    limit_ml: float = inf

    @property
    def surplus(self) -> float:
        """In g of ethanol per unit of size: the order of strength."""
        return self.surplus_g / self.size


@dataclass(frozen=True)
class Shares:
    """Amounts whose surpluses cancel out."""

    amounts_ml: tuple[float, ...]
    """Of each spirit."""
    water_ml: float
    size: float
    """What the amounts come to: the size that was asked for, or as much of it as there can be."""
    watered_g: float
    """Ethanol by which the strong exceeds what is needed, all of it used up in lifting the weak."""


def most_like(spirits: Sequence[Source], water: Source, size: float) -> Shares:
    """Returns the amounts that cancel out with the least strong spirit watered down.

    Strong is paired with weak, those nearest to the wanted strength first and of equals the earlier
    first, until the size is reached or one side has run out. No other choice comes to a larger
    size, takes less water for the same size, or spends less of the strong on lifting the weak.
    A spirit of no strength is water and is never poured.

    >>> strong, weak, water = Source(1, 0.3), Source(1, -0.1, 50), Source(1, -0.5)
    >>> most_like([strong, weak], water, 100)
    Shares(amounts_ml=(37.5, 50.0), water_ml=12.5, size=100.0, watered_g=11.25)
    """
    sources = [*spirits, water]
    amounts_ml = [0.0] * len(sources)
    left, watered_g = size, 0.0
    stronger_than_water = [i for i, s in enumerate(spirits) if s.surplus > water.surplus]
    nearest_first = sorted(
        [*stronger_than_water, len(spirits)], key=lambda i: abs(sources[i].surplus)
    )
    for i in nearest_first:
        if abs(sources[i].surplus) <= EVEN:
            amounts_ml[i] = min(sources[i].limit_ml, max(0.0, left) / sources[i].size)
            left -= amounts_ml[i] * sources[i].size
    strong = iter([i for i in nearest_first if sources[i].surplus > EVEN])
    weak = iter([i for i in nearest_first if sources[i].surplus < -EVEN])
    over, under = next(strong, None), next(weak, None)
    while left > 0.0 and over is not None and under is not None:
        a, b = sources[over], sources[under]
        in_a_g = (a.limit_ml - amounts_ml[over]) * a.surplus_g
        in_b_g = (b.limit_ml - amounts_ml[under]) * -b.surplus_g
        size_per_g = 1.0 / a.surplus - 1.0 / b.surplus
        cancelled_g = min(in_a_g, in_b_g, left / size_per_g)
        amounts_ml[over] += cancelled_g / a.surplus_g
        amounts_ml[under] -= cancelled_g / b.surplus_g
        left -= cancelled_g * size_per_g
        watered_g += cancelled_g
        if cancelled_g == in_a_g:
            over = next(strong, None)
        elif cancelled_g == in_b_g:
            under = next(weak, None)
        else:
            break
    if abs(left) <= RELATIVE_ROUNDING * size:
        left = 0.0
    within_limits = [min(ml, s.limit_ml) for ml, s in zip(amounts_ml, sources, strict=True)]
    return Shares(tuple(within_limits[:-1]), within_limits[-1], size - left, watered_g)


def share_out(spirits: Sequence[Source], water: Source, size: float) -> Shares | None:
    """Returns the amounts to pour for a size, or None where they cannot come to it.

    Of all that reach it, in this order: those with the least water, so that a weaker spirit on hand
    goes in before a strong one is watered down; from the fewest bottles; with the least strong
    spirit spent on lifting the weak; from the bottles that are earliest in the list.

    >>> forty, sixty, water = Source(1, -0.1), Source(1, 0.1), Source(1, -0.5)
    >>> share_out([sixty, forty], water, 100).amounts_ml
    (50.0, 50.0)
    >>> share_out([Source(1, 0.1, limit_ml=40), forty], water, 100) is None
    True
    """
    everything = most_like(spirits, water, size)
    if everything.size < size:
        return None
    most_water_ml = everything.water_ml + RELATIVE_ROUNDING * size / water.size
    useful = [i for i, s in enumerate(spirits) if s.limit_ml > 0.0 and s.surplus > water.surplus]
    bottles, shares = tuple(range(len(spirits))), everything
    sets_tried = 0
    for number in range(len(useful) + 1):
        sets_tried += comb(len(useful), number)
        if sets_tried > MOST_SETS_TRIED:
            break
        found = [
            (chosen, some)
            for chosen in combinations(useful, number)
            if (some := most_like([spirits[i] for i in chosen], water, size)).size >= size
            and some.water_ml <= most_water_ml
        ]
        if found:
            bottles, shares = min(found, key=lambda it: (round(it[1].watered_g / size, 9), it[0]))
            break
    amount_of = dict(zip(bottles, shares.amounts_ml, strict=True))
    amounts_ml = tuple(amount_of.get(i, 0.0) for i in range(len(spirits)))
    return Shares(amounts_ml, shares.water_ml, shares.size, shares.watered_g)
