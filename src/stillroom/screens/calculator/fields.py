"""The fields of a calculator's form, and its lists of rows."""

from collections.abc import Mapping, Sequence
from enum import Enum, auto

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Horizontal, Vertical
from textual.events import Click
from textual.message import Message
from textual.widget import Widget
from textual.widgets import Input, Static

from stillroom.errors import NotUnderstood
from stillroom.keeping.wording import Wording
from stillroom.reckoning.kinds import Kind
from stillroom.reckoning.registry import Field, Scalar, Value
from stillroom.screens.kit.choice import Pick
from stillroom.screens.kit.fields import Entry, Reader, amount, words
from stillroom.screens.kit.leaving import take_away
from stillroom.screens.kit.placed_once import PlacedOnce

Row = Mapping[str, Scalar]


ROWS_SHOWN = 8
"""Rows of a list that get fields of their own; a shelf may know hundreds of strainings."""


_NEEDS = {
    Kind.VOLUME: "a volume",
    Kind.MASS: "a weight",
    Kind.STRENGTH: "a strength",
    Kind.RATIO: "a ratio",
    Kind.MONEY: "a price",
}


class RowField(Entry[float | str]):
    """A field of a row: its name is above the row, and its problems below."""

    DEFAULT_CSS = """
    RowField { width: 1fr; margin-right: 1; }
    RowField > .taker { width: 1fr; margin: 0; }
    """

    class Wrong(Message):
        """What was typed cannot be."""

        def __init__(self, cell: "RowField", problem: str) -> None:
            super().__init__()
            self.cell = cell
            self.problem = problem

    def mark_wrong(self, problem: str) -> None:
        """Have the row say what is wrong."""
        self.add_class("-wrong")
        self.post_message(self.Wrong(self, problem))


class Slot:
    """One value of a form: a field of the calculator and the widget it is filled in with."""

    def __init__(self, field: Field, value: Scalar, wording: Wording, *, in_row: bool) -> None:
        self.field = field
        self.wording = wording
        self.reading: Reader[float | str] | None = None
        """How an instrument's reading is read, which other fields have a say in."""
        self.entry: Entry[float | str] | None = None
        self.widget: Widget
        if field.choices:
            chosen = None if value is None else str(value)
            pick = Pick(field.label, field.choices, chosen)
            self.choice = pick.choice
            self.widget = self.choice if in_row else pick
        else:
            make = RowField if in_row else Entry[float | str]
            self.widget = self.entry = make(
                field.label, self._reader(), self._text(value), hint="", required=False
            )
            self._advise()

    def _reader(self) -> Reader[float | str]:
        if self.reading:
            return self.reading
        return words if self.field.kind is Kind.TEXT else amount(self.field.kind, self.wording)

    def _text(self, value: Scalar) -> str:
        if value is None or self.field.kind is Kind.TEXT:
            return str(value or "")
        # Rounded to what can be measured: a usual 500 mL is 16.9 fl oz, not 16.907011351.
        return self.wording.of(self.field.kind, float(value))

    @property
    def target(self) -> Widget:
        """What takes the keys."""
        return self.entry.field if self.entry else self.choice

    @property
    def state(self) -> str:
        """Its contents, as typed."""
        return self.entry.typed if self.entry else self.choice.value

    @property
    def is_blank(self) -> bool:
        """Whether nothing was typed where something can be."""
        return self.entry is not None and not self.entry.typed.strip()

    def value(self) -> Scalar:
        """The value, None where it is blank; raises NotUnderstood for what cannot be read."""
        if self.entry is None:
            return self.choice.value
        if self.is_blank:
            return None
        try:
            return self.entry.reader(self.entry.typed)
        except NotUnderstood as error:
            raise NotUnderstood(f"{self.field.label}: {error}") from error

    def type(self, text: str) -> None:
        """Restore it to an earlier `state`."""
        if self.entry:
            self.entry.typed = text
        else:
            self.choice.value = text

    def put(self, value: Scalar) -> None:
        """Fill in a value."""
        if self.entry:
            self.entry.typed = self._text(value)
        elif value is not None:
            self.choice.value = str(value)

    def read_as(self, reading: Reader[float | str]) -> None:
        """Read what is typed as an instrument's reading from now on."""
        self.reading = reading
        if self.entry:
            self.entry.reader = reading

    def refit(self, wording: Wording) -> None:
        """Write it in other units; what cannot be read stays as typed, and so does a reading."""
        value = self.entry.peek() if self.entry and not self.reading else None
        self.wording = wording
        if self.entry:
            self.entry.reader = self._reader()
            if value is not None:
                self.put(value)
            self._advise()

    def _advise(self) -> None:
        """Show the unit beside the field, and in the blank field whether it may stay blank."""
        kind = self.field.kind
        if self.entry and kind not in (Kind.TEXT, Kind.RATIO):
            self.entry.advise(self.wording.unit(kind))
        self._say_optional()

    def _say_optional(self) -> None:
        if self.entry:
            self.entry.field.placeholder = "" if self.field.required else "optional"

    def ask(self) -> None:
        """Note quietly, without a mark, that it can't stay blank."""
        if self.entry:
            self.entry.field.placeholder = f"needs {_NEEDS.get(self.field.kind, 'a number')}"

    def mark_wrong(self, problem: str) -> None:
        """Say what is wrong with it."""
        if self.entry:
            self.entry.mark_wrong(problem)

    def settle(self) -> None:
        """Clear the problem shown at the field."""
        if self.entry:
            self.entry.remove_class("-wrong")
            self._say_optional()


