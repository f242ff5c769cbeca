"""Three parts of the Year page: ahead, made and used, and what strainings teach."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, ClassVar

from rich.text import Text

from stillroom.keeping.settings import settings_of
from stillroom.keeping.words import in_a_row
from stillroom.keeping.year import plan_words
from stillroom.keeping.year import words as year_words
from stillroom.keeping.year.ahead import plan_view
from stillroom.keeping.year.asked import year_so_far
from stillroom.keeping.year.behind import YearView, year_view
from stillroom.keeping.year.costs import CostOfBatch
from stillroom.keeping.year.learning import Learning, learning
from stillroom.keeping.year.plan_views import AS_IT_IS, Ahead, WhatIf
from stillroom.quantities import how_many
from stillroom.reckoning.kinds import Kind
from stillroom.reckoning.year import PeriodFigures, What
from stillroom.screens.kit.columns import Cell, Column, Heading
from stillroom.screens.kit.list_page import ListPage
from stillroom.screens.kit.parts_page import PagePart
from stillroom.screens.kit.text import safe

_ROOMY = 104
MOON = Column("Moon", 13)
"""The phase on the last day to fill, where the settings ask for it: folk practice, no source."""
_STRIP = 170
"""From this width on the months ahead have a column."""

TO_DO = ("Make", "Herb", "Fill by", "Lasts")
"""What a plan asks for, which is shown first."""


class YearPart(PagePart[Any]):
    """One part of the page."""

    none: ClassVar[str]
    """What is shown while there is nothing."""

    def lines(self, matches: Callable[..., bool]) -> Sequence[Any]:
        """Its lines, those that pass the words."""
        raise NotImplementedError

    def facts(self, name: str, facts: Sequence[tuple[str, str]]) -> Text:
        """A name, and facts each with its heading."""
        text = Text.assemble((safe(name), "bold"))
        for heading, said in facts:
            text.append(f"\n{heading}: {safe(said)}")
        return text


class AheadPart(YearPart):
    """What to make next."""

    title = "Ahead"
    columns: tuple[Column, ...] = (
        Column("Tincture", share=1),
        Column("Part", share=1, from_width=_ROOMY),
        Column("In stock", 9, is_right=True),
        Column("Steeping", 9, is_right=True, from_width=_ROOMY),
        Column("Use/month", 9, is_right=True),
        Column("Lasts until", 12, is_right=True),
        Column("Make", 8, is_right=True),
        Column("Herb", 8, is_right=True),
        Column("Fill by", 12, is_right=True, from_width=_ROOMY),
        Column("Twelve months ahead", 48, from_width=_STRIP),
    )
    none = (
        "There is nothing to plan yet.\n\nOnce a tincture has been in stock for a month, this "
        "shows how long it will last and what to gather and fill."
    )

    def __init__(self, page: ListPage) -> None:
        super().__init__(page)
        self.what_if: WhatIf = AS_IT_IS
        self._has_moon = False

    def lines(self, matches: Callable[..., bool]) -> Sequence[Ahead | Heading]:
        self._has_moon = settings_of(self.keeper).moon
        self.columns = (*AheadPart.columns, MOON) if self._has_moon else AheadPart.columns
        view = plan_view(self.keeper, self.what_if)
        due = [each for each in view.due if matches(each.herb, each.part, "start")]
        rest = [e for e in view.herbs if e not in view.due and matches(e.herb, e.part)]
        lines: list[Ahead | Heading] = []
        if self.what_if.is_asked:
            asked = plan_words.what_if(self.what_if, self.page.wording)
            lines.append(Heading(f"What if: {asked}", "", "warning"))
        if due:
            lines += [Heading("To start this month", how_many(len(due), "tincture"), "warning")]
            lines += due
        if rest:
            lines += [Heading("Later, or enough in hand" if due else "Nothing to start this month")]
            lines += rest
        if lines and view.spirits:
            said = self.page.wording
            spirit = "; ".join(plan_words.spirit(each, said) for each in view.spirits)
            lines += [Heading("Spirit for all of it", spirit)]
        return lines

    def key(self, row: Ahead) -> object:
        return row.herb, row.part

    def cells(self, row: Ahead) -> tuple[Cell, ...]:
        said, plan = self.page.wording, row.plan
        is_needed = plan is not None and plan.is_needed
        is_due = plan is not None and plan.is_due
        until = plan.covered_until if plan else None
        grams = row.to_get.herb_g.middle if row.to_get else None
        return (
            Cell(row.herb, "strong"),
            Cell(in_a_row(row.part, row.condition)),
            Cell(said.volume(row.left_ml)),
            Cell(said.volume(row.steeping_ml.middle) if row.steeping_ml.high else ""),
            Cell(said.volume(row.rate.ml_per_month) if row.rate else "too new"),
            Cell(said.day(until) if until else "", "warning" if is_due else ""),
            Cell(said.volume(plan.to_make_ml.middle) if plan and is_needed else "enough"
                 if plan else ""),
            Cell("in store" if row.to_get and row.to_get.is_enough else said.mass(grams)),
            Cell(plan_words.fill_by(row, said, is_short=True)),
            Cell("".join(f"{name[:1]}{marks or '·':3}" for name, marks in plan_words.strip(row))),
            *([Cell(plan_words.moon(row))] if self._has_moon else []),
        )  # fmt: skip

    def about(self, row: Ahead) -> Text:
        said = self.page.wording
        shown = plan_words.facts(row, said, with_moon=self._has_moon)
        shown.sort(key=lambda fact: TO_DO.index(fact[0]) if fact[0] in TO_DO else len(TO_DO))
        facts = self.facts(plan_words.heading(row), shown)
        name, *rest = facts.split("\n", allow_blank=True)
        return Text("\n").join([name, *map(Text, plan_words.strip_lines(row)), *rest])


@dataclass(frozen=True)
class Sums:
    """One line of the figures of a period."""

    kind: str
    name: str
    figures: PeriodFigures
    cost: CostOfBatch | None = None


@dataclass(frozen=True)
class CostLine:
    """What was paid for a purchase that went in, or what was used or lost in one way cost."""

    kind: str
    name: str
    amount: str
    cost: float | None
    in_words: str
    """The cost, and what is not in it."""


class BehindPart(YearPart):
    """The year in figures."""

    title = "Made and used"
    columns = (
        Column("", share=3),
        Column("Made", 9, is_right=True),
        Column("Of liquid", 9, is_right=True, from_width=_ROOMY),
        Column("Bottled", 9, is_right=True, from_width=_ROOMY),
        Column("Used", 9, is_right=True),
        Column("Lost", 9, is_right=True),
        Column("Left", 9, is_right=True),
        Column("Cost", 10, is_right=True),
    )
    none = (
        "Nothing was made or used in this time. Press - for the previous year, or f for other "
        "dates."
    )

    def __init__(self, page: ListPage) -> None:
        super().__init__(page)
        asked = year_so_far(self.keeper.today)
        self.since, self.until = asked.since, asked.until
        self._view: YearView | None = None

    def shift(self, years: int) -> None:
        """Another calendar year; the one that has today up to today."""
        today = self.keeper.today
        year = min(today.year, max(2, self.since.year + years))
        self.since = date(year, 1, 1)
        self.until = min(today, date(year, 12, 31))

    @property
    def period(self) -> str:
        """From when to when."""
        said = self.page.wording
        return f"{said.day(self.since)} to {said.day(self.until)}"

    @property
    def period_in_brief(self) -> str:
        """The year alone, where it is all of it or this one so far."""
        first, last = date(self.since.year, 1, 1), date(self.since.year, 12, 31)
        if self.since == first and self.until in (last, self.keeper.today):
            return f"{self.since.year}"
        return self.period

    def lines(self, matches: Callable[..., bool]) -> Sequence[Sums | CostLine | Heading]:
        view = self._view = year_view(self.keeper, self.since, self.until)
        if view.total.is_empty:
            return []
        said = self.page.wording
        costs = {each.code: each for each in view.cost.batches}
        months = [
            Sums("month", said.month(month), figures)
            for month, figures in view.by_month.items()
            if figures.amounts
        ]
        groups = {
            self.period: [Sums("all", "Total", view.total)],
            "By herb": [Sums("herb", herb, each) for herb, each in view.by_herb.items()],
            "By month": months,
            "By batch": [
                Sums("batch", code, each, costs.get(code)) for code, each in view.by_batch.items()
            ],
        }
        lines: list[Sums | CostLine | Heading] = []
        for heading, rows in groups.items():
            found = [row for row in rows if matches(row.name, row.kind)]
            if found:
                lines += [Heading(heading), *found]
        for heading, costs_of in (
            ("Cost of what went in, by purchase", self._purchases(view)),
            ("Cost of what was made, used and lost", self._by_kind(view)),
        ):
            if shown := [row for row in costs_of if matches(row.name, row.kind)]:
                lines += [Heading(heading), *shown]
        return lines

    def _purchases(self, view: YearView) -> list[CostLine]:
        said = self.page.wording
        return [
            CostLine(
                "purchase",
                each.name,
                year_words.amount(each, said),
                each.cost,
                year_words.money(each.cost, said),
            )
            for each in view.cost.purchases
        ]

    def _by_kind(self, view: YearView) -> list[CostLine]:
        said, total = self.page.wording, view.total
        return [
            CostLine(
                "cost",
                str(what),
                said.volume(total.of(what)),
                each.cost,
                year_words.cost_of_kind(each, said),
            )
            for what, each in view.cost.by_kind.items()
        ]

    def key(self, row: Sums | CostLine) -> object:
        return row.kind, row.name

    def cells(self, row: Sums | CostLine) -> tuple[Cell, ...]:
        said = self.page.wording
        if isinstance(row, CostLine):
            blank = Cell("")
            cost = Cell(year_words.money(row.cost, said) if row.cost is not None else "no price")
            return (Cell(row.name, "strong"), *[blank] * 5, Cell(row.amount), cost)
        figures = row.figures

        def volume(amount: float) -> Cell:
            return Cell(said.volume(amount) if amount else "")

        return (
            Cell(row.name, "strong"),
            volume(figures.made_ml),
            Cell(said.percent(figures.percent) if figures.percent else ""),
            volume(figures.of(What.BOTTLED)),
            volume(figures.used_ml),
            volume(figures.gone_ml),
            Cell(said.volume(max(0.0, figures.left_ml))),
            Cell(self._cost(row)),
        )

    def _cost(self, row: Sums) -> str:
        said = self.page.wording
        if row.kind == "all" and self._view is not None and self._view.cost.made is not None:
            return said.money(self._view.cost.made)
        if row.cost is not None and row.cost.cost.is_priced:
            return said.money(row.cost.cost.total)
        return ""

    def about(self, row: Sums | CostLine) -> Text:
        said = self.page.wording
        if isinstance(row, CostLine):
            return self.facts(row.name, [("Amount", row.amount), ("Cost", row.in_words)])
        facts = year_words.facts(row.figures, said)
        if row.cost is not None:
            bottles = year_words.bottles_cost(row.cost, said)
            facts.append(("Cost", year_words.cost(row.cost.cost, said) + bottles))
        if row.kind == "all" and self._view is not None and self._view.cost.without:
            facts.append(("Not in the cost", ", ".join(self._view.cost.without)))
        return self.facts(row.name, facts)


class LearningPart(YearPart):
    """What strainings teach."""

    title = "Learning"
    columns = (
        Column("Herb", share=5),
        Column("Strained", share=8),
        Column("Times", 5, is_right=True, from_width=_ROOMY),
        Column("Last", 7, is_right=True),
        Column("Mean", 7, is_right=True),
        Column("Held back", 13, is_right=True),
        Column("Published", 13, is_right=True, from_width=_ROOMY),
        Column("Next", 22, is_right=True, from_width=_ROOMY),
    )
    none = "There are no strainings yet. Once a jar is strained, this shows what its herb gave."

    def lines(self, matches: Callable[..., bool]) -> Sequence[Learning]:
        return [
            each
            for each in learning(self.keeper)
            if matches(each.herb, each.part, each.condition, each.pressing)
        ]

    def key(self, row: Learning) -> object:
        return row.herb_id, row.part, row.condition, row.pressing

    def cells(self, row: Learning) -> tuple[Cell, ...]:
        said = self.page.wording
        own = row.learned.own_mean
        learned = row.learned
        return (
            Cell(row.herb, "strong"),
            Cell(in_a_row(row.part, row.condition, row.pressing)),
            Cell(str(len(row.strainings))),
            Cell(said.percent(row.last_percent) if row.last_percent is not None else ""),
            Cell(said.percent(row.mean_percent) if row.mean_percent is not None else ""),
            Cell(self._held(own) if own is not None else "not weighed"),
            Cell(self._held(row.published.mean)),
            Cell(f"{self._held(learned.low).partition(' ')[0]} to {self._held(learned.high)}"),
        )

    def _held(self, ml_per_g: float) -> str:
        return self.page.wording.of(Kind.RETENTION, ml_per_g)

    def about(self, row: Learning) -> Text:
        said = self.page.wording
        each = "; ".join(
            f"{said.day(s.strained_on)} {s.code} "
            + (said.percent(s.percent) if s.percent is not None else "not known")
            + ("" if s.teaches else ", set aside")
            for s in reversed(row.strainings)
        )
        learned = row.learned
        facts = [
            ("Yield, share of the liquid, latest first", each),
            (
                "Held back per gram of dried herb",
                f"expect {self._held(learned.low)} to {self._held(learned.high)} next, from "
                f"{how_many(learned.own_count, 'straining')} of your own; published or usual "
                f"value {self._held(row.published.mean)}",
            ),
        ]
        return self.facts(in_a_row(row.herb, row.part, row.condition, row.pressing), facts)
