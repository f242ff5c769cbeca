"""How long the stock lasts: what went out against what is left, and what passes soon."""

import json
from collections import defaultdict
from dataclasses import dataclass, field
from datetime import date, timedelta
from itertools import pairwise
from math import inf

from stillroom.keeping.bottles.bottle_views import bottles_by_id, in_list_order
from stillroom.keeping.bottles.stock_views import HerbOutlook
from stillroom.keeping.bottles.tinctures import unbottled
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.tolerances import EMPTY_ML
from stillroom.keeping.views import BottleRow
from stillroom.keeping.words import listed
from stillroom.reckoning.states import MovementKind, in_sql

SOON = timedelta(days=60)
"""How long ahead a keep-until date is announced."""

LOW_DAYS = 60
"""Stock that lasts no longer is low: time to fill, steep and strain a new jar. Judgement."""

YEAR_DAYS = 365
LEAST_DAYS = 30
"""A rate rests on at least this many days: a first draw shows nothing about use. Judgement."""

LONGEST_DAYS = 50 * 365
"""A day further off than this only means that there is plenty."""

# What is used. Discarded liquid shows nothing about use; filling and pouring together aren't use.
_WENT_OUT = f"""
    SELECT bottle_id, -sum(volume_ml) FROM movement
    WHERE day > ? AND day <= ?
      AND kind IN {in_sql(kind for kind in MovementKind if kind.is_use)}
    GROUP BY +bottle_id
"""
"""With the plus, which changes no value, SQLite goes by day and not through every bottle."""

# Bottles in stock or touched since a day, and all those of tinctures still to be bottled, which are
# listed under the heading of their bottles. No other can have held anything since.
_RECENT = """
    SELECT bottle_id FROM in_stock
    UNION SELECT bottle_id FROM movement WHERE day > ?
    UNION SELECT b.id FROM to_bottle w CROSS JOIN bottle b ON b.tincture_id = w.tincture_id
"""

# What was in each of them at the end of a first day, and what each later day changed.
_CHANGES = """
    SELECT m.bottle_id, max(m.day, :first_day) AS since, sum(m.volume_ml)
    FROM json_each(:wanted) CROSS JOIN movement m ON m.bottle_id = value
    WHERE m.day <= :today GROUP BY m.bottle_id, since
"""

_PASSING = """
    SELECT w.bottle_id FROM in_stock w CROSS JOIN bottle b ON b.id = w.bottle_id
    CROSS JOIN tincture t ON t.id = b.tincture_id WHERE t.keep_until <= ?
"""


@dataclass
class _Stock:
    """What is known of one herb while it is added up."""

    left_ml: float = 0.0
    to_bottle_ml: float = 0.0
    went_out_ml: float = 0.0
    changes_ml: dict[date, float] = field(default_factory=lambda: defaultdict(float))
    """What each day of the last year put into its bottles or took out; the first, all before."""

    def days_in_stock(self, today: date) -> int:
        """Days up to today that began with something in its bottles."""
        days, held_ml = 0, 0.0
        for day, next_day in pairwise([*sorted(self.changes_ml), today]):
            held_ml += self.changes_ml[day]
            if held_ml > EMPTY_ML:
                days += (next_day - day).days
        return days


def stock_outlook(keeper: Keeper) -> list[HerbOutlook]:
    """Every herb that is in stock or was in the last twelve months, what runs out first on top.

    Herbs are the headings of the Bottles page, so a blend is listed under its own name, and herbs
    that steeped together under all of theirs.
    """
    stocks = _stocks(keeper)
    found = [_outlook(herb, stock, keeper.today) for herb, stock in stocks.items()]
    told = [each for each in found if each.went_out_ml or _in_hand_ml(each) > EMPTY_ML]
    return sorted(told, key=lambda each: (each.runs_out_on or date.max, each.herb.casefold()))


def passing_soon(keeper: Keeper, within: timedelta = SOON) -> list[BottleRow]:
    """Bottles past their keep-until date or soon to be, the earliest first."""
    limit = keeper.today + within
    ids = [bottle_id for (bottle_id,) in keeper.rows(_PASSING, limit.isoformat())]
    dated = [row for row in bottles_by_id(keeper, ids).values() if row.left_ml > EMPTY_ML]
    return sorted(dated, key=lambda row: (row.keep_until or date.max, *in_list_order(row)))


def _stocks(keeper: Keeper) -> dict[str, _Stock]:
    year_ago = keeper.today - timedelta(days=YEAR_DAYS)
    went_out = dict(keeper.rows(_WENT_OUT, year_ago.isoformat(), keeper.today.isoformat()))
    recent = [bottle_id for (bottle_id,) in keeper.rows(_RECENT, year_ago.isoformat())]
    stocks: dict[str, _Stock] = defaultdict(_Stock)
    headings: dict[int, str] = {}
    herbs_of: dict[int, str] = {}
    for row in sorted(bottles_by_id(keeper, recent).values(), key=in_list_order):
        headings[row.tincture_id] = herbs_of[row.bottle_id] = row.herb
        stock = stocks[row.herb]
        stock.left_ml += row.left_ml
        stock.went_out_ml += went_out.get(row.bottle_id, 0.0)
    asked = {"first_day": year_ago.isoformat(), "today": keeper.today.isoformat()}
    for bottle_id, day, volume_ml in keeper.store.db.execute_sql(
        _CHANGES, asked | {"wanted": json.dumps(recent)}
    ):
        if herb := herbs_of.get(bottle_id):
            stocks[herb].changes_ml[date.fromisoformat(day)] += volume_ml
    for tincture in unbottled(keeper):
        herbs = listed(charge.herb for charge in tincture.herbs)
        own = tincture.name if tincture.is_blend else herbs
        stocks[headings.get(tincture.tincture_id, own)].to_bottle_ml += tincture.loose_ml
    return stocks


def _outlook(herb: str, stock: _Stock, today: date) -> HerbOutlook:
    went_out_ml = stock.went_out_ml if stock.went_out_ml > EMPTY_ML else 0.0
    over_days = stock.days_in_stock(today)
    in_hand_ml = stock.left_ml + stock.to_bottle_ml
    lasts_days = inf
    if went_out_ml and (over_days >= LEAST_DAYS or in_hand_ml <= EMPTY_ML):
        lasts_days = in_hand_ml * over_days / went_out_ml
    in_sight = lasts_days <= LONGEST_DAYS
    return HerbOutlook(
        herb=herb,
        left_ml=stock.left_ml,
        to_bottle_ml=stock.to_bottle_ml,
        went_out_ml=went_out_ml,
        over_days=over_days,
        runs_out_on=today + timedelta(days=int(lasts_days)) if in_sight else None,
        is_low=lasts_days <= LOW_DAYS,
    )


def _in_hand_ml(outlook: HerbOutlook) -> float:
    return outlook.left_ml + outlook.to_bottle_ml
