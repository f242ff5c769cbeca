"""The year: what to make next, what was made and used, and what strainings teach."""

from collections.abc import Sequence

from rich.text import Text
from textual import on, work
from textual.app import ComposeResult
from textual.binding import Binding

from stillroom.errors import NotUnderstood
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.year.learning import Learning
from stillroom.screens.kit.dialog import Dialog
from stillroom.screens.kit.fields import DayEntry
from stillroom.screens.kit.parts_page import PartsPage
from stillroom.screens.kit.table import Table
from stillroom.screens.year.parts import AheadPart, BehindPart, LearningPart, YearPart


class PeriodDialog(Dialog[bool]):
    """From which day to which the figures are."""

    TITLE_TEXT = "From and to"
    ACT = "Show"
    CHANGES_SHELF = False

    def __init__(self, keeper: Keeper, part: BehindPart) -> None:
        super().__init__()
        self.keeper = keeper
        self.part = part

    def compose_form(self) -> ComposeResult:
        """Two days."""
        said, today = self.part.page.wording, self.keeper.today
        yield DayEntry("From", today, self.part.since, wording=said, id="since")
        yield DayEntry("To", today, self.part.until, past=False, wording=said, id="until")

    def keep(self) -> bool:
        """Take these days."""
        since = self.query_one("#since", DayEntry).needed()
        until = self.query_one("#until", DayEntry).needed()
        if until < since:
            raise NotUnderstood("The last day is before the first.")
        self.part.since, self.part.until = since, until
        return True


class YearPage(PartsPage[YearPart]):
    """Ahead, behind, and what was learned."""

    HELP = (
        "Ahead: how long each tincture lasts by your own use, and what to gather and fill so that "
        "a year's use is in hand; what has to start this month is at the top. Behind: what was "
        "made, used, lost and left, by herb, month and batch, and what it cost; what has no price "
        "is named and not counted. Learning: what each herb gave when it was strained, and what "
        "to expect next. Press tab for the next part."
    )
    PAPER = "stock"
    BINDINGS = [
        Binding("tab,right", "turn(1)", "Next part", id="year.next", key_display="tab",
                tooltip="Go to the next part: ahead, behind, learning"),
        Binding("shift+tab,left", "turn(-1)", "Previous part", show=False, id="year.before",
                tooltip="Go back to the previous part"),
        Binding("minus", "shift(-1)", "Year before", id="year.earlier", key_display="-",
                tooltip="Show the figures of the year before"),
        Binding("plus", "shift(1)", "Year after", id="year.later", key_display="+",
                tooltip="Show the figures of the year after"),
        Binding("f", "period", "From and to", id="year.period",
                tooltip="Show the figures between any two days"),
    ]  # fmt: skip

    def make_parts(self) -> Sequence[YearPart]:
        """Its lists."""
        self._behind = BehindPart(self)
        return [AheadPart(self), self._behind, LearningPart(self)]

    def read(self) -> None:
        """Read the part on show."""
        lines = self.part.lines(self.matches)
        hint = "Nothing matches. Press esc to show all." if self.sought else self.part.none
        self.rows.show(lines, hint)
        self.head(Text(f"Year · {self.part.title}", style="bold"))
        self.refresh_bindings()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Days are chosen for the figures alone."""
        if action in ("shift", "period"):
            return self.part is self._behind
        return super().check_action(action, parameters)

    def action_shift(self, years: int) -> None:
        """Show another year."""
        self._behind.shift(years)
        self.attempt(self.read)

    @work
    async def action_period(self) -> None:
        """Choose the days."""
        if await self.app.push_screen_wait(PeriodDialog(self.keeper, self._behind)):
            self.attempt(self.read)

    @on(Table.Opened)
    def _open(self) -> None:
        from stillroom.screens.trace.page import HerbPage

        row = self.rows.selected
        if isinstance(row, Learning):
            self.open_over(HerbPage(self.keeper, row.herb_id))
