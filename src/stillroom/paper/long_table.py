"""Tables of many pages: a table of reportlab copies all its rows at every page."""

from collections.abc import Callable, Sequence
from typing import Any

_SLACK = 0.01
"""Points that sums of heights may be off by."""


def long_table(heights: Sequence[float], make: Callable[[int, int], Any]) -> Any:
    """Rows over as many pages as they take.

    `heights` are those of the head, which is on every page, and of each row, in points; no row is
    taller than a page. `make` makes the table of the rows from a first up to a last one.
    """
    from reportlab.platypus import Flowable

    head, *rows = heights

    class LongTable(Flowable):  # type: ignore[misc]
        """The rows from a first one on."""

        def __init__(self, first: int) -> None:
            super().__init__()
            self.first = first

        def wrap(self, width: float, height: float) -> tuple[float, float]:
            """The size of all that is left: taller than the page until the last table."""
            return width, height + 1

        def split(self, width: float, height: float) -> list[Any]:
            """The table that fits, and what comes after it; nothing where not one row fits."""
            left, last = height - head - _SLACK, self.first
            while last < len(rows) and rows[last] <= left:
                left -= rows[last]
                last += 1
            if last == self.first:
                return []
            rest = [LongTable(last)] if last < len(rows) else []
            return [make(self.first, last), *rest]

    return LongTable(0)
