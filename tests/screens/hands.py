"""Quick hands: many keys sent at once, as a fast typist or a paste sends them."""

import asyncio
import ctypes
import os
import random
import subprocess
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from threading import Event, Thread
from typing import Any
from weakref import WeakSet

import pytest
from textual._context import active_app
from textual._wait import wait_for_idle
from textual.app import App
from textual.css.model import RuleSet
from textual.css.stylesheet import Stylesheet
from textual.events import Key, Paste
from textual.keys import _character_to_key
from textual.pilot import Pilot
from textual.screen import Screen

from stillroom.screens.in_turn import KeysInTurn

from .screen_text import COUNTED, draw_front


async def type_in(pilot: Pilot[None], *keys: str) -> None:
    """Send whole texts and named keys without waiting between them, then let the screen settle.

    A word of more than one letter is a key's name where it is one, such as `tab` or `ctrl+s`. What
    follows `paste:` is pasted.
    """
    send(pilot, *keys)
    await caught_up(pilot)


async def type_slowly(pilot: Pilot[None], *keys: str) -> None:
    """Send the same one by one, each once all that the one before it did is over."""
    app = pilot.app
    assert isinstance(app, KeysInTurn)
    for each in keys:
        for key in [each] if _is_one(each) else each:
            send(pilot, key)
            while app.message_queue_size or app.is_catching_up:
                await asyncio.sleep(0.001)
    await caught_up(pilot)


def send(pilot: Pilot[None], *keys: str) -> None:
    """Send texts and named keys in one burst."""
    for event in events_of(*keys):
        pilot.app.post_message(event)


def events_of(*keys: str) -> Iterator[Key | Paste]:
    """Texts and named keys as a terminal reads them."""
    for each in keys:
        if each.startswith(PASTE):
            yield Paste(each.removeprefix(PASTE))
            continue
        for key in [each] if _is_one(each) else each:
            character = key if len(key) == 1 else None
            yield Key(_character_to_key(key) if character else key, character)


async def type_unevenly(pilot: Pilot[None], keys: Sequence[str], dice: random.Random) -> None:
    """Send keys read a few ms apart, some and every Enter long after; let some be taken late."""
    at = 1e9
    for event in events_of(*keys):
        is_enter = isinstance(event, Key) and event.key == "enter"
        at += 1 if is_enter or dice.random() < 0.2 else dice.choice([0.0, 0.002, 0.004])
        event.time = at
        pilot.app.post_message(event)
        if dice.random() < 0.5:
            await asyncio.sleep(dice.choice([0, 0.02]))
    await caught_up(pilot)


async def caught_up(pilot: Pilot[None]) -> None:
    """Wait until every key has been taken and the screen has come to rest."""
    await pilot.pause()
    assert isinstance(pilot.app, KeysInTurn)
    assert not pilot.app.is_catching_up


@contextmanager
def full_load() -> Iterator[None]:
    """Keep every core busy."""
    busy = [sys.executable, "-c", "while True: pass"]
    programs = [subprocess.Popen(busy) for _ in range(os.cpu_count() or 1)]
    try:
        yield
    finally:
        for program in programs:
            program.kill()
            program.wait()


SLICE_S = 0.005
"""What a busy system gives a program at a time, and how long it then waits for its next turn."""


@contextmanager
def starved() -> Iterator[None]:
    """Give this program the processor half the time at most, in slices, as at full load.

    A thread holds Python's lock while it sleeps, so that nothing else in this process gets on. It
    takes no processor time itself, unlike programs that keep the cores busy.
    """
    hold = ctypes.PyDLL(None).usleep  # PyDLL, unlike CDLL, does not let go of the lock
    is_over = Event()

    def take_turns() -> None:
        while not is_over.wait(SLICE_S):
            hold(int(SLICE_S * 1_000_000))

    other = Thread(target=take_turns)
    other.start()
    try:
        yield
    finally:
        is_over.set()
        other.join()


PASTE = "paste:"
_NAMED = {
    "tab", "shift+tab", "enter", "escape", "home", "end", "up", "down", "left", "right", "space",
    "backspace", "pagedown", "pageup",
}  # fmt: skip


def _is_one(keys: str) -> bool:
    return keys in _NAMED or keys.startswith((PASTE, "ctrl+"))


