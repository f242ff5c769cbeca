"""The boundary of numbers: reads quantities as people write them and prints them back."""

import math
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_UP, Context, Decimal, localcontext
from enum import StrEnum
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise, product
from typing import TYPE_CHECKING, Any

from stillroom.errors import NotUnderstood
from stillroom.reckoning.kinds import (
    AS_WRITTEN,
    LIMIT_SLACK_ABV,
    STRENGTH_LIMITS_ABV,
    Addend,
    Figure,
    Kind,
    Sum,
)

if TYPE_CHECKING:
    import pint


class UnitSystem(StrEnum):
    """Whose units a bare number, a fluid ounce or a cup is in."""

    METRIC = "metric"
    US = "us"
    IMPERIAL = "imperial"


# What pint may know. Everything else a person could type stays outside it, and so does the
# cost of its own list of a thousand units.
#   US measures: NIST Handbook 44, Appendix C (gallon of 231 cubic inches, 1 in = 25.4 mm).
#   Imperial measures, pound: UK Units of Measurement Regulations 1995, Schedule.
DEFINITIONS = """
milliliter = [volume]
gram = [mass]
us_gallon = 3785.411784 * milliliter
us_quart = us_gallon / 4
us_pint = us_gallon / 8
us_cup = us_gallon / 16
us_gill = us_gallon / 32
us_fluid_ounce = us_gallon / 128
us_tablespoon = us_gallon / 256
us_teaspoon = us_gallon / 768
imperial_gallon = 4546.09 * milliliter
imperial_quart = 1136.5225 * milliliter
imperial_pint = 568.26125 * milliliter
imperial_gill = 142.0653125 * milliliter
imperial_fluid_ounce = 28.4130625 * milliliter
pound = 453.59237 * gram
ounce = pound / 16
grain = pound / 7000
"""

# Metric units need no conversion table, so a metric kitchen never waits for pint.
#   Cup of 250 mL: the standard metric cup of the Standards Association of Australia (NSW Health,
#   Healthy Kids, conversion chart). Its tablespoon of 20 mL is Australia's alone; the 5 and 15 mL
#   spoons used here are also those of 21 CFR 101.9(b)(5)(viii).
_VOLUMES = {
    "milliliter": 1.0,
    "centiliter": 10.0,
    "deciliter": 100.0,
    "liter": 1000.0,
    "metric_teaspoon": 5.0,
    "metric_tablespoon": 15.0,
    "metric_cup": 250.0,
}
_MASSES = {"milligram": 0.001, "gram": 1.0, "kilogram": 1000.0}
_PINT_MASSES = ("ounce", "pound", "grain")

_SPELLINGS = {
    "milliliter": "ml mls milliliter milliliters millilitre millilitres cc ccm cm³",
    "centiliter": "cl cls centiliter centiliters centilitre centilitres",
    "deciliter": "dl dls deciliter deciliters decilitre decilitres",
    "liter": "l ls lt ltr ltrs liter liters litre litres",
    "milligram": "mg mgs milligram milligrams milligramme milligrammes",
    "gram": "g gm gms gs gram grams gramme grammes",
    "kilogram": "kg kgs kilo kilos kilogram kilograms kilogramme kilogrammes",
    "ounce": "oz ozs ounce ounces",
    "pound": "lb lbs pound pounds",
    "grain": "grain grains",
    "fluid_ounce": "floz flozs fluidoz fluidounce fluidounces flounce flounces",
    "teaspoon": "tsp tsps teaspoon teaspoons teaspoonful teaspoonfuls",
    "tablespoon": "tbsp tbsps tbs tblsp tablespoon tablespoons tablespoonful tablespoonfuls",
    "cup": "cup cups cupful cupfuls",
    "gill": "gill gills",
    "pint": "pt pts pint pints",
    "quart": "qt qts quart quarts",
    "gallon": "gal gals gallon gallons",
}
_NAMES = {word: name for name, words in _SPELLINGS.items() for word in words.split()}

_SPOKEN_FOR = {
    "us": UnitSystem.US,
    "usa": UnitSystem.US,
    "american": UnitSystem.US,
    "uk": UnitSystem.IMPERIAL,
    "imp": UnitSystem.IMPERIAL,
    "imperial": UnitSystem.IMPERIAL,
    "british": UnitSystem.IMPERIAL,
    "metric": UnitSystem.METRIC,
}

# One name, several sizes. Under METRIC a fluid ounce is the US one (the imperial is 4 % less,
# within what a kitchen jug can show); a pint is 20 % apart between the two, so there one asks.
# Cups and spoons under METRIC and IMPERIAL are the metric ones sold today.
_BY_SYSTEM: dict[str, dict[UnitSystem, str]] = {
    "fluid_ounce": {
        UnitSystem.METRIC: "us_fluid_ounce",
        UnitSystem.US: "us_fluid_ounce",
        UnitSystem.IMPERIAL: "imperial_fluid_ounce",
    },
    **{
        name: {UnitSystem.US: f"us_{name}", UnitSystem.IMPERIAL: f"imperial_{name}"}
        for name in ("gill", "pint", "quart", "gallon")
    },
    **{
        name: {
            UnitSystem.METRIC: f"metric_{name}",
            UnitSystem.US: f"us_{name}",
            UnitSystem.IMPERIAL: f"metric_{name}",
        }
        for name in ("teaspoon", "tablespoon", "cup")
    },
}

_ASK_AGAIN = {
    "gr": 'Not clear: write g for grams; "gr" is also short for grain.',
    "drop": "A drop has no fixed size: write ml, and measure your dropper first.",
    "drops": "A drop has no fixed size: write ml, and measure your dropper first.",
    "gtt": "A drop has no fixed size: write ml, and measure your dropper first.",
}

_HOME_UNIT = {
    (Kind.VOLUME, UnitSystem.METRIC): ("milliliter", "mL"),
    (Kind.VOLUME, UnitSystem.US): ("us_fluid_ounce", "fl oz"),
    (Kind.VOLUME, UnitSystem.IMPERIAL): ("imperial_fluid_ounce", "fl oz"),
    (Kind.MASS, UnitSystem.METRIC): ("gram", "g"),
    (Kind.MASS, UnitSystem.US): ("ounce", "oz"),
    (Kind.MASS, UnitSystem.IMPERIAL): ("ounce", "oz"),
}


