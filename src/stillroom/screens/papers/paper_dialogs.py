"""What can be printed or carried along, seen before it is written to a file."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

from textual import work
from textual.app import ComposeResult
from textual.binding import Binding
from textual.widgets import Static

from stillroom.errors import Refused
from stillroom.keeping.bottles.bottle_views import bottle_rows
from stillroom.keeping.closing import close_batch
from stillroom.keeping.day import day_view
from stillroom.keeping.jars.shelves import shelves_view
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import settings_of
from stillroom.keeping.trace.batch_history import batch_history
from stillroom.keeping.trace.withdrawals import withdrawals
from stillroom.keeping.views import TinctureView
from stillroom.keeping.year.accounts import losses_of, spirit_period
from stillroom.keeping.year.ahead import plan_view
from stillroom.keeping.year.behind import year_view
from stillroom.keeping.year.learning import learning
from stillroom.paper.batch_record import batch_record
from stillroom.paper.calendar import calendar_file, dates_ahead
from stillroom.paper.document import Document, as_text
from stillroom.paper.lists import day_sheet, shelf_list, stock_list
from stillroom.paper.pdf import as_pdf, page_for
from stillroom.paper.pdf_facts import PdfFacts
from stillroom.paper.sign_sheets import losses_sheet, past_sheet, spirit_sheet, stock_take_sheet
from stillroom.paper.withdrawal_sheet import withdrawal_sheet
from stillroom.paper.year_csv import learning_csv, plan_csv, year_csv
from stillroom.paper.year_papers import learning_paper, plan_paper, year_paper
from stillroom.screens.kit.choice import Pick
from stillroom.screens.kit.dialog import Dialog
from stillroom.screens.kit.fields import Entry
from stillroom.screens.kit.saving import FileDialog

_WIDEST = 112
"""Columns of the form, where the screen has them."""
_FRAMES = 9
"""Columns that frames, padding and scroll bar take of it."""
_ROWS_AROUND, _LEAST_SEEN = 7, 5
"""Rows of frame, fields and keys around the document, and the fewest it gets."""


@dataclass(frozen=True)
class Paper:
    """One thing to write to a file."""

    title: str
    make: Callable[[Keeper], Document]
    """As it reads."""
    stem: str
    ending: str = ".pdf"
    content: Callable[[Keeper], bytes] | None = None
    """What is written, where that is not the document."""
    table: Callable[[Keeper], bytes] | None = None
    """What is written to a name in .csv, where there is a table of it."""


def _day_sheet(keeper: Keeper) -> Document:
    return day_sheet(day_view(keeper), shelves_view(keeper), settings_of(keeper))


def _shelf_list(keeper: Keeper) -> Document:
    return shelf_list(shelves_view(keeper), settings_of(keeper))


def _stock_list(keeper: Keeper) -> Document:
    return stock_list(bottle_rows(keeper), day_view(keeper), settings_of(keeper))


def _withdrawn(keeper: Keeper) -> Document:
    return withdrawal_sheet(withdrawals(keeper), settings_of(keeper), keeper.today)


def _this_year(keeper: Keeper) -> tuple[date, date]:
    return date(keeper.today.year, 1, 1), keeper.today


def _stock_take(keeper: Keeper) -> Document:
    return stock_take_sheet(bottle_rows(keeper), settings_of(keeper), keeper.today)


def _losses(keeper: Keeper) -> Document:
    days = _this_year(keeper)
    return losses_sheet(losses_of(keeper, *days), *days, settings_of(keeper), keeper.today)


def _past(keeper: Keeper) -> Document:
    return past_sheet(bottle_rows(keeper), settings_of(keeper), keeper.today)


def _spirit(keeper: Keeper) -> Document:
    account = spirit_period(keeper, *_this_year(keeper))
    return spirit_sheet(account, settings_of(keeper), keeper.today)


PAPERS = {
    "day": Paper("day sheet", _day_sheet, "day"),
    "shelves": Paper("shelf list", _shelf_list, "shelves"),
    "stock": Paper("stock list", _stock_list, "stock"),
    "withdrawn": Paper("withdrawn batches", _withdrawn, "withdrawn"),
    "calendar": Paper("calendar file", dates_ahead, "dates", ".ics", calendar_file),
    "plan": Paper(
        "plan",
        lambda keeper: plan_paper(keeper, plan_view(keeper)),
        "plan",
        table=lambda keeper: plan_csv(plan_view(keeper)),
    ),
    "year": Paper(
        "year in figures",
        lambda keeper: year_paper(keeper, year_view(keeper, *_this_year(keeper))),
        "year",
        table=lambda keeper: year_csv(year_view(keeper, *_this_year(keeper))),
    ),
    "learning": Paper(
        "what strainings teach",
        lambda keeper: learning_paper(keeper, learning(keeper)),
        "learning",
        table=lambda keeper: learning_csv(learning(keeper)),
    ),
    "stock-take": Paper("stock-take, to sign", _stock_take, "stock-take"),
    "losses": Paper("losses, to sign", _losses, "losses"),
    "past": Paper("past their date, to sign", _past, "past"),
    "spirit": Paper("spirit account, to sign", _spirit, "spirit"),
}
"""What every page offers; figures of a year are those of this one so far."""


class PaperDialog(FileDialog):
    """A preview of a document, and where its file goes; a name in .txt makes it plain text."""

    DEFAULT_CSS = """
    PaperDialog > .dialog--box { width: 100%; max-width: 112; }
    PaperDialog .file--seen { max-height: 100%; scrollbar-size-vertical: 1; }
    """

    def __init__(self, keeper: Keeper, papers: dict[str, Paper], first: str) -> None:
        super().__init__()
        self.keeper = keeper
        self.papers = papers
        self._show(first)
        self.TITLE_TEXT = "Print" if len(papers) > 1 else self.document.title

    def _show(self, name: str) -> None:
        self.paper = self.papers[name]
        self.document = self.paper.make(self.keeper)
        self.FILE = f"{self.paper.stem}-{self.keeper.today.isoformat()}{self.paper.ending}"

    def compose_form(self) -> ComposeResult:
        """Which, its file, and the document."""
        if len(self.papers) > 1:
            choices = [(name, paper.title) for name, paper in self.papers.items()]
            chosen = next(name for name, paper in self.papers.items() if paper is self.paper)
            yield Pick("Paper", choices, chosen, id="paper")
        yield from self.file_fields()
        yield self.seen("")

    def on_resize(self) -> None:
        """Set the document in the width there is."""
        super().on_resize()
        self._read_out()

    def _read_out(self) -> None:
        width = min(self.size.width, _WIDEST) - _FRAMES
        for panel in self.query(".file--seen"):
            panel.query_one(Static).update(as_text(self.document, width))
            panel.styles.max_height = max(_LEAST_SEEN, self.size.height - _ROWS_AROUND)

    def on_choice_changed(self) -> None:
        """Show what was chosen; a name that was only proposed goes with it."""
        paper = self.query("#paper").first(Pick) if self.query("#paper") else None
        if paper is None or self.papers[paper.value] is self.paper:
            return  # who may read the file was chosen
        file = self.query_one("#file", Entry)
        before = self.FILE
        self._show(paper.value)
        if file.typed.endswith(before):
            file.typed = file.typed.removesuffix(before) + self.FILE
        self._read_out()
        self.query_one(".file--seen").scroll_home(animate=False)

    def content(self) -> bytes:
        """As its name asks for."""
        name = str(self.query_one("#file", Entry).typed).strip().casefold()
        if self.paper.content is not None:
            endings = [self.paper.ending]
        else:
            endings = [".pdf", ".txt"] if self.paper.table is None else [".pdf", ".txt", ".csv"]
        if not name.endswith(tuple(endings)):
            raise Refused(f"Use a name that ends in {' or '.join(endings)}.")
        if self.paper.content is not None:
            return self.paper.content(self.keeper)
        if name.endswith(".txt"):
            return as_text(self.document).encode()
        if name.endswith(".csv") and self.paper.table is not None:
            return self.paper.table(self.keeper)
        settings = settings_of(self.keeper)
        facts = PdfFacts(settings.maker_name, made_at=self.keeper.clock.now())
        return as_pdf(self.document, page_for(settings), facts)


def batch_record_dialog(keeper: Keeper, tincture: TinctureView) -> PaperDialog:
    """The record of a batch."""
    return BatchRecordDialog(keeper, tincture)


class BatchRecordDialog(PaperDialog):
    """The record of a batch, which can be closed."""

    BINDINGS = [
        Binding("ctrl+l", "close_record", "Close record", id="record.close", priority=True,
                tooltip="Close the record: from then on it changes only for a reason"),
    ]  # fmt: skip

    def __init__(self, keeper: Keeper, tincture: TinctureView) -> None:
        def record(keeper: Keeper) -> Document:
            history = batch_history(keeper, tincture.tincture_id)
            return batch_record(history, settings_of(keeper), keeper.clock.now())

        paper = Paper("batch record", record, f"batch-{tincture.code}")
        super().__init__(keeper, {"record": paper}, "record")
        self.tincture = tincture

    @work
    async def action_close_record(self) -> None:
        """Ask, and close it."""
        form = CloseRecordDialog(self.keeper, self.tincture)
        if said := await self.app.push_screen_wait(form):
            self.document = self.paper.make(self.keeper)
            self._read_out()
            self.host.changed(said)


class CloseRecordDialog(Dialog[str]):
    """Asks before the record of a batch is closed."""

    ACT = "Close record"
    TITLE_TEXT = "Close the record"

    def __init__(self, keeper: Keeper, tincture: TinctureView) -> None:
        super().__init__()
        self.keeper = keeper
        self.tincture = tincture

    def compose_form(self) -> ComposeResult:
        """What that means."""
        yield Static(
            f"What made batch {self.tincture.code} is no longer undone then, and a correction of "
            "it needs a reason. Its bottles can be used as before. Press ctrl+s to close it.",
            markup=False,
        )

    def keep(self) -> str:
        """Close it."""
        return f"Closed the record of {close_batch(self.keeper, self.tincture.tincture_id)}"
