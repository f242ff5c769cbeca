"""The plan of a shelf: its figures worked again by hand from what was filled and drawn."""

from collections.abc import Callable
from datetime import timedelta

import pytest

from stillroom.clock import SetClock
from stillroom.keeping.bottles.blends import make_blend
from stillroom.keeping.bottles.bottle_views import bottle_rows
from stillroom.keeping.bottles.joining import joined
from stillroom.keeping.bottles.stock import take_out
from stillroom.keeping.cupboard.cupboard import add_spirit
from stillroom.keeping.drafts import ALL, BlendPartDraft, ChargeDraft, SpiritDraft
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.views import BottleRow
from stillroom.keeping.year.ahead import Ahead, plan_view
from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.states import MovementKind

from ..builders import filled, spirit

Bottled = Callable[..., list[BottleRow]]


@pytest.fixture
def used(keeper: Keeper, bottled: Bottled, clock: SetClock) -> Keeper:
    """100 g of fennel in 500 mL gave 360 mL in three bottles; 20 mL a week since."""
    spirit_id = add_spirit(keeper, SpiritDraft("Vodka", 40, 2000, 30, keeper.today))
    herb = ChargeDraft(
        "Fennel", Part.SEED, Condition.DRIED, 100, gathered_on=keeper.today - timedelta(days=60)
    )
    rows = bottled(herb, sizes_ml=(120, 120, 120), poured_ml=500, yield_ml=360, spirit_id=spirit_id)
    for week in range(9):
        clock.advance(days=7)
        take_out(keeper, rows[week // 5].bottle_id, 20)
    return keeper


def only(keeper: Keeper, **options: object) -> Ahead:
    (found,) = plan_view(keeper, **options).herbs  # type: ignore[arg-type]
    return found


def test_use_stock_and_what_to_make(used: Keeper) -> None:
    found = only(used)
    assert (found.herb, found.part, found.condition) == ("Fennel", "seed", "dried")
    assert found.left_ml == pytest.approx(180)
    assert found.rate is not None
    assert found.rate.ml_per_day == pytest.approx(180 / 63)
    assert found.plan is not None
    assert found.plan.covered_until == used.today + timedelta(days=63)
    assert found.recipe is not None
    assert found.recipe.poured_ml_per_g == pytest.approx(5)
    assert found.recipe.spirits == ((40, 5),)
    grams = found.plan.herb_g
    assert grams is not None
    assert found.plan.poured_ml == pytest.approx(5 * grams.middle)
    assert found.plan.to_make_ml.middle == pytest.approx(
        grams.middle * found.recipe.yield_ml_per_g.middle
    )
    # 500 mL and 11 mL of water in the herb, less about 1.5 mL a gram.
    assert found.recipe.yield_ml_per_g.middle == pytest.approx(3.5, abs=0.2)


def test_the_spirit_that_is_missing_is_priced_by_its_last_purchase(used: Keeper) -> None:
    view = plan_view(used)
    (needed,) = view.spirits
    poured = sum(each.plan.poured_ml for each in view.herbs if each.plan)
    assert (needed.strength_abv, needed.needed_ml) == pytest.approx((40, poured))
    assert needed.there_ml == pytest.approx(1500)
    assert needed.to_buy_ml == pytest.approx(max(0.0, poured - 1500))
    assert needed.cost == pytest.approx(max(0.0, poured - 1500) * 30 / 2000)


def test_what_steeps_counts_from_the_day_it_is_ready(used: Keeper) -> None:
    before = only(used)
    herb = ChargeDraft("Fennel", Part.SEED, Condition.DRIED, 100)
    filled(used, (herb,), spirit(500), days=14)
    after = only(used)
    assert after.steeping_ml.middle == pytest.approx(360, abs=40)
    assert after.steeping_ml.low < after.steeping_ml.middle < after.steeping_ml.high
    assert before.plan is not None
    assert after.plan is not None
    assert before.plan.covered_until is not None
    assert after.plan.covered_until is not None
    days = (after.plan.covered_until - before.plan.covered_until).days
    assert days == pytest.approx(after.steeping_ml.middle / (180 / 63), abs=1)


def test_other_months_in_hand_or_a_herb_left_out_change_the_plan_and_not_the_shelf(
    used: Keeper,
) -> None:
    rows = used.rows("SELECT count(*) FROM event")
    short, long = only(used, months_in_hand=6), only(used, months_in_hand=24)
    assert short.plan is not None
    assert long.plan is not None
    assert short.plan.to_make_ml.middle < long.plan.to_make_ml.middle
    assert plan_view(used, without=("FENNEL",)).herbs == ()
    assert used.rows("SELECT count(*) FROM event") == rows


def test_one_large_gift_is_left_out_and_named(used: Keeper) -> None:
    before = only(used)
    last = used.rows("SELECT max(id) FROM bottle")[0][0]
    take_out(used, last, 115, kind=MovementKind.GIVE)
    after = only(used)
    assert before.rate is not None
    assert after.rate is not None
    assert after.rate.left_out_ml == pytest.approx(115 - 60)
    assert after.rate.ml_per_day == pytest.approx(before.rate.ml_per_day + 60 / 63)


def test_a_window_is_learned_from_own_gatherings_and_never_guessed(used: Keeper) -> None:
    found = only(used)
    assert found.window is not None
    gathered = used.today - timedelta(days=60 + 63)
    assert found.window.earliest == (gathered.month, gathered.day)
    assert found.window.rests_on == 1
    herb = ChargeDraft("Anise", Part.SEED, Condition.DRIED, 100)
    filled(used, (herb,), spirit(500), days=14)
    anise = next(each for each in plan_view(used).herbs if each.herb == "Anise")
    assert anise.window is None
    assert anise.rate is None
    assert anise.plan is None


def test_what_was_joined_or_thinned_is_still_there_and_was_not_used(
    used: Keeper, bottled: Bottled
) -> None:
    (second,) = bottled("Fennel", sizes_ml=(50,))
    first = next(row for row in bottle_rows(used) if row.batch != second.batch)
    before = only(used)
    taken = (BlendPartDraft(first.bottle_id, ALL), BlendPartDraft(second.bottle_id, ALL))
    made = make_blend(used, joined(used, taken, used.today), confirmed=True)
    after = only(used)
    assert made.is_blend
    assert after.to_bottle_ml == pytest.approx(first.left_ml + second.left_ml)
    assert after.left_ml == pytest.approx(before.left_ml)
    assert before.rate is not None
    assert after.rate is not None
    assert after.rate.ml_per_day == pytest.approx(before.rate.ml_per_day)
