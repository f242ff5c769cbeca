"""Lots of herb in words, for lists, paper and the ledger."""

from datetime import date

from stillroom.keeping.cupboard.lot_views import HerbLotView
from stillroom.keeping.cupboard.lots_good import Good
from stillroom.keeping.tolerances import EMPTY_G
from stillroom.keeping.wording import Wording
from stillroom.reckoning.dried_herb import NO_PROOF


def some(mass_g: float | None, said: Wording) -> str:
    """A weight, or "some" where it wasn't weighed."""
    return "some" if mass_g is None else said.mass(mass_g)


def left_words(lot: HerbLotView, said: Wording) -> str:
    """What is left of a lot, as far as it is known."""
    if lot.used_up_on is not None:
        return f"used up {said.day(lot.used_up_on)}"
    if lot.left_g is None:
        return "not weighed"
    if lot.left_g <= EMPTY_G:
        return "nothing left"
    return f"{'at most ' if lot.is_at_most else ''}{said.mass(lot.left_g)} left"


def good_words(good: Good, today: date, said: Wording) -> str:
    """Until when it is usually good: `good to 9 Aug 2027 (common practice, no source)`."""
    whose = "your setting" if good.is_own else "common practice, no source"
    past = f", past. {NO_PROOF}" if good.is_past(today) else ""
    return f"good to {said.day(good.until)} ({whose}){past}"


def lot_words(lot: HerbLotView, said: Wording) -> str:
    """What a lot was when it came, in one line."""
    facts = [
        f"{some(lot.mass_g, said)} {lot.herb}, {lot.part}, {lot.condition}",
        f"{lot.came} {said.day(lot.got_on)}",
        lot.where_from,
        f"paid {said.money(lot.price)}" if lot.price is not None else "",
    ]
    return ", ".join(filter(None, facts))


def drying_words(lot: HerbLotView, said: Wording) -> str:
    """What a lot weighed fresh and dry: `900 g → 160 g`."""
    if lot.laid_out_g is None or lot.dry_g is None:
        return some(lot.dry_g, said)
    return f"{said.mass(lot.laid_out_g)} → {said.mass(lot.dry_g)}"
