"""How often each page queries the shelf, key by key: an increase is noticed here."""

from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from textual.pilot import Pilot

from stillroom.keeping.keeper import Keeper
from stillroom.screens.app import StillroomApp

from .driving import press


@contextmanager
def counted(keeper: Keeper) -> Iterator[list[str]]:
    """The reading statements that the screen's connection runs; those of triggers left out."""
    ran: list[str] = []

    def note(sql: str) -> None:
        if sql.lstrip().upper().startswith(("SELECT", "WITH")):
            ran.append(sql)

    connection = keeper.store.db.connection()
    connection.set_trace_callback(note)
    try:
        yield ran
    finally:
        connection.set_trace_callback(None)


async def at_rest(pilot: Pilot[None], ran: list[str]) -> None:
    """Wait until what is read a moment after a key has been read, too."""
    quiet = 0
    while quiet < 5:
        before = len(ran)
        await pilot.pause()
        quiet = quiet + 1 if len(ran) == before else 0


MOST = {
    "shelves": ("1", {"down": 0, "right": 0, "space": 5, "slash": 1, "enter": 0}),
    "bottles": ("2", {"down": 0, "slash": 0, "enter": 0}),
    "calculator": ("3", {"down": 0}),
    "cupboard": ("4", {"down": 0, "tab": 10}),
    "ledger": ("5", {"down": 0, "slash": 0}),
    "round": ("1 r", {"space": 5, "down": 1}),
}
"""Keys that lead to a page, and the most queries each further key may take.

Every act asks once what is closed, and the key after it asks for the settings again; the list of
herbs asks for the lots in store, and for the liquids that a tincture poured on herb may hold."""
MOST_TO_OPEN = {
    "shelves": 0, "bottles": 12, "calculator": 1, "cupboard": 1, "ledger": 1, "round": 0,
}  # fmt: skip
"""The bottles ask once for the labels that were printed, and twice for other liquids in batches."""


@pytest.fixture
def no_timers(monkeypatch: pytest.MonkeyPatch) -> None:
    """Have only keys read: what the app looks at now and then comes at any moment."""
    for name in ("CHANGE_POLL_S", "DAY_POLL_S", "BACKUP_AFTER_S", "BACKUP_POLL_S", "WARM_UP_S"):
        monkeypatch.setattr(f"stillroom.screens.app.{name}", 1e6)


@pytest.mark.usefixtures("no_timers")
@pytest.mark.parametrize("page", MOST)
async def test_no_key_makes_more_queries_than_before(stocked: Keeper, page: str) -> None:
    opening, keys = MOST[page]
    app = StillroomApp(stocked)
    asked = {}
    async with app.run_test(size=(100, 30)) as pilot:
        away = "5" if page != "ledger" else "1"
        await press(pilot, away, *opening.split()[:-1])
        await at_rest(pilot, [])
        for name, key in [("opening", opening.split()[-1]), *((key, key) for key in keys)]:
            with counted(stocked) as ran:
                await press(pilot, key)
                await at_rest(pilot, ran)
            asked[name] = len(ran)
    most = {"opening": MOST_TO_OPEN[page], **keys}
    risen = {key: times for key, times in asked.items() if times > most[key]}
    assert risen == {}, asked
