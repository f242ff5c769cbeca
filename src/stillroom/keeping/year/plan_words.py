"""The plan in words, for lists, paper and the command line."""

from collections.abc import Callable

from stillroom.keeping.wording import Wording
from stillroom.keeping.words import in_a_row
from stillroom.keeping.year.ahead import Ahead, SpiritNeeded
from stillroom.quantities import how_many
from stillroom.reckoning.planning import Range


def heading(each: Ahead) -> str:
    """What it is a tincture of."""
    return in_a_row(each.herb, each.part, each.condition)


def about(found: Range, show: Callable[[float | None], str]) -> str:
    """A figure with its range."""
    return f"{show(found.middle)} ({show(found.low)} to {show(found.high)})"


def facts(each: Ahead, said: Wording) -> list[tuple[str, str]]:
    """What there is, how it is used and what it asks for, each with its heading."""
    lines = [("In stock", stock(each, said)), ("Used", used(each, said))]
    if each.in_store_g:
        held = (f"{said.mass(grams)} {condition}" for condition, grams in each.in_store_g)
        lines.append(("In store", ", ".join(held)))
    if each.plan is not None:
        lines += [
            ("Lasts", covered(each, said)),
            ("Make", make(each, said)),
            ("Herb", herb(each, said)),
            ("Gather", gather(each, said)),
            ("Fill by", fill_by(each, said)),
        ]
    return [(name, text) for name, text in lines if text]


def stock(each: Ahead, said: Wording) -> str:
    """In bottles, to bottle, steeping."""
    return in_a_row(
        f"{said.volume(each.in_bottles_ml)} in bottles",
        f"{said.volume(each.to_bottle_ml)} to bottle" if each.to_bottle_ml else "",
        f"{about(each.steeping_ml, said.volume)} steeping" if each.steeping_ml.high else "",
        f"{how_many(each.by_eye, 'jar')} by eye, not counted" if each.by_eye else "",
    )


def used(each: Ahead, said: Wording) -> str:
    """How fast it is used."""
    if each.rate is None:
        return "in stock for too short a time to judge"
    left_out = each.rate.left_out_ml
    return in_a_row(
        f"{said.volume(each.rate.ml_per_month)} a month by {how_many(each.rate.days, 'day')} "
        "in stock",
        f"without {said.volume(left_out)} of large single amounts" if left_out else "",
    )


def covered(each: Ahead, said: Wording) -> str:
    """Until when it lasts."""
    if each.plan is None:
        return ""
    until = each.plan.covered_until
    return "longer than anybody looks ahead" if until is None else f"until {said.day(until)}"


def make(each: Ahead, said: Wording) -> str:
    """What to make, and until when that lasts; blank where nothing has to be made."""
    if each.plan is None or not each.plan.is_needed:
        return ""
    to_make = about(each.plan.to_make_ml, said.volume)
    return f"{to_make}, to last until {said.month(each.plan.cover_to)}"


def herb(each: Ahead, said: Wording) -> str:
    """Herb to gather or buy, and what to pour on it; blank where none is needed."""
    plan = each.plan
    if plan is None or not plan.is_needed:
        return ""
    if plan.herb_g is None or each.recipe is None:
        return "no weighed jar to go by"
    return in_a_row(
        f"{about(plan.herb_g, said.mass)} {each.condition}",
        f"{said.volume(plan.poured_ml)} at {said.strength(each.recipe.strength_abv)} in "
        f"{how_many(plan.jars, 'jar')}",
    )


def gather(each: Ahead, said: Wording) -> str:
    """When it is gathered; blank where that isn't known."""
    if each.plan is None or each.plan.window is None or each.window is None:
        return ""
    first, usually, last = each.plan.window
    rests_on = how_many(each.window.rests_on, "own gathering")
    if first == last:
        return f"{said.day(first)}, by {rests_on}"
    return f"{said.day(first)} to {said.day(last)}, usually {said.day(usually)}, by {rests_on}"


def fill_by(each: Ahead, said: Wording) -> str:
    """The last day to fill before the stock runs out; blank where nothing has to be made."""
    if each.plan is None or not each.plan.is_needed or each.plan.fill_by is None:
        return ""
    if each.plan.fill_by < each.plan.today:
        return "now: the stock runs out before it is ready"
    return said.day(each.plan.fill_by)


def start(each: Ahead, said: Wording) -> str:
    """What has to start this month, in one line."""
    return f"{heading(each)}: {make(each, said)}; {herb(each, said)}"


def spirit(each: SpiritNeeded, said: Wording) -> str:
    """Spirit of one strength."""
    if not each.to_buy_ml:
        bought = "enough in the cupboard"
    else:
        cost = "no price known" if each.cost is None else said.money(each.cost)
        bought = f"{said.volume(each.to_buy_ml)} to buy, {cost}"
    return (
        f"{said.strength(each.strength_abv)}: {said.volume(each.needed_ml)}, "
        f"{said.volume(each.there_ml)} there, {bought}"
    )
