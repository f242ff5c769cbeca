"""Water in fresh and dried herb, and what one is worth of the other."""

from stillroom.reckoning.kinds import Figure, Kind
from stillroom.reckoning.limits import OutOfRange, at_least_nothing, more_than_nothing, within

DRIED_WATER_FRACTION = 0.10
"""Water left in herb that is dry enough to store. USDA National Nutrient Database SR28: dried leaf,
seed, bark and root hold 6 to 13 %."""


def water_fraction_from_drying(
    fresh_g: float, dried_g: float, left_fraction: float = DRIED_WATER_FRACTION
) -> float:
    """Returns the share of water in fresh herb from its weight before and after drying.

    w = 1 − (1 − r) · dried / fresh, with r the water still in the dried herb. Valid while the dried
    herb weighs no more than the fresh.

    >>> water_fraction_from_drying(500, 100)
    0.82
    """
    more_than_nothing(fresh_g, "The fresh weight", "g")
    more_than_nothing(dried_g, "The dried weight", "g")
    _check_fraction(left_fraction, "Water left in the dried herb")
    if dried_g > fresh_g:
        raise OutOfRange(
            "The dried weight must be no more than the fresh weight, {0}.",
            Figure(Kind.MASS, fresh_g),
        )
    return 1.0 - (1.0 - left_fraction) * dried_g / fresh_g


def dried_equivalent_g(
    mass_g: float, water_fraction: float, left_fraction: float = DRIED_WATER_FRACTION
) -> float:
    """Returns what a mass of herb would weigh once dried: m · (1 − w) / (1 − r).

    >>> dried_equivalent_g(450, 0.8)
    100.0
    """
    at_least_nothing(mass_g, "The weight of herb", "g")
    _check_fraction(water_fraction, "Water in the herb")
    _check_fraction(left_fraction, "Water left in the dried herb")
    return mass_g * (1.0 - water_fraction) / (1.0 - left_fraction)


def fresh_needed_g(
    dried_g: float, water_fraction: float, left_fraction: float = DRIED_WATER_FRACTION
) -> float:
    """Returns how much fresh herb dries down to a mass: m · (1 − r) / (1 − w).

    >>> fresh_needed_g(100, 0.8)
    450.0
    """
    at_least_nothing(dried_g, "The dried weight", "g")
    _check_fraction(water_fraction, "Water in the herb")
    _check_fraction(left_fraction, "Water left in the dried herb")
    return dried_g * (1.0 - left_fraction) / (1.0 - water_fraction)


def drying_ratio(water_fraction: float, left_fraction: float = DRIED_WATER_FRACTION) -> float:
    """Returns how many grams of fresh herb make one gram dried.

    >>> drying_ratio(0.65)
    2.57
    """
    return fresh_needed_g(1.0, water_fraction, left_fraction)


def _check_fraction(value: float, what: str) -> None:
    """A herb of nothing but water has no dried weight, so 1 itself is out."""
    within(100.0 * value, 0, 99, what, "%")
