"""The form of one calculator, drawn from its fields: what is typed, read, and not yet readable."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import Enum, auto
from functools import partial

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.events import Click
from textual.message import Message
from textual.widget import Widget
from textual.widgets import Input, Static

from stillroom.errors import NotUnderstood
from stillroom.keeping.preferences import Preferences
from stillroom.quantities import read_instrument, show, unit_of
from stillroom.reckoning.kinds import Kind
from stillroom.reckoning.registry import Calculator, Field, Scalar, Value
from stillroom.screens.kit.fields import Choice, Entry, Pick, Reader, amount, words
from stillroom.screens.kit.leaving import take_away

Row = Mapping[str, Scalar]
FormState = dict[str, str | tuple[str, ...]]

ROWS_SHOWN = 8
"""Rows of a list that get fields of their own; a shelf may know hundreds of strainings."""

_NEEDS = {
    Kind.VOLUME: "a volume",
    Kind.MASS: "a weight",
    Kind.STRENGTH: "a strength",
    Kind.RATIO: "a ratio",
    Kind.MONEY: "a price",
}


class Cell(Entry[float | str]):
    """A field of a row: its name stands above the row, and its problems below."""

    DEFAULT_CSS = """
    Cell { width: 1fr; margin-right: 1; }
    Cell Input { width: 1fr; }
    """

    class Wrong(Message):
        """What was typed cannot be."""

        def __init__(self, cell: "Cell", problem: str) -> None:
            super().__init__()
            self.cell = cell
            self.problem = problem

    def compose(self) -> ComposeResult:
        """The input alone."""
        yield self.field

    def complain(self, problem: str) -> None:
        """Have the row say what is wrong."""
        self.add_class("-wrong")
        self.post_message(self.Wrong(self, problem))


class Slot:
    """One value of a form: a field of the calculator and the widget it is filled in with."""

    def __init__(self, field: Field, value: Scalar, wanted: Preferences, *, in_row: bool) -> None:
        self.field = field
        self.wanted = wanted
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
            make = Cell if in_row else Entry[float | str]
            self.widget = self.entry = make(
                field.label, self._reader(), self._text(value), hint="", required=False
            )
            self._advise()

    def _reader(self) -> Reader[float | str]:
        if self.reading:
            return self.reading
        return words if self.field.kind is Kind.TEXT else amount(self.field.kind, self.wanted)

    def _text(self, value: Scalar) -> str:
        if value is None or self.field.kind is Kind.TEXT:
            return str(value or "")
        # Rounded to what can be measured: a usual 500 mL is 16.9 fl oz, not 16.907011351.
        wanted = self.wanted
        return show(self.field.kind, float(value), wanted.units, decimal_comma=wanted.decimal_comma)

    @property
    def target(self) -> Widget:
        """What takes the keys."""
        return self.entry.field if self.entry else self.choice

    @property
    def state(self) -> str:
        """What stands in it, as it stands."""
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
        """Have it stand as it once stood, by its `state`."""
        if self.entry:
            self.entry.typed = text
        else:
            self.choice.value = text

    def put(self, value: Scalar) -> None:
        """Fill it in."""
        if self.entry:
            self.entry.typed = self._text(value)
        elif value is not None:
            self.choice.value = str(value)

    def read_as(self, reading: Reader[float | str]) -> None:
        """Have what is typed read as an instrument's reading."""
        self.reading = reading
        if self.entry:
            self.entry.reader = reading

    def refit(self, wanted: Preferences) -> None:
        """Write it in other units; what cannot be read stays as typed, and so does a reading."""
        value = self.entry.peek() if self.entry and not self.reading else None
        self.wanted = wanted
        if self.entry:
            self.entry.reader = self._reader()
            if value is not None:
                self.put(value)
            self._advise()

    def _advise(self) -> None:
        """Beside the field its unit; in it, while it is blank, whether it may stay so."""
        kind = self.field.kind
        if self.entry and kind not in (Kind.TEXT, Kind.RATIO):
            self.entry.advise(unit_of(kind, self.wanted.units))
        self._say_optional()

    def _say_optional(self) -> None:
        if self.entry:
            self.entry.field.placeholder = "" if self.field.required else "optional"

    def ask(self) -> None:
        """Say quietly that it cannot stay blank."""
        if self.entry:
            self.entry.field.placeholder = f"needs {_NEEDS.get(self.field.kind, 'a number')}"

    def complain(self, problem: str) -> None:
        """Say what is wrong with it."""
        if self.entry:
            self.entry.complain(problem)

    def settle(self) -> None:
        """Take back what was said of it."""
        if self.entry:
            self.entry.remove_class("-wrong")
            self._say_optional()


