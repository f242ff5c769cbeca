"""Straining a jar: its yield, and the tincture it becomes."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from stillroom.errors import NeedsConfirmation, NotUnderstood, Refused
from stillroom.keeping.bottles.status import first_status
from stillroom.keeping.bottles.tinctures import tincture_view
from stillroom.keeping.cards import JarCard
from stillroom.keeping.drafts import StrainDraft
from stillroom.keeping.jars.expecting import expected_of, more_than_held, oddities, strength_oddity
from stillroom.keeping.jars.jar import steeping_jar
from stillroom.keeping.jars.jar_view import jar_view
from stillroom.keeping.jars.learning import JarToStrain
from stillroom.keeping.jars.liquid import narrowed
from stillroom.keeping.jars.shelves import jar_card
from stillroom.keeping.keeper import Act, Keeper
from stillroom.keeping.views import ChargeView, JarView, Outlook, PourView, TinctureView
from stillroom.keeping.wording import Wording, wording
from stillroom.keeping.words import clean_note
from stillroom.reckoning.charge import Keeping, dried_mass_g, will_it_keep
from stillroom.reckoning.kinds import Figure, Kind
from stillroom.reckoning.shelf_life import keep_until
from stillroom.reckoning.states import BatchStatus, JarState, StrengthBy
from stillroom.reckoning.weighing import contents_ml
from stillroom.records.tables import Jar, Straining, StrainingGo, Tincture

NOT_WEIGHED = "Leave this blank unless the yield is a weight."


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
    """Record a straining; the liquid becomes a tincture under the jar's code.

    Of a jar that is drained, what comes now joins what came before: together they are one batch.
    Nothing may come then, which ends the straining as it is.

    Raises NeedsConfirmation when more came out than could be there, when it is far from what is
    expected, or when the strength measured cannot be, until it is confirmed.
    """
    with keeper.act("Strained a jar") as act:
        record = _jar_to_strain(draft.jar_id)
        jar = jar_view(keeper, draft.jar_id)
        _check_draft(jar, draft, act.day)
        this_go, draft = draft, _in_all(jar, draft)
        expected = expected_of(keeper, jar, draft.pressing)
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
        if jar.straining:
            tincture_id = _write_last_go(act, this_go, draft, record.code, made)
        else:
            tincture_id = write_straining(draft, record.code, made)
        act.title = f"Strained {jar.card.herb} {record.code}"
        done = _in_words(this_go, wording(keeper))
        if jar.straining:
            done += f"; {wording(keeper).volume(draft.yield_ml)} in all"
        act.note("strained", done, jar_id=draft.jar_id, tincture_id=tincture_id)
        return tincture_view(keeper, tincture_id)


def drain(keeper: Keeper, draft: StrainDraft) -> JarCard:
    """Record a go of a straining after which more is to come: the jar waits to be pressed.

    Raises NeedsConfirmation when more came out than could be there, until it is confirmed.
    """
    with keeper.act("Drained a jar") as act:
        record = _jar_to_strain(draft.jar_id)
        jar = jar_view(keeper, draft.jar_id)
        _check_draft(jar, draft, act.day)
        if draft.yield_ml <= 0:
            raise Refused("The yield must be greater than zero.")
        so_far = _in_all(jar, draft)
        odd = " ".join(filter(None, (
            more_than_held(jar, so_far.yield_ml, wording(keeper)),
            strength_oddity(jar, draft.measured_abv, wording(keeper)),
        )))  # fmt: skip
        if odd and not draft.confirmed:
            raise NeedsConfirmation(f"{odd} Save anyway?")
        if jar.straining:
            straining_id = _update_straining(so_far)
        else:
            straining_id = _insert_straining(replace(so_far, note=""), more=True)
        _insert_go(act, straining_id, draft)
        Jar.update(state=JarState.DRAINED).where(Jar.id == draft.jar_id).execute()
        act.title = f"Drained {jar.card.herb} {record.code}"
        done = f"{_in_words(draft, wording(keeper))}, more to come"
        act.note("drained", done, jar_id=draft.jar_id)
        card = jar_card(keeper, draft.jar_id)
        assert card is not None
        return card


def _jar_to_strain(jar_id: int) -> Jar:
    """The jar, if it still steeps or is to be pressed; Refused otherwise."""
    jar = Jar.get_or_none(Jar.id == jar_id)
    if isinstance(jar, Jar) and jar.state == JarState.DRAINED:
        return jar
    return steeping_jar(jar_id)


def _check_draft(jar: JarView, draft: StrainDraft, today: date) -> None:
    before = jar.straining
    if not jar.pours:
        raise Refused("No liquid is recorded for this jar. Add it first.")
    if draft.yield_ml < 0 or (not draft.yield_ml and before is None):
        raise Refused("The yield must be greater than zero. If the jar failed, discard it.")
    if draft.strained_on > today:
        raise Refused("The straining date is in the future.")
    if draft.strained_on < jar.card.filled_on:
        raise Refused("The straining date is before the filling date.")
    if before and draft.strained_on < before.strained_on:
        raise Refused("The straining date is before the day it was drained.")


def _in_all(jar: JarView, draft: StrainDraft) -> StrainDraft:
    """The straining with all that came before: the sum, and what was measured last."""
    before = jar.straining
    if before is None:
        return draft
    came = draft.yield_ml > 0
    return replace(
        draft,
        yield_ml=before.yield_ml + draft.yield_ml,
        pressing=draft.pressing if came else before.pressing,
        strained_on=draft.strained_on if came else before.strained_on,
        marc_g=before.marc_g if draft.marc_g is None else draft.marc_g,
        measured_abv=before.measured_abv if draft.measured_abv is None else draft.measured_abv,
    )


def _in_words(draft: StrainDraft, said: Wording) -> str:
    if not draft.yield_ml:
        return "nothing more came out"
    return f"{said.volume(draft.yield_ml)} {draft.pressing}"


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
    straining_id = _insert_straining(draft, made)
    return _write_tincture(straining_id, draft, code, made)


def _insert_straining(
    draft: StrainDraft, made: "Strained | None" = None, *, more: bool = False
) -> int:
    return int(
        Straining.insert(
            jar=draft.jar_id,
            strained_on=draft.strained_on,
            yield_ml=draft.yield_ml,
            pressing=draft.pressing,
            marc_g=draft.marc_g,
            measured_abv=draft.measured_abv,
            liquid_ml=made and made.liquid_ml,
            expected_ml=made and made.expected_ml,
            confirmed=bool(made and made.is_odd),
            more=more,
            pressing_assumed=draft.pressing_assumed,
            day_by=draft.day_by,
            teaches=draft.teaches,
            note=clean_note(draft.note),
        ).execute()
    )


def _update_straining(so_far: StrainDraft, **columns: object) -> int:
    """Add a go to the straining of a drained jar; returns the straining's id."""
    straining: Any = Straining.get(Straining.jar == so_far.jar_id)
    Straining.update(
        strained_on=so_far.strained_on,
        yield_ml=so_far.yield_ml,
        pressing=so_far.pressing,
        marc_g=so_far.marc_g,
        measured_abv=so_far.measured_abv,
        **columns,
    ).where(Straining.id == straining.id).execute()
    return int(straining.id)


