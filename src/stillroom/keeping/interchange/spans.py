"""How long a jar is to steep, how full a bottle is, and months without a day, as people write."""

import re
from calendar import monthrange
from dataclasses import dataclass
from datetime import date, timedelta

from stillroom.dates import parse_day
from stillroom.errors import NotUnderstood
from stillroom.keeping.interchange.loose import Within
from stillroom.keeping.interchange.vocabulary import (
    english_month,
    fold,
    fold_signs,
    meanings,
    pattern,
)
from stillroom.reckoning.months import months_on

_FRACTIONS = {"½": 0.5, "¼": 0.25, "¾": 0.75, "1/2": 0.5, "1/4": 0.25, "3/4": 0.75, "1/3": 1 / 3,
              "2/3": 2 / 3}  # fmt: skip


@dataclass(frozen=True)
class HowLong:
    """From a day on: `6 weeks`, `4-6 weeks`."""

    low: int
    high: int
    unit: str
    """day, week or month."""

    @property
    def is_range(self) -> bool:
        """Whether it is one of several."""
        return self.low != self.high

    def after(self, day: date, within: Within | None) -> date | None:
        """The day at its end, of a range what a person wants of it; OverflowError beyond time."""
        first, last = self._end(day, self.low), self._end(day, self.high)
        if not self.is_range or within is Within.LOW:
            return first
        if within is Within.HIGH:
            return last
        return first + (last - first) // 2 if within is Within.MIDDLE else None

    def _end(self, day: date, count: int) -> date:
        if self.unit == "month":
            return months_on(day, count)
        return day + timedelta(count * (7 if self.unit == "week" else 1))


def span(text: str) -> HowLong | None:
    """How long, in days, weeks or months of any language; None where the text isn't that.

    >>> span("6 weeks"), span("4-6 Wochen")
    (HowLong(low=6, high=6, unit='week'), HowLong(low=4, high=6, unit='week'))
    """
    found = re.fullmatch(
        rf"(?:(?:{pattern('after')}) )?(?P<low>\d{{1,3}})"
        rf"(?: ?(?:[-–—]|\b(?:{pattern('range')})\b) ?(?P<high>\d{{1,3}}))?"
        rf" ?(?P<unit>{pattern('span')})\.?",
        fold(text),
    )
    if not found:
        return None
    low, high = int(found["low"]), int(found["high"] or found["low"])
    return HowLong(low, high, meanings("span")[found["unit"]][0]) if low <= high else None


def share_left(text: str) -> float | None:
    """How full a bottle is, from 0 to 1; None where the text gives no share.

    >>> share_left("full"), share_left("halb voll"), share_left("30 %"), share_left("30 ml")
    (1.0, 0.5, 0.3, None)
    """
    plain = fold_signs(text).strip(" .")
    if plain in meanings("fill"):
        return float(meanings("fill")[plain][0])
    if found := re.fullmatch(r"(\d{1,2}|100) ?%", plain):
        return int(found[1]) / 100
    signs = "|".join(map(re.escape, _FRACTIONS))
    found = re.fullmatch(rf"({signs}) ?(?:{pattern('measure')})?", plain)
    return _FRACTIONS[found[1]] if found else None


def month_end(text: str) -> date | None:
    """The last day of a month or year without a day; None where the text is something else.

    "Best before end" of a month is what a date without a day means: Regulation (EU) 1169/2011,
    annex X, 1(a).

    >>> month_end("06/2029"), month_end("Juni 2029"), month_end("2029"), month_end("1.6.2029")
    (datetime.date(2029, 6, 30), datetime.date(2029, 6, 30), datetime.date(2029, 12, 31), None)
    """
    plain = english_month(text).strip()
    if found := re.fullmatch(r"(20\d\d)", plain):
        return date(int(found[1]), 12, 31)
    if found := re.fullmatch(r"(\d{1,2}) ?[/.-] ?(20\d\d)", plain):
        year, month = int(found[2]), int(found[1])
    elif found := re.fullmatch(r"(20\d\d) ?[/.-] ?(\d{1,2})", plain):
        year, month = int(found[1]), int(found[2])
    elif found := re.fullmatch(r"([a-z]+)[ .,]*(20\d\d)", plain, re.IGNORECASE):
        try:
            first = parse_day(f"1 {found[0]}", date.min)
        except NotUnderstood:
            return None
        year, month = first.year, first.month
    else:
        return None
    return date(year, month, monthrange(year, month)[1]) if 1 <= month <= 12 else None
