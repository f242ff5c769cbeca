"""Batches made of others without being blends: joined, thinned or strengthened."""

from dataclasses import dataclass
from datetime import date

from stillroom.errors import NotUnderstood, Refused
from stillroom.keeping.bottles.blends import plan_blend
from stillroom.keeping.bottles.bottle_views import bottle_row
from stillroom.keeping.bottles.tinctures import tincture_view
from stillroom.keeping.drafts import ALL, BlendDraft, BlendPartDraft, InputDraft
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.tolerances import EMPTY_ML
from stillroom.keeping.wording import wording
from stillroom.reckoning.mixing import added_to_reach_ml
from stillroom.reckoning.other_liquids import liquid_holding
from stillroom.reckoning.states import BatchHow, InputKind

Taken = BlendPartDraft | InputDraft
"""What is taken: from a bottle, or from a batch that waits to be bottled."""


def joined(
    keeper: Keeper, taken: tuple[Taken, ...], made_on: date, name: str = "", note: str = ""
) -> BlendDraft:
    """Batches that wait, or what is left in bottles, as one batch under its own code.

    Its name is that of the first, unless another is given.
    """
    return _draft(taken, (), made_on, name or name_of(keeper, taken[0]), note, BatchHow.JOINED)


def name_of(keeper: Keeper, taken: Taken) -> str:
    """The name of the tincture that something is taken of."""
    if isinstance(taken, BlendPartDraft):
        return bottle_row(keeper, taken.bottle_id).name
    return tincture_view(keeper, taken.row_id or 0).name


def _draft(
    taken: tuple[Taken, ...],
    added: tuple[InputDraft, ...],
    made_on: date,
    name: str,
    note: str,
    how: BatchHow,
) -> BlendDraft:
    return BlendDraft(
        name,
        tuple(each for each in taken if isinstance(each, BlendPartDraft)),
        made_on,
        note,
        (*(each for each in taken if isinstance(each, InputDraft)), *added),
        how,
    )


@dataclass(frozen=True)
class Thinning:
    """A batch or bottle to be brought to a strength."""

    taken: Taken
    target_abv: float
    made_on: date
    spirit_id: int | None = None
    """The spirit of the cupboard that is added; None for water."""
    name: str = ""
    note: str = ""


def thinned(keeper: Keeper, asked: Thinning) -> BlendDraft:
    """What of water or a spirit takes a batch or bottle to a strength, contraction included.

    Refused where nothing of it does, or where the strength isn't known.
    """
    said = wording(keeper)
    if not 0 < asked.target_abv < 100:
        raise NotUnderstood("The strength to reach must be above 0 % and below 100 %.")
    before = plan_blend(keeper, _draft((asked.taken,), (), asked.made_on, "", "", BatchHow.JOINED))
    if before.strength_abv is None:
        raise Refused("Its strength isn't known, so what to add can't be calculated.")
    added = InputDraft(
        InputKind.SPIRIT if asked.spirit_id else InputKind.WATER, 1.0, asked.spirit_id
    )
    of_added = plan_blend(
        keeper, _draft((asked.taken,), (added,), asked.made_on, "", "", BatchHow.JOINED)
    ).inputs[-1]
    added_abv = of_added.strength_abv or 0.0
    base = liquid_holding(before.volume_ml, before.strength_abv or 0.0, before.others)
    volume_ml = added_to_reach_ml(base, added_abv, asked.target_abv)
    if volume_ml is None or volume_ml <= EMPTY_ML:
        raise Refused(
            f"{of_added.name.capitalize()} of {said.strength(added_abv)} can't bring it from "
            f"{said.strength(before.strength_abv)} to {said.strength(asked.target_abv)}."
        )
    is_thinned = asked.target_abv < before.strength_abv
    how = BatchHow.THINNED if is_thinned else BatchHow.STRENGTHENED
    more = InputDraft(added.kind, volume_ml, added.row_id)
    name = asked.name or name_of(keeper, asked.taken)
    return _draft((asked.taken,), (more,), asked.made_on, name, asked.note, how)


def all_of(bottle_id: int | None, tincture_id: int | None) -> Taken:
    """All of a bottle, or all that waits to be bottled of a batch."""
    if bottle_id is not None:
        return BlendPartDraft(bottle_id, ALL)
    return InputDraft(InputKind.BATCH, ALL, tincture_id)
