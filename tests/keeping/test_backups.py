"""Backups: made automatically, checked, deleted by age, and restored."""

import shutil
import sqlite3
import stat
from collections.abc import Iterable
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stillroom.clock import SetClock
from stillroom.errors import NotUnderstood, Refused, StillroomError, StoreError
from stillroom.keeping.cupboard.cupboard import add_shelf, shelf_rows
from stillroom.keeping.drafts import ShelfDraft
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import remember, save_settings, settings_of
from stillroom.keeping.shelf_file.backups import (
    DAYS,
    MONTHS,
    WEEKS,
    BackupStatus,
    backup_folder,
    backup_if_due,
    backup_to,
    last_backup,
    to_keep,
)
from stillroom.keeping.shelf_file.check import check
from stillroom.keeping.shelf_file.restoring import ShelfSummary, restore_from, restore_plan
from stillroom.keeping.trusted import trust_folder
from stillroom.keeping.undo import undo
from stillroom.paths import typed_path
from stillroom.records.store import Store

from ..builders import calendula

TODAY = date(2026, 11, 26)
dates = st.dates(date(2024, 1, 1), date(2028, 12, 31))


@pytest.fixture
def folder(keeper: Keeper) -> Path:
    return backup_folder(keeper)


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def planks(path: Path) -> list[str]:
    with closing(sqlite3.connect(f"file:{path}?mode=ro&immutable=1", uri=True)) as db:
        return [name for (name,) in db.execute("SELECT name FROM shelf ORDER BY id")]


def test_a_backup_is_made_once_a_day(keeper: Keeper, clock: SetClock, folder: Path) -> None:
    add_shelf(keeper, ShelfDraft("Larder"))
    first = backup_if_due(keeper, folder)
    assert (first.made, first.failure) == (True, "")
    assert first.path == folder / "shelf-2026-11-26.stillroom"
    add_shelf(keeper, ShelfDraft("Window"))
    again = backup_if_due(keeper, folder)
    assert (again.made, again.path) == (False, first.path)
    assert planks(first.path) == ["Larder"]
    clock.advance(days=1)
    assert backup_if_due(keeper, folder).made
    assert names(folder) == ["shelf-2026-11-26.stillroom", "shelf-2026-11-27.stillroom"]
    assert last_backup(folder, keeper.store.path) == BackupStatus(date(2026, 11, 27))


def name_folder(keeper: Keeper, folder: str) -> None:
    """Let the shelf name a folder that a person has confirmed, whatever became of it since."""
    remember(keeper, "backup_folder", folder)
    trust_folder(typed_path(folder))


def test_backups_are_beside_the_shelf_unless_set_otherwise(
    keeper: Keeper, shelf_file: Path, tmp_path: Path
) -> None:
    assert backup_folder(keeper) == shelf_file.parent / "backups"
    name_folder(keeper, "~/copies")
    assert backup_folder(keeper) == tmp_path / "home" / "copies"


def test_an_impossible_folder_is_reported(keeper: Keeper, tmp_path: Path) -> None:
    loop = tmp_path / "loop"
    loop.symlink_to(loop)
    for never in ("/" + "x" * 300, "~" + "x" * 300, str(loop / "deep"), "/dev/null/in"):
        name_folder(keeper, never)
        folder = backup_folder(keeper)
        report = backup_if_due(keeper, folder)
        assert str(folder) in report.failure
        assert not report.made
        assert last_backup(folder, keeper.store.path).failure == report.failure
    name_folder(keeper, "")
    assert backup_if_due(keeper, backup_folder(keeper)).made
    assert not last_backup(backup_folder(keeper), keeper.store.path).failure


def test_the_folder_for_backups_is_checked_when_it_is_set(keeper: Keeper, tmp_path: Path) -> None:
    def settle(folder: str) -> str:
        wanted = replace(settings_of(keeper), backup_folder=folder)
        return save_settings(keeper, wanted).backup_folder

    (tmp_path / "note").write_text("")
    for never in ("x" * 300, str(tmp_path / "note"), "a\0b"):
        with pytest.raises(StillroomError):
            settle(never)
    with pytest.raises(NotUnderstood, match="enter the full path"):
        settle("card")
    with pytest.raises(NotUnderstood, match="can't be made"):
        settle("/proc/none")
    card = str(tmp_path / "card")
    assert settle(card) == card
    assert settle(" ~/card ") == "~/card"
    assert backup_folder(keeper) == tmp_path / "home" / "card"
    undo(keeper)
    assert backup_folder(keeper) == tmp_path / "card"
    assert settle("") == ""


