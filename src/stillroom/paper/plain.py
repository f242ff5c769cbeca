"""Plain text laid out in character cells, for a screen, a terminal or a text file."""

import unicodedata
from collections.abc import Iterator


def cells(text: str) -> int:
    """How many character cells a text takes: none for a combining mark, two for a wide one."""
    return sum(_cells_of(char) for char in text)


def _cells_of(char: str) -> int:
    if unicodedata.category(char) in {"Mn", "Me", "Cf"}:
        return 0
    return 2 if unicodedata.east_asian_width(char) in "WF" else 1


def pad(text: str, width: int, *, right: bool = False) -> str:
    """Fill a text up to a width with spaces; a longer one is unchanged."""
    space = " " * (width - cells(text))
    return space + text if right else text + space


def wrap(text: str, width: int) -> list[str]:
    """Break a text into lines of a width, between words where that is possible; nothing is lost."""
    lines: list[str] = []
    for paragraph in text.split("\n"):
        lines.extend(_wrapped(paragraph, max(2, width)))
    return lines


def _wrapped(paragraph: str, width: int) -> Iterator[str]:
    line = ""
    for word in paragraph.split():
        joined = f"{line} {word}" if line else word
        if cells(joined) <= width:
            line = joined
            continue
        if line:
            yield line
        *full, line = _broken(word, width)
        yield from full
    yield line


def _broken(word: str, width: int) -> list[str]:
    """A word in pieces that each fit the width."""
    pieces = [""]
    for char in word:
        if cells(pieces[-1] + char) > width:
            pieces.append("")
        pieces[-1] += char
    return pieces
