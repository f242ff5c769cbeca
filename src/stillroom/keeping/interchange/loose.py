"""Figures as people write them: about, from here to there, by eye, or not at all."""

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from enum import StrEnum

from stillroom.errors import NotUnderstood
from stillroom.keeping.interchange.vocabulary import (
    fold,
    in_our_units,
    meanings,
    meanings_within,
    pattern,
)

_NUMBER = r"\d+(?:[.,]\d+)?"
_MOST_BOTTLES = 200
_COUNT_UP_TO = 24
"""A bare number up to this is how many bottles there are, not what one holds."""


class Within(StrEnum):
    """What to take of a range."""

    MIDDLE = "middle"
    LOW = "low"
    HIGH = "high"
    NOT_KNOWN = "not known"


@dataclass(frozen=True)
class Written:
    """The meaning of a cell with a figure."""

    low: float | None
    """None where there is no figure."""
    high: float | None
    is_exact: bool = True
    """Whether the figure is all that the cell says."""

    @property
    def is_range(self) -> bool:
        """Whether it is one of many figures."""
        return self.low != self.high

    def taken(self, within: Within | None) -> float | None:
        """The figure, of a range what a person wants of it."""
        if self.low is None or self.high is None or not self.is_range:
            return self.low
        if within is None or within is Within.NOT_KNOWN:
            return None
        choice = {Within.LOW: self.low, Within.HIGH: self.high}
        return choice.get(within, (self.low + self.high) / 2)


def is_unknown(text: str) -> bool:
    """Whether a cell is there to say that nothing is known.

    >>> is_unknown("?"), is_unknown("unbekannt"), is_unknown("root")
    (True, True, False)
    """
    return fold(text).rstrip(".") in {fold(word).rstrip(".") for word in meanings("unknown")}


def written(text: str, read: Callable[[str], float]) -> Written:
    """A figure as a person wrote it; NotUnderstood where it has digits that can't be read.

    >>> from stillroom.quantities.reading import parse_mass
    >>> written("c. 100g", parse_mass), written("50-60 g", parse_mass)
    (Written(low=100.0, high=100.0, is_exact=False), Written(low=50.0, high=60.0, is_exact=False))
    >>> written("1/2 jar", parse_mass), written("handful", parse_mass)
    (Written(low=None, high=None, is_exact=False), Written(low=None, high=None, is_exact=False))
    """
    try:
        value = read(text)
    except NotUnderstood as refusal:
        found = _loosely(text, read)
        if found is None:
            raise refusal
        return found
    return Written(value, value)


def _loosely(text: str, read: Callable[[str], float]) -> Written | None:
    """The same for a text that is more, or less, than a figure."""
    plain = in_our_units(text).strip()
    by_eye = Written(None, None, is_exact=False)
    if not re.search(r"[\d½¼¾]", plain):
        return by_eye
    if (figure := _read(plain, read)) is not None:
        return Written(figure, figure)
    word = pattern("about")
    about = re.sub(rf"^(?:(?:{word})\b\.? ?|[~≈±] ?)+|(?<=[\w% ])\?$", "", plain)
    about = re.sub(rf"[ (]+(?:{word})\.?\)?$", "", about).strip()
    about = re.sub(r" ?\([^()\d]*\)$", "", about)  # a remark: the cell's words go into the note
    if about != plain and (figure := _read(about, read)) is not None:
        return Written(figure, figure, is_exact=False)
    if (figure := _sum(about, read)) is not None:
        return Written(figure, figure, is_exact=about == plain)
    if ends := _range(about, read):
        return Written(*ends, is_exact=False)
    return by_eye if meanings_within("measure", re.sub(r"[\d½¼¾]", " ", plain)) else None


def _read(text: str, read: Callable[[str], float]) -> float | None:
    try:
        return read(text)
    except NotUnderstood:
        return None


def _sum(text: str, read: Callable[[str], float]) -> float | None:
    """The sum that `50 + 30 g` is."""
    pieces = text.split("+")
    unit = re.sub(r"^[\d.,\s]+", "", pieces[-1].strip())
    full = [f"{piece.strip()} {unit}" if re.fullmatch(_NUMBER, piece.strip()) else piece.strip()
            for piece in pieces]  # fmt: skip
    figures = [_read(piece.strip(), read) for piece in full]
    known = [figure for figure in figures if figure is not None]
    return sum(known) if len(pieces) > 1 and len(known) == len(figures) else None