def test_a_missing_backup_folder_is_reported_and_not_created_again(
    keeper: Keeper, tmp_path: Path
) -> None:
    stick = tmp_path / "stick"
    wanted = replace(settings_of(keeper), backup_folder=str(stick))
    save_settings(keeper, wanted)
    assert backup_if_due(keeper, backup_folder(keeper)).made
    shutil.rmtree(stick)
    report = backup_if_due(keeper, backup_folder(keeper))
    assert (
        report.failure == f"The folder {stick} is missing. Is its disk or memory stick plugged in?"
    )
    assert not stick.exists()
    save_settings(keeper, replace(wanted, steep_days=20))  # is nobody's wish to make it either
    assert not stick.exists()


def test_shelves_of_one_name_can_share_a_folder_for_backups(
    clock: SetClock, tmp_path: Path
) -> None:
    shared = tmp_path / "card"
    shared.mkdir()
    for place in ("home", "dispensary"):
        (tmp_path / place).mkdir(exist_ok=True)
        keeper = Keeper(Store.open(tmp_path / place / "shelf.stillroom", create=True), clock)
        add_shelf(keeper, ShelfDraft(place))
        for _ in range(10):
            assert backup_if_due(keeper, shared).made
            clock.advance(days=1)
        assert last_backup(shared, keeper.store.path).last_on == keeper.today - timedelta(days=1)
        keeper.store.close()
        clock.advance(days=-10)
    kept = [planks(path) for path in shared.iterdir()]
    assert kept.count(["home"]) == kept.count(["dispensary"]) >= DAYS


def test_a_backup_is_private_and_a_single_file(keeper: Keeper, folder: Path) -> None:
    report = backup_if_due(keeper, folder)
    assert report.path is not None
    assert stat.S_IMODE(report.path.stat().st_mode) == 0o600
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700
    assert names(folder) == [report.path.name]


def test_a_backup_opens_as_a_shelf_with_its_undo(
    keeper: Keeper, clock: SetClock, folder: Path
) -> None:
    calendula(keeper)
    report = backup_if_due(keeper, folder)
    assert report.path is not None
    copy = Keeper(Store.open(report.path), clock)
    assert check(copy) == []
    assert undo(copy) == "Filled Calendula 26-001"
    copy.store.close()


def test_a_backup_is_made_in_a_thread_while_the_shelf_is_in_use(
    keeper: Keeper, folder: Path
) -> None:
    with ThreadPoolExecutor(1) as pool:
        running = pool.submit(backup_if_due, keeper, folder)
        for number in range(20):
            add_shelf(keeper, ShelfDraft(f"Plank {number}"))
        report = running.result()
    assert report.made
    assert report.path is not None
    assert planks(report.path) == [f"Plank {n}" for n in range(len(planks(report.path)))]


def test_a_failed_backup_is_reported_until_one_succeeds(
    keeper: Keeper, clock: SetClock, tmp_path: Path, folder: Path
) -> None:
    backup_if_due(keeper, folder)
    clock.advance(days=1)
    aside = folder.rename(tmp_path / "aside")
    folder.write_text("a file where the folder should be")
    report = backup_if_due(keeper, folder)
    assert (report.made, report.path) == (False, None)
    assert report.failure == f"{folder}: File exists."
    status = last_backup(folder, keeper.store.path)
    assert status == BackupStatus(None, keeper.today, report.failure)
    add_shelf(keeper, ShelfDraft("Work goes on"))

    folder.unlink()
    aside.rename(folder)
    assert last_backup(folder, keeper.store.path).last_on == TODAY
    assert backup_if_due(keeper, folder).made
    assert last_backup(folder, keeper.store.path) == BackupStatus(keeper.today)


def test_undo_leaves_the_report_of_a_failed_backup(keeper: Keeper, folder: Path) -> None:
    add_shelf(keeper, ShelfDraft("Larder"))
    folder.touch()
    assert backup_if_due(keeper, folder).failure
    assert undo(keeper) == "Added the shelf Larder"


