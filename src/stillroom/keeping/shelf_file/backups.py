"""Copies of the shelf: one a day, made automatically, and one to any file at will.

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

from stillroom.errors import StillroomError, StoreError
from stillroom.files import (
    SHELF_ENDING,
    clear_drafts,
    draft_folder,
    make_folder,
    refuse_name_of_log,
    sync_folder,
    write_new,
)
from stillroom.keeping.keeper import LAST_ENTRY, Keeper, doubt
from stillroom.keeping.trusted import folder_in_doubt
from stillroom.paths import refuse_unusable, typed_path
from stillroom.records.connecting import connect
from stillroom.records.shelf_file import (
    copy_shelf,
    looking_mode,
)

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
    """The state of the daily backups."""

    last_on: date | None
    """The day of the newest one."""
    failed_on: date | None = None
    """The day of the last attempt, where it failed."""
    failure: str = ""


def backup_folder(keeper: Keeper) -> Path:
    """Where the daily backups go: beside the shelf, unless another folder was set.

    One that came with the file has to be confirmed once on this computer.
    """
    chosen = keeper.setting("backup_folder")
    if not chosen or folder_in_doubt(keeper):
        return _beside(keeper.store.path)
    return typed_path(chosen)


def word_about_folder(keeper: Keeper) -> str:
    """Why backups don't go to the shelf's own folder, if they don't."""
    folder = folder_in_doubt(keeper)
    if folder is None:
        return ""
    return (
        f"This shelf sends its backups to {folder}, which was never confirmed on this computer. "
        f"Until it is, they go to {_beside(keeper.store.path)}."
    )


def backup_folders(keeper: Keeper) -> list[Path]:
    """Where daily backups may be: the folder they go to, and the one beside the shelf."""
    return list(dict.fromkeys([backup_folder(keeper), _beside(keeper.store.path)]))


def _beside(shelf: Path) -> Path:
    return shelf.absolute().with_name(BESIDE)


def is_bare(keeper: Keeper) -> bool:
    """Whether nothing has been recorded yet: the first day's backup should hold its work."""
    return not keeper.rows("SELECT 1 FROM event LIMIT 1")


def backup_if_due(keeper: Keeper, folder: Path) -> BackupReport:
    """Make the backup of today unless there is one, and clear away those no longer kept.

    Never raises: a failure is reported, and remembered for `last_backup`.
    """
    today, shelf = keeper.today, keeper.store.path
    if keeper.store.read_only:
        return BackupReport(today)
    target, made = None, False
    try:
        refuse_unusable(folder)
        target = folder / f"{_prefix(folder, shelf)}{today.isoformat()}{SUFFIX}"
        if not target.is_file():
            if doubtful := _doubt(keeper):  # a backup of a day to come would never be cleared away
                return BackupReport(today, failure=doubtful)
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


def _doubt(keeper: Keeper) -> str:
    """Why today cannot be the date, on a connection of its own; blank where there is no doubt."""
    if keeper.trusts_date:
        return ""
    shelf = keeper.store.path
    try:
        with closing(connect(shelf, looking_mode(shelf))) as opened:
            last = opened.execute(LAST_ENTRY).fetchone()
    except sqlite3.Error:  # reported when the copy fails
        return ""
    return doubt(keeper.clock.now(), str(last[0]) if last else "")


def _make_or_miss(folder: Path, shelf: Path) -> None:
    """Make the folder beside the shelf; one that the user chose existed once, or is missing."""
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
        pass  # a disk that takes no note took no backup either; the last one's date shows that


def _forget_failure(shelf: Path) -> None:
    try:
        _failure_note(shelf).unlink(missing_ok=True)
    except OSError:
        pass
