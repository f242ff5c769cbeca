"""Lots of one spirit told apart, by as little as is needed."""

from collections.abc import Sequence

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
    if not twins:
        return ""
    if spirit.code:
        return spirit.code
    if spirit.lot and all(each.lot != spirit.lot for each in twins):
        return spirit.lot
    if spirit.bought_on and all(each.bought_on != spirit.bought_on for each in twins):
        return said.day(spirit.bought_on)
    return f"number {spirit.spirit_id}"
