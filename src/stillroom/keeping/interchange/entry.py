"""One row of a person's own notebook of jars and bottles, understood."""

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from stillroom.dates import parse_day
from stillroom.errors import NotUnderstood
from stillroom.keeping.codes import clean_code
from stillroom.keeping.interchange.days import plain_day
from stillroom.keeping.interchange.herb_cells import chosen, named_herb
from stillroom.keeping.interchange.loose import (
    Written,
    bottles,
    is_unknown,
    with_decimal_mark,
    written,
)
from stillroom.keeping.interchange.spans import HowLong, month_end, share_left, span
from stillroom.keeping.interchange.vocabulary import in_our_units, meanings_within
from stillroom.keeping.words import clean_name, clean_note
from stillroom.quantities import Notation, parse_shakes
from stillroom.reckoning.cautions import FOOD_GRADE, is_unfit
from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.kinds import Kind
from stillroom.reckoning.yields import Pressing

NEEDED = {"herb": "herb", "day": "date"}
"""The columns no row can do without, by what they are called."""
PAST_DAYS = frozenset({"day", "strained", "gathered"})
DAYS = (*sorted(PAST_DAYS), "strain_on", "keep_until")
FIGURES = ("mass", "volume", "strength", "liquid", "yielded", "size", "left", "capacity", "bottles")

_NUMBER = r"(?:(?:\d+ ?)?[½¼¾]|(?:\d+ )?\d/\d|\d+(?:[.,]\d+)?)"
_VOLUME_WITHIN = rf"{_NUMBER} ?(?:ml|cl|dl|l|fl\.? ?oz|cups?)\b"
_STRENGTH_WITHIN = rf"{_NUMBER} ?(?:%|(?:us )?proof\b)"
_BARE = re.compile(r"[\d.,]+")


@dataclass(frozen=True)
class NotebookRow:
    """One row of the notebook, understood."""

    line: int
    herb: str
    day: date
    """When the jar was filled, or the bottle made."""
    botanical: str = ""
    part: Part | None = None
    condition: Condition | None = None
    mass: float | None = None
    """g."""
    volume: float | None = None
    """mL poured on."""
    strength: float | None = None
    """% v/v of what was poured on."""
    liquid: str = ""
    """What was poured on, if words describe it better than volume and strength."""
    pressing: Pressing | None = None
    strain_on: date | None = None
    steeped: bool = False
    """Whether its strain date is counted from its filling date, as the sheet says how long."""
    strained: date | None = None
    yielded: float | None = None
    """mL strained."""
    size: float | None = None
    """mL the bottle takes."""
    left: float | None = None
    """mL in the bottle."""
    is_empty: bool = False
    """Whether nothing is left of it."""
    bottles: tuple[float, ...] = ()
    """mL that each of several bottles takes."""
    keep_until: date | None = None
    place: str = ""
    shelf: str = ""
    code: str = ""
    capacity: float | None = None
    """mL the jar takes."""
    shakes: int | None = None
    gathered: date | None = None
    origin: str = ""
    note: str = ""
    inexact: frozenset[str] = field(default_factory=frozenset)
    """Columns whose cells say more, or less, than a figure; their words are in the note."""

    @property
    def in_bottle_ml(self) -> float | None:
        """What its bottle holds, full if no volume is given; None if it names no bottle."""
        return self.size if self.left is None else self.left

    @property
    def is_bottled(self) -> bool:
        """Whether it names a bottle."""
        return bool(self.bottles) or self.in_bottle_ml is not None

    @property
    def batch(self) -> object:
        """What the bottles of one batch have in common."""
        if self.code:
            return self.code
        if self.in_bottle_ml is None or self.bottles:
            return self.line
        return (self.herb.casefold(), self.part, self.condition, self.day, self.strained)


@dataclass(frozen=True)
class Poured:
    """What a cell gives of the liquid: volume, strength, words such as `vodka`, or all three."""

    volume: float | None
    strength: float | None
    words: str
    """Blank where the figures are all of it."""
    is_exact: bool = True


