"""The backup of the day, made aside from the screen."""

import asyncio
from contextlib import suppress
from datetime import date
from pathlib import Path

from stillroom.errors import StillroomError
from stillroom.keeping.trusted import folder_in_doubt
from stillroom.screens.host import Host

BACKUP_FOLDER = "backup_folder"
"""The setting that holds where backups go."""


class DailyBackup:
    """Makes the backup of the day, and knows whether it failed."""

    def __init__(self, host: Host) -> None:
        self.failure = ""
        """Why today's could not be made; blank where it could, or nothing is known yet."""
        self._host = host
        self._made: tuple[date, Path] | None = None
        """The day and place of the last backup that was made or found there."""
        self._one_at_a_time = asyncio.Lock()
        self._warning = ""
        self._folder: tuple[str, bool] | None = None
        self.goes_elsewhere()

    async def make(self) -> None:
        """Make it where it is due. A failure is shown.

        The shelf is read here; only the copy, on a connection of its own, is made in a thread.
        One that is being made is never broken off: the next one waits, and finds it done.
        """
        from stillroom.keeping.shelf_file.backups import (
            backup_folder,
            backup_if_due,
            is_bare,
            word_about_folder,
        )

        keeper = self._host.keeper
        async with self._one_at_a_time:
            try:
                folder, bare = backup_folder(keeper), is_bare(keeper)
                warning = word_about_folder(keeper)
            except StillroomError:  # the pages show why
                return
            if warning and warning != self._warning:
                self._warning = warning
                self._host.complain(f"{warning} To confirm it, save it in the settings.")
            due = (keeper.today, folder)
            if bare or due == self._made:  # a stick may be pulled out once it has the day's
                return
            report = await asyncio.to_thread(backup_if_due, keeper, folder)
            self._made = due if not report.failure else None
            self._show(report.failure)

    def goes_elsewhere(self) -> bool:
        """Whether another folder has been set or confirmed since this was last asked.

        It is tried at once, so that one that cannot be used is shown at once.
        """
        before = self._folder
        with suppress(StillroomError):  # the pages show it
            keeper = self._host.keeper
            self._folder = keeper.setting(BACKUP_FOLDER), folder_in_doubt(keeper) is not None
        return self._folder != before

    def _show(self, failure: str) -> None:
        if failure and failure != self.failure:
            self._host.complain(f"Today's backup failed. {failure}")
        if failure != self.failure:
            self.failure = failure
            self._host.shelf_changed.publish(None)
