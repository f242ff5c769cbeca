"""A shelf at rest is one complete file, and a held lock delays no key for long."""

import shutil
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, closing
from pathlib import Path

import pytest

from stillroom.clock import SetClock
from stillroom.errors import AnothersAct, StoreError
from stillroom.keeping.at_rest import AGAIN_LOOKS, QUIET_LOOKS, AtRest
from stillroom.keeping.cupboard.cupboard import add_shelf, shelf_rows
from stillroom.keeping.drafts import ShelfDraft
from stillroom.keeping.keeper import FORGOTTEN_AFTER_S, Keeper
from stillroom.keeping.settings import remember
from stillroom.keeping.shelf_file.backups import backup_to
from stillroom.keeping.undo import undo, undoable
from stillroom.records.base import database
from stillroom.records.connecting import BUSY_TIMEOUT_MS
from stillroom.records.store import Store
from stillroom.screens.app import StillroomApp
from stillroom.screens.kit.dialog import UndoDialog

from .screen_text import screen_text
from .stocked import fill

TEN_SECONDS = 10


def in_the_file_alone(shelf: Path, folder: Path) -> list[str]:
    """Titles of the acts in a copy of the main file, taken without its log."""
    copy = shutil.copyfile(shelf, folder / "copy-of-the-file-alone")
    with closing(sqlite3.connect(f"file:{copy}?immutable=1", uri=True)) as db:
        assert db.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        return [title for (title,) in db.execute("SELECT title FROM action ORDER BY id")]


async def test_ten_seconds_after_an_act_on_screen_the_file_alone_holds_it(
    keeper: Keeper, tmp_path: Path
) -> None:
    fill(keeper, "Borage")
    app = StillroomApp(keeper)
    async with app.run_test(size=(120, 40), notifications=True) as pilot:
        await pilot.press("enter", "space")
        await pilot.pause()
        done = undoable(keeper)
        assert done is not None
        assert done.startswith("Shook")
        for _ in range(TEN_SECONDS):
            app.at_rest.look()
        app.at_rest.wait()
        assert in_the_file_alone(keeper.store.path, tmp_path)[-1] == done
        assert keeper.store.log is None
        app.check_file()
        await pilot.press("u")
        await pilot.pause()
        assert "Undone: Shook" in screen_text(app)


def test_nothing_is_written_while_nobody_acts(keeper: Keeper) -> None:
    add_shelf(keeper, ShelfDraft("Larder"))
    at_rest = AtRest(keeper)

    def look_for_a_minute() -> dict[str, tuple[int, int]]:
        for _ in range(60):
            at_rest.look()
            at_rest.wait()
        beside = keeper.store.path.parent.glob(f"{keeper.store.path.name}*")
        found = {path.name: path.stat() for path in beside if not path.name.endswith("-shm")}
        return {name: (seen.st_size, seen.st_mtime_ns) for name, seen in found.items()}

    assert look_for_a_minute() == look_for_a_minute()


def test_a_log_that_is_being_read_is_folded_in_later(keeper: Keeper, tmp_path: Path) -> None:
    add_shelf(keeper, ShelfDraft("Larder"))
    at_rest = AtRest(keeper)
    with closing(sqlite3.connect(keeper.store.path, isolation_level=None)) as reader:
        reader.execute("BEGIN")
        reader.execute("SELECT * FROM shelf").fetchall()
        add_shelf(keeper, ShelfDraft("Window"))
        for _ in range(QUIET_LOOKS + 1):
            at_rest.look()
            at_rest.wait()
        assert keeper.store.log is not None
    for _ in range(AGAIN_LOOKS):
        at_rest.look()
        at_rest.wait()
    assert keeper.store.log is None
    assert in_the_file_alone(keeper.store.path, tmp_path)[-1] == "Added the shelf Window"


def test_closing_one_window_folds_in_the_log_while_another_is_open(
    keeper: Keeper, clock: SetClock, tmp_path: Path
) -> None:
    other = Keeper(Store.open(keeper.store.path), clock)
    add_shelf(other, ShelfDraft("Larder"))
    other.store.close()
    assert in_the_file_alone(keeper.store.path, tmp_path) == ["Added the shelf Larder"]
    database.initialize(keeper.store.db)
    assert [row.name for row in shelf_rows(keeper)] == ["Larder"]


def test_the_log_is_never_written_into_another_file_that_took_the_name(
    keeper: Keeper, tmp_path: Path
) -> None:
    """The last connection to a file folds the log in when it ends, though it is another's."""
    add_shelf(keeper, ShelfDraft("Larder"))
    copy = backup_to(keeper, tmp_path / "copy")
    content = copy.read_bytes()
    add_shelf(keeper, ShelfDraft("Window"))
    copy.replace(keeper.store.path)
    at_rest = AtRest(keeper)
    for _ in range(TEN_SECONDS):
        at_rest.look()
        at_rest.wait()
    keeper.store.close()
    assert keeper.store.path.read_bytes() == content


@pytest.fixture
def hold(keeper: Keeper) -> Iterator[Callable[[], None]]:
    """Has another program hold the lock."""
    with closing(sqlite3.connect(keeper.store.path, isolation_level=None)) as other:

        def begin() -> None:
            other.execute("BEGIN IMMEDIATE")

        yield begin


