"""What to make next: how fast a tincture is used, how long it lasts, and what that asks for."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from enum import StrEnum
from math import ceil, sqrt
from statistics import median

from stillroom.reckoning.months import next_month
from stillroom.reckoning.seasons import Season, average_days, used_up

MONTH_DAYS = 365.25 / 12
LEAST_DAYS = 30
"""A rate rests on at least this many days in stock: a first draw shows nothing. Judgement."""
ENOUGH_DAYS = 183
"""In stock so long within a year, the year before isn't asked. Judgement."""
LARGE, LARGE_SCORE = 3.0, 3.5
"""An amount above three times the usual one, and outside by the modified z-score of the
NIST/SEMATECH e-Handbook, section 1.3.5.17, is a single large one: it counts as the usual most.
The factor is judgement."""
FEWEST = 4
"""Fewer amounts than this can't be judged by their median."""
SPARE = 1 / 3
"""Of the months in hand, what is to be left when the next is ready, as use isn't even. Judgement,
tried by simulation (tests/planning)."""
SPREADS = 2.0
"""About 19 of 20 lie within two spreads."""
YEARLY_CHANGE = 0.25
"""Standard deviation of a year's use from the year before's, as a share. Judgement."""
LONGEST_WINDOW_DAYS = 122
"""A part gathered over more than four months isn't one of a single time of the year. Judgement."""
LONGEST_DAYS = 50 * 365
"""Days further off than this only mean that there is plenty."""


@dataclass(frozen=True)
class UseRate:
    """How fast a tincture is used while there is some."""

    ml_per_day: float
    variance: float
    """Of one day's use, mL²."""
    days: int
    """In stock, that it rests on."""
    left_out_ml: float
    """Of single large amounts, what goes beyond the usual most."""
    season: Season | None = None
    """Where two years show that some months use more than others."""

    @property
    def ml_per_month(self) -> float:
        """In an average month."""
        return self.ml_per_day * MONTH_DAYS

    def with_others(self, amounts_ml: Iterable[tuple[float, float]]) -> "UseRate":
        """The rate if amounts that it rests on had been others: as it was, and as it would be.

        >>> rate = use_rate([30, 20, 30, 40], 100).with_others([(40, 20), (30, 0)])
        >>> rate == use_rate([30, 20, 20], 100)
        True
        """
        change_ml, change = 0.0, 0.0
        for was, would_be in amounts_ml:
            change_ml += would_be - was
            change += would_be**2 - was**2
        return replace(
            self,
            ml_per_day=max(0.0, self.ml_per_day + change_ml / self.days),
            variance=max(0.0, self.variance + change / self.days),
        )

    def over(self, days: float, start: date | None = None) -> "Range":
        """What will be used in some days, with a range that takes in how little is known.

        By the season from `start` on, where there is one.
        """
        if start is not None:
            days = average_days(start, days, self.season)
        middle = self.ml_per_day * days
        # As amounts at random days: their variance grows with time, and the rate is a mean of such.
        # How much is wanted changes from year to year, too.
        change = YEARLY_CHANGE * middle
        spread = sqrt(self.variance * (days + days**2 / self.days) + change**2)
        return Range(max(0.0, middle - SPREADS * spread), middle, middle + SPREADS * spread)


@dataclass(frozen=True)
class Range:
    """A figure with two spreads to either side."""

    low: float
    middle: float
    high: float

    def __add__(self, other: "Range") -> "Range":
        return Range(self.low + other.low, self.middle + other.middle, self.high + other.high)

    def times(self, factor: float) -> "Range":
        """All of it multiplied."""
        return Range(self.low * factor, self.middle * factor, self.high * factor)


def use_rate(taken_ml: Sequence[float], days: int, missing_ml: float = 0.0) -> UseRate | None:
    """Returns how fast a tincture is used, from each amount taken while it was in stock.

    `days` began with some in stock; `missing_ml` was found to be missing when counted, which is use
    that nobody wrote down. A single large amount, such as one big gift, counts as the usual most.
    None where it wasn't in stock long enough.

    >>> rate = use_rate([30, 20, 30, 40, 500], 100)
    >>> round(rate.ml_per_day, 2), rate.left_out_ml
    (2.1, 410.0)
    """
    if days < LEAST_DAYS:
        return None
    usual = capped(taken_ml)
    total = max(0.0, sum(usual) + missing_ml)
    variance = sum(each**2 for each in usual) / days
    return UseRate(total / days, variance, days, sum(taken_ml) - sum(usual))


def capped(taken_ml: Sequence[float]) -> list[float]:
    """Returns amounts with each large single one counted as the usual most."""
    most = usual_most(taken_ml)
    return [min(each, most) for each in taken_ml]


