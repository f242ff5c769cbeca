"""Strain dates, keep-until dates and the plan as an iCalendar file (RFC 5545), for a phone."""

import re
from collections.abc import Sequence
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING
from uuid import UUID, uuid5

from stillroom.keeping.coming_dates import (
    KeepUntilDate,
    PlanDate,
    ShakeReminder,
    StrainDate,
    UndoneJar,
    herb_dates,
    keep_until_dates,
    plan_dates,
    shake_reminder,
    strain_dates,
    undone_jars,
)
from stillroom.keeping.cupboard.lots_good import Good
from stillroom.keeping.cupboard.lots_in_words import good_words, left_words
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import Settings, settings_of
from stillroom.keeping.wording import Wording, wording
from stillroom.paper.document import Document, Grid, Prose, Section

if TYPE_CHECKING:
    from icalendar import Calendar, Event

PRODUCT = "-//Stillroom//Shelf dates//EN"
_OURS = UUID("5b0c6c53-6a55-4b8e-9b0e-0d9f6f3c2a41")
"""The name space of the identifiers; changing it would double every entry in people's calendars."""

_COUNTED_FROM = datetime.fromisoformat("2020-01-01T00:00:00+00:00")

NAME = "Stillroom"
REFRESH = timedelta(hours=12)
"""How often a calendar that subscribes to the file should read it again."""

MORNING = timedelta(hours=9)
"""The reminder for a jar is at nine on its day. Common practice, no source."""
MONTH_BEFORE = timedelta(days=-30) + MORNING
"""The reminder for a keep-until date and for the plan is at nine, thirty days ahead. Common
practice, no source."""


def calendar_file(keeper: Keeper) -> bytes:
    """The dates ahead as one file; importing a later one brings earlier entries up to date."""
    return calendar_of(
        strain_dates(keeper),
        keep_until_dates(keeper),
        plan_dates(keeper),
        herb_dates(keeper),
        settings_of(keeper),
        keeper.clock.now(),
        keeper.today,
        undone_jars(keeper),
        shake_reminder(keeper),
    )


def dates_ahead(keeper: Keeper) -> Document:
    """The dates in the calendar file, for people to read."""
    said = wording(keeper)
    strain = [
        (said.day(jar.strain_on), jar.code,
         f"{jar.herb}, {jar.part}, {jar.condition}" + (": to press" if jar.is_to_press else ""),
         jar.shelf)
        for jar in strain_dates(keeper)
        if not jar.is_off
    ]  # fmt: skip
    keep = [
        (said.day(each.keep_until), each.code, each.name, said.volume(each.left_ml))
        for each in keep_until_dates(keeper)
        if not each.is_off
    ]
    herbs = [
        (said.day(good.until), good.lot.code, f"{good.lot.herb}, {good.lot.part}",
         left_words(good.lot, said))
        for good in herb_dates(keeper)
        if good.lot.is_in_store
    ]  # fmt: skip
    plan = [
        (said.day(each.first), each.what, each.tincture,
         "" if each.first == each.last else said.day(each.last))
        for each in plan_dates(keeper)
        if not each.is_off
    ]  # fmt: skip
    return Document(
        is_list=True,
        title="Dates ahead",
        subtitle=f"as of {said.day(keeper.today)}; import a later file to update these",
        sections=(
            _section("Strain", "Shelf", strain, "No jars are steeping."),
            _section(
                "Gather, and fill by", "Until", plan, "The plan asks for nothing.", code="Act"
            ),
            _section("Dried herb is usually good to", "In store", herbs, "No dried herb in store."),
            _section("Keep-until dates", "Left", keep, "No bottles with a keep-until date."),
        ),
    )


def _section(
    heading: str, last: str, rows: Sequence[tuple[str, ...]], nothing: str, code: str = "Code"
) -> Section:
    """A section with a list of dates, whose last column is named; or that there are none."""
    if not rows:
        return Section(heading, (Prose(nothing),))
    return Section(heading, (Grid(("Day", code, "What", last), tuple(rows), (2, 1.5, 4, 3)),))


def calendar_of(
    to_strain: Sequence[StrainDate],
    to_keep: Sequence[KeepUntilDate],
    planned: Sequence[PlanDate],
    dried: Sequence[Good],
    settings: Settings,
    now: datetime,
    today: date,
    undone: Sequence[UndoneJar] = (),
    shakes: ShakeReminder | None = None,
) -> bytes:
    """These dates as an iCalendar stream: all-day entries that leave the day free, with alarms."""
    from icalendar import Calendar

    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    # RFC 7986, 5.1 and 5.7, and what programs read that are older than it.
    calendar.add("name", NAME)
    calendar.add("x-wr-calname", NAME)
    calendar.add("refresh-interval", REFRESH, {"VALUE": "DURATION"})
    calendar.add("x-published-ttl", f"PT{REFRESH // timedelta(hours=1)}H")
    for jar in to_strain:
        calendar.add_component(_strain_entry(jar, now, today))
    for tincture in to_keep:
        calendar.add_component(_keep_until_entry(tincture, Wording.of_shelf(settings), now, today))
    for good in dried:
        calendar.add_component(_herb_entry(good, Wording.of_shelf(settings), now, today))
    for each in planned:
        calendar.add_component(_plan_entry(each, now, today))
    for gone in undone:
        calendar.add_component(_undone_entry(gone, now))
    if shakes:
        calendar.add_component(_shake_entry(shakes, now, today))
    _keep_every_letter(calendar)
    return bytes(calendar.to_ical())


