"""Fields that people fill in: typed text with a reader, a choice, a pick from a list."""

from collections.abc import Callable, Sequence
from datetime import date
from typing import Generic, TypeVar, cast

from textual import on
from textual.app import ComposeResult
from textual.containers import Horizontal
from textual.events import Paste
from textual.strip import Strip
from textual.suggester import SuggestFromList
from textual.widgets import Input, Static

from stillroom.dates import parse_day, parse_last_day
from stillroom.errors import NotUnderstood
from stillroom.quantities import Notation, UnitSystem
from stillroom.reckoning.kinds import Kind
from stillroom.screens.kit.choice import Pick
from stillroom.screens.kit.lines import show
from stillroom.screens.kit.named_field import NamedField, Taker
from stillroom.screens.kit.placed_once import PlacedOnce

S = TypeVar("S")
T = TypeVar("T")
_NEW_LINE = " // "
Reader = Callable[[str], T]
"""Turns what was typed into a value; raises NotUnderstood saying what would be readable."""


class OneLine(Input, Taker):
    """A line that takes all of a pasted text, its lines put side by side."""

    def render_line(self, y: int) -> Strip:
        """Underline all of an empty field, too: its ground alone is hard to see."""
        width = self.scrollable_content_region.width
        return super().render_line(y).extend_cell_length(width, self.rich_style)

    def on_paste(self, event: Paste) -> None:
        """Paste in place of Textual's own way, which takes the first line only."""
        event.prevent_default()
        event.stop()
        line = " ".join(event.text.split())
        if self.selection.is_empty:
            self.insert_text_at_cursor(line)
        else:
            self.replace(line, *self.selection)


class Prefilled(str):
    """A rounded figure, and the one it stands for until it is typed over."""

    value: float

    def __new__(cls, shown: str, value: float) -> "Prefilled":
        """A text that shows `shown` and stands for `value`."""
        made = super().__new__(cls, shown)
        made.value = value
        return made


class Entry(NamedField, Generic[T]):
    """One field of a form: its name, what is typed, how to fill it, and what is wrong with it.

    Two of them fit on a line where they carry the class `-half`; the hint is then shown in the
    empty field itself.
    """

    DEFAULT_CSS = """
    Entry > Input { background: $surface; text-style: underline; }
    Entry > Input:focus { background: $primary-muted; }
    Entry.-wide > .taker { width: 1fr; }
    Entry > .entry--problem { height: auto; color: $text-error; text-style: bold; display: none; }
    Entry.-wrong > .entry--problem { display: block; }
    """

    def __init__(
        self,
        label: str,
        reader: Reader[T],
        value: str = "",
        *,
        hint: str = "",
        required: bool = True,
        suggestions: Sequence[str] = (),
        max_length: int = 0,
        id: str | None = None,
        classes: str | None = None,
    ) -> None:
        suggester = SuggestFromList(suggestions, case_sensitive=False) if suggestions else None
        self.field = OneLine(
            value,
            compact=True,
            suggester=suggester,
            select_on_focus=True,
            max_length=max_length,  # 0 is no limit
        )
        super().__init__(label, self.field, hint=hint, id=id, classes=classes)
        self.reader = reader
        self.required = required
        self._prefilled = value
        self._first_reader = reader
        self._wrong_text = ""
        self._problem_line = Static("", classes="entry--problem", markup=False)

    def on_mount(self) -> None:
        """If there is no room beside the field, the hint goes into it."""
        if self.has_class("-half") or self.has_class("-wide"):
            self.field.placeholder = self.hint

    def hint_inside(self, is_inside: bool) -> None:
        """Show the hint in the empty field, where there is no room beside it; or beside it."""
        if not (self.has_class("-half") or self.has_class("-wide")):
            self.field.placeholder = self.hint if is_inside else ""

    def compose(self) -> ComposeResult:
        """The input; what is wrong with it comes below once something is."""
        yield from super().compose()
        if self._wrong_text:
            yield self._problem_line

    @property
    def typed(self) -> str:
        """The text as typed."""
        return self.field.value

    @typed.setter
    def typed(self, text: str) -> None:
        self._prefilled = text
        self.field.value = text

    @property
    def takes_words(self) -> bool:
        """Whether any text will do."""
        return self.reader in (words, note_lines)

    def read(self) -> T | None:
        """The value; None where it is blank and may be. Shows what is wrong and raises it."""
        try:
            return self._value()
        except NotUnderstood as error:
            self.mark_wrong(str(error))
            raise

    def needed(self) -> T:
        """The value, which must be there."""
        value = self.read()
        if value is None:
            problem = f"{self.label} is needed."
            self.mark_wrong(problem)
            raise NotUnderstood(problem)
        return value

    def peek(self) -> T | None:
        """The value if there is a readable one, without a word."""
        try:
            return self._value()
        except NotUnderstood:
            return None

    def _value(self) -> T | None:
        if not self.typed.strip():
            if self.required:
                raise NotUnderstood(f"{self.label} is needed.")
            return None
        shown = self._prefilled
        if isinstance(shown, Prefilled) and (self.typed, self.reader) == (
            shown,
            self._first_reader,
        ):
            return cast("T", shown.value)
        return self.reader(self.typed)

    def mark_wrong(self, problem: str) -> None:
        """Show at the field what is wrong."""
        self._wrong_text = self.typed
        self.add_class("-wrong")
        if self.is_mounted and not self._problem_line.is_attached:
            self.mount(self._problem_line)
        show(self._problem_line, f"! {problem}")

    def advise(self, hint: str) -> None:
        """Change the hint."""
        self.hint = hint
        self.refresh()
        if self.field.placeholder:
            self.field.placeholder = hint

    def on_input_changed(self) -> None:
        """What is being typed is not wrong yet; news of what was typed before may come late."""
        if self.typed != self._wrong_text:
            self.remove_class("-wrong")

    def on_input_blurred(self) -> None:
        """Once the field is left, report what can't be read."""
        if self.typed.strip():
            try:
                self.reader(self.typed)
            except NotUnderstood as error:
                self.mark_wrong(str(error))


