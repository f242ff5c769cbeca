"""The form of one calculator, drawn from its fields: what is typed, read, and not yet readable."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import partial

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import VerticalScroll
from textual.message import Message
from textual.widget import Widget
from textual.widgets import Input

from stillroom.keeping.wording import Wording
from stillroom.reckoning.registry import Calculator, Field, Value
from stillroom.screens.calculator.fields import (
    AddRow,
    Pointed,
    Row,
    RowFields,
    Rows,
    Slot,
    as_rows,
    as_scalar,
)
from stillroom.screens.kit.choice import Choice
from stillroom.screens.kit.inside import inside
from stillroom.screens.kit.leaving import take_away

FormState = dict[str, str | tuple[str, ...]]


@dataclass(frozen=True)
class PutAside:
    """The contents of a form that is off the screen: a few words instead of a hundred widgets."""

    calculator: Calculator
    wording: Wording
    """What its amounts are written in."""
    state: FormState
    as_put: FormState
    """Its contents before anything was typed."""
    more: Mapping[str, tuple[Row, ...]]
    """Rows without fields of their own, by list."""


class CalculatorForm(VerticalScroll, can_focus=False):
    """Fields for everything one calculator asks for."""

    BINDINGS = [
        # With priority, so that keys typed ahead of the screen still land in the right field.
        Binding("down", "app.focus_next", "Next field", show=False, id="calculator.next",
                tooltip="Go to the next field", priority=True),
        Binding("up", "app.focus_previous", "Previous field", show=False, id="calculator.before",
                tooltip="Go back to the previous field", priority=True),
        Binding("enter", "enter", "Next field", show=False, id="calculator.enter",
                tooltip="Go to the next field", priority=True),
    ]  # fmt: skip
    DEFAULT_CSS = """
    CalculatorForm { scrollbar-size-vertical: 1; }
    CalculatorForm > NamedField > .taker { margin-left: 21; width: 1fr; max-width: 24; }
    CalculatorForm > Entry > .taker { margin: 0 6 0 21; }
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
            """The form that changed."""
            return self.form

    def __init__(
        self, calculator: Calculator, start: Mapping[str, Value], wording: Wording
    ) -> None:
        super().__init__()
        self.calculator = calculator
        self.wording = wording
        values = starting(calculator) | dict(start)
        self.parts: dict[str, Slot | Rows] = {}
        for field in calculator.fields:
            value = values[field.key]
            if field.columns:
                self.parts[field.key] = Rows(field, as_rows(value), wording)
            else:
                self.parts[field.key] = Slot(field, as_scalar(value), wording, in_row=False)
        for part in self.parts.values():
            if isinstance(part, Slot) and part.field.instrument:
                part.read_as(partial(self._read_instrument_value, part.field))
        self._as_put = self.state()
        """Its contents before anything was typed."""
        self._pointed: Slot | None = None

    @classmethod
    def taken_up(cls, aside: PutAside) -> "CalculatorForm":
        """A form with the contents of one that was put aside."""
        form = cls(aside.calculator, {}, aside.wording)
        for key, part in form.parts.items():
            state = aside.state[key]
            if isinstance(part, Slot):
                part.type(str(state))
            else:
                part.type(tuple(state), aside.more[key])
        form._as_put = dict(aside.as_put)
        return form

    def put_aside(self) -> PutAside:
        """Leave the screen; returns the contents."""
        lists = {key: part for key, part in self.parts.items() if isinstance(part, Rows)}
        more = {key: part.more for key, part in lists.items()}
        aside = PutAside(self.calculator, self.wording, self.state(), self._as_put, more)
        take_away(self)
        return aside

    def compose(self) -> ComposeResult:
        """Every field in the calculator's order."""
        for part in self.parts.values():
            yield part.widget if isinstance(part, Slot) else part

    def values(self) -> dict[str, Value]:
        """The values of the form; raises NotUnderstood at the first that can't be read."""
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
        return self.wording.read_instrument(text, scale, true_at)

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
        """Fill in the shelf's present values, except where something was typed."""
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
        """The text of every field, readable or not."""
        return {key: part.state for key, part in self.parts.items()}

    def start_from(self, values: Mapping[str, Value]) -> None:
        """Fill in every field: these values, and the calculator's defaults for the others."""
        self.put(starting(self.calculator) | dict(values))
        self._as_put = self.state()

    def refit(self, wording: Wording) -> None:
        """Write everything in other units."""
        if wording != self.wording:
            self.wording = wording
            before = self.state()
            for part in self.parts.values():
                part.refit(wording)
            after = self.state()
            for key, state in before.items():
                if self._as_put[key] == state:
                    self._as_put[key] = after[key]

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
        slot.mark_wrong(problem)
        return Pointed.WRONG

    @property
    def has_pointed(self) -> bool:
        """Whether a problem is shown at a field."""
        return self._pointed is not None

    def settle(self) -> None:
        """Clear the problems shown at the fields."""
        if self._pointed:
            self._pointed.settle()
            for row in inside(self, RowFields):
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
        """The calculator's help for the focused field."""
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
        """Go to the next field."""
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
