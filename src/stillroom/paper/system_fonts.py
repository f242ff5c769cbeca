"""Fonts of the computer, for letters that our own font lacks.

A font has to have TrueType outlines: reportlab embeds no others, so most .otf files and the .ttc
of the Noto CJK family are passed over, as is a font whose licence bit forbids embedding. A font
within a collection (.ttc) is found where fontconfig names it; in a known folder the first one is
used.
"""

import shutil
import subprocess
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from stillroom.paper.scripts import Script


@dataclass(frozen=True)
class FontFile:
    """A font in a file; in a collection, its number."""

    path: str
    number: int = 0


# Where fontconfig isn't installed: the fonts that come with Windows and macOS, by their folders.
# Common practice, no source, and not tried there; a file that isn't there is passed over.
_KNOWN = tuple(
    f"{folder}/{name}"
    for folder, names in (
        (
            "C:/Windows/Fonts",
            ("arial.ttf", "msyh.ttc", "simsun.ttc", "YuGothR.ttc", "msgothic.ttc", "malgun.ttf"),
        ),
        ("/System/Library/Fonts/Supplemental", ("Arial Unicode.ttf", "Arial.ttf")),
        ("/Library/Fonts", ("Arial Unicode.ttf", "Arial.ttf")),
    )
    for name in names
)
_FC_SECONDS = 5.0
"""How long a slow computer may take to list its fonts."""


@cache
def fonts_with(letter: str) -> tuple[FontFile, ...]:
    """The fonts that have a letter, upright sans serif first, in the same order each time."""
    program = shutil.which("fc-list")
    if not program:
        return tuple(FontFile(path) for path in _KNOWN if Path(path).is_file())
    asked = [program, "-f", "%{file}\t%{index}\t%{style}\n", f":charset={ord(letter):x}"]
    try:
        found = subprocess.run(
            asked, capture_output=True, check=True, timeout=_FC_SECONDS, encoding="utf-8"
        )
    except (OSError, ValueError, subprocess.SubprocessError):
        return ()
    return tuple(file for _, file in sorted(listed(found.stdout), key=lambda each: each[0]))


def listed(text: str) -> Iterator[tuple[tuple[bool, bool, bool, str, int], FontFile]]:
    """Each line of fc-list as a font, with what it is sorted by."""
    for line in text.splitlines():
        path, number, style = (*line.split("\t"), "", "")[:3]
        # Above these bits is the number of an instance of a variable font.
        if not number.isdecimal() or int(number) >> 16:
            continue
        name = Path(path).name.lower()
        is_plain = any(word in style for word in ("Regular", "Book", "Normal"))
        key = (not is_plain, "mono" in name, "serif" in name, path, int(number))
        yield key, FontFile(path, int(number))


@cache
def _opened(file: FontFile) -> Any | None:
    """A font ready to draw with; None where it can't be embedded."""
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    try:
        font = TTFont(f"{Path(file.path).stem}-{file.number}", file.path, subfontIndex=file.number)
    # A file of the computer may be of any make: whatever the reader stumbles over, go on.
    except Exception:
        return None
    pdfmetrics.registerFont(font)
    return font


def font_for(text: str, script: Script) -> Any | None:
    """The first font with all letters of a run; None where there is none."""
    for file in fonts_with(script.value):
        font = _opened(file)
        if font and all(ord(char) in font.face.charToGlyph for char in text):
            return font
    return None
