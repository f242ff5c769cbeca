"""The year in figures: by herb, batch and month, with what it cost."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date

from stillroom.errors import Refused
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.memo import remembered
from stillroom.keeping.year.costs import CostOfBatch, PurchaseCost, costs_of_batches, purchase_costs
from stillroom.keeping.year.entries import entries
from stillroom.reckoning.year import (
    GONE,
    IN_STORE,
    MADE,
    USED,
    DatedAmount,
    PeriodFigures,
    What,
    by,
    by_month,
    totals,
)


@dataclass(frozen=True)
class CostOfKind:
    """What was made, used or lost in one way cost, by the cost of its batches."""

    cost: float | None
    """None where nothing of it has a price."""
    without: tuple[str, ...]
    """What has no price and isn't counted."""


@dataclass(frozen=True)
class CostOfYear:
    """What a period cost, as far as prices are known."""

    purchases: tuple[PurchaseCost, ...]
    """Spirits and other liquids that went in during the period, by lot."""
    batches: tuple[CostOfBatch, ...]
    """Made in the period."""
    made: float | None
    used: float | None
    gone: float | None
    """Of what was made, used, and of no use, by the cost of its batch; None where nothing of it has
    a price."""
    without: tuple[str, ...]
    """What has no price and is in none of these."""
    by_kind: dict[What, CostOfKind] = field(default_factory=dict)
    """What was made, used or lost in each way."""

    @property
    def bought(self) -> float | None:
        """Of the liquids that went in and have a price; None where none has."""
        known = [lot.cost for lot in self.purchases if lot.cost is not None]
        return sum(known) if known else None


@dataclass(frozen=True)
class YearView:
    """A period in figures."""

    since: date
    until: date
    total: PeriodFigures
    by_herb: dict[str, PeriodFigures]
    by_batch: dict[str, PeriodFigures]
    by_month: dict[date, PeriodFigures]
    cost: CostOfYear


def year_view(keeper: Keeper, since: date, until: date) -> YearView:
    """What was made, used and lost from one day to another, both included, and what is left."""
    if until < since:
        raise Refused("The last day is before the first.")
    return remembered(keeper, "year", (since, until), lambda: _year_view(keeper, since, until))


def _year_view(keeper: Keeper, since: date, until: date) -> YearView:
    every = entries(keeper)
    of_batches = [entry for entry in every if entry.what not in IN_STORE]
    by_batch = by(of_batches, since, until, lambda entry: entry.batch)
    by_herb = by(every, since, until, lambda entry: entry.herb)
    return YearView(
        since=since,
        until=until,
        total=totals(every, since, until),
        by_herb=dict(sorted(by_herb.items(), key=lambda each: each[0].casefold())),
        by_batch=dict(sorted(by_batch.items())),
        by_month=by_month(every, since, until),
        cost=_cost(keeper, every, since, until),
    )


def _cost(keeper: Keeper, every: Iterable[DatedAmount], since: date, until: date) -> CostOfYear:
    costs = remembered(keeper, "costs", (), lambda: costs_of_batches(keeper))
    batches = {each.code: each for each in costs}
    sums: dict[What, float] = {}
    unknown: dict[What, dict[str, None]] = defaultdict(dict)
    for entry in every:
        if not since <= entry.day <= until or entry.what not in (*MADE, *USED, *GONE):
            continue
        cost = batches[entry.batch].cost
        unknown[entry.what].update(dict.fromkeys(cost.without))
        if cost.is_priced:
            sums[entry.what] = sums.get(entry.what, 0.0) + entry.amount * cost.per_ml
    lots = purchase_costs(keeper, since, until)
    without = [name for names in unknown.values() for name in names]
    without += [lot.name for lot in lots if lot.cost is None]
    return CostOfYear(
        purchases=tuple(lots),
        batches=tuple(b for b in batches.values() if since <= b.made_on <= until),
        made=_sum(sums, MADE),
        used=_sum(sums, USED),
        gone=_sum(sums, GONE),
        without=tuple(dict.fromkeys(without)),
        by_kind={
            what: CostOfKind(sums.get(what), tuple(unknown[what]))
            for what in What
            if what in unknown
        },
    )


def _sum(sums: dict[What, float], whats: Iterable[What]) -> float | None:
    known = [sums[what] for what in whats if what in sums]
    return sum(known) if known else None
