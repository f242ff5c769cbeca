"""Letting go of what has left the screen: Textual would hold on to some of it.

The one module that uses a private name of Textual. Nothing public empties the cache that
`forget_drawn` empties; without that, a program left open for months grows with every form that is
opened and closed. `tests/test_private_names.py` fails where a new version of Textual changes it.
"""

from textual._styles_cache import StylesCache
from textual.widget import Widget
from textual.widgets import Input

from stillroom.screens.kit.inside import inside


def take_away(widget: Widget) -> None:
    """Remove a part of a page that itself stays."""
    # The page would remember every input that was ever on it.
    for field in inside(widget, Input):
        widget.screen.text_selection_started_signal.unsubscribe(field)
    widget.remove()
    forget_drawn()


def forget_drawn() -> None:
    """Drop the lines that widgets have drawn, where they are kept for a widget that has left.

    Textual remembers colours by widget, for a thousand of them, and all that each has drawn with
    it. The widgets that stay work theirs out again.
    """
    StylesCache.get_inner_outer.cache_clear()
