"""Keys taken one at a time, each once the one before it has taken full effect."""

import asyncio
from collections import deque
from collections.abc import Callable, Iterable
from typing import Any, TypeVar

from textual.app import App
from textual.events import Callback, Event, InputEvent, Key, MouseDown, MouseUp, Paste
from textual.message_pump import MessagePump
from textual.screen import Screen
from textual.widget import Widget
from textual.worker import NoActiveWorker, Worker, get_current_worker

R = TypeVar("R")


class Scanned(InputEvent):
    """A code was scanned, which takes its turn as keys do."""

    def __init__(self, text: str, keys: tuple[Event, ...], *, is_sure: bool) -> None:
        """Make it of the keys that it came in; `is_sure` is whether they can be no typing."""
        super().__init__()
        self.text = text
        self.keys = keys
        self.is_sure = is_sure
        self.time = keys[-1].time


ACTS = (Key, Paste, MouseDown, MouseUp, Scanned)
"""What can move the focus, open a form or turn a page; other input has nothing to wait for."""
BACKGROUND = "background"
"""The group of workers that no key waits for."""
AT_ONCE = 50
"""How many turns of the event loop are waited for something before it is only looked for."""
LOOK_S = 0.005
"""How often it is looked for from then on."""
LOOKS_ENOUGH = 2000
"""After this the next key is taken anyway: a misplaced key is better than a dead keyboard."""


