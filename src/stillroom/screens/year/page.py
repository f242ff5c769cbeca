"""The year: what to make next, what was made and used, and what strainings teach."""

from collections.abc import Sequence

from rich.text import Text
from textual import on, work
from textual.app import ComposeResult
from textual.binding import Binding
from textual.events import Resize
from textual.widgets import Static

from stillroom.errors import Refused
from stillroom.keeping.year.asked import YearAsked
from stillroom.keeping.year.learning import Learning
from stillroom.keeping.year.people import Person
from stillroom.keeping.year.plan_views import Ahead
from stillroom.reckoning.charge import Part
from stillroom.screens.help import FramedText
from stillroom.screens.kit.parts_page import PartsPage
from stillroom.screens.kit.table import Table
from stillroom.screens.year.dialogs import PeriodDialog, SeasonDialog, WhatIfDialog
from stillroom.screens.year.parts import AheadPart, BehindPart, LearningPart, YearPart
from stillroom.screens.year.people import PeoplePart, PersonPage

LEAST_ROWS = 12
"""Rows of the list in sight at 80 by 24."""
LEAST_ABOUT = 4
"""Lines about the chosen row, however low the screen."""
REST = "Press enter for the rest."


class AboutRow(FramedText):
    """All that is known about a row."""

    HEADING = "Details"

    def __init__(self, text: Text) -> None:
        super().__init__()
        self._text = text

    def compose_text(self) -> ComposeResult:
        """The text about the chosen row."""
        yield Static(self._text)


