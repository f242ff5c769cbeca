"""Phases of the moon against the worked examples of the book that the formula is from."""

from datetime import date, datetime, timedelta

import pytest

from stillroom.reckoning.moon import Phase, phase_at, phase_jde, phase_on

EXAMPLES = [(-283, 2443192.65118), (544.75, 2467636.49186)]
"""Meeus, Astronomical Algorithms, 2nd edition, page 353: example 49.a, the new moon of February
1977, and 49.b, the first last quarter of 2044. The figures were taken from the test of an
open-source library that cites the page; the book itself was not at hand."""

ECLIPSES = [
    (date(2017, 8, 21), Phase.NEW),
    (date(2024, 4, 8), Phase.NEW),
    (date(2022, 5, 16), Phase.FULL),
    (date(2025, 3, 14), Phase.FULL),
]
"""A solar eclipse is at new moon, a lunar one at full moon. The days are from memory."""


@pytest.mark.parametrize(("k", "jde"), EXAMPLES)
def test_the_worked_examples_agree_within_two_minutes(k: float, jde: float) -> None:
    assert phase_jde(k) == pytest.approx(jde, abs=2 / 1440)


def test_the_first_example_is_on_the_day_printed_in_the_book() -> None:
    assert abs(phase_at(-283) - datetime(1977, 2, 18, 3, 37, 42)) < timedelta(minutes=2)


@pytest.mark.parametrize(("day", "phase"), ECLIPSES)
def test_eclipses_are_at_new_and_full_moon(day: date, phase: Phase) -> None:
    assert phase_on(day) is phase


def test_for_ten_years_each_day_has_its_place_between_the_quarters() -> None:
    """Every quarter has a day of its own, in order, and the moon waxes from new to full."""
    days = [date(2020, 1, 1) + timedelta(days=n) for n in range(3652)]
    phases = [phase_on(day) for day in days]
    quarters = [p for p in phases if p not in (Phase.WAXING, Phase.WANING)]
    order = [Phase.NEW, Phase.FIRST_QUARTER, Phase.FULL, Phase.LAST_QUARTER]
    start = order.index(quarters[0])
    assert quarters == [order[(start + n) % 4] for n in range(len(quarters))]
    assert len(quarters) == pytest.approx(4 * 3652 / 29.530589, abs=1.5)
    waxing: bool | None = None
    for phase in phases:
        if phase in (Phase.NEW, Phase.FULL):
            waxing = phase is Phase.NEW
        elif waxing is not None and phase in (Phase.WAXING, Phase.WANING):
            assert (phase is Phase.WAXING) == waxing
