"""`today`: what the day asks for."""

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from stillroom.cli.bottles import (
    bottle_line,
    bottles_json,
    old_label_line,
    tincture_json,
    volume,
)
from stillroom.cli.call import CONFIRM_FOLDER, Call, Command, json_option
from stillroom.cli.jars import (
    jars_json,
    press_words,
    standing,
)
from stillroom.cli.output import put, put_json, put_list
from stillroom.dates import countdown
from stillroom.keeping.cards import ShelvesView
from stillroom.quantities import how_many

if TYPE_CHECKING:
    from stillroom.keeping.day import DayView


MOST_LINES = 120
"""Lines of a day at most, so that they can be read or listened to; JSON lists all."""
_LINES_AROUND = 9
"""For the day, a doubtful date or folder of backups, and a backup that failed."""
_LINES_OF_HEADING = 2


def _today(call: Call) -> int:
    from stillroom.cli.lots import good_json
    from stillroom.cli.plan import plan_json
    from stillroom.keeping.day import day_view
    from stillroom.keeping.jars.shelves import shelves_view
    from stillroom.keeping.shelf_file.backups import backup_folder, last_backup, word_about_folder

    day = day_view(call.keeper)
    shelves = shelves_view(call.keeper)
    backup = last_backup(backup_folder(call.keeper), call.keeper.path)
    jars = {
        "to_shake": day.to_shake,
        "due": day.due,
        "over": day.over,
        "to_press": day.to_press,
        "uncovered": day.uncovered,
    }
    if call.asked.json:
        put_json(
            call,
            {"day": day.day}
            | {name: jars_json(found, shelves) for name, found in jars.items()}
            | {
                "to_bottle": [tincture_json(tincture) for tincture in day.to_bottle],
                "passing": bottles_json(call, day.passing),
                "passing_lots": [good_json(good) for good in day.passing_lots],
                "to_start": [
                    plan_json(each, with_moon=call.settings.moon) for each in day.to_start
                ],
                "labels_to_print": [old.bottle.code for old in day.old_labels],
                "backup": {
                    "last_on": backup.last_on,
                    "failed_on": backup.failed_on,
                    "failure": backup.failure,
                    "in_doubt": word_about_folder(call.keeper),
                },
            },
        )
        return 0
    put(f"Today is {call.wording.day(day.day)}.")
    doubt = "" if call.asked.sample else call.keeper.date_in_doubt
    if doubt:
        put(doubt)
    others = (day.to_bottle, day.passing, day.passing_lots, day.old_labels, day.to_start)
    if not any((*jars.values(), *others)):
        put("Nothing to do today.")
    _put_sections(list(_sections(call, day, shelves)))
    if word := word_about_folder(call.keeper):
        put()
        put(f"{word} {CONFIRM_FOLDER}")
    if backup.failed_on:
        put_list(f"The backup of {call.wording.day(backup.failed_on)} failed:", [backup.failure])
    return 0


def _sections(call: Call, day: "DayView", shelves: ShelvesView) -> Iterator[tuple[str, list[str]]]:
    """What there is to do under its headings, what is most urgent first under each."""
    from stillroom.cli.lots import good_line
    from stillroom.keeping.year import plan_words

    shakes = sum(jar.shakes_left for jar in day.to_shake)
    yield (
        f"To shake: {how_many(len(day.to_shake), 'jar')}, {how_many(shakes, 'shake')}",
        [
            where + (f", {jar.shakes_left} times" if jar.shakes_left > 1 else "")
            for jar, where in standing(day.to_shake, shelves)
        ],
    )
    yield (
        f"To strain today: {how_many(len(day.due), 'jar')}",
        [where for _, where in standing(day.due, shelves)],
    )
    yield (
        f"Late: {how_many(len(day.over), 'jar')}",
        [
            f"{where}: {countdown(jar.days_left(day.day))}"
            for jar, where in standing(sorted(day.over, key=lambda jar: jar.strain_on), shelves)
        ],
    )
    yield (
        f"To press: {how_many(len(day.to_press), 'jar')}",
        [f"{where}: {press_words(call, jar)}" for jar, where in standing(day.to_press, shelves)],
    )
    yield (
        f"Herb not covered: {how_many(len(day.uncovered), 'jar')}",
        [where for _, where in standing(day.uncovered, shelves)],
    )
    yield (
        f"To bottle: {how_many(len(day.to_bottle), 'tincture')}",
        [f"{t.code} {t.name}: {volume(call, t.loose_ml)}" for t in day.to_bottle],
    )
    yield (
        f"Past or near the keep-until date: {how_many(len(day.passing), 'bottle')}",
        [bottle_line(call, bottle) for bottle in day.passing],
    )
    yield (
        f"Dried herb past or near its usual time: {how_many(len(day.passing_lots), 'lot')}",
        [good_line(call, good) for good in day.passing_lots],
    )
    yield (
        f"Labels to print again: {how_many(len(day.old_labels), 'bottle')}",
        [old_label_line(old) for old in day.old_labels],
    )
    yield (
        f"To start this month: {how_many(len(day.to_start), 'tincture')}",
        [plan_words.start(each, call.wording) for each in day.to_start],
    )


def _put_sections(sections: Sequence[tuple[str, list[str]]]) -> None:
    """Print sections of a day, each of the long ones cut to the same length."""
    filled = [lines for _, lines in sections if lines]
    room = MOST_LINES - _LINES_AROUND - _LINES_OF_HEADING * len(filled)
    each = max(map(len, filled), default=0)
    while sum(min(len(lines), each + 1) for lines in filled) > room:
        each -= 1
    for heading, lines in sections:
        is_cut = len(lines) > each + 1
        more = [f"and {len(lines) - each:,} more: --json lists all"] if is_cut else []
        put_list(heading, [*lines[: each if is_cut else None], *more])


COMMANDS = {"today": Command(json_option, _today)}
