"""How long the stock lasts, what is low, and what passes soon."""

from collections.abc import Callable
from datetime import date, timedelta
from random import Random

import pytest

from stillroom.clock import SetClock
from stillroom.keeping.bottles.blends import make_blend
from stillroom.keeping.bottles.stock import discard_bottle, put_right, set_keep_until, take_out
from stillroom.keeping.bottles.stock_outlook import passing_soon, stock_outlook
from stillroom.keeping.bottles.stock_views import HerbOutlook
from stillroom.keeping.day import day_view
from stillroom.keeping.drafts import BlendDraft, BlendPartDraft
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.views import BottleRow
from stillroom.reckoning.states import MovementKind

Bottled = Callable[..., list[BottleRow]]


def only(keeper: Keeper) -> HerbOutlook:
    (found,) = stock_outlook(keeper)
    return found


def test_how_long_a_herb_lasts_follows_its_use_of_the_last_year(
    keeper: Keeper, bottled: Bottled, clock: SetClock
) -> None:
    (first, _) = bottled("Fennel", sizes_ml=(100, 50), days_ago=700)
    take_out(keeper, first.bottle_id, 73)
    found = only(keeper)
    assert (found.herb, found.left_ml, found.went_out_ml) == ("Fennel", 77, 73)
    assert found.over_days == 365
    assert found.runs_out_on == keeper.today + timedelta(days=385)  # 77 mL at 0.2 mL a day
    assert not found.is_low
    clock.advance(days=366)
    assert (only(keeper).went_out_ml, only(keeper).runs_out_on) == (0, None)


def test_a_new_stock_is_judged_by_the_days_it_has_existed(
    keeper: Keeper, bottled: Bottled, clock: SetClock
) -> None:
    (fennel,) = bottled("Fennel")
    clock.advance(days=100)
    take_out(keeper, fennel.bottle_id, 50)
    found = only(keeper)
    assert (found.over_days, found.runs_out_on) == (100, keeper.today + timedelta(days=100))


def test_the_first_month_gives_no_estimate(
    keeper: Keeper, bottled: Bottled, clock: SetClock
) -> None:
    (fennel,) = bottled("Fennel")
    take_out(keeper, fennel.bottle_id, 80)
    clock.advance(days=29)
    assert (only(keeper).runs_out_on, only(keeper).is_low) == (None, False)
    clock.advance(days=1)
    assert only(keeper).over_days == 30
    assert only(keeper).runs_out_on == keeper.today + timedelta(days=7)  # 20 mL at 80 in 30 days
    assert only(keeper).is_low


def test_stock_that_lasts_two_months_or_less_is_low(
    keeper: Keeper, bottled: Bottled, clock: SetClock
) -> None:
    (fennel,) = bottled("Fennel", days_ago=100)
    take_out(keeper, fennel.bottle_id, 62)
    assert not only(keeper).is_low  # 38 mL at 0.62 a day: 61 days
    take_out(keeper, fennel.bottle_id, 1)
    assert only(keeper).is_low
    take_out(keeper, fennel.bottle_id, 37)
    assert (only(keeper).left_ml, only(keeper).runs_out_on) == (0, keeper.today)


def test_gifts_spills_blends_and_missing_liquid_count_as_going_out_and_discards_do_not(
    keeper: Keeper, bottled: Bottled
) -> None:
    fennel, other = bottled("Fennel", sizes_ml=(100, 50))
    (anise,) = bottled("Anise")
    take_out(keeper, fennel.bottle_id, 10, kind=MovementKind.GIVE)
    take_out(keeper, fennel.bottle_id, 5, kind=MovementKind.SPILL)
    put_right(keeper, fennel.bottle_id, 82)
    parts = (BlendPartDraft(fennel.bottle_id, 20), BlendPartDraft(anise.bottle_id, 30))
    make_blend(keeper, BlendDraft("Seeds", parts, keeper.today))
    discard_bottle(keeper, other.bottle_id, "Cloudy")
    by_herb = {found.herb: found for found in stock_outlook(keeper)}
    assert by_herb["Fennel"].went_out_ml == pytest.approx(38)
    assert by_herb["Fennel"].left_ml == pytest.approx(62)
    assert by_herb["Anise"].went_out_ml == pytest.approx(30)
    assert (by_herb["Seeds"].left_ml, by_herb["Seeds"].to_bottle_ml) == (0, pytest.approx(50))


