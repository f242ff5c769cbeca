"""Widgets that are placed once when they come on screen, not twice."""

from textual.geometry import Size
from textual.reactive import Reactive
from textual.widget import Widget


class PlacedOnce(Widget):
    """A widget for which the screen isn't laid out again once it knows how much it holds.

    The first layout of a Textual widget sets how much there is to scroll in it, and that asks for
    another layout of it and everything around it. Only a scroll bar takes room for this, and it
    asks for itself. Textual takes the styles of the first base class, so this comes after it.
    """

    virtual_size = Reactive(Size(0, 0), layout=False)
    """How much there is to scroll; what is typed leaves everything else in its place."""
