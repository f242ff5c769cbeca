"""`round`: the jars to shake, one after another."""

from argparse import ArgumentParser

from stillroom.cli.call import Call, Command, json_option, yes_option
from stillroom.cli.jars import jars_json, standing
from stillroom.cli.output import put, put_json
from stillroom.cli.prompts import ask, can_ask, report
from stillroom.dates import countdown
from stillroom.errors import StillroomError
from stillroom.keeping.cards import JarCard
from stillroom.keeping.jars.jar import mark_covered, shake
from stillroom.keeping.jars.shelves import shelves_view
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.undo import undo
from stillroom.quantities import how_many

NOTES = """\
On a terminal, this goes from jar to jar and asks one question a line. Enter records a shake and
goes on; n skips the jar; o marks the herb as not covered; u undoes the last answer; q or Ctrl-D
ends the round. Each shake is saved at once. Without a terminal, the jars are listed."""
KEYS = "Enter: shaken, n: not now, o: not covered, u: undo, q: stop"


def _arguments(parser: ArgumentParser) -> None:
    json_option(parser)
    yes_option(parser)


def _round(call: Call) -> int:
    shelves = shelves_view(call.keeper)
    if call.asked.json:
        put_json(call, jars_json(shelves.to_shake, shelves))
        return 0
    if not shelves.to_shake or not can_ask():
        put(f"To shake: {how_many(len(shelves.to_shake), 'jar')}.")
        for jar, name in standing(shelves.to_shake, shelves):
            put(f"{name}, {jar.shaken} of {jar.shakes_per_day} today")
        return 0
    keeper = call.keeper_to_change()
    report(KEYS)
    shaken = _go_round(call, keeper, list(shelves.to_shake))
    left = len(shelves_view(keeper).to_shake)
    put(f"Shook {how_many(shaken, 'jar')}. {how_many(left, 'jar')} still to shake.")
    return 0


def _go_round(call: Call, keeper: Keeper, jars: list[JarCard]) -> int:
    """Ask of each jar in turn; returns how many shakes were ticked off."""
    done: list[int] = []
    """Place of the jar of each act that can be undone."""
    shaken: list[bool] = []
    place = 0
    while place < len(jars):
        answer = ask(_question(keeper, jars[place]))
        if answer is None or answer.casefold() == "q":
            break
        try:
            if answer.casefold() == "u":
                if not done:
                    report("There is nothing to undo in this round.")
                    continue
                report(f"Undone: {undo(keeper)}.")
                place = done.pop()
                shaken.pop()
            elif answer.casefold() == "n":
                place += 1
            elif answer.casefold() in ("", "o"):
                _tick(call, keeper, jars[place], covered=answer == "")
                done.append(place)
                shaken.append(answer == "")
                place += 1 if answer == "" else 0
            else:
                report(KEYS)
        except StillroomError as error:
            report(str(error))
            place += 1
    return sum(shaken)


def _tick(call: Call, keeper: Keeper, jar: JarCard, *, covered: bool) -> None:
    if covered:
        now = shake(keeper, jar.jar_id)
        report(f"Shook {now.code}, {now.shaken} of {now.shakes_per_day}.")
    else:
        mark_covered(keeper, jar.jar_id, False)
        report(f"{jar.code}: the herb is not covered. Top it up, and shake it.")
    call.is_done = True


def _question(keeper: Keeper, jar: JarCard) -> str:
    shelves = shelves_view(keeper)
    now = next((each for each in shelves.jars if each.jar_id == jar.jar_id), jar)
    ((_, name),) = standing([now], shelves)
    bare = "" if now.covered else ", herb not covered"
    left = now.days_left(shelves.today)
    due = "strain today" if left == 0 else f"strain in {countdown(left)}"
    due = f"{countdown(left)}" if left < 0 else due
    return f"{name}, {due}{bare}. Shaken?"


COMMANDS = {"round": Command(_arguments, _round, NOTES)}
