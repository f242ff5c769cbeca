"""The plan of a shelf: its figures worked again by hand from what was filled and drawn."""

import sqlite3
from collections.abc import Callable
from contextlib import closing
from dataclasses import replace
from datetime import date, timedelta

import pytest

from stillroom.clock import SetClock
from stillroom.errors import StillroomError
from stillroom.keeping.bottles.blends import make_blend
from stillroom.keeping.bottles.bottle_views import bottle_rows
from stillroom.keeping.bottles.joining import joined
from stillroom.keeping.bottles.status import withdraw
from stillroom.keeping.bottles.stock import take_out
from stillroom.keeping.cupboard.cupboard import add_spirit
from stillroom.keeping.cupboard.lots import add_lot, dry, lay_out
from stillroom.keeping.drafts import (
    ALL,
    BlendDraft,
    BlendPartDraft,
    BottleDraft,
    ChargeDraft,
    HerbLotDraft,
    SpiritDraft,
)
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import save_settings, settings_of
from stillroom.keeping.undo import undo
from stillroom.keeping.views import BottleRow
from stillroom.keeping.wording import Wording
from stillroom.keeping.year.ahead import plan_view
from stillroom.keeping.year.gathering import SeasonDraft, set_season
from stillroom.keeping.year.plan_views import AS_IT_IS, Ahead, WhatIf
from stillroom.keeping.year.plan_words import stock, strip
from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.planning import Window
from stillroom.reckoning.states import HerbCame, MovementKind

from ..builders import bottled as fill_bottles
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


def only(keeper: Keeper, what_if: WhatIf = AS_IT_IS) -> Ahead:
    (found,) = plan_view(keeper, what_if).herbs
    return found


def test_stock_that_may_not_be_used_is_named_and_not_counted(used: Keeper, clock: SetClock) -> None:
    save_settings(used, replace(settings_of(used), maker="AL"))
    withdraw(used, [bottle_rows(used)[0].tincture_id], "wrong herb")
    found = only(used)
    assert (found.in_bottles_ml, found.past_date_ml, found.withheld_ml) == (0, 0, 180)
    assert "not counted: 180 mL rejected or withdrawn" in stock(found, Wording())
    undo(used)
    clock.advance(days=365 * 20)
    (later,) = plan_view(used).herbs
    assert (later.in_bottles_ml, later.past_date_ml, later.withheld_ml) == (0, 180, 0)
    assert "not counted: 180 mL past its date" in stock(later, Wording())


def test_the_plan_shows_use_and_stock_and_what_to_make(used: Keeper) -> None:
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


def test_the_missing_spirit_is_priced_at_its_last_purchase(used: Keeper) -> None:
    view = plan_view(used)
    (needed,) = view.spirits
    poured = sum(each.plan.poured_ml for each in view.herbs if each.plan)
    assert (needed.strength_abv, needed.needed_ml) == pytest.approx((40, poured))
    assert needed.there_ml == pytest.approx(1500)
    assert needed.to_buy_ml == pytest.approx(max(0.0, poured - 1500))
    assert needed.cost == pytest.approx(max(0.0, poured - 1500) * 30 / 2000)


def test_a_steeping_jar_counts_from_the_day_it_is_ready(used: Keeper) -> None:
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


def test_a_plan_with_other_months_in_hand_or_without_a_herb_leaves_the_shelf_unchanged(
    used: Keeper,
) -> None:
    rows = used.rows("SELECT count(*) FROM event")
    short, long = only(used, WhatIf(months=6)), only(used, WhatIf(months=24))
    assert short.plan is not None
    assert long.plan is not None
    assert short.plan.to_make_ml.middle < long.plan.to_make_ml.middle
    assert plan_view(used, WhatIf(without=("FENNEL",))).herbs == ()
    assert used.rows("SELECT count(*) FROM event") == rows


def test_one_large_gift_is_left_out_of_use_and_named(used: Keeper) -> None:
    before = only(used)
    last = used.rows("SELECT max(id) FROM bottle")[0][0]
    take_out(used, last, 115, kind=MovementKind.GIVE)
    after = only(used)
    assert before.rate is not None
    assert after.rate is not None
    assert after.rate.left_out_ml == pytest.approx(115 - 60)
    assert after.rate.ml_per_day == pytest.approx(before.rate.ml_per_day + 60 / 63)


def test_a_gathering_window_is_learned_from_your_gatherings_and_never_guessed(used: Keeper) -> None:
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


