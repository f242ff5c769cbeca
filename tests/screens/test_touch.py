"""By mouse alone: every page, the palette, redo and printing can be reached by tapping."""

from pathlib import Path
from typing import TypeVar

from rich.cells import cell_len
from textual.events import MouseDown, MouseEvent, MouseMove, MouseScrollDown, MouseUp
from textual.pilot import Pilot

from stillroom.clock import SetClock
from stillroom.keeping.jars.shelves import shelves_view
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.shelf_file.sample import open_sample
from stillroom.screens.app import StillroomApp
from stillroom.screens.cupboard.page import CupboardPage
from stillroom.screens.cupboard.parts import PARTS
from stillroom.screens.help import HelpScreen
from stillroom.screens.pages import PAGES
from stillroom.screens.palette import Palette
from stillroom.screens.papers.paper_dialogs import PaperDialog

from .driving import type_into, until
from .screen_text import screen_text

M = TypeVar("M", bound=MouseEvent)
SCROLL = {"shelves", "bottles", "ledger"}
"""The pages that are longer than the screen with the sample shelf."""


async def tap(pilot: Pilot[None], words: str) -> None:
    """Tap what is on the screen, its last mention."""
    await until(pilot, lambda: words in screen_text(pilot.app))
    await pilot.click(offset=place_of(pilot, words))
    await pilot.pause()


def place_of(pilot: Pilot[None], words: str) -> tuple[int, int]:
    """Where words are on the screen."""
    lines = list(enumerate(screen_text(pilot.app).split("\n")))
    y, line = next((y, line) for y, line in reversed(lines) if words in line)
    return cell_len(line[: line.rindex(words)]), y


def mouse(kind: type[M], x: int, y: int, button: int = 0) -> M:
    """An event of the mouse, as the terminal sends it."""
    return kind(None, x, y, 0, 0, button, False, False, False)


async def turn_wheel(pilot: Pilot[None], x: int, y: int, turns: int = 3) -> None:
    """Turn the wheel over a place."""
    for _ in range(turns):
        pilot.app.post_message(mouse(MouseScrollDown, x, y))
        await pilot.pause()
    await pilot.pause()


async def drag(pilot: Pilot[None], x: int, y: int, to_y: int) -> None:
    """Drag from a place up or down."""
    for event in (
        mouse(MouseDown, x, y, 1), mouse(MouseMove, x, to_y, 1), mouse(MouseUp, x, to_y, 1),
    ):  # fmt: skip
        pilot.app.post_message(event)
        await pilot.pause()
    await pilot.pause()


async def test_everything_is_reached_by_tapping_at_60_by_25(
    clock: SetClock, tmp_path: Path
) -> None:
    keeper = open_sample(clock, tmp_path)
    app = StillroomApp(keeper, is_sample=True)

    def shaken() -> int:
        return sum(jar.shaken for jar in shelves_view(keeper).jars)

    async with app.run_test(size=(60, 25)) as pilot:
        for entry in (*PAGES[1:], PAGES[0]):  # every page from the one before
            x, y = place_of(pilot, " Pages")
            keys = screen_text(app).split("\n")[y][:x].rpartition(" ")[2]
            await pilot.click(offset=(x - len(keys) + keys.index(entry.key), y))
            await pilot.pause()
            assert type(app.screen).__name__ == entry.class_name
            await tap(pilot, "Help")
            assert isinstance(app.screen, HelpScreen)
            before = screen_text(app)
            await turn_wheel(pilot, 20, 10)
            assert screen_text(app) != before
            await tap(pilot, "Close")
            if entry.name in SCROLL:
                before = screen_text(app)
                await turn_wheel(pilot, 20, 8)
                assert screen_text(app) != before, entry.name
                await drag(pilot, 59, 5, 16)
        first = shaken()
        await tap(pilot, "○ to shake")
        await tap(pilot, "space Shake")
        assert shaken() == first + 1
        await tap(pilot, "Undo")
        assert shaken() == first
        await from_palette(pilot, "Redo what was undone")
        assert shaken() == first + 1
        await from_palette(pilot, "Print the day sheet")
        assert isinstance(app.screen, PaperDialog)
        before = screen_text(app)
        await turn_wheel(pilot, 20, 14)
        assert screen_text(app) != before, "the preview"
        await tap(pilot, "Cancel")
        assert not isinstance(app.screen, PaperDialog)


async def from_palette(pilot: Pilot[None], words: str) -> None:
    """Open the palette by tapping, turn the wheel to one of its commands, and tap that."""
    await tap(pilot, "Help")
    await tap(pilot, "All commands")
    assert isinstance(pilot.app.screen, Palette)
    for _ in range(40):
        if words in screen_text(pilot.app):
            break
        await turn_wheel(pilot, 20, 10, 1)
    await tap(pilot, words)
    await pilot.pause()


async def test_every_part_of_the_cupboard_and_the_keys_of_its_settings_are_in_reach(
    keeper: Keeper,
) -> None:
    app = StillroomApp(keeper)
    async with app.run_test(size=(60, 25)) as pilot:
        await pilot.press("4")
        page = app.screen
        assert isinstance(page, CupboardPage)
        for _ in PARTS:  # on few columns those further along show once one beside them is chosen
            line = screen_text(app).splitlines()[1]
            last = next(part.title for part in reversed(PARTS) if part.title in line)
            await tap(pilot, last)
        assert page.part.title == "Settings"
        await tap(pilot, "Change")
        await type_into(app, pilot, "steep_days", "never")
        await tap(pilot, "^s")
        await until(pilot, lambda: "! " in screen_text(app))
        assert "esc Cancel" in screen_text(app)
