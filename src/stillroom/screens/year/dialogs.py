"""Forms of the Year page: a period, the season of a herb, and what-ifs."""

from typing import TYPE_CHECKING

from textual.app import ComposeResult
from textual.widgets import Static

from stillroom.dates import parse_day_of_year
from stillroom.errors import NotUnderstood
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import MOST_MONTHS, settings_of
from stillroom.keeping.wording import wording
from stillroom.keeping.words import in_a_row
from stillroom.keeping.year.gathering import (
    DayOfYear,
    SeasonDraft,
    SeasonView,
    season_of_part,
    set_season,
    window_words,
)
from stillroom.keeping.year.people import names
from stillroom.keeping.year.plan_views import WhatIf
from stillroom.keeping.year.what_ifs import herbs_asked, people_asked, read_share
from stillroom.quantities import how_many
from stillroom.reckoning.charge import Part
from stillroom.reckoning.kinds import Kind
from stillroom.screens.kit.dialog import Dialog
from stillroom.screens.kit.fields import (
    DayEntry,
    Entry,
    LastDayEntry,
    Pair,
    amount,
    prefilled,
    words,
)

if TYPE_CHECKING:
    from stillroom.screens.year.parts import BehindPart

FEWEST_PEOPLE = 3
"""Lines for people; one more than were asked about where that is more. Judgement."""


class PeriodDialog(Dialog[bool]):
    """From which day to which the figures are."""

    TITLE_TEXT = "Dates"
    ACT = "Show"
    CHANGES_SHELF = False

    def __init__(self, keeper: Keeper, part: "BehindPart") -> None:
        super().__init__()
        self.keeper = keeper
        self.part = part

    def compose_form(self) -> ComposeResult:
        """The first and the last day."""
        said, today = self.part.page.wording, self.keeper.today
        yield DayEntry("From", today, self.part.since, wording=said, id="since")
        yield LastDayEntry("To", today, self.part.until, wording=said, id="until")

    def keep(self) -> bool:
        """Show the figures from the first to the last day."""
        since = self.query_one("#since", DayEntry).needed()
        until = self.query_one("#until", DayEntry).needed()
        if until < since:
            raise NotUnderstood("The last day is before the first.")
        self.part.since, self.part.until = since, until
        return True


class SeasonDialog(Dialog[SeasonView]):
    """When a part of a herb is gathered, and how many months of it to have."""

    corrects = True

    def __init__(self, keeper: Keeper, herb: str, part: Part) -> None:
        super().__init__()
        self.keeper = keeper
        self.view = self.began_with = season_of_part(keeper, herb, part)
        self.wording = wording(keeper)
        self.TITLE_TEXT = f"Season of {in_a_row(herb, part)}"

    def written(self) -> object:
        """As it is now."""
        return season_of_part(self.keeper, self.view.herb, self.view.part)

    def compose_form(self) -> ComposeResult:
        """Two days of any year, and a number of months."""
        said, typed = self.wording, self.view.typed
        yield Entry("First day", self._day, said.day_of_year(typed.earliest) if typed else "",
                    id="first", required=False, hint="of any year, such as 15 Jun")  # fmt: skip
        yield Entry("Last day", self._day, said.day_of_year(typed.latest) if typed else "",
                    id="last", required=False, hint="may be after New Year")  # fmt: skip
        general = said.number(settings_of(self.keeper).months_in_hand)
        yield Entry("Months in hand", amount(Kind.NUMBER, said),
                    prefilled(Kind.NUMBER, self.view.months_in_hand, said), id="months",
                    required=False, hint=f"blank: {general}, as in the settings")  # fmt: skip
        learned = self.view.learned
        by_own = "None has been gathered yet."
        if learned is not None:
            by = how_many(learned.rests_on, "gathering")
            by_own = f"Blank: as in your own {by}, {window_words(learned, said)}."
        yield Static(
            f"{by_own} Leaf before the plant flowers, flowers as they open, roots in autumn: "
            "common practice, no source.",
            classes="quiet", markup=False,
        )  # fmt: skip

    def _day(self, text: str) -> DayOfYear:
        return parse_day_of_year(text, self.keeper.today)

    def keep(self) -> SeasonView:
        """Save the season."""
        draft = SeasonDraft(
            self.view.herb,
            self.view.part,
            self.query_one("#first", Entry).read(),
            self.query_one("#last", Entry).read(),
            self.query_one("#months", Entry).read(),
        )
        return set_season(self.keeper, draft)


class WhatIfDialog(Dialog[WhatIf]):
    """What would be otherwise in the plan; nothing is written."""

    TITLE_TEXT = "What if"
    ACT = "Show"
    CHANGES_SHELF = False

    def __init__(self, keeper: Keeper, asked: WhatIf, herb: str) -> None:
        super().__init__()
        self.keeper = keeper
        self.asked = asked
        self.herb = herb
        """At the cursor: proposed as the one to leave out."""
        self.wording = wording(keeper)
        self.people = names(keeper)

    def compose_form(self) -> ComposeResult:
        """Months, a herb, a person."""
        said, asked = self.wording, self.asked
        yield Entry("Months in hand", amount(Kind.NUMBER, said),
                    prefilled(Kind.NUMBER, asked.months, said), id="months", required=False,
                    hint="of every herb; blank: as now")  # fmt: skip
        yield Entry("Without", words, ", ".join(asked.without), id="without", required=False,
                    suggestions=[self.herb] if self.herb else [],
                    hint="herbs, separated by commas")  # fmt: skip
        self.lines = max(FEWEST_PEOPLE, len(asked.more) + 1)
        blank: tuple[str, float | None] = ("", None)
        for line in range(self.lines):
            person, share = asked.more[line] if line < len(asked.more) else blank
            yield Pair(
                Entry("Person", words, person, id=f"person{line}", required=False,
                      suggestions=self.people, hint="name"),
                Entry("More or less", lambda text: read_share(text, said),
                      "" if share is None else said.number(100 * share), id=f"more{line}",
                      required=False, hint="50 %, or -20 %"),
            )  # fmt: skip
        yield Static("Nothing is saved: this only changes what the plan shows. 100 % is twice as "
                     "much, -100 % is nothing. Leave all blank for the plan as it is.",
                     classes="quiet", markup=False)  # fmt: skip

    def keep(self) -> WhatIf:
        """The what-if as typed."""
        months = self.query_one("#months", Entry).read()
        if months is not None and not 0 < months <= MOST_MONTHS:
            raise NotUnderstood(f"Months in hand must be above 0 and at most {MOST_MONTHS}.")
        without = self.query_one("#without", Entry).read() or ""
        return WhatIf(months, herbs_asked(self.keeper, without.split(",")), self._more())

    def _more(self) -> tuple[tuple[str, float], ...]:
        shares = []
        for line in range(self.lines):
            person = self.query_one(f"#person{line}", Entry)
            percent = self.query_one(f"#more{line}", Entry)
            name, share = person.read(), percent.read()
            if name or share is not None:
                shares.append((name or person.needed(), percent.needed()))
        return people_asked(self.keeper, shares)
