"""The program does not grow however often something is done; the long form is `soak.py`."""

from statistics import median

import pytest
from textual.app import ComposeResult
from textual.pilot import Pilot
from textual.widgets import Header

from stillroom.clock import SystemClock
from stillroom.keeping.keeper import Keeper
from stillroom.records.store import Store
from stillroom.screens.app import StillroomApp
from stillroom.screens.kit.dialog import Dialog

from .program import Place
from .soak import Part, live_objects, parts

WARM_UP, MEASURED, COMPARED = 10, 15, 5
"""Times before counting, times counted, and how many of the first are compared with the last."""

OBJECTS_A_TIME = 30
"""What may be left over on average; a form kept alive would be some hundreds."""


@pytest.fixture(autouse=True)
def no_timers(monkeypatch: pytest.MonkeyPatch) -> None:
    """What is imported in the background, or for the backup of the day, comes at any moment."""
    for name in ("CHANGE_POLL_S", "DAY_POLL_S", "BACKUP_AFTER_S", "BACKUP_POLL_S", "WARM_UP_S"):
        monkeypatch.setattr(f"stillroom.screens.app.{name}", 1e6)


async def _growth(place: Place, part: Part) -> float:
    """Objects left over each time, once all of it has been done a few times.

    The form or row removed last may still be held until the next is drawn, or not. Medians of
    several times are compared, because one count at each end would find or miss that one form.
    """
    store = Store.open(place.shelf)
    app = StillroomApp(Keeper(store, SystemClock()))
    async with app.run_test(size=(100, 30)) as pilot:
        await _press(pilot, part.opening)
        for keys in part.keys(part.share * WARM_UP):
            await _press(pilot, keys)
        counts = []
        for keys in part.keys(MEASURED):
            await _press(pilot, keys)
            await _settled(pilot)
            counts.append(live_objects())
    store.close()
    return (median(counts[-COMPARED:]) - median(counts[:COMPARED])) / (MEASURED - COMPARED)


async def _press(pilot: Pilot[None], keys: tuple[str, ...]) -> None:
    for key in keys:
        await pilot.press(key)
        await pilot.pause()


async def _settled(pilot: Pilot[None]) -> None:
    """Wait until what was removed has gone."""
    quiet = 0
    while quiet < 10:
        widgets = len(pilot.app.screen.query("*"))
        await pilot.pause()
        quiet = quiet + 1 if len(pilot.app.screen.query("*")) == widgets else 0


@pytest.mark.parametrize("part", parts(), ids=lambda part: part.name)
async def test_using_each_page_and_form_leaves_no_objects_in_memory(
    place: Place, part: Part
) -> None:
    assert await _growth(place, part) < OBJECTS_A_TIME


async def test_a_widget_that_is_kept_alive_is_noticed(
    place: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Textual's own header is one, which is why the program draws a line of its own instead."""
    compose = Dialog.compose_below

    def with_header(dialog: Dialog[object]) -> ComposeResult:
        yield from compose(dialog)
        yield Header()

    monkeypatch.setattr(Dialog, "compose_below", with_header)
    (dialogs,) = (part for part in parts() if part.name == "dialogs")
    assert await _growth(place, dialogs) > 2 * OBJECTS_A_TIME