def test_a_copy_that_cannot_be_read_back_never_gets_its_name(
    keeper: Keeper, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As on a card that loses what is written to it."""

    def lossy(path: Path) -> None:
        with path.open("r+b") as file:
            file.seek(4096)
            file.write(b"\xff" * 4096)

    monkeypatch.setattr("stillroom.records.shelf_file.sync_file", lossy)
    report = backup_if_due(keeper, folder)
    assert "can't be read back" in report.failure
    assert names(folder) == []


def test_a_shelf_that_is_open_read_only_is_not_backed_up(keeper: Keeper, folder: Path) -> None:
    keeper.store.read_only = True
    assert backup_if_due(keeper, folder).path is None
    assert not folder.exists()


@pytest.mark.parametrize("days", [-1000, 1000])
def test_no_backup_is_made_under_a_doubtful_date(
    keeper: Keeper, clock: SetClock, folder: Path, days: int
) -> None:
    """One dated in the future would never be deleted; one of long ago would go at once."""
    add_shelf(keeper, ShelfDraft("Larder"))
    clock.advance(days=days)
    report = backup_if_due(keeper, folder)
    assert not report.made
    assert "26 Nov 2026" in report.failure
    assert not folder.exists()
    keeper.trust_date()
    assert backup_if_due(keeper, folder).made


def test_old_backups_are_deleted_and_other_files_are_not(
    keeper: Keeper, clock: SetClock, folder: Path
) -> None:
    folder.mkdir()
    strangers = ["shelf-2020-01-01.txt", "shelf-20200101.stillroom", "other-2020-01-01.stillroom"]
    strangers += ["shelf-copy.stillroom", "shelf-2020-13-01.stillroom", "letter.txt"]
    for name in strangers:
        (folder / name).touch()
    left_over = folder / ".shelf-2026-11-01.stillroom.abc.part"
    left_over.touch()
    for _ in range(9):
        backup_if_due(keeper, folder)
        clock.advance(days=1)
    days = {TODAY + timedelta(days=n) for n in range(9)}
    kept = {f"shelf-{day}.stillroom" for day in to_keep(days, max(days))}
    assert len(kept) == 7  # among them the ends of a week and of November
    assert set(names(folder)) == kept | set(strangers)


def test_backups_dated_later_than_today_are_not_deleted_when_the_clock_was_set_back(
    keeper: Keeper, clock: SetClock, folder: Path
) -> None:
    for _ in range(3):
        backup_if_due(keeper, folder)
        clock.advance(days=1)
    clock.advance(days=-365)
    assert backup_if_due(keeper, folder).made
    assert len(names(folder)) == 4


def test_seven_daily_five_weekly_and_twelve_monthly_backups_are_kept() -> None:
    every_day = [TODAY - timedelta(days=n) for n in range(1000)]
    kept = sorted(to_keep(every_day, TODAY), reverse=True)
    assert [str(day) for day in kept] == [
        *(f"2026-11-{n}" for n in (26, 25, 24, 23, 22, 21, 20)),  # days, with Sunday the 22nd
        *("2026-11-15", "2026-11-08", "2026-11-01"),  # Sundays
        *("2026-10-31", "2026-09-30", "2026-08-31", "2026-07-31", "2026-06-30", "2026-05-31"),
        *("2026-04-30", "2026-03-31", "2026-02-28", "2026-01-31", "2025-12-31"),
    ]


def test_the_backups_kept_reach_back_over_a_gap() -> None:
    days = [TODAY - timedelta(days=n) for n in (200, 201, 202, 203)]
    assert to_keep(days, TODAY) == set(days)


@given(st.sets(dates), dates)
def test_the_newest_and_few_other_backups_are_kept(days: set[date], today: date) -> None:
    kept = to_keep(days, today)
    past = sorted(day for day in days if day <= today)
    assert kept <= days
    assert {day for day in days if day > today} <= kept
    assert set(past[-DAYS:]) <= kept
    assert len(kept & set(past)) <= DAYS + WEEKS + MONTHS
    assert to_keep(kept, today) == kept


@given(st.sets(dates, min_size=1))
def test_deleting_old_backups_daily_leaves_the_same_as_deleting_them_at_once(
    days: set[date],
) -> None:
    kept: Iterable[date] = ()
    for day in sorted(days):
        kept = to_keep({*kept, day}, day)
    assert kept == to_keep(days, max(days))


def test_a_backup_to_a_file_never_replaces_one(keeper: Keeper, tmp_path: Path) -> None:
    add_shelf(keeper, ShelfDraft("Larder"))
    copy = backup_to(keeper, tmp_path / "copy")
    assert planks(copy) == ["Larder"]
    for path in (copy, tmp_path, tmp_path / "nowhere" / "copy"):
        with pytest.raises(StoreError):
            backup_to(keeper, path)
    assert planks(copy) == ["Larder"]


def test_restore_shows_both_shelves_and_keeps_the_old_one(
    keeper: Keeper, clock: SetClock, tmp_path: Path
) -> None:
    shelf = keeper.store.path
    calendula(keeper)
    copy = backup_to(keeper, tmp_path / "copy")
    clock.advance(days=3)
    calendula(keeper, "Ginger")
    newer = keeper.rows("SELECT code FROM jar")
    keeper.store.close()

    plan = restore_plan(copy, shelf)
    assert plan.backup == ShelfSummary(copy, 1, 1, 0, 1, "2026-11-26T09:15:00.000000+00:00")
    assert plan.shelf == ShelfSummary(shelf, 2, 2, 0, 2, "2026-11-29T09:15:00.000000+00:00")

    kept = restore_from(copy, shelf)
    assert kept is not None
    restored = Keeper(Store.open(shelf), clock)
    assert restored.rows("SELECT code FROM jar") == [("26-001",)]
    assert check(restored) == []
    restored.store.close()
    old = Keeper(Store.open(kept), clock)
    assert old.rows("SELECT code FROM jar") == newer
    old.store.close()
    assert restore_plan(copy, shelf).backup == plan.backup  # the backup is as it was


def test_restore_works_where_there_is_no_shelf_yet(keeper: Keeper, tmp_path: Path) -> None:
    copy = backup_to(keeper, tmp_path / "copy")
    fresh = tmp_path / "fresh"
    assert restore_plan(copy, fresh).shelf is None
    assert restore_from(copy, fresh) is None
    Store.open(fresh).close()


def test_restore_replaces_a_damaged_shelf_with_its_log(
    keeper: Keeper, clock: SetClock, tmp_path: Path
) -> None:
    shelf = keeper.store.path
    add_shelf(keeper, ShelfDraft("Larder"))
    copy = backup_to(keeper, tmp_path / "copy")
    keeper.store.close()
    shelf.write_bytes(b"\xff" * 10_000)
    log = Path(f"{shelf}-wal")
    log.write_bytes(b"what was newest")
    plan = restore_plan(copy, shelf)
    assert plan.shelf is not None
    assert plan.shelf.trouble.endswith("is not a shelf file.")
    kept = restore_from(copy, shelf)
    assert kept is not None
    assert kept.read_bytes() == b"\xff" * 10_000
    assert Path(f"{kept}-wal").read_bytes() == b"what was newest"
    restored = Keeper(Store.open(shelf), clock)
    assert [row.name for row in shelf_rows(restored)] == ["Larder"]
    restored.store.close()


def test_restore_refuses_a_shelf_that_is_open(keeper: Keeper, tmp_path: Path) -> None:
    copy = backup_to(keeper, tmp_path / "copy")
    add_shelf(keeper, ShelfDraft("Larder"))
    before = names(tmp_path)
    with pytest.raises(StoreError, match="is open in another program"):
        restore_from(copy, keeper.store.path)
    assert names(tmp_path) == before
    assert [row.name for row in shelf_rows(keeper)] == ["Larder"]


def test_restore_refuses_what_is_no_backup(keeper: Keeper, tmp_path: Path) -> None:
    shelf = keeper.store.path
    keeper.store.close()
    before = shelf.read_bytes()
    letter = tmp_path / "letter.txt"
    letter.write_text("Dear Ann")
    for bad in (letter, tmp_path, tmp_path / "nowhere"):
        with pytest.raises(StoreError):
            restore_plan(bad, shelf)
        with pytest.raises(StoreError):
            restore_from(bad, shelf)
    with pytest.raises(Refused, match="the open shelf itself"):
        restore_from(shelf, shelf)
    assert shelf.read_bytes() == before


def test_what_was_entered_after_a_restore_by_another_program_is_refused_and_not_lost(
    keeper: Keeper, tmp_path: Path
) -> None:
    """A file put in the shelf's place by other means while it is open."""
    copy = backup_to(keeper, tmp_path / "copy")
    copy.replace(keeper.store.path)
    with pytest.raises(StoreError, match="no longer at"):
        add_shelf(keeper, ShelfDraft("Larder"))