def _range(text: str, read: Callable[[str], float]) -> tuple[float, float] | None:
    """The ends of `50-60 g`, `50 g to 60 g`."""
    found = re.fullmatch(
        rf"(?P<low>{_NUMBER})(?P<unit>[^\d]*?) ?(?:[-–—/]|\b(?:{pattern('range')})\b) ?"
        rf"(?P<high>{_NUMBER} ?(?P<rest>[^\d]*))",
        text,
    )
    if not found:
        return None
    low = _read(f"{found['low']} {found['unit'].strip() or found['rest']}".strip(), read)
    high = _read(found["high"].strip(), read)
    return (low, high) if low is not None and high is not None and low < high else None


def bottles(text: str, read: Callable[[str], float]) -> tuple[float, ...] | None:
    """What each bottle holds, from `4x100 + 30`; None where the text doesn't list their sizes.

    >>> bottles("4x100 + 30", float), bottles("500 and 100 x 2", float), bottles("6", float)
    ((100.0, 100.0, 100.0, 100.0, 30.0), (500.0, 100.0, 100.0), None)
    """
    pieces = re.split(r" ?[+;&\n] ?|, | (?:and|und|et|y|e|en) ", in_our_units(text))
    found: list[float] = []
    for piece in filter(None, (piece.strip() for piece in pieces)):
        times, size = _times(piece)
        volume = _read(size, read)
        if volume is None or volume <= 0 or not 1 <= times <= _MOST_BOTTLES:
            return None
        found += [volume] * times
    is_count = len(pieces) == 1 and re.fullmatch(r"\d+", pieces[0].strip())
    if is_count and int(pieces[0]) <= _COUNT_UP_TO:
        return None
    return tuple(found) if 0 < len(found) <= _MOST_BOTTLES else None


def _times(piece: str) -> tuple[int, str]:
    """How often, and what; of two bare numbers the smaller one counts."""
    if found := re.fullmatch(r"(\d{1,3}) ?[x×*] ?(\d{1,3})", piece):
        times, size = sorted(map(int, found.groups()))
        return times, str(size)
    if found := re.fullmatch(r"(?P<times>\d{1,3}) ?[x×*] ?(?P<size>.+)", piece):
        return int(found["times"]), found["size"]
    if found := re.fullmatch(r"(?P<size>.+?) ?[x×*] ?(?P<times>\d{1,3})", piece):
        return int(found["times"]), found["size"]
    return 1, piece


_IN_DOUBT = re.compile(r"(?<![\d.,])([1-9]\d{0,2})([.,])(\d{3})(?![\d.,])")
_CLEAR = re.compile(
    r"(?<![\d.,])0([.,])\d{3}(?![\d.,])|(?<![\d.,])\d+([.,])(?:\d{1,2}|\d{4,})(?![\d.,])|\d[.,]\d{3}([.,])\d+"
)


def decimal_mark(texts: Iterable[str]) -> tuple[str, bool]:
    """The decimal mark that some cells show, and whether any cell is in doubt without it.

    >>> decimal_mark(["50,5", "1.250"]), decimal_mark(["1.250"]), decimal_mark(["5", "60"])
    ((',', True), ('', True), ('', False))
    """
    marks: set[str] = set()
    is_in_doubt = False
    for text in texts:
        is_in_doubt = is_in_doubt or _IN_DOUBT.search(text) is not None
        marks |= {mark for found in _CLEAR.finditer(text) for mark in found.groups() if mark}
    return (marks.pop() if len(marks) == 1 else "", is_in_doubt)


def with_decimal_mark(text: str, mark: str) -> str:
    """A text whose numbers can be read in one way only.

    >>> with_decimal_mark("1.250 ml", ","), with_decimal_mark("1,250 l", ",")
    ('1250 ml', '1,2500 l')
    """
    if not mark:
        return text
    return _IN_DOUBT.sub(
        lambda found: f"{found[1]}{mark}{found[3]}0" if found[2] == mark else found[1] + found[3],
        text,
    )
