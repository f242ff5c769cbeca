"""Dark ink in sixteen colours, as it was chosen."""

from rich.color import ColorSystem
from rich.segment import Segment
from rich.style import Style
from textual.color import Color
from textual.filter import LineFilter

_DARK = range(7)
"""Ink that terminals draw in the brighter colour of its pair where it is bold: black as grey."""
_NOT_BOLD = Style(bold=False)


class SteadyInk(LineFilter):
    """Draws dark ink without bold."""

    def apply(self, segments: list[Segment], background: Color) -> list[Segment]:
        """The same line, with bold in bright ink alone."""
        return [
            Segment(segment.text, segment.style + _NOT_BOLD, segment.control)
            if segment.style is not None and _changes(segment.style)
            else segment
            for segment in segments
        ]


def _changes(style: Style) -> bool:
    """Whether a terminal may draw another colour than this one."""
    if not style.bold or style.color is None:
        return False
    return style.color.downgrade(ColorSystem.STANDARD).number in _DARK
