"""`plan`: what to gather, buy and fill."""

from argparse import ArgumentParser
from typing import Any

from stillroom.cli.call import Call, Command, json_option
from stillroom.cli.output import put, put_json, put_list
from stillroom.cli.year_papers import goes_on_paper, out_option, write_part
from stillroom.errors import NotUnderstood
from stillroom.keeping.settings import MOST_MONTHS
from stillroom.keeping.year import plan_words
from stillroom.keeping.year.ahead import plan_view
from stillroom.keeping.year.plan_views import Ahead, SpiritNeeded, WhatIf
from stillroom.keeping.year.what_ifs import herbs_asked, people_asked, read_share
from stillroom.reckoning.kinds import Kind
from stillroom.reckoning.planning import Range

NOTES = """\
Use is what was drawn, given, blended and found missing, over the days on which there was some in
stock. A single amount far larger than the others counts only as much as the largest usual one.
A season counts once two years show it. A range covers 19 of 20 cases, apart from large single
gifts. Yields come from your own strainings, and the weight of herb from the last jar you weighed.
Gathering times are those you set, or those of your own gatherings. --months, --without and --more
only show what would change; nothing is saved."""


def _arguments(parser: ArgumentParser) -> None:
    parser.add_argument(
        "--months",
        metavar="NUMBER",
        help="months of use to have in hand of every herb; if left out, as in the settings",
    )
    parser.add_argument(
        "--without", action="append", default=[], metavar="HERB", help="leave this herb out"
    )
    parser.add_argument(
        "--more",
        action="append",
        default=[],
        metavar="NAME=PERCENT",
        help='as if this person got more, such as "J.=50%%", or less: "J.=-20%%"; repeat it for '
        "several people",
    )
    json_option(parser)
    out_option(parser)


def _plan(call: Call) -> int:
    asked = WhatIf(_months(call), _without(call), _more(call))
    view, moon = plan_view(call.keeper, asked), call.settings.moon
    if goes_on_paper(call):
        from stillroom.paper.year_csv import plan_csv
        from stillroom.paper.year_papers import plan_paper

        return write_part(
            call,
            call.asked.out,
            lambda: plan_paper(call.keeper, view, asked),
            lambda: plan_csv(view, with_moon=moon),
        )
    if call.asked.json:
        put_json(
            call,
            {
                "day": view.day,
                "what_if": plan_words.what_if(asked, call.wording),
                "start_this_month": [[each.herb, each.part] for each in view.due],
                "herbs": [plan_json(each, with_moon=moon) for each in view.herbs],
                "spirits": [_spirit_json(each) for each in view.spirits],
            },
        )
        return 0
    said = call.wording
    if not view.herbs:
        put("There is nothing to plan yet: no tincture has been made.")
        return 0
    if asked.is_asked:
        put(f"What if: {plan_words.what_if(asked, said)}.")
    if not view.due:
        put("Nothing has to start this month.")
    put_list("To start this month", (plan_words.start(each, said) for each in view.due))
    for each in view.herbs:
        facts = [f"{a}: {b}" for a, b in plan_words.facts(each, said, with_moon=moon)]
        put_list(plan_words.heading(each), [*facts, *plan_words.strip_lines(each)])
    put_list("Spirit for all of it", (plan_words.spirit(each, said) for each in view.spirits))
    return 0


def _months(call: Call) -> float | None:
    if call.asked.months is None:
        return None
    months = float(call.wording.read(Kind.NUMBER, call.asked.months))
    if not 0 < months <= MOST_MONTHS:
        raise NotUnderstood(f"--months: enter a number above 0 and at most {MOST_MONTHS}.")
    return months


def _without(call: Call) -> tuple[str, ...]:
    try:
        return herbs_asked(call.keeper, call.asked.without)
    except NotUnderstood as error:
        raise NotUnderstood(f"--without: {error}") from None


def _more(call: Call) -> tuple[tuple[str, float], ...]:
    try:
        pairs = [text.rpartition("=") for text in call.asked.more]
        if not all(name for name, _, _ in pairs):
            raise NotUnderstood('write NAME=PERCENT, such as "J.=50%".')
        shares = [(name, read_share(text, call.wording)) for name, _, text in pairs]
        return people_asked(call.keeper, shares)
    except NotUnderstood as error:
        raise NotUnderstood(f"--more: {error}") from None


def plan_json(each: Ahead, *, with_moon: bool) -> dict[str, Any]:
    """One tincture of the plan; the phase of the moon is null unless it is asked for."""
    plan, rate = each.plan, each.rate
    window = plan.window if plan else None
    return {
        "herb": each.herb,
        "part": each.part,
        "condition": each.condition,
        "in_bottles_ml": round(each.in_bottles_ml, 4),
        "to_bottle_ml": round(each.to_bottle_ml, 4),
        "past_date_ml": round(each.past_date_ml, 4),
        "withheld_ml": round(each.withheld_ml, 4),
        "steeping_ml": _range(each.steeping_ml),
        "jars_by_eye": each.by_eye,
        "in_store_g": {condition: round(grams, 4) for condition, grams in each.in_store_g},
        "use_per_month_ml": rate and round(rate.ml_per_month, 4),
        "use_a_year_ml": _range(rate.over(365) if rate else None),
        "months_in_hand": each.months_in_hand,
        "covered_until": plan and plan.covered_until,
        "to_make_ml": _range(plan.to_make_ml if plan else None),
        "fill_by": plan and plan.fill_by,
        "start_by": plan and plan.start_by,
        "moon": (plan_words.moon(each) or None) if with_moon else None,
        "herb_g": _range(plan.herb_g if plan else None),
        "to_get_g": _range(each.to_get.herb_g if each.to_get else None),
        "to_get_fresh_g": _range(each.to_get.fresh_g if each.to_get else None),
        "poured_ml": plan and round(plan.poured_ml, 4),
        "jars": plan and plan.jars,
        "jar_size_ml": each.recipe and each.recipe.jar_size_ml,
        "season": rate and rate.season and [round(month, 4) for month in rate.season],
        "months": dict(plan_words.strip(each)),
        "strength_abv": each.recipe and round(each.recipe.strength_abv, 4),
        "gather": window
        and {
            "from": window[0],
            "usually": window[1],
            "to": window[2],
            "own_gatherings": each.window and each.window.rests_on,
        },
    }


def _range(found: Range | None) -> dict[str, float] | None:
    if found is None:
        return None
    return {
        "low": round(found.low, 4),
        "expected": round(found.middle, 4),
        "high": round(found.high, 4),
    }


def _spirit_json(each: SpiritNeeded) -> dict[str, Any]:
    return {
        "strength_abv": each.strength_abv,
        "needed_ml": round(each.needed_ml, 4),
        "there_ml": round(each.there_ml, 4),
        "to_buy_ml": round(each.to_buy_ml, 4),
        "cost": each.cost,
    }


COMMANDS = {"plan": Command(_arguments, _plan, NOTES)}
