"""By mouse alone: every page and every act can be reached, filled in and ended by tapping."""

from typing import Any, TypeVar

from rich.cells import cell_len
from textual.binding import Binding
from textual.errors import NoWidget
from textual.events import MouseDown, MouseEvent, MouseMove, MouseScrollDown, MouseUp
from textual.pilot import Pilot
from textual.screen import Screen
from textual.widget import Widget
from textual.widgets import OptionList

from stillroom.keeping.jars.shelves import shelves_view
from stillroom.keeping.keeper import Keeper
from stillroom.screens.app import StillroomApp
from stillroom.screens.bottles.bottle import BottlePage
from stillroom.screens.cupboard.page import CupboardPage
from stillroom.screens.cupboard.parts import PARTS
from stillroom.screens.help import HelpScreen, acts_of
from stillroom.screens.jar.fill import FillDialog
from stillroom.screens.jar.page import JarPage
from stillroom.screens.kit.choice import Choice
from stillroom.screens.kit.dialog import Dialog
from stillroom.screens.kit.keyline import KeyLine
from stillroom.screens.kit.page import Page
from stillroom.screens.kit.part_line import PartLine
from stillroom.screens.pages import PAGES
from stillroom.screens.palette import Palette
from stillroom.screens.papers.paper_dialogs import PaperDialog

from ..examples import IS_LONG
from .driving import type_into, until
from .every_view import ACTS_AT_ONCE
from .screen_text import screen_text
from .stocked import fill

M = TypeVar("M", bound=MouseEvent)
SCROLL = {"shelves", "bottles", "ledger"}
"""The pages that are longer than the screen with the sample shelf."""


async def touch(pilot: Pilot[None], x: int, y: int) -> None:
    """Tap a place, at a quarter of the cost of the pilot's own click."""
    for kind in (MouseDown, MouseUp):
        pilot.app.post_message(mouse(kind, x, y, 1))
    await pilot.pause()
    await pilot.pause()


async def tap(pilot: Pilot[None], words: str) -> None:
    """Tap what is on the screen, its last mention."""
    places: list[tuple[int, int]] = []

    def have_come() -> bool:
        places.extend(places_of(pilot, words))
        return bool(places)

    await until(pilot, have_come)
    await touch(pilot, *places[-1])


def place_of(pilot: Pilot[None], words: str) -> tuple[int, int]:
    """Where words are on the screen."""
    found = places_of(pilot, words)
    assert found, screen_text(pilot.app)
    return found[-1]


def places_of(pilot: Pilot[None], words: str) -> list[tuple[int, int]]:
    """Where words are on each line of the screen that has them."""
    lines = enumerate(screen_text(pilot.app).split("\n"))
    return [(cell_len(line[: line.rindex(words)]), y) for y, line in lines if words in line]


def mouse(kind: type[M], x: int, y: int, button: int = 0) -> M:
    """An event of the mouse, as the terminal sends it."""
    return kind(None, x, y, 0, 0, button, False, False, False)


async def turn_wheel(pilot: Pilot[None], x: int, y: int, turns: int = 3) -> None:
    """Turn the wheel over a place."""
    for _ in range(turns):
        pilot.app.post_message(mouse(MouseScrollDown, x, y))
        await pilot.pause()
    await pilot.wait_for_scheduled_animations()
    await pilot.pause()


async def drag(pilot: Pilot[None], x: int, y: int, to_y: int) -> None:
    """Drag from a place up or down."""
    for event in (
        mouse(MouseDown, x, y, 1), mouse(MouseMove, x, to_y, 1), mouse(MouseUp, x, to_y, 1),
    ):  # fmt: skip
        pilot.app.post_message(event)
        await pilot.pause()
    await pilot.pause()