def let_pilots_wait(monkeypatch: pytest.MonkeyPatch) -> None:
    """Have every pilot wait until all that its keys set off is over, and no longer.

    Textual's own pilot waits until the processor is idle, which it may be on a busy machine while
    there is still work to do; it takes at least 40 ms for each key, and asks every widget of the
    screen whether it is done. Here the program's own account of the keys under way decides, which
    is there to keep keys typed ahead in order.
    """
    press, pause = Pilot.press, Pilot.pause

    async def press_in_turn(pilot: Pilot[None], *keys: str) -> None:
        app = pilot.app
        if not isinstance(app, KeysInTurn):
            await press(pilot, *keys)
            return
        for key in keys:
            await app._press_keys([key])
            await come_to_rest(app)

    async def pause_until_rest(pilot: Pilot[None], delay: float | None = None) -> None:
        app = pilot.app
        if not isinstance(app, KeysInTurn):
            await pause(pilot, delay)
            return
        if delay:
            await asyncio.sleep(delay)
        app.catch_up()  # a form may have been opened without a key
        await come_to_rest(app)

    async def wait_in_other_apps(*least: float) -> None:
        if not isinstance(active_app.get(), KeysInTurn):
            await wait_for_idle(*least)
        for _ in range(UNDER_WAY):
            await asyncio.sleep(0)

    refresh, shut_down = Screen._compositor_refresh, App._shutdown

    def refresh_where_counted(screen: Screen[Any]) -> None:
        """Leave out frames that no one looks at: a test that reads the screen has it drawn then."""
        app = screen.app
        if not isinstance(app, KeysInTurn):
            refresh(screen)
        elif app not in COUNTED:
            screen._dirty_widgets.clear()
            app._update_mouse_over(screen)
        elif not app.is_catching_up and app not in _COMING_TO_REST:
            refresh(screen)

    async def draw_and_shut_down(app: App[Any]) -> None:
        """Draw what is in front at last, even if no one has looked."""
        try:
            if app.is_running and app.screen_stack:
                draw_front(app)
        finally:
            await shut_down(app)

    monkeypatch.setattr(Screen, "_compositor_refresh", refresh_where_counted)
    monkeypatch.setattr(App, "_shutdown", draw_and_shut_down)
    monkeypatch.setattr(Pilot, "press", press_in_turn)
    monkeypatch.setattr(Pilot, "pause", pause_until_rest)
    monkeypatch.setattr("textual.app.wait_for_idle", wait_in_other_apps)


def parse_styles_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Have the apps of all tests share what their style sheets say, as one app's screens do."""
    parse = Stylesheet._parse_rules

    def parse_once(sheet: Stylesheet, *source: Any, **more: Any) -> list[RuleSet]:
        values = frozenset(sheet._variables.items())
        asked = (values, source, tuple(more.items()))
        if asked not in _PARSED:
            _PARSED[asked] = parse(sheet, *source, **more)
        return _PARSED[asked]

    monkeypatch.setattr(Stylesheet, "_parse_rules", parse_once)


_PARSED: dict[object, list[RuleSet]] = {}
"""The rules of each style sheet that was read, by its text and the colours of the theme."""
_COMING_TO_REST: WeakSet[App[Any]] = WeakSet()
"""The apps whose screens are not drawn, as more is to be done first."""
UNDER_WAY = 3
"""Turns of the event loop that it takes a key to come from the driver to the app."""
ROUNDS_ENOUGH = 20
"""A screen is laid out again for what its last layout brought about, but not for ever."""


async def come_to_rest(app: KeysInTurn) -> None:
    """Wait until a program that runs has done everything, and its screen can be drawn."""
    _COMING_TO_REST.add(app)
    try:
        for _ in range(ROUNDS_ENOUGH):
            while app.message_queue_size or app.is_catching_up:
                await asyncio.sleep(0.001)
            if not (app.is_running and app.screen_stack and _has_laid_out(app.screen)):
                break
            app.catch_up()
    finally:
        _COMING_TO_REST.discard(app)
    if app.is_running and app.screen_stack:
        app.screen._compositor_refresh()


def _has_laid_out(screen: Screen[Any]) -> bool:
    """Lay a screen out now, not at its next frame, if it has to be."""
    has_to_be = screen._layout_required or screen._scroll_required or bool(screen._callbacks)
    screen._on_timer_update()
    return has_to_be