@lru_cache(maxsize=1)
def _registry() -> "pint.UnitRegistry[Any]":
    """The one registry of units, built on first need from `DEFINITIONS` alone."""
    import pint  # Costs a fifth of a second: most metric shelves never need it.

    registry: pint.UnitRegistry[Any] = pint.UnitRegistry(None)
    registry.load_definitions(DEFINITIONS.splitlines())
    return registry


def warm_up() -> None:
    """Load the unit registry ahead of its first use, for an idle moment after start."""
    _registry()


@lru_cache(maxsize=64)
def _size(unit: str) -> float:
    """mL or g in one of a unit."""
    metric = _VOLUMES.get(unit) or _MASSES.get(unit)
    if metric:
        return metric
    return float(_registry().convert(1.0, unit, "gram" if unit in _PINT_MASSES else "milliliter"))


def _kind_of(unit: str) -> Kind:
    return Kind.MASS if unit in _MASSES or unit in _PINT_MASSES else Kind.VOLUME


@dataclass(frozen=True)
class _Bounds:
    """What a kind of number may be, and how to say so."""

    noun: str
    low: float
    high: float
    limit: str
    """The words for the upper limit."""
    example: str
    whole: bool = False

    def holds(self, value: float) -> bool:
        """Whether a value is possible for this kind."""
        return (
            math.isfinite(value)
            and self.low <= value <= self.high
            and not (self.whole and value != int(value))
        )


def _below(limit: float) -> float:
    return math.nextafter(limit, 0.0)


# Upper limits are exclusive where a thousands mark could meet them: that makes "1.000 l" one
# litre, because a thousand litres is already too much.
_BOUNDS = {
    Kind.VOLUME: _Bounds("volume", 0, _below(1e6), "less than 1000 l", "500 ml, 1.5 l or 8 fl oz"),
    Kind.MASS: _Bounds("weight", 0, _below(1e6), "less than 1000 kg", "120 g, 1.2 kg or 4 oz"),
    Kind.STRENGTH: _Bounds("strength", 0, 100, "no more than 100 %", "40 % or 80 proof"),
    Kind.US_PROOF: _Bounds("proof", 0, 200, "no more than 200", "80 proof"),
    Kind.UK_PROOF: _Bounds("UK proof", 0, 175.2, "no more than 175 degrees", "70 UK proof"),
    Kind.RATIO: _Bounds("ratio", 0.01, _below(1000), "less than 1:1000", "1:5 or 1:2.5"),
    Kind.PERCENT: _Bounds("percentage", 0, 100, "no more than 100 %", "75 % or 7.5 %"),
    Kind.TEMPERATURE: _Bounds("temperature", -100, 300, "-100 to 300 °C", "20 °C or 68 °F"),
    Kind.DENSITY: _Bounds("density", 0.1, 5, "0.1 to 5 g/ml", "0.95 g/ml or 950 kg/m³"),
    Kind.RETENTION: _Bounds("retention", 0, 100, "no more than 100 ml/g", "1.5 ml/g"),
    Kind.CONCENTRATION: _Bounds("concentration", 0, 10, "no more than 10 g/ml", "0.2 g/ml"),
    Kind.DROPS: _Bounds("number of drops", 0, 1e4, "no more than 10000 to the ml", "40 drops/ml"),
    Kind.COUNT: _Bounds("whole number", 0, _below(1e6), "less than 1000000", "12", whole=True),
    Kind.NUMBER: _Bounds("number", 0, _below(1e9), "less than 1000000000", "12 or 2.5"),
    Kind.MONEY: _Bounds("price", 0, _below(1e9), "less than 1000000000", "12.50"),
    Kind.MONEY_PER_ML: _Bounds(
        "price per volume", 0, _below(1e6), "less than 1000000", "0.03, or 22.50 per 700 ml"
    ),
    Kind.MONEY_PER_G: _Bounds(
        "price per weight", 0, _below(1e6), "less than 1000000", "0.05, or 12.50 per 250 g"
    ),
    Kind.DAYS: _Bounds(
        "number of days", 0, 36525, "no more than 36525 days", "14, 14 days or 2 weeks", whole=True
    ),
}


# The same limits and examples where amounts are in ounces: (words for the limit, example).
_OUNCE_WORDS = {
    Kind.VOLUME: {
        UnitSystem.US: ("less than 33814 fl oz", "8 fl oz, 1 pint or 1/2 cup"),
        UnitSystem.IMPERIAL: ("less than 35195 fl oz", "8 fl oz, 1 pint or 1/2 pint"),
    },
    Kind.MASS: dict.fromkeys(
        (UnitSystem.US, UnitSystem.IMPERIAL), ("less than 2205 lb", "4 oz or 2 lb 3 oz")
    ),
    Kind.STRENGTH: {UnitSystem.IMPERIAL: ("no more than 100 %", "40 % or 70 UK proof")},
    Kind.TEMPERATURE: {UnitSystem.US: ("-148 to 572 °F", "68 °F")},
    Kind.MONEY_PER_ML: dict.fromkeys(
        (UnitSystem.US, UnitSystem.IMPERIAL), ("less than 1000000", "0.90, or 22.50 per 25 fl oz")
    ),
    Kind.MONEY_PER_G: dict.fromkeys(
        (UnitSystem.US, UnitSystem.IMPERIAL), ("less than 1000000", "1.50, or 12.50 per 8 oz")
    ),
}


def _words(kind: Kind, system: UnitSystem) -> tuple[str, str]:
    """The words for the upper limit of a kind, and an example of it."""
    bounds = _BOUNDS[kind]
    return _OUNCE_WORDS.get(kind, {}).get(system, (bounds.limit, bounds.example))


def _refusal(kind: Kind, system: UnitSystem = UnitSystem.METRIC) -> NotUnderstood:
    _, example = _words(kind, system)
    return NotUnderstood(f"Not a {_BOUNDS[kind].noun}: write e.g. {example}.")


_LONGEST = 64

