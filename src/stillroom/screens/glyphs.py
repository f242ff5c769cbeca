"""The plain set of glyphs, and a filter that draws everything with it."""

import unicodedata
from functools import lru_cache

from rich.cells import cell_len
from rich.segment import Segment
from textual.color import Color
from textual.filter import LineFilter

PLAIN_SET = frozenset("¡£«¬°±µ·»¿÷ÄÇÉÑÖÜßàáâäçèéêëíîñóôöúü←↑→↓─│┌┐└┘├┤┬┴┼═║╔╗╚╝╠╣╦╩╬█░▒■≈≤≥π")
"""What console fonts have beyond ASCII: in each of Lat15, Lat2 and Uni2 of console-setup 1.221,
and among the glyphs of code page 437."""

STAND_INS = {
    **dict(zip("╭╮╰╯╌╎", "┌┐└┘─│", strict=True)),
    **dict(zip("━┃┏┓┗┛┣┫┳┻╋", "═║╔╗╚╝╠╣╦╩╬", strict=True)),
    **dict.fromkeys("▔▁▂▃", "_"),
    **dict.fromkeys("▄▅▆▇▀", "■"),
    **dict.fromkeys("▏▎▍▌▋▊▉▐▕", "│"),
    **dict.fromkeys("▘▝▖▗▞▚▛▜▟▙▓", "█"),
    **dict(zip("✓✗✔○◐●•", "+x+oo*·", strict=True)),
    **dict(zip("▶►◀◄▲▼▸◂▴▾›‹⏎", ">><<^v><^v><<", strict=True)),
    **dict(zip("…–—‐‑−×∙", "~-----x·", strict=True)),
    **dict(zip("’‘“”„‚€", '\'\'""",E', strict=True)),
    **dict(zip("\N{NO-BREAK SPACE}\N{NARROW NO-BREAK SPACE}\N{THIN SPACE}", "   ", strict=True)),
    "🔎": "> ",
}
"""What is drawn in place of a glyph that the plain set lacks, as wide as it."""

_ASCII = {
    **dict.fromkeys("┌┐└┘├┤┬┴┼╔╗╚╝╠╣╦╩╬", "+"),
    **dict.fromkeys("─═", "-"),
    **dict.fromkeys("│║", "|"),
    **dict.fromkeys("█■▒░", "#"),
    "·": "-",
    "←": "<",
    "→": ">",
    "↑": "^",
    "↓": "v",
    "≈": "~",
}
"""What is drawn in place of a plain glyph that the terminal's encoding lacks."""


@lru_cache(4096)
def plain(text: str, encoding: str = "utf-8") -> str:
    """The text in plain glyphs that an encoding has, as wide as before.

    Letters of scripts other than Latin stay as they were typed, where the encoding has them: a
    console may have a font for them.

    >>> plain("╭─ Échinacée … ✓ Ж"), plain("│ ж", "latin-1")
    ('┌─ Échinacée ~ + Ж', '| ?')
    """
    return "".join(_plain_glyph(glyph, encoding) for glyph in text)


@lru_cache(4096)
def _plain_glyph(glyph: str, encoding: str) -> str:
    if glyph.isascii():
        return glyph
    stand_in = glyph
    if glyph not in PLAIN_SET:
        stand_in = STAND_INS.get(glyph, "")
        if not stand_in:
            base = unicodedata.normalize("NFKD", glyph)[:1]
            is_drawn = base.isascii() or base in PLAIN_SET
            is_letter = unicodedata.category(glyph)[0] in "LM"
            stand_in = base if is_drawn else glyph if is_letter else "?"
    if not _has(encoding, stand_in):
        stand_in = _ASCII.get(stand_in, "?")
    if stand_in == "?":
        stand_in *= cell_len(glyph)
    return stand_in


def _has(encoding: str, text: str) -> bool:
    try:
        text.encode(encoding)
    except UnicodeEncodeError:
        return False
    return True


class PlainGlyphs(LineFilter):
    """Draws every frame, key, choice, scroll bar and message with the plain set."""

    def __init__(self, encoding: str = "utf-8") -> None:
        super().__init__()
        self._encoding = encoding

    def apply(self, segments: list[Segment], background: Color) -> list[Segment]:
        """The same line in plain glyphs."""
        return [
            segment
            if segment.control or segment.text.isascii()
            else Segment(plain(segment.text, self._encoding), segment.style)
            for segment in segments
        ]
