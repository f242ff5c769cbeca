"""What is poured into a jar, as a command reads it."""

from collections.abc import Sequence
from typing import NamedTuple

from stillroom.cli.call import Call
from stillroom.cli.form import FormField, Values, amount
from stillroom.cli.found import only_one
from stillroom.errors import NotUnderstood, Refused
from stillroom.keeping.cupboard.cupboard import spirits
from stillroom.keeping.cupboard.liquids import liquids
from stillroom.keeping.cupboard.twins import P
from stillroom.keeping.cupboard_views import SpiritView
from stillroom.keeping.drafts import PourDraft
from stillroom.keeping.trace.ancestry import find_code
from stillroom.reckoning.kinds import Figure, Kind
from stillroom.reckoning.states import LiquidKind


class NamedLiquid(NamedTuple):
    """Which liquid: a spirit of the cupboard, or another one by its kind."""

    kind: LiquidKind
    spirit: SpiritView | None = None
    strength_abv: float | None = None
    liquid_id: int | None = None
    bottle_id: int | None = None
    """Of a tincture: its bottle, or else the batch that waits to be bottled."""
    source_id: int | None = None
    density_g_per_ml: float | None = None
    """Of a liquid that may be weighed."""


POURED_AS_SUCH = (LiquidKind.SPIRIT, LiquidKind.WATER, LiquidKind.DECOCTION)


def _tincture(call: Call, text: str) -> NamedLiquid | None:
    """A bottle, or what waits of a batch, by its code."""
    try:
        found = find_code(call.keeper, text)
    except Refused:
        return None
    if found.tincture_id is None:
        raise NotUnderstood(f"jar {found.code} hasn't been strained.")
    source_id = None if found.bottle_id else found.tincture_id
    return NamedLiquid(LiquidKind.TINCTURE, bottle_id=found.bottle_id, source_id=source_id)


def _liquid(call: Call, text: str) -> NamedLiquid:
    """A spirit by name, words on screen or number; water, decoction, a strength, or a code."""
    wanted = " ".join(text.split()).casefold()
    if wanted in POURED_AS_SUCH:
        return NamedLiquid(LiquidKind(wanted))
    cupboard = spirits(call.keeper)
    if spirit := _one_of(call, text, cupboard):
        return NamedLiquid(LiquidKind.SPIRIT, spirit)
    if liquid := _one_of(call, text, liquids(call.keeper)):
        return NamedLiquid(
            LiquidKind.LIQUID,
            liquid_id=liquid.liquid_id,
            density_g_per_ml=liquid.density_g_per_ml,
        )
    if tincture := _tincture(call, text):
        return tincture
    try:
        return NamedLiquid(LiquidKind.SPIRIT, None, call.wording.read(Kind.STRENGTH, text))
    except NotUnderstood as error:
        names = dict.fromkeys(s.name for s in cupboard)
        raise NotUnderstood(
            f"there is no {text.strip()} in the cupboard. Write {', '.join(names)}, water, "
            "decoction, the strength of another spirit, such as 40%, or the code of a tincture."
        ) from error


def _one_of(call: Call, text: str, cupboard: Sequence[P]) -> P | None:
    """The one of the cupboard with this name, code or number."""
    try:
        return only_one(call.keeper, text, cupboard)
    except Refused as error:
        raise NotUnderstood(str(error)) from error


def _strength_is_asked(row: Values) -> bool:
    poured: NamedLiquid | None = row.get("liquid")
    return poured is None or (
        poured.kind is LiquidKind.SPIRIT and not poured.spirit and poured.strength_abv is None
    )


def _volume_or_weight(call: Call, text: str) -> Figure | float:
    """A volume; a weight as such until it is known what of."""
    figure = call.wording.read_volume_or_mass(text)
    return figure if figure.kind is Kind.MASS else figure.value


def _volume_ml(row: Values, poured: NamedLiquid) -> float:
    volume: Figure | float = row["volume"]
    if not isinstance(volume, Figure):
        return volume
    if poured.density_g_per_ml is None:
        raise Refused("volume: That is a weight, or oz for fl oz: this liquid needs a volume.")
    return volume.value / poured.density_g_per_ml


POUR = (
    FormField("volume", "Volume", _volume_or_weight, is_required=True),
    FormField(
        "liquid", "Liquid", _liquid,
        "name of a spirit or liquid; spirit, water or decoction; or code of a tincture",
        is_required=True,
    ),
    FormField(
        "strength", "Strength", amount(Kind.STRENGTH), "of a spirit that isn't in the cupboard",
        is_required=True, is_asked=_strength_is_asked,
    ),
)  # fmt: skip


def pour_draft(row: Values) -> PourDraft:
    """A liquid as read; Refused where a strength is missing, or given where it is known."""
    poured: NamedLiquid = row["liquid"]
    strength, volume_ml = row.get("strength"), _volume_ml(row, poured)
    if strength is not None and not _strength_is_asked(row):
        raise Refused("strength: leave it out: it is known from the liquid.")
    if poured.spirit:
        return PourDraft(
            LiquidKind.SPIRIT, volume_ml, poured.spirit.strength_abv, poured.spirit.spirit_id
        )
    if poured.kind is not LiquidKind.SPIRIT:
        return PourDraft(
            poured.kind,
            volume_ml,
            liquid_id=poured.liquid_id,
            bottle_id=poured.bottle_id,
            source_id=poured.source_id,
        )
    abv = poured.strength_abv if strength is None else strength
    assert abv is not None, "a row without it was refused"
    return PourDraft(LiquidKind.SPIRIT, volume_ml, abv)