def usual_most(taken_ml: Sequence[float]) -> float:
    """Returns what a single amount counts as at most."""
    if len(taken_ml) < FEWEST:
        return max(taken_ml, default=0.0)
    middle = median(taken_ml)
    distance = 1.4826 * median(abs(each - middle) for each in taken_ml)
    return max(LARGE * middle, middle + LARGE_SCORE * distance)


@dataclass(frozen=True)
class Supply:
    """Some tincture that is there, or will be."""

    volume_ml: float
    keep_until: date | None = None
    ready_on: date | None = None
    """When it will be strained; None where it is."""


def lasts_until(
    lots: Iterable[Supply], ml_per_day: float, today: date, season: Season | None = None
) -> date | None:
    """Returns the day on which nothing is left to use, what expires first being used first.

    None where that is further off than anybody looks. What is still steeping is used from the day
    it is ready on; until then there may be a gap, which ends it.
    """
    end = float(today.toordinal())
    last = today.toordinal() + LONGEST_DAYS
    in_order = sorted(lots, key=lambda lot: (lot.ready_on or today, lot.keep_until or date.max))
    for lot in in_order:
        if lot.ready_on is not None and lot.ready_on.toordinal() > end:
            break
        if ml_per_day <= 0:
            return None
        end_of_lot = used_up(end, lot.volume_ml / ml_per_day, season, last + 1.0)
        if lot.keep_until is not None:
            end_of_lot = min(end_of_lot, lot.keep_until.toordinal() + 1.0)
        end = max(end, end_of_lot)
        if end > last:
            return None
    return date.fromordinal(int(end))


@dataclass(frozen=True)
class Window:
    """When a part is gathered: days of any year."""

    earliest: tuple[int, int]
    """Month and day."""
    middle: tuple[int, int]
    latest: tuple[int, int]
    rests_on: int
    """How many own gatherings; 0 where it was typed."""

    def coming(self, today: date) -> tuple[date, date, date]:
        """The window that is open, or else the next: first, middle and last day."""
        for year in (today.year - 1, today.year, today.year + 1):
            first = _in_year(self.earliest, year)
            last = _in_year(self.latest, year)
            if last < first:
                last = _in_year(self.latest, year + 1)
            if last >= today:
                middle = _in_year(self.middle, first.year)
                if middle < first:
                    middle = _in_year(self.middle, first.year + 1)
                return first, middle, last
        raise AssertionError("One of three years has it.")

    def is_open(self, since: date, until: date) -> bool:
        """Whether any day of a time, the last not included, is within it."""
        first, _, _ = self.coming(since)
        return first < until


def _in_year(day: tuple[int, int], year: int) -> date:
    month, number = day
    return date(year, month, min(number, 28) if month == 2 else number)