_FRACTIONS = {
    "½": "1/2", "⅓": "1/3", "⅔": "2/3", "¼": "1/4", "¾": "3/4", "⅕": "1/5", "⅖": "2/5",
    "⅗": "3/5", "⅘": "4/5", "⅙": "1/6", "⅚": "5/6", "⅐": "1/7", "⅛": "1/8", "⅜": "3/8",
    "⅝": "5/8", "⅞": "7/8", "⅑": "1/9", "⅒": "1/10",
}  # fmt: skip

# The space before a fraction keeps "1½" from turning into 11/2.
_PLAIN = str.maketrans(
    {sign: f" {text}" for sign, text in _FRACTIONS.items()}
    | {chr(0xFF01 + i): chr(0x21 + i) for i in range(94)}
    | dict.fromkeys("\u00a0\u2000\u2001\u2002\u2003\u2004\u2005\u2006\u2007\u2008\u2009\u200a", " ")
    | dict.fromkeys("\u202f\u205f\u3000\t", " ")
    | dict.fromkeys("\u2010\u2011\u2012\u2013\u2212", "-")
    | {"\u2044": "/", "\u2215": "/", "\u2236": ":", "ℓ": "l", "º": "°", "℃": "°C", "℉": "°F"}
)

_ALLOWED = re.compile(r"[a-z0-9 .,/:%°³+\-$€£¥]+")

_WORDS = {
    "half": Fraction(1, 2), "half a": Fraction(1, 2), "half an": Fraction(1, 2),
    "a half": Fraction(1, 2), "a": Fraction(1), "an": Fraction(1), "one": Fraction(1),
    "two": Fraction(2), "three": Fraction(3), "four": Fraction(4), "five": Fraction(5),
    "six": Fraction(6), "seven": Fraction(7), "eight": Fraction(8), "nine": Fraction(9),
    "ten": Fraction(10), "twelve": Fraction(12),
}  # fmt: skip

_FRACTION = re.compile(r"(?:(\d{1,6})[ -])?(\d{1,3}) ?/ ?(\d{1,3})(?![\d.,/])")
_SPACED = re.compile(r"([1-9]\d{0,2}(?: \d{3})+)([.,]\d+)?(?![\d.,/])")
_DECIMAL = re.compile(r"(?:\d+(?:[.,]\d+)*|[.,]\d+)(?![\d.,]\d|\d)")
_WORD = re.compile(r"(half an?|a half|[a-z]+)(?= )")
_EXPONENT = re.compile(r"\d\.? ?e ?[+-]? ?\d")
_UNIT = re.compile(r" ?([a-z%°³$€£¥/ ]*(?:\.(?!\d)[a-z%°³/ ]*)*)(,(?= ))? ?")


@dataclass(frozen=True)
class _Part:
    """One number with the words after it; two readings if its mark could be either kind."""

    readings: tuple[Fraction, ...]
    unit: str


def _normal(text: str, kind: Kind, system: UnitSystem = UnitSystem.METRIC) -> str:
    """The text in plain lower case ASCII digits and signs; refuses anything else."""
    if len(text) > _LONGEST:
        raise _refusal(kind, system)
    plain = " ".join(text.translate(_PLAIN).lower().split())
    if _EXPONENT.search(plain):
        raise NotUnderstood("Write the number in full, e.g. 1200 in place of 1.2e3.")
    plain = re.sub(r"(?<![a-z])(c?m)3(?!\d)", r"\1³", plain)
    if not _ALLOWED.fullmatch(plain):
        raise _refusal(kind, system)
    return plain


def _grouped(text: str, mark: str) -> bool:
    return re.fullmatch(rf"[1-9]\d{{0,2}}(?:{re.escape(mark)}\d{{3}})+", text) is not None


def _decimal_readings(text: str) -> tuple[Fraction, ...]:
    """Every number that digits with points and commas can mean.

    One mark is a decimal mark, be it point or comma. One mark before exactly three digits
    ("1.250", "1,250") may as well part thousands, so it has two readings, unless the number
    starts with 0. Where both marks stand, the last is the decimal one.
    """
    marks = [character for character in text if character in ".,"]
    if not marks:
        return (Fraction(text),)
    whole, _, part = text.rpartition(marks[-1])
    if len(marks) == 1:
        decimal = Fraction(f"{whole or '0'}.{part}")
        return (decimal, Fraction(whole + part)) if _grouped(text, marks[0]) else (decimal,)
    if len(set(marks)) == 1:
        return (Fraction(text.replace(marks[0], "")),) if _grouped(text, marks[0]) else ()
    if marks.count(marks[-1]) == 1 and _grouped(whole, marks[0]):
        return (Fraction(f"{whole.replace(marks[0], '')}.{part}"),)
    return ()


def _number_at(text: str, start: int) -> tuple[tuple[Fraction, ...], int]:
    """The readings of the number at a place, and where it ends; no readings if none is there."""
    if found := _FRACTION.match(text, start):
        above, below = int(found[2]), int(found[3])
        # An improper fraction is more often a mixed one with its space lost: 11/2 for 1 1/2.
        if above >= below:
            return (), start
        return (int(found[1] or 0) + Fraction(above, below),), found.end()
    if found := _SPACED.match(text, start):
        decimals = (found[2] or "").replace(",", ".")
        return (Fraction(found[1].replace(" ", "") + decimals),), found.end()
    if found := _DECIMAL.match(text, start):
        return _decimal_readings(found[0]), found.end()
    if (found := _WORD.match(text, start)) and found[0] in _WORDS:
        return (_WORDS[found[0]],), found.end()
    return (), start


def _parts(text: str, kind: Kind, system: UnitSystem = UnitSystem.METRIC) -> list[_Part]:
    """The numbers of a text, each with the words that follow it."""
    parts = []
    place = 0
    while place < len(text):
        readings, place = _number_at(text, place)
        if not readings:
            raise _refusal(kind, system)
        found = _UNIT.match(text, place)
        assert found is not None  # Every part of the pattern may be empty.
        place = found.end()
        if place < len(text) and not found[1].strip():
            raise _refusal(kind, system)
        words = re.sub(r" and $", "", found[1] if place < len(text) else found[1].rstrip())
        parts.append(_Part(readings, " ".join(words.replace(".", "").split())))
    return parts


