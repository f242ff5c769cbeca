"""Text that people typed, made safe for a grid of cells and cut to a width."""

import unicodedata
from functools import lru_cache

from rich.cells import cell_len


@lru_cache(4096)
def safe(text: str) -> str:
    """The text made safe for a cell grid: one line, nothing invisible, no stray marks.

    >>> safe("Mug\\twort\\ufe0f \\x1b[31m")
    'Mug wort [31m'
    """
    kept: list[str] = []
    marks = 0
    for character in unicodedata.normalize("NFC", text):
        category = unicodedata.category(character)
        if category in ("Cc", "Zl", "Zp", "Zs"):
            kept.append(" ")
        elif category in ("Mn", "Me") and not _is_variation(character):
            # A mark needs a base, and more than two on one base would climb out of the line.
            if kept and kept[-1] != " " and marks < 2:
                kept.append(character)
            marks += 1
            continue
        elif category in ("Cn", "Co", "Cs"):
            kept.append("?")
        elif category != "Cf" and not _is_variation(character):
            kept.append(character)
        marks = 0
    return " ".join("".join(kept).split())


def _is_variation(character: str) -> bool:
    """Whether it is a variation selector, on whose width terminals do not agree."""
    return "\ufe00" <= character <= "\ufe0f" or "\U000e0100" <= character <= "\U000e01ef"


def fit_marked(text: str, width: int, mark: str = " · ") -> str:
    """Safe text cut to a width in cells, before its last mark: what is after it tells it apart.

    >>> fit_marked("40 % Grain spirit · V2", 16)
    '40 % Grain… · V2'
    """
    head, found, tail = safe(text).rpartition(mark)
    rest = width - cell_len(found + tail)
    if not found or rest < 2:
        return fit(text, width)
    return fit(head, rest) + found + tail


def fit(text: str, width: int, ellipsis: str = "…") -> str:
    """Safe text cut to a width in cells.

    >>> fit("Meadowsweet", 8)
    'Meadows…'
    """
    text = safe(text)
    if cell_len(text) <= width:
        return text
    if width <= 0:
        return ""
    cut = text[:width]
    while cut and cell_len(cut) > width - 1:
        cut = cut[:-1]
    return cut.rstrip() + ellipsis
