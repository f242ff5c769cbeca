"""A sheet saved as text, in whatever encoding and with any separator: from bytes to cells."""

import csv
import io
import re
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import islice

_BYTE_ORDER_MARKS = (
    (b"\xef\xbb\xbf", "utf-8-sig", "UTF-8"),
    (b"\xff\xfe", "utf-16", "UTF-16"),
    (b"\xfe\xff", "utf-16", "UTF-16"),
)
_ONE_BYTE = (("cp1252", "Windows-1252"), ("mac_roman", "Mac Roman"), ("cp850", "DOS (850)"))
"""The encodings of western Europe, the likeliest first: of those that fit equally, the first."""
_LETTERS = frozenset("äöüßàâçéèêëîïôùûœæáíóúñìòÄÖÜÀÂÇÉÈÊËÎÏÔÙÛŒÁÍÓÚÑÌÒ½¼¾°–—’‘“”€£…²³º")
"""The letters and signs of the six languages that a sheet has reason to hold."""
SEPARATORS = (",", ";", "\t", "|")
_TRIED = 200
"""Rows that are looked at to find the separator."""


@dataclass(frozen=True)
class Decoded:
    """A text and how it was read."""

    text: str
    encoding: str
    """Its name, as people know it."""


def decoded(raw: bytes) -> Decoded:
    """The text of some bytes: UTF-8, UTF-16, or the western encoding whose letters make sense.

    >>> decoded("Blätter".encode("mac_roman"))
    Decoded(text='Blätter', encoding='Mac Roman')
    """
    for mark, codec, name in _BYTE_ORDER_MARKS:
        if raw.startswith(mark):
            return Decoded(raw.decode(codec, errors="replace"), name)
    if guessed := _utf_16_without_mark(raw):
        return Decoded(raw.decode(guessed, errors="replace"), "UTF-16")
    try:
        return Decoded(raw.decode("utf-8"), "UTF-8")
    except UnicodeDecodeError:
        pass
    texts = [(raw.decode(codec, errors="replace"), name) for codec, name in _ONE_BYTE]
    text, name = max(texts, key=lambda each: _sense(each[0]))
    return Decoded(text, name)


def _utf_16_without_mark(raw: bytes) -> str:
    """The order of bytes where every other byte is zero, as in UTF-16 of western text."""
    start = raw[:2000]
    if not start:
        return ""
    for first, codec in ((1, "utf-16-le"), (0, "utf-16-be")):
        zeros = start[first::2].count(0)
        if zeros > 0.6 * len(start[first::2]) and start[1 - first :: 2].count(0) == 0:
            return codec
    return ""


def _sense(text: str) -> float:
    """How much of what isn't ASCII is letters of western languages in words."""
    strange = Counter(character for character in text if not character.isascii())
    good = sum(count for character, count in strange.items() if character in _LETTERS)
    # A capital within a small word is the sign of the wrong encoding.
    odd = len(re.findall(r"[a-zäöüß][ÄÖÜÀÂÇÉÈÊËÎÏÔÙÛŒÁÍÓÚÑÌÒŽŠŸ]", text))
    return good / max(1, strange.total()) - odd


def cells_of(
    text: str, separators: Sequence[str], merit: Callable[[list[list[str]]], float]
) -> list[list[str]]:
    """Every row of a text, with the separator under which the rows have the greatest merit.

    Raises csv.Error where it is not CSV with any of them.
    """
    named = re.match(r"(?:\ufeff)?sep=(?P<separator>.)\r?\n", text)
    if named:  # what Excel writes, and shows no row for
        text, separators = text[named.end() :], (named["separator"],)
    ranked: list[tuple[float, int, str]] = []
    for separator in separators:
        try:
            start = _rows(text, separator, most=_TRIED)
        except csv.Error:
            continue
        ranked.append((merit(start), -len(ranked), separator))
    if not ranked:
        return _rows(text, ",")
    return _rows(text, max(ranked)[2])


def _rows(text: str, separator: str, most: int | None = None) -> list[list[str]]:
    reader = csv.reader(io.StringIO(text, newline=None), delimiter=separator)
    return [*islice(reader, most)]