def _settle(
    parts: Sequence[_Part],
    sums: Iterable[float],
    kind: Kind,
    system: UnitSystem = UnitSystem.METRIC,
) -> float:
    """The one reading that is possible for the kind; refuses where there is none, or several."""
    bounds = _BOUNDS[kind]
    readings = list(sums)
    possible = {reading for reading in readings if bounds.holds(reading)}
    if len(possible) == 1:
        return possible.pop()
    if possible:
        small, large = next(part.readings for part in parts if len(part.readings) > 1)
        one, other = _exactly(float(small)), _exactly(float(large))
        raise NotUnderstood(f"Could be {one} or {other}: write {one} or {other}.")
    if bounds.whole and any(bounds.low <= reading <= bounds.high for reading in readings):
        raise NotUnderstood(f"Not a {bounds.noun}: write it without a fraction.")
    limit, _ = _words(kind, system)
    raise NotUnderstood(f"Out of range: a {bounds.noun} is {limit}.")


def _single(
    text: str, kind: Kind, units: Mapping[str, float], system: UnitSystem = UnitSystem.METRIC
) -> float:
    """One number with one of a few units, in the unit of the kind."""
    parts = _parts(text, kind, system)
    if len(parts) != 1 or parts[0].unit not in units:
        raise _refusal(kind, system)
    factor = units[parts[0].unit]
    return _settle(parts, (float(reading) * factor for reading in parts[0].readings), kind, system)


def _no_minus(text: str, kind: Kind) -> str:
    if text.startswith("-"):
        raise NotUnderstood(f"A {_BOUNDS[kind].noun} cannot be below zero.")
    return text


def _unit(words: str, kind: Kind, system: UnitSystem) -> str:
    """The unit that words name under a system of units."""
    names = words.split()
    owner = next((_SPOKEN_FOR[name] for name in (names[0], names[-1]) if name in _SPOKEN_FOR), None)
    word = "".join(name for name in names if name not in _SPOKEN_FOR)
    if word in _ASK_AGAIN:
        raise NotUnderstood(_ASK_AGAIN[word])
    name = _NAMES.get(word)
    if name is None or len(names) - (owner is not None) > 2:
        raise _refusal(kind, system)
    if name not in _BY_SYSTEM:
        return name
    unit = _BY_SYSTEM[name].get(owner or system)
    if unit is None:
        raise NotUnderstood(f"US and UK {name}s differ: write e.g. 1 US {name}, 1 UK {name} or ml.")
    return unit


def _measure(text: str, system: UnitSystem, kinds: Sequence[Kind]) -> Figure:
    """A volume or mass in one or more falling units; a bare number is of the first kind."""
    kind = kinds[0]
    parts = _parts(_no_minus(_normal(text, kind, system), kind), kind, system)
    if len(parts) == 1 and not parts[0].unit:
        units = [_HOME_UNIT[kind, system][0]]
    elif all(part.unit for part in parts):
        units = [_unit(part.unit, kind, system) for part in parts]
    else:
        raise NotUnderstood("Write the unit after every number.")
    kind = _one_kind(units, kinds, system)
    sizes = [_size(unit) for unit in units]
    # "2 lb 3 oz" falls; "1 l 5 l" or "1 l 1500 ml" is more likely a slip than a sum.
    for (above, below), part in zip(pairwise(sizes), parts[1:], strict=True):
        if float(part.readings[0]) * below >= above:
            raise _refusal(kind, system)
    sums = (
        math.fsum(float(reading) * size for reading, size in zip(choice, sizes, strict=True))
        for choice in product(*(part.readings for part in parts))
    )
    return Figure(kind, _settle(parts, sums, kind, system))


def _one_kind(units: Sequence[str], kinds: Sequence[Kind], system: UnitSystem) -> Kind:
    """The kind all units share; refuses another kind than asked for, or a mixture."""
    found = {_kind_of(unit) for unit in units}
    if len(found) > 1:
        raise NotUnderstood("Volume and weight do not add up: write one of the two.")
    kind = found.pop()
    if kind in kinds:
        return kind
    if "ounce" in units:
        raise NotUnderstood("oz is a weight: write fl oz for volume, e.g. 8 fl oz.")
    if kind is Kind.MASS:
        _, example = _words(Kind.VOLUME, system)
        raise NotUnderstood(f"That is a weight: write a volume, e.g. {example}.")
    _, example = _words(Kind.MASS, system)
    raise NotUnderstood(f"That is a volume: write a weight, e.g. {example}.")


def parse_volume(text: str, system: UnitSystem = UnitSystem.METRIC) -> float:
    """Read a volume as mL; a bare number is mL, or fl oz under US and IMPERIAL."""
    return _measure(text, system, (Kind.VOLUME,)).value


def parse_mass(text: str, system: UnitSystem = UnitSystem.METRIC) -> float:
    """Read a mass as g; a bare number is g, or oz under US and IMPERIAL."""
    return _measure(text, system, (Kind.MASS,)).value


def parse_volume_or_mass(text: str, system: UnitSystem = UnitSystem.METRIC) -> Figure:
    """Read what was measured by jug or by scale; a bare number is a volume, plain oz a mass."""
    return _measure(text, system, (Kind.VOLUME, Kind.MASS))


_PERCENT_WORDS = ("%", "percent", "per cent", "pct")
_STRENGTH_WORDS = (
    *_PERCENT_WORDS, "% vol", "%vol", "vol %", "vol%", "vol", "% v/v", "%v/v", "v/v", "% abv",
    "%abv", "abv", "% alc", "%alc", "% alc/vol", "% by volume",
)  # fmt: skip
_WEIGHT_WORDS = ("w/w", "by weight", "m/m", "mass", "w/v")

# US proof: twice the % by volume (27 CFR 5.1). UK proof: 100° is 57.1 % v/v; published values run
# from 57.06 to 57.15. Both are defined near 60 °F; the step to 20 °C is under 0.1 % and left out.
_US_PROOF = 0.5
_UK_PROOF = 0.571
_US_PROOF_WORDS = ("us proof", "american proof")
_UK_PROOF_WORDS = ("uk proof", "british proof", "imperial proof")


