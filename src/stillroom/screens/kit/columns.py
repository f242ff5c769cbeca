"""What a list is made of: columns, headings, and cells with their inks."""

from collections.abc import Sequence
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
    is_marked: bool = False
    """Whether what follows its last mark tells it apart, and stays when the words are cut."""


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
    is_bar: bool = False
    """Whether it only draws what another column says in figures."""


LEAST_NAME = 12
"""Letters of a row's name that stay before bars, prices and dates do."""


def fitting(columns: Sequence[Column], width: int, gutter: int, gap: int) -> list[Column]:
    """The columns that a list of a width has room for beside twelve letters of a name.

    The name is the first column of no fixed width; bars give way to it, then what comes last.
    """
    shown = [c for c in columns if c.from_width <= width < c.below_width]
    while _name_width(shown, width - gutter, gap) < LEAST_NAME and (spare := _first_to_go(shown)):
        shown = [column for column in shown if column is not spare]
    return shown


def _name_width(shown: Sequence[Column], width: int, gap: int) -> int:
    """Cells of the name; as many as needed where there is none."""
    name = next((column for column in shown if not column.width), None)
    if name is None:
        return LEAST_NAME
    room = width - sum(column.width for column in shown) - gap * (len(shown) - 1)
    return room * name.share // sum(column.share for column in shown if not column.width)


def _first_to_go(shown: Sequence[Column]) -> Column | None:
    """What gives way to a name."""
    name = next((at for at, column in enumerate(shown) if not column.width), len(shown))
    after = shown[name + 1 :]
    bars = [column for column in after if column.is_bar]
    return next(iter(bars or reversed(after)), None)


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
