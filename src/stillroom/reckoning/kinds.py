"""What a number means: the one word that tells the boundary how to read and print it."""

from dataclasses import dataclass
from enum import StrEnum


class Kind(StrEnum):
    """The meaning of a bare number; the value inside is always in the unit named here."""

    VOLUME = "volume"
    """mL at 20 °C."""
    MASS = "mass"
    """g."""
    STRENGTH = "strength"
    """% v/v at 20 °C, 0 to 100."""
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


@dataclass(frozen=True)
class Figure:
    """A number that knows what it means, ready for the boundary to print in anyone's units."""

    kind: Kind
    value: float
