"""The straining: what to expect of it, what came of it, and the tincture it makes."""

from collections.abc import Sequence
from dataclasses import dataclass

from stillroom.errors import NeedsConfirmation, NotUnderstood, Refused
from stillroom.keeping.bottles.status import first_status
from stillroom.keeping.bottles.tinctures import tincture_view
from stillroom.keeping.drafts import StrainDraft
from stillroom.keeping.jars.jar import steeping_jar
from stillroom.keeping.jars.jar_view import jar_view, narrowed
from stillroom.keeping.jars.learning import JarToStrain, chief_condition, own_strainings
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.views import (
    ChargeView,
    Outlook,
    PourView,
    TinctureView,
    YieldOutlook,
)
from stillroom.keeping.wording import Wording, wording
from stillroom.keeping.words import clean_note
from stillroom.reckoning.charge import (
    Condition,
    Keeping,
    dried_mass_g,
    will_it_keep,
)
from stillroom.reckoning.kinds import Figure, Kind
from stillroom.reckoning.shelf_life import keep_until
from stillroom.reckoning.states import BatchStatus, JarState, StrengthBy
from stillroom.reckoning.weighing import contents_ml
from stillroom.reckoning.yields import (
    MEASURING_SLACK,
    ExpectedYield,
    Pressing,
    expected_yield,
)
from stillroom.records.tables import Jar, Straining, Tincture

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

NOT_WEIGHED = "Leave this blank unless the yield is a weight."


def yield_outlook(keeper: Keeper, jar: JarToStrain, pressing: Pressing) -> YieldOutlook:
    """What straining this jar may bring; figures only where every mass is known."""
    expected = _expected(keeper, jar, pressing)
    if expected is None:
        return YieldOutlook(None, None, None, None, 0)
    return YieldOutlook(
        expected.theoretical_ml,
        expected.yield_ml,
        expected.low_ml,
        expected.high_ml,
        expected.retention.own_count,
    )


def _expected(keeper: Keeper, jar: JarToStrain, pressing: Pressing) -> ExpectedYield | None:
    dried_g = dried_mass_g([c.charge for c in jar.charges])
    if dried_g is None or not jar.pours:
        return None
    own = own_strainings(keeper, pressing, jar)
    return expected_yield(
        jar.outlook.volume_ml,
        dried_g,
        pressing,
        [each.retention for each in own],
        chief_condition(jar),
        same_herb=all(each.is_same_herb for each in own),
    )


def strained_ml(
    jar: JarToStrain,
    measured: Figure,
    tare_g: float | None,
    measured_abv: float | None,
    said: Wording,
) -> float:
    """The yield in mL: as measured, or from a weight by the density of its strength.

    `tare_g` is the weight of the empty container. Raises NotUnderstood where the weights can't be,
    and where there is a tare for what was not weighed.
    """
    if measured.kind is Kind.VOLUME:
        if tare_g:
            raise NotUnderstood(NOT_WEIGHED)
        return measured.value
    try:
        return contents_ml(measured.value, tare_g or 0.0, measured_abv or jar.outlook.strength_abv)
    except ValueError as error:
        raise NotUnderstood(said.refusal(error)) from error


def strain(keeper: Keeper, draft: StrainDraft) -> TinctureView:
    """Write down a straining; the liquid becomes a tincture under the jar's code.

    Raises NeedsConfirmation when more came out than could be there, when it is far from what is
    expected, or when the strength measured cannot be, until it is confirmed.
    """
    with keeper.act("Strained a jar") as act:
        record = steeping_jar(draft.jar_id)
        jar = jar_view(keeper, draft.jar_id)
        if not jar.pours:
            raise Refused("No liquid is recorded for this jar. Add it first.")
        if draft.yield_ml <= 0:
            raise Refused("The yield must be greater than zero. If the jar failed, discard it.")
        if draft.strained_on > act.day:
            raise Refused("The straining date is in the future.")
        if draft.strained_on < record.filled_on:
            raise Refused("The straining date is before the filling date.")
        expected = _expected(keeper, jar, draft.pressing)
        odd_yield, odd_strength = oddities(
            keeper, jar, draft.yield_ml, draft.pressing, draft.measured_abv
        )
        odd = " ".join(filter(None, (odd_yield, odd_strength)))
        if odd and not draft.confirmed:
            raise NeedsConfirmation(f"{odd} Save anyway?")
        strength, strength_by, keeping = finished(jar.outlook, draft.yield_ml, draft.measured_abv)
        made = Strained(
            strength,
            strength_by,
            jar.outlook.ratio,
            keeping,
            liquid_ml=known_liquid_ml(jar.charges, jar.pours, jar.outlook),
            expected_ml=expected.yield_ml if expected else None,
            is_odd=bool(odd_yield),
            status=first_status(keeper),
        )
        tincture_id = write_straining(draft, record.code, made)
        act.title = f"Strained {jar.card.herb} {record.code}"
        done = f"{wording(keeper).volume(draft.yield_ml)} {draft.pressing}"
        act.note("strained", done, jar_id=draft.jar_id, tincture_id=tincture_id)
        return tincture_view(keeper, tincture_id)


