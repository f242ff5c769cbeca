"""Blends: finished tinctures poured together into a new one."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from math import fsum, inf

from stillroom.errors import NeedsConfirmation, Refused
from stillroom.keeping.bottles.blend_views import BlendPartView, BlendPlan, InputView
from stillroom.keeping.bottles.bottle_views import bottles_by_id
from stillroom.keeping.bottles.inputs import inputs_of_drafts
from stillroom.keeping.bottles.status import check_usable, first_status, why_not_to_use
from stillroom.keeping.bottles.stock import all_if_it_reads_so, not_enough, record_movement
from stillroom.keeping.bottles.tinctures import tincture_view
from stillroom.keeping.codes import next_batch_code
from stillroom.keeping.contents import POURED, contents_of, equivalents, mixed, ratio_in
from stillroom.keeping.drafts import ALL, BlendDraft, BlendPartDraft
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.others_in import others_in
from stillroom.keeping.tolerances import EMPTY_ML
from stillroom.keeping.views import TinctureView
from stillroom.keeping.wording import Wording, wording
from stillroom.keeping.words import clean_name, clean_note
from stillroom.reckoning.charge import Keeping, will_it_keep
from stillroom.reckoning.mixing import Mixture, mix
from stillroom.reckoning.other_liquids import (
    NO_CONTRACTION,
    NO_OTHERS,
    Others,
    liquid_holding,
    together,
)
from stillroom.reckoning.shelf_life import keep_until
from stillroom.reckoning.states import InputKind, MovementKind, StrengthBy
from stillroom.records.tables import BatchInput, Tincture

GONE = "One of the bottles no longer exists."


def shared_out(total_ml: float, shares: Sequence[tuple[int, float]]) -> tuple[BlendPartDraft, ...]:
    """Parts of a blend from a volume to measure in and each bottle's share, in parts or percent."""
    whole = fsum(share for _, share in shares)
    if not 0 < total_ml < inf or not whole > 0 or any(not share > 0 for _, share in shares):
        raise Refused("The volume and shares of a blend must be greater than zero.")
    return tuple(BlendPartDraft(bottle, total_ml * share / whole) for bottle, share in shares)


def plan_blend(keeper: Keeper, draft: BlendDraft) -> BlendPlan:
    """What these parts would come to; nothing is written."""
    parts = _parts(keeper, draft)
    inputs = inputs_of_drafts(keeper, draft.others)
    in_bottles = others_in(keeper, {part.bottle.tincture_id for part in parts})
    poured = [
        *(_poured(part, in_bottles.get(part.bottle.tincture_id, Others())) for part in parts),
        *(_poured_input(each) for each in inputs),
    ]
    made, strength_by = blended(poured)
    strength = None if strength_by == StrengthBy.UNKNOWN else made.strength_abv
    volume_ml = made.volume_ml
    poured_ml = fsum(each.volume_ml for each in poured)
    drawn = [(p.bottle.tincture_id, p.volume_ml) for p in parts] + [
        (i.row_id, i.volume_ml) for i in inputs if i.kind is InputKind.BATCH and i.row_id
    ]
    contents = contents_of(keeper, {tincture_id for tincture_id, _ in drawn})
    added_ml = fsum(i.volume_ml for i in inputs if i.kind is not InputKind.BATCH)
    inside = [(ml, contents.get(each, {})) for each, ml in drawn]
    content = mixed([*inside, (added_ml, {POURED: 1.0})], volume_ml)
    others = together([(each.volume_ml, each.others) for each in poured], volume_ml)
    said = wording(keeper)
    return BlendPlan(
        parts=tuple(replace(p, share_percent=100 * p.volume_ml / poured_ml) for p in parts),
        inputs=tuple(replace(i, share_percent=100 * i.volume_ml / poured_ml) for i in inputs),
        others=others,
        poured_ml=poured_ml,
        volume_ml=volume_ml,
        strength_abv=strength,
        strength_by=strength_by,
        strength_at_most=strength_by == StrengthBy.ESTIMATED
        and (
            any(part.bottle.strength_at_most for part in parts)
            or any(_is_at_most(keeper, each) for each in inputs)
        ),
        ratio=ratio_in(content),
        herbs=equivalents(content),
        keep_until=blend_keep_until(poured, draft.made_on, strength),
        warnings=_warnings(parts, inputs, strength, others, keeper.today, said),
        obstacles=_obstacles(parts, inputs, draft, keeper.today, said),
    )


def _is_at_most(keeper: Keeper, each: InputView) -> bool:
    return each.kind is InputKind.BATCH and tincture_view(keeper, each.row_id or 0).strength_at_most


