"""What the trials have found: one test for each fault."""

import asyncio
from collections.abc import AsyncIterator

import pytest
from textual.events import MouseDown
from textual.pilot import Pilot
from textual.widgets import Input, OptionList

from stillroom.clock import SystemClock
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.undo import undoable
from stillroom.records.store import Store
from stillroom.screens.app import StillroomApp
from stillroom.screens.jar.fill import FillDialog
from stillroom.screens.jar.page import JarPage
from stillroom.screens.palette import Palette
from stillroom.screens.shelves.page import ShelvesPage

from ..screens.driving import until
from ..screens.hands import type_in
from .program import Place


@pytest.fixture
async def pilot(place: Place) -> AsyncIterator[Pilot[None]]:
    """The sample shelf on screen."""
    store = Store.open(place.shelf)
    async with StillroomApp(Keeper(store, SystemClock())).run_test(
        size=(100, 30), notifications=True
    ) as pilot:
        yield pilot
    store.close()


async def test_words_typed_right_after_the_slash_are_a_search_and_not_keys(
    pilot: Pilot[None],
) -> None:
    await type_in(pilot, *"/sage")
    assert isinstance(pilot.app.screen, ShelvesPage)
    assert pilot.app.screen.query_one("#find", Input).value == "sage"
    assert isinstance(pilot.app, StillroomApp)
    assert undoable(pilot.app.keeper) is None  # `a` has shaken nothing


@pytest.mark.parametrize("page", "125")
async def test_the_search_line_is_visible(pilot: Pilot[None], page: str) -> None:
    await pilot.press(page, "slash", *"sage")
    await pilot.pause()
    line = pilot.app.screen.query_one("#find", Input)
    assert pilot.app.screen.get_widget_at(*line.region.offset)[0] is line


async def test_a_key_that_repeats_opens_one_form(pilot: Pilot[None]) -> None:
    await type_in(pilot, *"nnnnn")
    assert [type(each) for each in pilot.app.screen_stack] == [ShelvesPage, FillDialog]


async def test_a_key_that_repeats_opens_one_page(pilot: Pilot[None]) -> None:
    await type_in(pilot, *["enter"] * 5)
    assert [type(each) for each in pilot.app.screen_stack] == [ShelvesPage, JarPage]


async def test_zeros_in_every_field_of_a_new_jar_cause_no_crash(pilot: Pilot[None]) -> None:
    await pilot.press("n")
    await pilot.pause()
    assert isinstance(pilot.app.screen, FillDialog)
    for field in pilot.app.screen.query(Input):
        field.value = "0"
        await pilot.pause()
    assert isinstance(pilot.app.screen, FillDialog)


async def test_a_message_can_be_clicked_twice_before_it_is_gone_from_the_screen(
    pilot: Pilot[None],
) -> None:
    assert isinstance(pilot.app, StillroomApp)
    for turns in range(6):
        pilot.app.complain(f"Choose a jar first, for the {turns + 1}. time.")
        await until(pilot, lambda: [t for t in pilot.app.screen.query("Toast") if t.region])
        toast = pilot.app.screen.query("Toast").first()
        x, y = toast.region.x + 3, toast.region.y + 1
        toast.remove()
        for _ in range(turns):
            await asyncio.sleep(0)
        pilot.app.post_message(
            MouseDown(None, x, y, 0, 0, 1, False, False, False, screen_x=x, screen_y=y)
        )
        await pilot.pause()
    assert pilot.app.is_running


async def test_the_palette_can_be_scrolled_in_a_window_without_room_for_it(
    pilot: Pilot[None],
) -> None:
    await pilot.resize_terminal(20, 4)
    await pilot.press("ctrl+p")
    palette = pilot.app.screen
    assert isinstance(palette, Palette)
    commands = palette.query_one(OptionList)
    await until(pilot, lambda: commands.option_count)
    await pilot.press("down", "pagedown", "pageup")
    assert pilot.app.screen is palette
