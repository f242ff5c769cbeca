"""What a form lacks is added from inside it, and nothing has to be typed again."""

from stillroom.keeping.cupboard.cupboard import spirits
from stillroom.keeping.cupboard.lot_reading import herb_lots
from stillroom.keeping.jars.jar_view import jar_view
from stillroom.keeping.jars.shelves import shelves_view
from stillroom.keeping.keeper import Keeper
from stillroom.screens.app import StillroomApp
from stillroom.screens.cupboard.page import CupboardPage

from .driving import flat, press, turn_to, type_into
from .hands import type_in
from .screen_text import screen_text


async def test_a_lot_and_a_spirit_are_added_while_a_jar_is_filled(keeper: Keeper) -> None:
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