class KeysInTurn(App[None]):
    """An app that keeps keys typed ahead of the screen until the screen has caught up.

    Textual forwards a key to the widget that has the focus when the app comes to the key. What
    the key before it does may still be on its way then: a focus move, a new row of fields, a form
    that opens or closes. So the keys of a fast typist, a scanner or a paste would go to the wrong
    field. Here the first key goes out at once, as ever. What arrives before its effects have come
    about waits in one line, pastes and clicks too, and goes out in order.
    """

    def __init__(self) -> None:
        super().__init__()
        self._line: deque[Event] = deque()
        self._is_busy = False
        self._taken = 0
        """How many keys have gone out."""
        self._is_text = False
        """Whether the last was a letter for the field that has the focus."""
        self._settling: asyncio.Task[None] | None = None
        self._forms_awaited: dict[Worker[Any], Screen[Any]] = {}

    @property
    def is_catching_up(self) -> bool:
        """Whether keys wait, or what the last one set off is not complete yet."""
        return self._is_busy and self.is_running

    async def on_event(self, event: Event) -> None:
        """Take input at once where nothing is under way, and else in its turn."""
        if not isinstance(event, InputEvent | Paste) or event.is_forwarded:
            await super().on_event(event)
        elif self._is_busy and (self._line or not self._joins(event)):
            self._line.append(event)
        else:
            await self._take(event)

    async def push_screen_wait(
        self, screen: Screen[R] | str, *, mode: str | None = None
    ) -> R | Any:
        """Open a form and wait for what comes of it; keys go to the form once it is there."""
        try:
            worker = get_current_worker()
        except NoActiveWorker:
            worker = None
        if worker and isinstance(screen, Screen):
            self._forms_awaited[worker] = screen
        try:
            return await super().push_screen_wait(screen, mode=mode)
        finally:
            if worker:
                self._forms_awaited.pop(worker, None)

    def catch_up(self) -> None:
        """Let keys wait until everything under way is finished, as at the start."""
        if not self._is_busy:
            self._settle_after(self._way_of_a_key(), self._state())

    async def give_out(self, event: Event) -> None:
        """Let an event take effect; the one before it has."""
        await super().on_event(event)

    def give_out_next(self, events: Iterable[Event]) -> None:
        """Let these be the next to take effect, before all that waits."""
        self._line.extendleft(reversed([*events]))

    async def _take(self, event: Event) -> None:
        if not isinstance(event, ACTS):
            await self.give_out(event)
            return
        joins = self._is_busy
        self._taken += 1
        self._is_text = self._is_letter(event)
        if joins:  # what waits for the letter before waits for this one, too
            await self.give_out(event)
            return
        way, state = self._way_of_a_key(), self._state()
        self._is_busy = True
        try:
            await self.give_out(event)
        finally:
            self._settle_after(way, state)

    def _settle_after(self, way: list[MessagePump], state: object) -> None:
        self._is_busy = True
        self._settling = asyncio.create_task(self._settle(way, state))

    async def _take_next(self, taken: int) -> None:
        if taken != self._taken:  # a letter has come in between
            self._settle_after(self._way_of_a_key(), self._state())
            return
        self._is_busy = False
        while self._line and (not self._is_busy or self._joins(self._line[0])):
            await self._take(self._line.popleft())

    def _joins(self, event: Event) -> bool:
        """Whether it need not wait for the key before: letters of one field keep their order."""
        return self._is_text and self._is_letter(event)

    def _is_letter(self, event: Event) -> bool:
        """Whether the field that has the focus takes it as text."""
        if not isinstance(event, Key) or self.focused is None:
            return False
        return self.focused.check_consume_key(event.key, event.character)

    def _way_of_a_key(self) -> list[MessagePump]:
        """The widgets that a key passes through, from the focus up to the app."""
        if not self.screen_stack:
            return [self]
        return list((self.focused or self.screen).ancestors_with_self)

    def _state(self) -> object:
        """What decides where a key goes.

        A field that is shown has no place among the others until the screen is laid out again,
        and focus moves from place to place.
        """
        stack = self.screen_stack
        if not stack:
            return ()
        shown = (each for each in stack[-1].walk_children() if each.display)
        return (*stack, stack[-1].focused, *shown)

    async def _settle(self, way: list[MessagePump], before: object) -> None:
        """Wait until a key has taken full effect; then take the next one."""
        taken = self._taken
        try:
            known: object = None
            is_drawn = False
            for look in range(LOOKS_ENOUGH):
                if taken != self._taken:
                    taken, known = self._taken, None
                # The app comes last: focus moves that others ask for are in its queue.
                passed = dict.fromkeys([*way, *self._way_of_a_key()])
                for pump in (*(each for each in passed if each is not self), self):
                    await _has_worked_off(pump)
                if not (self.is_running and self.screen_stack):  # it ends
                    return
                state = self._state()
                if state != known or not self._is_quiet():
                    known = state
                    await asyncio.sleep(0 if look < AT_ONCE else LOOK_S)
                elif state == before or is_drawn:
                    return
                else:
                    # A new form or focus may have something to do once it is drawn.
                    await _is_called_back(self.screen, self.screen.call_after_refresh)
                    is_drawn = True
        finally:
            self.call_later(self._take_next, taken)

    def _is_quiet(self) -> bool:
        """Whether no widget of the screen has news to work off, nor a worker a step to do."""
        if self.message_queue_size or any(self._is_under_way(each) for each in self.workers):
            return False
        widgets = self.screen.walk_children(Widget, with_self=True)
        return all(each.is_mounted and not each.message_queue_size for each in widgets)

    def _is_under_way(self, worker: Worker[Any]) -> bool:
        """Whether a worker is neither done nor waiting for a person."""
        if worker.is_finished or worker.group == BACKGROUND:
            return False
        return self._forms_awaited.get(worker) not in self.screen_stack


async def _has_worked_off(pump: MessagePump) -> None:
    """Wait until a widget has done all that was in its queue.

    The message that `call_later` would post, without what that does to give a callback arguments:
    it takes half of the time, and every key waits for a dozen of these.
    """
    await _is_called_back(pump, lambda done: pump.post_message(Callback(callback=done)))


async def _is_called_back(pump: MessagePump, ask: Callable[[Callable[[], None]], bool]) -> None:
    done = asyncio.Event()
    if not ask(done.set):
        return
    for look in range(LOOKS_ENOUGH):
        if done.is_set() or _is_gone(pump):
            return
        await asyncio.sleep(0 if look < AT_ONCE else LOOK_S)


def _is_gone(pump: MessagePump) -> bool:
    """Whether it works off nothing any more; a widget that is only being made will."""
    if isinstance(pump, Widget):
        return not pump.is_attached or (pump.is_mounted and not pump.is_running)
    return not pump.is_running
