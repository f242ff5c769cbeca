"""The form for what came back of liquid that was drawn or given."""

from functools import partial

from textual.app import ComposeResult

from stillroom.keeping.bottles.returns import NOT_ADDED, record_return, still_out_ml
from stillroom.keeping.bottles.stock import volume_or_all
from stillroom.keeping.views import BottleRow
from stillroom.keeping.year.people import names
from stillroom.screens.bottles.dialogs import BottleDialog
from stillroom.screens.kit.fields import DayEntry, Entry, example, words


class ReturnedDialog(BottleDialog):
    """What came back of a bottle."""

    TITLE_TEXT = "Returned"

    def compose_fields(self) -> ComposeResult:
        """How much, from whom and when."""
        yield Entry(
            "Volume",
            partial(volume_or_all, self.wording),
            id="volume",
            hint=example("30 ml, or all", "1 fl oz, or all", self.wording),
        )
        yield Entry("From", words, id="person", required=False, classes="-wide", max_length=200,
                    suggestions=names(self.keeper))  # fmt: skip
        yield DayEntry("Day", self.keeper.today, self.keeper.today, wording=self.wording, id="day")
        yield Entry("Note", words, id="note", required=False, classes="-wide", max_length=2000)

    def outcome(self) -> str:
        """What is out, and that it stays out of the bottle."""
        out = self.wording.volume(still_out_ml(self.keeper, self.row.bottle_id))
        return f"Drawn or given, and not returned: {out}. {NOT_ADDED}"

    def keep(self) -> BottleRow:
        """Record what came back."""
        return record_return(
            self.keeper,
            self.row.bottle_id,
            self.query_one("#volume", Entry).needed(),
            person=str(self.query_one("#person", Entry).read() or ""),
            note=self.note(),
            day=self.query_one("#day", DayEntry).needed(),
        )
