"""A season of use, as two years of a shelf show it, against a diary."""

from collections.abc import Callable
from datetime import date, timedelta

import pytest

from stillroom.clock import SetClock
from stillroom.keeping.bottles.stock import take_out
from stillroom.keeping.drafts import ChargeDraft
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.views import BottleRow
from stillroom.keeping.wording import wording
from stillroom.keeping.year.ahead import plan_view
from stillroom.keeping.year.plan_words import facts
from stillroom.reckoning.charge import Condition, Part

Bottled = Callable[..., list[BottleRow]]


def test_a_season_seen_in_two_years_agrees_with_a_diary(
    keeper: Keeper, bottled: Bottled, clock: SetClock
) -> None:
    """30 mL every ten days from November to April, 9 mL otherwise, for two years."""
    herb = ChargeDraft("Fennel", Part.SEED, Condition.DRIED, 600)
    (row,) = bottled(herb, sizes_ml=(2500,), poured_ml=3300, yield_ml=2500)
    first = keeper.today
    diary: dict[date, float] = {}
    for _ in range(73):
        clock.advance(days=10)
        ml = 30.0 if keeper.today.month in (11, 12, 1, 2, 3, 4) else 9.0
        diary[keeper.today] = ml
        take_out(keeper, row.bottle_id, ml)
    assert (keeper.today - first).days == 730
    (found,) = plan_view(keeper).herbs
    assert found.rate is not None
    assert found.rate.season is not None
    years = []
    for since in (first, first + timedelta(days=365)):
        days = [since + timedelta(days=n) for n in range(1, 366)]
        months = [
            sum(ml for day, ml in diary.items() if day.month == month and day in days)
            / sum(day.month == month for day in days)
            for month in range(1, 13)
        ]
        years.append([12 * month / sum(months) for month in months])
    mean = [(a + b) / 2 for a, b in zip(*years, strict=True)]
    smooth = [(mean[m - 1] + 2 * mean[m] + mean[(m + 1) % 12]) / 4 for m in range(12)]
    assert found.rate.season == pytest.approx(smooth)
    assert "most in " in dict(facts(found, wording(keeper)))["Used"]
    # Used day by day from what is left.
    left, day = found.left_ml, keeper.today
    while left > 0:
        left -= found.rate.ml_per_day * smooth[day.month - 1]
        day += timedelta(days=1)
    assert found.plan is not None
    assert found.plan.covered_until is not None
    assert abs((day - found.plan.covered_until).days) <= 1
