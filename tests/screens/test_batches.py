"""Joining, thinning, sweetening and losing on the bottles page, by keys."""

from collections.abc import Callable

import pytest

from stillroom.keeping.bottles.losses import losses_of
from stillroom.keeping.bottles.tinctures import tincture_view, unbottled
from stillroom.keeping.cupboard.liquids import add_liquid
from stillroom.keeping.drafts import BottleDraft, ChargeDraft, LiquidDraft
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.shelf_file.check import check
from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.states import LossKind, OtherLiquidKind
from stillroom.screens.app import StillroomApp
from stillroom.screens.bottles.page import BottlesPage

from ..builders import bottled, filled, spirit, strained
from .driving import flat, press, turn_to, type_into

Made = Callable[[str], int]


@pytest.fixture
def made(keeper: Keeper) -> Made:
    """A tincture of 150 mL of 40 %, of which 100 mL are bottled; returns its id."""

    def make(herb: str) -> int:
        charges = [ChargeDraft(herb, Part.LEAF, Condition.DRIED, 40)]
        jar_id = filled(keeper, charges, spirit(200), days=0)
        view = strained(keeper, jar_id, 150, measured_abv=40)
        bottled(keeper, view, BottleDraft(100, 100))
        return view.tincture_id

    return make


async def test_a_batch_still_to_be_bottled_is_thinned(keeper: Keeper, made: Made) -> None:
    sage = made("Sage")
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24)) as pilot:
        await turn_to(app, pilot, "2", BottlesPage)
        await press(pilot, "t", *"30")
        # 50 mL of 40 % hold 20 mL: 66.7 mL of 30 %, which shrink by next to nothing.
        assert "30 % v/v" in flat(app)
        await press(pilot, "ctrl+s")
        (view,) = unbottled(keeper)
        assert view.volume_ml == pytest.approx(66.67, abs=0.02)
        assert (view.code, view.name) == ("26-002", "Sage")
        assert tincture_view(keeper, sage).loose_ml == 0
        assert check(keeper) == []
        await press(pilot, "u")
        assert tincture_view(keeper, sage).loose_ml == pytest.approx(50)


async def test_two_batches_still_to_be_bottled_are_joined(keeper: Keeper, made: Made) -> None:
    made("Sage")
    made("Fennel")
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24)) as pilot:
        await turn_to(app, pilot, "2", BottlesPage)
        await press(pilot, "j", "tab", "right", "ctrl+s")
        (view,) = unbottled(keeper)
        assert (view.code, view.volume_ml) == ("26-003", pytest.approx(100))
        assert check(keeper) == []


async def test_a_loss_of_a_batch_has_a_kind(keeper: Keeper, made: Made) -> None:
    sage = made("Sage")
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24)) as pilot:
        await turn_to(app, pilot, "2", BottlesPage)
        await press(pilot, "y", *"5 ml", "tab", "right", "ctrl+s")
        assert losses_of(keeper, sage) == {LossKind.DREGS: pytest.approx(5)}
        assert tincture_view(keeper, sage).loose_ml == pytest.approx(45)


async def test_one_bottle_is_sweetened_with_honey(keeper: Keeper, made: Made) -> None:
    made("Sage")
    honey = LiquidDraft("Honey", OtherLiquidKind.HONEY, 1.42, bought_ml=500)
    honey_id = add_liquid(keeper, honey)
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24)) as pilot:
        page = await turn_to(app, pilot, "2", BottlesPage)
        await press(pilot, "down", "space", "b")
        await type_into(app, pilot, "blend-name", "Sweet sage")
        (bottle,) = page.chosen_bottles()
        await type_into(app, pilot, f"part-{bottle.bottle_id}", "80 ml")
        await type_into(app, pilot, f"liquid-{honey_id}", "20 ml")
        assert "Honey 20 %" in flat(app)
        assert "Strong enough" in flat(app)  # 80 mL of 40 % in 100 mL are 32 %
        await press(pilot, "ctrl+s")
        sweet = next(view for view in unbottled(keeper) if view.name == "Sweet sage")
        assert (sweet.volume_ml, sweet.strength_abv) == (pytest.approx(100), pytest.approx(32))
        assert check(keeper) == []
