"""The main job, from an empty shelf to a labelled bottle and back in the next morning, by keys."""

from pathlib import Path

import pytest
from textual.pilot import Pilot

from stillroom.clock import SetClock
from stillroom.keeping.bottles.bottle_views import bottle_rows
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.shelf_file.check import check
from stillroom.records.store import Store
from stillroom.screens.app import StillroomApp

from .hands import type_in
from .screen_text import screen_text


async def form(pilot: Pilot[None], key: str, *typed: str) -> None:
    """Open a form with its key, fill it in and save it."""
    await pilot.press(key)
    await pilot.pause()
    await type_in(pilot, *typed, "ctrl+s")
    await pilot.pause()


async def test_an_empty_shelf_gets_a_jar_a_bottle_and_a_draw_and_reopens_the_same(
    shelf_file: Path, clock: SetClock
) -> None:
    """120 g dried herb in 600 mL of 40 % spirit, a fortnight, a shake a day, 430 mL strained.

    Common practice, no source: the steep, the shakes, and spirit of about 40 %.
    """
    keeper = Keeper(Store.open(shelf_file, create=True), clock)
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("enter")  # the cautions
        fields = ["Calendula", "Calendula officinalis", "f", "", "120 g", "", "", "", "", "600 ml"]
        await form(pilot, "n", *(key for field in fields for key in (field, "tab")), "40 %")
        assert "1 of 1 to shake" in screen_text(app)
        await pilot.press("space")
        assert "✓ shaken" in screen_text(app)

        await form(pilot, "e", "15 days ago")
        assert "1 late" in screen_text(app)

        await form(pilot, "s", "430 ml")
        await pilot.press("pagedown")
        assert "26-001.1" in screen_text(app)
        await type_in(pilot, "ctrl+s")
        await pilot.pause()
        assert sum(row.left_ml for row in bottle_rows(keeper)) == pytest.approx(430)

        await pilot.press("2")
        await pilot.pause()
        first = bottle_rows(keeper)[0]
        await form(pilot, "d", "30 ml")
        assert bottle_rows(keeper)[0].left_ml == pytest.approx(first.left_ml - 30)
        await pilot.press("u")
        assert bottle_rows(keeper)[0] == first
        left_on_screen = screen_text(app).splitlines()[1:-3]
        await pilot.press("q")
    keeper.store.close()

    keeper = Keeper(Store.open(shelf_file), clock)
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("2")
        await pilot.pause()
        assert screen_text(app).splitlines()[1:-3] == left_on_screen
        assert check(keeper) == []
        # The day before, undone in reverse order, down to the empty shelf.
        for _ in range(5):
            await pilot.press("u")
        await pilot.pause()
        assert keeper.rows("SELECT count(*) FROM jar") == [(0,)]
    keeper.store.close()
