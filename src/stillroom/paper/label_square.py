"""A code as a QR symbol in the corner of a label."""

from dataclasses import dataclass
from functools import lru_cache
from itertools import groupby

from stillroom.keeping.codes import could_be_link

CELL_MM = (0.45, 0.5)
"""Least and largest cell of the code square. With fewer than 2.5 dots to a cell (0.42 mm at 150 to
the inch) a reader that sets its threshold from the surroundings misses some squares, by where they
fall among the dots. Tried with two readers; no source."""
QUIET_CELLS = 4
"""White around the square, in cells, as ISO/IEC 18004 asks; above and to the right of it the
label's own padding serves."""


@dataclass(frozen=True)
class Box:
    """A rectangle on the page, mm from its top left corner."""

    left: float
    top: float
    width: float
    height: float

    @property
    def right(self) -> float:
        """The right edge."""
        return self.left + self.width

    @property
    def bottom(self) -> float:
        """The lower edge."""
        return self.top + self.height


def code_square(code: str, text: str, inside: Box) -> tuple[Box, tuple[Box, ...]]:
    """A code and what follows it as a QR symbol in the upper right corner: its place and dark runs.

    There is none where a phone could take the code for a link: shelves may come from anyone.
    """
    if not text or could_be_link(code):
        return Box(inside.right, inside.top, 0.0, 0.0), ()
    size, runs = _symbol(text)
    least, largest = CELL_MM
    cell = min(largest, max(least, 0.3 * inside.height / size))
    side = cell * size
    square = Box(inside.right - side, inside.top, side, side)
    return square, tuple(
        Box(square.left + start * cell, square.top + row * cell, count * cell, cell)
        for row, start, count in runs
    )


@lru_cache(maxsize=1000)
def _symbol(text: str) -> tuple[int, tuple[tuple[int, int, int], ...]]:
    """A QR symbol: its cells along an edge, and each dark run's row, first cell and length.

    Kept, because a label is laid out more than once: while it is chosen, and when it is printed.
    """
    import segno

    rows = [list(row) for row in segno.make_qr(text, error="m").matrix]
    runs = []
    for number, row in enumerate(rows):
        start = 0
        for dark, run in groupby(row):
            count = len(list(run))
            if dark:
                runs.append((number, start, count))
            start += count
    return len(rows), tuple(runs)
