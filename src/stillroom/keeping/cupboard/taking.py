"""What may be taken of a lot of herb, and what a jar takes of it."""

from dataclasses import replace
from datetime import date

from stillroom.errors import Refused
from stillroom.keeping.cupboard.lot_reading import herb_lot
from stillroom.keeping.cupboard.lot_views import HerbLotView
from stillroom.keeping.drafts import ChargeDraft
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.tolerances import EMPTY_G
from stillroom.keeping.wording import Wording, wording
from stillroom.reckoning.charge import Condition


def open_lot(keeper: Keeper, lot_id: int, *, or_empty: bool = False) -> HerbLotView:
    """The lot, if it isn't used up, or may be; Refused otherwise."""
    lot = herb_lot(keeper, lot_id)
    if lot.used_up_on is not None and not or_empty:
        raise Refused(f"{lot.code} was used up on {wording(keeper).day(lot.used_up_on)}.")
    return lot


def weight_meant(lot: HerbLotView, mass_g: float | None, said: Wording) -> float | None:
    """The weight meant: all that is left, if the two print the same."""
    if mass_g is None or lot.left_g is None or lot.left_g <= EMPTY_G:
        return mass_g
    return lot.left_g if said.mass(mass_g) == said.mass(lot.left_g) else mass_g


def refuse_more_than_left(lot: HerbLotView, mass_g: float | None, said: Wording) -> None:
    """Refused where a lot doesn't hold as much."""
    if said_short := short_of(lot, mass_g, said):
        raise Refused(said_short)


def short_of(lot: HerbLotView, mass_g: float | None, said: Wording) -> str:
    """That a lot doesn't hold as much, with both amounts; blank where it does."""
    mass_g = weight_meant(lot, mass_g, said)
    if mass_g is None or lot.left_g is None or mass_g <= lot.left_g + EMPTY_G:
        return ""
    return (
        f"Not enough left: {lot.code} holds {said.mass(lot.left_g)}, and this takes "
        f"{said.mass(mass_g)}. If it holds more, weigh it first."
    )


def charge_of_lot(
    lot: HerbLotView, mass_g: float | None, water_fraction: float | None = None
) -> ChargeDraft:
    """What a jar takes of a lot, with all that is known of it."""
    return ChargeDraft(
        herb=lot.herb,
        part=lot.part,
        condition=lot.condition,
        mass_g=mass_g,
        water_fraction=lot.water_fraction if water_fraction is None else water_fraction,
        gathered_on=lot.gathered_on,
        origin=lot.where_from,
        lot_id=lot.lot_id,
    )


def take_of_lot(keeper: Keeper, charge: ChargeDraft) -> ChargeDraft:
    """A herb line that is put into a jar: all of its lot, if the two weights print the same.

    Refused where the lot is used up, or doesn't hold that much.
    """
    if charge.lot_id is None:
        return charge
    lot = open_lot(keeper, charge.lot_id)
    said = wording(keeper)
    if charge.condition is Condition.DRIED and lot.condition is Condition.FRESH:
        raise Refused(f"{lot.code} is still fresh.")
    refuse_more_than_left(lot, charge.mass_g, said)
    if not lot.is_in_store:
        raise Refused(f"Nothing is left of {lot.code}. If some is, weigh it first.")
    return replace(charge, mass_g=weight_meant(lot, charge.mass_g, said))


def as_taken(keeper: Keeper, charge: ChargeDraft, filled_on: date) -> ChargeDraft:
    """A herb line with what its lot knows of it; Refused where the lot came later, or is another
    herb.
    """
    if charge.lot_id is None:
        return charge
    lot = herb_lot(keeper, charge.lot_id)
    said = wording(keeper)
    same_herb = charge.herb.strip().casefold() in ("", lot.herb.casefold())
    if not same_herb or charge.part is not lot.part:
        raise Refused(f"{lot.code} is {lot.herb}, {lot.part}.")
    if filled_on < lot.got_on:
        raise Refused(
            f"{lot.code} was {lot.came} on {said.day(lot.got_on)}, after the jar was filled."
        )
    return replace(
        charge,
        herb=lot.herb,
        water_fraction=(
            lot.water_fraction
            if charge.water_fraction is None and charge.condition is lot.condition
            else charge.water_fraction
        ),
        gathered_on=charge.gathered_on or lot.gathered_on,
        origin=charge.origin or lot.where_from,
    )