async def test_everything_is_reached_by_tapping_at_60_by_25(sample: Keeper) -> None:
    app = StillroomApp(sample, is_sample=True)

    def shaken() -> int:
        return sum(jar.shaken for jar in shelves_view(sample).jars)

    async with app.run_test(size=(60, 25)) as pilot:
        for entry in (*PAGES[1:], PAGES[0]):  # every page from the one before
            x, y = place_of(pilot, " Pages")
            keys = screen_text(app).split("\n")[y][:x].rpartition(" ")[2]
            await touch(pilot, x - len(keys) + keys.index(entry.key), y)
            assert type(app.screen).__name__ == entry.class_name
            await tap(pilot, "Help")
            assert isinstance(app.screen, HelpScreen)
            before = screen_text(app)
            await turn_wheel(pilot, 20, 10)
            await until(pilot, lambda: screen_text(app) != before)  # noqa: B023
            await tap(pilot, "Close")
            await until(pilot, lambda: type(app.screen).__name__ == entry.class_name)  # noqa: B023
            if entry.name in SCROLL:
                before = screen_text(app)
                await turn_wheel(pilot, 20, 8)
                await until(pilot, lambda: screen_text(app) != before)  # noqa: B023
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


async def test_every_section_of_the_cupboard_and_the_keys_of_its_settings_are_reachable(
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


DONE_AT_ONCE = (
    *(each for each in ACTS_AT_ONCE if each != "page."), *(f"page.{entry.name}" for entry in PAGES),
    "calculator.", "jar.calculate", "bottle.calculate",
    "page.undo", "page.redo", "page.quit", "page.help",
)  # fmt: skip
"""Acts done at once, which no form asks about."""


async def test_every_act_of_every_page_is_opened_filled_in_and_ended_by_tapping(
    stocked: Keeper,
) -> None:
    """What has no room in the line of keys is in the list of all commands, and runs the same.

    Those of the pages of the day; with LONG_FORM=1 those of every page.
    """
    for herb in ("Mugwort", "Fennel"):
        fill(stocked, herb)
    app = StillroomApp(stocked)
    seen: set[str] = set()
    async with app.run_test(size=(60, 25)) as pilot:
        for entry in (*(PAGES[1:] if IS_LONG else PAGES[1:2]), PAGES[0]):
            x, y = place_of(pilot, " Pages")
            keys = screen_text(app).split("\n")[y][:x].rpartition(" ")[2]
            await touch(pilot, x - len(keys) + keys.index(entry.key), y)
            titles = app.screen.query_one(PartLine).titles if app.screen.query(PartLine) else ("",)
            for title in titles:
                if title:
                    await tap(pilot, title)
                await end_every_act(pilot, seen, stocked)
            if entry.name == "calculator":
                await tap(pilot, "needs a weight")
                await pilot.press(*"100", "tab", "tab", *"5")
                await tap_key(pilot, "^u Use this")
                assert isinstance(app.screen, FillDialog)
                await tap_key(pilot, "esc")
                await tap_key(pilot, "esc List")
            if entry.name in ("shelves", "bottles"):
                page = app.screen
                code = "26-005" if entry.name == "shelves" else "26-002.1"
                lines = screen_text(app).split("\n")
                at = next((line.index(code), y) for y, line in enumerate(lines) if code in line)
                for _ in range(2):  # the first tap chooses it, the second opens it
                    await touch(pilot, *at)
                assert isinstance(app.screen, JarPage | BottlePage)
                await end_every_act(pilot, seen, stocked)
                if app.screen is not page:
                    await tap_key(pilot, "esc")
    assert len(seen) > (50 if IS_LONG else 25), sorted(seen)


async def end_every_act(pilot: Pilot[None], seen: set[str], keeper: Keeper) -> None:
    """Open each form of a page, tap what is in it, and save or cancel it."""
    app, page = pilot.app, pilot.app.screen
    assert isinstance(app, StillroomApp)
    keys = {act.key for act in acts_of(page) if act.heading != "Move"}
    acts = [
        (entry.binding, entry.tooltip)
        for entry in page.active_bindings.values()
        if entry.binding.key in keys and not str(entry.binding.id).startswith(DONE_AT_ONCE)
    ]
    acts.sort(key=lambda act: str(act[0].id).endswith(".discard"))
    if type(page).__name__ not in seen:
        seen.add(type(page).__name__)
        await all_are_listed(pilot, [words for _, words in acts])
    for binding, words in acts:
        if words in seen or not is_open_still(page, binding):
            continue
        seen.add(words)  # once, on whichever page it comes first
        written = keeper.rows("SELECT count(*) FROM journal")
        key = f"{app.get_key_display(binding)} {binding.description}"
        if at := place_of_key(pilot, key):
            await touch(pilot, *at)
        else:  # as the list of commands does when a line of it is tapped
            app.simulate_key(binding.key)
            await pilot.pause()
        if isinstance(app.screen, Dialog):
            await end_by_tapping(pilot, app.screen)
        while app.screen is not page and not isinstance(app.screen, Page):
            before = app.screen
            await tap_key(pilot, "esc")
            assert app.screen is not before or "again" in screen_text(app), screen_text(app)
        if keeper.rows("SELECT count(*) FROM journal") != written:
            await tap_key(pilot, "u")
        if page not in app.screen_stack:  # what it showed was discarded
            assert str(binding.id).endswith(".discard"), words
            break
        if app.screen is not page:  # the act led to another page
            await tap_key(pilot, "esc")
        assert app.screen is page, words
        assert " Pages" in screen_text(app), f"{words}: {screen_text(app)}"


def is_open_still(page: Screen[Any], binding: Binding) -> bool:
    """Whether an act can still be done after those before it."""
    entry = page.active_bindings.get(binding.key)
    return entry is not None and entry.enabled


async def all_are_listed(pilot: Pilot[None], acts: list[str]) -> None:
    """Open the list of commands, find the acts there, and tap beside it."""
    page = pilot.app.screen
    await tap(pilot, "Help")
    await tap(pilot, "All commands")
    options = pilot.app.screen.query_one(OptionList)
    listed = ""

    def has_all() -> bool:
        nonlocal listed
        listed = " ".join(" ".join(str(each.prompt).split()) for each in options.options)
        return all(words in listed for words in acts)

    await until(pilot, has_all)
    await touch(pilot, 1, 24)
    assert pilot.app.screen is page


def place_of_key(pilot: Pilot[None], key: str) -> tuple[int, int] | None:
    """Where a key is in the line of keys of the page or form in front."""
    line = pilot.app.screen.query_one(KeyLine).region
    drawn = screen_text(pilot.app).split("\n")
    for y in line.line_range:
        row = f"{drawn[y]} "
        if f" {key} " in row:
            return cell_len(row[: row.index(f" {key} ")]) + 1, y
    return None


async def tap_key(pilot: Pilot[None], key: str) -> None:
    """Tap a key in the line of keys."""
    at = place_of_key(pilot, key)
    assert at, screen_text(pilot.app)
    await touch(pilot, *at)


async def end_by_tapping(pilot: Pilot[None], form: Dialog[Any]) -> None:
    """Turn a choice, go to the last field by the wheel, and tap what saves the form."""
    choices = [each for each in form.query(Choice) if is_in_view(form, each)]
    if choices and len(choices[0].options) > 1:
        before = choices[0].value
        await touch(pilot, choices[0].region.x + 4, choices[0].region.y)
        assert choices[0].value != before, form
    fields = [each for each in form.query("Input, Choice").results(Widget) if each.focusable]
    if fields:
        for _ in range(20):
            if is_in_view(form, fields[-1]):
                break
            await turn_wheel(pilot, 20, form.region.height // 3, 2)
        assert is_in_view(form, fields[-1]), f"{form}: {fields[-1]} never comes into view"
        await touch(pilot, fields[-1].region.x + 3, fields[-1].region.y)
        assert pilot.app.focused is fields[-1], form
    await tap_key(pilot, "^s")
    assert pilot.app.screen is not form or "! " in screen_text(pilot.app), form


def is_in_view(form: Dialog[Any], field: Widget) -> bool:
    """Whether a field is on the screen."""
    try:
        return bool(form.find_widget(field).visible_region)
    except NoWidget:
        return False