class YearPage(PartsPage[YearPart]):
    """Ahead, made and used, and what was learned."""

    HELP = (
        "Ahead shows how long each tincture lasts at the rate you use it, and what to gather and "
        "fill so that stock lasts the months set in the settings. What must start this month is "
        "at the top. In the row of months, G is when to gather, F the last month to fill a jar, "
        "X when stock runs out. Press e to enter the season of a herb, w to try another rate of "
        "use without saving it. Made and used shows what was made, used, lost and left, by herb, "
        "month and batch, and what it cost; what has no price is listed and left out of the "
        "cost. Learning shows what each herb yielded, and what to expect next. People shows who "
        "got what: find a batch code to see who got any of it. Press tab for the next part."
    )
    PAPER = "plan"
    _room = (LEAST_ABOUT, 78)
    """Lines for the details, and their width."""
    BINDINGS = [
        Binding("tab,right", "turn(1)", "Next part", id="year.next", key_display="tab",
                tooltip="Go to the next part: ahead, made and used, learning, people"),
        Binding("shift+tab,left", "turn(-1)", "Previous part", show=False, id="year.before",
                key_display="shift+tab",
                tooltip="Go back to the previous part"),
        Binding("minus", "shift(-1)", "Previous year", id="year.earlier", key_display="-",
                tooltip="Show the figures of the previous year"),
        Binding("plus", "shift(1)", "Next year", id="year.later", key_display="+",
                tooltip="Show the figures of the next year"),
        Binding("f", "period", "Dates", id="year.period",
                tooltip="Show the figures between any two days"),
        Binding("v", "pictures", "Charts", id="year.pictures",
                tooltip="See charts of this herb: yields, stock, use and cost"),
        Binding("e", "season", "Season", id="year.season",
                tooltip="Set when this herb is gathered, and how many months of it to have"),
        Binding("w", "what_if", "What if", id="year.what_if",
                tooltip="See the plan with something changed; nothing is saved"),
    ]  # fmt: skip

    def make_parts(self) -> Sequence[YearPart]:
        """The parts of the year, in the order of their tabs."""
        self._behind = BehindPart(self)
        self._ahead = AheadPart(self)
        return [self._ahead, self._behind, LearningPart(self), PeoplePart(self)]

    def action_print(self) -> None:
        """Show what can be printed, first the part on show, with its days and what-ifs."""
        papers = {BehindPart.title: "year", "Learning": "learning", "People": "people"}
        asked = YearAsked(self._behind.since, self._behind.until, self._ahead.what_if)
        self.host.show_papers(papers.get(self.part.title, self.PAPER), asked)

    def read(self) -> None:
        """Read the part on show."""
        before = self.part.columns
        lines = self.part.lines(self.matches)
        if self.part.columns != before:
            self.rows.set_columns(self.part.columns, self.part.cells, self.part.key)
        hint = "Nothing matches. Press esc to show all." if self.sought else self.part.none
        self.rows.show(lines, hint)
        self.head(Text(f"Year · {self.part.title}", style="bold"))
        self.refresh_bindings()

    def on_resize(self, event: Resize) -> None:
        """Leave twelve rows of the list in sight on a screen of 24."""
        above_and_below = 3 + 2  # head, parts and column heads; two lines of keys
        room = min(event.size.height // 2, event.size.height - above_and_below - LEAST_ROWS)
        self._room = max(LEAST_ABOUT, room), event.size.width - 2
        self.tell()

    def about(self, text: Text | str) -> None:
        """Show what matters most about the chosen row, in the lines that there are."""
        super().about(self._cut(text) if isinstance(text, Text) else text)

    def _cut(self, text: Text) -> Text:
        """A text in the lines that there are; what is left out, enter shows."""
        height, width = self._room
        lines = text.wrap(self.app.console, width)
        if len(lines) <= height:
            return text
        return Text("\n").join([*lines[: height - 1], Text(REST, style="bold")])

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Days are chosen for the figures alone, a season and what-ifs for the plan."""
        if action in ("shift", "period"):
            return self.part is self._behind
        if action == "pictures":
            return not isinstance(self.part, PeoplePart)
        if action in ("season", "what_if"):
            return self.part is self._ahead
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

    def action_pictures(self) -> None:
        """Show the pictures of the chosen herb, or of the period."""
        from stillroom.keeping.year.entries import entries
        from stillroom.keeping.year.pictures import made_and_used, pictures
        from stillroom.screens.year.picture import PicturePage

        row = self.rows.selected
        if isinstance(row, Ahead | Learning):
            herb, part = row.herb, str(row.part)
            self.open_over(
                PicturePage(
                    self.keeper, f"{herb}, {part}", lambda: pictures(self.keeper, herb, part)
                )
            )
        elif self.part is self._behind:
            since, until = self._behind.since, self._behind.until
            self.open_over(
                PicturePage(
                    self.keeper,
                    self._behind.period_in_brief,
                    lambda: [made_and_used(entries(self.keeper), since, until, self.wording)],
                )
            )

    @work
    async def action_season(self) -> None:
        """Set when the chosen herb is gathered."""
        row = self.rows.selected
        if not isinstance(row, Ahead):
            return
        if row.part not in set(Part):
            self.host.refuse(Refused("A jar of several herbs has no season of its own."))
        elif await self.app.push_screen_wait(SeasonDialog(self.keeper, row.herb, Part(row.part))):
            self.host.changed()

    @work
    async def action_what_if(self) -> None:
        """Show the plan as it would be."""
        row = self.rows.selected
        herb = row.herb if isinstance(row, Ahead) else ""
        asked = await self.app.push_screen_wait(
            WhatIfDialog(self.keeper, self._ahead.what_if, herb)
        )
        if asked is not None:
            self._ahead.what_if = asked
            self.attempt(self.read)

    @on(Table.Opened)
    def _open(self) -> None:
        from stillroom.screens.trace.page import HerbPage

        row = self.rows.selected
        if isinstance(row, Learning):
            self.open_over(HerbPage(self.keeper, row.herb_id))
        elif isinstance(row, Person):
            self.open_over(PersonPage(self.keeper, row.name))
        elif row is not None and self.is_active:
            self.app.push_screen(AboutRow(self.part.about(row)))
