"""Short words for driving the program by keys."""

from collections.abc import Callable
from typing import TypeVar

from textual.app import App
from textual.events import Paste
from textual.pilot import Pilot
from textual.widgets import Input

from stillroom.screens.app import StillroomApp
from stillroom.screens.kit.choice import Choice
from stillroom.screens.kit.page import Page

from .screen_text import screen_text

SIZES = [(80, 24), (120, 40)]

LOOKS = 1000
"""How often is looked for what must come: far more than the slowest machine needs."""

LOOK_S = 0.01
"""How long is waited between two looks."""

P = TypeVar("P", bound=Page)


def flat(app: App[None]) -> str:
    """What is on screen in one line, frames left out, however it was broken."""
    return " ".join(screen_text(app).replace("│", " ").split())


async def turn_to(app: StillroomApp, pilot: Pilot[None], key: str, page: type[P]) -> P:
    """Press a page's key and give the page."""
    await pilot.press(key)
    await pilot.pause()
    assert isinstance(app.screen, page)
    return app.screen


async def until(pilot: Pilot[None], has_come: Callable[[], object]) -> None:
    """Wait for what does not come with the keys, such as what the palette finds."""
    for _ in range(LOOKS):
        if has_come():
            return
        await pilot.pause(LOOK_S)
    raise AssertionError(f"It never came. On screen:\n{screen_text(pilot.app)}")


async def press(pilot: Pilot[None], *keys: str) -> None:
    """Press keys and wait until all they started is done."""
    await pilot.press(*keys)
    await pilot.pause()


async def type_into(app: App[None], pilot: Pilot[None], field: str, text: str) -> None:
    """Put the cursor into a field of the open form and type over what it holds."""
    target = app.screen.query_one(f"#{field}").query(Input).first()
    target.focus()
    await pilot.pause()
    target.select_all()
    await pilot.press("backspace")
    if len(text) > 12:  # a path, say, which people paste
        target.post_message(Paste(text))
    else:
        await pilot.press(*text)
    await pilot.pause()


async def choose(app: App[None], pilot: Pilot[None], field: str, key: str) -> None:
    """Turn a choice of the open form until it says what is wanted."""
    target = app.screen.query_one(f"#{field}").query(Choice).first()
    target.focus()
    await pilot.pause()
    for _ in target.options:
        if target.value == key:
            break
        await pilot.press("right")
    assert target.value == key
    await pilot.pause()
