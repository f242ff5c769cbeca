"""Putting a backup in the shelf's place; the old shelf is kept."""

import os
import sqlite3
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from stillroom.dates import is_moment
from stillroom.errors import Refused, StoreError
from stillroom.files import draft_folder, free_name, identity, sync_folder
from stillroom.keeping.keeper import Keeper
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


def restore_plan(path: Path, shelf: Path) -> RestorePlan:
    """What restoring a backup would replace; StoreError if the backup isn't a complete shelf."""
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
    """Restore to the shelf a keeper has open: it is closed, replaced and opened again.

    Returns where the old shelf is kept. Where that fails, the old shelf is open again.
    """
    shelf = keeper.store.path
    keeper.store.close()
    try:
        return restore_from(path, shelf)
    finally:
        keeper.store = Store.open(shelf)
        keeper.forget_settings()


def _refuse_bad_backup(path: Path, shelf: Path) -> None:
    if not is_there(path):
        raise StoreError(f"There is no backup at {path}.")
    if identity(path) == identity(shelf):
        raise Refused("That is the open shelf itself.")
    refuse_what_is_not_a_shelf(path, newest_schema())


def _summary(path: Path) -> ShelfSummary:
    try:
        with closing(connect(path, looking_mode(path))) as shelf:
            jars, steeping, bottles, events, last_at = shelf.execute(
                """SELECT (SELECT count(*) FROM jar),
                          (SELECT count(*) FROM jar WHERE state = 'steeping'),
                          (SELECT count(*) FROM bottle), count(*), coalesce(max(at), '')
                   FROM event"""
            ).fetchone()
    except sqlite3.Error as error:
        return ShelfSummary(path, trouble=f"{path} can't be read: {error}.")
    if last_at and not is_moment(last_at):
        return ShelfSummary(path, trouble=f"{path} holds an impossible value, in event.")
    return ShelfSummary(path, jars, steeping, bottles, events, last_at)


def _set_aside(shelf: Path) -> Path | None:
    """Give the old shelf, and what SQLite left beside its path, another name; None without any."""
    kept = free_name(shelf, ".before-restore")
    if is_there(shelf):
        _refuse_if_open(shelf)
        try:
            os.link(shelf, kept)
        except OSError:  # no hard links here
            shelf.rename(kept)
    # A log left beside the restored shelf would be applied to it, whoever left it there.
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