@dataclass(frozen=True)
class Share:
    """How full a bottle is, from 0 to 1."""

    of_size: float


@dataclass(frozen=True)
class Count:
    """How many bottles there are, each of the size in its own column."""

    bottles: int


@dataclass(frozen=True)
class Rounded:
    """The last day of a month or year that has none."""

    day: date


@dataclass(frozen=True)
class Reader:
    """How the cells of a notebook are to be read."""

    today: date
    notation: Notation
    """Of numbers without a unit."""
    day_first: bool | None = None
    """The order of day and month in dates with slashes, where it is known."""
    decimal_mark: str = ""
    """Of numbers that can be read in two ways, where it is known."""
    bare_shares: bool = False
    """Whether bare strengths are shares of 1, as a spreadsheet holds a percentage."""
    bottle_unit: str = ""
    """Of bare numbers in a list of bottles."""

    def value(self, column: str, text: str) -> Any:
        """The value of a cell, None if it says nothing; NotUnderstood explains what would be valid.

        A figure is a `Written`.
        """
        if not text or (column not in ("note", "herb") and is_unknown(text)):
            return None
        if column in FIGURES and column != "left":
            text = with_decimal_mark(text, self.decimal_mark)
        return _READERS[column](self, text)

    def any_day(self, text: str, *, past: bool = False) -> date:
        """A day, as a person writes it or as a spreadsheet does."""
        return parse_day(plain_day(text), self.today, day_first=self.day_first, past=past)

    def past_day(self, text: str) -> date:
        """A day that has come."""
        day = self.any_day(text, past=True)
        if day > self.today:
            raise NotUnderstood("That date is in the future.")
        return day

    def mass(self, text: str) -> Written:
        """Read how much herb went in, in g."""
        return written(text, lambda each: _more_than_nothing(self.notation.read(Kind.MASS, each)))

    def volume(self, text: str) -> Written:
        """Read how much liquid, in mL."""
        return written(text, self._volume)

    def volume_poured(self, text: str) -> Written | Poured:
        """What was poured on, in figures, with its strength where that is in the same cell."""
        try:
            return self.volume(text)
        except NotUnderstood:
            poured = self.poured(text)
            if poured.volume is None:
                raise
            return poured

    def strength(self, text: str) -> Written | Poured:
        """A strength, in per cent or proof."""
        if self.bare_shares and _BARE.fullmatch(text):
            text = f"{round(100 * float(text.replace(',', '.')), 6):g} %"
        try:
            return written(text, self._strength)
        except NotUnderstood:
            poured = self.poured(text)
            if poured.strength is None:
                raise
            return poured

    def strain_day(self, text: str) -> date | HowLong:
        """A day to come, or how long from the filling day."""
        return span(text) or self.any_day(text)

    def steep(self, text: str) -> HowLong | Written:
        """How long it is to steep; words where that is not clear."""
        return span(text) or Written(None, None, is_exact=False)

    def last_day(self, text: str) -> date | Rounded:
        """A keep-until date, of a month without a day its end."""
        end = month_end(text)
        return Rounded(end) if end else self.any_day(text)

    def left(self, text: str) -> Written | Share:
        """What a bottle holds, in figures or as a share of it."""
        share = share_left(text)
        if share is not None:
            return Share(share)
        text = with_decimal_mark(text, self.decimal_mark)
        if re.fullmatch(r"0+(?:[.,]0+)?(?: ?[a-z]+)?", in_our_units(text)):
            return Share(0.0)
        return self.volume(text)

    def bottle_sizes(self, text: str) -> tuple[float, ...] | Written | Count:
        """What each bottle holds, or how many there are; words where that is not clear."""
        sizes = bottles(text, self._bottle)
        if sizes is None and re.fullmatch(r"[1-9]\d?", text):
            return Count(int(text))
        return sizes if sizes is not None else Written(None, None, is_exact=False)

    def poured(self, text: str) -> Poured:
        """A liquid in figures, in words, or in both, such as `600 ml vodka 40 %`."""
        words = clean_name(text, "The liquid", limit=2000)
        if is_unfit(words):
            raise NotUnderstood(f"{words} must never be drunk. {FOOD_GRADE}")
        plain = in_our_units(words)
        volume = self._found(self._volume, _VOLUME_WITHIN, words, plain)
        strength = self._found(self._strength, _STRENGTH_WITHIN, words, plain)
        rest = re.sub(f"{_VOLUME_WITHIN}|{_STRENGTH_WITHIN}", "", plain, flags=re.IGNORECASE)
        is_figures = volume is not None and not re.search(r"[^\W\d]", rest)
        is_exact = volume is None or not (
            meanings_within("about", rest) or re.search("[~≈?]", rest)
        )
        return Poured(volume, strength, "" if is_figures and is_exact else words, is_exact)

    def _volume(self, text: str) -> float:
        # In a column of volumes an ounce is a fluid one, as it is under a heading with (oz).
        text = re.sub(rf"^({_NUMBER}) ?(?:oz|ounces?)\.?$", r"\1 fl oz", text, flags=re.IGNORECASE)
        return _more_than_nothing(self.notation.read(Kind.VOLUME, text))

    def _bottle(self, text: str) -> float:
        is_bare = _BARE.fullmatch(text) and self.bottle_unit
        return self._volume(f"{text} {self.bottle_unit}" if is_bare else text)

    def _strength(self, text: str) -> float:
        return self.notation.read(Kind.STRENGTH, text)

    @staticmethod
    def _found(read: Callable[[str], float], pattern: str, text: str, plain: str) -> float | None:
        """The meaning of the full text, or of the one place in it that can be read."""
        places = [found[0] for found in re.finditer(pattern, plain, re.IGNORECASE)]
        for piece in (text, plain, *(places if len(places) == 1 else ())):
            try:
                return read(piece)
            except NotUnderstood:
                pass
        return None


