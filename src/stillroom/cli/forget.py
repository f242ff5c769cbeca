"""`forget`."""

from argparse import ArgumentParser, ArgumentTypeError
from collections.abc import Collection
from typing import Any

from stillroom.cli.call import Call, Command, json_option, yes_option
from stillroom.cli.output import put, put_json
from stillroom.errors import NotUnderstood, Refused
from stillroom.keeping.shelf_file.forgetting import (
    ForgetPlan,
    NameMatch,
    forget,
    plan_forgetting,
)
from stillroom.quantities import how_many


def _arguments(parser: ArgumentParser) -> None:
    parser.add_argument("name", nargs="+", metavar="NAME", help="the person's name")
    parser.add_argument(
        "--only",
        type=_numbers,
        metavar="1,3",
        help="remove it from these of the texts listed and from no other, or from none",
    )
    parser.add_argument(
        "--dry-run", action="store_true", help="change nothing; list where the name is"
    )
    json_option(parser)
    yes_option(parser, "remove it from every text listed")


def _numbers(text: str) -> frozenset[int]:
    if text == "none":
        return frozenset()
    try:
        return frozenset(int(number) for number in text.split(","))
    except ValueError as error:
        raise ArgumentTypeError(f"{text} is not a list of numbers such as 1,3") from error


def _forget(call: Call) -> int:
    name = " ".join(call.asked.name)
    is_decided = (call.asked.yes or call.asked.only is not None) and not call.asked.dry_run
    plan = plan_forgetting(call.keeper, name)
    wanted = _wanted(plan, call.asked.only)
    if not is_decided:
        if call.asked.json:
            put_json(call, _json(plan, wanted, removed=0), is_done=False)
        else:
            _put_plan(plan)
        if call.asked.dry_run:
            return 0
        raise Refused(
            "Nothing was changed. Add --yes to remove the name from all of these, or --only 1,3 "
            "to choose some (--only none: from the names of people only)."
        )
    # No backup first, as of other acts: it would be one more copy with the name.
    keeper = call.keeper_to_change(backup=False)
    removed = forget(keeper, name, {match.key for match in wanted}, confirmed=True)
    call.is_done = True
    if call.asked.json:
        put_json(call, _json(plan, wanted, removed=removed), is_done=True)
    else:
        put(f"Removed the name from {how_many(removed, 'place')}.")
        for path in plan.backups:
            put(f"It is still in {path}")
    return 0


def _wanted(plan: ForgetPlan, only: Collection[int] | None) -> list[NameMatch]:
    if only is None:
        return list(plan.matches)
    unknown = sorted(set(only) - {match.number for match in plan.matches})
    if unknown:
        raise NotUnderstood(f"There is no text number {unknown[0]}. List them with --dry-run.")
    return [match for match in plan.matches if match.number in only]


def _put_plan(plan: ForgetPlan) -> None:
    if plan.movements:
        put(f"For {plan.name}: {how_many(plan.movements, 'place')}.")
    if plan.matches:
        put("The name is also in:")
    for match in plan.matches:
        count = f" ({match.places} places)" if match.places > 1 else ""
        put(f"{match.number}. {match.where}: {match.text}{count}", 2)
    put(plan.question)


def _json(plan: ForgetPlan, wanted: list[NameMatch], removed: int) -> dict[str, Any]:
    return {
        "name": plan.name,
        "places_of_the_name_alone": plan.movements,
        "matches": [
            {
                "number": match.number,
                "where": match.where,
                "text": match.text,
                "places": match.places,
                "chosen": match in wanted,
            }
            for match in plan.matches
        ],
        "removed_from": removed,
        "copies_with_the_name": [str(path) for path in plan.backups],
        "question": plan.question,
    }


COMMANDS = {"forget": Command(_arguments, _forget)}
