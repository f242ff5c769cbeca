"""The program on screen: its pages, its clock tick, and the one signal that the shelf changed."""

from collections.abc import Callable, Iterable
from contextlib import suppress
from datetime import date
from functools import partial
from importlib import import_module
from typing import TYPE_CHECKING, Any, TypeVar

from rich.console import RenderableType
from rich.text import Text
from textual import work
from textual.app import SystemCommand
from textual.await_complete import AwaitComplete
from textual.events import AppFocus, Key
from textual.screen import Screen
from textual.signal import Signal

from stillroom.errors import AnothersAct, StillroomError
from stillroom.keeping.at_rest import AtRest
from stillroom.keeping.cards import JarCard
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.undo import redo, undo
from stillroom.screens import ending
from stillroom.screens.afar import GIVE_TITLE_BACK, CallsOut
from stillroom.screens.appearance import FitsTerminal
from stillroom.screens.in_turn import BACKGROUND
from stillroom.screens.kit.is_form import form_of
from stillroom.screens.kit.leaving import forget_drawn
from stillroom.screens.kit.page import Page
from stillroom.screens.kit.styled_once import StylesMounted
from stillroom.screens.pages import FIRST, page_named
from stillroom.screens.palette import Commands, Palette
from stillroom.screens.shelf_file.daily_backup import DailyBackup
from stillroom.screens.warm_up import start_warm_up

if TYPE_CHECKING:
    from stillroom.keeping.views import BottleRow

R = TypeVar("R")

DAY_POLL_S = 15.0
"""How often the date is checked; a timer set for midnight would not survive a suspend."""
BACKUP_AFTER_S = 3.0
"""When the backup of the day is made, once the person is at work."""
BACKUP_POLL_S = 600.0
"""How often it is tried again, as where a memory stick was not in its place yet."""
WARM_UP_S = 0.4
"""When what was not needed for the first picture is imported."""
CAUTIONS_READ = "cautions_read"
"""The setting that holds the day the cautions were first read."""
CHANGE_POLL_S = 1.0
"""How often to check for what another program wrote, and for a terminal that has gone."""
PICTURE_AFTER_S = 0.1
"""When a picture is taken, once the palette has closed."""
EXIT_POLL_S = 0.01
"""How often to check whether a delayed exit can go ahead."""


