"""Who is at the shelf belongs to the window: changed by one key, shown where there is room."""

import pytest

from stillroom.clock import SetClock
from stillroom.keeping.jars.jar import note_jar
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.ledger import LedgerFilter, ledger
from stillroom.keeping.settings import Settings, remember, save_settings, seen_at_shelf
from stillroom.keeping.undo import undo
from stillroom.records.store import Store
from stillroom.screens.app import StillroomApp

from .driving import SIZES, flat, press
from .screen_text import screen_text
from .stocked import fill


@pytest.fixture
def shared(keeper: Keeper) -> Keeper:
    """A shelf at which AK and BO have worked, with AK in its settings."""
    jar_id = fill(keeper, "Yarrow").jar_id
    for initials in ("BO", "AK"):
        save_settings(keeper, Settings(maker=initials))
        note_jar(keeper, jar_id, "looked at it")
    return keeper


@pytest.mark.parametrize("size", SIZES)
async def test_one_key_changes_the_initials_that_are_recorded(
    shared: Keeper, size: tuple[int, int]
) -> None:
    app = StillroomApp(shared)
    async with app.run_test(size=size) as pilot:
        assert "AK · Thu 26 Nov 2026" in screen_text(app)
        await press(pilot, "i", "b", "ctrl+s")
        assert "BO · Thu 26 Nov 2026" in screen_text(app)
        await press(pilot, "space")
        assert ledger(shared, LedgerFilter())[0].maker == "BO"
        await press(pilot, "u")
        assert ledger(shared, LedgerFilter())[0].maker == "BO"


async def test_new_initials_can_be_entered_without_the_settings(shared: Keeper) -> None:
    app = StillroomApp(shared)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "i", "tab", *"CEM", "enter")
        assert "CEM · Thu 26 Nov 2026" in screen_text(app)
        await press(pilot, "space")
        assert ledger(shared, LedgerFilter())[0].maker == "CEM"
        assert shared.setting("maker") == "AK"
        assert seen_at_shelf(shared) == ["CEM", "AK", "BO"]


async def test_a_window_starts_with_the_initials_of_the_settings(
    shared: Keeper, clock: SetClock
) -> None:
    shared.at_shelf = "BO"
    note_jar(shared, 1, "here")
    shared.store.close()
    again = Keeper(Store.open(shared.store.path), clock)
    assert again.maker == "AK"
    again.store.close()


def test_two_windows_record_initials_of_their_own(shared: Keeper, clock: SetClock) -> None:
    other = Keeper(shared.store, clock)
    other.at_shelf = "BO"
    note_jar(other, 1, "theirs")
    note_jar(shared, 1, "ours")
    undo(other)
    assert [line.maker for line in ledger(shared, LedgerFilter())[:3]] == ["BO", "AK", "BO"]


def test_initials_changed_in_the_settings_apply_to_this_window(shared: Keeper) -> None:
    shared.at_shelf = "BO"
    save_settings(shared, Settings(maker="DI"))
    assert shared.maker == "DI"


async def test_where_there_is_no_room_the_initials_are_dropped_before_the_date(
    shared: Keeper,
) -> None:
    app = StillroomApp(shared)
    async with app.run_test(size=(38, 24)) as pilot:
        await press(pilot, "down")
        first = screen_text(app).splitlines()[0]
        assert "26 Nov 2026" in first
        assert "AK" not in first


async def test_initials_can_be_changed_on_a_read_only_shelf(
    shared: Keeper, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(type(shared.store), "read_only", True, raising=False)
    remember(shared, "cautions_read", "2026-11-26")
    app = StillroomApp(shared)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "escape", "i")
        assert "Who is at the shelf?" in flat(app)