def test_joined_and_thinned_stock_still_counts_as_stock_and_not_as_use(
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


def test_a_season_that_was_entered_comes_before_one_learned_from_gatherings_and_can_be_undone(
    used: Keeper,
) -> None:
    learned = only(used).window
    set_season(used, SeasonDraft("fennel", Part.SEED, (12, 15), (1, 20), 24))
    found = only(used)
    assert found.window == Window((12, 15), (1, 2), (1, 20), 0)
    assert found.plan is not None
    assert found.plan.window is not None
    assert (found.plan.window[0].month, found.plan.window[2].month) == (12, 1)
    assert found.months_in_hand == 24
    (line,) = used.rows("SELECT text FROM event ORDER BY id DESC LIMIT 1")
    assert line == ("seed: Gathered none → 15 Dec to 20 Jan; Months in hand none → 24",)
    undo(used)
    assert only(used).window == learned
    assert only(used).months_in_hand == 12
    for draft in (
        SeasonDraft("Fennel", Part.SEED, (12, 15), None),
        SeasonDraft("Fennel", Part.SEED, months_in_hand=121),
        SeasonDraft("Nobody", Part.SEED),
    ):
        with pytest.raises(StillroomError):
            set_season(used, draft)


def test_months_in_hand_are_set_for_the_herb_or_in_the_settings(used: Keeper) -> None:
    """Of what is not gathered in a season: then the days to cover are the months alone."""
    save_settings(used, replace(settings_of(used), months_in_hand=6))
    assert only(used).months_in_hand == 6
    set_season(used, SeasonDraft("Fennel", Part.SEED, months_in_hand=3))
    assert only(used).months_in_hand == 3
    assert only(used, WhatIf(months=9)).months_in_hand == 9


def test_fresh_herb_in_store_counts_at_its_dry_weight(used: Keeper) -> None:
    # Typed, so that what is gathered here doesn't change when it is due.
    set_season(used, SeasonDraft("Fennel", Part.SEED, (8, 20), (9, 10)))
    asked = only(used).plan
    assert asked is not None
    assert asked.herb_g is not None
    day = used.today
    dried = HerbLotDraft("Fennel", Part.SEED, Condition.DRIED, HerbCame.BOUGHT, day, mass_g=20)
    add_lot(used, dried)
    found = only(used).to_get
    assert found is not None
    assert found.herb_g.middle == pytest.approx(asked.herb_g.middle - 20)
    # No own drying: seed at 50 % water dries to 10 %, so 0.5 / 0.9 of its weight is left.
    assert found.dryings == 0
    assert found.fresh_g is not None
    assert found.fresh_g.middle == pytest.approx(found.herb_g.middle * 0.9 / 0.5)
    fresh = HerbLotDraft("Fennel", Part.SEED, Condition.FRESH, HerbCame.GATHERED, day, mass_g=90)
    lot = add_lot(used, fresh)
    with_fresh = only(used).to_get
    assert with_fresh is not None
    assert with_fresh.herb_g.middle == pytest.approx(asked.herb_g.middle - 20 - 90 * 0.5 / 0.9)
    part = lay_out(used, lot.lot_id, None)
    dry(used, part.lot_id, 30)
    by_own = only(used).to_get
    assert by_own is not None
    assert by_own.dryings == 1
    assert by_own.herb_g.middle == pytest.approx(asked.herb_g.middle - 20 - 30)
    assert by_own.fresh_g is not None
    assert by_own.fresh_g.middle == pytest.approx(by_own.herb_g.middle * 90 / 30)


def test_more_for_one_person_increases_their_share_and_writes_nothing(used: Keeper) -> None:
    row = bottle_rows(used)[-1]
    take_out(used, row.bottle_id, 30, kind=MovementKind.GIVE, person="Ada")
    mark = used.rows("SELECT value FROM setting WHERE name = 'file_state'")
    before, after = only(used).rate, only(used, WhatIf(more=(("ADA", 0.5),))).rate
    assert before is not None
    assert after is not None
    assert after.ml_per_day - before.ml_per_day == pytest.approx(15 / 63)
    assert used.rows("SELECT value FROM setting WHERE name = 'file_state'") == mark


def test_less_for_one_person_is_taken_off_what_was_counted(used: Keeper) -> None:
    """A gift of 100 mL counts as 60, three times the usual 20; nothing for them is 60 mL less."""
    row = bottle_rows(used)[-1]
    before = only(used).rate
    take_out(used, row.bottle_id, 100, kind=MovementKind.GIVE, person="Ada")
    none, half = (only(used, WhatIf(more=(("Ada", -by),))).rate for by in (1, 0.5))
    assert before is not None
    assert none is not None
    assert half is not None
    assert none.ml_per_day == pytest.approx(before.ml_per_day)
    assert none.variance == pytest.approx(before.variance)
    assert half.ml_per_day == pytest.approx(before.ml_per_day + 30 / 63)
    assert half.variance == pytest.approx(before.variance + 30**2 / 63)


def test_more_of_a_blend_is_more_of_each_of_its_parts(used: Keeper, bottled: Bottled) -> None:
    """A blend of 60 mL and 40 mL: of 30 mL of it, 18 are of the first."""
    (anise,) = bottled("Anise", sizes_ml=(80,))
    others = (row for row in bottle_rows(used) if row.batch != anise.batch)
    fennel = max(others, key=lambda row: row.left_ml)
    parts = (BlendPartDraft(fennel.bottle_id, 60), BlendPartDraft(anise.bottle_id, 40))
    made = make_blend(used, BlendDraft("Seeds", parts, used.today), confirmed=True)
    fill_bottles(used, made, BottleDraft(100, 90))
    blend = next(row for row in bottle_rows(used) if row.tincture_id == made.tincture_id)
    take_out(used, blend.bottle_id, 30, kind=MovementKind.GIVE, person="Ada")
    before, after = (
        next(e.rate for e in plan_view(used, asked).herbs if e.herb == "Fennel")
        for asked in (AS_IT_IS, WhatIf(more=(("Ada", 1.0),)))
    )
    assert before is not None
    assert after is not None
    assert after.ml_per_day - before.ml_per_day == pytest.approx(
        30 * 60 / made.volume_ml / before.days
    )


def test_a_plan_is_calculated_again_after_every_act_and_on_another_day(
    used: Keeper, clock: SetClock
) -> None:
    first = plan_view(used)
    assert plan_view(used) is first
    take_out(used, bottle_rows(used)[-1].bottle_id, 5)
    second = plan_view(used)
    assert second.herbs[0].left_ml == pytest.approx(first.herbs[0].left_ml - 5)
    clock.advance(days=1)
    assert plan_view(used).day > second.day


def test_a_plan_is_calculated_again_also_in_a_file_without_marks(used: Keeper) -> None:
    """As a shelf has none until this version first writes to it."""
    marks = "DELETE FROM setting WHERE name IN ('file_state', 'file_identity')"
    used.store.db.execute_sql(marks)
    first = plan_view(used)
    assert plan_view(used) is first
    used.store.db.execute_sql("INSERT INTO setting (name, value) VALUES ('units', 'us')")
    assert plan_view(used) is not first
    second = plan_view(used)
    with closing(sqlite3.connect(used.path)) as other, other:
        other.execute("UPDATE setting SET value = 'imperial' WHERE name = 'units'")
    assert plan_view(used) is not second


def test_a_rehearsal_gets_a_plan_of_its_own_and_leaves_the_cached_one(used: Keeper) -> None:
    left_ml = only(used).left_ml
    with used.rehearsal():
        take_out(used, bottle_rows(used)[-1].bottle_id, 5)
        assert only(used).left_ml == pytest.approx(left_ml - 5)
    assert only(used).left_ml == pytest.approx(left_ml)


def test_planned_jars_have_the_size_used_most(used: Keeper) -> None:
    herb = ChargeDraft("Fennel", Part.SEED, Condition.DRIED, 100)
    for size in (750, 750, 1000):
        filled(used, (herb,), spirit(500), days=14, capacity_ml=size)
    recipe = only(used).recipe
    assert recipe is not None
    assert recipe.jar_size_ml == 750


def test_the_row_of_months_marks_gathering_the_last_filling_and_the_end_of_stock(
    used: Keeper,
) -> None:
    set_season(used, SeasonDraft("Fennel", Part.SEED, (8, 20), (9, 10)))
    found = only(used)
    assert found.plan is not None
    assert found.plan.fill_by is not None
    assert found.plan.covered_until is not None
    marks = dict(strip(found))
    assert len(marks) == 12
    assert {name for name, each in marks.items() if "G" in each} == {"Aug", "Sep"}
    assert [n for n, each in marks.items() if "X" in each] == [f"{found.plan.covered_until:%b}"]
    assert found.plan.fill_by < date(2027, 8, 20), "none can be gathered by then"
    assert [n for n, each in marks.items() if "F" in each] == ["Aug"]
    day = used.today
    dried = HerbLotDraft("Fennel", Part.SEED, Condition.DRIED, HerbCame.BOUGHT, day, mass_g=20)
    add_lot(used, dried)
    marks = dict(strip(only(used)))
    assert [n for n, each in marks.items() if "F" in each] == [f"{found.plan.fill_by:%b}"]


def test_resin_is_not_counted_fresh(keeper: Keeper, bottled: Bottled, clock: SetClock) -> None:
    """It isn't dried, so that its weight is the same whichever way it is bought."""
    herb = ChargeDraft("Myrrh", Part.RESIN, Condition.DRIED, 100)
    (row,) = bottled(herb, sizes_ml=(120,), poured_ml=500, yield_ml=380)
    clock.advance(days=40)
    take_out(keeper, row.bottle_id, 100)
    wanted = only(keeper).to_get
    assert wanted is not None
    assert wanted.herb_g.middle > 0
    assert wanted.fresh_g is None
