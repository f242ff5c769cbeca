"""What a form lacks is added from inside it, and nothing has to be typed again."""

import pytest

from stillroom.keeping.bottles.tinctures import unbottled
from stillroom.keeping.cupboard.cupboard import add_spirit, spirits
from stillroom.keeping.cupboard.liquids import liquids
from stillroom.keeping.cupboard.lot_reading import herb_lots
from stillroom.keeping.drafts import BottleDraft, ChargeDraft, SpiritDraft
from stillroom.keeping.jars.jar_view import jar_view
from stillroom.keeping.jars.shelves import shelves_view
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.shelf_file.check import check
from stillroom.reckoning.charge import Condition, Part
from stillroom.screens.app import StillroomApp
from stillroom.screens.bottles.page import BottlesPage
from stillroom.screens.cupboard.page import CupboardPage
from stillroom.screens.jar.liquid_fields import LiquidFields
from stillroom.screens.shelves.page import ShelvesPage

from ..builders import bottled, filled, spirit, strained
from ..reckoning.printed_density import ETHANOL, G_PER_ML, WEIGHT_PERCENT, between, g_per_ml
from .driving import choose, flat, press, turn_to, type_into
from .hands import type_in
from .screen_text import screen_text


async def test_a_lot_and_a_spirit_are_added_from_inside_the_fill_form(keeper: Keeper) -> None:
    """And the spirit is then counted and spilled in the cupboard, at 80 columns by 24."""
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "n")
        await type_in(pilot, "Fennel", "ctrl+b")
        assert "New herb in store" in screen_text(app)
        await type_into(app, pilot, "weight", "250 g")
        await press(pilot, "ctrl+s")
        assert "H-26-001" in screen_text(app)
        await type_in(pilot, "60 g", "tab", "tab", "tab", "tab")
        await press(pilot, "ctrl+b")
        await type_into(app, pilot, "name", "Vodka")
        await type_into(app, pilot, "strength", "40 %")
        await type_into(app, pilot, "bought", "1 l")
        await type_into(app, pilot, "code", "V1")
        await press(pilot, "ctrl+s")
        assert "40 % Vodka" in flat(app)
        await type_in(pilot, "300 ml")
        assert "1:5 herb to liquid poured" in flat(app)
        await press(pilot, "ctrl+s")
        page = await turn_to(app, pilot, "4", CupboardPage)
        assert page.part.title == "Spirits"
        assert "V1" in screen_text(app)
        await press(pilot, "c")
        await type_into(app, pilot, "left", "650 ml")
        await press(pilot, "ctrl+s")
        assert "650 mL" in screen_text(app)
        await press(pilot, "d")
        await type_into(app, pilot, "volume", "700 ml")
        assert "it holds 650 mL, and this takes 700 mL" in flat(app)
        await type_into(app, pilot, "volume", "50 ml")
        await press(pilot, "ctrl+s")
    (card,) = shelves_view(keeper).jars
    jar = jar_view(keeper, card.jar_id)
    assert [(c.herb, c.lot, c.mass_g) for c in jar.charges] == [("Fennel", "H-26-001", 60.0)]
    (bought,) = spirits(keeper)
    assert (jar.pours[0].spirit_id, bought.left_ml) == (bought.spirit_id, 600.0)
    assert [lot.left_g for lot in herb_lots(keeper)] == [190.0]


async def test_the_first_honey_of_a_shelf_is_added_from_inside_the_fill_form(
    keeper: Keeper,
) -> None:
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24)) as pilot:
        await turn_to(app, pilot, "1", ShelvesPage)
        await press(pilot, "n")
        fields = app.screen.query_one(LiquidFields)
        fields.liquid.choice.focus()
        await press(pilot, "ctrl+b")
        assert "^b Not a spirit" in flat(app)
        await press(pilot, "ctrl+b")
        await type_into(app, pilot, "name", "Heather")
        await choose(app, pilot, "kind", "honey")
        await press(pilot, "ctrl+s")
        assert fields.other
        assert (fields.other.name, app.focused) == ("Heather", fields.volume.field)
        await press(pilot, "escape", "4", "n")
        assert "Not a spirit" not in flat(app)


