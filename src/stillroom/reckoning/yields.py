"""How much tincture to expect from a jar: the liquid in it less what the marc holds back."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import hypot, sqrt
from statistics import fmean, median, stdev

from stillroom.reckoning.alcoholometry import WATER_G_PER_ML
from stillroom.reckoning.charge import Condition
from stillroom.reckoning.drying import DRIED_WATER_FRACTION
from stillroom.reckoning.limits import at_least_nothing, more_than_nothing


class Pressing(StrEnum):
    """How the liquid is got out of the marc."""

    DRAINED = "drained"
    SQUEEZED = "squeezed"
    PRESSED = "pressed"
    NOT_KNOWN = "pressing not known"
    """Of a jar from a notebook that leaves it out."""


KNOWN_PRESSINGS = (Pressing.DRAINED, Pressing.SQUEEZED, Pressing.PRESSED)
"""What a person may choose."""


@dataclass(frozen=True)
class Retention:
    """What a gram of dried herb holds back of the liquid poured on it, in mL, as published."""

    mean: float
    low: float
    high: float
    source: str


RETENTION = {
    Pressing.DRAINED: Retention(
        1.75, 1.5, 2.0, "Decoction machine guidance: 1.5–2.0 mL of water per g, drained."
    ),
    Pressing.SQUEEZED: Retention(
        1.70,
        1.56,
        1.83,
        "Michael Moore's manual: 4 oz of dry root in 20 fl oz gives 13–14 fl oz squeezed by hand.",
    ),
    Pressing.PRESSED: Retention(
        0.78,
        0.5,
        1.0,
        "Michael Moore's manual, same jar: up to 17 fl oz from a press. Kooperation "
        "Phytopharmaka: 1:5 ends as 1:4 to 1:4.5 by what is recovered.",
    ),
}

OWN_WATER_ML_PER_G = DRIED_WATER_FRACTION / WATER_G_PER_ML
"""The published figures leave the dried herb's own water out: they are what was poured on less
what came out. All the liquid in a jar counts that water, so the marc is taken to keep it too."""

_BETWEEN_HERBS = {
    (Condition.DRIED, Pressing.DRAINED): 0.60,
    (Condition.DRIED, Pressing.SQUEEZED): 0.40,
    (Condition.DRIED, Pressing.PRESSED): 0.25,
    (Condition.FRESH, Pressing.DRAINED): 1.10,
    (Condition.FRESH, Pressing.SQUEEZED): 1.10,
    (Condition.FRESH, Pressing.PRESSED): 1.60,
}
"""Standard deviation from one herb to the next, mL per g of dried weight. Judgement: no table by
plant is published. Fresh herb has no published figure at all: two spreads above the mean of dried
herb are the water that fresh leaf itself holds, 4 mL per g at 80 %."""

_BETWEEN_STRAININGS = {Condition.DRIED: 0.20, Condition.FRESH: 0.35}
"""Standard deviation from one straining of a herb to the next. Judgement: Moore's one jar gives 13
to 14 fl oz, 0.13 mL per g to either side; no two squeeze alike, and the water in fresh herb varies.
"""

_SCATTER_WEIGHT = 4
"""How many strainings that judgement of their scatter counts for. Judgement."""

OTHER_HERBS_WEIGHT = 2
"""How many strainings of other herbs the published figure counts for. Judgement."""

SPREADS_IN_RANGE = 2.0
"""About 19 of 20 strainings are within two spreads of the mean."""

SPREADS_TO_ASK = 3.0
"""A straining further off than this is asked about. Judgement."""

JUDGED_BY_THEIR_OWN = 4
"""From this many on, strainings are judged by their own median, no longer by what is published."""

ODD_SCORE = 3.5
"""Modified z-score from which a value is an outlier. Iglewicz and Hoaglin, in the NIST/SEMATECH
e-Handbook of Statistical Methods, section 1.3.5.17."""

NEAR_ENOUGH = 0.25
"""A yield this close to the one expected, as a share of the liquid in the jar, isn't asked about:
cloths, filters and spills take that much now and then. Judgement."""


MEASURING_SLACK = 1.01
"""A yield up to a hundredth above what was in the jar passes as a reading of the jug."""


@dataclass(frozen=True)
class Prior:
    """What a marc is expected to keep before any straining of one's own, mL per g of dried herb."""

    mean: float
    """Of all the liquid in the jar, the herb's own water with it."""
    between_herbs: float
    between_strainings: float
    """Standard deviations."""

    @property
    def spread(self) -> float:
        """Of the first straining of a herb."""
        return hypot(self.between_herbs, self.between_strainings)


