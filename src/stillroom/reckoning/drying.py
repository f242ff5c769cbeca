"""Water in fresh and dried herb, and what one is worth of the other."""

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean, median

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


@dataclass(frozen=True)
class Shrinkage:
    """What dried herb weighs of what was laid out, learned from one's own weighings."""

    share: float
    """Dry weight ÷ fresh weight, the mean."""
    low: float
    high: float
    """The least and the most of the weighings that count."""
    count: int
    """Weighings that count."""
    odd_count: int
    """Weighings left out, too far from the others."""


ODD_SCORE = 3.5
"""Modified z-score from which a value is an outlier. Iglewicz and Hoaglin, in the NIST/SEMATECH
e-Handbook of Statistical Methods, section 1.3.5.17."""
LEAST_SCATTER = 0.01
"""Shares this near their median agree however near the others are: what scales read. Judgement."""
FEW = 4
"""With fewer weighings than this, none is left out. Judgement."""


def learned_shrinkage(dried: Sequence[tuple[float, float]]) -> Shrinkage | None:
    """Returns the share that is left when a herb dries, from fresh and dry weights; None of none.

    The mean of dry ÷ fresh without outliers: from four on, those whose distance from the median is
    over 3.5 times 1.4826 times the median distance.

    >>> learned_shrinkage([(900, 160), (500, 100)]).share
    0.188
    """
    shares = []
    for fresh_g, dry_g in dried:
        more_than_nothing(fresh_g, "The fresh weight", "g")
        more_than_nothing(dry_g, "The dried weight", "g")
        shares.append(dry_g / fresh_g)
    if not shares:
        return None
    kept = shares
    if len(shares) >= FEW:
        middle = median(shares)
        scatter = max(LEAST_SCATTER, 1.4826 * median(abs(share - middle) for share in shares))
        kept = [share for share in shares if abs(share - middle) <= ODD_SCORE * scatter]
    return Shrinkage(fmean(kept), min(kept), max(kept), len(kept), len(shares) - len(kept))
