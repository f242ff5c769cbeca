"""The stock-take of one place: differences become movements, all at once or not at all."""

from collections.abc import Callable

import pytest

from stillroom.errors import Refused
from stillroom.keeping.bottles.bottle_views import bottle_row, bottle_rows, bottle_view
from stillroom.keeping.bottles.stock import take_out, weighed_ml
from stillroom.keeping.bottles.stock_views import CountDifference, PlaceView
from stillroom.keeping.bottles.stocktake import places, settle_stocktake, stocktake_rows
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.ledger import events
from stillroom.keeping.undo import redo, undo
from stillroom.keeping.views import BottleRow
from stillroom.reckoning.mixing import mass_from_volume_g

Bottled = Callable[..., list[BottleRow]]


@pytest.fixture
def larder(keeper: Keeper, bottled: Bottled) -> list[BottleRow]:
    """Three full bottles in the larder; one more in the cellar, and one with no place."""
    bottled("Dill", place="Cellar")
    bottled("Anise")
    return bottled("Fennel", sizes_ml=(50, 50, 50), place="Larder")


def test_a_place_lists_the_bottles_with_something_in_them(
    keeper: Keeper, larder: list[BottleRow]
) -> None:
    assert places(keeper) == [PlaceView("Cellar", 1), PlaceView("Larder", 3), PlaceView("", 1)]
    take_out(keeper, larder[0].bottle_id, 50)
    assert stocktake_rows(keeper, "Larder") == larder[1:]
    assert [row.herb for row in stocktake_rows(keeper, "")] == ["Anise"]
    assert places(keeper)[1] == PlaceView("Larder", 2)


def test_differences_become_movements_and_a_summary(
    keeper: Keeper, larder: list[BottleRow]
) -> None:
    first, second, third = larder
    take_out(keeper, second.bottle_id, 20)
    seen = {first.bottle_id: 41.5, second.bottle_id: 32, third.bottle_id: 50.0}
    summary = settle_stocktake(keeper, "Larder", seen)
    assert summary.differences == (
        CountDifference(first.code, 50, 41.5),
        CountDifference(second.code, 30, 32),
    )
    assert (summary.place, summary.counted, summary.not_counted) == ("Larder", 3, ())
    assert summary.text == (
        "3 bottles counted; 2 corrected, 8.5 mL less and 2 mL more than recorded"
    )
    last = bottle_view(keeper, first.bottle_id).movements[-1]
    assert (last.kind, last.volume_ml, last.left_ml, last.note) == (
        "count",
        -8.5,
        41.5,
        "stock-take",
    )
    assert len(bottle_view(keeper, third.bottle_id).movements) == 1
    (said,) = events(keeper, "e.kind = 'stock-take'")
    assert said.text == f"Larder: {summary.text}"


def test_an_empty_bottle_is_counted_as_empty_and_a_negative_volume_is_refused(
    keeper: Keeper, larder: list[BottleRow]
) -> None:
    first, second, _ = larder
    settle_stocktake(keeper, "Larder", {first.bottle_id: 0, second.bottle_id: 0.5})
    assert bottle_row(keeper, first.bottle_id).left_ml == 0
    assert bottle_row(keeper, second.bottle_id).left_ml == pytest.approx(0.5)
    with pytest.raises(Refused, match="negative"):
        settle_stocktake(keeper, "Larder", {second.bottle_id: -0.1})


def test_a_stock_take_is_one_act_to_undo(keeper: Keeper, larder: list[BottleRow]) -> None:
    before = bottle_rows(keeper)
    settle_stocktake(keeper, "Larder", {row.bottle_id: 10 for row in larder})
    after = bottle_rows(keeper)
    assert undo(keeper) == "Stock-take of Larder"
    assert bottle_rows(keeper) == before
    redo(keeper)
    assert bottle_rows(keeper) == after


def test_bottles_not_counted_stay_as_they_are_and_are_listed(
    keeper: Keeper, larder: list[BottleRow]
) -> None:
    first, second, third = larder
    take_out(keeper, third.bottle_id, 50)
    summary = settle_stocktake(keeper, "Larder", {first.bottle_id: 50})
    assert summary.not_counted == (second.code,)
    assert summary.text == "1 bottle counted; all as recorded; 1 bottle not counted"
    assert bottle_row(keeper, second.bottle_id) == second


def test_a_bottle_thought_empty_can_be_counted_as_not_empty(
    keeper: Keeper, larder: list[BottleRow]
) -> None:
    first, *_ = larder
    take_out(keeper, first.bottle_id, 50)
    settle_stocktake(keeper, "Larder", {first.bottle_id: 3})
    assert bottle_row(keeper, first.bottle_id).left_ml == 3


def test_a_weighed_bottle_is_counted_by_its_weight(keeper: Keeper, larder: list[BottleRow]) -> None:
    first, *_ = larder
    assert first.strength_abv is not None
    gross_g = 120 + mass_from_volume_g(33, first.strength_abv)
    seen_ml = weighed_ml(keeper, first.bottle_id, gross_g, 120)
    settle_stocktake(keeper, "Larder", {first.bottle_id: seen_ml})
    assert bottle_row(keeper, first.bottle_id).left_ml == pytest.approx(33)


@pytest.mark.parametrize(
    ("volume_ml", "said"),
    [
        (-1, "can't hold a negative volume"),
        (float("nan"), "can't hold a negative volume"),
        (50.1, "holds at most 50 mL"),
    ],
)
def test_an_impossible_count_leaves_every_bottle_as_it_was(
    keeper: Keeper, larder: list[BottleRow], volume_ml: float, said: str
) -> None:
    before = bottle_rows(keeper)
    seen = {larder[0].bottle_id: 10, larder[2].bottle_id: volume_ml}
    with pytest.raises(Refused, match=said):
        settle_stocktake(keeper, "Larder", seen)
    assert bottle_rows(keeper) == before


def test_a_count_has_at_least_one_bottle_and_only_those_of_its_place(
    keeper: Keeper, larder: list[BottleRow]
) -> None:
    (elsewhere,) = stocktake_rows(keeper, "Cellar")
    with pytest.raises(Refused, match="is not in Larder"):
        settle_stocktake(keeper, "Larder", {elsewhere.bottle_id: 10})
    with pytest.raises(Refused, match="is not in no place"):
        settle_stocktake(keeper, "", {elsewhere.bottle_id: 10})
    with pytest.raises(Refused, match="at least one bottle"):
        settle_stocktake(keeper, "Larder", {})
