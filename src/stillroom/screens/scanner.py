"""A scanner anywhere in the program: what it reads is opened, and its keys do nothing else."""

from contextlib import suppress
from functools import partial
from typing import TYPE_CHECKING

from textual.events import Event, InputEvent, Key, Paste
from textual.screen import ModalScreen, Screen
from textual.widgets import Input

from stillroom.errors import StillroomError
from stillroom.screens.burst import Burst
from stillroom.screens.forms import OpensForms
from stillroom.screens.host import TakesScans
from stillroom.screens.in_turn import Scanned
from stillroom.screens.kit.page import Page
from stillroom.screens.palette import Palette

if TYPE_CHECKING:
    from stillroom.keeping.settings import Settings
    from stillroom.keeping.trace.views import ScannedThing

LONGEST = 300
"""Letters of a scan: a code, and the text that follows it on a label."""
ENDS = frozenset({"enter", "ctrl+j"})
"""Keys that scanners end a code with."""


def pace_s(settings: "Settings") -> float:
    """At most so many seconds are between two keys of a scanner."""
    return settings.scan_gap_ms / 1000


class ScansCodes(OpensForms):
    """An app that a scanner types into."""

    def __init__(self) -> None:
        super().__init__()
        self._burst: Burst[Event] = Burst(self._could_begin, self._is_code, LONGEST)
        self._scanned_at = float("-inf")
        """When the last scan ended, where no key has been given out since."""

    @property
    def is_catching_up(self) -> bool:
        """Whether keys are held back, or what the last one set off is not complete yet."""
        return (self._burst.is_holding and self.is_running) or super().is_catching_up

    async def on_event(self, event: Event) -> None:
        """Hold back keys that may be a scan; let everything else through."""
        if not isinstance(event, InputEvent | Paste) or event.is_forwarded:
            await super().on_event(event)
            return
        if not isinstance(event, Key):
            await self._let_go()
            await super().on_event(event)
            return
        was_holding = self._burst.is_holding
        if not was_holding:
            self._heed_settings()
        character = event.character if event.is_printable else None
        taken = self._burst.take(event, character, event.time, ends=event.key in ENDS)
        for each in taken.released:
            await super().on_event(each)
        if taken.scanned is not None:
            scanned = Scanned(taken.scanned, taken.keys, is_sure=taken.has_prefix)
            await super().on_event(scanned)
        elif self._burst.is_holding and not was_holding:
            self._wait_for_more()

    def _heed_settings(self) -> None:
        from stillroom.keeping.settings import settings_of

        with suppress(StillroomError):  # the pages show why
            settings = settings_of(self.keeper)
            self._burst.gap_s = pace_s(settings)
            self._burst.prefix = settings.scan_prefix

    def _wait_for_more(self) -> None:
        """Let go of what is held, unless more has come within the pace of a scanner."""
        self.set_timer(
            self._burst.gap_s, partial(self.call_later, self._let_go_unless, self._burst.number)
        )

    async def _let_go_unless(self, number: int) -> None:
        # By now every key that came in time is out of the queue.
        if not self._burst.is_holding:
            return
        if self._burst.number == number:
            await self._let_go()
        else:
            self._wait_for_more()

    async def _let_go(self) -> None:
        for each in self._burst.release():
            await super().on_event(each)

    @property
    def _is_typing(self) -> bool:
        """Whether a field for text has the focus, at present."""
        return isinstance(self.focused, Input)

    def _could_begin(self, text: str) -> bool:
        from stillroom.keeping.trace.scanning import could_begin, could_begin_any

        # Where the next key goes is not known while others wait. Then nobody sees a key come late.
        is_typing = self._is_typing and not self._is_busy
        with suppress(StillroomError):  # a page shows why, at the next key
            if not is_typing and could_begin_any(text, self.keeper.today.year):
                return True
            return could_begin(self.keeper, text)
        return False

    def _is_code(self, text: str) -> bool:
        from stillroom.keeping.trace.scanning import is_any_code, scanned_thing

        with suppress(StillroomError):
            return is_any_code(text) or scanned_thing(self.keeper, text) is not None
        return False

    async def give_out(self, event: Event) -> None:
        """Open what was scanned, in its turn."""
        if not isinstance(event, Key | Scanned):
            await super().give_out(event)
            return
        scanned_at, self._scanned_at = self._scanned_at, float("-inf")
        if isinstance(event, Scanned):
            await self._take_scan(event)
        elif event.key in ENDS and event.time - scanned_at <= self._burst.gap_s:
            pass  # a line feed after Enter: it belongs to the scan
        else:
            await super().give_out(event)

    async def _take_scan(self, scan: Scanned) -> None:
        from stillroom.keeping.trace.scanning import code_in, scanned_thing
        from stillroom.screens.help import HelpScreen

        try:
            thing = scanned_thing(self.keeper, scan.text)
        except StillroomError as error:
            self.refuse(error)
            return
        if thing is None and self._is_typing and not scan.is_sure:
            self.give_out_next(scan.keys)
            return
        self._scanned_at = scan.time
        if thing is None:
            self.complain(f"Nothing on this shelf has the code {code_in(scan.text)}.")
            return
        screen: Screen[object] = self.screen
        if isinstance(screen, HelpScreen | Palette):
            await self.pop_screen()
            screen = self.screen
        if isinstance(screen, TakesScans):
            screen.take_scan(thing)
        elif isinstance(screen, Page):
            await self._open_scanned(screen, thing)
        elif isinstance(screen, ModalScreen):
            self.complain(f"{thing.code} was scanned. Close this first, then scan it again.")

    async def _open_scanned(self, page: Page, thing: "ScannedThing") -> None:
        """Open a bottle, jar or lot; what was scanned before gives way to it."""
        from stillroom.screens.bottles.bottle import BottlePage
        from stillroom.screens.jar.page import JarPage

        new: Page
        if thing.bottle_id is not None:
            if isinstance(page, BottlePage) and page.bottle_id == thing.bottle_id:
                return
            new = BottlePage(self.keeper, thing.bottle_id)
        elif thing.jar_id is not None:
            if isinstance(page, JarPage) and page.jar_id == thing.jar_id:
                return
            new = JarPage(self.keeper, thing.jar_id)
        else:
            await self._open_listed(thing)
            return
        if isinstance(page, BottlePage | JarPage):
            await self.switch_screen(new)
        else:
            await self.push_screen(new)

    async def _open_listed(self, thing: "ScannedThing") -> None:
        """Show what has no page of its own where it is listed."""
        from stillroom.screens.bottles.page import BottlesPage
        from stillroom.screens.cupboard.page import CupboardPage

        if thing.tincture_id is not None:
            await self.action_turn_to("bottles")
            if isinstance(self.screen, BottlesPage):
                self.screen.look_for(thing.code)
            return
        await self.action_turn_to("cupboard")
        if isinstance(self.screen, CupboardPage):
            self.screen.show_lot(thing)

    async def action_turn_to(self, name: str) -> None:
        """Open a page."""
        raise NotImplementedError
