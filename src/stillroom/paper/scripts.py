"""Letters of other scripts: which script they are in, how they join, and which way they run.

Hebrew and Arabic are reordered by the Unicode bidirectional algorithm (python-bidi) and Arabic
letters take their joined forms (arabic-reshaper): the extra `scripts`. Vowel points, which both
scripts may leave out, are left out. Scripts that need more shaping than that are not drawn.
"""

import re
from collections.abc import Iterator
from enum import Enum
from functools import cache
from typing import Any


class Script(Enum):
    """A group of letters that one font of the computer may have, with a letter to look it up by."""

    OWN = ""
    HEBREW = "א"
    ARABIC = "ا"
    KANA = "あ"
    HANGUL = "가"
    HAN = "一"

    @property
    def runs_left(self) -> bool:
        """Whether it is read from right to left."""
        return self in {Script.HEBREW, Script.ARABIC}


# By Unicode block; Hangul as syllables only, as single jamo would have to be put together.
_HEBREW = "\u0591-\u05f4\ufb1d-\ufb4f"
_ARABIC = "\u0600-\u06ff\u0750-\u077f\u200c\u200d\ufb50-\ufdff\ufe70-\ufefc"
_EAST = (
    "\u2e80-\u2fdf\u3000-\u33ff\u3400-\u4dbf\u4e00-\u9fff\uac00-\ud7a3\uf900-\ufaff\uff01-\uffee"
    "\U00020000-\U0003134f"
)
_RUNS = re.compile(f"([{_HEBREW}]+)|([{_ARABIC}]+)|([{_EAST}]+)|[^{_HEBREW}{_ARABIC}{_EAST}]+")
_FOREIGN = re.compile(f"[{_HEBREW}{_ARABIC}{_EAST}]")
_LEFTWARD = re.compile(f"[{_HEBREW}{_ARABIC}]")
_POINTS = re.compile("[\u0591-\u05bd\u05bf\u05c1\u05c2\u05c4\u05c5\u05c7]")


def is_foreign(text: str) -> bool:
    """Whether a text has letters for which a font of the computer is looked up."""
    return not text.isascii() and bool(_FOREIGN.search(text))


def runs_left(text: str) -> bool:
    """Whether any of a text is read from right to left."""
    return not text.isascii() and bool(_LEFTWARD.search(text))


def runs(text: str) -> Iterator[tuple[str, Script]]:
    """A text in pieces of one script each, in order."""
    for found in _RUNS.finditer(text):
        hebrew, arabic, east = found.groups()
        if hebrew:
            yield hebrew, Script.HEBREW
        elif arabic:
            yield arabic, Script.ARABIC
        elif east:
            yield east, _eastern(east)
        else:
            yield found[0], Script.OWN


def _eastern(text: str) -> Script:
    """Kana or Hangul, where there are any, show which fonts to look at: these have Han letters."""
    if any("\u3041" <= char <= "\u30ff" for char in text):
        return Script.KANA
    if any("\uac00" <= char <= "\ud7a3" for char in text):
        return Script.HANGUL
    return Script.HAN


@cache
def shapers() -> tuple[Any, Any] | None:
    """The functions of the extra `scripts`, which join letters and turn rows; None without it."""
    try:
        from arabic_reshaper import ArabicReshaper
        from bidi import get_display
    except ImportError:
        return None
    # Lam with alef is one letter-form, and must be; that of the divine name few fonts have.
    options = {"delete_harakat": True, "ARABIC LIGATURE ALLAH": False}
    return ArabicReshaper(options), get_display


def can_shape() -> bool:
    """Whether the extra `scripts`, for Hebrew and Arabic, is installed."""
    return shapers() is not None


def shaped(text: str, script: Script) -> str:
    """A run of one script in the forms its letters take, still in the order they are read."""
    if script is Script.HEBREW:
        return _POINTS.sub("", text)
    found = shapers()
    if script is Script.ARABIC and found:
        joined: str = found[0].reshape(text)
        return joined.replace("\u200c", "").replace("\u200d", "")
    return text


def as_seen(text: str) -> str:
    """A row of text, shaped, from left to right as it is printed."""
    found = shapers()
    joined = "".join(shaped(run, script) for run, script in runs(text))
    if not found or not runs_left(text):
        return joined
    seen: str = found[1](joined)
    return seen
