"""A read-only shelf: everything can be viewed, nothing is changed or claimed to be."""

from collections.abc import Iterator
from pathlib import Path
from shutil import copyfile

import pytest

from stillroom.clock import SetClock
from stillroom.keeping.keeper import Keeper
from stillroom.records import store as store_module
from stillroom.records.store import Store
from stillroom.screens.app import StillroomApp
from stillroom.screens.kit.dialog import Dialog
from stillroom.screens.kit.page import Page

from .screen_text import screen_text

TOLD = "This shelf is read-only"


@pytest.fixture
def sealed(
    clock: SetClock, sample_shelf: Path, shelf_file: Path, monkeypatch: pytest.MonkeyPatch
) -> Iterator[Keeper]:
    monkeypatch.setattr(store_module, "can_write", lambda path: False)
    keeper = Keeper(Store.open(copyfile(sample_shelf, shelf_file)), clock)
    yield keeper
    keeper.store.close()


def keys_of(app: StillroomApp) -> list[str]:
    """Every key of the present page that does something to what it shows."""
    left = {"q", "ctrl+q", "ctrl+c", "ctrl+p", "escape"}
    found = app.screen.active_bindings.items()
    return sorted(key for key, active in found if active.enabled and key not in left)


@pytest.mark.parametrize("page", "1245")
async def test_on_a_read_only_shelf_no_key_writes_or_opens_a_form_that_cannot_be_saved(
    sealed: Keeper, page: str
) -> None:
    before = sealed.store.path.read_bytes()
    app = StillroomApp(sealed)
    async with app.run_test(size=(120, 40)) as pilot:
        await pilot.press("escape", page)
        await pilot.pause()
        shown, keys = app.screen, keys_of(app)
        assert len(keys) > 10
        for key in keys:
            await pilot.press(key)
            screen = app.screen
            assert not (isinstance(screen, Dialog) and screen.CHANGES_SHELF), key
            while app.screen is not shown:
                await pilot.press("escape")
                if isinstance(app.screen, Page) and app.screen is not shown:
                    await pilot.press(page)
    assert sealed.store.path.read_bytes() == before


async def test_an_act_that_cannot_be_done_is_refused_at_its_key(sealed: Keeper) -> None:
    app = StillroomApp(sealed)
    async with app.run_test(size=(120, 40), notifications=True) as pilot:
        await pilot.press("escape")
        for page, key in (("1", "n"), ("1", "a"), ("2", "s"), ("4", "n"), ("1", "u")):
            app.say("Next.")
            await pilot.press(page, key)
            await pilot.pause()
            await pilot.pause()
            assert TOLD in screen_text(app), (page, key)


async def test_acts_that_only_write_files_work(
    sealed: Keeper, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    app = StillroomApp(sealed)
    async with app.run_test(size=(120, 40)) as pilot:
        await pilot.press("escape", "P")
        await pilot.pause()
        await pilot.press("tab", "home", "shift+end", *"day.txt", "ctrl+s")
        await pilot.pause()
    assert (tmp_path / "day.txt").exists()
