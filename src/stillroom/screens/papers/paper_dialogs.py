"""What can be printed or carried along, seen before it is written to a file."""

from collections.abc import Mapping
from dataclasses import replace

from textual import on, work
from textual.app import ComposeResult
from textual.binding import Binding
from textual.widgets import Input, Static

from stillroom.errors import NotUnderstood, Refused
from stillroom.keeping.closing import close_batch
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import settings_of
from stillroom.keeping.trace.batch_history import batch_history
from stillroom.keeping.views import TinctureView
from stillroom.keeping.wording import wording
from stillroom.keeping.year.asked import YearAsked
from stillroom.paper.batch_record import batch_record
from stillroom.paper.document import Document, as_text
from stillroom.paper.pdf import as_pdf, page_for
from stillroom.paper.pdf_facts import PdfFacts
from stillroom.screens.kit.choice import Pick
from stillroom.screens.kit.dialog import Dialog
from stillroom.screens.kit.fields import DayEntry, Entry, LastDayEntry, Pair
from stillroom.screens.kit.saving import FileDialog
from stillroom.screens.papers.offered import Paper, papers_of

_WIDEST = 112
"""Columns of the form, where the screen has them."""
_FRAMES = 9
"""Columns that frames, padding and scroll bar take of it."""
_ROWS_AROUND, _LEAST_SEEN = 7, 5
"""Rows of frame, fields and keys around the document, and the fewest it gets."""


class PaperDialog(FileDialog):
    """A preview of a document, and where its file goes; a name in .txt makes it plain text."""

    DEFAULT_CSS = """
    PaperDialog > .dialog--box { width: 100%; max-width: 112; }
    PaperDialog .file--seen { max-height: 100%; scrollbar-size-vertical: 1; }
    """

    def __init__(self, keeper: Keeper, papers: Mapping[str, Paper], first: str) -> None:
        super().__init__()
        self.keeper = keeper
        self.papers = papers
        self._show(first)
        self.TITLE_TEXT = self.document.title

    def _show(self, name: str) -> None:
        self.paper = self.papers[name]
        self.document = self.paper.make(self.keeper)
        self.FILE = f"{self.paper.stem}-{self._of_days()}{self.paper.ending}"

    def _of_days(self) -> str:
        return self.keeper.today.isoformat()

    def compose_form(self) -> ComposeResult:
        """Its file, and the document."""
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
            panel.styles.max_height = max(_LEAST_SEEN, self.size.height - self._rows_around)

    @property
    def _rows_around(self) -> int:
        return _ROWS_AROUND

    def show_other(self, name: str) -> None:
        """Show another document; a file name that was only proposed changes with it."""
        file = self.query_one("#file", Entry)
        before = self.FILE
        self._show(name)
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


class PapersDialog(PaperDialog):
    """All papers to choose from, and the days of those that are about a period."""

    def __init__(self, keeper: Keeper, asked: YearAsked, first: str) -> None:
        self.asked = asked
        super().__init__(keeper, papers_of(asked), first)
        self.TITLE_TEXT = "Print"

    def _of_days(self) -> str:
        if self.paper.has_period:
            return f"{self.asked.since.isoformat()}-to-{self.asked.until.isoformat()}"
        return super()._of_days()

    def compose_form(self) -> ComposeResult:
        """Which, its days, its file, and the document."""
        choices = [(name, paper.title) for name, paper in self.papers.items()]
        chosen = next(name for name, paper in self.papers.items() if paper is self.paper)
        yield Pick("Paper", choices, chosen, id="paper")
        said, today = wording(self.keeper), self.keeper.today
        days = Pair(
            DayEntry("From", today, self.asked.since, wording=said, id="since"),
            LastDayEntry("To", today, self.asked.until, wording=said, id="until"),
        )
        days.display = self.paper.has_period
        yield days
        yield Static(
            "Labels: l on a jar or bottle, L in the Cupboard, o for a person's.",
            classes="quiet",
            markup=False,
        )
        yield from super().compose_form()

    @property
    def _rows_around(self) -> int:
        return super()._rows_around + self.paper.has_period + 1

    def on_choice_changed(self) -> None:
        """Show what was chosen."""
        chosen = self.query_one("#paper", Pick).value
        if self.papers[chosen] is self.paper:
            return  # who may read the file was chosen
        self.show_other(chosen)
        self.query_one(Pair).display = self.paper.has_period

    @on(Input.Blurred)
    def _left_field(self) -> None:
        """Show the period once both of its days can be read."""
        if not self.is_current:
            return
        since, until = (self.query_one(f"#{name}", DayEntry).peek() for name in ("since", "until"))
        if since is not None and until is not None and since <= until:
            self._show_days(replace(self.asked, since=since, until=until))

    def _show_days(self, asked: YearAsked) -> None:
        if asked == self.asked:
            return
        self.asked = asked
        self.papers = papers_of(asked)
        self.show_other(self.query_one("#paper", Pick).value)

    def content(self) -> bytes:
        """As its name asks for, of the days that are typed."""
        if self.paper.has_period:
            since = self.query_one("#since", DayEntry).needed()
            until = self.query_one("#until", DayEntry).needed()
            if until < since:
                raise NotUnderstood("The last day is before the first.")
            self._show_days(replace(self.asked, since=since, until=until))
        return super().content()


def batch_record_dialog(keeper: Keeper, tincture: TinctureView) -> PaperDialog:
    """The record of a batch."""
    return BatchRecordDialog(keeper, tincture)


class BatchRecordDialog(PaperDialog):
    """The record of a batch, which can be closed."""

    BINDINGS = [
        Binding("ctrl+l", "close_record", "Close record", id="record.close", priority=True,
                tooltip="Close the record: changing it then needs a reason"),
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
        """What closing means."""
        yield Static(
            f"After that, nothing in the record of batch {self.tincture.code} can be undone, and "
            "correcting it needs a reason. Its bottles can be used as before. "
            "Press ctrl+s to close it.",
            markup=False,
        )

    def keep(self) -> str:
        """Close the record."""
        return f"Closed the record of {close_batch(self.keeper, self.tincture.tincture_id)}"
