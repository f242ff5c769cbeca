"""The plan in words, for lists, paper and the command line."""

from collections.abc import Callable

from stillroom.dates import month_name
from stillroom.keeping.wording import Wording
from stillroom.keeping.words import in_a_row
from stillroom.keeping.year.plan_views import Ahead, SpiritNeeded, WhatIf
from stillroom.quantities import how_many
from stillroom.reckoning.moon import phase_on
from stillroom.reckoning.planning import Range, UseRate, months_ahead


def heading(each: Ahead) -> str:
    """What it is a tincture of."""
    return in_a_row(each.herb, each.part, each.condition)


def about(found: Range, show: Callable[[float | None], str]) -> str:
    """A figure with its range."""
    return f"{show(found.middle)} ({show(found.low)} to {show(found.high)})"


def facts(each: Ahead, said: Wording, *, with_moon: bool = False) -> list[tuple[str, str]]:
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
            ("To get", to_get(each, said)),
            ("Gather", gather(each, said)),
            ("Fill by", fill_by(each, said)),
            ("Moon", moon_words(each, said) if with_moon else ""),
        ]
    return [(name, text) for name, text in lines if text]


def stock(each: Ahead, said: Wording) -> str:
    """In bottles, to bottle, steeping; and what isn't counted."""
    not_counted = in_a_row(
        f"{how_many(each.by_eye, 'jar')} by eye" if each.by_eye else "",
        f"{said.volume(each.past_date_ml)} past its date" if each.past_date_ml else "",
        f"{said.volume(each.withheld_ml)} rejected or withdrawn" if each.withheld_ml else "",
    )
    return in_a_row(
        f"{said.volume(each.in_bottles_ml)} in bottles",
        f"{said.volume(each.to_bottle_ml)} to bottle" if each.to_bottle_ml else "",
        f"{about(each.steeping_ml, said.volume)} steeping" if each.steeping_ml.high else "",
        f"not counted: {not_counted}" if not_counted else "",
    )


def used(each: Ahead, said: Wording) -> str:
    """How fast it is used."""
    if each.rate is None:
        return "in stock for too short a time to judge"
    left_out = each.rate.left_out_ml
    return in_a_row(
        f"{said.volume(each.rate.ml_per_month)} a month over {how_many(each.rate.days, 'day')} "
        "in stock",
        f"not counting {said.volume(left_out)} of unusually large amounts" if left_out else "",
        season(each.rate, said),
    )


def season(rate: UseRate, said: Wording) -> str:
    """The month in which most is used and the one in which least is; blank without a season."""
    if rate.season is None:
        return ""
    most, least = (pick(range(12), key=rate.season.__getitem__) for pick in (max, min))
    return (
        f"most in {month_name(most + 1)} ({said.percent(100 * rate.season[most])} of an average "
        f"month), least in {month_name(least + 1)} ({said.percent(100 * rate.season[least])})"
    )


def covered(each: Ahead, said: Wording) -> str:
    """Until when it lasts."""
    if each.plan is None:
        return ""
    until = each.plan.covered_until
    return "for longer than the plan looks ahead" if until is None else f"until {said.day(until)}"


def make(each: Ahead, said: Wording) -> str:
    """What to make, and until when that lasts; blank where nothing has to be made."""
    if each.plan is None or not each.plan.is_needed:
        return ""
    to_make = about(each.plan.to_make_ml, said.volume)
    return f"{to_make}, to last until {said.month(each.plan.cover_to)}"


def herb(each: Ahead, said: Wording) -> str:
    """Herb that it takes, and what to pour on it; blank where none is needed."""
    plan = each.plan
    if plan is None or not plan.is_needed:
        return ""
    if plan.herb_g is None or each.recipe is None:
        return "no weighed jar to go by"
    size_ml = each.recipe.jar_size_ml
    return in_a_row(
        f"{about(plan.herb_g, said.mass)} {each.condition}",
        f"{said.volume(plan.poured_ml)} at {said.strength(each.recipe.strength_abv)} in "
        f"{how_many(plan.jars, 'jar')}" + (f" of {said.volume(size_ml)}" if size_ml else ""),
    )


