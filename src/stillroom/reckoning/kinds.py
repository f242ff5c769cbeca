"""What a number means: the one word by which the boundary reads and prints it."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum


class Kind(StrEnum):
    """The meaning of a bare number; the value inside is always in the unit named here."""

    VOLUME = "volume"
    """mL at 20 °C."""
    MASS = "mass"
    """g."""
    STRENGTH = "strength"
    """% v/v at 20 °C, 0 to 100."""
    US_PROOF = "US proof"
    """Twice the % v/v at 60 °F, 0 to 200."""
    UK_PROOF = "UK proof"
    """Degrees of the old UK proof: 100 are 57.1 % v/v at 60 °F."""
    RATIO = "ratio"
    """The n of 1:n, mL of liquid per g of herb."""
    PERCENT = "percent"
    """A share of a whole or water content, 0 to 100 as shown; held as 0 to 100."""
    TEMPERATURE = "temperature"
    """°C."""
    DENSITY = "density"
    """g/mL."""
    RETENTION = "retention"
    """mL of liquid kept per g of dry marc."""
    CONCENTRATION = "concentration"
    """g of herb per mL."""
    DROPS = "drops per mL"
    """Drops of one dropper to the mL."""
    COUNT = "count"
    """A whole number of things."""
    NUMBER = "number"
    """A plain number without unit."""
    MONEY = "money"
    """An amount of the user's currency."""
    MONEY_PER_ML = "money per mL"
    MONEY_PER_G = "money per g"
    DAYS = "days"
    """Whole days."""
    CHOICE = "choice"
    """One of a few named options; the value is its key."""
    TEXT = "text"
    """Words."""


AS_WRITTEN = "auto"
"""The key of a choice that is left to the way an instrument's reading is written."""

STRENGTH_LIMITS_ABV = (20.0, 25.0)
"""Where the verdict on keeping changes: under the first no, under the second doubtful."""
LIMIT_SLACK_ABV = 1e-6
"""A strength made up to exactly 25 % may come out this much under it."""


@dataclass(frozen=True)
class Addend:
    """The place of a figure in a sum that must add up as it is printed."""

    parts: tuple[float, ...]
    total: float
    place: int


@dataclass(frozen=True)
class Figure:
    """A number that knows what it means, ready for the boundary to print in anyone's units."""

    kind: Kind
    value: float
    limits: tuple[float, ...] = ()
    """Values at which a rule changes: rounding must not carry the figure across one."""
    fine_as: float | None = None
    """Printed with as many decimals as this value would have, where its own are too few."""
    addend: Addend | None = None
    """Rounded together with the other parts of its sum; `fine_as` is then that of them all."""


Amounts = Sequence[Decimal]


@dataclass(frozen=True)
class Sum:
    """The sum a sentence sets out, so that it can be printed in digits that add up."""

    of: int
    """Place among the sentence's figures of the one that the others make."""
    work: Callable[[Amounts], Decimal]
    """That figure from all the figures as printed, in the unit each is printed in."""
    is_exact: bool = False
    """Whether the printed result is the sum itself, digit for digit: adding and taking away are;
    a product is rounded to what can be measured."""


def difference(amounts: Amounts) -> Decimal:
    """The first less the second."""
    return amounts[0] - amounts[1]


def total(amounts: Amounts) -> Decimal:
    """All but the last added up."""
    return sum(amounts[:-1], Decimal(0))


def product(amounts: Amounts) -> Decimal:
    """The first times the second."""
    return amounts[0] * amounts[1]


def quotient(amounts: Amounts) -> Decimal:
    """The first over the second."""
    return amounts[0] / amounts[1] if amounts[1] else Decimal(0)


def share(amounts: Amounts) -> Decimal:
    """The first at the second, a percentage."""
    return amounts[0] * amounts[1] / 100
