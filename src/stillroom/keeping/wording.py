"""Figures and days in words, in the units of a shelf."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from math import ceil
from typing import TYPE_CHECKING, Protocol, Self

from stillroom.dates import DayForm
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import Settings, settings_of
from stillroom.quantities import Notation, UnitSystem, whole_percent
from stillroom.reckoning.kinds import Kind
from stillroom.reckoning.limits import OutOfRange
from stillroom.reckoning.plant import Condition
from stillroom.reckoning.states import DayBy, StrengthBy

if TYPE_CHECKING:  # no start waits for these
    from stillroom.keeping.cupboard_views import HerbEquivalent
    from stillroom.keeping.ledger_views import EventView
    from stillroom.keeping.views import Outlook
    from stillroom.reckoning.other_liquids import Others


class Finished(Protocol):
    """The strength of a finished liquid, and how it is known."""

    @property
    def strength_abv(self) -> float | None: ...
    @property
    def strength_by(self) -> str: ...
    @property
    def strength_at_most(self) -> bool: ...


@dataclass(frozen=True)
class Wording(Notation):
    """The notation of a shelf, with the words that go with a figure of a jar or bottle."""

    @classmethod
    def of_shelf(cls, settings: Settings) -> Self:
        """The notation that the preferences of a shelf ask for."""
        return cls(
            settings.units,
            settings.decimal_comma,
            settings.currency,
            settings.day_form,
            settings.alcoholometer,
        )

    def refusal(self, error: Exception) -> str:
        """What is wrong, its figures in the units of the shelf."""
        if not isinstance(error, OutOfRange):
            return str(error)
        return self.fill_in(error.text, error.figures)

    def herb_mass(self, value_g: float | None) -> str:
        """The mass of a herb, or that it was put in by eye."""
        return "by eye" if value_g is None else self.mass(value_g)

    def herb_with_mass(self, herb: str, value_g: float | None) -> str:
        """A herb with its mass, such as `100 g Sage`, or `Sage by eye`."""
        return f"{herb} by eye" if value_g is None else f"{self.mass(value_g)} {herb}"

    def herb_put_in(self, mass_g: float | None, plant: str, *, is_marc: bool) -> str:
        """Herb in a jar, such as `100 g leaf, dried`; the marc of another jar has no weight."""
        return f"marc, {plant}" if is_marc else f"{self.herb_mass(mass_g)} {plant}"

    def finished_strength(self, liquid: Finished) -> str:
        """The strength of a tincture, no finer than it is known; nothing where it is not known.

        Where some of the plant's water is not in the figure it is `at most`, rounded up.
        """
        percent = self.finished_percent(liquid)
        return f"{percent} v/v" if percent else ""

    def finished_percent(self, liquid: Finished) -> str:
        """The same under a heading that says it is a strength."""
        return self.percent_known(liquid, at_most="at most", about="about")

    def strength_cell(self, liquid: Finished) -> str:
        """The same in a narrow column: `≤ 35.3 %` for at most, `≈ 44 %` for about."""
        return self.percent_known(liquid, at_most="≤", about="≈")

    def percent_known(self, liquid: Finished, *, at_most: str, about: str) -> str:
        """The same with words or signs of one's own for what is only estimated."""
        strength_abv = liquid.strength_abv
        if strength_abv is None or liquid.strength_by != StrengthBy.ESTIMATED:
            return self.of(Kind.STRENGTH, strength_abv)
        if liquid.strength_at_most:
            return f"{at_most} {self._rounded_up(strength_abv)}"
        return f"{about} {self.of(Kind.STRENGTH, whole_percent(strength_abv))}"

    def strength_at_most(self, value_abv: float) -> str:
        """The most that a strength can be, such as `at most 35.3 % v/v`."""
        return f"{self.percent_at_most(value_abv)} v/v"

    def percent_at_most(self, value_abv: float) -> str:
        """The same without its v/v."""
        return f"at most {self._rounded_up(value_abv)}"

    def _rounded_up(self, value_abv: float) -> str:
        return self.of(Kind.STRENGTH, ceil(10 * value_abv - 1e-6) / 10)

    def density(self, g_per_ml: float) -> str:
        """A density, such as `1.261 g/mL`."""
        shown = f"{g_per_ml:.3f}".rstrip("0").rstrip(".")
        return f"{shown.replace('.', ',') if self.decimal_comma else shown} g/mL"

    def other_liquids(self, others: "Others") -> str:
        """The shares of other liquids, such as `Honey 20 %, glycerol 25 %`; blank without any."""
        shares = [f"{each.name} {self.percent(100 * each.share)}" for each in others.liquids]
        if others.glycerol_percent:
            shares.append(f"glycerol {self.percent(others.glycerol_percent)}")
        if others.acidity:
            shares.append(f"acid {self.percent(others.acidity)}")
        return ", ".join(shares)

    def keeping_of(self, strength_abv: float | None, others: "Others") -> str:
        """Whether a mixture with other liquids will keep, as far as there is a rule for it."""
        from stillroom.reckoning.charge import Keeping, will_it_keep
        from stillroom.reckoning.other_liquids import reason_for_no_verdict

        verdict = reason_for_no_verdict(others)
        if strength_abv is not None and will_it_keep(strength_abv) is Keeping.KEEPS:
            verdict = Keeping.KEEPS.sentence
        return f"Shares: {self.other_liquids(others)}. {verdict}"

    def verdict(self, outlook: "Outlook") -> str:
        """Whether what is in a jar will keep; where there is no rule for it, what is in it."""
        from stillroom.reckoning.charge import Keeping

        if not outlook.others or outlook.keeps == Keeping.KEEPS:
            return outlook.verdict
        return f"Shares: {self.other_liquids(outlook.others)}. {outlook.verdict}"

    def stands_for(self, herbs: Sequence["HerbEquivalent"]) -> str:
        """What a millilitre or fluid ounce stands for; nothing where no herb was weighed."""
        if all(herb.g_per_ml is None for herb in herbs):
            return ""
        equivalents = ", ".join(self._equivalent(herb) for herb in herbs)
        return f"1 {self.unit(Kind.VOLUME)} stands for {equivalents}"

    def _equivalent(self, herb: "HerbEquivalent") -> str:
        if herb.g_per_ml is None:
            return f"some {herb.herb} (not weighed)"
        at_most = "at most " if herb.is_at_most else ""
        if herb.condition == Condition.NOT_KNOWN:
            amount = self._herb_in_one(herb.g_per_ml)
            return f"{at_most}{amount} {herb.herb} ({herb.condition})"
        if herb.condition == Condition.DRIED:
            return f"{at_most}{self._herb_in_one(herb.g_per_ml)} {herb.herb}"
        dried = self._herb_in_one(herb.dried_g_per_ml)
        return f"{at_most}{self._herb_in_one(herb.g_per_ml)} fresh {herb.herb} ({dried} dried)"

    def _herb_in_one(self, g_per_ml: float | None) -> str:
        """The weight of herb in 1 mL or 1 fl oz; small ones in mg, or no finer than can be read."""
        if g_per_ml is None:
            return ""
        if self.units is UnitSystem.METRIC and g_per_ml < 0.01:
            return f"{self.of(Kind.NUMBER, 1000 * g_per_ml)} mg"
        shown = self.of(Kind.CONCENTRATION, g_per_ml).partition("/")[0]
        is_nothing = not any(digit in shown for digit in "123456789")
        return f"less than {self.number(0.001)} oz" if is_nothing and g_per_ml > 0 else shown

    def day_known(self, day: date, by: DayBy) -> str:
        """A day as far as it is known: in doubt the one that is stored isn't printed."""
        if by is DayBy.NOT_KNOWN:
            return str(by)
        return self.day(day) + ("" if by is DayBy.STATED else f" ({by})")

    def later(self, event: "EventView") -> str:
        """What became of an entry: `corrected 26 Nov 2026 by AK: misread jug`; or blank.

        The word is needed where a line through the entry can't be drawn or seen.
        """
        if event.later is None:
            return ""
        by = f" by {event.later.maker}" if event.later.maker else ""
        why = f": {event.later.why}" if event.later.why else ""
        return f"{event.mark} {self.day(event.later.day)}{by}{why}"

    def days_in_ranges(self, days: Iterable[date]) -> str:
        """Days in order, those that follow each other drawn together."""
        ranges: list[tuple[date, date]] = []
        for day in days:
            if ranges and day - ranges[-1][1] == timedelta(days=1):
                ranges[-1] = ranges[-1][0], day
            else:
                ranges.append((day, day))
        return ", ".join(self._range(first, last) for first, last in ranges)

    def _range(self, first: date, last: date) -> str:
        if first == last:
            return self.day(first)
        is_in_a_month = (first.year, first.month) == (last.year, last.month)
        if is_in_a_month and self.day_form is DayForm.DAY_MONTH_YEAR:
            return f"{first.day} to {self.day(last)}"
        return f"{self.day(first)} to {self.day(last)}"


def wording(keeper: Keeper) -> Wording:
    """How this shelf writes figures."""
    return Wording.of_shelf(settings_of(keeper))
