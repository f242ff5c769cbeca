"""Documents to print, seen before they are written to a file."""

from pathlib import Path

from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.widgets import Static

from ..keeping.batch_history import batch_history
from ..keeping.keeper import Keeper
from ..keeping.preferences import preferences
from ..keeping.views import TinctureView
from ..paper.batch_record import batch_record
from ..paper.document import Document, as_text
from ..paper.files import write_file
from ..paper.pdf import as_pdf, page_for
from .dialog import Dialog
from .fields import Entry, words

_WIDTH = 70


class DocumentDialog(Dialog[Path]):
    """A document as it reads, and where its file shall lie; a name in .txt makes it plain text."""

    DEFAULT_CSS = """
    DocumentDialog > .dialog--box { width: 78; }
    DocumentDialog .document--seen {
        height: auto; max-height: 12; border: solid $secondary; padding: 0 1; margin-bottom: 1;
    }
    DocumentDialog .document--seen:focus { border: solid $accent; }
    """

    def __init__(self, keeper: Keeper, document: Document, name: str) -> None:
        super().__init__()
        self.keeper = keeper
        self.document = document
        self.file_name = name
        self.TITLE_TEXT = document.title

    def compose_form(self) -> ComposeResult:
        """The document, and its file."""
        yield Entry("File", words, f"~/{self.file_name}.pdf", id="file", classes="-wide")
        with VerticalScroll(classes="document--seen", can_focus=True) as seen:
            seen.border_title = "As printed"
            yield Static(as_text(self.document, _WIDTH), markup=False)

    def keep(self) -> Path:
        """Write it."""
        path = self.query_one("#file", Entry).needed()
        if path.casefold().endswith(".txt"):
            content = as_text(self.document).encode()
        else:
            content = as_pdf(self.document, page_for(preferences(self.keeper)))
        return write_file(path, content, overwrite=self.confirmed)


def batch_record_dialog(keeper: Keeper, tincture: TinctureView) -> DocumentDialog:
    """The record of a batch."""
    history = batch_history(keeper, tincture.tincture_id)
    document = batch_record(history, preferences(keeper), keeper.today)
    return DocumentDialog(keeper, document, f"batch-{tincture.code}")
