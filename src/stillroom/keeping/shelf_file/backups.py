"""Copies of the shelf: one a day by itself, one to any file at will, and back again.

Nothing here uses the shelf's own connection, so `backup_if_due` may run in a thread.
"""

import os
import sqlite3
from collections.abc import Callable, Iterable
from contextlib import closing
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from zlib import crc32

from stillroom.errors import Refused, StillroomError, StoreError
from stillroom.files import (
    SHELF_ENDING,
    clear_drafts,
    draft_folder,
    free_name,
    identity,
    make_folder,
    refuse_name_of_log,
    sync_folder,
    write_new,
)
from stillroom.keeping.keeper import LAST_ENTRY, Keeper, doubt
from stillroom.keeping.trusted import folder_in_doubt
from stillroom.paths import refuse_unusable, typed_path
from stillroom.records.connecting import connect
from stillroom.records.disk import error_code
from stillroom.records.logs import set_logs_aside
from stillroom.records.schema import newest_schema
from stillroom.records.shelf_file import (
    behind_link,
    copy_shelf,
    is_there,
    looking_mode,
    refuse_what_is_not_a_shelf,
)
from stillroom.records.store import Store

DAYS, WEEKS, MONTHS = 7, 5, 12
"""Backups kept: of the newest days, and the last of the newest weeks and months that have any."""

SUFFIX = SHELF_ENDING
BESIDE = "backups"
"""The folder beside the shelf."""


@dataclass(frozen=True)
class BackupReport:
    """What came of the daily backup."""

    day: date
    path: Path | None = None
    """The backup of that day; None where there is none."""
    made: bool = False
    """Whether it was made just now."""
    failure: str = ""
    """Why it could not be made, or old ones not be cleared away, in a sentence."""


@dataclass(frozen=True)
class BackupStatus:
    """How the daily backups stand."""

    last_on: date | None
    """The day of the newest one."""
    failed_on: date | None = None
    """The day of the last attempt, where it failed."""
    failure: str = ""


@dataclass(frozen=True)
class ShelfSummary:
    """A shelf file at a glance."""

    path: Path
    jars: int = 0
    steeping: int = 0
    bottles: int = 0
    events: int = 0
    last_at: str = ""
    """The moment of its newest event, ISO 8601 in UTC; blank where nothing has happened yet."""
    trouble: str = ""
    """Why it cannot be read, where it cannot."""


@dataclass(frozen=True)
class RestorePlan:
    """What restoring would put in the place of what."""

    backup: ShelfSummary
    shelf: ShelfSummary | None
    """The shelf that would be kept under another name; None where there is none."""


def backup_folder(keeper: Keeper) -> Path:
    """Where the daily backups go: beside the shelf, unless another folder was set.

    One that came with the file has to be confirmed once on this computer.
    """
    chosen = keeper.setting("backup_folder")
    if not chosen or folder_in_doubt(keeper):
        return _beside(keeper.store.path)
    return typed_path(chosen)


def word_about_folder(keeper: Keeper) -> str:
    """Why backups do not go where the shelf says, where they do not."""
    folder = folder_in_doubt(keeper)
    if folder is None:
        return ""
    return (
        f"This shelf names {folder} for its backups, which was never confirmed on this computer. "
        f"Until then they go to {_beside(keeper.store.path)}."
    )


def backup_folders(keeper: Keeper) -> list[Path]:
    """Where daily backups may lie: the folder they go to, and the one beside the shelf."""
    return list(dict.fromkeys([backup_folder(keeper), _beside(keeper.store.path)]))


def _beside(shelf: Path) -> Path:
    return shelf.absolute().with_name(BESIDE)


def is_bare(keeper: Keeper) -> bool:
    """Whether nothing has been written down yet: the backup of a first day shall hold its work."""
    return not keeper.rows("SELECT 1 FROM event LIMIT 1")


def backup_if_due(keeper: Keeper, folder: Path) -> BackupReport:
    """Make the backup of today unless there is one, and clear away those no longer kept.

    Never raises: a failure is reported, and remembered for `last_backup`.
    """
    today, shelf = keeper.today, keeper.store.path
    if keeper.store.read_only:
        return BackupReport(today)
    target, made = None, False
    doubtful = "" if keeper.trusts_date else doubt(keeper.clock.now(), _last_entry(shelf))
    if doubtful:  # a backup of a day to come would never be cleared away
        return BackupReport(today, failure=doubtful)
    try:
        refuse_unusable(folder)
        target = folder / f"{_prefix(folder, shelf)}{today.isoformat()}{SUFFIX}"
        if not target.is_file():
            _make_or_miss(folder, shelf)
            copy_shelf(shelf, target)
            made = True
            _clear_away(folder, shelf, today)
            clear_drafts(shelf.parent)
    except (StillroomError, OSError) as error:
        failure = f"{folder}: {error.strerror}." if isinstance(error, OSError) else str(error)
        _remember_failure(shelf, today, failure)
        return BackupReport(today, target if made else None, made, failure)
    _forget_failure(shelf)
    return BackupReport(today, target, made)


