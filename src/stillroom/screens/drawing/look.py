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
    gauge: str
    """A cell of the level beside a low jar, by eighths from empty to full."""


FINE = Marks("╭─╮│╰╯", "┏━┓┃┗┛", "┴┻", "║", "~", "✓", "○", "◐", "▶◀", "━", "·", "…", "│▁▂▃▄▅▆▇█")


PLAIN = Marks(
    "┌─┐│└┘", "+=+|++", "┴+", "#", "~", "[x]", "[ ]", "[/]", "><", "=", "-", "~", "|||||####"
)
"""For consoles whose fonts hold little more than ASCII and single-line boxes."""


LOW_HEIGHT = 5
"""Lines of the lowest jar: lid with code, name, and the three lines of a countdown."""

CLEAR = "clear"
"""The ground around a countdown: all liquid or all glass, so that no surface crosses a figure."""


class Look(NamedTuple):
    """How jars are drawn on this screen."""

    cell_width: int = 19
    """Columns a jar takes on its plank, with the gap at either side."""
    scale: int = 1
    """Size of the countdown: 1 is three lines high, 2 is six."""
    is_low: bool = False
    """Whether a jar is as low as may be, its words beside the countdown: for a screen of few
    rows."""
    label_lines: int = 2
    """Lines for name, part and condition; the name is cut where they are too few."""
    figure_room: int = 0
    """Lines kept for the countdown where a larger jar shares the plank; 0 is as many as needed."""
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
        return LOW_HEIGHT if self.is_low else 4 + self.label_lines + self.figure_height

    @property
    def figure_height(self) -> int:
        """Lines kept for the countdown, with air above it where there is room to spare."""
        return self.figure_room or 3 * self.scale + (self.scale > 1)


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