def test_liquid_still_to_be_bottled_counts_as_stock(keeper: Keeper, bottled: Bottled) -> None:
    (fennel,) = bottled("Fennel", days_ago=365, write_off_rest=False)
    take_out(keeper, fennel.bottle_id, 100)
    found = only(keeper)
    assert (found.left_ml, found.to_bottle_ml) == (0, 50)
    assert found.runs_out_on == keeper.today + timedelta(days=182)


def test_a_count_that_finds_more_is_not_use(keeper: Keeper, bottled: Bottled) -> None:
    (fennel,) = bottled("Fennel", days_ago=400)
    take_out(keeper, fennel.bottle_id, 10)
    put_right(keeper, fennel.bottle_id, 100)
    assert (only(keeper).went_out_ml, only(keeper).runs_out_on) == (0, None)


def test_days_without_stock_do_not_lengthen_what_is_left(
    keeper: Keeper, bottled: Bottled, clock: SetClock
) -> None:
    (old,) = bottled("Mullein")
    clock.advance(days=30)
    take_out(keeper, old.bottle_id, 100)
    clock.advance(days=630)
    keeper.trust_date()
    (new,) = bottled("Mullein", sizes_ml=(150,))
    clock.advance(days=40)
    take_out(keeper, new.bottle_id, 75)
    found = only(keeper)
    assert found.over_days == 40
    assert found.runs_out_on == keeper.today + timedelta(days=40)  # 75 mL went in 40 days
    assert found.is_low


def test_a_gap_within_the_year_is_not_counted(
    keeper: Keeper, bottled: Bottled, clock: SetClock
) -> None:
    (first,) = bottled("Mullein")
    clock.advance(days=50)
    take_out(keeper, first.bottle_id, 100)
    clock.advance(days=200)
    (second,) = bottled("Mullein")
    clock.advance(days=70)
    take_out(keeper, second.bottle_id, 20)
    found = only(keeper)
    assert (found.over_days, found.went_out_ml) == (120, 120)
    assert found.runs_out_on == keeper.today + timedelta(days=80)


@pytest.mark.parametrize("seed", range(25))
def test_how_long_stock_lasts_agrees_with_a_diary_read_day_by_day(
    keeper: Keeper, bottled: Bottled, clock: SetClock, seed: int
) -> None:
    """Random years of bottling, drawing, giving, discarding and counting, against a plain diary:
    a day counts when it began with something in a bottle."""
    chance = Random(seed)
    diary: list[tuple[date, float, bool]] = []
    """Day, mL in or out, and whether it was used."""
    held: dict[int, float] = {}
    for _ in range(chance.randint(4, 30)):
        clock.advance(days=chance.choice((0, 1, 5, 20, 60, 150, 380)))
        if not held or chance.random() < 0.2:
            size = chance.choice((30.0, 50.0, 100.0))
            (row,) = bottled("Mullein", sizes_ml=(size,))
            held[row.bottle_id] = size
            diary.append((keeper.today, size, False))
            continue
        bottle, left = chance.choice(list(held.items()))
        part = left if chance.random() < 0.5 else round(left * chance.uniform(0.1, 0.9), 1)
        act = chance.choice(("draw", "draw", "draw", "give", "discard", "count"))
        if act == "discard":
            discard_bottle(keeper, bottle, "")
            part = left
        elif act == "count":
            put_right(keeper, bottle, left - part)
        else:
            take_out(keeper, bottle, part, kind=MovementKind(act))
        diary.append((keeper.today, -part, act != "discard"))
        held[bottle] = left - part
        if held[bottle] < 0.01:
            del held[bottle]
    clock.advance(days=chance.choice((0, 3, 40, 200)))

    year = [keeper.today - timedelta(days=back) for back in range(365)]
    in_stock = sum(sum(ml for on, ml, _ in diary if on < day) > 0.01 for day in year)
    used = -sum(ml for on, ml, is_used in diary if is_used and on in year)
    left = sum(held.values())
    outlooks = stock_outlook(keeper)
    if used < 0.01 and left < 0.01:
        assert outlooks == []
        return
    (found,) = outlooks
    assert found.over_days == in_stock
    assert found.went_out_ml == pytest.approx(used)
    if used < 0.01 or (in_stock < 30 and left > 0.01) or left * in_stock / used > 50 * 365:
        assert (found.runs_out_on, found.is_low) == (None, False)
    else:
        lasts = left * in_stock / used
        assert found.runs_out_on is not None
        assert (found.runs_out_on - keeper.today).days == pytest.approx(lasts, abs=1)
        assert found.is_low == (lasts <= 60)


