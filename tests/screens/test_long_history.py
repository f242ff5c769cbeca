"""What is finished costs no key anything: SQLite does the same for 50 old batches and for 450.

Counted in steps of SQLite's machine (https://www.sqlite.org/c3ref/progress_handler.html), which are
the same on every computer; a step is less than a row. The Year is left out: it sums up all years.
"""

import sqlite3
from pathlib import Path
from shutil import copyfile

from stillroom.clock import SetClock
from stillroom.keeping.bottles.stock_outlook import stock_outlook
from stillroom.keeping.day import day_view
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import remember
from stillroom.records.store import Store
from stillroom.screens.app import StillroomApp

from ..conftest import NOW
from ..finished_years import add_finished_batches
from .stocked import fill

HERBS = "right"
"""The key that opens the list of herbs."""
FEWER, MORE = 50, 450
"""Finished batches; the fewer fill a page of the ledger."""
KEYS = (
    "down", "space", "u", "a", "u", "U", "u", "enter", "escape", "n", "escape", "r", "escape",
    "2", "down", "enter", "escape", "o", "escape", "4", "right", "right", "5", "down", "1", "2",
)  # fmt: skip
SLACK = 1.3, 300
"""How many times the steps, and how many more, count as the same: indexes get a level deeper."""
FOR_EACH_BATCH = {HERBS: 60, "enter": 100, "day_view": 1000}
"""Steps that may be taken for each batch: the list of herbs draws each year's yields, the page of a
bottle adds up what its batch cost, and the day asks the plan, which knows the use of all years."""
EVERY = 10
"""Steps between two counts."""


class Steps:
    """Counts the steps of SQLite's machine."""

    def __init__(self, keeper: Keeper) -> None:
        self.keeper, self.count = keeper, 0

    def begin(self) -> None:
        connection = self.keeper.store.db.connection()
        assert isinstance(connection, sqlite3.Connection)
        connection.set_progress_handler(self._tick, EVERY)
        self.count = 0

    def _tick(self) -> None:
        self.count += EVERY


async def steps_by_key(path: Path) -> list[tuple[str, int]]:
    """What each key and each daily question costs on a shelf."""
    keeper = Keeper(Store.open(path), SetClock(NOW))
    steps, found = Steps(keeper), []
    app = StillroomApp(keeper, is_sample=True)
    async with app.run_test(size=(100, 30)) as pilot:
        for key in KEYS:
            steps.begin()
            await pilot.press(key)
            await pilot.pause()
            found.append((key, steps.count))
    for question in (day_view, stock_outlook):
        steps.begin()
        question(keeper)
        found.append((question.__name__, steps.count))
    keeper.store.close()
    return found


async def test_no_key_reads_finished_batches(stocked: Keeper, tmp_path: Path) -> None:
    fill(stocked, "Borage")
    remember(stocked, "cautions_read", "2026-01-01")
    stocked.store.close()
    young, old = (copyfile(stocked.path, tmp_path / f"{name}.stillroom") for name in ("a", "b"))
    add_finished_batches(young, FEWER)
    add_finished_batches(old, MORE)
    times, more = SLACK
    few, many = await steps_by_key(young), await steps_by_key(old)
    assert sum(count for _, count in few) > 0
    assert [
        (key, before, after)
        for (key, before), (_, after) in zip(few, many, strict=True)
        if after > times * before + (MORE - FEWER) * FOR_EACH_BATCH.get(key, 0) + more
    ] == []
