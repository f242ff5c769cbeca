"""The disk fills up, fails or is removed during work: reported, nothing half done, work goes on."""

import resource
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from random import Random

import pytest

from stillroom.clock import SetClock
from stillroom.errors import StoreError
from stillroom.keeping.cupboard.cupboard import add_shelf, shelf_rows
from stillroom.keeping.drafts import ShelfDraft
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.shelf_file.check import check
from stillroom.keeping.undo import redo, undo, undoable
from stillroom.records.store import Store

from .driver import Driver, content

FAR = 1_000_000


@contextmanager
def no_more_pages(keeper: Keeper, spare: int) -> Iterator[None]:
    """SQLite's own limit: as on a disk with room for so many pages."""
    db = keeper.store.db
    db.pragma("max_page_count", db.pragma("page_count") + spare)
    try:
        yield
    finally:
        db.pragma("max_page_count", FAR)


@contextmanager
def files_may_grow_to(size: int) -> Iterator[None]:
    """The system's limit: writing beyond it fails, as on a disk with a quota."""
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


def test_a_full_disk_is_reported_and_work_resumes_once_there_is_room(tmp_path: Path) -> None:
    clock = SetClock(datetime(2026, 11, 26, 9, 15, tzinfo=UTC))
    keeper = Keeper(Store.open(tmp_path / "shelf", create=True), clock)
    driver = Driver(keeper, Random(7), clock)
    for spare in (0, 1, 2, 3, 5, 8):
        with no_more_pages(keeper, spare):
            before, title, told = content(keeper), undoable(keeper), ""
            while not told:
                try:
                    driver.act()
                    before, title = content(keeper), undoable(keeper)
                except StoreError as error:
                    told = str(error)
            assert told == "The disk is full. Nothing was saved. Make room and try again."
            assert content(keeper) == before
            assert undoable(keeper) == title
            assert check(keeper) == []
        for _ in range(10):
            driver.act()
        assert check(keeper) == []
    while undoable(keeper):
        undo(keeper)
    assert not any(rows for table, rows in content(keeper).items() if table != "setting")
    keeper.store.close()


def test_an_undo_that_cannot_be_written_is_not_half_done(keeper: Keeper, shelf_file: Path) -> None:
    for number in range(30):
        add_shelf(keeper, ShelfDraft(f"Plank {number}", "x" * 4000))
    with keeper.act("Took all down"):
        keeper.store.db.execute_sql("DELETE FROM shelf")
    before = content(keeper)
    with files_may_grow_to(Path(f"{shelf_file}-wal").stat().st_size):
        with pytest.raises(StoreError, match="Nothing was saved"):
            undo(keeper)
        assert content(keeper) == before
        assert undoable(keeper) == "Took all down"
    assert undo(keeper) == "Took all down"
    assert len(shelf_rows(keeper)) == 30
    redo(keeper)
    assert content(keeper) == before
    assert check(keeper) == []


def test_a_write_that_the_system_refuses_is_reported(keeper: Keeper, shelf_file: Path) -> None:
    add_shelf(keeper, ShelfDraft("Larder"))
    log = Path(f"{shelf_file}-wal")
    with files_may_grow_to(log.stat().st_size):
        for _ in range(3):
            with pytest.raises(StoreError, match="Nothing was saved"):
                add_shelf(keeper, ShelfDraft("Window", "x" * 20_000))
        assert [row.name for row in shelf_rows(keeper)] == ["Larder"]
    add_shelf(keeper, ShelfDraft("Window", "x" * 20_000))
    assert check(keeper) == []


def test_no_half_made_shelf_is_left_on_a_full_disk(tmp_path: Path) -> None:
    with files_may_grow_to(50_000), pytest.raises(StoreError):
        Store.open(tmp_path / "shelf", create=True)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("gone", ["folder", "file"])
def test_a_missing_shelf_is_reported_and_work_resumes_once_it_is_back(
    tmp_path: Path, clock: SetClock, gone: str
) -> None:
    """As when a stick is pulled out, and put in again."""
    path = tmp_path / "stick" / "shelf"
    keeper = Keeper(Store.open(path, create=True), clock)
    add_shelf(keeper, ShelfDraft("Larder"))
    there = path.parent if gone == "folder" else path
    away = there.rename(tmp_path / "away")
    for attempt in (lambda: add_shelf(keeper, ShelfDraft("Window")), lambda: undo(keeper)):
        with pytest.raises(StoreError, match=r"no longer at .*Nothing was saved"):
            attempt()
    away.rename(there)
    add_shelf(keeper, ShelfDraft("Window"))
    assert [row.name for row in shelf_rows(keeper)] == ["Larder", "Window"]
    assert check(keeper) == []
    keeper.store.close()
    again = Keeper(Store.open(path), clock)
    assert [row.name for row in shelf_rows(again)] == ["Larder", "Window"]
    again.store.close()


def test_a_page_that_cannot_be_read_is_reported(keeper: Keeper, shelf_file: Path) -> None:
    add_shelf(keeper, ShelfDraft("Larder"))
    keeper.store.close()
    store = Store.open(shelf_file)
    damaged = Keeper(store, keeper.clock)
    ((root,),) = damaged.rows("SELECT rootpage FROM sqlite_schema WHERE name = 'shelf'")
    with shelf_file.open("r+b") as file:
        file.seek((root - 1) * 4096)
        file.write(b"\xff" * 4096)
    for attempt in (lambda: shelf_rows(damaged), lambda: add_shelf(damaged, ShelfDraft("New"))):
        with pytest.raises(StoreError, match=r"damaged .*Restore a backup"):
            attempt()
    store.close()
