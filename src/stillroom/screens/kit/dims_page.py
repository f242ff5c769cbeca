"""Screens that open over a page, which stays in sight, dimmed, behind them."""

from collections.abc import Iterable
from functools import lru_cache
from typing import Generic, TypeVar

from rich.console import RenderableType
from rich.segment import Segment
from rich.style import Style
from textual.color import Color
from textual.renderables.background_screen import BackgroundScreen
from textual.screen import ModalScreen

from stillroom.screens.kit.styled_once import StyledOnce

R = TypeVar("R")


class DimsPage(ModalScreen[R], StyledOnce[R], Generic[R]):
    """A form, a question or a text over a page."""

    def render(self) -> RenderableType:
        """The page behind, dimmed."""
        behind = super().render()
        if isinstance(behind, BackgroundScreen):
            return Dimmed(behind.screen, behind.color)
        return behind


class Dimmed(BackgroundScreen):
    """A screen seen through a tint, each of its styles mixed with the tint but once.

    Textual mixes colours anew for each of a board's thousand pieces whenever a form is drawn.
    """

    @classmethod
    def process_segments(cls, segments: Iterable[Segment], color: Color) -> Iterable[Segment]:
        """The same pieces in dimmed colours."""
        for text, style, control in segments:
            yield Segment(text, style if control else _dimmed(style or Style(), color), control)


@lru_cache(1024)
def _dimmed(style: Style, tint: Color) -> Style:
    """One style as Textual dims it."""
    (segment,) = BackgroundScreen.process_segments([Segment("", style)], tint)
    return segment.style or style