def prior(pressing: Pressing, condition: Condition = Condition.DRIED) -> Prior:
    """Returns what to expect of a marc before any straining of one's own.

    >>> round(prior(Pressing.SQUEEZED).mean, 2), round(prior(Pressing.SQUEEZED).spread, 2)
    (1.8, 0.45)
    """
    return Prior(
        RETENTION[pressing].mean + OWN_WATER_ML_PER_G,
        _BETWEEN_HERBS[condition, pressing],
        _BETWEEN_STRAININGS[condition],
    )


@dataclass(frozen=True)
class LearnedRetention:
    """What the marc holds back, from the published figure and one's own strainings together."""

    mean: float
    """mL per g of dried herb, of all the liquid in the jar."""
    spread: float
    """Standard deviation to expect in the next straining."""
    own_count: int
    """Strainings it rests on."""
    own_mean: float | None
    own_spread: float | None
    """None with fewer than two strainings."""
    odd_count: int
    """Strainings left out, too far from the others or from what is published."""
    prior_weight: float
    """How many strainings the published figure counts for."""
    least: float
    most: float
    """A value outside is asked about; the lower end may be negative."""

    @property
    def low(self) -> float:
        return max(0.0, self.mean - SPREADS_IN_RANGE * self.spread)

    @property
    def high(self) -> float:
        return self.mean + SPREADS_IN_RANGE * self.spread


def retention_seen(liquid_ml: float, yield_ml: float, dried_g: float) -> float:
    """Returns what the marc of a finished straining held back, in mL per g of dried herb.

    (liquid in the jar − yield) / dried equivalent; none when more came out than is reckoned to
    have been in.

    >>> retention_seen(500, 330, 100), retention_seen(500, 502, 100)
    (1.7, 0.0)
    """
    at_least_nothing(liquid_ml, "The liquid in the jar", "mL")
    at_least_nothing(yield_ml, "The yield", "mL")
    more_than_nothing(dried_g, "The dried weight of herb", "g")
    return max(0.0, liquid_ml - yield_ml) / dried_g


def is_possible(liquid_ml: float, yield_ml: float) -> bool:
    """Returns whether a jar can have given this, allowing for the reading of the jug.

    >>> is_possible(510, 512), is_possible(510, 2500)
    (True, False)
    """
    return yield_ml <= liquid_ml * MEASURING_SLACK


def _without_odd(own: Sequence[float], before: Prior) -> list[float]:
    """Strainings that agree: with what is published while they are few, later with each other.

    Few are compared with the first straining to expect, in spreads; from four on each is compared
    with their median, by the median distance from it. It goes on until none is left out.
    """
    kept = list(own)
    while True:
        if len(kept) < JUDGED_BY_THEIR_OWN:
            middle, most = before.mean, SPREADS_TO_ASK * before.spread
        else:
            middle = median(kept)
            distance = 1.4826 * median(abs(x - middle) for x in kept)
            most = ODD_SCORE * max(before.between_strainings, distance)
        agreeing = [x for x in kept if abs(x - middle) <= most]
        if len(agreeing) == len(kept):
            return kept
        kept = agreeing


