"""What pages and forms may ask of the program that shows them.

The app imports the pages; the pages import only this.
"""

from typing import TYPE_CHECKING, Any, Protocol, TypeVar, cast, runtime_checkable

from rich.text import Text
from textual.dom import DOMNode
from textual.screen import Screen
from textual.signal import Signal

from stillroom.errors import StillroomError
from stillroom.keeping.at_rest import AtRest
from stillroom.keeping.cards import JarCard
from stillroom.keeping.keeper import Keeper

if TYPE_CHECKING:
    from stillroom.keeping.correcting.kinds import Subject
    from stillroom.keeping.trace.views import ScannedThing
    from stillroom.keeping.views import BottleRow
    from stillroom.keeping.year.asked import YearAsked

R = TypeVar("R")
Row = tuple[str, int]
"""A table and the id of a row in it."""


class Host(Protocol):
    """The program, as its pages and forms see it."""

    keeper: Keeper
    is_plain: bool
    """Whether the terminal has only the plainest glyphs and sixteen colours."""
    at_rest: AtRest
    """Folds the shelf's log into its file."""
    shelf_changed: Signal[None]
    """Published whenever the shelf has changed, here or in another program."""

    @property
    def badge(self) -> Text:
        """What to remember about this shelf, shown beside the day."""

    def complain(self, problem: str) -> None:
        """Show what was refused."""

    def refuse(self, error: StillroomError) -> None:
        """Show what a use case refused; ask about a date in doubt."""

    def say(self, sentence: str) -> None:
        """Show what was done."""

    def changed(self, sentence: str = "") -> None:
        """Have every page read the shelf again, after this program has changed it."""

    async def push_screen_wait(self, screen: Screen[R]) -> R | Any:
        """Open a form and return what comes of it."""

    def open_jar(self, jar_id: int) -> None:
        """Open the page of a jar over the page in sight."""

    async def show_jar(self, jar_id: int) -> None:
        """Turn to the shelves, the cursor on a jar."""

    def open_bottle(self, bottle_id: int) -> None:
        """Open the page of a bottle over the page in sight."""

    def correct(self, subject: "Subject", row: Row | None = None) -> object:
        """Open the form that corrects, beginning with the facts of a row where one is named."""

    def calculate(self, start: "JarCard | BottleRow") -> object:
        """Open a calculator that starts with a jar or a bottle."""

    def show_papers(self, first: str, asked: "YearAsked | None" = None) -> object:
        """Open the form that prints, with one of the papers and its days chosen.

        Papers of a period are about this year so far where nothing is asked.
        """


@runtime_checkable
class TakesScans(Protocol):
    """A form or view that has a use of its own for a scanned code."""

    def take_scan(self, thing: "ScannedThing") -> object:
        """Do with it what is meant here."""


def host_of(node: DOMNode) -> Host:
    """The program that a page or form is part of."""
    return cast("Host", node.app)
