"""The three parts of the year on paper: the plan, the year in figures, what strainings teach."""

from collections.abc import Iterable, Sequence

from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import settings_of
from stillroom.keeping.wording import Wording, wording
from stillroom.keeping.words import in_a_row
from stillroom.keeping.year import plan_words
from stillroom.keeping.year import words as year_words
from stillroom.keeping.year.behind import YearView
from stillroom.keeping.year.entries import entries
from stillroom.keeping.year.learning import Learning
from stillroom.keeping.year.people import Person
from stillroom.keeping.year.pictures import made_and_used, pictures
from stillroom.keeping.year.plan_views import AS_IT_IS, Ahead, PlanView, WhatIf
from stillroom.paper.document import Block, Chart, Document, Facts, Grid, Prose, Section
from stillroom.reckoning.kinds import Kind
from stillroom.reckoning.year import PeriodFigures, What

IN_STOCK = "In stock"
_NOTHING_ML = 0.005
_SECOND, _LAST_TWO = frozenset({1}), frozenset({1, 2})


def plan_paper(keeper: Keeper, view: PlanView, what_if: WhatIf = AS_IT_IS) -> Document:
    """The plan: what has to start first, each tincture with its twelve months, the spirit."""
    said = wording(keeper)
    subtitle = f"as of {said.day(view.day)}"
    if what_if.is_asked:
        subtitle += f"; what if: {plan_words.what_if(what_if, said)}"
    sections = []
    if view.due:
        first = Grid(
            ("Tincture", "Make", "Herb to get", "Gather", "Fill by"),
            tuple(
                (plan_words.heading(e), plan_words.make(e, said), plan_words.to_get(e, said),
                 plan_words.gather(e, said), plan_words.fill_by(e, said))
                for e in view.due
            ),
            (3, 3, 4, 3.4, 2.4),
        )  # fmt: skip
        sections.append(Section("To start this month", (first,)))
    sections += [Section(plan_words.heading(e), tuple(_ahead(keeper, e, said))) for e in view.herbs]
    if view.spirits:
        lines = tuple((plan_words.spirit(each, said),) for each in view.spirits)
        blocks: tuple[Block, ...] = tuple(Prose(text) for (text,) in lines)
        sections.append(Section("Spirit for all of it", blocks))
    nothing = [Section("Plan", (Prose("There is nothing to plan yet."),))]
    closing = f"Plan of {said.day(view.day)}. {plan_words.MARKS}."
    return Document("Plan", subtitle, tuple(sections or nothing), closing=closing, is_list=True)


def _ahead(keeper: Keeper, each: Ahead, said: Wording) -> Iterable[Block]:
    moon = settings_of(keeper).moon
    yield Facts(tuple(plan_words.facts(each, said, with_moon=moon)))
    if months := plan_words.strip(each):
        yield Grid(tuple(name for name, _ in months), (tuple(marks or "·" for _, marks in months),),
                   tuple([1.0] * len(months)))  # fmt: skip
    if each.plan is not None and each.plan.is_due:
        found = [p for p in pictures(keeper, each.herb, each.part) if p.title == IN_STOCK]
        yield from map(Chart, found)


def year_paper(keeper: Keeper, view: YearView) -> Document:
    """A period in figures, with what was made and used in each month, and what it cost."""
    said = wording(keeper)
    period = f"{said.day(view.since)} to {said.day(view.until)}"
    picture = made_and_used(entries(keeper), view.since, view.until, said)
    months: list[Block] = [Chart(picture)] if picture.points else []
    months += _grids("Month", [(said.month(m), f) for m, f in view.by_month.items()], said)
    cost = view.cost
    sections = [
        Section("All", (Facts(tuple(year_words.facts(view.total, said))),)),
        Section("By month", tuple(months)),
        Section("By herb", tuple(_grids("Herb", list(view.by_herb.items()), said))),
        Section("By batch", tuple(_grids("Batch", list(view.by_batch.items()), said))),
    ]
    if cost.purchases:
        rows = tuple(
            (each.name, year_words.amount(each, said), year_words.money(each.cost, said))
            for each in cost.purchases
        )
        sections.append(
            Section(f"Cost of what went in: {year_words.money(cost.bought, said)}",
                    (Grid(("Purchase", "Amount", "Cost"), rows, (6, 2, 2), right=_LAST_TWO),))
        )  # fmt: skip
    if cost.by_kind:
        rows = tuple(
            (str(what), said.volume(view.total.of(what)), year_words.cost_of_kind(of_kind, said))
            for what, of_kind in cost.by_kind.items()
        )
        sections.append(
            Section("Cost of what was made, used and lost",
                    (Grid(("How", "Amount", "Cost"), rows, (2, 1.5, 6.5), right=_SECOND),))
        )  # fmt: skip
    if cost.batches:
        batches = tuple(
            (each.code, year_words.cost(each.cost, said),
             year_words.bottles_cost(each, said).removeprefix("; bottles "))
            for each in cost.batches
        )  # fmt: skip
        grid = Grid(("Batch", "Cost", "Bottles"), batches, (1.5, 5, 5))
        sections.append(Section("Cost of each batch made", (grid,)))
    if cost.without:
        without = ", ".join(cost.without)
        sections.append(Section("Not counted, as no price is known", (Prose(without),)))
    return Document("The year in figures", period, tuple(sections),
                    closing=f"{period}.", is_list=True)  # fmt: skip


