"""The words a drawing is made of: spans with named inks and grounds, and the glyphs."""

from typing import NamedTuple

from rich.cells import cell_len

from stillroom.quantities import METRIC, Notation
from stillroom.screens.kit.text import fit


class Span(NamedTuple):
    """A stretch of one line, with the names of its ink and of the ground under it."""

    text: str
    ink: str = ""
    ground: str = ""


Line = tuple[Span, ...]


INKS = (
    "herb",
    "faint",
    "hint",
    "glass",
    "cursor",
    "count",
    "done",
    "wanted",
    "warning",
    "surface",
    "tincture-surface",
    "plank-name",
    "plank-note",
    "plank-line",
)
"""Names an ink can have; a widget maps each to a style."""


class Marks(NamedTuple):
    """The glyphs a jar is drawn with."""

    outline: str
    """Corners and edges: top left, flat, top right, wall, bottom left, bottom right."""
    cursor_outline: str
    necks: str
    """Where the lid's edge meets the glass, of a jar and of the chosen jar."""
    wet_wall: str
    """A wall with liquid behind it, where colour can't show that."""
    ripple: str
    shaken: str
    to_shake: str
    part_shaken: str
    pointers: str
    board: str
    dot: str
    ellipsis: str


FINE = Marks("╭─╮│╰╯", "┏━┓┃┗┛", "┴┻", "║", "~", "✓", "○", "◐", "▶◀", "━", "·", "…")


PLAIN = Marks("┌─┐│└┘", "+=+|++", "┴+", "#", "~", "[x]", "[ ]", "[/]", "><", "=", "-", "~")
"""For consoles whose fonts hold little more than ASCII and single-line boxes."""


class Look(NamedTuple):
    """How jars are drawn on this screen."""

    cell_width: int = 19
    """Columns a jar takes on its plank, with the gap at either side."""
    scale: int = 1
    """Size of the countdown: 1 is three lines high, 2 is six."""
    is_flat: bool = False
    """Whether grounds have no colours of their own, so that glyphs must show the level."""
    is_plain: bool = False
    """Whether only ASCII and single-line boxes can be relied on."""

    notation: Notation = METRIC
    """How figures are written."""

    @property
    def marks(self) -> Marks:
        """The glyphs to use."""
        return PLAIN if self.is_plain else FINE

    @property
    def shows_level_by_glyph(self) -> bool:
        """Whether walls and ripples stand in for a coloured ground."""
        return self.is_flat or self.is_plain

    @property
    def jar_height(self) -> int:
        """Lines from lid to base."""
        return 6 + self.figure_height

    @property
    def figure_height(self) -> int:
        """Lines kept for the countdown, with air above it where there is room to spare."""
        return 3 * self.scale + (self.scale > 1)


def centred(text: str, width: int, ink: str, ground: str = "") -> Line:
    """A line of `width` cells with the text in its middle."""
    text = text if cell_len(text) <= width else fit(text, width)
    space = width - cell_len(text)
    left = space // 2
    return (
        Span(" " * left, "", ground),
        Span(text, ink, ground),
        Span(" " * (space - left), "", ground),
    )


def in_middle(lines: list[Line], width: int, height: int) -> list[Line]:
    """Lines with empty ones above and below to fill a height."""
    blank: Line = (Span(" " * width),)
    above = (height - len(lines) + 1) // 2
    return [blank] * above + lines + [blank] * (height - len(lines) - above)


def on_ground(line: Line, ground: str) -> Line:
    """A line laid on a ground that also gives it its ink."""
    return tuple(Span(span.text, "", ground) for span in line)
