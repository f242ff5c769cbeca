"""Days by the calendar: months and years on."""

from calendar import monthrange
from datetime import date


def months_on(day: date, months: int) -> date:
    """The same day some months later; the last of the month where it is shorter.

    >>> months_on(date(2026, 8, 31), 6)
    datetime.date(2027, 2, 28)
    """
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    return date(year, month + 1, min(day.day, monthrange(year, month + 1)[1]))


def years_on(day: date, years: int) -> date:
    """The same day some years later; 28 February where there is no 29th.

    >>> years_on(date(2024, 2, 29), 2)
    datetime.date(2026, 2, 28)
    """
    try:
        return day.replace(year=day.year + years)
    except ValueError:
        return day.replace(year=day.year + years, day=28)


def next_month(day: date) -> date:
    """The first of the next month.

    >>> next_month(date(2026, 12, 5))
    datetime.date(2027, 1, 1)
    """
    return date(day.year + day.month // 12, day.month % 12 + 1, 1)
