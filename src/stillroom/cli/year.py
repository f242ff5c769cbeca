"""`year` and `people`."""

from argparse import ArgumentParser
from functools import partial
from typing import Any

from stillroom.cli.call import Call, Command, json_option
from stillroom.cli.found import batch_of
from stillroom.cli.output import put, put_json, put_list
from stillroom.cli.year_papers import goes_on_paper, out_option, period, write_part
from stillroom.errors import Refused
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.words import folded, for_whom
from stillroom.keeping.year import words
from stillroom.keeping.year.behind import CostOfYear, YearView, year_view
from stillroom.keeping.year.people import Person, Taken, people, who_got
from stillroom.quantities import how_many
from stillroom.reckoning.batch_costs import BatchCost
from stillroom.reckoning.year import PeriodFigures

NOTES = """\
The amounts made and used are sums of what was recorded. They judge nobody's use and recommend no
dose. The cost counts spirits, other liquids and lots of herb at the price you entered; whatever has
no price is listed and left out of the cost."""


def _year_arguments(parser: ArgumentParser) -> None:
    parser.add_argument(
        "--from", dest="since", metavar="DAY", help="the first day; if left out, 1 January"
    )
    parser.add_argument(
        "--to", dest="until", metavar="DAY", help="the last day; if left out, today"
    )
    json_option(parser)
    out_option(parser)


def _year(call: Call) -> int:
    since, until = period(call, call.asked.since, call.asked.until)
    view = year_view(call.keeper, since, until)
    if goes_on_paper(call):
        from stillroom.paper.year_csv import year_csv
        from stillroom.paper.year_papers import year_paper

        return write_part(
            call, call.asked.out, lambda: year_paper(call.keeper, view), lambda: year_csv(view)
        )
    if call.asked.json:
        put_json(call, _year_json(view))
        return 0
    said = call.wording
    put(f"From {said.day(since)} to {said.day(until)}.")
    _put_figures(call, "All", view.total)
    for herb, figures in view.by_herb.items():
        _put_figures(call, herb, figures)
    put_list(
        "By month",
        (
            f"{said.month(month)}: {in_one_line(call, figures)}"
            for month, figures in view.by_month.items()
            if figures.amounts
        ),
    )
    put_list(
        "By batch",
        (f"{code}: {in_one_line(call, figures)}" for code, figures in view.by_batch.items()),
    )
    _put_cost(call, view.cost)
    return 0


def _put_figures(call: Call, heading: str, figures: PeriodFigures) -> None:
    lines = words.facts(figures, call.wording)
    put_list(heading, (f"{name}: {text}" for name, text in lines))


def in_one_line(call: Call, figures: PeriodFigures) -> str:
    """A period in one line."""
    lines = words.facts(figures, call.wording)
    return "; ".join(f"{name[0].lower()}{name[1:]} {text}" for name, text in lines)


def _put_cost(call: Call, cost: CostOfYear) -> None:
    said = call.wording
    money = partial(words.money, said=said)
    lines = [f"{lot.name}: {words.amount(lot, said)}, {money(lot.cost)}" for lot in cost.purchases]
    put_list(f"Spirits, liquids and herbs that went in: {money(cost.bought)}", lines)
    sums = {"made": cost.made, "used": cost.used, "lost": cost.gone}
    said_of = [f"{what} {money(amount)}" for what, amount in sums.items() if amount is not None]
    put_list(
        "By kind",
        (f"{what} {words.cost_of_kind(each, said)}" for what, each in cost.by_kind.items()),
    )
    put_list(
        f"Cost of what was {', '.join(said_of)}" if said_of else "Batches made",
        (
            f"{batch.code}: {words.cost(batch.cost, said)}{words.bottles_cost(batch, said)}"
            for batch in cost.batches
        ),
    )
    if cost.without:
        put(f"Not counted, as no price is known: {', '.join(cost.without)}.")


