"""The straining: what to expect of it, what came of it, and the tincture it makes."""

from dataclasses import dataclass
from itertools import groupby
from operator import itemgetter

from ..errors import NeedsConfirmation, Refused
from ..reckoning.charge import (
    Charge,
    Condition,
    Keeping,
    Part,
    default_water_fraction,
    dried_mass_g,
    will_it_keep,
)
from ..reckoning.shelf_life import keep_until
from ..reckoning.yields import Pressing, expected_yield, retention_seen
from ..records.tables import Jar, Straining, Tincture
from .drafts import StrainDraft
from .jar_page import jar_view
from .jars import steeping_jar
from .keeper import Keeper
from .tinctures import tincture_view
from .views import JarView, TinctureView, YieldOutlook
from .wording import Wording, wording
from .words import clean_note

MEASURING_SLACK = 1.01
"""A yield up to a hundredth above what was in the jar passes as a reading of the jug."""

BY_EYE_SLACK = 2.0
"""With fresh herb of unknown mass its water may double the liquid at most; judgement, as the usual
1:2 of fresh herb at 80 % water adds two fifths."""


def yield_outlook(keeper: Keeper, jar: JarView, pressing: Pressing) -> YieldOutlook:
    """What straining this jar may bring; figures only where every mass is known."""
    dried_g = _dried_g(jar)
    own = own_retentions(keeper, jar, pressing)
    if dried_g is None or not jar.pours:
        return YieldOutlook(None, None, None, None, len(own))
    liquid_ml = jar.outlook.volume_ml
    expected = expected_yield(liquid_ml, dried_g, pressing, own)
    return YieldOutlook(liquid_ml, expected.yield_ml, expected.low_ml, expected.high_ml, len(own))


@dataclass(frozen=True)
class OwnStraining:
    """What went into a straining of the keeper's own, and what came out."""

    liquid_ml: float
    dried_g: float
    yield_ml: float


def own_retentions(keeper: Keeper, jar: JarView, pressing: Pressing) -> list[float]:
    """What the marc kept, mL per g dried, in the keeper's own strainings pressed this way."""
    return [
        retention_seen(own.liquid_ml, own.yield_ml, own.dried_g)
        for own in own_strainings(keeper, pressing, jar)
    ]


def own_strainings(
    keeper: Keeper, pressing: Pressing, jar: JarView | None = None
) -> list[OwnStraining]:
    """The keeper's own strainings pressed this way, as far as every mass was known, oldest first.

    Those of a jar's first herb and part where there are any, otherwise those of every herb.
    """
    herb_id, part = (jar.charges[0].herb_id, jar.charges[0].part) if jar else (None, None)
    lines = keeper.rows(
        """SELECT s.id, s.liquid_ml, s.yield_ml, l.herb_id IS ? AND l.part IS ?,
                  l.part, l.condition, l.mass_g, l.water_fraction
           FROM straining s JOIN charge_line l ON l.jar_id = s.jar_id
           WHERE s.pressing = ? AND s.liquid_ml IS NOT NULL ORDER BY s.id""",
        herb_id,
        part,
        pressing.value,
    )
    same, every = [], []
    for _, straining in groupby(lines, key=itemgetter(0)):
        (_, liquid, out, *_), *_ = rows = list(straining)
        dried_g = dried_mass_g([_charge(*row[4:]) for row in rows])
        if dried_g:
            own = OwnStraining(liquid, dried_g, out)
            every.append(own)
            if any(row[3] for row in rows):
                same.append(own)
    return same or every


def _charge(part: str, condition: str, mass_g: float | None, water: float | None) -> Charge:
    if water is None:
        water = default_water_fraction(Part(part), Condition(condition))
    return Charge(mass_g, water)


def strain(keeper: Keeper, draft: StrainDraft) -> TinctureView:
    """Write down a straining; the liquid becomes a tincture under the jar's code.

    Raises NeedsConfirmation when more came out than could be there, until it is confirmed.
    """
    with keeper.act("Strained a jar") as act:
        record = steeping_jar(draft.jar_id)
        jar = jar_view(keeper, draft.jar_id)
        if not jar.pours:
            raise Refused("Nothing is written of the liquid in this jar: add that first.")
        if draft.yield_ml <= 0:
            raise Refused("The yield must be more than nothing; a failed jar is discarded instead.")
        if draft.strained_on > act.day:
            raise Refused("The day of straining lies in the future.")
        if draft.strained_on < record.filled_on:
            raise Refused("The day of straining lies before the day of filling.")
        if not draft.confirmed:
            _refuse_impossible(jar, draft.yield_ml, wording(keeper))
        expected = yield_outlook(keeper, jar, draft.pressing)
        straining_id = Straining.insert(
            jar=draft.jar_id,
            strained_on=draft.strained_on,
            yield_ml=draft.yield_ml,
            pressing=draft.pressing,
            marc_g=draft.marc_g,
            measured_abv=draft.measured_abv,
            liquid_ml=expected.liquid_ml,
            expected_ml=expected.expected_ml,
            confirmed=draft.confirmed,
            note=clean_note(draft.note),
        ).execute()
        Jar.update(state="strained", ended_on=draft.strained_on).where(
            Jar.id == draft.jar_id
        ).execute()
        strength, strength_by, keeping = _finished(jar, draft)
        tincture_id = Tincture.insert(
            code=record.code,
            straining=straining_id,
            made_on=draft.strained_on,
            volume_ml=draft.yield_ml,
            strength_abv=strength,
            strength_by=strength_by,
            ratio=jar.outlook.ratio,
            keep_until=keep_until(draft.strained_on, keeping),
        ).execute()
        act.title = f"Strained {jar.card.herb} {record.code}"
        done = f"{wording(keeper).volume(draft.yield_ml)} {draft.pressing}"
        act.note("strained", done, jar_id=draft.jar_id, tincture_id=tincture_id)
        return tincture_view(keeper, tincture_id)


def most_possible_ml(jar: JarView) -> float:
    """The most liquid that can come out of a jar, as far as is known of it."""
    if not jar.outlook.is_partial:
        return jar.outlook.volume_ml * MEASURING_SLACK
    if jar.capacity_ml is not None:
        return jar.capacity_ml
    fresh_by_eye = any(c.mass_g is None and c.condition == "fresh" for c in jar.charges)
    return jar.outlook.volume_ml * (BY_EYE_SLACK if fresh_by_eye else MEASURING_SLACK)


def _refuse_impossible(jar: JarView, yield_ml: float, said: Wording) -> None:
    most = most_possible_ml(jar)
    if yield_ml > most:
        raise NeedsConfirmation(
            f"{said.volume(yield_ml)} is more than the {said.volume(most)} that can "
            "have been in this jar. Keep it only if you measured that much."
        )


def _finished(jar: JarView, draft: StrainDraft) -> tuple[float, str, Keeping]:
    """The strength of what was strained, how it is known, and whether it will keep."""
    if draft.measured_abv is not None:
        return draft.measured_abv, "measured", will_it_keep(draft.measured_abv)
    known_by = "estimated" if jar.outlook.is_partial else "calculated"
    return jar.outlook.strength_abv, known_by, Keeping(jar.outlook.keeps)


def _dried_g(jar: JarView) -> float | None:
    return dried_mass_g([c.charge for c in jar.charges])