@dataclass(frozen=True)
class Strained:
    """What is calculated of a straining, where it is known."""

    strength_abv: float | None
    strength_by: StrengthBy
    ratio: float | None
    keeping: Keeping | None
    liquid_ml: float | None = None
    """What was in the jar."""
    expected_ml: float | None = None
    is_odd: bool = False
    """Whether the yield was asked about and confirmed."""
    status: BatchStatus | None = None


def write_straining(draft: StrainDraft, code: str, made: Strained) -> int:
    """Write the rows of a straining inside a running act, its draft checked.

    Returns the id of the tincture, which gets the jar's `code`.
    """
    straining_id = Straining.insert(
        jar=draft.jar_id,
        strained_on=draft.strained_on,
        yield_ml=draft.yield_ml,
        pressing=draft.pressing,
        marc_g=draft.marc_g,
        measured_abv=draft.measured_abv,
        liquid_ml=made.liquid_ml,
        expected_ml=made.expected_ml,
        confirmed=made.is_odd,
        note=clean_note(draft.note),
    ).execute()
    Jar.update(state=JarState.STRAINED, ended_on=draft.strained_on).where(
        Jar.id == draft.jar_id
    ).execute()
    made_on = draft.strained_on
    return int(
        Tincture.insert(
            code=code,
            straining=straining_id,
            made_on=made_on,
            volume_ml=draft.yield_ml,
            strength_abv=made.strength_abv,
            strength_by=made.strength_by,
            ratio=made.ratio,
            keep_until=None if made.keeping is None else keep_until(made_on, made.keeping),
            status=made.status,
        ).execute()
    )


def most_possible_ml(jar: JarToStrain) -> float:
    """The most liquid that can come out of a jar, by what is known of it."""
    if not jar.outlook.is_partial:
        return jar.outlook.volume_ml * MEASURING_SLACK
    if jar.capacity_ml is not None:
        return jar.capacity_ml
    fresh_by_eye = any(c.mass_g is None and c.condition == Condition.FRESH for c in jar.charges)
    return jar.outlook.volume_ml * (BY_EYE_SLACK if fresh_by_eye else MEASURING_SLACK)


def oddities(
    keeper: Keeper,
    jar: JarToStrain,
    yield_ml: float,
    pressing: Pressing,
    measured_abv: float | None,
) -> tuple[str, str]:
    """What to ask about a yield and about a measured strength; blank where there is nothing."""
    said = wording(keeper)
    odd_yield = _odd_yield(jar, yield_ml, _expected(keeper, jar, pressing), said)
    return odd_yield, _odd_strength(jar, measured_abv, said)


def _odd_yield(
    jar: JarToStrain, yield_ml: float, expected: ExpectedYield | None, said: Wording
) -> str:
    """What to ask about a yield; blank where it is nothing out of the way."""
    typed, most_ml = said.volume(yield_ml), most_possible_ml(jar)
    if yield_ml > most_ml:
        return f"{typed} is more than the {said.volume(most_ml)} this jar can have held."
    if expected is not None:
        if not expected.is_odd(yield_ml):
            return ""
        far = "more" if yield_ml > expected.yield_ml else "less"
        return f"{typed} is far {far} than the {said.volume(expected.yield_ml)} expected."
    if yield_ml < LEAST_BY_EYE * jar.outlook.volume_ml:
        return f"{typed} is far less than the {said.volume(jar.outlook.volume_ml)} poured."
    return ""


def _odd_strength(jar: JarToStrain, measured_abv: float | None, said: Wording) -> str:
    """What to ask about a measured strength; blank where it can be."""
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


def known_liquid_ml(
    charges: Sequence[ChargeView], pours: Sequence[PourView], found: Outlook
) -> float | None:
    """All the liquid in a jar; None where a mass or what was poured isn't known."""
    is_known = bool(pours) and dried_mass_g([each.charge for each in charges]) is not None
    return found.volume_ml if is_known else None


def finished(
    found: Outlook, yield_ml: float, measured_abv: float | None
) -> tuple[float, StrengthBy, Keeping]:
    """The strength of what was strained, how it is known, and whether it will keep."""
    if measured_abv is not None:
        return measured_abv, StrengthBy.MEASURED, will_it_keep(measured_abv)
    known_by = StrengthBy.ESTIMATED if found.is_partial else StrengthBy.CALCULATED
    proven = narrowed(found, yield_ml)
    return proven.strength_abv, known_by, Keeping(proven.keeps)
