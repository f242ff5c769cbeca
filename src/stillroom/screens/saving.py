"""Asking where a finished document shall lie."""

from collections.abc import Callable
from pathlib import Path

from textual.app import ComposeResult
from textual.widgets import Static

from ..paper.files import write_file
from .dialog import Dialog
from .fields import Entry, words


class SaveDialog(Dialog[Path]):
    """A path for a document; a file that is there already is written over only when confirmed."""

    def __init__(self, title: str, preview: str, name: str, make: Callable[[], bytes]) -> None:
        super().__init__()
        self.TITLE_TEXT = title
        self.preview = preview
        self.default = f"~/{name}"
        self.make = make

    def compose_form(self) -> ComposeResult:
        """What it holds, and where to put it."""
        yield Static(self.preview, markup=False)
        yield Entry("File", words, self.default, id="file", classes="-wide")

    def keep(self) -> Path:
        """Make it and write it."""
        path = self.query_one("#file", Entry).needed()
        return write_file(path, self.make(), overwrite=self.confirmed)