async def test_a_blend_takes_spirit_and_water_from_the_cupboard(keeper: Keeper) -> None:
    """80 mL of 25 %, 100 mL of 96 % and 75 mL of water hold 116 mL of ethanol."""
    spirit_id = add_spirit(keeper, SpiritDraft("Rectified", 96, 500))
    charges = [ChargeDraft("Sage", Part.LEAF, Condition.DRIED, 40)]
    sage = strained(keeper, filled(keeper, charges, spirit(200), days=0), 150, measured_abv=25)
    bottled(keeper, sage, BottleDraft(100, 80))
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24)) as pilot:
        bottles_page = await turn_to(app, pilot, "2", BottlesPage)
        await press(pilot, "down", "space", "b")
        (bottle,) = bottles_page.chosen_bottles()
        await type_into(app, pilot, "blend-name", "Strong sage")
        await type_into(app, pilot, f"part-{bottle.bottle_id}", "all")
        await press(pilot, "ctrl+l")
        await type_in(pilot, "100 ml", "tab", "75 ml")
        assert "96 % · 500 mL left" in flat(app)
        await press(pilot, "ctrl+s")
        assert app.screen.query("#bottles")
    grams = 80 * g_per_ml(25) + 100 * g_per_ml(96) + 75 * g_per_ml(0)
    volume_ml = grams / between(100 * 116 * ETHANOL / grams, WEIGHT_PERCENT, G_PER_ML)
    (strong,) = (view for view in unbottled(keeper) if view.is_blend)
    assert strong.volume_ml == pytest.approx(volume_ml, abs=0.2)
    assert strong.strength_abv == pytest.approx(100 * 116 / volume_ml, abs=0.1)
    left = {each.spirit_id: each.left_ml for each in spirits(keeper)}
    assert left[spirit_id] == pytest.approx(400)
    assert check(keeper) == []


async def test_honey_and_spirit_are_added_from_inside_the_blend_and_thinning_forms(
    keeper: Keeper,
) -> None:
    """One bottle and an empty cupboard: the forms get what they lack, and keep what was typed."""
    charges = [ChargeDraft("Sage", Part.LEAF, Condition.DRIED, 40)]
    sage = strained(keeper, filled(keeper, charges, spirit(200), days=0), 150, measured_abv=40)
    bottled(keeper, sage, BottleDraft(100, 100))
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24)) as pilot:
        bottles_page = await turn_to(app, pilot, "2", BottlesPage)
        await press(pilot, "down", "space", "b")
        (bottle,) = bottles_page.chosen_bottles()
        await type_into(app, pilot, "blend-name", "Sweet sage")
        await type_into(app, pilot, f"part-{bottle.bottle_id}", "80 ml")
        await press(pilot, "ctrl+b")
        assert "New liquid" in screen_text(app)
        await type_into(app, pilot, "name", "Heather")
        await choose(app, pilot, "kind", "honey")
        await type_into(app, pilot, "bought", "355 g")
        await press(pilot, "ctrl+s")
        # The cursor is at the volume of what was bought: honey weighs 1.42 g/mL (USDA), so that
        # 355 g are 250 mL and 28.4 g are 20 mL. 80 mL of 40 % in 100 mL are 32 %.
        await type_in(pilot, "28.4 g")
        assert "28.4 g of Heather is 20 mL at 1.42 g/mL." in flat(app)
        assert "Heather 20 %" in flat(app)
        assert "makes 100 mL · 32 %" in flat(app)
        await press(pilot, "ctrl+l")
        await type_in(pilot, "20 ml")  # water, as the cupboard has no spirit
        assert "120 mL measured separately" in flat(app)
        await press(pilot, "ctrl+u")
        await press(pilot, "ctrl+s")
        await press(pilot, "escape")
        await press(pilot, "home", "t", *"60", "ctrl+b")
        await type_into(app, pilot, "name", "Grain spirit")
        await type_into(app, pilot, "strength", "96 %")
        await type_into(app, pilot, "bought", "1 l")
        await press(pilot, "ctrl+s")
        assert "60 % v/v" in flat(app)
        await press(pilot, "ctrl+s")
        await turn_to(app, pilot, "1", ShelvesPage)
        await press(pilot, "n")
        fields = app.screen.query_one(LiquidFields)
        fields.liquid.choice.focus()
        while not fields.other:
            await press(pilot, "right")
        await press(pilot, "ctrl+b")
        await type_into(app, pilot, "name", "Linden")
        await press(pilot, "ctrl+s")
        assert (fields.other.name, app.focused) == ("Linden", fields.volume.field)
        await press(pilot, "escape")
    made = {view.name: view for view in unbottled(keeper)}
    assert made["Sweet sage"].volume_ml == pytest.approx(100)
    # Ethanol is conserved: 20 mL of the batch and 96 % of what was added are 60 % of the new one.
    (bought,) = spirits(keeper)
    added_ml = 1000 - (bought.left_ml or 0)
    assert made["Sage"].strength_abv == pytest.approx(60)
    assert 20 + 0.96 * added_ml == pytest.approx(0.60 * made["Sage"].volume_ml)
    assert added_ml < 10 / 0.36  # as much as a sum without contraction needs
    assert liquids(keeper)[1].left_ml == pytest.approx(230)
    assert check(keeper) == []
