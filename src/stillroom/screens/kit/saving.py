"""Forms that write a file: a preview of it, and where it goes."""

from collections.abc import Callable, Iterator
from pathlib import Path

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import VerticalScroll
from textual.widget import Widget
from textual.widgets import Static

from stillroom.files import write_file
from stillroom.keeping.print_command import can_print, print_file
from stillroom.screens.kit.choice import Pick
from stillroom.screens.kit.dialog import Dialog
from stillroom.screens.kit.fields import Entry, words

_READERS = (("me", "only me"), ("all", "all users of this computer"))
_ALL = "all"
_THEN = (("no", "nothing more"), ("print", "print it"))
_PRINT = "print"


class FileDialog(Dialog[Path]):
    """A file to write; an existing one is replaced only when confirmed."""

    BINDINGS = [
        Binding("pagedown", "scroll_seen(1)", "Scroll down", id="file.down", priority=True,
                tooltip="Scroll down in the preview"),
        Binding("pageup", "scroll_seen(-1)", "Scroll up", show=False, id="file.up", priority=True,
                tooltip="Scroll up in the preview"),
    ]  # fmt: skip
    ACT = "Write file"
    CHANGES_SHELF = False
    DEFAULT_CSS = """
    FileDialog .file--seen {
        height: auto; max-height: 12; border: solid $secondary; padding: 0 1;
    }
    """

    FILE = ""
    """The name proposed."""

    def file_fields(self) -> Iterator[Widget]:
        """The path, and who may read the file: nobody else unless chosen, as it may name people."""
        yield Entry("File", words, f"~/{self.FILE}", id="file", classes="-wide")
        yield Pick("Readable by", _READERS, id="readers", classes="-half")
        if can_print(self.host.keeper):
            yield Pick("Then", _THEN, id="then", classes="-half")

    def seen(self, text: str) -> VerticalScroll:
        """A preview of what the file will hold."""
        panel = VerticalScroll(Static(text, markup=False), classes="file--seen", can_focus=False)
        panel.border_title = "Preview"
        return panel

    def content(self) -> bytes:
        """What to write; raises StillroomError with the reason it can't be written."""
        raise NotImplementedError

    def action_scroll_seen(self, pages: int) -> None:
        """Scroll the preview."""
        for panel in self.query(".file--seen"):
            panel.scroll_relative(y=pages * max(1, panel.size.height - 1), animate=False)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """There may be nothing to scroll through."""
        if action == "scroll_seen":
            return bool(self.query(".file--seen"))
        return super().check_action(action, parameters)

    def keep(self) -> Path:
        """Make it and write it."""
        path = self.query_one("#file", Entry).needed()
        is_shared = self.query_one("#readers", Pick).value == _ALL
        written = write_file(path, self.content(), overwrite=self.confirmed, shared=is_shared)
        if any(then.value == _PRINT for then in self.query("#then").results(Pick)):
            print_file(self.host.keeper, written, confirmed=self.confirmed)
        return written


class SaveDialog(FileDialog):
    """A path for something that a sentence describes."""

    def __init__(self, title: str, sentence: str, name: str, make: Callable[[], bytes]) -> None:
        super().__init__()
        self.TITLE_TEXT = title
        self.FILE = name
        self.sentence = sentence
        self.make = make

    def compose_form(self) -> ComposeResult:
        """What it holds, and where to put it."""
        yield Static(self.sentence, markup=False)
        yield from self.file_fields()

    def content(self) -> bytes:
        """What was asked for."""
        return self.make()