def _last_entry(shelf: Path) -> str:
    try:
        with closing(connect(shelf, looking_mode(shelf))) as opened:
            last = opened.execute(LAST_ENTRY).fetchone()
    except sqlite3.Error:  # told when the copy fails
        return ""
    return str(last[0]) if last else ""


def _make_or_miss(folder: Path, shelf: Path) -> None:
    """Make the folder beside the shelf; one that the keeper chose was there once, or is missing."""
    if folder == _beside(shelf):
        make_folder(folder)
    elif not folder.is_dir():
        raise StillroomError(
            f"The folder {folder} is missing. Is its disk or memory stick plugged in?"
        )


def daily_backups(folder: Path, shelf: Path) -> dict[date, Path]:
    """The daily backups of a shelf, oldest first; none where the folder cannot be read."""
    try:
        refuse_unusable(folder)
        return dict(sorted(_backups(folder, shelf).items()))
    except (StillroomError, OSError):
        return {}


def last_backup(folder: Path, shelf: Path) -> BackupStatus:
    """The newest daily backup of a shelf, and the failure of the latest attempt if it failed."""
    last_on = max(daily_backups(folder, shelf), default=None)
    try:
        day, _, failure = _failure_note(shelf).read_text(encoding="utf-8").partition("\n")
        return BackupStatus(last_on, date.fromisoformat(day), failure.strip())
    except (OSError, ValueError):
        return BackupStatus(last_on)


def to_keep(days: Iterable[date], today: date) -> set[date]:
    """The days whose backups stay.

    Gaps do not count: after a summer away the last seven days worked are still there. Days after
    `today` stay too, as the clock may have been set back.
    """
    days = set(days)
    past = sorted((day for day in days if day <= today), reverse=True)
    return (
        {day for day in days if day > today}
        | set(past[:DAYS])
        | _newest_of_each(past, lambda day: day.isocalendar()[:2], WEEKS)
        | _newest_of_each(past, lambda day: (day.year, day.month), MONTHS)
    )


def backup_to(keeper: Keeper, path: Path) -> Path:
    """Write a checked copy of the shelf to a new file; StillroomError where it cannot be done."""
    refuse_unusable(path)
    if path.is_dir():
        raise StoreError(f"{path} is a folder. Enter a file in it.")
    refuse_name_of_log(path.resolve())
    copy_shelf(keeper.store.path, path)
    return path


def restore_plan(path: Path, shelf: Path) -> RestorePlan:
    """What restoring a backup would replace; StoreError where the backup is no whole shelf."""
    _refuse_bad_backup(path, shelf)
    shelf = behind_link(shelf)
    if not is_there(shelf):
        return RestorePlan(_summary(path), None)
    try:
        refuse_what_is_not_a_shelf(shelf, newest_schema())
        return RestorePlan(_summary(path), _summary(shelf))
    except StoreError as error:
        return RestorePlan(_summary(path), ShelfSummary(shelf, trouble=str(error)))


def restore_from(path: Path, shelf: Path) -> Path | None:
    """Put a backup in the shelf's place; returns where the old shelf is kept, if there was one.

    Nobody may have the shelf open. Raises StoreError, with both files as they were.
    """
    _refuse_bad_backup(path, shelf)
    shelf = behind_link(shelf)  # a rename would replace the link
    try:
        with draft_folder(shelf.parent) as drafts:
            fresh = drafts / "restored"
            copy_shelf(path, fresh)
            kept = _set_aside(shelf)
            # Or a power cut could leave the new name on the disk beside the old log.
            sync_folder(shelf.parent)
            fresh.replace(shelf)
            sync_folder(shelf.parent)
    except OSError as error:
        raise StoreError(f"{shelf} can't be replaced: {error.strerror}.") from error
    return kept


def restore_open(keeper: Keeper, path: Path) -> Path | None:
    """Restore to the shelf a keeper has open: it is let go of, replaced and opened again.

    Returns where the old shelf is kept. Where that fails, the old shelf is open again.
    """
    shelf = keeper.store.path
    keeper.store.close()
    try:
        return restore_from(path, shelf)
    finally:
        keeper.store = Store.open(shelf)
        keeper.forget_settings()