class RowFields(Vertical):
    """One row of a list."""

    DEFAULT_CSS = """
    RowFields { height: auto; }
    RowFields > Horizontal { height: 1; }
    RowFields Choice { width: 1.4fr; margin-right: 1; }
    RowFields > .row--problem { display: none; color: $text-error; text-style: bold; }
    RowFields > .row--problem.-said { display: block; }
    """

    def __init__(self, columns: Sequence[Field], row: Row, wanted: Preferences) -> None:
        super().__init__()
        self.slots = [Slot(column, row.get(column.key), wanted, in_row=True) for column in columns]
        self._problem = Static("", classes="row--problem", markup=False)

    def compose(self) -> ComposeResult:
        """The fields side by side, and what is wrong with one of them."""
        yield Horizontal(*(slot.widget for slot in self.slots))
        yield self._problem

    @property
    def is_blank(self) -> bool:
        """Whether nothing but a usual temperature stands in it."""
        return all(slot.is_blank or slot.field.kind is Kind.TEMPERATURE for slot in self.slots)

    def values(self) -> Row:
        """The row as read."""
        return {slot.field.key: slot.value() for slot in self.slots}

    @on(Cell.Wrong)
    def _say(self, event: Cell.Wrong) -> None:
        event.stop()
        # What was typed meanwhile may have put it right.
        if event.cell.has_class("-wrong"):
            self._problem.update(f"! {event.cell.label}: {event.problem}")
            self._problem.add_class("-said")

    @on(Input.Changed)
    def _typing(self) -> None:
        self.forget_problem()

    def forget_problem(self) -> None:
        """Nothing is wrong any more."""
        self._problem.remove_class("-said")


class AddRow(Static, can_focus=True):
    """The place below a list where another row is asked for."""

    DEFAULT_CSS = """
    AddRow { width: auto; color: $text-muted; }
    AddRow:focus { background: $primary-muted; color: $foreground; text-style: bold; }
    """
    BINDINGS = [
        Binding("enter,space", "add", "Another row", show=False, id="calculator.add_row_here",
                tooltip="Another row in this list"),
    ]  # fmt: skip

    class Pressed(Message):
        """Another row is wanted."""

    def action_add(self) -> None:
        """Ask for it."""
        self.post_message(self.Pressed())

    def on_click(self, event: Click) -> None:
        """So does a click."""
        self.action_add()