def _share(
    text: str, kind: Kind, units: Mapping[str, float], system: UnitSystem = UnitSystem.METRIC
) -> float:
    """A percentage; refuses a bare fraction of one, which could be meant as a share of 1."""
    plain = _no_minus(_normal(text, kind, system), kind)
    value = _single(plain, kind, units, system)
    if 0 < value < 1 and not re.search(r"[a-z%]", plain):
        one, other = _exactly(value), _exactly(value * 100)
        raise NotUnderstood(f"Could be {one} % or {other} %: write the % sign.")
    return value


def parse_percent(text: str) -> float:
    """Read a percentage, 0 to 100."""
    return _share(text, Kind.PERCENT, dict.fromkeys(("", *_PERCENT_WORDS), 1.0))


def _proof_units(system: UnitSystem) -> dict[str, float]:
    """% v/v in a degree of proof, by the words for it; under IMPERIAL not by plain proof."""
    units: dict[str, float] = {}
    for degree in ("", "° ", "°"):
        units |= {f"{degree}{words}": _US_PROOF for words in _US_PROOF_WORDS}
        units |= {f"{degree}{words}": _UK_PROOF for words in _UK_PROOF_WORDS}
        if system is not UnitSystem.IMPERIAL:
            units[f"{degree}proof"] = _US_PROOF
    return units


def parse_strength(text: str, system: UnitSystem = UnitSystem.METRIC) -> float:
    """Read a strength as % v/v; plain proof is US proof, and refused under IMPERIAL.

    There it could be either: 80 proof is 40 % on any bottle sold today, 45.7 % on an old one.
    """
    plain = _normal(text, Kind.STRENGTH, system)
    if any(words in plain for words in _WEIGHT_WORDS):
        raise NotUnderstood("Strength is by volume here: write % v/v, e.g. 40 %.")
    units = dict.fromkeys(("", *_STRENGTH_WORDS), 1.0) | _proof_units(system)
    if system is UnitSystem.IMPERIAL and re.fullmatch(r"[^a-z]*proof", plain):
        raise NotUnderstood("US and UK proof differ: write e.g. 80 US proof, 70 UK proof or 40 %.")
    return _share(text, Kind.STRENGTH, units, system)


def _scale_written(text: str) -> str:
    """The scale of a reading by the way it is written: `percent` where it has no proof."""
    plain = _normal(text, Kind.STRENGTH)
    if plain.endswith(_UK_PROOF_WORDS):
        return "uk_proof"
    return "us_proof" if plain.endswith("proof") else "percent"


def _parse_reading(text: str, scale: str, system: UnitSystem) -> float:
    """A reading as % v/v; a bare number, and plain proof, are degrees of the scale."""
    words = {"us_proof": " US proof", "uk_proof": " UK proof"}.get(scale, "")
    plain = _normal(text, Kind.STRENGTH, system)
    if words and not plain.endswith((*_US_PROOF_WORDS, *_UK_PROOF_WORDS)):
        number = plain.removesuffix("proof").removesuffix(" ").removesuffix("°")
        if not re.search(r"[a-z%]", number):
            return parse_strength(number + words, system)
    return parse_strength(text, system)


def read_instrument(
    text: str, scale: str, true_at: str, system: UnitSystem, setting: str = ""
) -> tuple[float, str, str]:
    """Read an alcoholometer: % v/v on its own scale, the scale, and where it is true.

    Scale and place of truth are keys of the calculator's choices. Where they are left open, the
    way the reading is written decides: proof and US % are true at 60 °F (27 CFR 30.11), other % at
    20 °C (OIML R 22), or at `setting`, which overrides both.

    >>> read_instrument("193 proof", "auto", "auto", UnitSystem.US)
    (96.5, 'us_proof', '60f')
    >>> read_instrument("40", "auto", "auto", UnitSystem.METRIC, "15c")
    (40.0, 'percent', '15c')
    """
    if scale == AS_WRITTEN:
        scale = _scale_written(text)
    if true_at == AS_WRITTEN:
        is_at_60f = scale != "percent" or system is UnitSystem.US
        true_at = setting or ("60f" if is_at_60f else "20c")
    return _parse_reading(text, scale, system), scale, true_at


def parse_ratio(text: str) -> float:
    """Read the n of 1:n, written whole or as n alone."""
    plain = _no_minus(_normal(text, Kind.RATIO), Kind.RATIO)
    # "½" turns into 1/2 on the way, and is no ratio: what was typed has to start with the 1.
    if text.lstrip().startswith(("1", "１")):
        plain = re.sub(r"^1 ?(?::|/| to | in ) ?", "", plain)
    if re.search(r":|^\d+ ?/", plain):
        raise NotUnderstood("Not a ratio: write herb first as 1, e.g. 1:5 or 1:2.5.")
    return _single(plain, Kind.RATIO, {"": 1.0})


def parse_temperature(text: str, system: UnitSystem = UnitSystem.METRIC) -> float:
    """Read a temperature as °C; a bare number is °F under US, °C elsewhere."""
    kind = Kind.TEMPERATURE
    plain = _normal(text, kind, system)
    sign = -1 if plain.startswith("-") else 1
    parts = _parts(re.sub(r"^[+-] ?", "", plain), kind, system)
    unit = parts[0].unit.replace("°", "").strip() if len(parts) == 1 else "several"
    if unit not in ("", "c", "f", "celsius", "fahrenheit"):
        raise _refusal(kind, system)
    fahrenheit = unit.startswith("f") or (not unit and system is UnitSystem.US)
    degrees = [sign * float(reading) for reading in parts[0].readings]
    if fahrenheit:
        degrees = [(degree - 32) / 1.8 for degree in degrees]
    return _settle(parts, degrees, kind, system)


def _simple(kind: Kind, units: dict[str, float]) -> Callable[[str], float]:
    def read(text: str) -> float:
        plain = _no_minus(_normal(text, kind), kind)
        return _single(plain.replace(" per ", "/").replace(" / ", "/"), kind, units)

    return read


_PER = {
    Kind.DENSITY: {
        "g/ml": 1.0,
        "g/cc": 1.0,
        "g/cm³": 1.0,
        "kg/l": 1.0,
        "kg/m³": 0.001,
        "g/l": 0.001,
    },
    Kind.RETENTION: {"ml/g": 1.0, "l/kg": 1.0},
    Kind.CONCENTRATION: {"g/ml": 1.0, "kg/l": 1.0, "mg/ml": 0.001, "g/l": 0.001},
    Kind.DROPS: {"drops/ml": 1.0},
}  # fmt: skip