def _insert_go(act: Act, straining_id: int, go: StrainDraft) -> None:
    StrainingGo.insert(
        straining=straining_id,
        strained_on=go.strained_on,
        pressing=go.pressing,
        yield_ml=go.yield_ml,
        maker=act.maker,
        note=clean_note(go.note),
    ).execute()


def _write_last_go(
    act: Act, go: StrainDraft, in_all: StrainDraft, code: str, made: "Strained"
) -> int:
    straining_id = _update_straining(
        in_all,
        liquid_ml=made.liquid_ml,
        expected_ml=made.expected_ml,
        confirmed=made.is_odd,
        more=False,
    )
    if go.yield_ml:
        _insert_go(act, straining_id, go)
    elif note := clean_note(go.note):
        Straining.update(note=note).where(Straining.id == straining_id).execute()
    fold_single_go(straining_id)
    return _write_tincture(straining_id, in_all, code, made)


def fold_single_go(straining_id: int) -> None:
    """What came in one go is recorded once, in the straining."""
    goes: list[Any] = list(StrainingGo.select().where(StrainingGo.straining == straining_id))
    if len(goes) == 1:
        StrainingGo.delete().where(StrainingGo.id == goes[0].id).execute()
        straining: Any = Straining.get_by_id(straining_id)
        note = "\n".join(filter(None, (goes[0].note, straining.note)))
        Straining.update(note=note).where(Straining.id == straining_id).execute()


def _write_tincture(straining_id: int, draft: StrainDraft, code: str, made: "Strained") -> int:
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


def known_liquid_ml(
    charges: Sequence[ChargeView], pours: Sequence[PourView], found: Outlook
) -> float | None:
    """All the liquid in a jar; None where a mass or what was poured isn't known."""
    is_known = bool(pours) and dried_mass_g([each.charge for each in charges]) is not None
    return found.volume_ml if is_known else None


def finished(
    found: Outlook, yield_ml: float, measured_abv: float | None
) -> tuple[float | None, StrengthBy, Keeping | None]:
    """The strength of what was strained, how it is known, and whether it will keep."""
    if measured_abv is not None:
        return measured_abv, StrengthBy.MEASURED, will_it_keep(measured_abv)
    if not found.is_known:
        return None, StrengthBy.UNKNOWN, None
    known_by = StrengthBy.ESTIMATED if found.is_partial else StrengthBy.CALCULATED
    if found.others and found.keeps != Keeping.KEEPS:
        return found.strength_abv, known_by, None  # no rule shows how long it keeps
    proven = narrowed(found, yield_ml)
    return proven.strength_abv, known_by, Keeping(proven.keeps)
