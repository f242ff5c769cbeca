"""Reads a screen as text; the one place that looks behind Textual's public face."""

from collections.abc import Callable
from typing import Any
from weakref import WeakSet

from rich.console import RenderableType
from rich.style import Style
from textual._context import visible_screen_stack
from textual.app import App
from textual.geometry import Region
from textual.screen import ModalScreen, Screen
from textual.strip import Strip

Segments = list[list[tuple[str, Style | None]]]
"""The lines of a screen, each in pieces of one style."""
COUNTED: WeakSet[App[Any]] = WeakSet()
"""The apps whose frames are counted."""


def draw(app: App[Any]) -> list[Strip]:
    """Draw what is on screen as it is now, whether or not there has been a frame of it."""
    visible_screen_stack.set(app._background_screens)
    return app.screen._compositor.render_strips()


def front_region(app: App[Any]) -> Region:
    """Where the page or form in front is on the screen."""
    screen = app.screen
    if not isinstance(screen, ModalScreen):
        return screen.region
    seen = [
        region.intersection(clip)
        for widget, (region, clip) in screen._compositor.visible_widgets.items()
        if widget is not screen
    ]
    return Region.from_union([region for region in seen if region])


def draw_front(app: App[Any]) -> list[Strip]:
    """Draw the page or form in front; of what is behind a form nothing."""
    if not isinstance(app.screen, ModalScreen):
        return draw(app)
    box = front_region(app)
    visible_screen_stack.set([])
    lines = app.screen._compositor.render_strips()[box.y : box.bottom]
    return [line.crop(box.x, box.right) for line in lines]


def screen_text(app: App[None]) -> str:
    """What is on screen, line by line, without colours and without trailing blanks."""
    return "\n".join(strip.text.rstrip() for strip in draw(app))


def front_text(app: App[None]) -> str:
    """What is in front, line by line."""
    return "\n".join(strip.text for strip in draw_front(app))


def struck_text(app: App[None]) -> str:
    """What is on screen with a line drawn through it, line by line."""
    lines = (
        "".join(each.text for each in strip if each.style and each.style.strike)
        for strip in draw(app)
    )
    return "\n".join(line.strip() for line in lines if line.strip())


def screen_segments(app: App[None]) -> Segments:
    """What is on screen with its styles, cell by cell where a segment holds several words."""
    return _segments(draw(app))


def front_segments(app: App[None]) -> Segments:
    """What is in front with its styles."""
    return _segments(draw_front(app))


def _segments(strips: list[Strip]) -> Segments:
    return [[(text, style) for text, style, _ in strip] for strip in strips]


def count_frames(app: App[None]) -> Callable[[], int]:
    """Count from now on how often a screen is drawn; returns what gives the count so far."""
    frames = 0
    display = app._display

    def displayed(screen: Screen[object], renderable: RenderableType | None) -> None:
        nonlocal frames
        frames += renderable is not None
        display(screen, renderable)

    COUNTED.add(app)
    app.screen._compositor_refresh()  # what was left out until now
    app._display = displayed  # type: ignore[method-assign]
    return lambda: frames