@pytest.mark.parametrize("presses", [20, 60])
async def test_keys_refused_because_of_a_lock_are_not_queued(
    keeper: Keeper, hold: Callable[[], None], monkeypatch: pytest.MonkeyPatch, presses: int
) -> None:
    """By a clock that only the waits move, no key waits over half a second in total."""
    fill(keeper, "Borage")
    waits: list[float] = []
    waiting = Store.waiting

    def counted(store: Store, seconds: float) -> AbstractContextManager[None]:
        waits.append(seconds)
        return waiting(store, seconds)

    monkeypatch.setattr("stillroom.keeping.keeper.monotonic", lambda: sum(waits))
    monkeypatch.setattr(Store, "waiting", counted)
    app = StillroomApp(keeper)
    async with app.run_test(size=(120, 40), notifications=True) as pilot:
        hold()
        await pilot.press(*["a"] * presses)
        await pilot.pause()
        assert "Another program is writing" in screen_text(app)
    assert len(waits) == presses - 1  # the first has the usual wait
    assert BUSY_TIMEOUT_MS / 1000 + sum(waits) <= 0.5


def test_a_key_pressed_later_waits_for_the_lock_again(
    keeper: Keeper, hold: Callable[[], None], monkeypatch: pytest.MonkeyPatch
) -> None:
    now = [0.0]
    short_waits: list[float] = []
    waiting = Store.waiting

    def counted(store: Store, seconds: float) -> AbstractContextManager[None]:
        short_waits.append(seconds)
        return waiting(store, seconds)

    monkeypatch.setattr("stillroom.keeping.keeper.monotonic", lambda: now[0])
    monkeypatch.setattr(Store, "waiting", counted)
    hold()
    for at, short in ((0, 0), (0.1, 1), (FORGOTTEN_AFTER_S + 0.1, 1), (FORGOTTEN_AFTER_S + 1, 2)):
        now[0] = at
        with pytest.raises(StoreError, match="Another program is writing"):
            add_shelf(keeper, ShelfDraft("Larder"))
        assert len(short_waits) == short


def test_a_key_pressed_after_the_lock_is_free_acts(
    keeper: Keeper, hold: Callable[[], None], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("stillroom.keeping.keeper.monotonic", lambda: 0.0)
    with closing(sqlite3.connect(keeper.store.path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        for _ in range(3):
            with pytest.raises(StoreError, match="Another program is writing"):
                add_shelf(keeper, ShelfDraft("Larder"))
        other.execute("ROLLBACK")
        add_shelf(keeper, ShelfDraft("Larder"))
    assert keeper.store.db.pragma("busy_timeout") == 250


@pytest.fixture
def elsewhere(keeper: Keeper, clock: SetClock) -> Iterator[Callable[[str], None]]:
    """Adds a shelf in another window."""
    there = Keeper(Store.open(keeper.store.path), clock)
    database.initialize(keeper.store.db)

    def put_up(name: str) -> None:
        database.initialize(there.store.db)
        try:
            add_shelf(there, ShelfDraft(name))
        finally:
            database.initialize(keeper.store.db)

    yield put_up
    there.store.close()


async def test_undo_asks_before_it_reverses_an_act_of_another_window(
    keeper: Keeper, elsewhere: Callable[[str], None]
) -> None:
    remember(keeper, "maker", "AB")
    add_shelf(keeper, ShelfDraft("From before"))
    app = StillroomApp(keeper)
    async with app.run_test(size=(120, 40), notifications=True) as pilot:
        add_shelf(keeper, ShelfDraft("Here"))
        elsewhere("There")
        await pilot.press("u", "u")  # a second press answers nothing
        await pilot.pause()
        assert isinstance(app.screen, UndoDialog)
        said = " ".join(screen_text(app).replace("│", " ").split())
        assert "“Added the shelf There” was done by AB in another window. Undo it anyway?" in said
        await pilot.press("escape")
        assert [row.name for row in shelf_rows(keeper)] == ["From before", "Here", "There"]
        await pilot.press("u")
        await pilot.pause()
        await pilot.press("ctrl+s")
        await pilot.pause()
        assert [row.name for row in shelf_rows(keeper)] == ["From before", "Here"]
        # One's own, and what was there at the start, is undone without a question.
        await pilot.press("u")
        await pilot.press("u")
        await pilot.pause()
        assert not shelf_rows(keeper)


async def test_undo_asks_again_if_yet_another_act_came_first(
    keeper: Keeper, elsewhere: Callable[[str], None]
) -> None:
    app = StillroomApp(keeper)
    async with app.run_test(size=(120, 40), notifications=True) as pilot:
        elsewhere("There")
        await pilot.press("u")
        await pilot.pause()
        elsewhere("There too")
        await pilot.press("ctrl+s")
        await pilot.pause()
        said = " ".join(screen_text(app).replace("│", " ").split())
        assert "“Added the shelf There too” was done" in said
        assert len(shelf_rows(keeper)) == 2
        await pilot.press("ctrl+s")
        await pilot.pause()
        assert [row.name for row in shelf_rows(keeper)] == ["There"]


def test_an_act_number_reused_by_another_window_is_not_taken_for_your_own(
    keeper: Keeper, elsewhere: Callable[[str], None], clock: SetClock
) -> None:
    keeper.tell_acts_apart()
    add_shelf(keeper, ShelfDraft("Here"))
    undo(keeper)
    clock.advance(hours=1)
    elsewhere("There")
    with pytest.raises(AnothersAct, match="Added the shelf There"):
        undo(keeper)