def test_a_stock_that_lasts_for_years_gets_no_date(keeper: Keeper, bottled: Bottled) -> None:
    (fennel,) = bottled("Fennel", days_ago=365)
    take_out(keeper, fennel.bottle_id, 1)
    assert only(keeper).runs_out_on is None


def test_a_herb_long_gone_is_left_out(keeper: Keeper, bottled: Bottled, clock: SetClock) -> None:
    (fennel,) = bottled("Fennel")
    take_out(keeper, fennel.bottle_id, 100)
    assert only(keeper).is_low
    clock.advance(days=366)
    assert stock_outlook(keeper) == []


def test_what_runs_out_first_is_listed_first(keeper: Keeper, bottled: Bottled) -> None:
    (slow,) = bottled("Anise", days_ago=60)
    bottled("Dill", days_ago=60)
    (fast,) = bottled("Fennel", days_ago=60)
    take_out(keeper, slow.bottle_id, 10)
    take_out(keeper, fast.bottle_id, 60)
    assert [found.herb for found in stock_outlook(keeper)] == ["Fennel", "Anise", "Dill"]


def test_what_expires_soon_is_listed_earliest_first(keeper: Keeper, bottled: Bottled) -> None:
    dates = {"Anise": 60, "Dill": 61, "Fennel": -3, "Ginger": 0}
    for herb, days in dates.items():
        (row,) = bottled(herb, days_ago=90)
        set_keep_until(keeper, row.tincture_id, keeper.today + timedelta(days=days))
    (undated,) = bottled("Myrrh")
    set_keep_until(keeper, undated.tincture_id, None)
    passing = passing_soon(keeper)
    assert [row.herb for row in passing] == ["Fennel", "Ginger", "Anise"]
    assert day_view(keeper).passing == tuple(passing)
    assert [row.herb for row in passing_soon(keeper, timedelta(0))] == ["Fennel", "Ginger"]
    take_out(keeper, passing[1].bottle_id, 100)
    assert [row.herb for row in passing_soon(keeper)] == ["Fennel", "Anise"]
    assert passing[0].keep_until == date(2026, 11, 23)


@pytest.mark.parametrize(("days", "went_out_ml"), [(364, 10), (366, 0)])
def test_use_is_counted_over_a_year(
    keeper: Keeper, bottled: Bottled, clock: SetClock, days: int, went_out_ml: float
) -> None:
    (fennel,) = bottled("Fennel", days_ago=500)
    take_out(keeper, fennel.bottle_id, 10)
    clock.advance(days=days)
    assert only(keeper).went_out_ml == went_out_ml
    assert only(keeper).over_days == 365
