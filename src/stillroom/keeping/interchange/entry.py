"""One line of a person's own notebook of jars and bottles, understood."""

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from stillroom.dates import parse_day
from stillroom.errors import NotUnderstood
from stillroom.keeping.codes import clean_code
from stillroom.keeping.interchange.cells import one_of
from stillroom.keeping.words import clean_name, clean_note
from stillroom.quantities import Notation, parse_shakes
from stillroom.reckoning.cautions import FOOD_GRADE, is_unfit
from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.kinds import Kind
from stillroom.reckoning.yields import Pressing

# What each column may be called; case, signs and a unit at the end do not matter.
HEADINGS = {
    "herb": "herb|plant|name|common name|herb name|tincture",
    "day": "date|filled|filled on|date filled|made|made on|date made|started|started on"
    "|date started|day",
    "botanical": "botanical|botanical name|latin|latin name|scientific name|species",
    "part": "part|part used|plant part|part of plant",
    "condition": "condition|state|form|fresh or dried|fresh dried|dried or fresh|dried fresh"
    "|fresh dry|dry fresh|fresh or dry|dry or fresh|fresh",
    "pressing": "pressing|pressed|how pressed|press|how strained",
    "mass": "mass|weight|herb mass|herb weight|amount of herb|grams",
    "volume": "volume|poured|alcohol volume|spirit volume|liquid volume|menstruum volume"
    "|volume of spirit|volume of liquid|amount of liquid|amount of spirit",
    "liquid": "spirit|liquid|menstruum|solvent|kind of spirit|kind of liquid|spirit used|poured on",
    "strength": "strength|abv|alcohol|proof|spirit strength|percent|alcohol strength",
    "strain_on": "strain|strain on|due|due on|ready|ready on|strain date|strain by",
    "strained": "strained|strained on|date strained|strained date",
    "yielded": "yield|yielded|got|strained volume",
    "size": "bottle|bottle size|size|bottle volume",
    "left": "left|remaining|in bottle|what is left|contents",
    "place": "place|where|location|bottle place|stands",
    "shelf": "shelf|on shelf",
    "code": "code|batch|batch code|batch number|batch no|label|lot",
    "capacity": "jar|jar size|jar volume|capacity",
    "shakes": "shakes|shakes a day|shakes per day",
    "gathered": "gathered|gathered on|harvested|picked|harvest date",
    "origin": "origin|source|from|bought from|supplier|grower",
    "note": "note|notes|remark|remarks|comment|comments",
}

NEEDED = {"herb": "herb", "day": "date"}
"""The columns no line can do without, by what they are called."""

_PARTS = {
    Part.LEAF: "leaf leaves",
    Part.AERIAL_PARTS: "aerial tops herb herba",
    Part.FLOWER: "flower flowers blossom blossoms petals flos",
    Part.FRUIT: "fruit fruits berry berries hips hip",
    Part.SEED: "seed seeds",
    Part.ROOT: "root roots rhizome bulb radix",
    Part.BARK: "bark cortex",
    Part.RESIN: "resin gum",
    Part.WHOLE_PLANT: "whole",
}
_NUMBER = r"\d+(?:[.,]\d+)?"
_VOLUME_WITHIN = rf"{_NUMBER} ?(?:ml|cl|dl|l|lit(?:er|re)s?|fl\.? ?oz|cups?)\b"
_STRENGTH_WITHIN = rf"{_NUMBER} ?(?:%|(?:us )?proof\b)"
_CONDITIONS = {Condition.FRESH: "fresh green f", Condition.DRIED: "dried dry d"}
# Outside their own columns only words count that mean nothing else: `Green tea`, `dried herb`.
_PARTS_IN_WORDS = {
    Part.LEAF: "leaf leaves",
    Part.AERIAL_PARTS: "aerial",
    Part.FLOWER: "flower flowers blossom blossoms petals",
    Part.FRUIT: "fruit fruits berry berries hip hips",
    Part.SEED: "seed seeds",
    Part.ROOT: "root roots rhizome",
    Part.BARK: "bark",
    Part.RESIN: "resin",
}
_CONDITIONS_IN_WORDS = {Condition.FRESH: "fresh", Condition.DRIED: "dried"}
_PRESSINGS = {
    Pressing.DRAINED: "drained dripped",
    Pressing.SQUEEZED: "squeezed wrung",
    Pressing.PRESSED: "pressed",
}
_WITHIN_NAMES = {Part.LEAF, Part.FLOWER, Part.ROOT, Part.BARK, Part.SEED}
"""The parts whose word is no piece of the herb's own name where it comes last."""
_PART_OF_THE_NAME = frozenset(
    {
        "beth root",
        "colic root",
        "cramp bark",
        "culver's root",
        "gravel root",
        "pink root",
        "pleurisy root",
        "stone root",
    }
)
"""Plants that are called by a part; common practice, no source."""
CHOICES: dict[str, tuple[str, ...]] = {
    "part": tuple(Part),
    "condition": tuple(Condition),
    "pressing": tuple(Pressing),
}
SAME_DAY = "date"
"""The answer that the date of each row is the day it was strained."""


