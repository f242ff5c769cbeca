"""What a list is made of: columns, headings, and cells with their inks."""

from dataclasses import dataclass
from typing import NamedTuple

INKS = (
    "title", "heading", "heading-note", "quiet", "strong", "good", "warning", "problem", "bar",
    "struck",
)  # fmt: skip
"""Names an ink can have; the widget maps each to a style."""


PLAIN_MARKS = str.maketrans("▶✓█░", ">*#.")
"""Replacements of the marks where only ASCII and single-line boxes can be relied on."""


class Cell(NamedTuple):
    """The content of one column of a row."""

    text: str
    """Words of any origin; made safe and cut to the column when drawn."""
    ink: str = ""
    lead: str = ""
    """Marks of the program's own before the words, drawn as they are: a bar, branches, a day."""
    lead_ink: str = "quiet"
    is_wide: bool = False
    """Whether it runs on over the blank columns after it."""


@dataclass(frozen=True)
class Column:
    """One column of a list."""

    title: str
    width: int = 0
    """Cells; 0 takes its share of what the others leave."""
    is_right: bool = False
    """Whether figures are set to the right."""
    from_width: int = 0
    """Shown where the list is at least this wide."""
    below_width: int = 10_000
    """Shown where the list is narrower than this."""
    share: int = 1
    """How much of the remaining room it takes, beside others of no fixed width."""


@dataclass(frozen=True)
class Heading:
    """A line above the rows that belong together."""

    text: str
    note: str = ""
    ink: str = "heading-note"
    """Of the note."""


def gauge(share: float | None, width: int) -> Cell:
    """A cell with a share of a whole, 0 to 1, as a bar; blank where it is not known."""
    return Cell("", lead="" if share is None else bar(share, width), lead_ink="bar")


def bar(share: float, width: int) -> str:
    """A share of a whole, 0 to 1, as a bar of some cells.

    Something is never drawn as nothing, nor nearly full as full.

    >>> bar(0.5, 6), bar(0.001, 6), bar(0.999, 6), bar(1, 6), bar(0, 6)
    ('███░░░', '█░░░░░', '█████░', '██████', '░░░░░░')
    """
    share = min(1.0, max(0.0, share))
    full = round(share * width)
    if share > 0:
        full = max(1, full)
    if share < 1:
        full = min(width - 1, full)
    return "█" * full + "░" * (width - full)
