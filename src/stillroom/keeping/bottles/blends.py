"""Blends: finished tinctures poured together into a new one."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from math import inf

from stillroom.errors import NeedsConfirmation, Refused
from stillroom.keeping.bottles.blend_views import BlendPartView, BlendPlan
from stillroom.keeping.bottles.status import check_usable, first_status, why_not_to_use
from stillroom.keeping.bottles.stock import (
    all_if_it_reads_so,
    bottles_by_id,
    not_enough,
    record_movement,
)
from stillroom.keeping.bottles.tinctures import tincture_view
from stillroom.keeping.codes import next_batch_code
from stillroom.keeping.contents import contents_of, equivalents, mixed, ratio_in
from stillroom.keeping.drafts import ALL, BlendDraft, BlendPartDraft
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.tolerances import EMPTY_ML
from stillroom.keeping.views import TinctureView
from stillroom.keeping.wording import Wording, wording
from stillroom.keeping.words import clean_name, clean_note
from stillroom.reckoning.charge import Keeping, will_it_keep
from stillroom.reckoning.mixing import Liquid, Mixture, mix
from stillroom.reckoning.shelf_life import keep_until
from stillroom.reckoning.states import InputKind, MovementKind, StrengthBy
from stillroom.records.tables import BatchInput, Tincture

GONE = "One of the bottles no longer exists."


def shared_out(total_ml: float, shares: Sequence[tuple[int, float]]) -> tuple[BlendPartDraft, ...]:
    """Parts of a blend from a volume to measure in and each bottle's share, in parts or percent."""
    whole = sum(share for _, share in shares)
    if not 0 < total_ml < inf or not whole > 0 or any(not share > 0 for _, share in shares):
        raise Refused("The volume and shares of a blend must be greater than zero.")
    return tuple(BlendPartDraft(bottle, total_ml * share / whole) for bottle, share in shares)


def plan_blend(keeper: Keeper, draft: BlendDraft) -> BlendPlan:
    """What these parts would come to; nothing is written."""
    parts = _parts(keeper, draft.parts)
    poured = [_poured(part) for part in parts]
    made, strength_by = blended(poured)
    strength = None if strength_by == StrengthBy.UNKNOWN else made.strength_abv
    volume_ml = made.volume_ml
    contents = contents_of(keeper, {part.bottle.tincture_id for part in parts})
    content = mixed([(p.volume_ml, contents[p.bottle.tincture_id]) for p in parts], volume_ml)
    return BlendPlan(
        parts=parts,
        poured_ml=sum(part.volume_ml for part in parts),
        volume_ml=volume_ml,
        strength_abv=strength,
        strength_by=strength_by,
        strength_at_most=strength_by == StrengthBy.ESTIMATED
        and any(part.bottle.strength_at_most for part in parts),
        ratio=ratio_in(content),
        herbs=equivalents(content),
        keep_until=blend_keep_until(poured, draft.made_on, strength),
        warnings=_warnings(parts, strength, keeper.today, wording(keeper)),
        obstacles=_obstacles(parts, draft.made_on, keeper.today, wording(keeper)),
    )


def make_blend(keeper: Keeper, draft: BlendDraft, *, confirmed: bool = False) -> TinctureView:
    """Draw the parts from their bottles; together they are a new tincture, ready to be bottled.

    Raises Refused where the plan meets obstacles, NeedsConfirmation where a part is past its
    keep-until date.
    """
    name = clean_name(draft.name, "The blend's name")
    with keeper.act("Made a blend") as act:
        plan = plan_blend(keeper, draft)
        if plan.obstacles:
            raise Refused(" ".join(plan.obstacles))
        past = _past(plan.parts, act.day, wording(keeper))
        if past and not confirmed:
            raise NeedsConfirmation(" ".join([*past, "Blend anyway?"]))
        is_late = draft.made_on < act.day
        for part in plan.parts:
            check_usable(keeper, part.bottle, "Blend", is_late=is_late, confirmed=confirmed)
        tincture_id = int(
            Tincture.insert(
                code=next_batch_code(keeper, draft.made_on),
                name=name,
                made_on=draft.made_on,
                volume_ml=plan.volume_ml,
                strength_abv=plan.strength_abv,
                strength_by=plan.strength_by,
                ratio=plan.ratio,
                keep_until=plan.keep_until,
                note=clean_note(draft.note),
                status=first_status(keeper),
            ).execute()
        )
        made = tincture_view(keeper, tincture_id)
        for part in plan.parts:
            drawn_ml = min(part.volume_ml, part.bottle.left_ml)
            movement_id = record_movement(
                keeper,
                act,
                part.bottle,
                -drawn_ml,
                MovementKind.BLEND,
                f"into {made.code}",
                day=draft.made_on,
            )
            BatchInput.insert(
                tincture=tincture_id, kind=InputKind.BOTTLE, movement=movement_id
            ).execute()
        act.title = f"Blended {name} {made.code}"
        said = wording(keeper)
        poured = " + ".join(f"{said.volume(p.volume_ml)} of {p.bottle.code}" for p in plan.parts)
        act.note("blended", f"{poured} = {said.volume(plan.volume_ml)}", tincture_id=tincture_id)
        return tincture_view(keeper, tincture_id)


