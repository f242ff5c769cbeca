"""The frame of every form and question that opens over a page."""

from typing import TYPE_CHECKING, Any, ClassVar, Generic, TypeVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical, VerticalScroll
from textual.content import Content
from textual.widget import Widget
from textual.widgets import Input, Static

from stillroom.errors import (
    AnothersAct,
    DateInDoubt,
    NeedsConfirmation,
    NotUnderstood,
    ReasonNeeded,
    StillroomError,
)
from stillroom.keeping.undo import undo
from stillroom.screens.host import Host, host_of
from stillroom.screens.kit.choice import Choice
from stillroom.screens.kit.dims_page import DimsPage
from stillroom.screens.kit.fields import Entry, words
from stillroom.screens.kit.inside import inside
from stillroom.screens.kit.keyline import KeyLine
from stillroom.screens.kit.lines import show
from stillroom.screens.kit.text import safe

if TYPE_CHECKING:
    from stillroom.keeping.trace.views import ScannedThing

R = TypeVar("R")

ONE_COLUMN_BELOW = 64
"""Columns of a screen on which a form has its fields below each other, hints inside them."""


def _act_keys(act: str, dismiss: str) -> tuple[Binding, ...]:
    """The two keys that end a form, by the names of what they do."""
    return (
        Binding("ctrl+s", "keep", act, id="dialog.keep", tooltip=act, priority=True),
        Binding("escape", "leave", dismiss, id="dialog.leave", tooltip=f"{dismiss} this form"),
    )