def to_get(each: Ahead, said: Wording) -> str:
    """What to gather or buy, fresh or dried, once the store is used; blank where none is needed."""
    wanted = each.to_get
    if wanted is None:
        return ""
    if wanted.is_enough:
        return "nothing: the herb store has enough"
    less = f"less {said.mass(wanted.in_store_g)} in store" if wanted.in_store_g else ""
    fresh = ""
    if wanted.fresh_g is not None:
        by = "the part's usual water"
        if wanted.dryings:
            by = f"{how_many(wanted.dryings, 'drying')} of your own"
        fresh = f"or {about(wanted.fresh_g, said.mass)} fresh, going by {by}"
    return in_a_row(f"{about(wanted.herb_g, said.mass)} {each.condition}", less, fresh)


def gather(each: Ahead, said: Wording) -> str:
    """When it is gathered; blank where that isn't known."""
    if each.plan is None or each.plan.window is None or each.window is None:
        return ""
    first, usually, last = each.plan.window
    if not each.window.rests_on:
        return f"{said.day(first)} to {said.day(last)}, as you set"
    rests_on = f"{how_many(each.window.rests_on, 'gathering')} of your own"
    if first == last:
        return f"{said.day(first)}, from {rests_on}"
    return f"{said.day(first)} to {said.day(last)}, usually {said.day(usually)}, from {rests_on}"


def fill_by(each: Ahead, said: Wording, *, is_short: bool = False) -> str:
    """The last day to fill before the stock runs out, or the first on which that is possible.

    Blank where nothing has to be made. Without the reason where it is to be short.
    """
    if each.plan is None or not each.plan.is_needed or each.plan.fill_by is None:
        return ""
    fill_on = each.plan.fill_on or each.plan.today
    if each.plan.fill_by >= fill_on:
        return said.day(fill_on)
    if fill_on > each.plan.today:
        why = ", the first day to gather it; the stock runs out before"
        return said.day(fill_on) + ("" if is_short else why)
    return "now" if is_short else "now, as the stock runs out before it is ready"


MARKS = "G gather, F fill, X runs out"


def strip(each: Ahead) -> list[tuple[str, str]]:
    """The twelve months ahead by name, each with its marks; nothing without a plan.

    Letters, so that it reads without colour.
    """
    if each.plan is None:
        return []
    return [
        (month_name(month.month), "".join(marks))
        for month, marks in months_ahead(each.plan, each.window)
    ]


def strip_lines(each: Ahead) -> list[str]:
    """The strip in two lines of text; nothing without a plan."""
    months = strip(each)
    if not months:
        return []
    names = "".join(f"{name:4}" for name, _ in months).rstrip()
    marks = "".join(f"{marks or '.':4}" for _, marks in months).rstrip()
    return [names, f"{marks}   {MARKS}"]


def what_if(asked: WhatIf, said: Wording) -> str:
    """What is otherwise, in one line; blank where nothing is."""
    months = f"{said.number(asked.months)} months in hand" if asked.months else ""
    more = (
        f"{name} {said.percent(abs(100 * share))} {'more' if share >= 0 else 'less'}"
        for name, share in asked.more
    )
    without = f"without {', '.join(asked.without)}" if asked.without else ""
    return in_a_row(months, without, *more)


def moon(each: Ahead) -> str:
    """The phase of the moon on the last day to fill, or today; blank where nothing is needed."""
    if each.plan is None or not each.plan.is_needed or each.plan.fill_on is None:
        return ""
    return str(phase_on(each.plan.fill_on))


def moon_words(each: Ahead, said: Wording) -> str:
    """The same in words, with the day."""
    if not (phase := moon(each)) or each.plan is None or each.plan.fill_on is None:
        return ""
    return f"{phase} on {said.day(each.plan.fill_on)}, folk practice"


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
        f"{said.volume(each.there_ml)} on hand, {bought}"
    )