def _year_json(view: YearView) -> dict[str, Any]:
    return {
        "from": view.since,
        "to": view.until,
        "total": _figures_json(view.total),
        "herbs": {herb: _figures_json(each) for herb, each in view.by_herb.items()},
        "batches": {code: _figures_json(each) for code, each in view.by_batch.items()},
        "months": {f"{day:%Y-%m}": _figures_json(each) for day, each in view.by_month.items()},
        "cost": {
            "purchases": [
                {
                    "name": lot.name,
                    "volume_ml": lot.volume_ml,
                    "mass_g": lot.mass_g,
                    "cost": lot.cost,
                }
                for lot in view.cost.purchases
            ],
            "made": view.cost.made,
            "used": view.cost.used,
            "lost": view.cost.gone,
            "by_kind": {
                str(what): {"cost": each.cost, "without": each.without}
                for what, each in view.cost.by_kind.items()
            },
            "without": view.cost.without,
            "batches": [
                {
                    "code": batch.code,
                    "made_on": batch.made_on,
                    **cost_json(batch.cost),
                    "bottles": [
                        {
                            "code": code,
                            "volume_ml": ml,
                            "cost": cost if batch.cost.is_priced else None,
                        }
                        for code, ml, cost in batch.bottles
                    ],
                }
                for batch in view.cost.batches
            ],
        },
    }


def cost_json(cost: BatchCost) -> dict[str, Any]:
    """A cost; null where nothing of it has a price."""
    return {
        "cost": cost.total if cost.is_priced else None,
        "per_100_ml": cost.per_100_ml if cost.is_priced else None,
        "without": cost.without,
    }


def _figures_json(figures: PeriodFigures) -> dict[str, Any]:
    return {
        "before_ml": round(figures.before_ml, 4),
        "left_ml": round(figures.left_ml, 4),
        "made_ml": round(figures.made_ml, 4),
        "used_ml": round(figures.used_ml, 4),
        "lost_ml": round(figures.gone_ml, 4),
        "percent_of_liquid": figures.percent,
        "amounts": {str(what): round(amount, 4) for what, amount in figures.amounts.items()},
    }


def _people_arguments(parser: ArgumentParser) -> None:
    parser.add_argument(
        "words", nargs="*", metavar="WORD", help="list only names with this in them"
    )
    parser.add_argument(
        "--of",
        metavar="CODE",
        help="list only who got some of this batch, or of a blend made with it",
    )
    json_option(parser)
    out_option(parser)


def _people(call: Call) -> int:
    keeper = call.keeper
    found = _found(keeper, call.asked.of)
    wanted = folded(" ".join(call.asked.words)).split()
    found = [each for each in found if all(word in folded(each.name) for word in wanted)]
    if goes_on_paper(call):
        from stillroom.paper.year_csv import people_csv
        from stillroom.paper.year_papers import people_paper

        return write_part(
            call,
            call.asked.out,
            lambda: people_paper(call.keeper, found),
            lambda: people_csv(found),
        )
    if call.asked.json:
        put_json(call, [_person_json(each) for each in found])
        return 0
    if wanted and not found:
        raise Refused(f"Nobody called {' '.join(call.asked.words)} got anything.")
    of = f" got any of {call.asked.of}" if call.asked.of else ""
    put(f"{how_many(len(found), 'name')}{of}." if found else f"Nobody{of or ' got anything yet'}.")
    for each in found:
        put_list(
            f"{each.name}: {call.wording.volume(each.volume_ml)}",
            (taken_line(call, taken) for taken in each.taken),
        )
    return 0


def _found(keeper: Keeper, code: str | None) -> list[Person]:
    return who_got(keeper, batch_of(keeper, code)) if code else people(keeper)


def taken_line(call: Call, taken: Taken) -> str:
    """What, how much, when and from which batch."""
    said = call.wording
    note = f" · {note}" if (note := for_whom("", taken.note)) else ""
    return (
        f"{said.day(taken.day)}: {said.volume(taken.volume_ml)} {taken.name}, "
        f"{taken.code}, {taken.how}{note}"
    )


def _person_json(person: Person) -> dict[str, Any]:
    return {
        "name": person.name,
        "volume_ml": round(person.volume_ml, 4),
        "taken": [
            {
                "day": each.day,
                "bottle": each.code,
                "batch": each.batch,
                "name": each.name,
                "kind": each.kind,
                "volume_ml": round(each.volume_ml, 4),
                "note": each.note,
            }
            for each in person.taken
        ],
    }


COMMANDS = {
    "year": Command(_year_arguments, _year, NOTES),
    "people": Command(
        _people_arguments,
        _people,
        "The names are those you gave as For when you drew or gave something. "
        "stillroom forget NAME\nremoves one for good.",
    ),
}