def _read_per(kind: Kind, text: str, system: UnitSystem = UnitSystem.METRIC) -> float:
    """One quantity to another, as g to the mL; a bare number is in the system's own units."""
    size, suffix = _per_unit(kind, system)
    units = _PER[kind] | {"": size, suffix.strip().lower(): size}
    return _simple(kind, units)(text)


_read_us_proof = _simple(Kind.US_PROOF, {"": 1.0, "proof": 1.0, "us proof": 1.0})
_read_uk_proof = _simple(Kind.UK_PROOF, {"": 1.0, "proof": 1.0, "uk proof": 1.0})
_read_count = _simple(Kind.COUNT, {"": 1.0})
_read_number = _simple(Kind.NUMBER, {"": 1.0})
_read_days = _simple(
    Kind.DAYS,
    dict.fromkeys(("", "d", "day", "days"), 1.0)
    | dict.fromkeys(("w", "wk", "wks", "week", "weeks"), 7.0)
    | dict.fromkeys(("fortnight", "fortnights"), 14.0),
)


def parse_density(text: str) -> float:
    """Read a density as g/mL; a bare number is g/mL."""
    return _read_per(Kind.DENSITY, text)


def parse_count(text: str) -> int:
    """Read a whole number of things."""
    return int(_read_count(text))


def parse_shakes(text: str) -> int:
    """Read how often a jar is shaken a day, 0 to 9."""
    count = parse_count(text)
    if count > 9:
        raise NotUnderstood("Shakes a day: a number from 0 to 9.")
    return count


def parse_number(text: str) -> float:
    """Read a plain number, zero or above."""
    return _read_number(text)


def parse_days(text: str) -> int:
    """Read a number of whole days, written in days, weeks or fortnights."""
    if re.search(r"month|year", text[:_LONGEST].lower()):
        raise NotUnderstood("Months and years differ in length: write days or weeks, e.g. 6 weeks.")
    return int(_read_days(text))


def parse_money(text: str) -> float:
    """Read an amount of the user's currency; a currency sign is read over."""
    plain = _no_minus(_normal(text, Kind.MONEY), Kind.MONEY)
    return _single(re.sub(r"^[$€£¥] ?| ?[$€£¥]$", "", plain, count=1), Kind.MONEY, {"": 1.0})


def _parse_price(text: str, kind: Kind, system: UnitSystem) -> float:
    """A price per mL or g: bare per the system's own unit, or "22.50 per 700 ml"."""
    measured = Kind.VOLUME if kind is Kind.MONEY_PER_ML else Kind.MASS
    plain = _no_minus(_normal(text, kind, system), kind)
    money, *amounts = re.split(r" ?/ ?(?=[a-z])| per | for ", plain)
    if len(amounts) > 1:
        raise _refusal(kind, system)
    if not amounts:
        price = parse_money(money) / _size(_HOME_UNIT[measured, system][0])
    else:
        amount = amounts[0] if re.match(r"[\d.,]|an? |half ", amounts[0]) else f"1 {amounts[0]}"
        size = _measure(amount, system, (measured,)).value
        # Below a thousandth of a mL or g the quotient could pass every limit.
        if size < 0.001:
            raise _refusal(kind, system)
        price = parse_money(money) / size
    return _settle((), (price,), kind, system)


_READERS: dict[Kind, Callable[[str, UnitSystem], float]] = {
    Kind.VOLUME: parse_volume,
    Kind.MASS: parse_mass,
    Kind.STRENGTH: parse_strength,
    Kind.RATIO: lambda text, system: parse_ratio(text),
    Kind.PERCENT: lambda text, system: parse_percent(text),
    Kind.TEMPERATURE: parse_temperature,
    Kind.US_PROOF: lambda text, system: _read_us_proof(text),
    Kind.UK_PROOF: lambda text, system: _read_uk_proof(text),
    Kind.DENSITY: lambda text, system: _read_per(Kind.DENSITY, text, system),
    Kind.RETENTION: lambda text, system: _read_per(Kind.RETENTION, text, system),
    Kind.CONCENTRATION: lambda text, system: _read_per(Kind.CONCENTRATION, text, system),
    Kind.DROPS: lambda text, system: _read_per(Kind.DROPS, text, system),
    Kind.COUNT: lambda text, system: parse_count(text),
    Kind.NUMBER: lambda text, system: _read_number(text),
    Kind.MONEY: lambda text, system: parse_money(text),
    Kind.MONEY_PER_ML: lambda text, system: _parse_price(text, Kind.MONEY_PER_ML, system),
    Kind.MONEY_PER_G: lambda text, system: _parse_price(text, Kind.MONEY_PER_G, system),
    Kind.DAYS: lambda text, system: parse_days(text),
}


def parse(kind: Kind, text: str, system: UnitSystem = UnitSystem.METRIC) -> float:
    """Read a text as a number of a kind, in the unit the kind is held in."""
    reader = _READERS.get(kind)
    if reader is None:
        raise NotUnderstood(f"A {kind.value} is not a number.")
    return float(reader(text, system))


