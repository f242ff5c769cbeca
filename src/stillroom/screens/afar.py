"""Seen from across the room: the terminal's title, a call when something is due, a quiet view."""

from contextlib import suppress
from datetime import date, datetime
from typing import TYPE_CHECKING, Any

from rich.text import Text
from textual.driver import Driver
from textual.events import Event, Key, MouseDown
from textual.screen import Screen
from textual.widget import Widget

from stillroom.errors import StillroomError
from stillroom.keeping.cards import ShelvesView
from stillroom.keeping.jars.shelves import shelves_view
from stillroom.keeping.memo import remembered
from stillroom.quantities import how_many
from stillroom.screens.in_turn import Scanned
from stillroom.screens.kit.page import Page
from stillroom.screens.scanner import ScansCodes

if TYPE_CHECKING:
    from stillroom.keeping.settings import Settings

LOOK_S = 15.0
"""How often to check whether something is due, or nobody is there."""
KEEP_TITLE, GIVE_TITLE_BACK = "\x1b[22;2t", "\x1b[23;2t"
"""XTWINOPS of xterm: save the window's title, and restore it."""


def quiet_after_s(settings: "Settings") -> float:
    """After how many seconds without a key the quiet view comes; 0 for never."""
    return 60.0 * settings.quiet_minutes


class QuietPicture(Widget):
    """The most urgent jars, dimmed."""

    DEFAULT_CSS = """
    QuietPicture {
        width: 100%; height: 100%; background: $background; color: $text-muted; text-style: dim;
    }
    """

    def __init__(self, shelves: ShelvesView, step: int, *, is_plain: bool) -> None:
        super().__init__()
        self.shelves = shelves
        self.step = step
        self.is_plain = is_plain

    def render(self) -> Text:
        """The jars as large as the screen allows."""
        from stillroom.screens.drawing.quiet import quiet_lines

        lines = quiet_lines(
            self.shelves.jars, self.shelves.today, *self.size, self.step, is_plain=self.is_plain
        )
        return Text("\n".join(lines), no_wrap=True)


class QuietView(Screen[None]):
    """Shown while nobody presses a key; any key ends it, and does what it does."""

    def __init__(self, shelves: ShelvesView, step: int, *, is_plain: bool) -> None:
        super().__init__()
        self.picture = QuietPicture(shelves, step, is_plain=is_plain)

    def compose(self) -> Any:
        """The picture of the jars and nothing else."""
        yield self.picture

    def show(self, shelves: ShelvesView, step: int) -> None:
        """Show the jars as they are now, moved a little."""
        self.picture.shelves, self.picture.step = shelves, step
        self.picture.refresh()


class CallsOut(ScansCodes):
    """An app that is seen, and heard, from across the room."""

    is_plain: bool

    def __init__(self) -> None:
        self.terminal: Driver | None = None
        """What writes to the terminal; None without one."""
        super().__init__()
        self._title = ""
        self._due_known: set[tuple[int, date]] | None = None
        """Jars that are due and were called for, or were due when the program began."""
        self._shakes_called_on: date | None = None
        self._last_input_at: datetime | None = None

    def get_driver_class(self) -> type[Driver]:
        """The platform's own, which the app gets to know."""
        app, base = self, super().get_driver_class()

        class OwnDriver(base):  # type: ignore[misc, valid-type]
            """Writes to the terminal."""

            def start_application_mode(self) -> None:
                super().start_application_mode()
                app.terminal = self

        return OwnDriver

    def to_terminal(self, sequence: str) -> None:
        """Write a control sequence; the console has none of them."""
        if self.terminal is not None and not self.is_plain:
            self.terminal.write(sequence)

    def begin_from_afar(self) -> None:
        """Begin to show in the title what is due."""
        self._last_input_at = self.keeper.clock.now()
        self.to_terminal(KEEP_TITLE)
        self.set_interval(LOOK_S, self.look_from_afar)

    def on_ready(self) -> None:
        """Look for the first time once the first picture is drawn, which must not wait for it."""
        self.look_from_afar()

    def look_from_afar(self) -> None:
        """Renew the title, call for what has fallen due, and rest where nobody is there."""
        from stillroom.keeping.settings import settings_of

        with suppress(StillroomError):  # the pages show why
            keeper, settings = self.keeper, settings_of(self.keeper)
            # Asked all day long: the shelves are read again only where something has changed.
            shelves = remembered(keeper, "from afar", (), lambda: shelves_view(keeper))
            self._show_title(shelves)
            self._call(shelves, settings)
            self._rest(shelves, settings)

    def _show_title(self, shelves: ShelvesView) -> None:
        title = title_words(shelves)
        if title != self._title:
            self._title = title
            self.to_terminal(f"\x1b]2;{title}\x07")

    def _call(self, shelves: ShelvesView, settings: "Settings") -> None:
        due = {(jar.jar_id, jar.strain_on) for jar in (*shelves.due_today, *shelves.over)}
        new = due - self._due_known if self._due_known is not None else set()
        self._due_known = due
        said = [f"{how_many(len(new), 'jar')} due to be strained"] if new else []
        hour, today = settings.shakes_by, shelves.today
        is_late = hour is not None and self.keeper.clock.hour() >= hour
        if is_late and shelves.to_shake and self._shakes_called_on != today:
            self._shakes_called_on = today
            said.append(f"{how_many(len(shelves.to_shake), 'jar')} still to shake")
        if said and settings.call:
            self.call_out(". ".join(said), settings.call)

    def call_out(self, words: str, way: str) -> None:
        """Ring the bell or have the terminal show a notification."""
        if way == "bell":
            self.bell()
        elif way == "osc9":
            self.to_terminal(f"\x1b]9;Stillroom: {words}\x07")
        else:
            self.to_terminal(f"\x1b]777;notify;Stillroom;{words}\x07")

    def _rest(self, shelves: ShelvesView, settings: "Settings") -> None:
        now, since, wait_s = self.keeper.clock.now(), self._last_input_at, quiet_after_s(settings)
        step = int(now.timestamp() // 60)
        if isinstance(self.screen, QuietView):
            self.screen.show(shelves, step)
        elif not wait_s or since is None or not isinstance(self.screen, Page):
            return  # a form is open: what is typed stays in sight
        elif (now - since).total_seconds() >= wait_s:
            self.push_screen(QuietView(shelves, step, is_plain=self.is_plain))

    async def give_out(self, event: Event) -> None:
        """A key ends the quiet view, and then does what it does; a tap only ends it."""
        if isinstance(event, Key | MouseDown | Scanned):
            self._last_input_at = self.keeper.clock.now()
            if isinstance(self.screen, QuietView):
                await self.pop_screen()
                if isinstance(event, MouseDown):
                    return
        await super().give_out(event)


def title_words(shelves: ShelvesView) -> str:
    """What is due, in the few words of a window's title.

    It has no name in it: names come from anyone, and a title is a control sequence.
    """
    facts = [
        f"{count} {word}"
        for count, word in (
            (len(shelves.due_today), "due"),
            (len(shelves.over), "late"),
            (len(shelves.to_shake), "to shake"),
            (shelves.to_bottle, "to bottle"),
        )
        if count
    ]
    return "Stillroom" + (f": {', '.join(facts)}" if facts else "")
