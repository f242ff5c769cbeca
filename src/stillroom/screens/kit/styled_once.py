"""Screens that work out their styles once, and not again each time they come into sight."""

from typing import Generic, TypeVar

from textual.events import ScreenResume
from textual.screen import Screen

R = TypeVar("R")


class StyledOnce(Screen[R], Generic[R]):
    """A screen whose widgets keep the styles that they were mounted with until the theme changes.

    Textual would apply them again to every widget at each visit, the first one included, and draw
    all of the screen a second time a frame later.
    """

    _theme_seen = ""

    def on_screen_resume(self, event: ScreenResume) -> None:
        """Have styles worked out where the theme has changed since the last visit."""
        theme = self.app.theme
        event.refresh_styles = bool(self._theme_seen) and self._theme_seen != theme
        self._theme_seen = theme
