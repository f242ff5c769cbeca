"""What a shelf made, used and has left between any two dates, from entries of single days."""

from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum
from typing import NamedTuple, TypeVar

from stillroom.reckoning.months import next_month
from stillroom.reckoning.yields import share_of_theoretical


class What(StrEnum):
    """What an entry counts. Amounts are mL unless they are named g or a number."""

    GATHERED = "gathered"
    """g of herb, as it came."""
    HERB_BOUGHT = "herb bought"
    """g."""
    DRIED = "dried"
    """g, when it was dry."""
    HERB_GIVEN = "herb given"
    """g."""
    HERB_LOST = "herb lost"
    """g, discarded, spoiled or not found any more."""
    JARS = "jars filled"
    """A number."""
    HERB = "herb"
    """g, as it went in."""
    BY_EYE = "herbs by eye"
    """A number of herbs whose weight isn't known."""
    POURED = "poured"
    STRAININGS = "jars strained"
    """A number."""
    STRAINED = "strained"
    LIQUID = "liquid"
    """All that was in the jars strained, where it is known."""
    OF_LIQUID = "strained of it"
    """What was strained from those jars."""
    BLENDED = "blended"
    """Made from other tinctures."""
    BOTTLED = "bottled"
    TAKEN = "taken"
    GIVEN = "given"
    INTO_BLENDS = "into other batches"
    ON_HERB = "poured on herb"
    SPILLED = "spilled"
    SPOILED = "spoiled"
    PAST = "past its date"
    """Discarded when its keep-until date had passed."""
    DISCARDED = "discarded"
    FILTERED_OFF = "filtered off"
    DREGS = "dregs"
    EVAPORATED = "evaporated"
    SAMPLE = "sample"
    LOST = "written off"
    """Lost without a word on how."""
    COUNTED = "counted"
    """Found (+) or found missing (-) when it was counted or weighed."""


MADE = (What.STRAINED, What.BLENDED)
USED = (What.TAKEN, What.GIVEN, What.INTO_BLENDS, What.ON_HERB)
GONE = (
    What.SPILLED, What.SPOILED, What.PAST, What.DISCARDED, What.FILTERED_OFF, What.DREGS,
    What.EVAPORATED, What.SAMPLE, What.LOST,
)  # fmt: skip
"""What was of no use."""
IN_STORE = (What.GATHERED, What.HERB_BOUGHT, What.DRIED, What.HERB_GIVEN, What.HERB_LOST)
"""What is about herb before it goes into a jar, and belongs to no batch."""
_SIGNS = (
    dict.fromkeys((*MADE, What.COUNTED), 1.0) | dict.fromkeys((*USED, *GONE), -1.0)
)  # fmt: skip
"""What changes the stock, and which way; bottling only moves it."""


class DatedAmount(NamedTuple):
    """One amount of one day."""

    day: date
    batch: str
    """Code of the batch or jar."""
    herb: str
    """The heading its bottles are listed under."""
    what: What
    amount: float

    @property
    def change_ml(self) -> float:
        """What it does to the stock."""
        return _SIGNS.get(self.what, 0.0) * self.amount


@dataclass
class PeriodFigures:
    """The sums of a period."""

    before_ml: float = 0.0
    """In stock when it began."""
    left_ml: float = 0.0
    """In stock when it ended, in bottles or still to be bottled."""
    amounts: dict[What, float] = field(default_factory=lambda: defaultdict(float))

    def of(self, *whats: What) -> float:
        """The sum of some amounts."""
        return sum(self.amounts.get(what, 0.0) for what in whats)

    @property
    def made_ml(self) -> float:
        """What was strained and blended, mL."""
        return self.of(*MADE)

    @property
    def used_ml(self) -> float:
        """Taken, given, and gone on into other batches or over herb."""
        return self.of(*USED)

    @property
    def gone_ml(self) -> float:
        """Spilled, spoiled, discarded and lost."""
        return self.of(*GONE)

    @property
    def percent(self) -> float | None:
        """The yield as a share of the liquid in the jars, in percent; None where none is known."""
        liquid_ml = self.of(What.LIQUID)
        return share_of_theoretical(self.of(What.OF_LIQUID), liquid_ml) if liquid_ml else None

    @property
    def is_empty(self) -> bool:
        """Whether nothing happened and nothing is there."""
        return not self.amounts and abs(self.before_ml) < _NOTHING_ML

    def add(self, entry: DatedAmount, since: date) -> None:
        """Count one entry, of the period or from before it."""
        self.left_ml += entry.change_ml
        if entry.day < since:
            self.before_ml += entry.change_ml
        else:
            self.amounts[entry.what] += entry.amount


_NOTHING_ML = 0.005

K = TypeVar("K")


def totals(entries: Iterable[DatedAmount], since: date, until: date) -> PeriodFigures:
    """Returns the sums of a period, both days included."""
    return by(entries, since, until, lambda _: "").get("", PeriodFigures())


def by(
    entries: Iterable[DatedAmount], since: date, until: date, key: Callable[[DatedAmount], K]
) -> dict[K, PeriodFigures]:
    """Returns the sums of a period by some key, such as herb or batch, without the empty ones."""
    found: dict[K, PeriodFigures] = defaultdict(PeriodFigures)
    for entry in entries:
        if entry.day <= until:
            found[key(entry)].add(entry, since)
    return {each: figures for each, figures in found.items() if not figures.is_empty}


def by_month(entries: Iterable[DatedAmount], since: date, until: date) -> dict[date, PeriodFigures]:
    """Returns the sums of each month from the first to the last day, by the first of the month.

    Every month is there, the stock carried from each to the next. A first or last month that is
    not all in the period has the sums of its days in it.
    """
    months: dict[date, PeriodFigures] = {}
    month = since.replace(day=1)
    while month <= until:
        months[month] = PeriodFigures()
        month = next_month(month)
    carried_ml = 0.0
    for entry in entries:
        if entry.day < since:
            carried_ml += entry.change_ml
        elif entry.day <= until:
            months[entry.day.replace(day=1)].add(entry, since)
    for figures in months.values():
        figures.before_ml = carried_ml
        carried_ml = figures.left_ml = carried_ml + figures.left_ml
    return months
