"""Backing the shelf up to a file, and restoring a backup."""

from datetime import date
from pathlib import Path

from textual.app import ComposeResult
from textual.widgets import Static

from stillroom.errors import NeedsConfirmation
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.shelf_file.backups import (
    backup_folder,
    backup_folders,
    backup_to,
    daily_backups,
    last_backup,
    word_about_folder,
)
from stillroom.keeping.shelf_file.restoring import ShelfSummary, restore_open, restore_plan
from stillroom.keeping.wording import Wording, wording
from stillroom.paths import typed_path
from stillroom.quantities import how_many
from stillroom.screens.kit.dialog import Dialog
from stillroom.screens.kit.fields import Entry, words

_LISTED = 3
"""Days of backups that are listed one by one."""


class BackupDialog(Dialog[Path]):
    """A complete copy of the shelf in one file."""

    TITLE_TEXT = "Back up"
    ACT = "Back up"
    CHANGES_SHELF = False

    def __init__(self, keeper: Keeper) -> None:
        super().__init__()
        self.keeper = keeper

    def compose_form(self) -> ComposeResult:
        """How the daily backups are doing, and where this one goes."""
        folder = backup_folder(self.keeper)
        status = last_backup(folder, self.keeper.path)
        last_on = wording(self.keeper).day(status.last_on)
        last = f"the last on {last_on}" if last_on else "none so far"
        yield Static(f"A backup is made automatically every day in {folder}: {last}.", markup=False)
        if word := word_about_folder(self.keeper):
            yield Static(f"! {word}", classes="problem", markup=False)
        if status.failure:
            said = f"! The last attempt failed: {status.failure}"
            yield Static(said, classes="problem", markup=False)
        name = f"{self.keeper.path.stem}-{self.keeper.today.isoformat()}-by-hand.stillroom"
        yield Entry("File", words, f"~/{name}", id="file", classes="-wide")

    def keep(self) -> Path:
        """Write it and check it."""
        path: str = self.query_one("#file", Entry).needed()
        return backup_to(self.keeper, typed_path(path))


class RestoreDialog(Dialog[str]):
    """A backup in the shelf's place; the shelf that was there is kept beside it."""

    TITLE_TEXT = "Restore a backup"
    ACT = "Restore"

    def __init__(self, keeper: Keeper) -> None:
        super().__init__()
        self.keeper = keeper

    def compose_form(self) -> ComposeResult:
        """Which backup; the newest is proposed."""
        days: dict[date, Path] = {}
        for folder in reversed(backup_folders(self.keeper)):
            days |= daily_backups(folder, self.keeper.path)
        newest_first = sorted(days, reverse=True)
        where = " and ".join(sorted({str(path.parent) for path in days.values()}))
        where = where or str(backup_folder(self.keeper))
        dates = (
            f", from {', '.join(map(wording(self.keeper).day, newest_first[:_LISTED]))}"
            if days
            else ""
        )
        more = f" and {len(days) - _LISTED} earlier days" if len(days) > _LISTED else ""
        yield Static(
            f"Daily backups are in {where}{dates}{more}. Close Stillroom in other windows first. "
            "The present shelf file is kept under another name.",
            markup=False,
        )
        newest = str(days[newest_first[0]]) if days else ""
        yield Entry("Backup", words, newest, id="file", classes="-wide", hint="path of the file")

    def keep(self) -> str:
        """Show what would be replaced; do it when asked again."""
        typed: str = self.query_one("#file", Entry).needed()
        path = typed_path(typed)
        plan = restore_plan(path, self.keeper.path)
        if not self.confirmed:
            said = wording(self.keeper)
            now = _at_a_glance(plan.shelf, said) if plan.shelf else "gone"
            raise NeedsConfirmation(
                f"The backup: {_at_a_glance(plan.backup, said)}. The shelf now: {now}. "
                "Replace the shelf with the backup?"
            )
        self.host.at_rest.wait()  # or our own thread would have the shelf open
        kept = restore_open(self.keeper, path)
        return (
            f"Restored {path.name}. The earlier shelf is kept in {kept}; restore that file to "
            "have it back."
            if kept
            else "Restored."
        )


def _at_a_glance(shelf: ShelfSummary, said: Wording) -> str:
    if shelf.trouble:
        return shelf.trouble
    last = f", last written {said.moment(shelf.last_at)}" if shelf.last_at else ""
    jars, bottles = how_many(shelf.jars, "jar"), how_many(shelf.bottles, "bottle")
    return f"{jars}, {bottles}, {how_many(shelf.events, 'ledger line')}{last}"
