"""Whether more of a tincture is used in some months than in others, and how much."""

from calendar import monthrange
from collections.abc import Sequence
from datetime import date
from math import sqrt

from stillroom.reckoning.months import next_month

Season = tuple[float, ...]
"""Use in each month from January on, as a multiple of an average month's."""

AGREE = 0.576
"""Two years of twelve months agree from this coefficient of correlation on: by chance one pair in
forty does. It is r = t / √(10 + t²) for t = 2.228, the two-sided 5 % point of Student's t with ten
degrees of freedom: NIST/SEMATECH e-Handbook of Statistical Methods, section 1.3.6.7.2."""


def season_of(years: Sequence[Sequence[float | None]]) -> Season | None:
    """Returns the season that two years show; None where they don't.

    Each year has use per day from January to December, None where there was too little in stock to
    judge a month. The mean of both years is smoothed over neighbouring months.

    >>> winter = [3.0, 3.0, 2.0, 1.0, 0.5, 0.5, 0.5, 0.5, 1.0, 1.0, 2.0, 3.0]
    >>> [round(month, 2) for month in season_of([winter, winter])][:3]
    [2.0, 1.83, 1.33]
    >>> season_of([winter, [1.0] * 12]) is None
    True
    """
    profiles = [_profile(year) for year in years]
    if len(profiles) != 2 or None in profiles:
        return None
    first, second = (profile for profile in profiles if profile is not None)
    if correlation(first, second) < AGREE:
        return None
    mean = [(a + b) / 2 for a, b in zip(first, second, strict=True)]
    return tuple(
        (mean[month - 1] + 2 * mean[month] + mean[(month + 1) % 12]) / 4 for month in range(12)
    )


def _profile(year: Sequence[float | None]) -> list[float] | None:
    """Each month as a multiple of the mean; None where one can't be judged, or nothing was used."""
    known = [month for month in year if month is not None]
    total = sum(known)
    if len(known) != 12 or total <= 0:
        return None
    return [12 * month / total for month in known]


def correlation(first: Sequence[float], second: Sequence[float]) -> float:
    """Returns Pearson's coefficient of correlation; 0 where one of both doesn't vary.

    >>> correlation([1, 2, 3], [2, 4, 6]), correlation([1, 2, 3], [5, 5, 5])
    (1.0, 0.0)
    """
    mean_1, mean_2 = sum(first) / len(first), sum(second) / len(second)
    square_1 = sum((a - mean_1) ** 2 for a in first)
    square_2 = sum((b - mean_2) ** 2 for b in second)
    if not square_1 or not square_2:
        return 0.0
    both = sum((a - mean_1) * (b - mean_2) for a, b in zip(first, second, strict=True))
    return both / sqrt(square_1 * square_2)


def average_days(start: date, days: float, season: Season | None) -> float:
    """Returns how many average days of use some days from a date on come to.

    >>> average_days(date(2026, 1, 1), 31, (2.0, *[10 / 11] * 11))
    62.0
    """
    if season is None or days <= 0:
        return max(0.0, days)
    total, day, left = 0.0, start, days
    while left > 0:
        span = min(left, _left_of_month(day))
        total += span * season[day.month - 1]
        left -= span
        day = next_month(day)
    return total


def used_up(start: float, days: float, season: Season | None, last: float) -> float:
    """Returns when the use of some average days is over, counted in days like `start`, an ordinal.

    It is `last` or more where that is not before then.
    """
    if season is None:
        return start + days
    while start < last:
        day = date.fromordinal(int(start))
        factor = season[day.month - 1]
        span = day.toordinal() + _left_of_month(day) - start
        if factor > 0 and days <= span * factor:
            return start + days / factor
        days -= span * factor
        start += span
    return start


def _left_of_month(day: date) -> int:
    return monthrange(day.year, day.month)[1] - day.day + 1
