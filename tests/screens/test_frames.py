"""How often the screen is drawn, laid out and styled for a key: never twice where once will do."""

from typing import Any

import pytest
from textual.css.stylesheet import Stylesheet
from textual.dom import DOMNode
from textual.layout import ArrangeResult
from textual.layouts.horizontal import HorizontalLayout
from textual.widget import Widget

from stillroom.keeping.keeper import Keeper
from stillroom.screens import scanner
from stillroom.screens.app import StillroomApp
from stillroom.screens.jar.fill import FillDialog
from stillroom.screens.kit.fields import Pair
from stillroom.screens.kit.placed_once import PlacedOnce
from stillroom.screens.kit.table import Table
from stillroom.screens.pages import PAGES
from stillroom.screens.shelves.board import Board
from stillroom.screens.year.page import YearPage

from .driving import press
from .screen_text import count_frames, screen_segments, screen_text
from .stocked import fill


async def test_revisiting_a_page_and_moving_the_cursor_take_one_frame_each(stocked: Keeper) -> None:
    for herb in ("Borage", "Yarrow"):
        fill(stocked, herb)
    app = StillroomApp(stocked, is_sample=True)
    async with app.run_test(size=(100, 30)) as pilot:
        for page in reversed(PAGES):
            await press(pilot, page.key)
        frames = count_frames(app)
        found = []
        for key in ("right", "left", *(key for page in PAGES[1:] for key in (page.key, "1"))):
            before = frames()
            await press(pilot, key)
            found.append((key, frames() - before))
        assert [(key, 1) for key, _ in found] == found


async def test_the_details_of_a_row_are_drawn_in_the_same_frame_as_the_row(stocked: Keeper) -> None:
    app = StillroomApp(stocked, is_sample=True)
    async with app.run_test(size=(100, 30)) as pilot:
        await press(pilot, "2")
        frames = count_frames(app)
        before = screen_text(app)
        await press(pilot, "down")
        assert frames() == 1
        assert screen_text(app) != before


async def test_a_page_is_current_only_on_top(stocked: Keeper) -> None:
    """Textual draws all that is on top again for each change of a screen that counts as seen."""
    app = StillroomApp(stocked, is_sample=True)
    async with app.run_test(size=(100, 30)) as pilot:
        shelves = app.screen_stack[0]
        seen = []
        for key in ("n", "escape", "2", "1"):
            await press(pilot, key)
            seen.append(shelves.is_current)
        assert seen == [False, True, False, True]


async def test_what_changes_behind_a_form_has_the_form_not_drawn_again(stocked: Keeper) -> None:
    app = StillroomApp(stocked, is_sample=True)
    async with app.run_test(size=(100, 30)) as pilot:
        await press(pilot, "n")
        frames = count_frames(app)
        fill(stocked, "Borage")
        app.shelf_changed.publish(None)
        await pilot.pause()
        assert frames() == 0
        await press(pilot, "escape")
        assert "Borage" in screen_text(app)


async def test_a_page_shows_a_theme_that_changed_while_it_was_hidden(stocked: Keeper) -> None:
    app = StillroomApp(stocked, is_sample=True)
    async with app.run_test(size=(100, 30)) as pilot:
        await press(pilot, "4", "2", "1")
        dusk = screen_segments(app)
        app.action_change_theme()
        await press(pilot)
        assert screen_segments(app) != dusk
        ground = app.theme_variables["background"]
        for key in ("2", "4"):
            await press(pilot, key)
            colour = app.screen.query_one(Table).styles.background.hex
            assert (key, colour) == (key, ground.upper())


async def test_a_form_is_styled_once(stocked: Keeper, monkeypatch: pytest.MonkeyPatch) -> None:
    styled: list[DOMNode] = []
    apply = Stylesheet.apply

    def counted(self: Stylesheet, node: DOMNode, **options: object) -> None:
        styled.append(node)
        apply(self, node, **options)  # type: ignore[arg-type]

    app = StillroomApp(stocked, is_sample=True)
    async with app.run_test(size=(100, 40)) as pilot:
        await press(pilot)
        monkeypatch.setattr(Stylesheet, "apply", counted)
        await press(pilot, "n")
        assert isinstance(app.screen, FillDialog)
        fields = set(app.screen.walk_children(with_self=False))
        assert len(fields) > 40
        again = len([node for node in styled if node in fields]) - len(fields)
        # Some change a class as the form sets itself up.
        assert again < len(fields) / 2


async def test_pairs_of_fields_are_placed_half_as_often_as_textual_would(
    stocked: Keeper, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Textual lays a widget out again once it knows how much there is to scroll in it."""
    place = HorizontalLayout.arrange
    counts = []
    for is_ours in (True, False):
        count = 0

        def placed(
            layout: HorizontalLayout, parent: Widget, *args: Any, **more: Any
        ) -> ArrangeResult:
            nonlocal count
            count += isinstance(parent, Pair)
            return place(layout, parent, *args, **more)

        app = StillroomApp(stocked)
        async with app.run_test(size=(100, 30)) as pilot:
            if not is_ours:
                monkeypatch.delattr(PlacedOnce, "virtual_size")
            monkeypatch.setattr(HorizontalLayout, "arrange", placed)
            await press(pilot, "n")
            assert app.screen.query(Pair)
        counts.append(count)
    assert counts[0] <= counts[1] / 2


async def test_most_page_keys_do_not_wait_for_a_scanner(
    stocked: Keeper, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(scanner, "pace_s", lambda _: 3600.0)
    app = StillroomApp(stocked, is_sample=True)
    async with app.run_test(size=(100, 30)) as pilot:
        await press(pilot, "6")
        assert isinstance(app.screen, YearPage)


async def test_the_title_is_set_after_the_first_page_is_laid_out(
    stocked: Keeper, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It reads what is to be pressed as well, which takes longer than the first picture."""
    app = StillroomApp(stocked, is_sample=True)
    widths: list[int] = []
    monkeypatch.setattr(
        app, "look_from_afar", lambda: widths.append(app.screen.query_one(Board).size.width)
    )
    async with app.run_test(size=(100, 30)) as pilot:
        await press(pilot)
    assert widths == [100]