def learned_retention(
    pressing: Pressing,
    own: Sequence[float] = (),
    condition: Condition = Condition.DRIED,
    *,
    same_herb: bool = True,
) -> LearnedRetention:
    """Returns the retention to expect, the published prior combined with one's own strainings.

    `own` holds strainings of this herb, in this condition and pressed this way; those that are far
    off are left out. Their variance v is pooled from the prior's and their own scatter; the prior
    then counts as k = v / (variance between herbs) strainings: mean (k·μ + Σx) / (k + n), variance
    of the next v·(1 + 1/(k + n)). The normal model, as in Gelman et al., Bayesian Data Analysis,
    3rd ed., sections 2.5 and 5.4 (from memory). Strainings of other herbs move the mean, as two of
    them would, and leave the spread between herbs as it is.

    >>> round(learned_retention(Pressing.SQUEEZED).mean, 2)
    1.8
    >>> round(learned_retention(Pressing.SQUEEZED, [2.0, 2.0]).mean, 2)
    1.98
    """
    before = prior(pressing, condition)
    kept = _without_odd(own, before)
    n = len(kept)
    own_mean = fmean(kept) if kept else None
    scatter = sum((x - own_mean) ** 2 for x in kept) if own_mean is not None else 0.0
    within = before.between_strainings**2
    variance = (_SCATTER_WEIGHT * within + scatter) / (_SCATTER_WEIGHT + max(n - 1, 0))
    k = variance / before.between_herbs**2 if same_herb else OTHER_HERBS_WEIGHT
    mean = (k * before.mean + sum(kept)) / (k + n)
    spread = sqrt(variance * (1.0 + 1.0 / (k + n))) if same_herb else before.spread
    is_known = n >= JUDGED_BY_THEIR_OWN
    middle, step = (mean, spread) if is_known else (before.mean, before.spread)
    return LearnedRetention(
        mean=mean,
        spread=spread,
        own_count=n,
        own_mean=own_mean,
        own_spread=stdev(kept) if n > 1 else None,
        odd_count=len(own) - n,
        prior_weight=k,
        least=middle - SPREADS_TO_ASK * step,
        most=middle + SPREADS_TO_ASK * step,
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
    dried_g: float

    def is_odd(self, yield_ml: float) -> bool:
        """Whether a yield is so far from this, on either side, that it may be a slip.

        >>> expected = expected_yield(510, 100, Pressing.SQUEEZED)
        >>> [ml for ml in (34, 150, 340, 480, 505) if expected.is_odd(ml)]
        [34, 150, 480, 505]
        """
        if abs(yield_ml - self.yield_ml) <= NEAR_ENOUGH * self.theoretical_ml:
            return False
        kept_ml = self.theoretical_ml - yield_ml
        learned, dried_g = self.retention, self.dried_g
        return not learned.least * dried_g <= kept_ml <= learned.most * dried_g


def expected_yield(
    liquid_ml: float,
    dried_g: float,
    pressing: Pressing,
    own: Sequence[float] = (),
    condition: Condition = Condition.DRIED,
    *,
    same_herb: bool = True,
) -> ExpectedYield:
    """Returns the yield to expect: liquid in the jar − retention · dried weight, with its range.

    `own` holds what one's own earlier marcs kept, from `retention_seen`. Never below zero or above
    the liquid in the jar.

    >>> round(expected_yield(600, 100, Pressing.SQUEEZED).yield_ml)
    420
    """
    at_least_nothing(liquid_ml, "The liquid in the jar", "mL")
    at_least_nothing(dried_g, "The dried weight of herb", "g")
    learned = learned_retention(pressing, own, condition, same_herb=same_herb)

    def left(retention: float) -> float:
        return min(liquid_ml, max(0.0, liquid_ml - retention * dried_g))

    return ExpectedYield(
        left(learned.mean), left(learned.high), left(learned.low), liquid_ml, learned, dried_g
    )


def share_of_theoretical(yield_ml: float, liquid_ml: float) -> float:
    """Returns a yield as a percentage of all the liquid in the jar, as batch records state it.

    21 CFR 111.260(f) and 211.188(b)(7) ask for the actual yield and the percentage of theoretical.

    >>> share_of_theoretical(430, 600)
    71.7
    """
    at_least_nothing(yield_ml, "The yield", "mL")
    return 100.0 * yield_ml / more_than_nothing(liquid_ml, "The liquid in the jar", "mL")