def _more_than_nothing(value: float) -> float:
    if not value > 0:
        raise NotUnderstood("It must be greater than zero. Leave out what is empty.")
    return value


_READERS: dict[str, Callable[[Reader, str], Any]] = {
    "herb": lambda _, text: named_herb(text),
    "day": Reader.past_day,
    "botanical": lambda _, text: clean_name(text, "The botanical name"),
    "part": lambda _, text: chosen(Part, text),
    "condition": lambda _, text: chosen(Condition, text),
    "pressing": lambda _, text: chosen(Pressing, text),
    "mass": Reader.mass,
    "volume": Reader.volume_poured,
    "strength": Reader.strength,
    "liquid": Reader.poured,
    "strain_on": Reader.strain_day,
    "steep": Reader.steep,
    "strained": Reader.past_day,
    "yielded": Reader.volume,
    "size": Reader.volume,
    "left": Reader.left,
    "bottles": Reader.bottle_sizes,
    "keep_until": Reader.last_day,
    "place": lambda _, text: clean_name(text, "The place"),
    "shelf": lambda _, text: clean_name(text, "The shelf's name"),
    "code": lambda _, text: clean_code(text),
    "capacity": Reader.volume,
    "shakes": lambda _, text: parse_shakes(text),
    "gathered": Reader.past_day,
    "origin": lambda _, text: clean_name(text, "The origin", limit=2000),
    "note": lambda _, text: clean_note(text, limit=2000),
}
"""How each column is read."""


def contradiction(entry: NotebookRow) -> tuple[str, str] | None:
    """The column in which a row contradicts itself, and how; None where it does not."""
    if entry.strained is not None:
        if entry.strained < entry.day:
            return "strained", "It is before the filling date."
        if entry.yielded is None and not entry.is_bottled:
            said = "It was strained, so enter the yield. Or leave the straining date blank."
            return "yielded", said
    if entry.strain_on is not None and entry.strain_on < entry.day:
        return "strain_on", "It is before the filling date."
    room = sum(entry.bottles) or entry.size
    if entry.left is not None and room is not None and entry.left > room:
        return "left", "The bottle can't hold that much."
    return None
