"""Choosing what on the shelf a calculation starts from."""

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.events import Key
from textual.widgets import Input

from stillroom.keeping.words import folded
from stillroom.screens.calculator.starts import Offer
from stillroom.screens.kit.columns import Cell, Column
from stillroom.screens.kit.dims_page import DimsPage
from stillroom.screens.kit.keyline import KeyLine
from stillroom.screens.kit.table import Table


class OffersScreen(DimsPage[Offer | None]):
    """What on the shelf a calculation can begin with."""

    BINDINGS = [
        Binding("escape", "leave", "Cancel", id="offers.leave", tooltip="Change nothing"),
        Binding("slash", "find", "Find", id="offers.find", key_display="/",
                tooltip="Find words in this list"),
    ]  # fmt: skip
    DEFAULT_CSS = """
    OffersScreen { align: center middle; }
    OffersScreen > Vertical {
        width: 72; max-width: 100%; height: auto; max-height: 100%; padding: 0 1;
        background: $background; border: round $primary; border-title-color: $accent;
        border-title-style: bold;
    }
    OffersScreen Input { background: $surface; text-style: underline; margin-bottom: 1; }
    OffersScreen Table { height: 14; max-height: 60vh; }
    OffersScreen KeyLine { dock: none; margin-top: 1; padding: 0; background: $background; }
    """
    AUTO_FOCUS = "Table"

    def __init__(self, heading: str, found: list[Offer]) -> None:
        super().__init__()
        self.heading = heading
        self.found = found

    def compose(self) -> ComposeResult:
        """The find line and the list."""
        with Vertical() as box:
            box.border_title = f"{self.heading}: start with"
            yield Input(placeholder="/ to find", compact=True)
            yield Table[Offer](
                (Column("", share=3), Column("", share=2)),
                lambda offer: (Cell(offer.words, is_marked=True), Cell(offer.note, "quiet")),
                lambda offer: offer.key,
            )
            yield KeyLine()

    def on_mount(self) -> None:
        """Show all of it."""
        self._show()

    @on(Input.Changed)
    def _show(self) -> None:
        sought = folded(self.query_one(Input).value).split()
        found = [
            offer
            for offer in self.found
            if all(word in folded(f"{offer.words} {offer.note}") for word in sought)
        ]
        self.query_one(Table).show(found, hint="Nothing matches.")

    @on(Input.Submitted)
    def _found(self) -> None:
        self.query_one(Table).focus()

    def on_key(self, event: Key) -> None:
        """From the line to find with, down goes to what was found."""
        if event.key == "down" and self.query_one(Input).has_focus:
            event.stop()
            self.query_one(Table).focus()

    @on(Table.Opened)
    def _take(self) -> None:
        self.dismiss(self.query_one(Table).selected)

    def action_find(self) -> None:
        """To the line to find with."""
        self.query_one(Input).focus()

    def action_leave(self) -> None:
        """Close the list with nothing chosen."""
        self.dismiss(None)