def _prefix(folder: Path, shelf: Path) -> str:
    """How the names of a shelf's backups begin.

    Backups of other shelves of that name may lie in the same folder, unless it is the one beside
    the shelf: there a tag made from the shelf's own place tells them apart.
    """
    place = shelf.resolve()
    if folder.resolve() == place.with_name(BESIDE) and shelf.suffix == SUFFIX:
        return f"{shelf.stem}-"
    return f"{shelf.stem}-{crc32(os.fsencode(place)):08x}-"


def _backups(folder: Path, shelf: Path) -> dict[date, Path]:
    """The daily backups of a shelf by day; any other file in the folder is none of ours."""
    found = {}
    prefix = _prefix(folder, shelf)
    for path in folder.iterdir():
        day = path.name.removeprefix(prefix).removesuffix(SUFFIX)
        if path.name == f"{prefix}{day}{SUFFIX}":
            try:
                found[date.fromisoformat(day)] = path
            except ValueError:
                continue
    return {day: path for day, path in found.items() if day.isoformat() in path.name}


def _clear_away(folder: Path, shelf: Path, today: date) -> None:
    backups = _backups(folder, shelf)
    for day in backups.keys() - to_keep(backups, today):
        backups[day].unlink(missing_ok=True)
    draft = f".{_prefix(folder, shelf)}"
    # Drafts of backups that a power cut ended; today's may be another program's, still at work.
    for path in folder.iterdir():
        is_draft = path.name.startswith(draft) and ".part" in path.suffix
        if is_draft and not path.name.startswith(f"{draft}{today.isoformat()}"):
            path.unlink(missing_ok=True)
    sync_folder(folder)


def _newest_of_each(
    newest_first: list[date], period: Callable[[date], object], count: int
) -> set[date]:
    newest: dict[object, date] = {}
    for day in newest_first:
        newest.setdefault(period(day), day)
    return set(list(newest.values())[:count])


def _failure_note(shelf: Path) -> Path:
    """Beside the shelf rather than in the backups' folder, which may be what is missing."""
    return shelf.with_name(f"{shelf.name}.backup-failed")


def _remember_failure(shelf: Path, day: date, failure: str) -> None:
    try:
        with draft_folder(shelf.parent) as folder:
            write_new(
                folder / "draft",
                f"{day.isoformat()}\n{failure}\n".encode(errors="backslashreplace"),
            )
            (folder / "draft").replace(_failure_note(shelf))
    except OSError:
        pass  # a disk that takes no note has taken no backup: the day of the last one tells


def _forget_failure(shelf: Path) -> None:
    try:
        _failure_note(shelf).unlink(missing_ok=True)
    except OSError:
        pass


def _refuse_bad_backup(path: Path, shelf: Path) -> None:
    if not is_there(path):
        raise StoreError(f"There is no backup at {path}.")
    if identity(path) == identity(shelf):
        raise Refused("That is the open shelf itself.")
    refuse_what_is_not_a_shelf(path, newest_schema())


def _summary(path: Path) -> ShelfSummary:
    try:
        with closing(connect(path, looking_mode(path))) as shelf:
            return ShelfSummary(
                path,
                *shelf.execute(
                    """SELECT (SELECT count(*) FROM jar),
                              (SELECT count(*) FROM jar WHERE state = 'steeping'),
                              (SELECT count(*) FROM bottle), count(*), coalesce(max(at), '')
                       FROM event"""
                ).fetchone(),
            )
    except sqlite3.Error as error:
        return ShelfSummary(path, trouble=f"{path} can't be read: {error}.")


def _set_aside(shelf: Path) -> Path | None:
    """Give the old shelf, and what SQLite left beside its path, another name; None without any."""
    kept = free_name(shelf, ".before-restore")
    if is_there(shelf):
        _refuse_if_open(shelf)
        try:
            os.link(shelf, kept)
        except OSError:  # no hard links here
            shelf.rename(kept)
    # A log left beside the restored shelf would be played into it, whoever left it there.
    logs = set_logs_aside(shelf, kept)
    return kept if kept.exists() else next(iter(logs), None)


def _refuse_if_open(shelf: Path) -> None:
    """Raise StoreError where a program has the shelf open; otherwise make it one single file."""
    try:
        refuse_what_is_not_a_shelf(shelf, newest_schema())
    except StoreError as error:
        if error.__cause__ is not None and error_code(error.__cause__) == sqlite3.SQLITE_BUSY:
            raise
        return  # it is set aside as it is: opening what is damaged could lose what its log holds
    try:
        with closing(connect(shelf, "mode=rw")) as old:
            # Only for one who is alone with the file; at its closing the log is folded in.
            old.execute("PRAGMA locking_mode = EXCLUSIVE")
            old.execute("BEGIN IMMEDIATE")
            old.execute("ROLLBACK")
    except sqlite3.Error as error:
        raise StoreError(
            f"The shelf {shelf} is open in another program. Close it first."
        ) from error