class Dialog(DimsPage[R | None], Generic[R]):
    """A form that holds what was typed until it is saved, or cancelled on purpose.

    A subclass names its act in `ACT`, yields its fields from `compose_form` and does the work in
    `keep`, which reads the fields and calls a use case. What the use case refuses is shown here
    and the form stays open.
    """

    ACT: ClassVar[str] = "Save"
    """What ctrl+s does, in the words of its key; `Save` only where there is no better word."""
    DISMISS: ClassVar[str] = "Cancel"
    """What escape does; `Close` where nothing can be typed."""

    BINDINGS = [
        *_act_keys("Save", "Cancel"),
        # With priority, so that keys typed ahead of the screen still land in the right field.
        Binding("tab,down", "app.focus_next", "Next field", show=False, id="dialog.next",
                tooltip="Go to the next field", priority=True),
        Binding("shift+tab,up", "app.focus_previous", "Previous field", show=False,
                id="dialog.before", tooltip="Go back to the previous field", priority=True),
        Binding("enter", "enter", "Next field, or save at the last", show=False,
                id="dialog.enter", tooltip="Go to the next field; at the last one, save",
                priority=True),
        Binding("f1", "app.explain", "Help", id="dialog.help",
                tooltip="Show what the keys of this form do"),
        Binding("pagedown", "scroll_fields(1)", "Scroll down", show=False, id="dialog.read_on",
                tooltip="Scroll down in a form longer than the screen", priority=True),
        Binding("pageup", "scroll_fields(-1)", "Scroll up", show=False, id="dialog.read_back",
                tooltip="Scroll up in a form longer than the screen", priority=True),
    ]  # fmt: skip
    DEFAULT_CSS = """
    Dialog { align: center middle; }
    Dialog > .dialog--box {
        width: 76; max-width: 100%; height: auto; max-height: 100%;
        background: $background; border: round $primary; border-title-color: $accent;
        border-title-style: bold; padding: 0 1;
    }
    Dialog > .dialog--box > VerticalScroll { height: auto; max-height: 100%; }
    Dialog .dialog--problem { height: auto; color: $text-error; text-style: bold; display: none; }
    Dialog .dialog--problem.-said { display: block; margin-top: 1; }
    Dialog.-slim Pair, Dialog.-slim BottleFields { layout: vertical; }
    Dialog.-slim Pair > .-second { margin-left: 0; }
    Dialog.-slim Pair > Entry, Dialog.-slim Pair > Pick { width: 100%; }
    Dialog.-slim NamedField > .taker { width: 1fr; margin-left: 14; }
    Dialog KeyLine {
        dock: none; margin-top: 1; padding: 0; background: $background;
        & > .keyline--key, & > .keyline--word { background: $background; }
    }
    """

    TITLE_TEXT = ""
    """The title in the frame."""
    LAST_FIELD: ClassVar[str] = ""
    """The field at which enter saves, where one that is seldom filled in comes after it."""
    CHANGES_SHELF: ClassVar[bool] = True
    """Whether saving writes to the shelf: such a form does not open on a read-only one."""
    corrects = False
    """Whether it begins with what is recorded: saved unchanged, it writes nothing."""
    began_with: object = None
    """What was recorded then, where it has several fields: it does not overwrite what others have
    written since."""

    def __init_subclass__(cls, **options: Any) -> None:
        """Give the form keys that name its own act."""
        own: list[BindingType] = list(vars(cls).get("BINDINGS", ()))
        cls.BINDINGS = [*_act_keys(cls.ACT, cls.DISMISS), *own]
        super().__init_subclass__(**options)

    def __init__(self) -> None:
        super().__init__()
        self._before: tuple[str, ...] = ()
        """What was in the fields when the form opened."""
        # News of keys reaches a form after the fields have them, so what was shown and asked is
        # tied to what was in the fields at that moment.
        self._said_of: tuple[str, ...] = ()
        self._asked_of: tuple[str, ...] | None = None
        self._date_asked_of: tuple[str, ...] | None = None
        self._leaving: tuple[str, ...] | None = None
        self._room = 0
        """Lines that the fields may take."""

    @property
    def host(self) -> Host:
        """The app, as a form may use it."""
        return host_of(self)

    @property
    def confirmed(self) -> bool:
        """Whether the person has been asked about exactly what is in the fields now."""
        return self._asked_of == self._typed()

    def compose(self) -> ComposeResult:
        """A framed box with the form, a line for problems, and the keys."""
        # Now, so that the first picture has the columns that stay.
        self.set_class(self.app.size.width < ONE_COLUMN_BELOW, "-slim")
        with Vertical(classes="dialog--box") as box:
            box.border_title = Content(safe(self.TITLE_TEXT))  # never markup: it may hold a name
            with VerticalScroll(can_focus=False):
                yield from self.compose_form()
            yield from self.compose_below()
            yield Static("", classes="dialog--problem", markup=False)
            yield KeyLine()

    def compose_form(self) -> ComposeResult:
        """The fields of the form."""
        raise NotImplementedError

    def compose_below(self) -> ComposeResult:
        """What stays in sight below the fields however far they are scrolled."""
        yield from ()

    def keep(self) -> R:
        """Read the fields and do it; raises StillroomError with what is wrong."""
        raise NotImplementedError

    def on_mount(self) -> None:
        """Remember what was in the fields at first, to know whether something was typed."""
        self._before = self._typed()
        # How high a sentence below the fields is, is known once it is laid out.
        self.screen_layout_refresh_signal.subscribe(self, lambda _: self._fit(), immediate=True)

    def on_resize(self) -> None:
        """Put the fields in one column where there is room for one, and what is below in sight."""
        is_slim = self.size.width < ONE_COLUMN_BELOW
        self.set_class(is_slim, "-slim")
        for entry in inside(self, Entry):
            entry.hint_inside(is_slim)
        self._fit()

    def _fit(self) -> None:
        """Let the fields scroll, so that what is below them is always in sight."""
        for box in self.query(".dialog--box"):  # none yet at the first resize of all
            below = sum(
                each.outer_size.height + each.styles.margin.height
                for each in box.children
                if each is not self._fields and each.display
            )
            room = max(3, self.size.height - below - 2)
            natural = self._fields.virtual_size.height
            if self._room != room and (self._room or natural > room):
                self._room = room
                self._fields.styles.max_height = room

    def _typed(self) -> tuple[str, ...]:
        return tuple(
            field.value for field in self.walk_children(Widget) if isinstance(field, Input | Choice)
        )

    def action_keep(self) -> None:
        """Save, once the focused field has received every key that was typed into it."""
        (self.focused or self).call_later(self._keep)

    def _keep(self) -> None:
        if not self.is_current:  # asked twice, and the first time has closed the dialog
            return
        if self.corrects and self._typed() == self._before:
            self.dismiss(None)
            return
        if self._date_asked_of == self._typed():
            self.host.keeper.trust_date()
        try:
            result = self._keep_over_the_same()
        except DateInDoubt as question:  # apart from the form's own questions: each is asked
            self._date_asked_of = self._typed()
            self._ask(question)
        except NeedsConfirmation as question:
            self._asked_of = self._typed()
            self._ask(question)
        except ReasonNeeded as asked:
            self.app.push_screen(ReasonDialog(str(asked)), self._keep_because)
        except NotUnderstood as error:
            # A problem shown at its field is not shown twice.
            wrong = bool(self.query("Entry.-wrong"))
            self.say("Not saved yet: see what is marked with ! above." if wrong else str(error))
            self._go_to_problem()
        except StillroomError as error:
            self.say(str(error))
        else:
            self.dismiss(result)

    def _keep_because(self, why: str | None) -> None:
        """Save for a reason; without one nothing is saved."""
        if why:
            with self.host.keeper.because(why):
                self._keep()

    def _ask(self, question: NeedsConfirmation) -> None:
        """Show a question and the key that confirms it."""
        asked = str(question)
        if not asked.endswith("?"):
            asked = f"{asked} {self.ACT} anyway?"
        self.say(f"{asked} Press ctrl+s again.")

    def _keep_over_the_same(self) -> R:
        if self.began_with is None:
            return self.keep()
        with self.host.keeper.only_if(lambda: self.written() == self.began_with):
            return self.keep()

    def written(self) -> object:
        """What is recorded now of what it corrects, to compare with what it began with."""
        return None

    def say(self, problem: str) -> None:
        """Show a sentence in the dialog's line for problems; blank clears it."""
        self._said_of = self._typed()
        line = self.query_one(".dialog--problem", Static)
        show(line, f"! {problem}" if problem else "")
        line.set_class(bool(problem), "-said")

    def _go_to_problem(self) -> None:
        for wrong in self.query("Entry.-wrong Input"):
            wrong.focus()
            return

    def action_leave(self) -> None:
        """Cancel; where something was typed, only when asked twice."""
        if not self.holds_back("esc"):
            self.dismiss(None)

    def holds_back(self, key: str) -> bool:
        """Whether cancelling would lose what was typed; warned of once."""
        typed = self._typed()
        if typed in (self._before, self._leaving):
            return False
        self._leaving = typed
        self.say(f"Nothing is saved yet. Press {key} again to discard what you typed.")
        return True

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Enter walks through fields; other widgets have a use of their own for it."""
        if action == "scroll_fields":
            return self._fields.max_scroll_y > 0
        return action != "enter" or isinstance(self.focused, Input | Choice)

    def take_scan(self, thing: "ScannedThing") -> object:
        """Write a scanned code into a blank field for words; no other field has a use for it."""
        field = self.focused.parent if self.focused else None
        if (
            isinstance(self.focused, Input)
            and isinstance(field, Entry)
            and field.takes_words
            and not self.focused.value
        ):
            self.focused.insert_text_at_cursor(thing.code)
        else:
            self.say(f"{thing.code} was scanned. {self.ACT} or {self.DISMISS.lower()} first.")
        return None

    @property
    def _fields(self) -> VerticalScroll:
        """What scrolls where the form is longer than the screen."""
        return self.query_one(".dialog--box > VerticalScroll", VerticalScroll)

    def action_scroll_fields(self, pages: int) -> None:
        """Scroll the fields."""
        height = max(1, self._fields.size.height - 1)
        self._fields.scroll_relative(y=pages * height, animate=False)

    def action_enter(self) -> None:
        """Go to the next field; from the last one, save."""
        fields = [each for each in self.focus_chain if isinstance(each, Input | Choice)]
        is_last = bool(fields) and fields[-1] is self.focused
        if self.LAST_FIELD:
            last = self.query_one(f"#{self.LAST_FIELD}")
            is_last = is_last or last in (self.focused.ancestors_with_self if self.focused else ())
        if is_last:
            self.action_keep()
        else:
            self.focus_next()

    @on(Input.Changed)
    @on(Choice.Changed)
    def _typing(self) -> None:
        if self._typed() != self._said_of:
            self.say("")


class ReasonDialog(Dialog[str]):
    """Asks for the reason of what changes something closed."""

    ACT = "Give reason"
    TITLE_TEXT = "Why?"
    CHANGES_SHELF = False

    def __init__(self, sentence: str) -> None:
        super().__init__()
        self.sentence = sentence

    def compose_form(self) -> ComposeResult:
        """What is closed, and the reason."""
        yield Static(self.sentence, markup=False)
        yield Entry("Reason", words, id="reason", classes="-wide", max_length=2000)

    def keep(self) -> str:
        """The reason as typed."""
        return str(self.query_one("#reason", Entry).needed())


class DateDialog(Dialog[bool]):
    """Asks whether this computer's date is right, before a key writes under it."""

    ACT = "Date is right"
    TITLE_TEXT = "Is the date right?"
    CHANGES_SHELF = False

    def __init__(self, question: str) -> None:
        super().__init__()
        self.question = question

    def compose_form(self) -> ComposeResult:
        """What is odd about it."""
        yield Static(self.question, markup=False)

    def keep(self) -> bool:
        """Trust it from now on."""
        self.host.keeper.trust_date()
        return True


class UndoDialog(Dialog[str]):
    """Asks before another window's act is undone."""

    ACT = "Undo"
    TITLE_TEXT = "Undo another window's act?"

    def __init__(self, asked: AnothersAct) -> None:
        super().__init__()
        self.asked = asked

    def compose_form(self) -> ComposeResult:
        """What would be undone, and who did it."""
        yield Static(f"{self.asked} Press ctrl+s.", markup=False)

    def keep(self) -> str:
        """Undo it, and nothing else."""
        try:
            return undo(self.host.keeper, confirmed=self.asked.act)
        except AnothersAct as asked:  # yet another one was done since
            self.asked = asked
            raise
