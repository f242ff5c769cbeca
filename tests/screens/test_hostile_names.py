"""Names that look like markup stand as they are in every title, list and form."""

from pathlib import Path

from stillroom.clock import SetClock
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import remember
from stillroom.keeping.shelf_file.sample import open_sample
from stillroom.screens.app import StillroomApp

from .screen_text import screen_text

HOSTILE = "[/x]"
"""Markup that is wrong wherever it is read as such."""
NAMES = ("herb.name", "shelf.name", "spirit.name", "bottle.place", "tincture.name", "formula.name")
OPENED_BY = (
    "1", "1 m", "1 e", "1 t", "1 s", "1 enter", "1 enter c", "1 enter x",
    "1 P", "2", "2 enter", "2 down down enter", "2 down down d", "2 down down w", "2 down down c",
    "2 down down m", "2 down down k", "2 down down x", "2 down down l", "2 down down s ctrl+s",
    "2 down down space down space b",
    "3 down down down ctrl+o", "4", "4 e", "4 enter", "4 tab e", "4 tab enter", "5",
)  # fmt: skip
"""Keys from a page, each with a name on what they open."""


async def test_names_stand_as_they_are_wherever_they_are_shown(
    clock: SetClock, tmp_path: Path
) -> None:
    keeper: Keeper = open_sample(clock, tmp_path)
    remember(keeper, "cautions_read", "2026-11-26")
    for name in NAMES:
        table, column = name.split(".")
        keeper.store.db.execute_sql(
            f"UPDATE {table} SET {column} = ? || {column} WHERE {column} <> ''", (HOSTILE,)
        )
    app = StillroomApp(keeper)
    async with app.run_test(size=(120, 40)) as pilot:
        for keys in OPENED_BY:
            await pilot.press(*keys.split())
            await pilot.pause()
            assert HOSTILE in screen_text(app), keys
            for _ in range(6):
                await pilot.press("escape")
            await pilot.pause()
    keeper.store.close()
