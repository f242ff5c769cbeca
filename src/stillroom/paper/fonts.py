"""The font every page is set in, and what it can draw.

The faces are DejaVu Sans Condensed 2.37 (https://dejavu-fonts.github.io), cut down with fontTools'
`pyftsubset` to Latin, Greek, Cyrillic, Armenian and Georgian, their punctuation, and a few signs.
Chinese, Japanese, Korean, Hebrew and Arabic are drawn with a font of the computer, where it has
one. Other scripts are left out: unshaped they would print wrong.
"""

import re
from collections.abc import Iterable, Iterator
from enum import StrEnum
from functools import cache, lru_cache
from importlib import resources
from typing import Any

from stillroom.errors import StillroomError
from stillroom.paper.scripts import Script, as_seen, can_shape, is_foreign, runs, runs_left, shaped
from stillroom.paper.system_fonts import font_for


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
    if not is_foreign(text):
        return 0.001 * size * _width_at_1000(text, face)
    from reportlab.pdfbase.pdfmetrics import stringWidth

    return float(sum(stringWidth(part, font, size) for part, font in pieces(text, face)))


@lru_cache(maxsize=20_000)
def _width_at_1000(text: str, face: Face) -> float:
    """Kept, because a label tries the same words in many sizes."""
    return float(_face(face).stringWidth(text, 1000))


def pieces(text: str, face: Face) -> tuple[tuple[str, str], ...]:
    """A printable row of text from left to right, each piece with the name of its font."""
    if not is_foreign(text):
        return ((text, face.value),)
    seen = as_seen(text)
    return tuple(
        (part, font.fontName if font else face.value)
        for run, script in runs(seen)
        for part, font in _with_fonts(run, script)
    )


@lru_cache(maxsize=20_000)
def beyond(text: str, face: Face, above: float, below: float) -> tuple[float, float]:
    """How much more room than this above and below a row its fonts of other scripts need.

    All in parts of its size.
    """
    if not is_foreign(text):
        return 0.0, 0.0
    from reportlab.pdfbase.pdfmetrics import getFont

    fonts = [getFont(font).face for _, font in pieces(text, face) if font != face.value]
    highest = max((font.ascent / 1000 for font in fonts), default=0.0)
    deepest = max((-font.descent / 1000 for font in fonts), default=0.0)
    return max(0.0, highest - above), max(0.0, deepest - below)


def draw_row(canvas: Any, left: float, baseline: float, text: str, face: Face, size: float) -> None:
    """Draw a printable row of text, in points from the lower left of the page."""
    for part, font in pieces(text, face):
        canvas.setFont(font, size)
        canvas.drawString(left, baseline, part)
        left += canvas.stringWidth(part, font, size)


def _with_fonts(run: str, script: Script) -> Iterator[tuple[str, Any | None]]:
    """A shaped run with the font for it; letter by letter where no single font has them all."""
    if script is Script.OWN:
        yield run, None
        return
    font = font_for(run, script)
    if font or script.runs_left:
        yield run, font
        return
    for char in run:
        yield char, font_for(char, script)


def missing(text: str) -> list[str]:
    """The characters of a text that no font at hand can draw, each once."""
    if not is_foreign(text):
        return _not_ours(text)
    lacking: dict[str, None] = {}
    for run, script in runs(text):
        lacking |= dict.fromkeys(_lacking(run, script))
    return list(lacking)


def _not_ours(text: str) -> list[str]:
    drawable = _face(Face.PLAIN).face.charToGlyph
    return [char for char in dict.fromkeys(text) if char != "\n" and ord(char) not in drawable]


def _lacking(run: str, script: Script) -> tuple[str, ...]:
    """Letters of a run that can't be drawn: of a name in another script, all or none."""
    if script is Script.OWN:
        return tuple(_not_ours(run))
    can_try = can_shape() or not script.runs_left
    if can_try and all(font for _, font in _with_fonts(shaped(run, script), script)):
        return ()
    return tuple(dict.fromkeys(run))


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
        f"{what} can't be printed: the font has no {characters}{more}, as in “{shown}”. "
        "It prints Latin, Greek and Cyrillic. Write the name in one of these."
    )


def omission(texts: Iterable[str]) -> str:
    """Which letters are printed as a mark, and what would print them; blank where all print."""
    lacking = dict.fromkeys(char for text in texts for char in missing(text))
    if not lacking:
        return ""
    shown = "".join(list(lacking)[:8]) + ("…" if len(lacking) > 8 else "")
    cure = "This computer has no font for these letters that can be embedded."
    if not can_shape() and runs_left("".join(lacking)):
        cure = (
            "For Hebrew and Arabic, install the extra “scripts”, in the folder of Stillroom: "
            "pipx install --force '.[scripts]'."
        )
    return f"Printed as {UNDRAWN}: {shown}. {cure}"
