"""Lots of one spirit or other liquid told apart, by as little as is needed, and found by it."""

from collections.abc import Sequence
from typing import TypeVar

from stillroom.keeping.cupboard.liquids import LiquidView
from stillroom.keeping.cupboard_views import SpiritView
from stillroom.keeping.wording import Wording
from stillroom.reckoning.kinds import Kind

Purchase = SpiritView | LiquidView
P = TypeVar("P", bound=Purchase)

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
    if mark := liquid_mark(liquid, cupboard, said):
        return MARK.join((liquid.name, mark))
    return f"{liquid.name} {liquid.code}".rstrip()


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
    return number_mark(number)


def number_mark(number: int) -> str:
    """The number of a purchase, by which a command can name it, too."""
    return f"number {number}"


def purchases_called(name: str, cupboard: Sequence[P], said: Wording) -> list[P]:
    """What in the cupboard goes by a name, code or number, or by the words that pickers have for
    it; where there are several, those of which something is left."""
    wanted = " ".join(name.split()).casefold()
    meant = [each for each in cupboard if wanted in _names(each, cupboard, said)]
    return [each for each in meant if each.left_ml is None or each.left_ml > 0] or meant


def ways_to_call(meant: Sequence[Purchase], cupboard: Sequence[Purchase], said: Wording) -> str:
    """Of several with one name, the number of each and what pickers call it.

    As in "number 2 (50 % Vodka), liquid number 1 (Honey · H-1)".
    """
    return ", ".join(f"{_number(each)} ({_words(each, cupboard, said)})" for each in meant)


def _names(one: Purchase, cupboard: Sequence[Purchase], said: Wording) -> set[str]:
    names = (one.name, one.code, _number(one), _words(one, cupboard, said))
    return {each.casefold() for each in names if each}


def _number(one: Purchase) -> str:
    if isinstance(one, SpiritView):
        return number_mark(one.spirit_id)
    return f"liquid {number_mark(one.liquid_id)}"


def _words(one: Purchase, cupboard: Sequence[Purchase], said: Wording) -> str:
    if isinstance(one, SpiritView):
        return spirit_words(one, [s for s in cupboard if isinstance(s, SpiritView)], said)
    return liquid_words(one, [each for each in cupboard if isinstance(each, LiquidView)], said)
