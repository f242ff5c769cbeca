"""Two simple rules for what to make, and the program's plan as a rule."""

from datetime import date, timedelta

from practitioner import YEAR, Seen

from stillroom.reckoning.planning import (
    ENOUGH_DAYS,
    Range,
    Supply,
    UseRate,
    UsualRecipe,
    Window,
    plan,
    use_rate,
)

DAY_0 = date(2020, 1, 1)
MONTHS_IN_HAND = 12


def on(day: int) -> date:
    """A day of the simulation as a date."""
    return DAY_0 + timedelta(days=day)


def is_yearly(seen: Seen) -> bool:
    """The simple rules make once a year, whichever herb it is."""
    return seen.is_gathered or seen.today % (12 * 30) == 0


def fixed(seen: Seen) -> float:
    """The same every year."""
    return seen.first_year_ml if is_yearly(seen) else 0.0


def last_years_use(seen: Seen) -> float:
    """As much as was used in the last year; in the first, the same guess as the others."""
    if not is_yearly(seen):
        return 0.0
    if seen.today < 200:
        return seen.first_year_ml
    return sum(ml for day, ml in seen.taken if day > seen.today - YEAR)


def rate_of(seen: Seen) -> UseRate | None:
    """The program's rate, from what a shelf has recorded."""
    for back in (YEAR, 2 * YEAR):
        days = sum(seen.in_stock[-back:])
        if days >= ENOUGH_DAYS:
            break
    taken = [ml for day, ml in seen.taken if day > seen.today - back]
    return use_rate(taken, days)


def planned(seen: Seen) -> float:
    """What the program's plan asks for today."""
    rate = rate_of(seen)
    if rate is None:
        return 0.0
    lots = [Supply(ml, on(day)) for ml, day in seen.lots]
    lots += [Supply(ml, on(day + 730), on(day)) for ml, day in seen.steeping]
    recipe = UsualRecipe(5.0, 40.0, ((40.0, 5.0),), Range(3.0, 3.3, 3.6), 500.0, 21)
    today = on(seen.today)
    window = None
    if seen.is_gathered:
        month_day = (today.month, today.day)
        window = Window(month_day, month_day, month_day, 3)
    asked = plan(lots, rate, recipe, today, MONTHS_IN_HAND, window)
    return asked.to_make_ml.middle if asked.is_due or seen.is_gathered else 0.0


def claim(wants: list[float], year: int) -> tuple[float, float, float]:
    """Low and high of what the program expects of a year, and what was then wanted."""
    before = [ml for ml in wants[(year - 1) * YEAR : year * YEAR] if ml]
    rate = use_rate(before, YEAR)
    assert rate is not None
    expected = rate.over(YEAR)
    return expected.low, expected.high, sum(wants[year * YEAR : (year + 1) * YEAR])
