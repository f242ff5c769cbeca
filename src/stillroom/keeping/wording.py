"""Figures and days in words, in the units of a shelf."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from math import ceil
from typing import Protocol

from stillroom.dates import show_day
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import Settings, settings_of
from stillroom.keeping.views import HerbEquivalent
from stillroom.quantities import fill_in, show, whole_percent
from stillroom.reckoning.charge import Condition
from stillroom.reckoning.kinds import Kind
from stillroom.reckoning.limits import OutOfRange
from stillroom.reckoning.states import StrengthBy


class Finished(Protocol):
    """A finished liquid, as far as its strength goes."""

    @property
    def strength_abv(self) -> float | None: ...
    @property
    def strength_by(self) -> str: ...
    @property
    def strength_at_most(self) -> bool: ...


@dataclass(frozen=True)
class Wording:
    """Prints in the units of a shelf; what is not recorded prints as nothing."""

    settings: Settings

    def of(self, kind: Kind, value: float | None) -> str:
        """A value of a kind."""
        if value is None:
            return ""
        return show(kind, value, self.settings.units, decimal_comma=self.settings.decimal_comma)

    def refusal(self, error: Exception) -> str:
        """What is wrong, its figures in the units of the shelf."""
        if not isinstance(error, OutOfRange):
            return str(error)
        units, decimal_comma = self.settings.units, self.settings.decimal_comma
        return fill_in(error.text, error.figures, units, decimal_comma=decimal_comma)

    def volume(self, value_ml: float | None) -> str:
        """A volume."""
        return self.of(Kind.VOLUME, value_ml)

    def mass(self, value_g: float | None) -> str:
        """A mass."""
        return self.of(Kind.MASS, value_g)

    def herb_mass(self, value_g: float | None) -> str:
        """The mass of a herb, or that it was put in by eye."""
        return "by eye" if value_g is None else self.mass(value_g)

    def strength(self, value_abv: float | None) -> str:
        """A strength, such as `38.2 % v/v`."""
        return f"{self.of(Kind.STRENGTH, value_abv)} v/v" if value_abv is not None else ""

    def finished_strength(self, liquid: Finished) -> str:
        """The strength of a tincture, no finer than it is known; nothing where it is not known.

        Where some of the plant's water is not in the figure it is `at most`, rounded up.
        """
        strength_abv = liquid.strength_abv
        if strength_abv is None or liquid.strength_by != StrengthBy.ESTIMATED:
            return self.strength(strength_abv)
        if liquid.strength_at_most:
            return self.strength_at_most(strength_abv)
        return f"about {self.strength(whole_percent(strength_abv))}"

    def strength_at_most(self, value_abv: float) -> str:
        """The most that a strength can be, such as `at most 35.3 % v/v`."""
        return f"at most {self.strength(ceil(10 * value_abv - 1e-6) / 10)}"

    def ratio(self, value: float | None) -> str:
        """A ratio, such as `1:5`; where it is printed, `poured` goes with it."""
        return self.of(Kind.RATIO, value)

    def stands_for(self, herbs: Sequence[HerbEquivalent]) -> str:
        """What a millilitre stands for; nothing where no herb was weighed."""
        if all(herb.g_per_ml is None for herb in herbs):
            return ""
        return f"1 mL stands for {', '.join(self._equivalent(herb) for herb in herbs)}"

    def _equivalent(self, herb: HerbEquivalent) -> str:
        if herb.g_per_ml is None:
            return f"some {herb.herb} (not weighed)"
        at_most = "at most " if herb.is_at_most else ""
        if herb.condition == Condition.DRIED:
            return f"{at_most}{self._herb_g(herb.g_per_ml)} {herb.herb}"
        dried = self._herb_g(herb.dried_g_per_ml)
        return f"{at_most}{self._herb_g(herb.g_per_ml)} fresh {herb.herb} ({dried} dried)"

    def _herb_g(self, g_per_ml: float | None) -> str:
        """Grams or milligrams whatever the units, as the sentence is about a millilitre."""
        if g_per_ml is not None and g_per_ml < 0.01:
            return f"{self.of(Kind.NUMBER, 1000 * g_per_ml)} mg"
        return self.of(Kind.CONCENTRATION, g_per_ml).removesuffix("/mL")

    def share(self, part: float | None, whole: float | None) -> str:
        """A part of a whole in percent."""
        return self.of(Kind.PERCENT, 100 * part / whole) if part is not None and whole else ""


def wording(keeper: Keeper) -> Wording:
    """How this shelf likes figures told."""
    return Wording(settings_of(keeper))


def day_or_blank(day: date | None) -> str:
    """A day in full, or nothing."""
    return show_day(day) if day else ""


def days_in_ranges(days: Iterable[date]) -> str:
    """Days in order, those that follow each other drawn together."""
    ranges: list[tuple[date, date]] = []
    for day in days:
        if ranges and day - ranges[-1][1] == timedelta(days=1):
            ranges[-1] = ranges[-1][0], day
        else:
            ranges.append((day, day))
    return ", ".join(_range(first, last) for first, last in ranges)


def _range(first: date, last: date) -> str:
    if first == last:
        return show_day(first)
    if (first.year, first.month) == (last.year, last.month):
        return f"{first.day} to {show_day(last)}"
    return f"{show_day(first)} to {show_day(last)}"
