"""How much tincture to expect from a jar: the liquid in it less what the marc holds back."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import sqrt
from statistics import fmean, stdev

from stillroom.reckoning.limits import at_least_nothing, more_than_nothing


class Pressing(StrEnum):
    """How the liquid is got out of the marc."""

    DRAINED = "drained"
    SQUEEZED = "squeezed"
    PRESSED = "pressed"


@dataclass(frozen=True)
class Retention:
    """What a gram of dried herb holds back, in mL, before any straining of one's own."""

    mean: float
    low: float
    """As published."""
    high: float
    spread: float
    """Standard deviation from one herb to the next: judgement, wider than the published range."""
    source: str


RETENTION = {
    Pressing.DRAINED: Retention(
        1.75, 1.5, 2.0, 0.5, "Decoction machine guidance: 1.5–2.0 mL of water per g, drained."
    ),
    Pressing.SQUEEZED: Retention(
        1.70,
        1.56,
        1.83,
        0.4,
        "Michael Moore's manual: 4 oz of dry root in 20 fl oz gives 13–14 fl oz squeezed by hand.",
    ),
    Pressing.PRESSED: Retention(
        0.78,
        0.5,
        1.0,
        0.25,
        "Michael Moore's manual, same jar: up to 17 fl oz from a press. Kooperation "
        "Phytopharmaka: 1:5 ends as 1:4 to 1:4.5 by what is recovered.",
    ),
}

PRIOR_WEIGHT = 2
"""The published figure counts as this many strainings of one's own. Judgement."""


@dataclass(frozen=True)
class LearnedRetention:
    """What the marc holds back, from the published figure and one's own strainings together."""

    mean: float
    """mL per g of dried herb."""
    spread: float
    """Standard deviation to expect in the next straining."""
    own_count: int
    own_mean: float | None
    own_spread: float | None
    """None with fewer than two strainings."""

    @property
    def low(self) -> float:
        return max(0.0, self.mean - 2.0 * self.spread)

    @property
    def high(self) -> float:
        return self.mean + 2.0 * self.spread


def retention_seen(liquid_ml: float, yield_ml: float, dried_g: float) -> float:
    """Returns what the marc of a finished straining held back, in mL per g of dried herb.

    (liquid in the jar − yield) / dried equivalent; below zero when more came out than is reckoned
    to have been in.

    >>> retention_seen(500, 330, 100)
    1.7
    """
    at_least_nothing(liquid_ml, "The liquid in the jar", "mL")
    at_least_nothing(yield_ml, "The yield", "mL")
    more_than_nothing(dried_g, "The dried weight of herb", "g")
    return (liquid_ml - yield_ml) / dried_g


def learned_retention(pressing: Pressing, own: Sequence[float] = ()) -> LearnedRetention:
    """Returns the retention to expect, the published prior combined with one's own strainings.

    The prior counts as two strainings: mean (2·μ + Σx) / (2 + n), and a variance pooled from the
    prior's, one's own scatter, and the distance between the two. The normal model with unknown
    mean and variance; Gelman et al., Bayesian Data Analysis, 3rd ed., section 3.3 (from memory).

    >>> learned_retention(Pressing.SQUEEZED).mean
    1.7
    >>> learned_retention(Pressing.SQUEEZED, [2.0, 2.0]).mean
    1.85
    """
    prior, n = RETENTION[pressing], len(own)
    k = PRIOR_WEIGHT
    if n == 0:
        return LearnedRetention(prior.mean, prior.spread, 0, None, None)
    own_mean = fmean(own)
    scatter = sum((x - own_mean) ** 2 for x in own)
    distance = k * n / (k + n) * (own_mean - prior.mean) ** 2
    variance = (k * prior.spread**2 + scatter + distance) / (k + n)
    return LearnedRetention(
        mean=(k * prior.mean + sum(own)) / (k + n),
        spread=sqrt(variance * (1.0 + 1.0 / (k + n))),
        own_count=n,
        own_mean=own_mean,
        own_spread=stdev(own) if n > 1 else None,
    )


@dataclass(frozen=True)
class ExpectedYield:
    """What a straining should give."""

    yield_ml: float
    low_ml: float
    high_ml: float
    """Low and high are two spreads to either side."""
    theoretical_ml: float
    """All the liquid in the jar; no straining gives more."""
    retention: LearnedRetention


def expected_yield(
    liquid_ml: float, dried_g: float, pressing: Pressing, own: Sequence[float] = ()
) -> ExpectedYield:
    """Returns the yield to expect: liquid in the jar − retention · dried weight, with its range.

    `own` holds what one's own earlier marcs kept, from `retention_seen`. Never below zero or above
    the liquid in the jar.

    >>> expected_yield(600, 100, Pressing.SQUEEZED).yield_ml
    430.0
    """
    at_least_nothing(liquid_ml, "The liquid in the jar", "mL")
    at_least_nothing(dried_g, "The dried weight of herb", "g")
    learned = learned_retention(pressing, own)

    def left(retention: float) -> float:
        return min(liquid_ml, max(0.0, liquid_ml - retention * dried_g))

    return ExpectedYield(
        left(learned.mean), left(learned.high), left(learned.low), liquid_ml, learned
    )


def share_of_theoretical(yield_ml: float, liquid_ml: float) -> float:
    """Returns a yield as a percentage of all the liquid in the jar, as batch records state it.

    21 CFR 111.260(f) and 211.188(b)(7) ask for the actual yield and the percentage of theoretical.

    >>> share_of_theoretical(430, 600)
    71.7
    """
    at_least_nothing(yield_ml, "The yield", "mL")
    return 100.0 * yield_ml / more_than_nothing(liquid_ml, "The liquid in the jar", "mL")
