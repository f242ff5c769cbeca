"""`jars` and `shake`."""

from argparse import ArgumentParser
from collections.abc import Iterable, Sequence
from datetime import date
from functools import partial
from typing import Any

from stillroom.cli.bottles import volume
from stillroom.cli.call import Call, Command, json_option
from stillroom.cli.form import Done, Values, carry_out, change_options
from stillroom.cli.output import put, put_json, put_list
from stillroom.dates import countdown
from stillroom.errors import Refused
from stillroom.keeping.cards import JarCard, ShelvesView
from stillroom.keeping.jars.jar import shake, shake_all
from stillroom.keeping.jars.shelves import shelves_view
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.words import listed
from stillroom.quantities import how_many


def _jars_arguments(parser: ArgumentParser) -> None:
    json_option(parser)


def _jars(call: Call) -> int:

    shelves = shelves_view(call.keeper)
    if call.asked.json:
        put_json(call, jars_json(shelves.jars, shelves))
        return 0
    put(f"{how_many(len(shelves.jars), 'jar')}.")
    for shelf in shelves.shelves:
        lines = [_jar_state(call, jar, shelves.today) for jar in shelf.jars]
        put_list(shelf.name, lines or ["Empty."])
    return 0


def _jar_state(call: Call, jar: JarCard, today: date) -> str:
    name = f"{jar.code} {herb_words(jar)}"
    if jar.drained_ml is not None:
        return f"{name}: {press_words(call, jar)}"
    if not jar.is_steeping:
        return f"{name}: strained, {volume(call, jar.to_bottle_ml)} to bottle"
    said = [f"{countdown(jar.days_left(today))}, strain {call.wording.day(jar.strain_on)}"]
    if jar.shakes_per_day:
        said.append(f"shaken {jar.shaken} of {jar.shakes_per_day} today")
    if not jar.covered:
        said.append("herb not covered")
    return f"{name}: {', '.join(said)}"


def press_words(call: Call, jar: JarCard) -> str:
    """What came of a drained jar, and what a press is expected to give."""
    said = f"{volume(call, jar.drained_ml)} drained, still to be pressed"
    return said if jar.press_ml is None else f"{said}: expect {volume(call, jar.press_ml)}"


def standing(jars: Iterable[JarCard], shelves: ShelvesView) -> Iterable[tuple[JarCard, str]]:
    """Jars, each with its name and its state in words."""
    places = {shelf.shelf_id: shelf.name for shelf in shelves.shelves}
    for jar in jars:
        yield jar, f"{jar.code} {herb_words(jar)}, on {places[jar.shelf_id]}"


def herb_words(jar: JarCard) -> str:
    """A jar's herbs, part and condition."""
    return f"{listed((jar.herb, *jar.others))}, {jar.part}, {jar.condition}"


def jars_json(jars: Iterable[JarCard], shelves: ShelvesView) -> list[dict[str, Any]]:
    places = {shelf.shelf_id: shelf.name for shelf in shelves.shelves}
    return [
        {
            "code": jar.code,
            "herb": jar.herb,
            "more_herbs": jar.more_herbs,
            "part": jar.part,
            "condition": jar.condition,
            "shelf": places[jar.shelf_id],
            "filled_on": jar.filled_on,
            "strain_on": jar.strain_on,
            "days_left": jar.days_left(shelves.today),
            "shakes_per_day": jar.shakes_per_day,
            "shaken_today": jar.shaken,
            "shakes_left": jar.shakes_left,
            "covered": jar.covered,
            "to_bottle_ml": jar.to_bottle_ml,
            "drained_ml": jar.drained_ml,
            "press_ml": jar.press_ml,
        }
        for jar in jars
    ]


def _shake_arguments(parser: ArgumentParser) -> None:
    parser.add_argument(
        "code", nargs="*", metavar="CODE", help="codes of the jars to shake, such as 26-004"
    )
    parser.add_argument(
        "--all", action="store_true", help="shake every jar that still needs it today"
    )
    change_options(parser)


def _shake(call: Call) -> int:
    if call.asked.all == bool(call.asked.code):
        raise Refused("Give the codes of the jars to shake, or --all.")
    if call.asked.all:
        return carry_out(call, partial(_shake_all, call))
    # All of them are looked up before the first is ticked off: a slip shakes none.
    jars = [_jar_with_code(call, code) for code in call.asked.code]
    return carry_out(call, partial(_shake_each, call, jars))


def _shake_all(call: Call, keeper: Keeper, values: Values, confirmed: bool) -> Done:
    count = shake_all(keeper)

    def every_jar() -> object:
        shelves = shelves_view(keeper)
        return jars_json(shelves.jars, shelves)

    return Done([f"Shook {how_many(count, 'jar')}."], every_jar)


def _shake_each(
    call: Call, jars: Sequence[JarCard], keeper: Keeper, values: Values, confirmed: bool
) -> Done:
    shaken = [shake(keeper, jar.jar_id) for jar in jars]
    lines = [f"Shook {j.code} {j.herb}, {j.shaken} of {j.shakes_per_day}." for j in shaken]
    return Done(lines, lambda: jars_json(shaken, shelves_view(keeper)))


def _jar_with_code(call: Call, code: str) -> JarCard:
    wanted = code.strip().casefold()
    for jar in shelves_view(call.keeper).jars:
        if jar.code.casefold() == wanted:
            return jar
    raise Refused(f"No jar on the shelves has the code {code}.")


COMMANDS = {
    "jars": Command(_jars_arguments, _jars),
    "shake": Command(_shake_arguments, _shake),
}