class DayEntry(Entry[date]):
    """A field for a day, past or today by default; once left, it shows the date in full."""

    def __init__(
        self,
        label: str,
        today: date,
        value: date | None = None,
        *,
        wording: Notation,
        past: bool = True,
        hint: str = "",
        required: bool = True,
        id: str | None = None,
    ) -> None:
        self.wording = wording
        super().__init__(
            label,
            lambda text: parse_day(text, today, past=past),
            wording.day(value),
            hint=hint,
            required=required,
            id=id,
        )

    @on(Input.Blurred)
    def _say_in_full(self) -> None:
        day = self.peek()
        if day is not None:
            self.typed = self.wording.day(day)


class LastDayEntry(DayEntry):
    """A field for the last day of a period, whose first day is in the field called since."""

    def __init__(self, label: str, today: date, value: date, *, wording: Notation, id: str) -> None:
        super().__init__(label, today, value, wording=wording, id=id)
        self.today = today
        self.reader = self._last_day

    def _last_day(self, text: str) -> date:
        first = self.screen.query_one("#since", DayEntry).peek()
        return parse_last_day(text, self.today, first)


class Pair(Horizontal, PlacedOnce):
    """Two half-width fields on one line."""

    DEFAULT_CSS = """
    Pair { height: auto; }
    Pair > Entry, Pair > Pick { width: 1fr; }
    Pair > .-second { margin-left: 2; }
    """

    def __init__(self, first: Entry[T] | Pick, second: "Entry[S] | Pick") -> None:
        first.add_class("-half")
        second.add_class("-half", "-second")
        super().__init__(first, second)


def amount(kind: Kind, wording: Notation) -> Reader[float]:
    """A reader of quantities of a kind, in the units of this shelf."""
    return lambda text: wording.read(kind, text)


def optional_figure(
    label: str, kind: Kind, value: float | None, said: Notation, key: str, hint: str
) -> Entry[float]:
    """A field for a quantity that may be left blank, with what is known of it."""
    return Entry(label, amount(kind, said), prefilled(kind, value, said),
                 id=key, required=False, hint=hint)  # fmt: skip


def example(metric: str, ounces: str, wording: Notation) -> str:
    """A hint at how an amount can be typed, in the units of this shelf."""
    return f"e.g. {metric if wording.units is UnitSystem.METRIC else ounces}"


def whole_number(kind: Kind, wording: Notation) -> Reader[int]:
    """A reader of counts and days."""
    return lambda text: int(wording.read(kind, text))


def words(text: str) -> str:
    """A reader that takes any text."""
    return text.strip()


def on_one_line(text: str) -> str:
    """A note of several lines, written in a field of one line.

    >>> on_one_line("for tea\\nnot in spring")
    'for tea // not in spring'
    """
    return text.replace("\n", _NEW_LINE)


def note_lines(text: str) -> str:
    """A reader of notes: // begins a new line.

    >>> note_lines("for tea // not in spring")
    'for tea\\nnot in spring'
    """
    return "\n".join(line.strip() for line in text.split(_NEW_LINE)).strip()


def prefilled(kind: Kind, value: float | None, wording: Notation) -> str:
    """What to put into a field so that it reads back to the same value until it is changed."""
    if value is None:
        return ""
    return Prefilled(wording.of(kind, value), value)


def why_entry(*, is_required: bool) -> Entry[str]:
    """A field for the reason of a correction."""
    hint = "for the ledger" if is_required else "for the ledger; may be blank"
    return Entry("Reason", words, id="why", required=is_required, classes="-wide", max_length=2000,
                 hint=hint)  # fmt: skip