def blend_parts(keeper: Keeper, tincture_id: int) -> tuple[BlendPartView, ...]:
    """What went into a blend, in order; nothing for a tincture from a jar."""
    drawn = keeper.rows(
        """SELECT m.bottle_id, -m.volume_ml FROM batch_input p
           JOIN movement m ON m.id = p.movement_id WHERE p.tincture_id = ? ORDER BY p.id""",
        tincture_id,
    )
    return with_shares(keeper, drawn)


def with_shares(keeper: Keeper, drawn: Sequence[tuple[int, float]]) -> tuple[BlendPartView, ...]:
    """Bottles and the mL drawn from each, as parts of one whole."""
    bottles = bottles_by_id(keeper, [bottle_id for bottle_id, _ in drawn])
    if any(bottle_id not in bottles for bottle_id, _ in drawn):
        raise Refused(GONE)
    whole = sum(volume_ml for _, volume_ml in drawn)
    return tuple(
        BlendPartView(bottles[bottle_id], volume_ml, 100 * volume_ml / whole)
        for bottle_id, volume_ml in drawn
    )


def _parts(keeper: Keeper, drafts: Sequence[BlendPartDraft]) -> tuple[BlendPartView, ...]:
    if not drafts:
        raise Refused("Enter how much goes in from each bottle, or all.")
    if any(draft.volume_ml is not ALL and not 0 < draft.volume_ml < inf for draft in drafts):
        raise Refused("Each part of a blend must be greater than zero.")
    if len({draft.bottle_id for draft in drafts}) < len(drafts):
        raise Refused("List each bottle only once.")
    bottles = bottles_by_id(keeper, [draft.bottle_id for draft in drafts])
    said = wording(keeper)
    meant = []
    for draft in drafts:
        row = bottles.get(draft.bottle_id)
        if row is None:
            raise Refused(GONE)
        if row.left_ml <= EMPTY_ML:
            raise Refused(f"Bottle {row.code} is empty.")
        meant.append((row.bottle_id, all_if_it_reads_so(row, draft.volume_ml, said)))
    return with_shares(keeper, meant)


@dataclass(frozen=True)
class PouredIn:
    """What of a part counts for the figures of a blend."""

    volume_ml: float
    strength_abv: float | None
    strength_by: StrengthBy
    keep_until: date | None


def _poured(part: BlendPartView) -> PouredIn:
    bottle = part.bottle
    return PouredIn(part.volume_ml, bottle.strength_abv, bottle.strength_by, bottle.keep_until)


def blended(parts: Sequence[PouredIn]) -> tuple[Mixture, StrengthBy]:
    """What the parts make together, and how well its strength is known."""
    known = {part.strength_by for part in parts}
    if StrengthBy.UNKNOWN in known:
        # Liquids all of one strength do not shrink: with a strength missing, the sum must do.
        strengths = [0.0 for _ in parts]
        strength_by = StrengthBy.UNKNOWN
    else:
        strengths = [part.strength_abv or 0.0 for part in parts]
        is_estimated = StrengthBy.ESTIMATED in known
        strength_by = StrengthBy.ESTIMATED if is_estimated else StrengthBy.CALCULATED
    liquids = [
        Liquid(part.volume_ml, strength) for part, strength in zip(parts, strengths, strict=True)
    ]
    return mix(liquids), strength_by


def blend_keep_until(
    parts: Sequence[PouredIn], made_on: date, strength_abv: float | None
) -> date | None:
    """The conventional keep-until date of a blend: no later than that of any part."""
    dates = [part.keep_until for part in parts]
    if strength_abv is not None:
        dates.append(keep_until(made_on, will_it_keep(strength_abv)))
    return min((day for day in dates if day is not None), default=None)


def _warnings(
    parts: Sequence[BlendPartView], strength_abv: float | None, today: date, words: Wording
) -> tuple[str, ...]:
    said = list(_past(parts, today, words))
    unknown = [part.bottle.code for part in parts if part.bottle.strength_abv is None]
    if unknown:
        said.append(f"The blend's strength is not known: {', '.join(unknown)} has no strength.")
    if strength_abv is not None and will_it_keep(strength_abv) is not Keeping.KEEPS:
        said.append(will_it_keep(strength_abv).sentence)
    return tuple(said)


def _past(parts: Sequence[BlendPartView], today: date, words: Wording) -> tuple[str, ...]:
    return tuple(
        f"Bottle {part.bottle.code} passed its keep-until date, "
        f"{words.day(part.bottle.keep_until)}."
        for part in parts
        if part.bottle.keep_until is not None and part.bottle.is_past(today)
    )


def _obstacles(
    parts: Sequence[BlendPartView], made_on: date, today: date, said: Wording
) -> tuple[str, ...]:
    is_late = made_on < today
    obstacles = [] if is_late else [why for part in parts if (why := why_not_to_use(part.bottle))]
    obstacles += [
        not_enough(p.bottle, p.volume_ml, said)
        for p in parts
        if p.volume_ml > p.bottle.left_ml + EMPTY_ML
    ]
    if len({part.bottle.tincture_id for part in parts}) < 2:
        obstacles.append("A blend needs two tinctures; bottles of one batch are combined instead.")
    if made_on > today:
        obstacles.append("The blending date is in the future.")
    younger = [part.bottle.code for part in parts if part.bottle.made_on > made_on]
    if younger:
        obstacles.append(f"The blending date is before {', '.join(younger)} was made.")
    return tuple(obstacles)
