"""What goes into a batch from elsewhere than a bottle: other batches, spirits, liquids, water."""

from collections.abc import Sequence
from math import inf

from stillroom.errors import Refused
from stillroom.keeping.bottles.blend_views import InputView
from stillroom.keeping.bottles.tinctures import tincture_view
from stillroom.keeping.cupboard.cupboard import spirits
from stillroom.keeping.cupboard.liquids import liquid_view
from stillroom.keeping.drafts import ALL, InputDraft
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.tolerances import EMPTY_ML
from stillroom.reckoning.other_liquids import LiquidShare, Others
from stillroom.reckoning.states import InputKind, StrengthBy

WATER = "water"


def inputs_of_drafts(keeper: Keeper, drafts: Sequence[InputDraft]) -> tuple[InputView, ...]:
    """These inputs with what is known of each; Refused where one is gone, named twice or nothing.

    ALL of a batch is what waits to be bottled of it.
    """
    named = [(draft.kind, draft.row_id) for draft in drafts]
    if len(set(named)) < len(named):
        raise Refused("List each batch and each liquid only once.")
    return tuple(_input(keeper, draft) for draft in drafts)


def _input(keeper: Keeper, draft: InputDraft) -> InputView:
    view = _known(keeper, draft.kind, draft.row_id)
    volume_ml = draft.volume_ml
    if volume_ml is ALL:
        if view.left_ml is None:
            raise Refused(f"How much there is of {view.name} isn't counted. Enter a volume.")
        volume_ml = view.left_ml
        if volume_ml <= EMPTY_ML:
            raise Refused(f"Nothing is left of {view.name}.")
    if not 0 < volume_ml < inf:
        raise Refused("What goes in must be greater than zero.")
    return InputView(**{**vars(view), "volume_ml": volume_ml})


def _known(keeper: Keeper, kind: InputKind, row_id: int | None) -> InputView:
    if kind is InputKind.WATER or row_id is None:
        return InputView(InputKind.WATER, None, WATER, 0.0)
    if kind is InputKind.BATCH:
        batch = tincture_view(keeper, row_id)
        return InputView(
            kind,
            row_id,
            batch.code,
            0.0,
            batch.strength_abv,
            batch.strength_by,
            batch.loose_ml,
            batch.keep_until,
            batch.made_on,
            batch.others,
        )
    if kind is InputKind.SPIRIT:
        spirit = next((each for each in spirits(keeper) if each.spirit_id == row_id), None)
        if spirit is None:
            raise Refused("That spirit is no longer in the cupboard.")
        return InputView(
            kind,
            row_id,
            spirit.name,
            0.0,
            spirit.strength_abv,
            left_ml=spirit.left_ml,
            bought_from=spirit.where_from,
        )
    liquid = liquid_view(keeper, row_id)
    share = LiquidShare(
        liquid.name, liquid.kind, 1.0, liquid.density_g_per_ml, liquid.glycerol, liquid.acidity
    )
    return InputView(
        kind,
        row_id,
        liquid.name,
        0.0,
        0.0,
        StrengthBy.MEASURED,
        liquid.left_ml,
        others=Others((share,)),
        bought_from=liquid.where_from,
    )


def batch_inputs(keeper: Keeper, tincture_id: int) -> tuple[InputView, ...]:
    """What went into a batch from elsewhere than bottles, in order, with what is left of it now."""
    rows = keeper.rows(
        """SELECT kind, coalesce(source_id, spirit_id, liquid_id), volume_ml, strength_abv
           FROM batch_input WHERE tincture_id = ? AND movement_id IS NULL ORDER BY id""",
        tincture_id,
    )
    found = []
    for kind, row_id, volume_ml, strength_abv in rows:
        known = vars(_known(keeper, InputKind(kind), row_id)) | {"volume_ml": volume_ml}
        if strength_abv is not None:
            known["strength_abv"] = strength_abv
        found.append(InputView(**known))
    return tuple(found)