# (below, step): up to a size, values are rounded to a step. Each step is finer than what a
# kitchen jug or scale shows at that size.
_Steps = tuple[tuple[float, str], ...]
_METRIC_STEPS: _Steps = ((1, "0.01"), (100, "0.1"), (10_000, "1"), (math.inf, "1E+1"))
_OUNCE_STEPS: _Steps = ((0.1, "0.001"), (1, "0.01"), (100, "0.1"), (math.inf, "1"))
_POUND_STEPS: _Steps = ((0.1, "0.001"), (1, "0.01"), (math.inf, "0.1"))
_SHARE_STEPS: _Steps = ((1, "0.01"), (math.inf, "0.1"))
_FINE_STEPS: _Steps = ((1, "0.001"), (100, "0.01"), (math.inf, "0.1"))
_PRICE_STEPS: _Steps = ((0.1, "0.0001"), (1, "0.001"), (math.inf, "0.01"))
_STEPS: dict[Kind, _Steps] = {
    Kind.STRENGTH: _SHARE_STEPS,
    Kind.PERCENT: _SHARE_STEPS,
    Kind.US_PROOF: _SHARE_STEPS,
    Kind.UK_PROOF: _SHARE_STEPS,
    Kind.RATIO: ((10, "0.01"), (math.inf, "0.1")),
    Kind.TEMPERATURE: ((math.inf, "0.1"),),
    Kind.DENSITY: ((math.inf, "0.0001"),),
    Kind.RETENTION: ((math.inf, "0.01"),),
    Kind.CONCENTRATION: _FINE_STEPS,
    Kind.DROPS: ((100, "0.1"), (math.inf, "1")),
    Kind.COUNT: ((math.inf, "1"),),
    Kind.NUMBER: _FINE_STEPS,
    Kind.MONEY: ((math.inf, "0.01"),),
    Kind.MONEY_PER_ML: _PRICE_STEPS,
    Kind.MONEY_PER_G: _PRICE_STEPS,
    Kind.DAYS: ((math.inf, "1"),),
}
_LEAST_DECIMALS = {Kind.MONEY: 2, Kind.MONEY_PER_ML: 2, Kind.MONEY_PER_G: 2, Kind.DENSITY: 4}
_SUFFIXES = {
    Kind.STRENGTH: " %",
    Kind.PERCENT: " %",
    Kind.US_PROOF: " proof",
    Kind.UK_PROOF: " UK proof",
}
_ROOMY = Context(prec=400)


def _step(amount: float, steps: _Steps) -> Decimal:
    return Decimal(next(step for below, step in steps if abs(amount) < below))


def _quantized(amount: Decimal, step: Decimal, rounding: str = ROUND_HALF_UP) -> Decimal:
    return amount.quantize(step, rounding, context=_ROOMY)


def _exact(amount: float) -> Decimal:
    return Decimal(repr(amount))


def _digits(value: Decimal, least: int = 0) -> str:
    """A number without idle zeros, and never in a form that could be read as thousands."""
    text = format(value, "f")
    if "." in text:
        whole, _, part = text.partition(".")
        part = part.rstrip("0")
        text = f"{whole}.{part}" if part else whole
    if not text.strip("-0."):
        text = "0"
    whole, _, part = text.partition(".")
    part = part.ljust(least, "0")
    if len(part) == 3 and _grouped(f"{whole.lstrip('-')}.{part}", "."):
        part += "0"
    return f"{whole}.{part}" if part else whole


def _exactly(value: float) -> str:
    """The fewest digits that read back to the value within one part in 10^12."""
    for digits in range(1, 18):
        text = f"{value:.{digits}g}"
        if abs(float(text) - value) <= 1e-12 * abs(value):
            break
    return _digits(Decimal(text))


def _pounds(ounces: Decimal) -> tuple[str, str]:
    pounds, rest = divmod(abs(ounces), 16)
    sign = "-" if ounces < 0 else ""
    if not rest:
        return f"{sign}{pounds}", " lb"
    return f"{sign}{pounds} lb {_digits(rest)}", " oz"


def _per_unit(kind: Kind, system: UnitSystem) -> tuple[float, str]:
    """How much of a kind the system's own unit of it is, and what to write after a number of them.

    >>> _per_unit(Kind.DENSITY, UnitSystem.METRIC)
    (1.0, ' g/mL')
    """
    volume, mass = _HOME_UNIT[Kind.VOLUME, system], _HOME_UNIT[Kind.MASS, system]
    if kind is Kind.DROPS:
        return 1.0 / _size(volume[0]), f" drops/{volume[1]}"
    if kind is Kind.RETENTION:
        return _size(volume[0]) / _size(mass[0]), f" {volume[1]}/{mass[1]}"
    return _size(mass[0]) / _size(volume[0]), f" {mass[1]}/{volume[1]}"


def _in_units(kind: Kind, value: float, system: UnitSystem) -> tuple[float, str]:
    """A value in the system's own unit of its kind, and what to write after it."""
    if (kind, system) in _HOME_UNIT:
        home, symbol = _HOME_UNIT[kind, system]
        return value / _size(home), f" {symbol}"
    if kind in _PER:
        size, suffix = _per_unit(kind, system)
        return value / size, suffix
    if kind in (Kind.MONEY_PER_ML, Kind.MONEY_PER_G):
        home, symbol = _HOME_UNIT[Kind.VOLUME if kind is Kind.MONEY_PER_ML else Kind.MASS, system]
        return value * _size(home), f"/{symbol}"
    if kind is Kind.TEMPERATURE:
        return (value * 1.8 + 32, " °F") if system is UnitSystem.US else (value, " °C")
    return value, _SUFFIXES.get(kind, "")


def _steps_of(kind: Kind, system: UnitSystem, unit: bool) -> _Steps:
    if kind is Kind.MASS and unit and system is not UnitSystem.METRIC:
        return _POUND_STEPS
    if (kind, system) in _HOME_UNIT:
        return _METRIC_STEPS if system is UnitSystem.METRIC else _OUNCE_STEPS
    return _STEPS[kind]


def _rounded(figure: Figure, system: UnitSystem, *, unit: bool = True, finer: int = 0) -> Decimal:
    """A figure in the system's own unit, rounded to what can be measured, or some digits finer.

    Rounding never carries it across one of its limits: what is under a limit is printed as less
    than the limit is, with a digit more where it takes one.
    """
    amount, _ = _in_units(figure.kind, figure.value, system)
    fine_as = figure.value if figure.fine_as is None else figure.fine_as
    size, _ = _in_units(figure.kind, fine_as, system)
    step = _step(size, _steps_of(figure.kind, system, unit)).scaleb(-finer)
    if figure.addend is not None:
        return _part_of_sum(figure.kind, figure.addend, step, system)
    shown = _quantized(_exact(amount), step)
    limits, slack = figure.limits, 0.0
    if figure.kind is Kind.STRENGTH:
        limits, slack = (*limits, *STRENGTH_LIMITS_ABV), LIMIT_SLACK_ABV
    for limit in limits:
        if figure.value == limit:
            return _limit_shown(figure.kind, limit, system)
        shown = _on_its_side(_exact(amount), shown, step, figure.value < limit - slack,
                             _limit_shown(figure.kind, limit, system))  # fmt: skip
    return shown


