"""Small things that cost time: where the cursor is, what is offered, asked and found."""

import pytest
from textual.widgets import Input

from stillroom.keeping.cupboard.cupboard import shelf_rows, spirits
from stillroom.keeping.interchange.writing import export_json
from stillroom.keeping.jars.shelves import shelves_view
from stillroom.keeping.keeper import Keeper
from stillroom.screens.app import StillroomApp
from stillroom.screens.bottles.bottling import BottlingDialog
from stillroom.screens.cupboard.part import DeleteDialog
from stillroom.screens.jar.fill import FillDialog
from stillroom.screens.jar.page import JarPage
from stillroom.screens.kit.choice import Choice
from stillroom.screens.shelf_file.backup_dialogs import RestoreDialog
from stillroom.screens.shelves.page import ShelvesPage

from .driving import flat, press, until
from .hands import type_in
from .stocked import fill


async def test_the_cursor_is_on_a_jar_filled_from_a_calculation(stocked: Keeper) -> None:
    fill(stocked, "Yarrow")
    app = StillroomApp(stocked)
    async with app.run_test(size=(100, 30)) as pilot:
        await press(pilot, "3", "enter")
        await type_in(pilot, "100", "tab", "tab", "tab")
        await press(pilot, "ctrl+u")
        assert isinstance(app.screen, FillDialog), flat(app)
        app.screen.query(Input).first().focus()
        await type_in(pilot, "Fennel", "ctrl+s")
        await press(pilot)
        page = app.screen
        assert isinstance(page, ShelvesPage)
        assert page.board.selected is not None
        assert page.board.selected.herb == "Fennel"
        await press(pilot, "4", "1")  # the keys go to the page and not into a field
        assert isinstance(app.screen, ShelvesPage)


async def test_an_empty_first_start_offers_to_restore_a_backup(keeper: Keeper) -> None:
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24)) as pilot:
        assert "Press R to restore a backup" in flat(app)
        await press(pilot, "R")
        assert isinstance(app.screen, RestoreDialog)
        await press(pilot, "escape")
        fill(keeper, "Yarrow")
        app.changed()
        await press(pilot, "R")
        assert isinstance(app.screen, ShelvesPage)


async def test_deleting_asks_first_and_shows_why_it_is_refused(stocked: Keeper) -> None:
    app = StillroomApp(stocked)
    before = export_json(stocked)
    async with app.run_test(size=(80, 24), notifications=True) as pilot:
        await press(pilot, "4", "x")
        assert isinstance(app.screen, DeleteDialog)
        assert "Grain spirit will be deleted." in flat(app)
        await press(pilot, "escape")
        assert export_json(stocked) == before
        await press(pilot, "x", "ctrl+s")  # it was poured
        assert isinstance(app.screen, DeleteDialog)
        assert "can't be deleted" in flat(app)
        await press(pilot, "escape", "n")
        await type_in(pilot, "Rum", "tab", "40 %", "ctrl+s")
        await press(pilot, "x", "ctrl+s")
        await until(pilot, lambda: "Deleted. Press u to undo." in flat(app))
        assert [each.name for each in spirits(stocked)] == ["Grain spirit"]


async def test_letters_find_an_option_by_any_of_its_words_and_report_when_there_is_none(
    stocked: Keeper,
) -> None:
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "n")
        part = app.screen.query(Choice).first()
        part.focus()
        await press(pilot, "b", "e")
        assert part.value == "fruit"
        part.blur()
        part.focus()
        await press(pilot, "q")
        assert part.value == "fruit"
        assert "no “q”: fruit" in flat(app)
        await press(pilot, "right")
        assert "no “q”" not in flat(app)


async def test_every_batch_is_found_from_the_shelves_by_name_or_code(stocked: Keeper) -> None:
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24)) as pilot:
        await type_in(pilot, "/", "26-002")
        assert "press enter twice to open the first: 26-002 " in flat(app)
        await press(pilot, "enter")
        assert isinstance(app.screen, ShelvesPage)
        await press(pilot, "enter")
        assert isinstance(app.screen, JarPage)
        await press(pilot, "escape", "escape")
        await type_in(pilot, "/", "calend", "enter", "enter")
        assert isinstance(app.screen, JarPage)
        await press(pilot, "escape", "escape")
        await type_in(pilot, "/", "xyzzy", "enter", "enter")
        assert isinstance(app.screen, ShelvesPage)


async def test_a_batch_that_is_bottled_is_not_offered_for_bottling(stocked: Keeper) -> None:
    """Two bottles of 250 and 100 mL hold all of 350 mL."""
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24), notifications=True) as pilot:
        await type_in(pilot, "/", "26-001", "enter", "enter")
        assert isinstance(app.screen, JarPage)
        await press(pilot, "s")
        assert not isinstance(app.screen, BottlingDialog)
        await until(pilot, lambda: "Calendula 26-001 is strained" in flat(app))
        await press(pilot, "escape", "escape")
        assert isinstance(app.screen, ShelvesPage)
        await press(pilot, "s")  # Yarrow waits to be bottled
        assert isinstance(app.screen, BottlingDialog)


@pytest.mark.parametrize(("keys", "order"), [(("end", "plus"), [1, 3, 2]), (("minus",), [2, 1, 3])])
async def test_plus_moves_a_shelf_up_and_minus_down(
    keys: tuple[str, ...], order: list[int], keeper: Keeper
) -> None:
    from stillroom.keeping.cupboard.cupboard import add_shelf
    from stillroom.keeping.drafts import ShelfDraft

    first = [add_shelf(keeper, ShelfDraft(name)) for name in ("Top", "Middle", "Low")]
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "4")
        while "Cupboard · Shelves" not in flat(app):
            await press(pilot, "tab")
        await press(pilot, *keys)
    assert [each.shelf_id for each in shelf_rows(keeper)] == [first[at - 1] for at in order]
    assert not shelves_view(keeper).jars