class Rows(Vertical):
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

    def __init__(self, field: Field, rows: Sequence[Row], wanted: Preferences) -> None:
        super().__init__()
        self.field = field
        self.wanted = wanted
        self.fields: list[RowFields] = []
        self._more: tuple[Row, ...] = ()
        self._heading = Static(field.label, classes="heading", markup=False)
        self._names = Horizontal(classes="rows--names")
        self._list = Vertical(classes="rows--list")
        self._more_line = Static("", classes="quiet", markup=False)
        self._add = AddRow("", markup=False)
        self._take(rows)

    def _take(self, rows: Sequence[Row]) -> None:
        first, self._more = rows[:ROWS_SHOWN], tuple(rows[ROWS_SHOWN:])
        self.fields = [RowFields(self.field.columns, row, self.wanted) for row in first]
        self._dress()

    def _dress(self) -> None:
        self._names.set_class(not self.fields, "-none")
        self._more_line.set_class(not self._more, "-none")
        self._more_line.update(f"and {len(self._more)} more, reckoned in")
        self._add.update("+ another row" if self.fields else "+ add a row")

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
        """What stands in it, as it stands."""
        return tuple(slot.state for row in self.fields for slot in row.slots)

    @property
    def filled(self) -> list[RowFields]:
        """The rows that have anything in them."""
        return [row for row in self.fields if not row.is_blank]

    def values(self) -> list[Row]:
        """The rows as read."""
        return [*(row.values() for row in self.filled), *self._more]

    def put(self, rows: Sequence[Row]) -> None:
        """Fill it in anew."""
        for row in self.fields:
            if row.is_attached:
                take_away(row)
        self._take(rows)
        if self.is_mounted:
            self._list.mount(*self.fields)

    @property
    def more(self) -> tuple[Row, ...]:
        """Rows reckoned in without fields of their own."""
        return self._more

    def type(self, texts: Sequence[str], more: tuple[Row, ...]) -> None:
        """Have it stand as it once stood, by its `state`; before it is on screen."""
        columns = self.field.columns
        self.fields = [
            RowFields(columns, {}, self.wanted) for _ in range(0, len(texts), len(columns))
        ]
        slots = [slot for row in self.fields for slot in row.slots]
        for slot, text in zip(slots, texts, strict=True):
            slot.type(text)
        self._more = more
        self._dress()

    async def add(self, row: Row | None = None) -> None:
        """Another row, with the keys in it; blank but for what is nearly always so."""
        if row is None:
            row = {c.key: c.default for c in self.field.columns if _is_usual(c)}
        fields = RowFields(self.field.columns, row, self.wanted)
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

    def refit(self, wanted: Preferences) -> None:
        """Write every row in other units."""
        self.wanted = wanted
        for row in self.fields:
            for slot in row.slots:
                slot.refit(wanted)

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


@dataclass(frozen=True)
class PutAside:
    """What stood in a form that is off the screen: a few words instead of a hundred widgets."""

    calculator: Calculator
    wanted: Preferences
    """What its amounts are written in."""
    state: FormState
    as_put: FormState
    """How it stood before anything was typed."""
    more: Mapping[str, tuple[Row, ...]]
    """Rows without fields of their own, by list."""


