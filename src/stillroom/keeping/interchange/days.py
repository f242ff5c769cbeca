"""The dates of a sheet: serial numbers, months in any language, and the order of day and month."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from stillroom.dates import parse_day
from stillroom.errors import NotUnderstood
from stillroom.keeping.interchange.vocabulary import english_month

_TIME = re.compile(r"[ t]+\d{1,2}:\d{2}(?::\d{2}(?:[.,]\d+)?)?(?: ?[ap]m)?z?$", re.IGNORECASE)
_FIRST = re.compile(r"\b1(?:er|ère|[ºª°])(?=\s)", re.IGNORECASE)
_IN_NUMBERS = re.compile(r"(\d{1,2}) ?[/-] ?(\d{1,2})(?: ?[/-] ?(\d{4}|\d{2}))?")
_YEAR_FIRST = re.compile(r"(\d{4})[/.](\d{1,2})[/.](\d{1,2})")
_SERIAL = re.compile(r"(\d{5})(?:\.\d+)?")
_DAY_0 = date(1899, 12, 30)
"""Of the serial numbers of days in spreadsheets (ECMA-376 part 1, 18.17.4.1, from March 1900)."""
_FIRST_SERIAL, _LAST_SERIAL = 18264, 73050
"""Days of the years from 1950 to 2099: another number of five digits is no date."""


def plain_day(text: str) -> str:
    """A date in the words of `parse_day`.

    >>> plain_day("1er août 2026"), plain_day("Oct 31 '26")
    ('1 August 2026', 'October 31 26')
    >>> plain_day("46327"), plain_day("2026-11-01 00:00:00"), plain_day("3-4-2026")
    ('2026-11-01', '2026-11-01', '3/4/2026')
    """
    text = _TIME.sub("", text.strip())
    text = _FIRST.sub("1", re.sub(r"['’](?=\d\d$)", "", text))
    serial = _SERIAL.fullmatch(text)
    if serial and _FIRST_SERIAL <= int(serial[1]) <= _LAST_SERIAL:
        return (_DAY_0 + timedelta(int(serial[1]))).isoformat()
    if found := _YEAR_FIRST.fullmatch(text):
        return "-".join(found.groups())
    if found := _IN_NUMBERS.fullmatch(text):
        return "/".join(filter(None, found.groups()))
    return english_month(text)


@dataclass(frozen=True)
class DayOrder:
    """What the dates of a sheet show of the order of day and month."""

    day_first: bool | None
    """None where nothing decides."""
    is_in_doubt: bool
    """Whether a date needs it."""
    why: str = ""
    """How it was found, for a person; blank where no date needs it."""


def day_order(columns: Mapping[str, Iterable[str]], past: frozenset[str], today: date) -> DayOrder:
    """The order of day and month of a sheet, from all its dates as a whole.

    A number above 12 decides; else a day of the `past` columns that would be in the future.

    >>> day_order({"day": ["3/4/2026", "14/10/2026"]}, frozenset(), date(2026, 11, 1)).day_first
    True
    """
    all_days = [
        (column, found, text)
        for column, texts in columns.items()
        for text in texts
        if (found := re.fullmatch(r"(\d{1,2})/(\d{1,2})(?:/\d+)?", plain_day(text)))
    ]
    pairs = [(int(found[1]), int(found[2]), text) for _, found, text in all_days]
    is_in_doubt = any(a != b and a <= 12 and b <= 12 for a, b, _ in pairs)
    if not is_in_doubt:
        return DayOrder(None, False)
    day_first = next((text for a, b, text in pairs if a > 12 >= b), None)
    month_first = next((text for a, b, text in pairs if b > 12 >= a), None)
    if day_first and month_first:
        return DayOrder(None, True)
    if day_first or month_first:
        order = "day before month" if day_first else "month before day"
        return DayOrder(bool(day_first), True, f"{order}, as {day_first or month_first} shows")
    ahead = {order: _ahead(all_days, past, today, day_first=order) for order in (True, False)}
    if bool(ahead[True]) != bool(ahead[False]):
        order = "month before day" if ahead[True] else "day before month"
        shown = ahead[True] or ahead[False]
        return DayOrder(not ahead[True], True, f"{order}, or {shown} would be in the future")
    return DayOrder(None, True)


def _ahead(
    days: Iterable[tuple[str, re.Match[str], str]],
    past: frozenset[str],
    today: date,
    *,
    day_first: bool,
) -> str:
    """A date that would be in the future, although it can't be."""
    for column, _, text in days:
        if column in past:
            try:
                if parse_day(plain_day(text), today, day_first=day_first, past=True) > today:
                    return text
            except NotUnderstood:
                continue
    return ""
