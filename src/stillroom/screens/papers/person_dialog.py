"""A bottle's label for the person it is given to: name, day and directions as typed."""

from collections.abc import Sequence

from textual.app import ComposeResult
from textual.widgets import Static

from stillroom.keeping.bottles.person_label import Served, person_labels
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.label_text import PlainLabel
from stillroom.keeping.views import BottleRow
from stillroom.keeping.wording import wording
from stillroom.keeping.words import NAME_LENGTH
from stillroom.screens.kit.choice import Pick
from stillroom.screens.kit.dialog import Dialog
from stillroom.screens.kit.fields import DayEntry, Entry, note_lines, words

_USES = (("", "not printed"), ("external", "for external use only"))


class PersonLabelDialog(Dialog[list[PlainLabel]]):
    """Asks for whom a bottle is; the answer is its label."""

    ACT = "Next"
    TITLE_TEXT = "Label for a person"
    CHANGES_SHELF = False

    def __init__(self, keeper: Keeper, rows: Sequence[BottleRow]) -> None:
        super().__init__()
        self.keeper = keeper
        self.rows = rows
        self.wording = wording(keeper)

    def compose_form(self) -> ComposeResult:
        """Name, day, directions and use; nothing is proposed but today."""
        for row in self.rows:
            yield Static(f"{row.code} {row.name}", classes="heading", markup=False)
            if row.is_past(self.keeper.today):
                said = f"! {row.code} is past its keep-until date."
                yield Static(said, classes="warning", markup=False)
        yield Entry("For", words, id="person", max_length=NAME_LENGTH)
        yield DayEntry("Given", self.keeper.today, self.keeper.today, wording=self.wording,
                       id="day", hint="e.g. 26 Nov 2026")  # fmt: skip
        yield Entry("Directions", note_lines, id="directions", required=False, classes="-wide",
                    max_length=1000, hint="your own words")  # fmt: skip
        yield Pick("Use", _USES, "", id="use")
        yield Static("The label is not recorded.", classes="quiet", markup=False)

    def keep(self) -> list[PlainLabel]:
        """The label as filled in."""
        served = Served(
            self.query_one("#person", Entry).needed(),
            self.query_one("#day", Entry).needed(),
            self.query_one("#directions", Entry).read() or "",
            self.query_one("#use", Pick).value == "external",
        )
        return person_labels(self.keeper, [row.bottle_id for row in self.rows], served)