class StillroomApp(CallsOut, FitsTerminal, StylesMounted):
    """Stillroom on screen."""

    TITLE = "Stillroom"
    CSS_PATH = "app.tcss"
    COMMANDS = {Commands}
    ENABLE_COMMAND_PALETTE = True
    # Textual fails at a press of the mouse on text that has just gone, as at a toast clicked twice.
    ALLOW_SELECT = False

    def __init__(
        self,
        keeper: Keeper,
        *,
        is_sample: bool = False,
        when_warm: Callable[[], None] = lambda: None,
    ) -> None:
        """`when_warm` is called in a thread, once what the first keys need is imported."""
        super().__init__()
        self._when_warm = when_warm
        self.keeper = keeper
        self.fit_to_terminal()
        self.at_rest = AtRest(keeper)
        self.is_sample = is_sample
        self.shelf_changed: Signal[None] = Signal(self, "shelf-changed")
        self._day: date = keeper.today
        self._seen_version = keeper.data_version
        self._pages: dict[str, Page] = {}
        self._is_date_doubted = False
        self._daily_backup = DailyBackup(self)

    def get_default_screen(self) -> Screen[None]:
        """The page that is shown first: the shelves."""
        return self._page(FIRST)

    def _page(self, name: str) -> Page:
        if name not in self._pages:
            self._pages[name] = self._make_page(name)
            self.install_screen(self._pages[name], name)
        return self._pages[name]

    def _make_page(self, name: str) -> Page:
        entry = page_named(name)
        made = getattr(import_module(entry.module), entry.class_name)(self.keeper)
        assert isinstance(made, Page)
        return made

    async def action_turn_to(self, name: str) -> None:
        """Open a page; whatever was opened over the present one is left."""
        page = self._page(name)
        # The shelves stay at the bottom: Textual cannot switch its default screen for another.
        depth = 1 if page is self.screen_stack[0] else 2
        while len(self.screen_stack) > depth:
            self.pop_screen()
        with self.batch_update():  # laid out once, when it has all its parts
            if len(self.screen_stack) < depth:
                await self.push_screen(page)
            elif self.screen is not page:
                await self.switch_screen(page)

    @work
    async def calculate(self, start: "JarCard | BottleRow") -> None:
        """Open a calculator that starts with a jar or a bottle."""
        from stillroom.screens.calculator.page import CalculatorPage
        from stillroom.screens.calculator.starts import calculator_for, values_from

        name = calculator_for(start)
        try:
            values = values_from(self.keeper, name, start)
        except StillroomError as error:
            self.refuse(error)
            return
        page = self._page("calculator")
        assert isinstance(page, CalculatorPage)
        page.begin(name, values)
        await self.action_turn_to("calculator")

    async def show_jar(self, jar_id: int) -> None:
        """Turn to the shelves, the cursor on a jar."""
        from stillroom.screens.shelves.page import ShelvesPage

        await self.action_turn_to(FIRST)
        if isinstance(self.screen, ShelvesPage):
            self.screen.show_jar(jar_id)

    def open_jar(self, jar_id: int) -> None:
        """Open the page of a jar over the page in sight."""
        from stillroom.screens.jar.page import JarPage

        self._open_over(JarPage(self.keeper, jar_id))

    def open_bottle(self, bottle_id: int) -> None:
        """Open the page of a bottle over the page in sight."""
        from stillroom.screens.bottles.bottle import BottlePage

        self._open_over(BottlePage(self.keeper, bottle_id))

    def _open_over(self, page: Page) -> None:
        if isinstance(self.screen, Page):
            self.screen.open_over(page)

    @property
    def badge(self) -> Text:
        """What to remember about this shelf, beside the day."""
        if self.is_sample:
            return Text.assemble((" SAMPLE ", "bold reverse"), "  ")
        if self._is_date_doubted:
            return Text.assemble((" ! IS THE DATE RIGHT? ", "bold reverse"), "  ")
        if self._daily_backup.failure:
            return Text.assemble((" ! BACKUP FAILED ", "bold reverse"), "  ")
        if self.keeper.is_read_only:
            return Text.assemble((" READ ONLY ", "bold reverse"), "  ")
        return Text()

    def on_load(self) -> None:
        """From here on, before the terminal is changed, end cleanly on a signal."""
        ending.heed_signals_to_end(self)

    def exit(
        self, result: None = None, return_code: int = 0, message: RenderableType | None = None
    ) -> None:
        """End; if a screen is being made, only once it is complete.

        Textual adds no more widgets from here on, and a screen that misses its own would crash.
        """
        screens = self.screen_stack
        if screens and all(screen.is_mounted for screen in screens):
            self.to_terminal(GIVE_TITLE_BACK)
            super().exit(result, return_code, message)
        else:
            self.set_timer(EXIT_POLL_S, partial(self.exit, result, return_code, message))

    def on_mount(self) -> None:
        """Start looking at the clock and at what others do."""
        ending.heed_signals_to_wait(self)
        self.app_resume_signal.subscribe(self, lambda _: self.check_day())
        self.set_interval(DAY_POLL_S, self.check_day)
        self.set_interval(CHANGE_POLL_S, self._look_around)
        self.tell_acts_apart()
        self.set_timer(BACKUP_AFTER_S, self._back_up)
        self.set_interval(BACKUP_POLL_S, self._back_up)
        self.set_timer(WARM_UP_S, partial(start_warm_up, self._when_warm))
        if not (self.is_sample or self.keeper.setting(CAUTIONS_READ)):
            self._show_cautions()
        self._doubt_date()
        if self.keeper.trouble:
            self.complain(self.keeper.trouble)
        self.set_timer(WARM_UP_S, self._doubt_settings)
        self.begin_from_afar()
        self.catch_up()

    def tell_acts_apart(self) -> None:
        """From here on, know which acts are another window's, to ask before they are undone."""
        with suppress(StillroomError):  # the pages show why
            self.keeper.tell_acts_apart()

    def _doubt_settings(self) -> None:
        from stillroom.keeping.settings import word_about_settings

        with suppress(StillroomError):  # the pages show why
            if word := word_about_settings(self.keeper):
                self.complain(word)

    def _doubt_date(self) -> None:
        """Ask about a clock that has gone back, before anything is written under a wrong day."""
        try:
            doubt = "" if self.is_sample else self.keeper.date_in_doubt
        except StillroomError:  # the pages show it
            return
        self._is_date_doubted = bool(doubt)
        if doubt:
            self.complain(doubt)

    def _show_cautions(self) -> None:
        from stillroom.keeping.settings import remember
        from stillroom.screens.help import FirstCautions

        today = self.keeper.today.isoformat()
        self.push_screen(FirstCautions(), lambda _: remember(self.keeper, CAUTIONS_READ, today))

    def on_key(self, event: Key) -> None:
        """A key may be the first thing after a night asleep."""
        self.check_day()

    def on_app_focus(self, event: AppFocus) -> None:
        """So may be a look at the window."""
        self.check_day()

    def check_day(self) -> None:
        """Draw everything again when the local day has changed, forward or back."""
        today = self.keeper.today
        if today != self._day:
            self._day = today
            self._doubt_date()
            self.shelf_changed.publish(None)
            self._back_up()

    def _look_around(self) -> None:
        ending.end_without_terminal(self)
        self.check_file()
        self.at_rest.look()

    def check_file(self) -> None:
        """Draw everything again when another program has written to the shelf."""
        try:
            version = self.keeper.data_version
        except StillroomError:
            return
        if version != self._seen_version:
            self._seen_version = version
            self.keeper.forget_settings()
            with suppress(StillroomError):  # the pages show why
                self.use_theme()
            self.shelf_changed.publish(None)

    @work(group=BACKGROUND, exit_on_error=False)
    async def _back_up(self) -> None:
        """Make the backup of the day, aside from the screen; work goes on if it fails."""
        if not (self.is_sample or self.keeper.is_read_only):
            await self._daily_backup.make()

    async def push_screen_wait(
        self, screen: Screen[R] | str, *, mode: str | None = None
    ) -> R | Any:
        """Open a form and wait for its result.

        A key that repeats would open it many times; all but the first are left at once. So is one
        that could not be kept.
        """
        form = None if isinstance(screen, str) else form_of(screen)
        if form is not None and form.CHANGES_SHELF:
            try:
                self.keeper.refuse_if_for_looking()
            except StillroomError as error:
                self.refuse(error)
                return None
        if any(type(each) is type(screen) for each in self.screen_stack):
            return None
        return await super().push_screen_wait(screen, mode=mode)

    def pop_screen(self) -> AwaitComplete:
        """Close what was opened last, and release it."""
        forget_drawn()
        return super().pop_screen()

    def changed(self, sentence: str = "") -> None:
        """Have every page read the shelf again, after this program has changed it."""
        if sentence:
            self.say(sentence)
        self.use_theme()
        if self._daily_backup.goes_elsewhere():
            self._back_up()
        self.shelf_changed.publish(None)

    async def action_quit(self) -> None:
        """Leave; where something was typed into a form, only when asked twice."""
        form = form_of(self.screen)
        if not (form is not None and form.holds_back("ctrl+q")):
            self.exit()

    def action_undo(self) -> None:
        """Undo the last action."""
        try:
            title = undo(self.keeper)
        except AnothersAct as asked:
            self._ask_to_undo(asked)
        except StillroomError as error:
            self.refuse(error)
        else:
            self.changed(f"Undone: {title}")

    @work
    async def _ask_to_undo(self, asked: AnothersAct) -> None:
        from stillroom.screens.kit.dialog import UndoDialog

        title = await self.push_screen_wait(UndoDialog(asked))
        if title:
            self.changed(f"Undone: {title}")

    def action_redo(self) -> None:
        """Redo what was undone."""
        try:
            title = redo(self.keeper)
        except StillroomError as error:
            self.refuse(error)
        else:
            self.changed(f"Redone: {title}")

    @work
    async def action_restore(self) -> None:
        """Open the form that restores a backup."""
        from stillroom.screens.shelf_file.backup_dialogs import RestoreDialog

        if self.is_sample:
            self.complain("This is the sample shelf: there is nothing to restore.")
            return
        said = await self.push_screen_wait(RestoreDialog(self.keeper))
        if said:
            self._seen_version = self.keeper.data_version
            self.tell_acts_apart()
            self.changed(said)

    def action_command_palette(self) -> None:
        """Every command by name."""
        if not isinstance(self.screen, Palette):
            self.push_screen(Palette(id="--command-palette"))

    def action_explain(self) -> None:
        """What this page is for."""
        from stillroom.screens.help import HelpScreen

        self.push_screen(HelpScreen(self.screen))

    def get_system_commands(self, screen: Screen[object]) -> Iterable[SystemCommand]:
        """Commands that have no key."""
        yield SystemCommand(
            "Correct any entry", "Correct what has this code or name", self.action_correct_code
        )
        yield SystemCommand(
            "Remove a person's name", "Remove a name from the shelf for good", self.action_forget
        )
        yield SystemCommand(
            "Import your own list", "Import jars from a spreadsheet", self.action_import_list
        )
        yield SystemCommand(
            "Import an edited export",
            "Apply changes made in a spreadsheet",
            self.action_import_edited,
        )
        yield SystemCommand("Merge another shelf", "Merge two shelves into one", self.action_merge)
        yield SystemCommand("Back up", "Copy the shelf to a file", self.action_back_up)
        yield SystemCommand("Restore", "Replace the shelf with a backup", self.action_restore)
        yield SystemCommand(
            "Theme", "Change between dark and light colours", self.action_change_theme
        )
        yield SystemCommand(
            "Picture of the screen",
            "Save what the screen shows as an SVG file",
            lambda: self.set_timer(PICTURE_AFTER_S, self.deliver_screenshot),
        )
