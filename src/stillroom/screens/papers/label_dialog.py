"""Labels: as they will read, and onto a sheet or into a text file."""

from collections.abc import Sequence
from pathlib import Path

from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical
from textual.widgets import Static

from stillroom.errors import StillroomError
from stillroom.keeping.bottles.labels import Label
from stillroom.keeping.bottles.print_log import record_printed
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.label_text import AnyLabel
from stillroom.keeping.settings import settings_of
from stillroom.keeping.views import BottleRow
from stillroom.keeping.wording import wording
from stillroom.paper.label import plain_text_label
from stillroom.paper.pdf_facts import PdfFacts
from stillroom.paper.sheets import (
    SHEETS,
    label_sheets_pdf,
    last_sheet,
    left_out,
    next_label,
    pages_needed,
    remember_sheet,
    sheet_from,
    sheet_in_words,
)
from stillroom.quantities import how_many
from stillroom.reckoning.kinds import Kind
from stillroom.screens.kit.choice import Pick
from stillroom.screens.kit.fields import Entry, whole_number, words
from stillroom.screens.kit.lines import show
from stillroom.screens.kit.saving import FileDialog

_FORMS = (("pdf", "a sheet, PDF"), ("text", "plain text"))
_OWN = "own"
_WIDTH = 40


class LabelDialog(FileDialog):
    """What the labels show, which sheet they go on, and where the file goes."""

    HORIZONTAL_BREAKPOINTS = [(0, "-narrow"), (100, "-wide")]
    DEFAULT_CSS = """
    LabelDialog > .dialog--box { width: 112; }
    LabelDialog .labels--sides { height: auto; }
    LabelDialog .labels--form { width: 1fr; height: auto; }
    LabelDialog .file--seen { width: 44; max-height: 24; }
    LabelDialog.-narrow .labels--sides { layout: vertical; }
    LabelDialog.-narrow .file--seen { width: 100%; max-height: 12; }
    LabelDialog #own.-unused { display: none; }
    """

    FILE = "labels.pdf"

    def __init__(
        self, keeper: Keeper, labels: Sequence[AnyLabel], rows: Sequence[BottleRow] = ()
    ) -> None:
        super().__init__()
        self.keeper = keeper
        self.rows = rows
        """The bottles, where they are labels of bottles."""
        self.wording = wording(keeper)
        self.not_recorded = ""
        """Why the printing wasn't recorded; blank if it was."""
        self.labels = labels
        self.TITLE_TEXT = "Label" if len(labels) == 1 else f"{len(labels)} labels"

    def compose_form(self) -> ComposeResult:
        """Sheet and file beside what will be printed."""
        with Horizontal(classes="labels--sides"):
            with Vertical(classes="labels--form"):
                for row in self.rows:
                    if row.is_past(self.keeper.today):
                        said = f"! {row.code} is past its keep-until date."
                        yield Static(said, classes="warning", markup=False)
                yield Pick("Write as", _FORMS, id="form")
                sheets = [(name, name) for name in SHEETS]
                last = last_sheet(self.keeper)
                is_own = last not in SHEETS
                yield Pick("Sheet, mm", [*sheets, (_OWN, "my own measurements")],
                           _OWN if is_own else last, id="sheet")  # fmt: skip
                yield Entry("Measurements", words, last if is_own else sheet_in_words(SHEETS[last]),
                            id="own", classes="-wide" if is_own else "-wide -unused")  # fmt: skip
                start = str(next_label(self.keeper, last))
                yield Entry("Start at", whole_number(Kind.COUNT, self.wording), start, id="start",
                            hint="1 is top left")  # fmt: skip
                yield Entry("Copies of each", whole_number(Kind.COUNT, self.wording), "1",
                            id="copies")  # fmt: skip
                yield from self.file_fields()
                yield Static("", id="outcome", classes="quiet", markup=False)
            yield self.seen(self._preview())

    def _preview(self) -> str:
        """Every label as text, one below the other."""
        rule = "─" * _WIDTH
        texts = (plain_text_label(label, _WIDTH) for label in self.labels)
        return f"\n{rule}\n".join(texts)

    def on_input_changed(self) -> None:
        """Say what it comes to."""
        self._follow()

    def on_choice_changed(self) -> None:
        """Say what it comes to; the file's ending goes with what is printed."""
        is_text = self.query_one("#form", Pick).value == "text"
        file = self.query_one("#file", Entry)
        stem, ending = (".pdf", ".txt") if is_text else (".txt", ".pdf")
        if file.typed.endswith(stem):
            file.typed = file.typed.removesuffix(stem) + ending
        is_own = self.query_one("#sheet", Pick).value == _OWN
        self.query_one("#own").set_class(not is_own or is_text, "-unused")
        for field in ("#sheet", "#start"):
            self.query_one(field).display = not is_text
        self._follow()

    def _follow(self) -> None:
        copies = self.query_one("#copies", Entry).peek() or 0
        count = len(self.labels) * copies
        said = how_many(count, "label") if count else "Print at least one label of each."
        if count and self.query_one("#form", Pick).value == "pdf":
            try:
                sheet = sheet_from(self._sheet())
                start = self.query_one("#start", Entry).peek() or 1
                pages = pages_needed(count, sheet, start)
                said += f" on {how_many(pages, 'sheet')}, {sheet.per_page} to a sheet"
                said = " ".join(filter(None, (f"{said}.", left_out(self.labels, sheet))))
            except StillroomError as error:
                said = str(error)
        show(self.query_one("#outcome", Static), said)

    def _sheet(self) -> str:
        chosen = self.query_one("#sheet", Pick).value
        return self.query_one("#own", Entry).typed if chosen == _OWN else chosen

    def content(self) -> bytes:
        """The labels as chosen."""
        copies = self.query_one("#copies", Entry).needed()
        labels = [label for label in self.labels for _ in range(copies)]
        if self.query_one("#form", Pick).value == "text":
            return (
                "\n\n".join(plain_text_label(label, _WIDTH) for label in labels) + "\n"
            ).encode()
        start = self.query_one("#start", Entry).needed()
        settings = settings_of(self.keeper)
        facts = PdfFacts(settings.maker_name, settings.label_language, self.keeper.clock.now())
        return label_sheets_pdf(labels, sheet_from(self._sheet()), start=start, facts=facts)

    def keep(self) -> Path:
        """Write it, record what was printed, and propose the same sheet the next time."""
        path = super().keep()
        copies = self.query_one("#copies", Entry).needed()
        bottles = [label for label in self.labels if isinstance(label, Label)]
        self.not_recorded = record_printed(self.keeper, bottles, copies)
        if self.query_one("#form", Pick).value == "pdf" and not self.not_recorded:
            start = self.query_one("#start", Entry).needed()
            remember_sheet(self.keeper, self._sheet(), copies * len(self.labels), start)
        return path
