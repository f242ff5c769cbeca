"""The parts of the year as tables that any spreadsheet opens, in mL, g and % v/v."""

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from datetime import date

from stillroom.keeping.interchange.cells import guarded
from stillroom.keeping.year import plan_words
from stillroom.keeping.year.behind import YearView
from stillroom.keeping.year.learning import Learning
from stillroom.keeping.year.people import Person
from stillroom.keeping.year.plan_views import PlanView
from stillroom.reckoning.planning import Range
from stillroom.reckoning.year import PeriodFigures, What

_Cell = str | float | int | date | None


def _sheet(head: Sequence[str], rows: Iterable[Sequence[_Cell]]) -> bytes:
    """CSV by RFC 4180, UTF-8; text that a spreadsheet would take for a formula is made harmless."""
    sheet = io.StringIO()
    writer = csv.writer(sheet)
    writer.writerow(head)
    for row in rows:
        writer.writerow([_cell(value) for value in row])
    return sheet.getvalue().encode()


def _cell(value: _Cell) -> str:
    if value is None:
        return ""
    if isinstance(value, float):
        return f"{round(value, 4):.10g}"
    if isinstance(value, date):
        return value.isoformat()
    return guarded(value) if isinstance(value, str) else str(value)


def _three(found: Range | None) -> tuple[float | None, ...]:
    return (found.low, found.middle, found.high) if found else (None, None, None)


def plan_csv(view: PlanView, *, with_moon: bool = False) -> bytes:
    """A line for each tincture; ranges have three columns, and the moon one where it is asked."""
    head = (
        "herb", "part", "condition", "in_bottles_ml", "to_bottle_ml", "past_date_ml",
        "withheld_ml", "steeping_low_ml", "steeping_ml", "steeping_high_ml",
        "use_per_month_ml", "months_in_hand", "covered_until",
        "make_low_ml", "make_ml", "make_high_ml", "herb_low_g", "herb_g", "herb_high_g",
        "to_get_low_g", "to_get_g", "to_get_high_g", "to_get_fresh_g", "poured_ml",
        "strength_abv", "jars", "jar_size_ml", "gather_from", "gather_usually", "gather_to",
        "fill_by", "start_this_month", "months", *(["moon"] if with_moon else []),
    )  # fmt: skip
    rows: list[list[_Cell]] = []
    for each in view.herbs:
        plan, recipe = each.plan, each.recipe
        window = plan.window if plan and plan.window else (None, None, None)
        to_get = each.to_get
        fresh = to_get.fresh_g.middle if to_get and to_get.fresh_g else None
        rows.append([
            each.herb, each.part, each.condition, each.in_bottles_ml, each.to_bottle_ml,
            each.past_date_ml, each.withheld_ml, *_three(each.steeping_ml),
            each.rate.ml_per_month if each.rate else None,
            each.months_in_hand, plan.covered_until if plan else None,
            *_three(plan.to_make_ml if plan else None), *_three(plan.herb_g if plan else None),
            *_three(to_get.herb_g if to_get else None), fresh, plan.poured_ml if plan else None,
            recipe.strength_abv if recipe else None, plan.jars if plan else None,
            recipe.jar_size_ml if recipe else None, *window, plan.fill_by if plan else None,
            "yes" if each in view.due else "no",
            " ".join(f"{name}:{marks}" for name, marks in plan_words.strip(each) if marks),
            *([plan_words.moon(each)] if with_moon else []),
        ])  # fmt: skip
    return _sheet(head, rows)


_AMOUNTS = tuple(What)


def year_csv(view: YearView) -> bytes:
    """A line for all, each herb, month and batch, with every amount by kind and what it cost.

    Then what went in of each purchase, and what was made, used and lost in each way cost.
    """
    head = (
        "of", "name", "before_ml", "left_ml", "made_ml", "used_ml", "lost_ml", "percent_of_liquid",
        *(str(what).replace(" ", "_") for what in _AMOUNTS), "cost", "cost_per_100_ml",
        "without_price",
    )  # fmt: skip
    costs = {each.code: each.cost for each in view.cost.batches}

    def line(of: str, name: str, figures: PeriodFigures) -> list[_Cell]:
        cost = costs.get(name) if of == "batch" else None
        made = view.cost.made if of == "all" else None
        without = view.cost.without if of == "all" else cost.without if cost else ()
        return [
            of, name, figures.before_ml, figures.left_ml, figures.made_ml, figures.used_ml,
            figures.gone_ml, figures.percent, *(figures.of(what) for what in _AMOUNTS),
            cost.total if cost and cost.is_priced else made,
            cost.per_100_ml if cost and cost.is_priced else None, ", ".join(without),
        ]  # fmt: skip

    rows = [line("all", f"{view.since} to {view.until}", view.total)]
    rows += [line("herb", herb, figures) for herb, figures in view.by_herb.items()]
    rows += [line("month", f"{month:%Y-%m}", figures) for month, figures in view.by_month.items()]
    rows += [line("batch", code, figures) for code, figures in view.by_batch.items()]
    for each in view.cost.purchases:
        in_it = {What.POURED: each.volume_ml, What.HERB: each.mass_g}
        without = each.name if each.cost is None else ""
        rows.append(_cost_line("purchase", each.name, in_it, each.cost, without))
    for what, of_kind in view.cost.by_kind.items():
        without, amount = ", ".join(of_kind.without), {what: view.total.of(what)}
        rows.append(_cost_line("kind", str(what), amount, of_kind.cost, without))
    return _sheet(head, rows)


def _cost_line(
    of: str, name: str, amounts: Mapping[What, float | None], cost: float | None, without: str
) -> list[_Cell]:
    figures: list[_Cell] = [None] * 6
    return [of, name, *figures, *(amounts.get(what) for what in _AMOUNTS), cost, None, without]


def learning_csv(found: Sequence[Learning]) -> bytes:
    """A line for each straining, with what is published and expected of its kind."""
    head = (
        "herb", "part", "condition", "pressing", "jar", "strained_on", "percent_of_liquid",
        "held_back_ml_per_g", "teaches", "own_mean_ml_per_g", "published_ml_per_g",
        "next_low_ml_per_g", "next_high_ml_per_g",
    )  # fmt: skip
    return _sheet(
        head,
        (
            (
                each.herb, each.part, each.condition, each.pressing, s.code, s.strained_on,
                s.percent, s.retention, "yes" if s.teaches else "no", each.learned.own_mean,
                each.published.mean, each.learned.low, each.learned.high,
            )
            for each in found
            for s in each.strainings
        ),
    )  # fmt: skip


def people_csv(found: Sequence[Person]) -> bytes:
    """A line for each time something was taken for somebody."""
    head = ("name", "day", "volume_ml", "tincture", "bottle", "batch", "kind", "note")
    return _sheet(
        head,
        (
            (each.name, t.day, t.volume_ml, t.name, t.code, t.batch, t.kind, t.note)
            for each in found
            for t in each.taken
        ),
    )
