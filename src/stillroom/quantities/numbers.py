"""Numbers as people write them: fractions, words, points and commas."""

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from stillroom.errors import NotUnderstood
from stillroom.quantities.limits import BOUNDS, limit_and_example, refusal
from stillroom.quantities.units import UnitSystem
from stillroom.reckoning.kinds import (
    Kind,
)

LONGEST = 64

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
class _NumberAndUnit:
    """One number with the words after it; two readings if its mark could be either kind."""

    readings: tuple[Fraction, ...]
    unit: str


def normalized(text: str, kind: Kind, system: UnitSystem = UnitSystem.METRIC) -> str:
    """The text in plain lower case ASCII digits and signs; refuses anything else."""
    if len(text) > LONGEST:
        raise refusal(kind, system)
    plain = " ".join(text.translate(_PLAIN).lower().split())
    if _EXPONENT.search(plain):
        raise NotUnderstood("Write the number in full, e.g. 1200 in place of 1.2e3.")
    plain = re.sub(r"(?<![a-z])(c?m)3(?!\d)", r"\1³", plain)
    if not _ALLOWED.fullmatch(plain):
        raise refusal(kind, system)
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


def parts_of(text: str, kind: Kind, system: UnitSystem = UnitSystem.METRIC) -> list[_NumberAndUnit]:
    """The numbers of a text, each with the words that follow it."""
    parts = []
    place = 0
    while place < len(text):
        readings, place = _number_at(text, place)
        if not readings:
            raise refusal(kind, system)
        found = _UNIT.match(text, place)
        assert found is not None  # Every part of the pattern may be empty.
        place = found.end()
        if place < len(text) and not found[1].strip():
            raise refusal(kind, system)
        words = re.sub(r" and $", "", found[1] if place < len(text) else found[1].rstrip())
        parts.append(_NumberAndUnit(readings, " ".join(words.replace(".", "").split())))
    return parts


def settled(
    parts: Sequence[_NumberAndUnit],
    sums: Iterable[float],
    kind: Kind,
    system: UnitSystem = UnitSystem.METRIC,
) -> float:
    """The one reading that is possible for the kind; refuses where there is none, or several."""
    bounds = BOUNDS[kind]
    readings = list(sums)
    possible = {reading for reading in readings if bounds.holds(reading)}
    if len(possible) == 1:
        return possible.pop()
    if possible:
        small, large = next(part.readings for part in parts if len(part.readings) > 1)
        one, other = exactly(float(small)), exactly(float(large))
        raise NotUnderstood(f"Could be {one} or {other}: write {one} or {other}.")
    if bounds.whole and any(bounds.low <= reading <= bounds.high for reading in readings):
        raise NotUnderstood(f"Not a {bounds.noun}: write it without a fraction.")
    limit, _ = limit_and_example(kind, system)
    raise NotUnderstood(f"Out of range: a {bounds.noun} is {limit}.")


def single_number(
    text: str, kind: Kind, units: Mapping[str, float], system: UnitSystem = UnitSystem.METRIC
) -> float:
    """One number with one of a few units, in the unit of the kind."""
    parts = parts_of(text, kind, system)
    if len(parts) != 1 or parts[0].unit not in units:
        raise refusal(kind, system)
    factor = units[parts[0].unit]
    return settled(parts, (float(reading) * factor for reading in parts[0].readings), kind, system)


def no_minus(text: str, kind: Kind) -> str:
    if text.startswith("-"):
        raise NotUnderstood(f"A {BOUNDS[kind].noun} can't be below zero.")
    return text


def digits(value: Decimal, least: int = 0) -> str:
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


def exactly(value: float) -> str:
    """The fewest digits that read back to the value within one part in 10^12."""
    for places in range(1, 18):
        text = f"{value:.{places}g}"
        if abs(float(text) - value) <= 1e-12 * abs(value):
            break
    return digits(Decimal(text))