@dataclass(frozen=True)
class NotebookRow:
    """One line of the notebook, understood."""

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
    strained: date | None = None
    yielded: float | None = None
    """mL strained."""
    size: float | None = None
    """mL the bottle takes."""
    left: float | None = None
    """mL in the bottle."""
    place: str = ""
    shelf: str = ""
    code: str = ""
    capacity: float | None = None
    """mL the jar takes."""
    shakes: int | None = None
    gathered: date | None = None
    origin: str = ""
    note: str = ""

    @property
    def in_bottle_ml(self) -> float | None:
        """What its bottle holds, full if no volume is given; None if it names no bottle."""
        return self.size if self.left is None else self.left

    @property
    def batch(self) -> object:
        """What the bottles of one batch have in common."""
        if self.code:
            return self.code
        if self.in_bottle_ml is None:
            return self.line
        return (self.herb.casefold(), self.part, self.condition, self.day, self.strained)


@dataclass(frozen=True)
class NamedHerb:
    """The meaning of a herb's cell: `Valerian root`, `Calendula flowers (dried)`."""

    name: str
    part: Part | None = None
    condition: Condition | None = None


@dataclass(frozen=True)
class Poured:
    """What a cell gives of the liquid: volume, strength, words such as `vodka`, or all three."""

    volume: float | None
    strength: float | None
    words: str
    """Blank where the figures are all of it."""


@dataclass(frozen=True)
class Reader:
    """How the cells of a notebook are to be read."""

    today: date
    notation: Notation
    """Of numbers without a unit."""
    day_first: bool | None
    """The order of day and month in dates with slashes, where it is known."""

    def value(self, column: str, text: str) -> Any:
        """The value of a cell, None if blank; NotUnderstood explains what would be valid."""
        if not text:
            if column in NEEDED:
                raise NotUnderstood("Needed.")
            return None
        return _READERS[column](self, text)

    def any_day(self, text: str, *, past: bool = False) -> date:
        """A day, as a person writes it or as a spreadsheet does."""
        plain = text.removesuffix(" 00:00:00").removesuffix(" 0:00").removesuffix(" 00:00")
        return parse_day(plain, self.today, day_first=self.day_first, past=past)

    def past_day(self, text: str) -> date:
        """A day that has come."""
        day = self.any_day(text, past=True)
        if day > self.today:
            raise NotUnderstood("That date is in the future.")
        return day

    def volume(self, text: str) -> float:
        """Some liquid."""
        return _more_than_nothing(self.notation.read(Kind.VOLUME, text))

    def poured(self, text: str) -> Poured:
        """A liquid in figures, in words, or in both, such as `600 ml vodka 40 %`."""
        words = clean_name(text, "The liquid", limit=2000)
        if is_unfit(words):
            raise NotUnderstood(f"{words} must never be drunk. {FOOD_GRADE}")
        volume = self._found(self.volume, _VOLUME_WITHIN, words)
        strength = self._found(self._strength, _STRENGTH_WITHIN, words)
        rest = re.sub(f"{_VOLUME_WITHIN}|{_STRENGTH_WITHIN}", "", words, flags=re.IGNORECASE)
        is_figures = volume is not None and not re.search(r"[^\W\d]", rest)
        return Poured(volume, strength, "" if is_figures else words)

    def _strength(self, text: str) -> float:
        return self.notation.read(Kind.STRENGTH, text)

    @staticmethod
    def _found(read: Callable[[str], float], pattern: str, text: str) -> float | None:
        """The meaning of the full text, or of the one place in it that can be read."""
        places = [found[0] for found in re.finditer(pattern, text, re.IGNORECASE)]
        for piece in (text, *(places if len(places) == 1 else ())):
            try:
                return read(piece)
            except NotUnderstood:
                pass
        return None


