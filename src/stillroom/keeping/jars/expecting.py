"""What to expect of a straining, and what to ask where it came out otherwise."""

from dataclasses import dataclass, replace

from stillroom.keeping.bottles.tinctures import charge_views
from stillroom.keeping.cards import JarCard
from stillroom.keeping.jars.learning import JarToStrain, chief_condition, own_strainings
from stillroom.keeping.jars.liquid import outlook, pour_views
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.views import ChargeView, JarView, Outlook, PourView, YieldOutlook
from stillroom.keeping.wording import Wording, wording
from stillroom.reckoning.charge import Condition, dried_mass_g
from stillroom.reckoning.yields import MEASURING_SLACK, ExpectedYield, Pressing, expected_yield

BY_EYE_SLACK = 2.0
"""With fresh herb of unknown mass its water may double the liquid at most; judgement, as the usual
1:2 of fresh herb at 80 % water adds two fifths."""

LEAST_BY_EYE = 0.2
"""Less than this share of what was poured is asked about where no herb was weighed; judgement: a
slip of one digit gives a tenth, and even drained herb at 1:2 leaves more."""

STRENGTH_SLACK_ABV = 1e-6
"""A strength typed as it is printed may be this much above the one it repeats."""

LEAST_OF_STRENGTH = 0.5
"""A measured strength under this share of the calculated one is asked about. Judgement: twice the
usual water in fresh herb at 1:2 does not halve it."""


def yield_outlook(keeper: Keeper, jar: JarToStrain, pressing: Pressing) -> YieldOutlook:
    """What straining this jar may bring; figures only where every mass is known."""
    expected = expected_of(keeper, jar, pressing)
    if expected is None:
        return YieldOutlook(None, None, None, None, 0)
    return YieldOutlook(
        expected.theoretical_ml,
        expected.yield_ml,
        expected.low_ml,
        expected.high_ml,
        expected.retention.own_count,
    )


@dataclass(frozen=True)
class JarInBrief:
    """The facts of a jar that decide how much may come out of it."""

    jar_id: int
    charges: tuple[ChargeView, ...]
    pours: tuple[PourView, ...]
    outlook: Outlook
    capacity_ml: float | None = None


def in_brief(keeper: Keeper, jar_id: int) -> JarInBrief:
    """A jar by what went into it."""
    charges, pours = charge_views(keeper, jar_id), pour_views(keeper, jar_id)
    return JarInBrief(jar_id, charges, pours, outlook(charges, pours))


def press_ml(keeper: Keeper, card: JarCard) -> float | None:
    """What a press is expected to give of a drained jar; None where that can't be predicted."""
    jar = in_brief(keeper, card.jar_id)
    found = yield_outlook(keeper, jar, Pressing.PRESSED)
    return press_outlook(found, card.drained_ml or 0.0).expected_ml


def unpredictable(jar: JarView) -> str:
    """Why the yield of a jar can't be predicted."""
    if jar.marc_of:
        return "A second pour has no weight of herb, so the yield can't be predicted."
    return "Filled by eye, so the yield can't be predicted."


def press_outlook(found: YieldOutlook, got_ml: float) -> YieldOutlook:
    """What one more go may bring of a jar that gave `got_ml`: what is expected less that."""
    if found.expected_ml is None or found.low_ml is None or found.high_ml is None:
        return found
    return replace(
        found,
        expected_ml=max(0.0, found.expected_ml - got_ml),
        low_ml=max(0.0, found.low_ml - got_ml),
        high_ml=max(0.0, found.high_ml - got_ml),
    )


def expected_of(keeper: Keeper, jar: JarToStrain, pressing: Pressing) -> ExpectedYield | None:
    """The yield of a jar, by its marc; None where a mass or what was poured isn't known."""
    dried_g = dried_mass_g([c.charge for c in jar.charges])
    condition = chief_condition(jar)
    if dried_g is None or not jar.pours:
        return None
    if pressing is Pressing.NOT_KNOWN or condition is Condition.NOT_KNOWN:
        return None
    own = own_strainings(keeper, pressing, jar)
    return expected_yield(
        jar.outlook.volume_ml,
        dried_g,
        pressing,
        [each.retention for each in own],
        condition,
        same_herb=all(each.is_same_herb for each in own),
    )


def most_possible_ml(jar: JarToStrain) -> float:
    """The most liquid that can come out of a jar, by what is known of it."""
    if not jar.outlook.is_partial:
        return jar.outlook.volume_ml * MEASURING_SLACK
    if jar.capacity_ml is not None:
        return jar.capacity_ml
    much_hidden = any(
        (c.mass_g is None and c.condition == Condition.FRESH) or not c.charge.is_water_known
        for c in jar.charges
    )
    return jar.outlook.volume_ml * (BY_EYE_SLACK if much_hidden else MEASURING_SLACK)


def oddities(
    keeper: Keeper,
    jar: JarToStrain,
    yield_ml: float,
    pressing: Pressing,
    measured_abv: float | None,
) -> tuple[str, str]:
    """The questions about an unlikely yield and measured strength; blank if both are likely."""
    said = wording(keeper)
    odd_yield = _odd_yield(jar, yield_ml, expected_of(keeper, jar, pressing), said)
    return odd_yield, strength_oddity(jar, measured_abv, said)


def _odd_yield(
    jar: JarToStrain, yield_ml: float, expected: ExpectedYield | None, said: Wording
) -> str:
    """The question about an unlikely yield; blank if it is likely."""
    if too_much := more_than_held(jar, yield_ml, said):
        return too_much
    typed = said.volume(yield_ml)
    if expected is not None:
        if not expected.is_odd(yield_ml):
            return ""
        far = "more" if yield_ml > expected.yield_ml else "less"
        return f"{typed} is far {far} than the {said.volume(expected.yield_ml)} expected."
    if yield_ml < LEAST_BY_EYE * jar.outlook.volume_ml:
        return f"{typed} is far less than the {said.volume(jar.outlook.volume_ml)} poured."
    return ""


def more_than_held(jar: JarToStrain, yield_ml: float, said: Wording) -> str:
    """The question about a yield above all that the jar can have held; blank if it isn't."""
    most_ml = most_possible_ml(jar)
    if yield_ml <= most_ml:
        return ""
    return (
        f"{said.volume(yield_ml)} is more than the {said.volume(most_ml)} this jar can have held."
    )


def strength_oddity(jar: JarToStrain, measured_abv: float | None, said: Wording) -> str:
    """The question about an unlikely measured strength; blank if it is likely."""
    if measured_abv is None:
        return ""
    strongest_abv = max(pour.strength_abv for pour in jar.pours)
    if measured_abv > strongest_abv + STRENGTH_SLACK_ABV:
        return (
            f"{said.strength(measured_abv)} is stronger than anything poured into the jar: "
            f"{said.strength(strongest_abv)} at most."
        )
    reckoned_abv = jar.outlook.strength_abv
    if measured_abv < LEAST_OF_STRENGTH * reckoned_abv:
        return (
            f"{said.strength(measured_abv)} is less than half of the "
            f"{said.strength(reckoned_abv)} calculated."
        )
    return ""
