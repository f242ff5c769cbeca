"""The frame of a page: facts above, the page, its keys below."""

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, ClassVar, TypeVar

from rich.text import Text
from textual.app import ComposeResult
from textual.binding import Binding
from textual.events import ScreenResume
from textual.screen import Screen

from stillroom.errors import StillroomError
from stillroom.keeping.keeper import Keeper
from stillroom.screens.host import Host, host_of
from stillroom.screens.kit.keyline import HeadLine, KeyLine
from stillroom.screens.kit.styled_once import StyledOnce
from stillroom.screens.kit.text import safe
from stillroom.screens.pages import FIRST, PAGES, key_range

if TYPE_CHECKING:
    from stillroom.keeping.correcting.kinds import Start
    from stillroom.keeping.wording import Wording

T = TypeVar("T")


def page_keys() -> Iterator[Binding]:
    """A key for each page; the key line shows them as one."""
    for page in PAGES:
        is_first = page.name == FIRST
        yield Binding(
            page.key,
            f"app.turn_to('{page.name}')",
            "Pages" if is_first else page.title,
            show=is_first,
            key_display=key_range() if is_first else None,
            id=f"page.{page.name}",
            tooltip=page.about,
        )


class Page(StyledOnce[None]):
    """A full screen of the program, drawn again whenever the shelf changes."""

    HELP = ""
    """What this page is for, shown by `?` above its keys."""

    NEED_CHOSEN: ClassVar[frozenset[str]] = frozenset()
    """Actions that act on what is chosen: not offered where there is nothing to choose."""
    _has_chosen = True

    CORRECTS: ClassVar[bool] = False
    """Whether there may be something here that can be corrected."""

    PAPER = "day"
    """The paper that the print form shows first."""

    BINDINGS = [
        *page_keys(),
        Binding("u", "app.undo", "Undo", id="page.undo", tooltip="Undo the last action"),
        Binding("U", "app.redo", "Redo", show=False, id="page.redo",
                tooltip="Redo what was undone"),
        Binding("C", "correct_entry", "Correct entry", id="page.correct",
                tooltip="Correct anything entered about what is selected here"),
        Binding("i", "app.who", "Initials", show=False, id="page.who",
                tooltip="Change the initials recorded with what is done in this window"),
        Binding("P", "print", "Print", show=False, id="page.print",
                tooltip="Print the day sheet, shelf list, stock list or calendar to a file"),
        Binding("question_mark,f1", "app.explain", "Help", id="page.help", key_display="?",
                tooltip="Show help: this page, its keys, words and cautions"),
        Binding("q", "app.quit", "Quit", id="page.quit", tooltip="Quit; everything is saved"),
    ]  # fmt: skip

    def __init__(self, keeper: Keeper) -> None:
        super().__init__()
        self.keeper = keeper

    @property
    def host(self) -> Host:
        """The app, as a page may use it."""
        return host_of(self)

    @property
    def wording(self) -> "Wording":
        """How this shelf writes figures and days."""
        from stillroom.keeping.wording import wording

        return wording(self.keeper)

    @property
    def is_current(self) -> bool:
        """Whether it is on top.

        Textual also counts what is under a form, and draws all of the form again for each change
        below it. The page behind shows what has changed whenever the form is drawn anew, and once
        the form has closed.
        """
        return super().is_current and self.app.screen is self

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Offer only the keys that can do something."""
        if action in self.NEED_CHOSEN and not self._has_chosen:
            return False
        if action == "correct_entry":
            return self.CORRECTS and self._has_chosen
        return super().check_action(action, parameters)

    def offer(self, *, has_chosen: bool) -> None:
        """Offer the keys that act on what is chosen, or stop offering them."""
        if has_chosen != self._has_chosen:
            self._has_chosen = has_chosen
            self.refresh_bindings()

    def compose(self) -> ComposeResult:
        """Head, page, keys."""
        yield HeadLine()
        yield from self.compose_page()
        yield KeyLine()

    def compose_page(self) -> ComposeResult:
        """What is between head and keys."""
        raise NotImplementedError

    def read(self) -> None:
        """Read what the page shows from the shelf and show it."""
        raise NotImplementedError

    def on_mount(self) -> None:
        """Read for the first time, and whenever the shelf changes."""
        self.host.shelf_changed.subscribe(self, self._shelf_changed)
        self.read()

    def on_unmount(self) -> None:
        """A page closed for good hears no more of the shelf, and so can be forgotten."""
        self.host.shelf_changed.unsubscribe(self)

    def on_screen_resume(self, event: ScreenResume) -> None:
        """What changed while another page was open is read now."""
        if self._is_stale:
            self._shelf_changed(None)

    _is_stale = False

    def _shelf_changed(self, _: None) -> None:
        if self.is_active:
            self._is_stale = False
            self.attempt(self.read)
        else:
            self._is_stale = True

    def open_over(self, screen: Screen[None]) -> None:
        """Open a page over this one, but only once for a key that repeats."""
        if self.is_active:
            self.app.push_screen(screen)

    def attempt(self, do: Callable[[], T]) -> T | None:
        """Run a use case; what it refuses is shown in a toast."""
        try:
            return do()
        except StillroomError as error:
            self.host.refuse(error)
            return None

    def to_correct(self) -> "Start | None":
        """What is chosen, and the row to begin with; None where a message was shown instead.

        Refused where nothing of it can be corrected.
        """
        raise NotImplementedError

    def action_correct_entry(self) -> None:
        """Open the form that corrects what is chosen."""
        if chosen := self.attempt(self.to_correct):
            self.host.correct(*chosen)

    def action_print(self) -> None:
        """Show what can be printed, with this page's own paper first."""
        self.host.show_papers(self.PAPER)

    def head(self, left: str | Text, right: str | Text = "") -> None:
        """Set the line above the page: the page's own words, and the day."""
        line = self.query_one(HeadLine)
        line.left = Text(left) if isinstance(left, str) else left
        day = f"{self.keeper.today:%a} {self.wording.day(self.keeper.today)}"
        line.who = safe(self.keeper.maker)
        marks = Text.assemble(right, "  " if right else "", self.host.badge)
        today = self.keeper.today
        line.shorter = (Text.assemble(marks, f"{today.day} {today:%b}"), marks)
        line.right = Text.assemble(right, "  " if right else "", self.host.badge, day)
