"""Documents to print, seen before they are written to a file."""

from textual.app import ComposeResult

from ..keeping.batch_history import batch_history
from ..keeping.day import day_view
from ..keeping.keeper import Keeper
from ..keeping.preferences import preferences
from ..keeping.stock import bottle_rows
from ..keeping.views import TinctureView
from ..paper.batch_record import batch_record
from ..paper.document import Document, as_text
from ..paper.lists import stock_list
from ..paper.pdf import as_pdf, page_for
from .fields import Entry
from .saving import FileDialog

_WIDTH = 70


class DocumentDialog(FileDialog):
    """A document as it reads, and where its file shall lie; a name in .txt makes it plain text."""

    DEFAULT_CSS = """
    DocumentDialog > .dialog--box { width: 78; }
    DocumentDialog .file--seen { max-height: 16; }
    """

    def __init__(self, keeper: Keeper, document: Document, name: str) -> None:
        super().__init__()
        self.keeper = keeper
        self.document = document
        self.FILE = f"{name}.pdf"
        self.TITLE_TEXT = document.title

    def compose_form(self) -> ComposeResult:
        """Its file, and the document."""
        yield self.file_entry()
        yield self.seen(as_text(self.document, _WIDTH))

    def content(self) -> bytes:
        """As its name asks for."""
        if str(self.query_one("#file", Entry).typed).strip().casefold().endswith(".txt"):
            return as_text(self.document).encode()
        return as_pdf(self.document, page_for(preferences(self.keeper)))


def batch_record_dialog(keeper: Keeper, tincture: TinctureView) -> DocumentDialog:
    """The record of a batch."""
    history = batch_history(keeper, tincture.tincture_id)
    document = batch_record(history, preferences(keeper), keeper.today)
    return DocumentDialog(keeper, document, f"batch-{tincture.code}")


def stock_list_dialog(keeper: Keeper) -> DocumentDialog:
    """Every bottle that holds something."""
    document = stock_list(bottle_rows(keeper), day_view(keeper), preferences(keeper))
    return DocumentDialog(keeper, document, f"stock-{keeper.today.isoformat()}")
