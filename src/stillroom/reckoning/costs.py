"""What a tincture costs to make; what is bottled pays for what the marc holds back."""

from collections.abc import Sequence
from dataclasses import dataclass

from stillroom.reckoning.limits import at_least_nothing, more_than_nothing


@dataclass(frozen=True)
class Bought:
    """Something used, and the price it came at."""

    used: float
    """mL or g, or any unit that `bought` is in too."""
    bought: float
    price: float
    """For all of `bought`, in the user's currency."""

    def __post_init__(self) -> None:
        at_least_nothing(self.used, "The amount used")
        more_than_nothing(self.bought, "The amount bought")
        at_least_nothing(self.price, "A price")

    @property
    def cost(self) -> float:
        return self.used * self.price / self.bought


@dataclass(frozen=True)
class Cost:
    """The cost of a batch."""

    total: float
    per_ml: float
    """Per tincture obtained, so that losses are paid for."""
    per_herb_g: float | None


def batch_cost(
    spirits: Sequence[Bought], herbs: Sequence[Bought], other: float, yield_ml: float
) -> Cost:
    """Returns the cost of a batch: all that was used ÷ what was obtained.

    Bottles and labels are bought by the piece; see `bottle_cost`.

    >>> batch_cost([Bought(500, 700, 21.0)], [Bought(100, 250, 10.0)], 0.0, 380).per_ml
    0.05
    """
    at_least_nothing(other, "Other costs")
    more_than_nothing(yield_ml, "The yield", "mL")
    total = sum(b.cost for b in (*spirits, *herbs)) + other
    herb_g = sum(b.used for b in herbs)
    return Cost(total, total / yield_ml, total / herb_g if herb_g > 0.0 else None)


def bottle_cost(cost: Cost, size_ml: float, empty_bottle: float = 0.0) -> float:
    """Returns the cost of one full bottle, glass and label included.

    >>> bottle_cost(Cost(19.0, 0.05, 0.19), 50, 0.80)
    3.3
    """
    more_than_nothing(size_ml, "The size of the bottle", "mL")
    return cost.per_ml * size_ml + at_least_nothing(empty_bottle, "The price of a bottle")