def learned_window(days: Sequence[date]) -> Window | None:
    """Returns when a part was gathered so far; None without a gathering.

    The year is cut at the longest gap between gatherings, so that a window may run over New Year.
    None, too, where it was gathered in so many months that no time of the year is shown.

    >>> learned_window([date(2025, 12, 28), date(2024, 1, 5), date(2026, 1, 2)])
    Window(earliest=(12, 28), middle=(1, 2), latest=(1, 5), rests_on=3)
    """
    if not days:
        return None
    # In a year of 366 days, so that the same date is always the same number.
    numbers = [date(2024, d.month, d.day).timetuple().tm_yday for d in days]
    different = sorted(set(numbers))
    before = different[-1:] + different[:-1]
    gaps = [(day - last) % 366 or 366 for last, day in zip(before, different, strict=True)]
    first = different[gaps.index(max(gaps))]
    in_order = sorted(numbers, key=lambda number: (number - first) % 366)
    month_days = [
        (each.month, each.day)
        for number in in_order
        for each in [date(2024, 1, 1) + timedelta(days=number - 1)]
    ]
    if (in_order[-1] - in_order[0]) % 366 > LONGEST_WINDOW_DAYS:
        return None
    middle = month_days[(len(month_days) - 1) // 2]
    return Window(month_days[0], middle, month_days[-1], len(days))


class InMonth(StrEnum):
    """What a month of the coming year is marked with."""

    GATHER = "G"
    FILL_BY = "F"
    RUNS_OUT = "X"


@dataclass(frozen=True)
class UsualRecipe:
    """How a tincture is usually made, for each gram of herb as it goes in."""

    poured_ml_per_g: float
    strength_abv: float
    """Of all that is poured."""
    spirits: tuple[tuple[float, float], ...]
    """Strength of each spirit poured, and mL of it for a gram of herb."""
    yield_ml_per_g: Range
    """With what is lost on the way to the bottle taken off."""
    jar_ml: float
    """What is usually poured into one jar."""
    steep_days: int
    jar_size_ml: float | None = None
    """The size of jar that was used most; None where none is known."""


@dataclass(frozen=True)
class Plan:
    """What one tincture asks for."""

    today: date
    covered_until: date | None
    """None where there is more than anybody looks ahead."""
    cover_to: date
    """Until when it should last."""
    to_make_ml: Range
    fill_by: date | None
    """The last day to fill so that it is ready before the stock runs out."""
    start_by: date | None
    """The day to fill so that some of the months in hand are still there when it is ready."""
    herb_g: Range | None
    """None without a weighed jar to go by."""
    poured_ml: float
    jars: int
    window: tuple[date, date, date] | None
    earliest: date
    """The first day on which there can be herb to fill."""

    @property
    def fill_on(self) -> date | None:
        """The last day to fill, or the first possible one where the stock runs out before."""
        return None if self.fill_by is None else max(self.fill_by, self.earliest)

    @property
    def start_on(self) -> date | None:
        """The day to start: in this year's window, as there is none before the next year's."""
        if self.start_by is None:
            return None
        start = self.start_by if self.window is None else min(self.start_by, self.window[2])
        return max(start, self.earliest)

    @property
    def is_needed(self) -> bool:
        """Whether anything has to be made."""
        return self.to_make_ml.middle > 0

    @property
    def is_due(self) -> bool:
        """Whether it has to start within a month, or should have and can."""
        if not self.is_needed or self.start_on is None:
            return False
        return self.start_on < self.today + timedelta(days=MONTH_DAYS + 1)


def plan(
    lots: Sequence[Supply],
    rate: UseRate,
    recipe: UsualRecipe | None,
    today: date,
    months_in_hand: float,
    window: Window | None = None,
    steep_days: int = 14,
    *,
    has_herb: bool = False,
) -> Plan:
    """Returns what to make of a tincture, so that so many months of use are always in hand.

    A herb with a window is gathered once a year: what is made in the next one lasts until what is
    made in the window after it is ready, and some months more. What can't be used because the stock
    runs out before it is ready isn't made up for. `has_herb` is whether some is in store, so
    that filling needn't wait for the window.
    """
    steep = timedelta(days=recipe.steep_days if recipe else steep_days)
    spare = timedelta(days=SPARE * months_in_hand * MONTH_DAYS)
    until = lasts_until(lots, rate.ml_per_day, today, rate.season)
    cover_to = today + timedelta(days=months_in_hand * MONTH_DAYS)
    ready_on, coming = today + steep, None
    if window is not None:
        coming = window.coming(today)
        following = window.coming(coming[2] + timedelta(days=1))
        ready_on = max(coming[1], today) + steep
        cover_to = max(cover_to, following[1] + steep + spare)
    to_make = Range(0.0, 0.0, 0.0)
    if until is not None and until < cover_to and rate.ml_per_day > 0:
        start = max(until, ready_on)
        to_make = rate.over((cover_to - start).days, start)
        if to_make.middle < 0:
            to_make = Range(0.0, 0.0, 0.0)
    grams, poured_ml, jars = None, 0.0, 0
    if recipe is not None and recipe.yield_ml_per_g.low > 0:
        per_g = recipe.yield_ml_per_g
        grams = Range(
            to_make.low / per_g.high, to_make.middle / per_g.middle, to_make.high / per_g.low
        )
        poured_ml = grams.middle * recipe.poured_ml_per_g
        jars = ceil(poured_ml / recipe.jar_ml - 1e-6)
    return Plan(
        today=today,
        covered_until=until,
        cover_to=cover_to,
        to_make_ml=to_make,
        fill_by=None if until is None else until - steep,
        start_by=None if until is None else until - steep - spare,
        herb_g=grams,
        poured_ml=poured_ml,
        jars=jars,
        window=coming,
        earliest=today if coming is None or has_herb else max(today, coming[0]),
    )


def months_ahead(
    plan: Plan, window: Window | None, count: int = 12
) -> list[tuple[date, tuple[InMonth, ...]]]:
    """Returns the months from this one on by their first day, each with what is in it.

    What should have been filled by now is in the first month in which it can be.
    """
    found = []
    first = plan.today.replace(day=1)
    for _ in range(count):
        following = next_month(first)
        marks = []
        if window is not None and window.is_open(max(first, plan.today), following):
            marks.append(InMonth.GATHER)
        fill_on = plan.fill_on if plan.is_needed else None
        if fill_on is not None and first <= fill_on < following:
            marks.append(InMonth.FILL_BY)
        if plan.covered_until is not None and first <= plan.covered_until < following:
            marks.append(InMonth.RUNS_OUT)
        found.append((first, tuple(marks)))
        first = following
    return found
