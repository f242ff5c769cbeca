"""From 900 g of fresh herb to a honey blend and its recall by keys, every figure by another sum.

Densities are of Perry's handbook, as in the tests of pouring again: mass and ethanol are kept.
"""

from datetime import timedelta

import pytest

from stillroom.clock import SetClock
from stillroom.keeping.bottles.bottle_views import bottle_rows
from stillroom.keeping.bottles.tinctures import unbottled
from stillroom.keeping.cupboard.liquids import liquids
from stillroom.keeping.cupboard.lot_reading import herb_lots
from stillroom.keeping.jars.jar_view import jar_view
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.shelf_file.check import check
from stillroom.keeping.trace.recall import recall_words
from stillroom.keeping.trace.views import Node
from stillroom.screens.app import StillroomApp
from stillroom.screens.bottles.page import BottlesPage
from stillroom.screens.cupboard.page import CupboardPage
from stillroom.screens.jar.herb_fields import HerbFields
from stillroom.screens.jar.liquid_fields import LiquidFields
from stillroom.screens.shelves.page import ShelvesPage

from ..keeping.test_pouring_again import mixed
from .driving import choose, flat, press, turn_to, type_into
from .hands import type_in
from .screen_text import screen_text


def water_to_reach(volume_ml: float, abv: float, target: float) -> float:
    """Found by halving, with the densities of the handbook."""
    low, high = 0.0, 10 * volume_ml
    for _ in range(60):
        middle = (low + high) / 2
        is_strong = mixed((volume_ml, abv), (middle, 0.0))[1] > target
        low, high = (middle, high) if is_strong else (low, middle)
    return low


def labels(node: Node) -> list[str]:
    return [node.label, *(label for child in node.children for label in labels(child))]