class CalculatorForm(VerticalScroll, can_focus=False):
    """Fields for everything one calculator asks for."""

    BINDINGS = [
        # With priority, so that keys typed ahead of the screen still land in the right field.
        Binding("down", "app.focus_next", "Next field", show=False, id="calculator.next",
                tooltip="On to the next field", priority=True),
        Binding("up", "app.focus_previous", "Field before", show=False, id="calculator.before",
                tooltip="Back to the field before", priority=True),
        Binding("enter", "enter", "Next field", show=False, id="calculator.enter",
                tooltip="On to the next field", priority=True),
    ]  # fmt: skip
    DEFAULT_CSS = """
    CalculatorForm { scrollbar-size-vertical: 1; }
    CalculatorForm Entry .entry--name, CalculatorForm Pick > .entry--name {
        width: 21; text-wrap: nowrap; text-overflow: ellipsis;
    }
    CalculatorForm Entry Input, CalculatorForm Pick > Choice { width: 1fr; max-width: 24; }
    CalculatorForm Cell Input { max-width: 100%; }
    CalculatorForm Entry .entry--hint { width: 6; }
    CalculatorForm Pick > .entry--hint { display: none; }
    CalculatorForm > Rows:first-child { margin-top: 0; }
    """

    class Changed(Message):
        """Something was typed or chosen."""

        def __init__(self, form: "CalculatorForm", key: str) -> None:
            super().__init__()
            self.form = form
            self.key = key
            """Of the calculator's field that changed; blank where many did."""

        @property
        def control(self) -> "CalculatorForm":
            """The form."""
            return self.form

    def __init__(
        self, calculator: Calculator, start: Mapping[str, Value], wanted: Preferences
    ) -> None:
        super().__init__()
        self.calculator = calculator
        self.wanted = wanted
        values = starting(calculator) | dict(start)
        self.parts: dict[str, Slot | Rows] = {}
        for field in calculator.fields:
            value = values[field.key]
            if field.columns:
                self.parts[field.key] = Rows(field, as_rows(value), wanted)
            else:
                self.parts[field.key] = Slot(field, as_scalar(value), wanted, in_row=False)
        for part in self.parts.values():
            if isinstance(part, Slot) and part.field.instrument:
                part.read_as(partial(self._read_instrument_value, part.field))
        self._as_put = self.state()
        """How it stood before anything was typed."""
        self._pointed: Slot | None = None

    @classmethod
    def taken_up(cls, aside: PutAside) -> "CalculatorForm":
        """A form that stands as one did that was put aside."""
        form = cls(aside.calculator, {}, aside.wanted)
        for key, part in form.parts.items():
            state = aside.state[key]
            if isinstance(part, Slot):
                part.type(str(state))
            else:
                part.type(tuple(state), aside.more[key])
        form._as_put = dict(aside.as_put)
        return form

    def put_aside(self) -> PutAside:
        """Leave the screen; what stands in it is returned."""
        lists = {key: part for key, part in self.parts.items() if isinstance(part, Rows)}
        more = {key: part.more for key, part in lists.items()}
        aside = PutAside(self.calculator, self.wanted, self.state(), self._as_put, more)
        take_away(self)
        return aside

    def compose(self) -> ComposeResult:
        """Every field in the calculator's order."""
        for part in self.parts.values():
            yield part.widget if isinstance(part, Slot) else part

    # --- Values ---

    def values(self) -> dict[str, Value]:
        """What the form says; raises NotUnderstood at the first that cannot be read."""
        values: dict[str, Value] = {
            key: part.value() if isinstance(part, Slot) else part.values()
            for key, part in self.parts.items()
        }
        for part in self.parts.values():
            if isinstance(part, Slot) and part.field.instrument and not part.is_blank:
                keys = (part.field.key, *part.field.instrument)
                values |= zip(keys, self._read_instrument(part.field, part.state), strict=True)
        return values

    def _read_instrument(self, field: Field, text: str) -> tuple[float, str, str]:
        """A reading, the scale it is on, and where that is true."""
        assert field.instrument
        scale, true_at = (str(self.parts[key].state) for key in field.instrument)
        wanted = self.wanted
        return read_instrument(text, scale, true_at, wanted.units, wanted.alcoholometer)

    def _read_instrument_value(self, field: Field, text: str) -> float:
        return self._read_instrument(field, text)[0]

    def put(self, values: Mapping[str, Value]) -> None:
        """Fill in some of the fields."""
        for key, value in values.items():
            part = self.parts[key]
            if isinstance(part, Slot):
                part.put(as_scalar(value))
            else:
                part.put(as_rows(value))
        self.post_message(self.Changed(self, ""))

    def follow(self, start: Mapping[str, Value]) -> None:
        """Fill in what the shelf now says, but nothing that was touched by hand."""
        untouched = {
            key: value
            for key, value in start.items()
            if self._as_put.get(key) == self.parts[key].state
        }
        if untouched:
            self.put(untouched)
            self._as_put |= {key: self.parts[key].state for key in untouched}

    async def put_rows(self, values: Mapping[str, Value]) -> None:
        """Add rows to lists; they take the place of rows that nobody has touched."""
        for key, value in values.items():
            part = self.parts[key]
            if isinstance(part, Rows):
                if part.state == self._as_put[key]:
                    part.put(as_rows(value))
                else:
                    for row in as_rows(value):
                        await part.add(row)
        self.post_message(self.Changed(self, ""))

    def state(self) -> FormState:
        """What stands in every field, readable or not."""
        return {key: part.state for key, part in self.parts.items()}

    def start_from(self, values: Mapping[str, Value]) -> None:
        """Fill in everything anew: these values, and the calculator's own for the others."""
        self.put(starting(self.calculator) | dict(values))
        self._as_put = self.state()

    def refit(self, wanted: Preferences) -> None:
        """Write everything in other units."""
        if wanted != self.wanted:
            self.wanted = wanted
            before = self.state()
            for part in self.parts.values():
                part.refit(wanted)
            after = self.state()
            for key, state in before.items():
                if self._as_put[key] == state:
                    self._as_put[key] = after[key]

    # --- What is wrong ---

    def point_out(self, place: str | None, problem: str) -> "Pointed":
        """Say at a field what is wrong there, or quietly that it is needed."""
        slot = self._slot_at(place or "")
        if slot is None:
            part = self.parts.get(place or "")
            is_empty_list = isinstance(part, Rows) and not part.filled
            return Pointed.MISSING if is_empty_list else Pointed.NOWHERE
        self._pointed = slot
        if slot.is_blank:
            slot.ask()
            return Pointed.MISSING
        slot.complain(problem)
        return Pointed.WRONG

    @property
    def has_pointed(self) -> bool:
        """Whether something is said at a field."""
        return self._pointed is not None

    def settle(self) -> None:
        """Take back what was pointed out."""
        if self._pointed:
            self._pointed.settle()
            for row in self.query(RowFields):
                if self._pointed in row.slots:
                    row.forget_problem()
            self._pointed = None

    def _slot_at(self, place: str) -> Slot | None:
        """The field a place names: `key`, or `key.row.column` with rows from 0."""
        key, _, rest = place.partition(".")
        part = self.parts.get(key)
        if not isinstance(part, Rows):
            return part
        number, _, column = rest.partition(".")
        rows = part.filled
        if not number.isdigit() or int(number) >= len(rows):
            return None
        return next((s for s in rows[int(number)].slots if s.field.key == column), None)

    # --- Keys ---

    def _slots(self) -> Iterator[tuple[str, str, Slot]]:
        """Every field with the key and the help of the calculator's field it belongs to."""
        for key, part in self.parts.items():
            if isinstance(part, Slot):
                yield key, part.field.help, part
            else:
                for row in part.fields:
                    for slot in row.slots:
                        yield key, slot.field.help or part.field.help, slot

    def help_at(self, widget: Widget) -> str:
        """What the calculator says of the field that has the keys."""
        return next((text for _, text, slot in self._slots() if slot.target is widget), "")

    def focus_first(self) -> None:
        """Begin at the first field."""
        first = next(iter(self.parts.values()))
        if isinstance(first, Rows):
            first = first.fields[0].slots[0] if first.fields else first
        self.screen.set_focus(first.target if isinstance(first, Slot) else first.query_one(AddRow))

    def _list_at_keys(self) -> Rows | None:
        focused = self.screen.focused
        lists = [part for part in self.parts.values() if isinstance(part, Rows)]
        within = [part for part in lists if focused is not None and part in focused.ancestors]
        return next(iter(within or lists), None)

    @property
    def has_list(self) -> bool:
        """Whether rows can be added."""
        return any(isinstance(part, Rows) for part in self.parts.values())

    async def add_row(self) -> None:
        """Another row in the list that has the keys, or the first."""
        if part := self._list_at_keys():
            await part.add()
            self._added()

    @on(AddRow.Pressed)
    def _added(self) -> None:
        self.post_message(self.Changed(self, ""))

    @property
    def row_at_keys(self) -> RowFields | None:
        """The row that has the keys."""
        focused = self.screen.focused
        above = focused.ancestors if focused is not None else []
        return next((each for each in above if isinstance(each, RowFields)), None)

    def remove_row(self) -> None:
        """Take away the row that has the keys."""
        row, part = self.row_at_keys, self._list_at_keys()
        if row is not None and part is not None:
            part.remove_row(row)
            self.post_message(self.Changed(self, part.field.key))

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Enter walks through fields; below a list it has a use of its own."""
        return action != "enter" or isinstance(self.screen.focused, Input | Choice)

    def action_enter(self) -> None:
        """On to the next field."""
        self.screen.focus_next()

    @on(Input.Changed)
    @on(Choice.Changed)
    def _changed(self, event: Input.Changed | Choice.Changed) -> None:
        event.stop()
        key = next((key for key, _, slot in self._slots() if slot.target is event.control), "")
        self.post_message(self.Changed(self, key))


def starting(calculator: Calculator) -> dict[str, Value]:
    """The calculator's own values to begin with."""
    return {
        field.key: _default_rows(field) if field.columns else field.default
        for field in calculator.fields
    }


def _default_rows(field: Field) -> tuple[Row, ...]:
    return ({column.key: column.default for column in field.columns},) if field.required else ()


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
