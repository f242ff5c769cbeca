"""The program does not grow however often something is done; the long form is `soak.py`."""

import gc
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

from ..screens.hands import parse_styles_once
from .program import Place
from .soak import Part, live_objects, parts

LEAST_ROUND = 15
"""Times in a round, where a part has fewer steps than that.

What was removed is let go of a few times later, all at once: in shorter rounds the counts of a
list's rows seem to grow by a hundred at a time, or to fall.
"""
PAUSES = 10
"""By then what was removed has gone."""

OBJECTS_A_TIME = 30
"""What may be left over on average; a form kept alive would be some hundreds."""


@pytest.fixture(autouse=True)
def little_to_search(monkeypatch: pytest.MonkeyPatch) -> None:
    """Leave what other tests keep alive out of the counts, as searching all of it takes long."""
    parse_styles_once(monkeypatch)
    gc.collect()
    gc.freeze()


@pytest.fixture(autouse=True)
def no_timers(monkeypatch: pytest.MonkeyPatch) -> None:
    """What is imported in the background, or for the backup of the day, comes at any moment."""
    for name in ("CHANGE_POLL_S", "DAY_POLL_S", "BACKUP_AFTER_S", "BACKUP_POLL_S", "WARM_UP_S"):
        monkeypatch.setattr(f"stillroom.screens.app.{name}", 1e6)


async def _growth(place: Place, part: Part) -> float:
    """Objects left over each time, once all of it has been done for a round.

    Each time is compared with the same one of the round before, and the median taken: the form or
    row removed last may still be held until the next is drawn, or not.
    """
    a_round = part.share * max(LEAST_ROUND, len(part.steps))
    store = Store.open(place.shelf)
    app = StillroomApp(Keeper(store, SystemClock()))
    async with app.run_test(size=(100, 30)) as pilot:
        await _press(pilot, part.opening)
        counts = []
        for number, keys in enumerate(part.keys(3 * a_round)):
            await _press(pilot, keys)
            if number >= a_round:
                counts.append(await _count(pilot))
    store.close()
    grown = [after - before for before, after in zip(counts, counts[a_round:], strict=False)]
    return median(grown) / a_round


async def _press(pilot: Pilot[None], keys: tuple[str, ...]) -> None:
    for key in keys:
        await pilot.press(key)
        await pilot.pause()


async def _count(pilot: Pilot[None]) -> int:
    for _ in range(PAUSES):
        await pilot.pause()
    return live_objects()


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
    form = Part("the form that moves a jar", (("m", "escape"),))
    assert await _growth(place, form) > 2 * OBJECTS_A_TIME
