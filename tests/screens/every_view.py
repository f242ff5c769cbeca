"""A walk through every page, part, form and question of the program by its own keys."""

from collections.abc import AsyncIterator

from textual.pilot import Pilot
from textual.screen import ModalScreen, Screen

from stillroom.screens.app import StillroomApp
from stillroom.screens.kit.part_line import PartLine
from stillroom.screens.pages import PAGES

from .driving import press

ACTS_AT_ONCE = (
    "page.", "jar.shake", "jar.covered", "round.", "board.", "table.", "find.", "outcome.",
    "cupboard.next", "cupboard.before", "year.next", "year.before", "jar_page.", "list.",
)  # fmt: skip
"""Keys that open nothing."""
OPENS_A_FORM = ("page.help", "page.print", "page.who", "page.correct")


async def every_view(app: StillroomApp, pilot: Pilot[None]) -> AsyncIterator[str]:
    """Name each view while it is on screen; every one is named once."""
    seen: set[str] = set()
    for page in PAGES:
        await app.action_turn_to(page.name)
        await pilot.pause()
        parts = len(app.screen.query_one(PartLine).titles) if app.screen.query(PartLine) else 1
        for part in range(parts):
            name = f"{page.name} {part}"
            yield name
            async for opened in _forms(app, pilot, name, seen):
                yield opened
            # What is opened over the page by its own key.
            below = app.screen
            if page.name in ("shelves", "bottles"):
                await press(pilot, "enter")
            if app.screen is not below and not isinstance(app.screen, ModalScreen):
                yield f"{name} > {type(app.screen).__name__}"
                async for opened in _forms(app, pilot, name, seen):
                    yield opened
            await _close_to(app, pilot, below)
            if page.name in ("shelves", "bottles"):  # the last row may be of another kind
                await press(pilot, "end")
                async for opened in _forms(app, pilot, f"{name} end", seen):
                    yield opened
            if parts > 1:
                await press(pilot, "right")
    await press(pilot, "1", "ctrl+p")
    await pilot.pause(0.1)
    yield "palette"
    await press(pilot, "escape", "r")
    yield "round"
    await press(pilot, "escape")
    app.complain("There is no such jar.")
    await pilot.pause()
    yield "message"
    app.say("Shaken.")
    await pilot.pause()
    yield "said"


async def _forms(
    app: StillroomApp, pilot: Pilot[None], name: str, seen: set[str]
) -> AsyncIterator[str]:
    below = app.screen
    bindings = [
        (entry.binding.key, entry.binding.id or "")
        for entry in below.active_bindings.values()
        if entry.enabled
    ]
    for key, identity in bindings:
        opens = identity in OPENS_A_FORM or not identity.startswith(ACTS_AT_ONCE)
        if (
            not identity
            or not opens
            or identity.endswith(".calculate")
            or f"{type(below).__name__} {identity}" in seen
        ):
            continue
        seen.add(f"{type(below).__name__} {identity}")
        await press(pilot, key)
        if app.screen is not below:
            yield f"{name}, {key}: {type(app.screen).__name__}"
        await _close_to(app, pilot, below)


async def _close_to(app: StillroomApp, pilot: Pilot[None], below: Screen[object]) -> None:
    for _ in range(3):
        if app.screen is not below:
            await press(pilot, "escape")
    while app.screen is not below:  # what it takes to close it is not what is tested here
        app.pop_screen()
        await pilot.pause()