class RowFields(Vertical, PlacedOnce):
    """One row of a list."""

    DEFAULT_CSS = """
    RowFields { height: auto; }
    RowFields > Horizontal { height: 1; }
    RowFields Choice { width: 1.4fr; margin-right: 1; }
    RowFields > .row--problem { display: none; color: $text-error; text-style: bold; }
    RowFields > .row--problem.-said { display: block; }
    """

    def __init__(self, columns: Sequence[Field], row: Row, wording: Wording) -> None:
        super().__init__()
        self.slots = [Slot(column, row.get(column.key), wording, in_row=True) for column in columns]
        self._problem = Static("", classes="row--problem", markup=False)

    def compose(self) -> ComposeResult:
        """The fields side by side; what is wrong with one comes below once something is."""
        yield Horizontal(*(slot.widget for slot in self.slots))

    @property
    def is_blank(self) -> bool:
        """Whether it holds nothing but a default temperature."""
        return all(slot.is_blank or slot.field.kind is Kind.TEMPERATURE for slot in self.slots)

    def values(self) -> Row:
        """The row as read."""
        return {slot.field.key: slot.value() for slot in self.slots}

    @on(RowField.Wrong)
    def _say(self, event: RowField.Wrong) -> None:
        event.stop()
        # What was typed since may have corrected it.
        if event.cell.has_class("-wrong"):
            if not self._problem.is_attached:
                self.mount(self._problem)
            self._problem.update(f"! {event.cell.label}: {event.problem}")
            self._problem.add_class("-said")

    @on(Input.Changed)
    def _typing(self) -> None:
        self.forget_problem()

    def forget_problem(self) -> None:
        """Clear the problem shown in the row."""
        self._problem.remove_class("-said")


class AddRow(Static, PlacedOnce, can_focus=True):
    """The place below a list where another row is asked for."""

    DEFAULT_CSS = """
    AddRow { width: auto; color: $text-muted; }
    AddRow:focus { background: $primary-muted; color: $foreground; text-style: bold; }
    """
    BINDINGS = [
        Binding("enter,space", "add", "Add row", show=False, id="calculator.add_row_here",
                tooltip="Add a row to this list"),
    ]  # fmt: skip

    class Pressed(Message):
        """The + of a table was chosen: one more row."""

    def action_add(self) -> None:
        """Ask the list for another row."""
        self.post_message(self.Pressed())

    def on_click(self, event: Click) -> None:
        """So does a click."""
        self.action_add()


