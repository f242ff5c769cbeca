"""The boundary of days: reads dates as people write them and prints them in fixed English."""

import re
from datetime import date, datetime, timedelta
from enum import StrEnum

from stillroom.errors import NotUnderstood

_MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September",
    "October", "November", "December",
)  # fmt: skip
_WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")

_LONGEST = 40
_EXAMPLE = (
    "That isn't a date. Write, for example, 26 Nov 2026, 2026-11-26, yesterday or 3 days ago."
)
_NO_SUCH_DAY = "That day doesn't exist."
_TOO_FAR = "That day is too far away: write a year from 1900 to 2199."
_FIRST_YEAR, _LAST_YEAR = 1900, 2199
_CENTURY = 2000

_NAMED = {"today": 0, "now": 0, "yesterday": -1, "tomorrow": 1}
_COUNTS = {"a": 1, "an": 1, "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6}
_LENGTHS = {"d": 1, "day": 1, "days": 1, "week": 7, "weeks": 7, "wk": 7, "wks": 7, "w": 7}
_LENGTHS |= {"fortnight": 14, "fortnights": 14}

# Kept as text: compiled at the first date that is read, not at every start.
_SPAN = rf"(\d{{1,5}}|{'|'.join(_COUNTS)}) ?({'|'.join(_LENGTHS)})"
_AGO = rf"{_SPAN} ago"
_AHEAD = rf"in {_SPAN}|{_SPAN} (?:from now|from today|ahead)"
_OFFSET = rf"([+-]) ?(\d{{1,5}})(?: ?({'|'.join(_LENGTHS)}))?"
_ISO = r"(\d{4})-(\d{1,2})-(\d{1,2})"
_MONTH_DAY = r"(\d{1,2})-(\d{1,2})"
_YEAR = r"(\d{4}|\d{2})"
_DOTTED = rf"(\d{{1,2}})\. ?(\d{{1,2}})\.(?: ?{_YEAR})?"
_SLASHED = rf"(\d{{1,2}}) ?/ ?(\d{{1,2}})(?: ?/ ?{_YEAR})?"
_DAY_FIRST = rf"(\d{{1,2}})(?:st|nd|rd|th)?[ .-]*(?:of )?([a-z]{{3,9}})\.?[ ,-]*{_YEAR}?"
_MONTH_FIRST = rf"([a-z]{{3,9}})\.? ?(\d{{1,2}})(?:st|nd|rd|th)?(?:,? {_YEAR})?"
_WEEKDAY = r"(mon|tue|wed|thu|fri|sat|sun)(?:[a-z]{0,6}day|s|rs|r)?[.,]? (?=.*\d)"

_DASHES = str.maketrans(dict.fromkeys("\u2010\u2011\u2012\u2013\u2212", "-"))


def parse_day(text: str, today: date, *, day_first: bool | None = None, past: bool = False) -> date:
    """Read a day, written out or counted from today.

    Without a year it is the nearest such day, or the last one if it must lie in the `past`; a year
    of two digits is of this century. `26/11/2026` is read when only one order of day and month is
    possible, or as `day_first` says.
    """
    if len(text) > _LONGEST:
        raise NotUnderstood(_EXAMPLE)
    plain = " ".join(text.translate(_DASHES).lower().split())
    # Other scripts' digits pass \d, and few people could check what was made of them.
    if not plain.isascii():
        raise NotUnderstood(_EXAMPLE)
    offset = _offset_days(plain)
    if offset is not None:
        return _shifted(today, offset)
    weekday = re.match(_WEEKDAY, plain)
    year, month, number = _written(plain[weekday.end() :] if weekday else plain, day_first)
    day = _dated(year, month, number, today, past=past)
    if weekday and _WEEKDAYS[day.weekday()].lower() != weekday[1]:
        raise NotUnderstood(
            f"{show_day(day)} is a {_WEEKDAYS[day.weekday()]}: write the day you mean."
        )
    return day


def parse_last_day(text: str, today: date, first: date | None) -> date:
    """Read the last day of a period that begins on `first`; None where any day may begin it.

    Without a year it is the last such day that has been, or the nearest one if that is before the
    first: the first day of February, asked in November for a period from January, has been.
    """
    gone, nearest = parse_day(text, today, past=True), parse_day(text, today)
    return nearest if first and gone < first else gone


def parse_day_of_year(text: str, today: date) -> tuple[int, int]:
    """Read a day of any year, such as `15 Jun` or `06-15`: month and day.

    >>> parse_day_of_year("15 Jun", date(2026, 11, 26)), parse_day_of_year("02-29", date.min)
    ((6, 15), (2, 29))
    """
    if found := re.fullmatch(_MONTH_DAY, " ".join(text.translate(_DASHES).split()), re.ASCII):
        text = f"2024-{found[1]}-{found[2]}"
    # In a leap year, as 29 February is a day of some years.
    day = parse_day(text, date(2024, today.month, today.day))
    return day.month, day.day


def _offset_days(text: str) -> int | None:
    """Days from today, where the text counts them."""
    if text in _NAMED:
        return _NAMED[text]
    if found := re.fullmatch(_AGO, text):
        return -_span(found[1], found[2])
    if found := re.fullmatch(_AHEAD, text):
        return _span(found[1] or found[3], found[2] or found[4])
    if found := re.fullmatch(_OFFSET, text):
        days = _span(found[2], found[3] or "days")
        return -days if found[1] == "-" else days
    return None


def _span(count: str, length: str) -> int:
    return (_COUNTS.get(count) or int(count)) * _LENGTHS[length]


def _shifted(day: date, days: int) -> date:
    try:
        return _within_reach(day + timedelta(days=days))
    except OverflowError as error:
        raise NotUnderstood(_TOO_FAR) from error


def _within_reach(day: date) -> date:
    """The day, unless a slip has put it in another age."""
    if not _FIRST_YEAR <= day.year <= _LAST_YEAR:
        raise NotUnderstood(_TOO_FAR)
    return day


def _written(text: str, day_first: bool | None) -> tuple[str | None, int, int]:
    """Year if there is one, month and day of a day written with its number and month."""
    if found := re.fullmatch(_ISO, text):
        return found[1], int(found[2]), int(found[3])
    if found := re.fullmatch(_DOTTED, text):
        return found[3], int(found[2]), int(found[1])
    if found := re.fullmatch(_SLASHED, text):
        day, month = _slashed(int(found[1]), int(found[2]), day_first)
        return found[3], month, day
    if found := re.fullmatch(_DAY_FIRST, text):
        return found[3], _month(found[2]), int(found[1])
    if found := re.fullmatch(_MONTH_FIRST, text):
        return found[3], _month(found[1]), int(found[2])
    raise NotUnderstood(_EXAMPLE)


def _slashed(first: int, second: int, day_first: bool | None) -> tuple[int, int]:
    """Day and month of a date with slashes, which half the world writes the other way round."""
    if first > 12 or first == second:
        return first, second
    if second > 12:
        return second, first
    if day_first is None and first and second:
        raise NotUnderstood(
            f"Could be {first} {_MONTHS[second - 1][:3]} or {second} {_MONTHS[first - 1][:3]}: "
            "write the month as a word."
        )
    return (first, second) if day_first else (second, first)


def _month(word: str) -> int:
    if word == "sept":
        return 9
    for number, name in enumerate(_MONTHS, 1):
        if word in (name.lower(), name[:3].lower()):
            return number
    raise NotUnderstood(_EXAMPLE)


def _dated(year: str | None, month: int, day: int, today: date, *, past: bool) -> date:
    """The day in the year given, or else in the year that brings it nearest to today."""
    if year is not None:
        return _day(int(year) + (_CENTURY if len(year) == 2 else 0), month, day)
    possible = []
    for nearby in (today.year, today.year - 1, today.year + 1):
        try:
            possible.append(date(nearby, month, day))
        except ValueError:
            continue
    if not possible:
        raise NotUnderstood(_NO_SUCH_DAY)
    gone = [other for other in possible if other <= today] if past else []
    return _within_reach(min(gone or possible, key=lambda other: abs(other - today)))


def _day(year: int, month: int, day: int) -> date:
    try:
        found = date(year, month, day)
    except ValueError as error:
        raise NotUnderstood(_NO_SUCH_DAY) from error
    return _within_reach(found)


class DayForm(StrEnum):
    """The order in which a day is written."""

    DAY_MONTH_YEAR = "day month year"
    """26 Nov 2026."""
    MONTH_DAY_YEAR = "month day year"
    """Nov 26, 2026."""
    ISO = "iso"
    """2026-11-26, as in ISO 8601."""


def show_day(day: date, form: DayForm = DayForm.DAY_MONTH_YEAR) -> str:
    """Print a day in full, e.g. "26 Nov 2026"."""
    if form is DayForm.ISO:
        return day.isoformat()
    month = _MONTHS[day.month - 1][:3]
    if form is DayForm.MONTH_DAY_YEAR:
        return f"{month} {day.day}, {day.year:04d}"
    return f"{day.day} {month} {day.year:04d}"


def show_month(day: date, form: DayForm = DayForm.DAY_MONTH_YEAR) -> str:
    """Print the month of a day, e.g. "Nov 2026"."""
    if form is DayForm.ISO:
        return f"{day:%Y-%m}"
    return f"{_MONTHS[day.month - 1][:3]} {day.year:04d}"


def month_name(number: int) -> str:
    """The short name of a month, e.g. "Nov"."""
    return _MONTHS[number - 1][:3]


def month_on_axis(ordinal: float) -> str:
    """The month and year of a place on a time axis, which counts days as `date.toordinal` does.

    >>> month_on_axis(date(2026, 11, 26).toordinal() + 0.5)
    'Nov 26'
    """
    day = date.fromordinal(max(1, int(ordinal)))
    return f"{month_name(day.month)} {day.year % 100:02d}"


def is_moment(at: str) -> bool:
    """Whether a text is an ISO 8601 moment.

    >>> is_moment("2026-11-26T14:05:00+00:00"), is_moment("last week")
    (True, False)
    """
    try:
        datetime.fromisoformat(at)
    except ValueError:
        return False
    return True


def show_moment(at: str, form: DayForm = DayForm.DAY_MONTH_YEAR) -> str:
    """Print an ISO 8601 moment as the day and time of this place, e.g. "26 Nov 2026, 14:05"."""
    local = datetime.fromisoformat(at).astimezone()
    return f"{show_day(local.date(), form)}, {local:%H:%M}"


def show_day_short(day: date, form: DayForm = DayForm.DAY_MONTH_YEAR) -> str:
    """Print a day without its year but with its weekday, e.g. "Thu 26 Nov"."""
    month = _MONTHS[day.month - 1][:3]
    if form is DayForm.ISO:
        short = f"{day:%m-%d}"
    else:
        short = f"{month} {day.day}" if form is DayForm.MONTH_DAY_YEAR else f"{day.day} {month}"
    return f"{_WEEKDAYS[day.weekday()]} {short}"


def show_day_of_year(month: int, day: int, form: DayForm = DayForm.DAY_MONTH_YEAR) -> str:
    """Print a day of any year, e.g. "26 Nov"."""
    if form is DayForm.ISO:
        return f"{month:02d}-{day:02d}"
    name = _MONTHS[month - 1][:3]
    return f"{name} {day}" if form is DayForm.MONTH_DAY_YEAR else f"{day} {name}"


def countdown(days_left: int) -> str:
    """Print how far away a day is, e.g. "5 days", "today", "2 days late"."""
    if days_left == 0:
        return "today"
    count = abs(days_left)
    words = f"{count} day" if count == 1 else f"{count} days"
    return words if days_left > 0 else f"{words} late"


def day_or_none(text: str | None) -> date | None:
    """A day as stored, or None."""
    return date.fromisoformat(text) if text else None
