"""`plan`: what to gather, buy and fill."""

from argparse import ArgumentParser
from typing import Any

from stillroom.cli.call import Call, Command, json_option
from stillroom.cli.output import put, put_json, put_list
from stillroom.errors import NotUnderstood
from stillroom.keeping.year import plan_words
from stillroom.keeping.year.ahead import MONTHS_IN_HAND, Ahead, SpiritNeeded, plan_view
from stillroom.reckoning.kinds import Kind
from stillroom.reckoning.planning import Range

NOTES = """\
Use is what was drawn, given, blended and found missing, by the days on which there was some; a
single amount far above the others counts as the usual most. Ranges take in 19 of 20 cases, large
single gifts apart. Yields are those of your own strainings, herbs are counted by the last jar that
was weighed, and windows are those of your own gatherings. --months and --without only show what
would be; nothing is written."""
MOST_MONTHS = 120


def _arguments(parser: ArgumentParser) -> None:
    parser.add_argument(
        "--months",
        metavar="NUMBER",
        help=f"months of use to have in hand; if left out, {MONTHS_IN_HAND:g}",
    )
    parser.add_argument(
        "--without", action="append", default=[], metavar="HERB", help="leave this herb out"
    )
    json_option(parser)


def _plan(call: Call) -> int:
    view = plan_view(call.keeper, months_in_hand=_months(call), without=tuple(call.asked.without))
    if call.asked.json:
        put_json(
            {
                "day": view.day,
                "start_this_month": [[each.herb, each.part] for each in view.due],
                "herbs": [_json(each) for each in view.herbs],
                "spirits": [_spirit_json(each) for each in view.spirits],
            }
        )
        return 0
    said = call.wording
    if not view.herbs:
        put("There is nothing to plan yet: no tincture was made.")
        return 0
    if not view.due:
        put("Nothing has to start this month.")
    put_list("To start this month", (plan_words.start(each, said) for each in view.due))
    for each in view.herbs:
        put_list(plan_words.heading(each), (f"{a}: {b}" for a, b in plan_words.facts(each, said)))
    put_list("Spirit for all of it", (plan_words.spirit(each, said) for each in view.spirits))
    return 0


def _months(call: Call) -> float:
    if call.asked.months is None:
        return MONTHS_IN_HAND
    months = call.wording.read(Kind.NUMBER, call.asked.months)
    if not 0 < months <= MOST_MONTHS:
        raise NotUnderstood(f"--months: enter a number above 0, up to {MOST_MONTHS}.")
    return months


def _json(each: Ahead) -> dict[str, Any]:
    plan, rate = each.plan, each.rate
    window = plan.window if plan else None
    return {
        "herb": each.herb,
        "part": each.part,
        "condition": each.condition,
        "in_bottles_ml": round(each.in_bottles_ml, 4),
        "to_bottle_ml": round(each.to_bottle_ml, 4),
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
        "herb_g": _range(plan.herb_g if plan else None),
        "poured_ml": plan and round(plan.poured_ml, 4),
        "jars": plan and plan.jars,
        "strength_abv": each.recipe and round(each.recipe.strength_abv, 4),
        "gather": window and {"from": window[0], "usually": window[1], "to": window[2]},
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
