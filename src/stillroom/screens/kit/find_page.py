"""A page with a find line: words typed into it narrow what is shown above it."""

from typing import ClassVar

from textual import on
from textual.binding import Binding
from textual.events import Key
from textual.widget import Widget
from textual.widgets import Input

from stillroom.screens.kit.page import Page


class FindPage(Page):
    """A page whose jars or lines can be narrowed to those with some words."""

    FIND_HINT: ClassVar[str] = ""
    """What can be found here, shown in the empty line."""

    BINDINGS = [
        # With priority, so that words typed in the same breath are words and not keys.
        Binding("slash", "find", "Find", id="find.open", key_display="/", priority=True,
                tooltip="Find words on this page"),
        Binding("escape", "stop_finding", "Show all", show=False, id="find.show_all",
                tooltip="Show everything again"),
    ]  # fmt: skip
    DEFAULT_CSS = """
    FindPage > #find { display: none; height: 1; background: $surface; text-style: underline; }
    """

    sought = ""
    """The words in the line to find with."""

    def find_line(self) -> Input:
        """The line to find with, for the page to compose at its foot."""
        return Input(placeholder=self.FIND_HINT, compact=True, id="find")

    @property
    def found(self) -> Widget:
        """What is narrowed, and has the keys again once it is."""
        raise NotImplementedError

    def seek(self, text: str) -> None:
        """Look for these words from now on."""
        self.sought = text

    def show_rows(self) -> None:
        """Show what passes the sought words."""
        raise NotImplementedError

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Within a line to type in, a slash is a letter like any other."""
        if action == "find" and isinstance(self.focused, Input):
            return False
        return super().check_action(action, parameters)

    def action_find(self) -> None:
        """Open the line to find with."""
        line = self.query_one("#find", Input)
        line.display = True
        self.set_focus(line)

    def look_for(self, text: str) -> None:
        """Show what has these words, as if they had been typed."""
        self.action_find()
        self.query_one("#find", Input).value = text
        self.found.focus()

    def action_stop_finding(self) -> None:
        """Show everything again."""
        line = self.query_one("#find", Input)
        line.value = ""
        line.display = False
        self.seek("")
        self.show_rows()
        self.found.focus()

    @on(Input.Changed, "#find")
    def _finding(self, event: Input.Changed) -> None:
        if event.value != self.sought:
            self.seek(event.value)
            self.show_rows()

    @on(Input.Submitted, "#find")
    def _submitted(self) -> None:
        self.go_to_found()

    def go_to_found(self) -> None:
        """Give the keys to what was found."""
        self.found.focus()

    def on_key(self, event: Key) -> None:
        """From the line to find with, down goes to what was found."""
        if event.key == "down" and self.query_one("#find", Input).has_focus:
            event.stop()
            self.found.focus()
