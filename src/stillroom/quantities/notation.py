"""How a shelf writes figures: one object that prints every figure and reads what is typed."""

import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import date
from typing import Self

from stillroom.dates import (
    DayForm,
    show_day,
    show_day_of_year,
    show_day_short,
    show_moment,
    show_month,
)
from stillroom.errors import NotUnderstood
from stillroom.quantities.printing import Style, fill_in, show, show_value
from stillroom.quantities.reading import parse, parse_volume_or_mass, read_instrument
from stillroom.quantities.units import UnitSystem, unit_of
from stillroom.reckoning.kinds import Figure, Kind, Sum

_MONEY = (Kind.MONEY, Kind.MONEY_PER_ML, Kind.MONEY_PER_G)


@dataclass(frozen=True)
class Notation:
    """Units, decimal mark, currency and form of dates; what is not known prints as nothing."""

    units: UnitSystem = UnitSystem.METRIC
    decimal_comma: bool = False
    currency: str = ""
    """A sign such as € or a code such as EUR; blank prints bare amounts."""
    day_form: DayForm = DayForm.DAY_MONTH_YEAR
    alcoholometer: str = ""
    """The temperature at which the alcoholometer is true, a key such as `60f`; blank for by its
    scale."""
    joint: str = " "
    """What is between a number and its unit."""

    @property
    def for_programs(self) -> Self:
        """The same units with a decimal point and without currency, as programs expect them."""
        return replace(self, decimal_comma=False, currency="", day_form=DayForm.DAY_MONTH_YEAR)

    @property
    def _style(self) -> Style:
        return Style(self.decimal_comma, self.currency, self.joint)

    def figure(self, figure: Figure) -> str:
        """A figure, rounded to what can be measured, with its unit."""
        return show(figure, system=self.units, style=self._style)

    def of(self, kind: Kind, value: float | None) -> str:
        """A value of a kind, in the unit the kind is held in."""
        return "" if value is None else show_value(kind, value, self.units, self._style)

    def to_a_hundredth(self, kind: Kind, value: float) -> str:
        """A value as finely as one below 1 is printed, so that close ones can be told apart."""
        return self.figure(Figure(kind, value, fine_as=min(abs(value), 0.5)))

    def volume(self, value_ml: float | None) -> str:
        """A volume."""
        return self.of(Kind.VOLUME, value_ml)

    def mass(self, value_g: float | None) -> str:
        """A mass."""
        return self.of(Kind.MASS, value_g)

    def percent(self, value: float | None) -> str:
        """A percentage or a strength, such as `38.2 %`."""
        return self.of(Kind.PERCENT, value)

    def strength(self, value_abv: float | None) -> str:
        """A strength, such as `38.2 % v/v`."""
        return f"{self.of(Kind.STRENGTH, value_abv)} v/v" if value_abv is not None else ""

    def ratio(self, value: float | None) -> str:
        """A ratio, such as `1:5`; where it is printed, `poured` goes with it."""
        return self.of(Kind.RATIO, value)

    def share(self, part: float | None, whole: float | None) -> str:
        """A part of a whole in percent."""
        return self.percent(100 * part / whole) if part is not None and whole else ""

    def number(self, value: float | None) -> str:
        """A plain number."""
        return self.of(Kind.NUMBER, value)

    def money(self, value: float | None) -> str:
        """An amount of money."""
        return self.of(Kind.MONEY, value)

    def unit(self, kind: Kind) -> str:
        """The unit of a bare number of a kind, for a heading or beside a field."""
        if kind is Kind.MONEY:
            return self.currency
        unit = unit_of(kind, self.units)
        return f"{self.currency}{unit}" if kind in _MONEY else unit

    def fill_in(self, text: str, figures: Sequence[Figure], sum: Sum | None = None) -> str:
        """Put figures in the places {0}, {1}, … of a sentence; those of a sum add up."""
        return fill_in(text, figures, self.units, style=self._style, sum=sum)

    def day(self, day: date | None) -> str:
        """A day in full, such as `26 Nov 2026`."""
        return show_day(day, self.day_form) if day else ""

    def month(self, day: date) -> str:
        """A day's month and year, such as `Nov 2026`."""
        return show_month(day, self.day_form)

    def day_short(self, day: date) -> str:
        """A day without its year but with its weekday, such as `Thu 26 Nov`."""
        return show_day_short(day, self.day_form)

    def day_of_year(self, month_day: tuple[int, int]) -> str:
        """A month and day of any year, such as `26 Nov`."""
        return show_day_of_year(*month_day, self.day_form)

    def moment(self, at: str) -> str:
        """An ISO 8601 moment as the day and time of this place."""
        return show_moment(at, self.day_form)

    def read(self, kind: Kind, text: str) -> float:
        """Read a number of a kind; a bare number is in the unit that `unit` names.

        Raises NotUnderstood with what could be written instead.
        """
        with self._refusing(text):
            if kind in _MONEY and self.currency:
                return parse(kind, self._without_currency(text), self.units)
            return parse(kind, text, self.units)

    def read_volume_or_mass(self, text: str) -> Figure:
        """Read what was measured by jug or by scale."""
        with self._refusing(text):
            return parse_volume_or_mass(text, self.units)

    def read_instrument(self, text: str, scale: str, true_at: str) -> tuple[float, str, str]:
        """Read an alcoholometer: % v/v on its own scale, the scale, and where it is true."""
        with self._refusing(text):
            return read_instrument(text, scale, true_at, self.units, self.alcoholometer)

    @contextmanager
    def _refusing(self, typed: str) -> Iterator[None]:
        """Refuse with examples in this decimal mark; what was typed is cited as it is."""
        try:
            yield
        except NotUnderstood as error:
            if not self.decimal_comma:
                raise
            cited = typed.strip() if "." in typed else "\n"  # which no refusal holds
            parts = str(error).split(cited)
            words = [re.sub(r"(?<=\d)\.(?=\d)", ",", part) for part in parts]
            raise NotUnderstood(cited.join(words)) from error

    def _without_currency(self, text: str) -> str:
        """The text without the currency in front of its first number or behind it."""
        sign = re.escape(self.currency)
        return re.sub(rf"(?i)^\s*{sign}\s*|(?<=\d)\s*{sign}(?![^\W\d_])", "", text, count=1)


METRIC = Notation()
"""Metric units with a decimal point, the default."""
