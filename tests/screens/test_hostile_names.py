"""Names that look like markup are shown unchanged in every title, list and form."""

import sqlite3
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from shutil import copyfile

import pytest
from textual.pilot import Pilot

from stillroom.clock import SetClock
from stillroom.keeping.jars.jar import note_jar, shake_all
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import remember
from stillroom.records.store import Store
from stillroom.screens.app import StillroomApp
from stillroom.screens.pages import PAGES

from ..conftest import NOW, keeper_of_copy
from ..spoiling import without_rules
from .screen_text import front_text, screen_text

HOSTILE = "[/x]"
"""Markup that is wrong wherever it is read as such."""
NAMES = ("herb.name", "shelf.name", "spirit.name", "bottle.place", "tincture.name", "formula.name")
OPENED_BY = (
    "1", "1 m", "1 e", "1 t", "1 s", "1 enter", "1 enter c", "1 enter x", "1 C",
    "1 P", "2", "2 enter", "2 down down enter", "2 down down d", "2 down down w", "2 down down c",
    "2 down down C", "2 down down m", "2 down down k", "2 down down x", "2 down down l",
    "2 down down s ctrl+s", "2 down down space down space b",
    "3 down down down ctrl+o", "4", "4 e", "4 C", "4 enter", "4 tab e", "4 C", "4 tab enter", "5",
)  # fmt: skip
"""Keys from a page, each with a name on what they open."""


async def close_all(app: StillroomApp, pilot: Pilot[None]) -> None:
    """Close what was opened over a page."""
    while type(app.screen).__name__ not in {page.class_name for page in PAGES}:
        await pilot.press("escape")


async def test_names_are_shown_unchanged_everywhere(sample: Keeper) -> None:
    keeper = sample
    with keeper.act("Renamed everything"):
        for name in NAMES:
            table, column = name.split(".")
            keeper.store.db.execute_sql(
                f"UPDATE {table} SET {column} = ? || {column} WHERE {column} <> ''", (HOSTILE,)
            )
    note_jar(keeper, 1, "The ledger has the name of the day.")
    app = StillroomApp(keeper)
    async with app.run_test(size=(120, 40)) as pilot:
        for keys in OPENED_BY:
            await pilot.press(*keys.split())
            assert HOSTILE in front_text(app), keys
            await close_all(app, pilot)
    keeper.store.close()


PAYLOAD = "\x1b]0;pwn\x07\x1b[2J\x9b31m\x85\x7f\r"
"""Sets a window's title, clears the screen, colours and rings."""
SHOWN = "[2J"
"""What is left of it where it is shown."""


def steering(text: str) -> set[str]:
    return {c for c in text if (c < " " and c != "\n") or "\x7f" <= c <= "\x9f"}


@pytest.fixture(scope="module")
def hostile_file(sample_shelf: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The sample shelf, the payload before every text that its rules let through."""
    file = tmp_path_factory.mktemp("hostile") / "shelf.stillroom"
    with keeper_of_copy(sample_shelf, file, SetClock(NOW)) as sample:
        remember(sample, "cautions_read", "2026-11-26")
        shake_all(sample)
    with without_rules(file, with_checks=True) as db:
        db.execute("PRAGMA foreign_keys = ON")  # kinds are held by lists of words
        for table, column in db.execute(
            """SELECT m.name, c.name FROM sqlite_schema m, pragma_table_info(m.name) c
               WHERE m.type = 'table' AND c.type = 'TEXT' AND m.name <> 'undo_step'"""
        ).fetchall():
            about = "WHERE name = 'maker_name'" if table == "setting" else ""
            with suppress(sqlite3.IntegrityError):
                db.execute(f"UPDATE {table} SET {column} = ? || {column} {about}", (PAYLOAD,))
    return file


@pytest.fixture
def hostile(clock: SetClock, hostile_file: Path, shelf_file: Path) -> Iterator[StillroomApp]:
    """The program on a copy of that shelf."""
    store = Store.open(copyfile(hostile_file, shelf_file))
    yield StillroomApp(Keeper(store, clock))
    store.close()


@pytest.mark.parametrize("page", ["1", "2", "3", "4", "5"])
async def test_no_control_character_is_drawn(hostile: StillroomApp, page: str) -> None:
    """Only a file from someone else can hold it; what Textual itself sends is left out."""
    drawn = ""
    opened_by = [keys for keys in OPENED_BY if keys.startswith(page)]
    async with hostile.run_test(size=(120, 40), notifications=True) as pilot:
        for keys in (page, *opened_by, f"{page} ?", f"{page} u", "U", "ctrl+p"):
            await pilot.press(*keys.split())
            text = front_text(hostile)
            assert steering(text) == set(), keys
            drawn += text
            await close_all(hostile, pilot)
    assert drawn.count(SHOWN) >= len(opened_by)


async def test_a_message_shows_a_hostile_path_without_its_control_characters(
    hostile: StillroomApp,
) -> None:
    async with hostile.run_test(size=(120, 40), notifications=True) as pilot:
        hostile.complain(f"No such file: {PAYLOAD}")
        await pilot.pause()
        text = screen_text(hostile)
        assert "No such file" in text
        assert steering(text) == set()


async def test_a_setting_that_breaks_its_rule_does_not_keep_the_shelf_from_opening(
    sample: Keeper,
) -> None:
    for name in ("units", "decimal", "alcoholometer"):
        remember(sample, name, "furlong")
    app = StillroomApp(sample)
    async with app.run_test(size=(80, 24)) as pilot:
        for page in "23451":
            await pilot.press(page)
            await pilot.pause()
            assert "Quit" in screen_text(app)