def _keep_every_letter(calendar: "Calendar") -> None:
    r"""Escape texts by RFC 5545, 3.3.11; icalendar would take `\N` in a name for a line break."""
    from icalendar import vText

    class EscapedText(vText):
        __slots__ = ()

        def to_ical(self) -> bytes:
            escaped = re.sub(r"[\\;,]", r"\\\g<0>", self).replace("\n", r"\n")
            return escaped.encode()

    for component in calendar.walk():
        for name in ("summary", "description", "location"):
            if name in component:
                component[name] = EscapedText(str(component[name]))


def _undone_entry(jar: UndoneJar, now: datetime) -> "Event":
    """A jar that was never filled: its date is called off, wherever an earlier file put it."""
    entry = _entry(f"strain {jar.code} {jar.born_at}", jar.day, now)
    entry.add("summary", f"Filling undone ({jar.code})")
    entry.add("status", "CANCELLED")
    return entry


def _shake_entry(shakes: ShakeReminder, now: datetime, today: date) -> "Event":
    """One entry a day, with one alarm, however many jars are to be shaken."""
    entry = _entry(f"shakes {shakes.born_at}", today, now)
    entry.add("summary", "Shake the jars")
    if not shakes.jars:
        entry.add("status", "CANCELLED")
        return entry
    entry.add("description", f"Jars {', '.join(shakes.jars)}.")
    entry.add("rrule", {"freq": "daily", "until": shakes.until})
    _ring(entry, today, MORNING, today)
    return entry


def _strain_entry(jar: StrainDate, now: datetime, today: date) -> "Event":
    entry = _entry(f"strain {jar.code} {jar.born_at}", jar.strain_on, now)
    verb = "Press" if jar.is_to_press else "Strain"
    entry.add("summary", f"{verb} {jar.herb} ({jar.code})")
    entry.add("description", f"Jar {jar.code}: {jar.herb}, {jar.part}, {jar.condition}.")
    entry.add("location", jar.shelf)
    if jar.is_off:
        # A calendar keeps an entry that is only missing from a later file, and would ring for it.
        entry.add("status", "CANCELLED")
    else:
        _ring(entry, jar.strain_on, MORNING, today)
    return entry


def _keep_until_entry(
    tincture: KeepUntilDate, said: Wording, now: datetime, today: date
) -> "Event":
    entry = _entry(f"keep until {tincture.code} {tincture.born_at}", tincture.keep_until, now)
    entry.add("summary", f"Keep-until date: {tincture.name} ({tincture.code})")
    entry.add(
        "description",
        (
            "Every bottle is empty.\n"
            if tincture.is_off
            else f"{said.volume(tincture.left_ml)} left in {', '.join(tincture.bottles)}.\n"
        )
        + "A keep-until date is a convention, not a guarantee.",
    )
    if tincture.is_off:
        entry.add("status", "CANCELLED")
    else:
        _ring(entry, tincture.keep_until, MONTH_BEFORE, today)
    return entry


def _herb_entry(good: Good, said: Wording, now: datetime, today: date) -> "Event":
    lot = good.lot
    entry = _entry(f"herb {lot.code} {lot.herb} {lot.got_on}", good.until, now)
    entry.add("summary", f"Usually good to this day: {lot.herb}, {lot.part} ({lot.code})")
    entry.add(
        "description", f"{left_words(lot, said).capitalize()}. {good_words(good, today, said)}."
    )
    if lot.is_in_store:
        _ring(entry, good.until, MONTH_BEFORE, today)
    else:
        entry.add("status", "CANCELLED")
    return entry


def _plan_entry(each: PlanDate, now: datetime, today: date) -> "Event":
    entry = _entry(f"{each.what} {each.tincture} {each.born_at}", each.first, now)
    if each.last > each.first:
        entry.add("dtend", each.last + timedelta(days=1))
    by = "by this day, so that it lasts" if each.what == "Fill" else "in its season"
    entry.add("summary", f"{each.what} {each.tincture}")
    entry.add("description", "\n".join(filter(None, (f"{each.what} {by}.", each.about))))
    if each.is_off:
        entry.add("status", "CANCELLED")
    else:
        _ring(entry, each.first, MONTH_BEFORE, today)
    return entry


def _entry(named: str, day: date, now: datetime) -> "Event":
    from icalendar import Event

    entry = Event()
    entry.add("uid", str(uuid5(_OURS, named)))
    entry.add("dtstamp", now)
    entry.add("last-modified", now)
    # It has to rise with every file, also after an undo has put an earlier date back, or calendars
    # would take the later file for the older one. So it counts seconds, not changes.
    entry.add("sequence", max(0, int((now - _COUNTED_FROM).total_seconds())))
    entry.add("dtstart", day)
    entry.add("transp", "TRANSPARENT")
    return entry


def _ring(entry: "Event", day: date, when: timedelta, today: date) -> None:
    """Add an alarm, unless its day has gone by: some calendars ring for the past at once."""
    from icalendar import Alarm

    if day + timedelta(days=when.days) < today:
        return
    alarm = Alarm()
    alarm.add("action", "DISPLAY")
    alarm.add("description", entry["summary"])
    alarm.add("trigger", when)
    entry.add_component(alarm)
