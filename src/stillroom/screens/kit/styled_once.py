"""Styles worked out once: not before a widget is mounted, nor each time it comes into sight."""

from typing import Generic, TypeVar

from textual.app import App
from textual.dom import DOMNode
from textual.events import ScreenResume
from textual.screen import Screen

from stillroom.screens.kit.placed_once import PlacedOnce

R = TypeVar("R")


class StyledOnce(Screen[R], PlacedOnce, Generic[R]):
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


class StylesMounted(App[None]):
    """An app that works out the styles of widgets once they are mounted.

    Textual would also do so for each class that a widget is given while it is made.
    """

    def update_styles(self, node: DOMNode, animate: bool = True) -> None:
        """Work out the styles of what is on a screen, as its classes have changed."""
        if isinstance(node, App) or node.is_dom_root or node.is_attached:
            super().update_styles(node, animate)
