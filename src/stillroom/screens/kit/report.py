"""A form that only reports something."""

from textual.app import ComposeResult
from textual.binding import Binding
from textual.widgets import Static

from stillroom.screens.kit.dialog import Dialog


class Report(Dialog[None]):
    """The outcome of something, to be read and closed."""

    BINDINGS = [
        Binding("enter", "leave", "Close", show=False, id="report.close", tooltip="Close this"),
    ]
    DISMISS = "Close"
    CHANGES_SHELF = False

    def __init__(self, title: str, sentences: str) -> None:
        super().__init__()
        self.TITLE_TEXT = title
        self.sentences = sentences

    def compose_form(self) -> ComposeResult:
        """The sentences to report."""
        yield Static(self.sentences, markup=False)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """There is nothing to save."""
        return action != "keep" and super().check_action(action, parameters)