def _part_of_sum(kind: Kind, addend: Addend, step: Decimal, system: UnitSystem) -> Decimal:
    """A part rounded to a step so that with the others it adds up to the total as it is rounded.

    By largest remainder: all are rounded down, and those that lose most get the steps that lack.
    """
    with localcontext(_ROOMY):
        in_steps = [_exact(_in_units(kind, part, system)[0]) / step for part in addend.parts]
        rounded_down = [part.to_integral_value(ROUND_FLOOR) for part in in_steps]
        total = _exact(_in_units(kind, addend.total, system)[0]) / step
        lacking = int(total.to_integral_value(ROUND_HALF_UP) - sum(rounded_down))
        most_lost_first = sorted(range(len(in_steps)), key=lambda i: rounded_down[i] - in_steps[i])
        got_one = addend.place in most_lost_first[:lacking]
        return (rounded_down[addend.place] + got_one) * step


def _limit_shown(kind: Kind, limit: float, system: UnitSystem) -> Decimal:
    """A limit to three digits, which is all of it in the units it was set in."""
    amount, _ = _in_units(kind, limit, system)
    return Context(prec=3).create_decimal(_exact(amount))


def _on_its_side(
    amount: Decimal, shown: Decimal, step: Decimal, is_under: bool, limit: Decimal
) -> Decimal:
    """An amount as shown, or a digit finer, so that it reads as under a limit if it is."""
    if is_under == (shown < limit):
        return shown
    step = step.scaleb(-1)
    finer = _quantized(amount, step)
    if is_under == (finer < limit):
        return finer
    return _quantized(limit, step, ROUND_CEILING) - step if is_under else limit


def _written(kind: Kind, shown: Decimal, system: UnitSystem, unit: bool = True) -> tuple[str, str]:
    """A rounded amount in digits, in the unit that reads best at its size, and that unit."""
    _, suffix = _in_units(kind, 0.0, system)
    with localcontext(_ROOMY):
        is_metric = (kind, system) in _HOME_UNIT and system is UnitSystem.METRIC
        if unit and is_metric and abs(shown) >= 1000 and shown % 10 == 0:
            return _digits(shown / 1000), " L" if kind is Kind.VOLUME else " kg"
        if unit and suffix == " oz" and abs(shown) >= 16:
            return _pounds(shown)
    number = _digits(shown, _LEAST_DECIMALS.get(kind, 0))
    if kind is Kind.DAYS:
        suffix = " day" if number == "1" else " days"
    return number, suffix


def whole_percent(strength_abv: float) -> float:
    """A strength in whole percent, never rounded up to where the verdict on keeping changes.

    >>> whole_percent(38.6), whole_percent(24.6), whole_percent(25.4)
    (39.0, 24.0, 25.0)
    """
    rounded = float(round(strength_abv))
    for limit in STRENGTH_LIMITS_ABV:
        if strength_abv < limit - LIMIT_SLACK_ABV and rounded >= limit:
            return limit - 1.0
    return rounded


def how_many(count: int, noun: str) -> str:
    """A number of things.

    >>> how_many(1, "jar"), how_many(3, "jar")
    ('1 jar', '3 jars')
    """
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"


def unit_of(kind: Kind, system: UnitSystem = UnitSystem.METRIC) -> str:
    """The unit of a bare number of a kind, for a heading or beside a field."""
    if kind is Kind.RATIO:
        return "1:"
    return "days" if kind is Kind.DAYS else _in_units(kind, 0.0, system)[1].strip()


def show(
    what: Kind | Figure,
    value: float | None = None,
    system: UnitSystem = UnitSystem.METRIC,
    *,
    unit: bool = True,
    decimal_comma: bool = False,
) -> str:
    """Print a value of a kind, or a figure, rounded to what can be measured.

    `unit=False` leaves the unit off, for a column that names it in its head.
    """
    figure = (
        what if isinstance(what, Figure) else Figure(what, math.nan if value is None else value)
    )
    if not math.isfinite(figure.value) or figure.kind not in _BOUNDS:
        raise ValueError(f"No {figure.kind.value} to print: {figure.value}")
    shown = _rounded(figure, system, unit=unit)
    number, suffix = _written(figure.kind, shown, system, unit)
    if not unit:
        return number.replace(".", ",") if decimal_comma else number
    return _dressed(figure.kind, number, suffix, decimal_comma)


def _dressed(kind: Kind, number: str, suffix: str, decimal_comma: bool) -> str:
    if decimal_comma:
        number = number.replace(".", ",")
    return f"1:{number}" if kind is Kind.RATIO else number + suffix


def fill_in(
    text: str,
    figures: Sequence[Figure],
    system: UnitSystem = UnitSystem.METRIC,
    *,
    decimal_comma: bool = False,
    sum: Sum | None = None,
) -> str:
    """Put figures, printed in a system's units, in the places {0}, {1}, … of a sentence.

    Where the sentence sets out a sum, they are printed in digits that add up.
    """
    shown = _adding_up(figures, sum, system) if sum else [_rounded(f, system) for f in figures]
    words = [
        _dressed(figure.kind, *_written(figure.kind, amount, system), decimal_comma)
        for figure, amount in zip(figures, shown, strict=True)
    ]
    # Not str.format: a sentence may hold a herb's name, and that may hold a brace.
    return re.sub(r"\{(\d{1,3})\}", lambda place: words[int(place[1])], text)


_MORE_DIGITS = 4
"""Digits beyond what can be measured that the parts of a sum may be given so that it adds up."""


def _adding_up(figures: Sequence[Figure], sum: Sum, system: UnitSystem) -> list[Decimal]:
    """The figures of a sum, rounded no more than lets a reader come to the printed result."""
    result = figures[sum.of]
    usual = _rounded(result, system)
    amount, _ = _in_units(result.kind, result.value, system)
    step = _step(amount, _steps_of(result.kind, system, True))
    with localcontext(_ROOMY):
        for finer in range(_MORE_DIGITS + 1):
            shown = [_rounded(figure, system, finer=finer) for figure in figures]
            shown[sum.of] = usual
            made = sum.work(shown)
            if _quantized(made, step) == usual:
                break
    shown[sum.of] = made if sum.is_exact else _quantized(made, step)
    return shown
