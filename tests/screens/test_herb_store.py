"""Herbs in store by keys: gathered, laid out, dried, filled, given, discarded, recalled."""

from dataclasses import replace

from stillroom.keeping.cupboard.lot_reading import herb_lots
from stillroom.keeping.jars.jar_view import jar_view
from stillroom.keeping.jars.shelves import shelves_view
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import save_settings, settings_of
from stillroom.keeping.trace.recall import recall_words
from stillroom.screens.app import StillroomApp
from stillroom.screens.cupboard.page import CupboardPage
from stillroom.screens.shelves.page import ShelvesPage

from ..builders import strained
from .driving import flat, press, turn_to, type_into
from .hands import type_in
from .screen_text import screen_text


async def test_fresh_herb_becomes_a_jar_by_keys(keeper: Keeper) -> None:
    """900 g fresh laid out, 160 g dry, 100 g filled 1:5: 60 g is left."""
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24)) as pilot:
        page = await turn_to(app, pilot, "4", CupboardPage)
        await press(pilot, "left", "left")
        assert page.part.title == "Herb lots"
        await press(pilot, "n")
        await type_into(app, pilot, "herb", "Calendula")
        await type_into(app, pilot, "weight", "900 g")
        await press(pilot, "ctrl+s")
        assert "H-26-001" in screen_text(app)
        assert "900 g" in screen_text(app)
        await press(pilot, "l", "ctrl+s")
        assert "leaf, drying" in screen_text(app)
        await press(pilot, "l")
        await type_into(app, pilot, "weight", "160 g")
        await press(pilot, "ctrl+s")
        assert "leaf, dried" in screen_text(app)
        await press(pilot, "C", "right")
        await type_into(app, pilot, "dry-weight", "165 g")
        await press(pilot, "tab")
        assert "Dry weight 160 g → 165 g" in flat(app)
        await press(pilot, "ctrl+s")
        assert "165 g" in screen_text(app)
        await press(pilot, "u")
        await turn_to(app, pilot, "1", ShelvesPage)
        await press(pilot, "n")
        await type_in(pilot, "H-26-001", "tab", "tab", "tab", "tab", "200 g")
        assert "Not enough left: H-26-001 holds 160 g, and this takes 200 g" in flat(app)
        await press(pilot, *["backspace"] * 5)
        await type_in(pilot, "100 g", "tab", "tab", "tab", "tab", "tab", "500 ml", "tab", "40 %")
        assert "1:5 herb to liquid poured" in flat(app)
        await press(pilot, "ctrl+s")
        (card,) = shelves_view(keeper).jars
        app.open_jar(card.jar_id)
        await pilot.pause()
        assert "of H-26-001" in flat(app)
        strained(keeper, card.jar_id, 350)
        save_settings(keeper, replace(settings_of(keeper), maker="AL"))
        await turn_to(app, pilot, "4", CupboardPage)
        await press(pilot, "enter")
        assert "H-26-001 Calendula" in flat(app)
        assert f"tincture {card.code} Calendula" in flat(app)
        await press(pilot, "W")
        assert f"1 batch: {card.code} Calendula" in flat(app)
        await press(pilot, "ctrl+s")
    assert keeper.rows("SELECT title FROM journal ORDER BY id DESC LIMIT 1") == [
        ("Withdrew 1 batch: H-26-001 Calendula",)
    ]
    (charge,) = jar_view(keeper, card.jar_id).charges
    assert (charge.herb, charge.condition, charge.mass_g, charge.lot) == (
        "Calendula", "dried", 100.0, "H-26-001",
    )  # fmt: skip
    assert [lot.left_g for lot in herb_lots(keeper)] == [60.0]
    (tree,) = recall_words(keeper, "H-26-001")
    assert [node.label for node in tree.children] == [f"Jar {card.code}"]
