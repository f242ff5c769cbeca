"""The font every page is set in, and what it can draw.

The faces are DejaVu Sans Condensed 2.37 (https://dejavu-fonts.github.io), cut down with fontTools'
`pyftsubset` to Latin, Greek, Cyrillic, Armenian and Georgian, their punctuation, and a few signs.
Scripts that want shaping or run right to left are left out: unshaped they would print wrong.
"""

import re
from collections.abc import Iterable
from enum import StrEnum
from functools import cache
from importlib import resources
from typing import Any

from stillroom.errors import StillroomError


class Face(StrEnum):
    """A face of the font, by the name a PDF canvas knows it under."""

    PLAIN = "DejaVuSansCondensed"
    BOLD = "DejaVuSansCondensed-Bold"
    SLANTED = "DejaVuSansCondensed-Oblique"


class CannotDraw(StillroomError):
    """A text holds characters the font has no picture for."""


@cache
def _face(face: Face) -> Any:
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    with resources.as_file(resources.files(__package__) / "fonts" / f"{face}.ttf") as file:
        font = TTFont(face.value, str(file))
    pdfmetrics.registerFont(font)
    return font


def make_ready() -> None:
    """Make every face known to the PDF library."""
    from reportlab.lib.fonts import addMapping

    for face in Face:
        _face(face)
    addMapping(Face.PLAIN.value, 0, 0, Face.PLAIN.value)
    addMapping(Face.PLAIN.value, 1, 0, Face.BOLD.value)
    addMapping(Face.PLAIN.value, 0, 1, Face.SLANTED.value)


def width(text: str, face: Face, size: float) -> float:
    """How wide a text is in points."""
    return float(_face(face).stringWidth(text, size))


def missing(text: str) -> list[str]:
    """The characters of a text that the font cannot draw, each once."""
    drawable = _face(Face.PLAIN).face.charToGlyph
    return [char for char in dict.fromkeys(text) if char != "\n" and ord(char) not in drawable]


UNDRAWN = "(?)"
"""Printed in a list in place of letters that the font doesn't have."""


def printable(text: str) -> str:
    """A text with every run of letters the font lacks replaced by a mark."""
    lacking = set(missing(text))
    if not lacking:
        return text
    kept = [char if char not in lacking else "\0" for char in text]
    return re.sub("\0+", UNDRAWN, "".join(kept))


def refuse_undrawable(texts: Iterable[str], what: str) -> None:
    """Raise CannotDraw, naming the characters, where a text could only be printed in part."""
    lacking: dict[str, str] = {}
    for text in texts:
        for char in missing(text):
            lacking.setdefault(char, text)
    if not lacking:
        return
    characters = ", ".join(f"{char} (U+{ord(char):04X})" for char in list(lacking)[:8])
    more = f" and {len(lacking) - 8} more" if len(lacking) > 8 else ""
    where = " ".join(next(iter(lacking.values())).split())
    shown = where if len(where) <= 60 else f"{where[:57]}…"
    raise CannotDraw(
        f"{what} cannot be printed: the font has no {characters}{more}, as in “{shown}”. "
        "It prints Latin, Greek and Cyrillic. Write the name in one of these."
    )
