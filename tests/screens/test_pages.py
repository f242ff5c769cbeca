"""The table of pages is what keys, key line and README go by."""

import re
from importlib import import_module
from pathlib import Path

import pytest

from stillroom.keeping.keeper import Keeper
from stillroom.reckoning.registry import calculators
from stillroom.screens.app import StillroomApp
from stillroom.screens.kit.page import Page, page_keys
from stillroom.screens.pages import PAGES, PageEntry

from .driving import SIZES
from .screen_text import screen_text

README = (Path(__file__).parents[2] / "README.md").read_text()
NUMBERS = {"fourteen": 14, "fifteen": 15, "sixteen": 16, "seventeen": 17, "eighteen": 18}


@pytest.mark.parametrize("entry", PAGES, ids=lambda entry: entry.name)
def test_each_entry_names_a_page(entry: PageEntry) -> None:
    found = getattr(import_module(entry.module), entry.class_name)
    assert issubclass(found, Page)
    assert found.HELP
    assert entry.about.endswith(tuple("abcdefghijklmnopqrstuvwxyz"))  # a tooltip, not a sentence


def test_pages_have_unique_keys_and_names() -> None:
    assert len({entry.key for entry in PAGES}) == len(PAGES)
    assert len({entry.name for entry in PAGES}) == len(PAGES)
    assert [entry.key for entry in PAGES] == [str(i + 1) for i in range(len(PAGES))]


def test_the_key_line_shows_all_pages_in_one_entry() -> None:
    (shown,) = (binding for binding in page_keys() if binding.show)
    assert shown.key_display == f"{PAGES[0].key}…{PAGES[-1].key}"
    assert {binding.tooltip for binding in page_keys()} == {entry.about for entry in PAGES}


def test_the_readme_lists_the_pages() -> None:
    rows = re.findall(r"^\| (\w+) \| `(\d)` \| \S", README, re.MULTILINE)
    assert rows == [(entry.title, entry.key) for entry in PAGES]
    assert f"| `{PAGES[0].key}` to `{PAGES[-1].key}` |" in README


def test_the_readme_counts_the_calculators() -> None:
    (count,) = re.findall(r"(\w+) calculators, each", README)
    assert NUMBERS[count] == len(calculators())


async def test_each_key_opens_its_page(keeper: Keeper) -> None:
    app = StillroomApp(keeper)
    async with app.run_test() as pilot:
        for entry in reversed(PAGES):
            await pilot.press(entry.key)
            await pilot.pause()
            assert type(app.screen).__name__ == entry.class_name


@pytest.mark.parametrize("size", SIZES)
async def test_the_key_line_marks_the_current_page(keeper: Keeper, size: tuple[int, int]) -> None:
    app = StillroomApp(keeper)
    async with app.run_test(size=size) as pilot:
        for entry in PAGES:
            await pilot.press(entry.key)
            await pilot.pause()
            keys = "".join(each.key for each in PAGES)
            shown = screen_text(app)
            assert f" {keys.replace(entry.key, f'[{entry.key}]')} Pages" in shown
            assert shown.endswith("q Quit")  # no key is pushed out
            await pilot.press("question_mark")
            await pilot.pause()
            assert "esc Close" in screen_text(app)
            await pilot.press("escape")


async def test_the_keys_of_the_calculator_fit_on_one_line(keeper: Keeper) -> None:
    app = StillroomApp(keeper)
    async with app.run_test(size=SIZES[0]) as pilot:
        await pilot.press("3")
        await pilot.pause()
        assert "Open" in screen_text(app).splitlines()[-1]


async def test_the_key_line_shows_the_help_key_that_works_where_the_cursor_is(
    keeper: Keeper,
) -> None:
    """A field takes a question mark as a letter: only F1 opens the help there."""
    app = StillroomApp(keeper)
    async with app.run_test(size=(60, 25)) as pilot:
        await pilot.press("3")
        await pilot.pause()
        assert "? Help" in screen_text(app).splitlines()[-1]
        await pilot.press("enter")
        await pilot.pause()
        line = screen_text(app).splitlines()[-1]
        assert "f1 Help" in line
        assert "? Help" not in line