class Rows(Vertical, PlacedOnce):
    """A list field: its name, the names of its columns, its rows, and the way to another."""

    DEFAULT_CSS = """
    Rows { height: auto; margin-top: 1; }
    Rows > .rows--names { height: 1; color: $text-muted; }
    Rows > .rows--names > Static {
        width: 1fr; margin-right: 1; text-wrap: nowrap; text-overflow: ellipsis;
    }
    Rows > .rows--names > .-choice { width: 1.4fr; }
    Rows > .rows--list { height: auto; }
    Rows > .-none { display: none; }
    """

    def __init__(self, field: Field, rows: Sequence[Row], wording: Wording) -> None:
        super().__init__()
        self.field = field
        self.wording = wording
        self.fields: list[RowFields] = []
        self._more: tuple[Row, ...] = ()
        self._heading = Static(field.label, classes="heading", markup=False)
        self._names = Horizontal(classes="rows--names")
        self._list = Vertical(classes="rows--list")
        self._more_line = Static("", classes="quiet", markup=False)
        self._add = AddRow("+ add a row", markup=False)
        self._take(rows)

    def _take(self, rows: Sequence[Row]) -> None:
        first, self._more = rows[:ROWS_SHOWN], tuple(rows[ROWS_SHOWN:])
        self.fields = [RowFields(self.field.columns, row, self.wording) for row in first]
        self._dress()

    def _dress(self) -> None:
        self._names.set_class(not self.fields, "-none")
        self._more_line.set_class(not self._more, "-none")
        self._more_line.update(f"and {len(self._more)} more, included in the result")

    def compose(self) -> ComposeResult:
        """Heading, column names, rows, the rest in number, the way to another."""
        yield self._heading
        with self._names:
            for column in self.field.columns:
                classes = "-choice" if column.choices else ""
                yield Static(column.label, classes=classes, markup=False)
        with self._list:
            yield from self.fields
        yield self._more_line
        yield self._add

    @property
    def state(self) -> tuple[str, ...]:
        """Its contents, as typed."""
        return tuple(slot.state for row in self.fields for slot in row.slots)

    @property
    def filled(self) -> list[RowFields]:
        """The rows that have anything in them."""
        return [row for row in self.fields if not row.is_blank]

    def values(self) -> list[Row]:
        """The rows as read."""
        return [*(row.values() for row in self.filled), *self._more]

    def put(self, rows: Sequence[Row]) -> None:
        """Fill it in again."""
        for row in self.fields:
            if row.is_attached:
                take_away(row)
        self._take(rows)
        if self.is_mounted:
            self._list.mount(*self.fields)

    @property
    def more(self) -> tuple[Row, ...]:
        """Rows included without fields of their own."""
        return self._more

    def type(self, texts: Sequence[str], more: tuple[Row, ...]) -> None:
        """Restore it to an earlier `state`, before it is on screen."""
        columns = self.field.columns
        self.fields = [
            RowFields(columns, {}, self.wording) for _ in range(0, len(texts), len(columns))
        ]
        slots = [slot for row in self.fields for slot in row.slots]
        for slot, text in zip(slots, texts, strict=True):
            slot.type(text)
        self._more = more
        self._dress()

    async def add(self, row: Row | None = None) -> None:
        """Another row, with the keys in it; blank except for usual values."""
        if row is None:
            row = {c.key: c.default for c in self.field.columns if _is_usual(c)}
        fields = RowFields(self.field.columns, row, self.wording)
        self.fields.append(fields)
        self._dress()
        await self._list.mount(fields)
        self.screen.set_focus(fields.slots[0].target)

    def remove_row(self, fields: RowFields) -> None:
        """Take a row away; the keys go to the one that takes its place, or below the list."""
        at = self.fields.index(fields)
        self.fields.remove(fields)
        self._dress()
        near = self.fields[at : at + 1] or self.fields[-1:]
        self.screen.set_focus(near[0].slots[0].target if near else self._add)
        take_away(fields)

    def refit(self, wording: Wording) -> None:
        """Write every row in other units."""
        self.wording = wording
        for row in self.fields:
            for slot in row.slots:
                slot.refit(wording)

    @on(AddRow.Pressed)
    async def _add_row(self) -> None:
        await self.add()


def _is_usual(column: Field) -> bool:
    return bool(column.choices) or column.kind is Kind.TEMPERATURE


class Pointed(Enum):
    """How a problem could be shown in a form."""

    MISSING = auto()
    """Something is still to be filled in."""
    WRONG = auto()
    """Said at the field it belongs to."""
    NOWHERE = auto()
    """It belongs to no one field."""


def as_scalar(value: Value) -> Scalar:
    """A value that is no list."""
    assert value is None or isinstance(value, str | int | float)
    return value


def as_rows(value: Value) -> Sequence[Row]:
    """A value that is a list of rows."""
    if value is None:
        return ()
    assert not isinstance(value, str | int | float)
    return value