def _grids(name: str, lines: Sequence[tuple[str, PeriodFigures]], said: Wording) -> Iterable[Block]:
    """The sums, and what was filled, used and lost by kind; where there was any."""
    rows = tuple(
        (key, _volume(f.made_ml, said), said.percent(f.percent) if f.percent else "",
         _volume(f.of(What.BOTTLED), said), _volume(f.used_ml, said), _volume(f.gone_ml, said),
         said.volume(max(0.0, f.left_ml)))
        for key, f in lines
        if f.made_ml or f.used_ml or f.gone_ml or f.before_ml > _NOTHING_ML or f.of(What.BOTTLED)
    )  # fmt: skip
    head = (name, "Made", "Of liquid", "Bottled", "Used", "Lost", "Left")
    yield Grid(head, rows, (4, *[1.7] * 6), right=frozenset(range(1, 7)))
    kinds = (
        (key, year_words.in_store(f, said), year_words.filled(f, said), year_words.used(f, said),
         year_words.gone(f, said))
        for key, f in lines
    )  # fmt: skip
    kinds_seen = tuple(row for row in kinds if any(row[1:]))
    if kinds_seen:
        yield Grid(
            (name, "Herb store", "Filled", "Used", "Lost"), kinds_seen, (2.4, 3, 3.2, 3.2, 3)
        )


def _volume(volume_ml: float, said: Wording) -> str:
    return said.volume(volume_ml) if volume_ml else ""


def learning_paper(keeper: Keeper, found: Sequence[Learning]) -> Document:
    """What strainings teach, with the pictures of each herb and part."""
    said = wording(keeper)
    head = ("Strained", "Times", "Mean", "Held back", "Published", "Next")
    sections = []
    for herb, part in dict.fromkeys((each.herb, each.part) for each in found):
        rows = tuple(
            _learned(each, said) for each in found if (each.herb, each.part) == (herb, part)
        )
        grid = Grid(head, rows, (3, 1, 1.6, 1.8, 1.8, 3), right=frozenset(range(1, 6)))
        drawn: list[Block] = []
        for picture in pictures(keeper, herb, part):
            drawn += map(Chart, picture.one_by_one())
        sections.append(Section(in_a_row(herb, part), (grid, *drawn)))
    nothing = [Section("Strainings", (Prose("There are no strainings yet."),))]
    day = said.day(keeper.today)
    return Document("What strainings teach", f"as of {day}", tuple(sections or nothing),
                    closing="Held back: mL per gram of dried herb, or fl oz per ounce; the rest "
                    "of the liquid is the yield.", is_list=True)  # fmt: skip


def _learned(each: Learning, said: Wording) -> tuple[str, ...]:
    def held(ml_per_g: float | None) -> str:
        return "not weighed" if ml_per_g is None else said.of(Kind.RETENTION, ml_per_g)

    learned = each.learned
    return (
        in_a_row(each.condition, each.pressing),
        str(len(each.strainings)),
        "" if each.mean_percent is None else said.percent(each.mean_percent),
        held(learned.own_mean),
        held(each.published.mean),
        f"{held(learned.low)} to {held(learned.high)}",
    )


def people_paper(keeper: Keeper, found: Sequence[Person]) -> Document:
    """Who got what; no dose is recommended, and no use is judged."""
    said = Wording.of_shelf(settings_of(keeper))
    sections = tuple(
        Section(
            f"{each.name}: {said.volume(each.volume_ml)}",
            (
                Grid(
                    ("Day", "Amount", "Tincture", "Bottle", "Batch", "Kind", "Note"),
                    tuple(
                        (said.day(t.day), said.volume(t.volume_ml), t.name, t.code, t.batch,
                         t.how, t.note)
                        for t in each.taken
                    ),
                    (2, 1.6, 3.4, 1.8, 1.6, 1.2, 3),
                    right=frozenset({1}),
                ),
            ),
        )
        for each in found
    )  # fmt: skip
    nothing = (Section("Names", (Prose("Nobody is named."),)),)
    return Document("Who got what", f"as of {said.day(keeper.today)}", sections or nothing,
                    closing="Names of people: keep this paper where only you can read it.",
                    is_list=True)  # fmt: skip
