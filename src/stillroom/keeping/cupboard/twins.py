"""Lots of one spirit or other liquid told apart, by as little as is needed."""

from collections.abc import Sequence

from stillroom.keeping.cupboard.liquids import LiquidView
from stillroom.keeping.cupboard_views import SpiritView
from stillroom.keeping.wording import Wording
from stillroom.reckoning.kinds import Kind

MARK = " · "
"""Before what tells two apart: where there is too little room, what is before it is cut."""


def spirit_words(spirit: SpiritView, cupboard: Sequence[SpiritView], said: Wording) -> str:
    """A spirit's strength and name, and where others have the same, what tells it apart."""
    words = f"{said.of(Kind.STRENGTH, spirit.strength_abv)} {spirit.name}"
    return MARK.join(filter(None, (words, twin_mark(spirit, cupboard, said))))


def twin_mark(spirit: SpiritView, cupboard: Sequence[SpiritView], said: Wording) -> str:
    """Its code, or else lot, day of purchase or number, whichever no twin has; or blank."""
    twins = [
        each
        for each in cupboard
        if each.spirit_id != spirit.spirit_id
        and (each.name.casefold(), each.strength_abv)
        == (spirit.name.casefold(), spirit.strength_abv)
    ]
    return _mark(spirit, spirit.spirit_id, twins, said)


def liquid_words(liquid: LiquidView, cupboard: Sequence[LiquidView], said: Wording) -> str:
    """The name of a liquid that is no spirit with its code, or else with what tells it apart from
    others of that name."""
    if liquid.code:
        return f"{liquid.name} {liquid.code}"
    return MARK.join(filter(None, (liquid.name, liquid_mark(liquid, cupboard, said))))


def liquid_mark(liquid: LiquidView, cupboard: Sequence[LiquidView], said: Wording) -> str:
    """Its code, or else lot, day of purchase or number, whichever no twin has; or blank."""
    twins = [
        each
        for each in cupboard
        if each.liquid_id != liquid.liquid_id and each.name.casefold() == liquid.name.casefold()
    ]
    return _mark(liquid, liquid.liquid_id, twins, said)


def _mark(
    one: SpiritView | LiquidView,
    number: int,
    twins: Sequence[SpiritView | LiquidView],
    said: Wording,
) -> str:
    if not twins:
        return ""
    if one.code:
        return one.code
    if one.lot and all(each.lot != one.lot for each in twins):
        return one.lot
    if one.bought_on and all(each.bought_on != one.bought_on for each in twins):
        return said.day(one.bought_on)
    return f"number {number}"