def make_blend(keeper: Keeper, draft: BlendDraft, *, confirmed: bool = False) -> TinctureView:
    """Draw the parts from their bottles; together they are a new tincture, ready to be bottled.

    Raises Refused where the plan meets obstacles, NeedsConfirmation where a part is past its
    keep-until date.
    """
    name = clean_name(draft.name, "The blend's name")
    with keeper.act("Made a batch" if draft.others else "Made a blend") as act:
        plan = plan_blend(keeper, draft)
        if plan.obstacles:
            raise Refused(" ".join(plan.obstacles))
        past = _past(plan.parts, act.day, wording(keeper))
        if past and not confirmed:
            raise NeedsConfirmation(" ".join([*past, "Blend anyway?"]))
        is_late = draft.made_on < act.day
        for part in plan.parts:
            check_usable(keeper, part.bottle, "Blend", is_late=is_late, confirmed=confirmed)
        code = next_batch_code(keeper, draft.made_on)
        tincture_id = int(
            Tincture.insert(
                code=code,
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
        for each in plan.inputs:
            _insert_input(tincture_id, each)
        act.title = f"{draft.how.capitalize()} {name} {made.code}"
        said = wording(keeper)
        taken = [(p.volume_ml, p.bottle.code) for p in plan.parts]
        taken += [(i.volume_ml, i.name) for i in plan.inputs]
        poured = " + ".join(f"{said.volume(ml)} of {name}" for ml, name in taken)
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
    whole = fsum(volume_ml for _, volume_ml in drawn)
    return tuple(
        BlendPartView(bottles[bottle_id], volume_ml, 100 * volume_ml / whole)
        for bottle_id, volume_ml in drawn
    )


def _insert_input(tincture_id: int, each: InputView) -> None:
    column = {InputKind.BATCH: "source", InputKind.SPIRIT: "spirit", InputKind.LIQUID: "liquid"}
    BatchInput.insert(
        tincture=tincture_id,
        kind=each.kind,
        volume_ml=each.volume_ml,
        strength_abv=each.strength_abv if each.kind is InputKind.SPIRIT else None,
        **({column[each.kind]: each.row_id} if each.kind in column else {}),
    ).execute()


def _parts(keeper: Keeper, blend: BlendDraft) -> tuple[BlendPartView, ...]:
    drafts = blend.parts
    if not drafts and blend.others:
        return ()
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
    others: Others = NO_OTHERS
    """Liquids in it that are neither spirit nor water."""


def _poured(part: BlendPartView, others: Others) -> PouredIn:
    bottle = part.bottle
    return PouredIn(
        part.volume_ml, bottle.strength_abv, bottle.strength_by, bottle.keep_until, others
    )


def _poured_input(each: InputView) -> PouredIn:
    return PouredIn(
        each.volume_ml, each.strength_abv, each.strength_by, each.keep_until, each.others
    )


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
        liquid_holding(part.volume_ml, strength, part.others)
        for part, strength in zip(parts, strengths, strict=True)
    ]
    return mix(liquids), strength_by


def blend_keep_until(
    parts: Sequence[PouredIn], made_on: date, strength_abv: float | None
) -> date | None:
    """The conventional keep-until date of a blend: no later than that of any part.

    None where other liquids are in it and it is too weak for the rule of alcohol.
    """
    dates = [part.keep_until for part in parts]
    is_weak = strength_abv is None or will_it_keep(strength_abv) is not Keeping.KEEPS
    if is_weak and any(part.others for part in parts):
        return None
    if strength_abv is not None:
        dates.append(keep_until(made_on, will_it_keep(strength_abv)))
    return min((day for day in dates if day is not None), default=None)


def _warnings(
    parts: Sequence[BlendPartView],
    inputs: Sequence[InputView],
    strength_abv: float | None,
    others: Others,
    today: date,
    words: Wording,
) -> tuple[str, ...]:
    said = list(_past(parts, today, words))
    unknown = [part.bottle.code for part in parts if part.bottle.strength_abv is None]
    unknown += [each.name for each in inputs if each.strength_abv is None]
    if unknown:
        said.append(f"The blend's strength is not known: {', '.join(unknown)} has no strength.")
    if others:
        said += [NO_CONTRACTION, words.keeping_of(strength_abv, others)]
    elif strength_abv is not None and will_it_keep(strength_abv) is not Keeping.KEEPS:
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
    parts: Sequence[BlendPartView],
    inputs: Sequence[InputView],
    draft: BlendDraft,
    today: date,
    said: Wording,
) -> tuple[str, ...]:
    made_on = draft.made_on
    is_late = made_on < today
    obstacles = [] if is_late else [why for part in parts if (why := why_not_to_use(part.bottle))]
    obstacles += [
        not_enough(p.bottle, p.volume_ml, said)
        for p in parts
        if p.volume_ml > p.bottle.left_ml + EMPTY_ML
    ]
    obstacles += [
        f"Only {said.volume(each.left_ml)} is left of {each.name}, "
        f"not {said.volume(each.volume_ml)}."
        for each in inputs
        if each.left_ml is not None and each.volume_ml > each.left_ml + EMPTY_ML
    ]
    batches = {part.bottle.tincture_id for part in parts}
    batches |= {each.row_id for each in inputs if each.kind is InputKind.BATCH and each.row_id}
    added = [each for each in inputs if each.kind is not InputKind.BATCH]
    if not batches:
        obstacles.append("A batch needs a tincture: give a bottle or a batch.")
    elif len(batches) < 2 and not added:
        obstacles.append(
            "A blend needs two tinctures. To combine bottles of one batch, pour them together."
        )
    if made_on > today:
        obstacles.append("The blending date is in the future.")
    younger = [part.bottle.code for part in parts if part.bottle.made_on > made_on]
    younger += [each.name for each in inputs if each.made_on and each.made_on > made_on]
    if younger:
        obstacles.append(f"The blending date is before {', '.join(younger)} was made.")
    return tuple(obstacles)
