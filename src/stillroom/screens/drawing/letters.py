"""Letters three lines high and more."""

import unicodedata
from collections.abc import Sequence
from functools import lru_cache

from stillroom.screens.kit.text import safe

_SHEETS = (
    (
        "0123456789",
        """
        .####. ..##. .####. .####. ##..## ###### .####. ###### .####. .####.
        ##..## ####. ##..## ##..## ##..## ##.... ##.... ....## ##..## ##..##
        ##..## ..##. ...##. ...##. ###### #####. #####. ...##. .####. .#####
        ##..## ..##. ..##.. ....## ....## ....## ##..## ..##.. ##..## ....##
        ##..## ..##. .##... ##..## ....## ##..## ##..## ..##.. ##..## ...##.
        .####. ##### ###### .####. ....## .####. .####. ..##.. .####. .###..
        """,
    ),
    (
        "ABCDEFGHIJKLM",
        """
        .####. #####. .####. ####.. ###### ###### .####. ##..## #### ....## ##..## ##.... ##...##
        ##..## ##..## ##..## ##.##. ##.... ##.... ##..## ##..## .##. ....## ##.##. ##.... ###.###
        ##..## #####. ##.... ##..## #####. #####. ##.... ###### .##. ....## ####.. ##.... #######
        ###### ##..## ##.... ##..## ##.... ##.... ##.### ##..## .##. ....## ####.. ##.... ##.#.##
        ##..## ##..## ##..## ##.##. ##.... ##.... ##..## ##..## .##. ##..## ##.##. ##.... ##...##
        ##..## #####. .####. ####.. ###### ##.... .##### ##..## #### .####. ##..## ###### ##...##
        """,
    ),
    (
        "NOPQRSTUVWXYZ",
        """
        ##..## .####. #####. .####. #####. .##### ###### ##..## ##..## ##...## ##..## ##..## ######
        ###.## ##..## ##..## ##..## ##..## ##.... ..##.. ##..## ##..## ##...## ##..## ##..## ....##
        ###### ##..## ##..## ##..## ##..## .####. ..##.. ##..## ##..## ##.#.## .####. .####. ...##.
        ##.### ##..## #####. ##..## #####. ....## ..##.. ##..## ##..## ####### .####. ..##.. .##...
        ##..## ##..## ##.... ##.##. ##.##. ....## ..##.. ##..## .####. ###.### ##..## ..##.. ##....
        ##..## .####. ##.... .###.# ##..## #####. ..##.. .####. ..##.. ##...## ##..## ..##.. ######
        """,
    ),
    (
        "-'/+",
        """
        .... ## ....# ......
        .... ## ...## ..##..
        #### .. ..##. ######
        #### .. .##.. ..##..
        .... .. ##... ......
        .... .. #.... ......
        """,
    ),
)


def _cut(sheets: tuple[tuple[str, str], ...]) -> dict[str, tuple[str, ...]]:
    """Each letter's six rows of dots."""
    letters: dict[str, tuple[str, ...]] = {" ": ("...",) * 6}
    for names, sheet in sheets:
        rows = [row.split() for row in sheet.split("\n") if row.strip()]
        letters |= {name: tuple(row[at] for row in rows) for at, name in enumerate(names)}
    return letters


_DOTS = _cut(_SHEETS)


_QUADRANTS = " ▘▝▀▖▌▞▛▗▚▐▜▄▙▟█"
"""By the bits of a cell's four dots: upper left 1, upper right 2, lower left 4, lower right 8."""


_SEGMENTS: dict[str, tuple[str, ...]] = {
    "0": (" _ ", "| |", "|_|"),
    "1": ("   ", "  |", "  |"),
    "2": (" _ ", " _|", "|_ "),
    "3": (" _ ", " _|", " _|"),
    "4": ("   ", "|_|", "  |"),
    "5": (" _ ", "|_ ", " _|"),
    "6": (" _ ", "|_ ", "|_|"),
    "7": (" _ ", "  |", "  |"),
    "8": (" _ ", "|_|", "|_|"),
    "9": (" _ ", "|_|", " _|"),
    "+": ("   ", "_|_", " | "),
    "D": (" _ ", "| \\", "|_/"),
    "U": ("   ", "| |", "|_|"),
    "E": (" _ ", "|_ ", "|_ "),
}


@lru_cache(1024)
def big(text: str, scale: int = 1, *, is_plain: bool = False) -> tuple[str, ...] | None:
    """The text in letters of `3 * scale` lines; None where a letter is not to be had.

    >>> big("0")
    ('▟▀▙', '█ █', '▜▄▛')
    """
    bare = unicodedata.normalize("NFKD", safe(text)).upper()
    bare = "".join(character for character in bare if not unicodedata.combining(character))
    font = _SEGMENTS if is_plain and scale == 1 else _DOTS
    if not bare or any(character not in font for character in bare):
        return None
    if font is _SEGMENTS:
        return tuple(" ".join(font[character][row] for character in bare) for row in range(3))
    # Figures are a full cell apart, to be legible from a distance; letters half a cell.
    gap = ".." if bare.strip("+").isdigit() else "."
    dots = [gap.join(font[character][row] for character in bare) for row in range(6)]
    return _hashes(dots, scale // 2) if is_plain else _quadrants(dots, scale)


def inked(figure: Sequence[str]) -> int:
    """Cells of a figure without blank ones at its right."""
    return max(len(row.rstrip()) for row in figure)


def plus_moved_up(figure: tuple[str, ...]) -> tuple[str, ...]:
    """A late jar's figure without the gap after its plus, where the two don't touch then."""
    if not all(row[_PLUS : _PLUS + 1] == " " for row in figure):
        return figure
    touches = any(" " not in (row[_PLUS - 1], row[_PLUS + 1]) for row in figure)
    return figure if touches else tuple(row[:_PLUS] + row[_PLUS + 1 :] for row in figure)


_PLUS = 3
"""Cells of a plus three lines high."""


def _hashes(dots: Sequence[str], scale: int) -> tuple[str, ...]:
    """Dots as `#`, each a cell."""
    rows = ["".join(("#" if d == "#" else " ") * scale for d in row) for row in dots]
    return tuple(row for row in rows for _ in range(scale))


def _quadrants(dots: Sequence[str], scale: int) -> tuple[str, ...]:
    """Dots two by two in a cell."""
    rows = ["".join(dot * scale for dot in row) for row in dots for _ in range(scale)]
    rows = [row + "." * (len(row) % 2) for row in rows]
    return tuple(
        "".join(
            _QUADRANTS[
                (upper[at] == "#")
                + 2 * (upper[at + 1] == "#")
                + 4 * (lower[at] == "#")
                + 8 * (lower[at + 1] == "#")
            ]
            for at in range(0, len(upper), 2)
        )
        for upper, lower in zip(rows[::2], rows[1::2], strict=True)
    )