async def test_fresh_herb_becomes_a_honey_blend_that_is_recalled(
    keeper: Keeper, clock: SetClock
) -> None:
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24)) as pilot:
        # 900 g fresh are laid out, and 160 g dry.
        await turn_to(app, pilot, "4", CupboardPage)
        await press(pilot, "left", "left", "n")
        await type_into(app, pilot, "herb", "Sage")
        await type_into(app, pilot, "weight", "900 g")
        await press(pilot, "ctrl+s", "l", "ctrl+s", "l")
        await type_into(app, pilot, "weight", "160 g")
        await press(pilot, "ctrl+s")
        assert "leaf, dried" in screen_text(app)

        # 100 g in 500 mL of 40 %: with a tenth of water in dried herb, 10 g of it.
        await turn_to(app, pilot, "1", ShelvesPage)
        await press(pilot, "n")
        await type_in(pilot, "H-26-001", "tab", "tab", "tab", "tab", "100 g")
        await type_in(pilot, "tab", "tab", "tab", "tab", "tab", "500 ml", "tab", "40 %")
        assert "1:5 herb to liquid poured" in flat(app)
        await press(pilot, "ctrl+s")
        in_jar_ml, abv = mixed((500, 40), (10 / 0.99823, 0))
        first = jar_view(keeper, 1)
        assert first.outlook.volume_ml == pytest.approx(in_jar_ml, abs=0.5)
        assert first.outlook.strength_abv == pytest.approx(abv, abs=0.1)

        # Drained a fortnight later, pressed the next day.
        clock.moment += timedelta(days=14)
        await press(pilot, "s")
        await type_in(pilot, "300 ml")
        await choose(app, pilot, "more", "yes")
        await press(pilot, "ctrl+s")
        assert "TO PRESS" in screen_text(app)
        clock.moment += timedelta(days=1)
        await press(pilot, "s")
        await type_in(pilot, "110 ml", "ctrl+s")
        await press(pilot, "escape")
        assert jar_view(keeper, 1).tincture is not None

        # The marc holds what did not come out, at the tincture's strength.
        await press(pilot, "p")
        held_ml = in_jar_ml - 410
        assert f"The marc holds back {held_ml:.1f}"[:-2] in flat(app)
        fields = app.screen.query(LiquidFields).first()
        fields.volume.field.focus()
        await type_in(pilot, "300 ml")
        fields.strength.field.focus()
        await type_in(pilot, "40 %", "ctrl+s")
        second_ml, second_abv = mixed((held_ml, abv), (300, 40))
        second = jar_view(keeper, 2)
        assert second.outlook.volume_ml == pytest.approx(second_ml, abs=0.6)
        assert second.outlook.strength_abv == pytest.approx(second_abv, abs=0.1)
        clock.moment += timedelta(days=14)
        page = await turn_to(app, pilot, "1", ShelvesPage)
        while (card := page.chosen_jar()) is None or card.jar_id != 2:
            await press(pilot, "right")
        await press(pilot, "s")
        await type_in(pilot, "320 ml", "ctrl+s")
        await press(pilot, "escape")

        # Both joined, then thinned to 30 %, then bottled.
        await turn_to(app, pilot, "2", BottlesPage)
        await press(pilot, "j", "tab", "right", "ctrl+s")
        (both,) = unbottled(keeper)
        both_ml, both_abv = mixed((410, abv), (320, second_abv))
        assert both.volume_ml == pytest.approx(both_ml, abs=0.6)
        assert both.strength_abv == pytest.approx(both_abv, abs=0.1)
        await press(pilot, "t")
        await type_in(pilot, "30", "ctrl+s")
        (thin,) = unbottled(keeper)
        water_ml = water_to_reach(both_ml, both_abv, 30)
        thin_ml, _ = mixed((both_ml, both_abv), (water_ml, 0))
        assert thin.volume_ml == pytest.approx(thin_ml, abs=1.5)
        assert thin.strength_abv == pytest.approx(30, abs=0.01)
        assert thin.volume_ml * 0.30 == pytest.approx(both_ml * both_abv / 100, rel=0.003)
        await press(pilot, "enter", "ctrl+s")
        stock = bottle_rows(keeper)
        assert sum(row.left_ml for row in stock) == pytest.approx(thin.volume_ml, abs=0.6)

        # One bottle goes on fresh herb: 100 g with 80 % of water.
        one, other = stock[0], stock[1]
        await turn_to(app, pilot, "1", ShelvesPage)
        await press(pilot, "n")
        await type_in(pilot, "Thyme")
        herb = app.screen.query(HerbFields).first()
        herb.condition.choice.value = "fresh"
        for entry, text in ((herb.mass, "100 g"), (herb.water, "80 %")):
            entry.field.focus()
            await type_in(pilot, text)
        fields = app.screen.query(LiquidFields).first()
        fields.liquid.choice.value = "tincture"
        await pilot.pause()
        fields.volume.field.focus()
        await type_in(pilot, "100 ml")
        fields.code.field.focus()
        await type_in(pilot, one.code)
        await press(pilot, "ctrl+s")
        third_ml, third_abv = mixed((100, 30), (80 / 0.99823, 0))
        third = jar_view(keeper, 3)
        assert third.outlook.volume_ml == pytest.approx(third_ml, abs=0.6)
        assert third.outlook.strength_abv == pytest.approx(third_abv, abs=0.1)

        # 80 mL of another and 20 mL of honey: 24 mL of ethanol in 100 mL.
        await turn_to(app, pilot, "4", CupboardPage)
        await press(pilot, "left", "n")
        await type_into(app, pilot, "name", "Honey")
        await choose(app, pilot, "kind", "honey")
        await type_into(app, pilot, "bought", "500 ml")
        await press(pilot, "ctrl+s")
        bottles = await turn_to(app, pilot, "2", BottlesPage)
        while not isinstance(row := bottles.stock.selected, type(other)) or row.code != other.code:
            await press(pilot, "down")
        await press(pilot, "space", "b")
        (honey,) = liquids(keeper)
        await type_into(app, pilot, "blend-name", "Sage honey")
        await type_into(app, pilot, f"part-{other.bottle_id}", "80 ml")
        await type_into(app, pilot, f"liquid-{honey.liquid_id}", "20 ml")
        await press(pilot, "ctrl+s")
        sweet = next(view for view in unbottled(keeper) if view.name == "Sage honey")
        assert sweet.volume_ml == pytest.approx(100, abs=0.1)
        assert sweet.strength_abv == pytest.approx(24, abs=0.05)

    assert [lot.left_g for lot in herb_lots(keeper)] == [60.0]
    assert liquids(keeper)[0].left_ml == pytest.approx(480)
    (tree,) = recall_words(keeper, "H-26-001")
    found = " ".join(labels(tree))
    reached = (first.card.code, second.card.code, third.card.code, thin.code, sweet.code)
    assert [code for code in reached if code not in found] == []
    assert check(keeper) == []
