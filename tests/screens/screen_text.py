"""Reads a screen as text; the one place that looks behind Textual's public face."""

from collections.abc import Callable

from rich.console import RenderableType
from rich.style import Style
from textual.app import App
from textual.screen import Screen


def screen_text(app: App[None]) -> str:
    """What is on screen, line by line, without colours and without trailing blanks."""
    strips = app.screen._compositor.render_strips()
    return "\n".join(strip.text.rstrip() for strip in strips)


def struck_text(app: App[None]) -> str:
    """What is on screen with a line drawn through it, line by line."""
    strips = app.screen._compositor.render_strips()
    lines = (
        "".join(each.text for each in strip if each.style and each.style.strike) for strip in strips
    )
    return "\n".join(line.strip() for line in lines if line.strip())


def screen_segments(app: App[None]) -> list[list[tuple[str, Style | None]]]:
    """What is on screen with its styles, cell by cell where a segment holds several words."""
    strips = app.screen._compositor.render_strips()
    return [[(text, style) for text, style, _ in strip] for strip in strips]


def count_frames(app: App[None]) -> Callable[[], int]:
    """Count from now on how often a screen is drawn; returns what gives the count so far."""
    frames = 0
    draw = app._display

    def drawn(screen: Screen[object], renderable: RenderableType | None) -> None:
        nonlocal frames
        frames += renderable is not None
        draw(screen, renderable)

    app._display = drawn  # type: ignore[method-assign]
    return lambda: frames
