"""The daily verbs without the screen: what to do, and doing it."""

from argparse import ArgumentParser
from collections.abc import Sequence
from typing import Any

from stillroom.cli.bottles import (
    _bottle_json,
    _bottle_line,
    _bottles,
    _bottles_arguments,
    _draw,
    _draw_arguments,
    _tincture_json,
    _volume,
)
from stillroom.cli.call import Call, Command, yes_option
from stillroom.cli.jars import (
    _jars,
    _jars_arguments,
    _jars_json,
    _shake,
    _shake_arguments,
    _standing,
)
from stillroom.cli.output import put, put_json, put_list
from stillroom.cli.trace import _recall, _recall_arguments, _trace, _trace_arguments
from stillroom.dates import countdown, show_day
from stillroom.keeping.views import BottleRow
from stillroom.quantities import how_many


def _json_option(parser: ArgumentParser) -> None:
    parser.add_argument("--json", action="store_true", help="for a program to read")


def _today(call: Call) -> int:
    from stillroom.keeping.day import day_view
    from stillroom.keeping.jars.shelves import shelves_view
    from stillroom.keeping.shelf_file.backups import backup_folder, last_backup

    day = day_view(call.keeper)
    shelves = shelves_view(call.keeper)
    backup = last_backup(backup_folder(call.keeper), call.keeper.store.path)
    jars = {
        "to_shake": day.to_shake,
        "due": day.due,
        "over": day.over,
        "uncovered": day.uncovered,
    }
    if call.asked.json:
        put_json(
            {"day": day.day}
            | {name: _jars_json(found, shelves) for name, found in jars.items()}
            | {
                "to_bottle": [_tincture_json(tincture) for tincture in day.to_bottle],
                "passing": _bottles_json(call, day.passing),
                "backup": {
                    "last_on": backup.last_on,
                    "failed_on": backup.failed_on,
                    "failure": backup.failure,
                },
            }
        )
        return 0
    put(f"Today is {show_day(day.day)}.")
    doubt = "" if call.asked.sample else call.keeper.date_in_doubt
    if doubt:
        put(doubt)
    if not (any(jars.values()) or day.to_bottle or day.passing):
        put("There is nothing to do.")
    shakes = sum(jar.shakes_left for jar in day.to_shake)
    put_list(
        f"To shake: {how_many(shakes, 'shake')} to do",
        (
            where + (f", {jar.shakes_left} times" if jar.shakes_left > 1 else "")
            for jar, where in _standing(day.to_shake, shelves)
        ),
    )
    put_list(
        f"To strain today: {how_many(len(day.due), 'jar')}",
        (where for _, where in _standing(day.due, shelves)),
    )
    put_list(
        f"Over: {how_many(len(day.over), 'jar')}",
        (
            f"{where}: {countdown(jar.days_left(day.day))}"
            for jar, where in _standing(day.over, shelves)
        ),
    )
    put_list(
        f"Herb not under the liquid: {how_many(len(day.uncovered), 'jar')}",
        (where for _, where in _standing(day.uncovered, shelves)),
    )
    put_list(
        f"To bottle: {how_many(len(day.to_bottle), 'tincture')}",
        (f"{t.code} {t.name}: {_volume(call, t.loose_ml)}" for t in day.to_bottle),
    )
    put_list(
        f"Keep-until date past or near: {how_many(len(day.passing), 'bottle')}",
        (_bottle_line(call, bottle) for bottle in day.passing),
    )
    if backup.failed_on:
        put_list(f"The backup of {show_day(backup.failed_on)} failed:", [backup.failure])
    return 0


def _bottles_json(call: Call, bottles: Sequence[BottleRow]) -> list[dict[str, Any]]:
    from stillroom.keeping.contents import herb_equivalents_of

    herbs = herb_equivalents_of(call.keeper, {bottle.tincture_id for bottle in bottles})
    return [_bottle_json(bottle, herbs[bottle.tincture_id]) for bottle in bottles]


def _turn_arguments(parser: ArgumentParser) -> None:
    parser.add_argument("--dry-run", action="store_true", help="say only what that would be")
    yes_option(parser)


def _undo(call: Call) -> int:
    from stillroom.keeping.undo import NOTHING_TO_UNDO, undo, undoable

    if call.asked.dry_run:
        title = undoable(call.keeper)
        put(f"Undo would take back: {title}." if title else NOTHING_TO_UNDO)
    else:
        title = undo(call.keeper_to_change())
        call.is_done = True
        put(f"Undone: {title}.")
    return 0


def _redo(call: Call) -> int:
    from stillroom.keeping.undo import NOTHING_TO_REDO, redo, redoable

    if call.asked.dry_run:
        title = redoable(call.keeper)
        put(f"Redo would do again: {title}." if title else NOTHING_TO_REDO)
    else:
        title = redo(call.keeper_to_change())
        call.is_done = True
        put(f"Done again: {title}.")
    return 0


COMMANDS = {
    "today": Command(_json_option, _today),
    "jars": Command(_jars_arguments, _jars),
    "shake": Command(_shake_arguments, _shake),
    "bottles": Command(_bottles_arguments, _bottles),
    "draw": Command(_draw_arguments, _draw),
    "undo": Command(_turn_arguments, _undo),
    "redo": Command(_turn_arguments, _redo),
    "trace": Command(_trace_arguments, _trace),
    "recall": Command(_recall_arguments, _recall),
}
