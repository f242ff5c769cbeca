"""The frame of a page that is one long list: find in it, with details of the chosen line."""

from rich.text import Text
from textual.app import ComposeResult
from textual.binding import Binding
from textual.widget import Widget
from textual.widgets import Input, Static

from stillroom.keeping.keeper import Keeper
from stillroom.keeping.words import folded
from stillroom.screens.kit.find_page import FindPage
from stillroom.screens.kit.lines import show
from stillroom.screens.kit.table import Table


def as_sought(*texts: str) -> str:
    """Texts as one in which words are sought; no word can be found across two of them."""
    return folded("\n".join(texts))


class ListPage(FindPage):
    """A page with a list, a few lines about the chosen row, and a find line."""

    DEFAULT_CSS = """
    ListPage > #about {
        height: auto; max-height: 50%; padding: 0 1; background: $surface; display: none;
    }
    ListPage > #about.-told { display: block; }
    """

    def __init__(self, keeper: Keeper) -> None:
        super().__init__(keeper)
        self._words: list[str] = []

    def compose_list(self) -> ComposeResult:
        """The list, with an id of its own, and whatever else is above the lines about a row."""
        raise NotImplementedError

    def compose_page(self) -> ComposeResult:
        """List, lines about the chosen row, line to find with."""
        yield from self.compose_list()
        yield Static("", id="about", markup=False)
        yield self.find_line()

    def about(self, text: Text | str) -> None:
        """Show details of the chosen row; blank hides the lines."""
        panel = self.query_one("#about", Static)
        show(panel, text)
        panel.set_class(bool(text), "-told")

    @property
    def found(self) -> Widget:
        """The table to search."""
        return self.query_one(Table)

    def seek(self, text: str) -> None:
        """Look for these words from now on."""
        super().seek(text)
        self._words = folded(text).split()

    def matches(self, *texts: str) -> bool:
        """Whether every sought word occurs in one of these texts."""
        return not self._words or self.matches_folded(as_sought(*texts))

    def matches_folded(self, text: str) -> bool:
        """Whether every sought word occurs in a text that `as_sought` made."""
        return all(word in text for word in self._words)


class OverPage(ListPage):
    """A list opened over another page."""

    BINDINGS = [
        Binding("escape", "back", "Back", id="list.back", tooltip="Go back to where you came from"),
    ]

    def action_back(self) -> None:
        """Close the line to find with, or else the page."""
        if self.query_one("#find", Input).display:
            self.action_stop_finding()
        elif self.is_active:
            self.app.pop_screen()
