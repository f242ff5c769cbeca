"""One call of a command: what was asked for, and the shelf it works on."""

from argparse import Action, ArgumentParser, ArgumentTypeError, Namespace
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

from stillroom.clock import Clock
from stillroom.errors import StillroomError
from stillroom.paths import typed_path

# Not every command needs a shelf: the calculators don't wait for the database's library.
if TYPE_CHECKING:
    from stillroom.keeping.keeper import Keeper
    from stillroom.keeping.settings import Settings
    from stillroom.keeping.wording import Wording


class OpenShelf(Protocol):
    """Opens the shelf that was asked for; the caller sees to its closing."""

    def __call__(self, *, create: bool = False) -> "Keeper":
        """Open it, making the default one if `create`."""
        ...


CONFIRM_FOLDER = "To confirm it, run stillroom backup --confirm-folder."


@dataclass
class Call:
    """What a command works with."""

    asked: Namespace
    shelf_file: Path
    """Where the shelf file is or will be."""
    clock: Clock
    open_shelf: OpenShelf
    is_done: bool = False
    """Whether it has changed a shelf or written a file, of which only the report is missing."""
    after_report: Callable[[], None] | None = None
    """What is to be done once the report has been written, and only then."""
    content: bytes = b""
    """What goes to the standard output and isn't text."""
    begins_shelf: bool = False
    """Whether this may be the first thing done: the default shelf is created if there is none."""
    warning: str = ""
    """What else to know of what was done, such as what didn't work, for the standard error."""

    @cached_property
    def keeper(self) -> "Keeper":
        """The shelf, opened when first needed."""
        keeper = self.open_shelf(create=self.begins_shelf)
        if self.begins_shelf and keeper.store.is_new and not (self.asked.new or self.asked.sample):
            self.warning = f"This is the first entry of a new shelf: {keeper.path}."
        return keeper

    def begin_shelf(self) -> None:
        """From now on, create the default shelf if there is none; a dry run creates nothing."""
        self.begins_shelf = not self.asked.dry_run

    @property
    def trouble(self) -> str:
        """What is wrong with a shelf that can still be read; blank if nothing."""
        opened: Keeper | None = self.__dict__.get("keeper")
        if not opened:
            return ""
        from stillroom.keeping.settings import word_about_settings

        try:
            word = word_about_settings(opened)
        except StillroomError:  # it was taken away, or the command has met the same
            word = ""
        return " ".join(filter(None, [opened.trouble, word]))

    def broken_values(self) -> str:
        """Values in the shelf that break its rules, in words; blank if none."""
        from stillroom.keeping.shelf_file.check import broken_values

        opened: Keeper | None = self.__dict__.get("keeper")
        # A shelf made only for what has failed is gone by now.
        return broken_values(opened) if opened and opened.path.exists() else ""

    def keeper_to_change(self, *, create: bool = False, backup: bool = True) -> "Keeper":
        """The shelf, with the backup of the day made before its first change.

        A backup that fails does not stop the work; `today` reports it.
        """
        from stillroom.keeping.shelf_file.backups import backup_folder, backup_if_due, is_bare

        if create:
            self.keeper = self.open_shelf(create=True)
        if getattr(self.asked, "yes", False):
            self.keeper.trust_date()
        self.keeper.give_reason(getattr(self.asked, "why", ""))
        if backup and not (self.asked.sample or self.keeper.store.is_new or is_bare(self.keeper)):
            backup_if_due(self.keeper, backup_folder(self.keeper))
        return self.keeper

    @cached_property
    def settings(self) -> "Settings":
        """The settings of this shelf."""

        from stillroom.keeping.settings import settings_of

        return settings_of(self.keeper)

    @cached_property
    def wording(self) -> "Wording":
        """How this shelf writes figures and days."""
        from stillroom.keeping.wording import Wording

        return Wording.of_shelf(self.settings)


@dataclass(frozen=True)
class Command:
    """One word of the command line."""

    arguments: Callable[[ArgumentParser], None]
    run: Callable[[Call], int]
    """Returns the exit code; what cannot be done is raised."""
    notes: str = ""
    """Further help, below the arguments."""
    help: type[Action] | None = None
    """What --help does in place of the usual."""


def yes_option(
    parser: ArgumentParser, what: str = "go ahead even if this computer's date is in doubt"
) -> None:
    """The option that answers a question beforehand."""
    parser.add_argument("--yes", action="store_true", help=what)


def why_option(parser: ArgumentParser) -> None:
    """The option that gives a reason."""
    parser.add_argument(
        "--why",
        default="",
        metavar="TEXT",
        help="the reason; needed to change a closed month or batch record",
    )


def named_path(text: str) -> Path:
    """The path that an argument names."""
    if not text.strip():
        raise ArgumentTypeError("the name is empty")
    return typed_path(text)


def json_option(parser: ArgumentParser) -> None:
    parser.add_argument("--json", action="store_true", help="print JSON")
