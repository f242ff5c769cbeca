"""What the strainings of each herb teach: yields over the years, and what the marc holds back."""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby
from operator import itemgetter
from statistics import fmean
from typing import Any

from stillroom.keeping.keeper import Keeper
from stillroom.keeping.memo import remembered
from stillroom.reckoning.charge import Condition, Part, charge_as_recorded
from stillroom.reckoning.yields import (
    LearnedRetention,
    Pressing,
    Prior,
    is_possible,
    learned_retention,
    prior,
    retention_seen,
    share_of_theoretical,
)

_STRAININGS = """
    SELECT s.id, s.jar_id, j.code, s.strained_on, s.pressing, s.yield_ml, s.liquid_ml, s.teaches,
           h.id, h.name, l.part, l.condition, l.mass_g, l.water_fraction
    FROM straining s
    JOIN jar j ON j.id = s.jar_id
    JOIN charge_line l ON l.jar_id = s.jar_id
    JOIN herb h ON h.id = l.herb_id
    ORDER BY s.strained_on, s.id, l.id
"""
CHIEF_SHARE = 0.5
"""A jar counts as one of the herb that is at least this share of it, dried. Judgement."""


@dataclass(frozen=True)
class StrainingSeen:
    """One straining."""

    jar_id: int
    code: str
    strained_on: date
    percent: float | None
    """Of the liquid in the jar; None where it isn't known."""
    retention: float | None
    """mL held back by a gram, dried; None where a weight isn't known."""
    teaches: bool
    """Whether the forecast may learn from it."""


@dataclass(frozen=True)
class Learning:
    """The strainings of one herb and part, in one condition and pressed one way."""

    herb_id: int
    herb: str
    part: Part
    condition: Condition
    pressing: Pressing
    strainings: tuple[StrainingSeen, ...]
    """Oldest first."""
    published: Prior
    learned: LearnedRetention

    @property
    def mean_percent(self) -> float | None:
        """Of the yields that are known and teach."""
        known = [s.percent for s in self.strainings if s.percent is not None and s.teaches]
        return fmean(known) if known else None

    @property
    def last_percent(self) -> float | None:
        """The latest that is known."""
        known = [s.percent for s in self.strainings if s.percent is not None]
        return known[-1] if known else None


def learning(keeper: Keeper) -> list[Learning]:
    """What each herb was strained to, by condition and pressing; jars of many herbs apart."""
    return remembered(keeper, "learning", (), lambda: _learning(keeper))


def _learning(keeper: Keeper) -> list[Learning]:
    found: dict[tuple[Any, ...], list[StrainingSeen]] = defaultdict(list)
    for _, lines in groupby(keeper.rows(_STRAININGS), key=itemgetter(0)):
        rows = list(lines)
        for key, seen in _seen(rows):
            found[key].append(seen)
    every = []
    for (herb_id, herb, part, condition, pressing), strainings in found.items():
        own = [s.retention for s in strainings if s.retention is not None and s.teaches]
        every.append(
            Learning(
                herb_id, herb, part, condition, pressing, tuple(strainings),
                prior(pressing, condition), learned_retention(pressing, own, condition),
            )
        )  # fmt: skip
    return sorted(every, key=lambda x: (x.herb.casefold(), x.part, x.condition, x.pressing))


def _seen(rows: Sequence[tuple[Any, ...]]) -> Iterator[tuple[tuple[Any, ...], StrainingSeen]]:
    """A straining under the herb that its jar was for the most part of."""
    _, jar_id, code, day, pressing, yield_ml, liquid_ml, teaches = rows[0][:8]
    charges = []
    for *_, part, condition, mass_g, water in rows:
        charges.append(charge_as_recorded(mass_g, Part(part), Condition(condition), water))
    is_weighed = all(c.mass_g is not None and c.is_water_known for c in charges)
    dried = [charge.dried_g for charge in charges] if is_weighed else [1.0] * len(rows)
    chief = max(range(len(rows)), key=lambda place: dried[place])
    if dried[chief] < CHIEF_SHARE * sum(dried):
        return
    herb_id, herb, part, condition = rows[chief][8:12]
    if condition == Condition.NOT_KNOWN or pressing == Pressing.NOT_KNOWN:
        return
    retention = None
    if liquid_ml and is_weighed and sum(dried) and is_possible(liquid_ml, yield_ml):
        retention = retention_seen(liquid_ml, yield_ml, sum(dried))
    percent = share_of_theoretical(yield_ml, liquid_ml) if liquid_ml else None
    key = (herb_id, herb, Part(part), Condition(condition), Pressing(pressing))
    seen = StrainingSeen(jar_id, code, date.fromisoformat(day), percent, retention, bool(teaches))
    yield key, seen