def named_herb(text: str) -> NamedHerb:
    """The herb, and the part and condition that its name ends in."""
    found = NamedHerb(clean_name(text, "The herb's name"))
    bracket = re.fullmatch(r"(?P<name>[^()]*[^()\s])\s*[(,]\s*(?P<rest>[^(),]+?)\s*\)?", found.name)
    if bracket:
        inner = bracket["rest"].split()
        part, condition = _hint(_PARTS_IN_WORDS, inner), _hint(_CONDITIONS_IN_WORDS, inner)
        if part or condition:
            found = NamedHerb(bracket["name"], part, condition)
    words = found.name.split()
    if len(words) > 1 and not found.condition and len(words[0]) > 1:
        condition = _hint(_CONDITIONS_IN_WORDS, words[:1])
        if condition:
            found = replace(found, name=" ".join(words[1:]), condition=condition)
            words = words[1:]
    if len(words) > 1 and not found.part and found.name.casefold() not in _PART_OF_THE_NAME:
        part = _hint(_PARTS_IN_WORDS, words[-1:])
        if part in _WITHIN_NAMES:
            found = replace(found, name=" ".join(words[:-1]))
        found = replace(found, part=part)
    return found


def part_within(text: str) -> Part | None:
    """The part that the words of another cell name, as in `dried leaves`."""
    part: Part | None = _hint(_PARTS_IN_WORDS, text.split())
    return part


def answer(key: str, text: str, reader: "Reader") -> Any:
    """A person's answer for a column; NotUnderstood if the column can't hold it."""
    if key == "strained":
        return SAME_DAY if text.casefold() == SAME_DAY else reader.past_day(text)
    if not text or key not in CHOICES:
        raise NotUnderstood(f"Use {one_of(CHOICES[key])}.")
    return _READERS[key](reader, text)


def _word(words: dict[Any, str], text: str) -> Any:
    """The one option that the words of a text name."""
    found = _hint(words, re.split(r"[\W_]+", text))
    if found is None:
        raise NotUnderstood(f"Use {one_of(words)}.")
    return found


def _hint(words: dict[Any, str], said: Iterable[str]) -> Any:
    """The option that some words name; None if none, or more than one."""
    plain = {word.casefold() for word in said}
    found = [o for o, names in words.items() if plain & {*names.split(), str(o)}]
    return found[0] if len(found) == 1 else None


def _more_than_nothing(value: float) -> float:
    if not value > 0:
        raise NotUnderstood("It must be greater than zero. Leave out what is empty.")
    return value


_READERS: dict[str, Callable[[Reader, str], Any]] = {
    "herb": lambda _, text: named_herb(text),
    "day": Reader.past_day,
    "botanical": lambda _, text: clean_name(text, "The botanical name"),
    "part": lambda _, text: _word(_PARTS, text),
    "condition": lambda _, text: _word(_CONDITIONS, text),
    "pressing": lambda _, text: _word(_PRESSINGS, text),
    "mass": lambda reader, text: _more_than_nothing(reader.notation.read(Kind.MASS, text)),
    "volume": Reader.volume,
    "strength": lambda reader, text: reader.notation.read(Kind.STRENGTH, text),
    "liquid": Reader.poured,
    "strain_on": Reader.any_day,
    "strained": Reader.past_day,
    "yielded": Reader.volume,
    "size": Reader.volume,
    "left": Reader.volume,
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
    """The column in which a line contradicts itself, and how; None where it does not."""
    if entry.strained is not None:
        if entry.strained < entry.day:
            return "strained", "It is before the filling date."
        if entry.yielded is None and entry.in_bottle_ml is None:
            said = "It was strained, so enter the yield. Or leave the straining date blank."
            return "yielded", said
    if entry.strain_on is not None and entry.strain_on < entry.day:
        return "strain_on", "It is before the filling date."
    if entry.left is not None and entry.size is not None and entry.left > entry.size:
        return "left", "The bottle can't hold that much."
    return None
