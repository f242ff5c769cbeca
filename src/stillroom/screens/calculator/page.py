"""The calculator page: a list of calculators, the form of one, and what it finds as one types."""

from collections.abc import Mapping
from functools import partial

from rich.text import Text
from textual import on, work
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Container, Horizontal, Vertical
from textual.events import DescendantFocus
from textual.widgets import Input, Static

from stillroom.errors import NotUnderstood
from stillroom.keeping.keeper import Keeper
from stillroom.reckoning.charge import Condition
from stillroom.reckoning.registry import (
    Calculator,
    FillPlan,
    Sentence,
    Unworkable,
    Value,
    calculators,
)
from stillroom.reckoning.yields import Pressing
from stillroom.screens.calculator.fields import Pointed
from stillroom.screens.calculator.form import CalculatorForm, FormState, PutAside
from stillroom.screens.calculator.offers import OffersScreen
from stillroom.screens.calculator.outcome import OutcomePane
from stillroom.screens.calculator.plan import jar_start
from stillroom.screens.calculator.starts import Asked, from_shelf, start_of
from stillroom.screens.kit.columns import Cell, Column
from stillroom.screens.kit.list_page import ListPage
from stillroom.screens.kit.table import Table

_FORMS_SHOWN = 4
"""Forms that stay on the screen, all but one unseen; more would only fill memory."""


class CalculatorPage(ListPage):
    """The calculators; what was typed into one stays there while the program runs."""

    HELP = (
        "Choose a calculator with the arrows and type into its form: the result follows as you "
        "type, with its working, assumptions and sources below it. Write amounts as you would by "
        "hand: 1 1/2 cups, 250 ml, 2 lb 3 oz, 80 proof. Press ctrl+o to start with a jar, bottle "
        "or spirit of this shelf, and ctrl+u to fill a jar as calculated."
    )
    FIND_HINT = "a calculator, or a word it is about"
    HORIZONTAL_BREAKPOINTS = [(0, "-slim"), (56, "-small"), (72, "-narrow"), (112, "-wide")]
    BINDINGS = [
        # With priority, so that keys typed ahead of the screen still land in the right field.
        Binding("tab", "app.focus_next", "Next field", show=False, id="calculator.tab",
                tooltip="Go to the next field", priority=True),
        Binding("shift+tab", "app.focus_previous", "Previous field", show=False,
                id="calculator.tab_back", tooltip="Go back to the previous field", priority=True),
        Binding("escape", "stop_finding", "List", id="calculator.list",
                tooltip="Go back to the list of calculators"),
        Binding("ctrl+u", "use", "Use this", id="calculator.use", priority=True,
                tooltip="Fill a jar as calculated here"),
        Binding("ctrl+o", "from_shelf", "From the shelf", id="calculator.from_shelf",
                tooltip="Start with a jar, bottle or spirit of this shelf"),
        Binding("ctrl+n", "add_row", "Add row", id="calculator.add_row",
                tooltip="Add a row to the list"),
        Binding("ctrl+r", "remove_row", "Delete row", id="calculator.remove_row",
                tooltip="Delete this row of the list"),
        Binding("ctrl+l", "clear", "Clear", id="calculator.clear",
                tooltip="Clear what was typed here"),
    ]  # fmt: skip
    DEFAULT_CSS = """
    CalculatorPage #names {
        width: 16%; min-width: 25; max-width: 32; height: 1fr; background: $surface;
    }
    CalculatorPage #bench { width: 1fr; height: 1fr; layout: vertical; }
    CalculatorPage #form-side { height: auto; max-height: 50vh; }
    CalculatorPage #forms, CalculatorPage CalculatorForm { height: auto; max-height: 42vh; }
    CalculatorPage CalculatorForm { padding: 0 1; }
    CalculatorPage #about { height: 2; padding: 0 1; color: $text-muted; }
    CalculatorPage OutcomePane { padding: 0 1; border-top: solid $border-blurred; }
    CalculatorPage OutcomePane:focus { border-top: solid $border; }

    CalculatorPage.-wide #bench { layout: horizontal; }
    CalculatorPage.-wide #form-side {
        width: 32%; min-width: 45; max-width: 60; height: 1fr; max-height: 100%;
    }
    CalculatorPage.-wide #forms, CalculatorPage.-wide CalculatorForm { max-height: 80vh; }
    CalculatorPage.-wide CalculatorForm { padding: 0 1 0 2; }
    CalculatorPage.-wide #about { height: auto; min-height: 4; margin-top: 1; padding: 0 1 0 2; }
    CalculatorPage.-wide OutcomePane {
        width: 1fr; border-top: none; border-left: solid $border-blurred; padding: 0 1 0 2;
    }
    CalculatorPage.-wide OutcomePane:focus { border-top: none; border-left: solid $border; }

    CalculatorPage.-slim > Horizontal { layout: vertical; }
    CalculatorPage.-slim #names { width: 100%; max-width: 100%; height: 4; }
    CalculatorPage.-slim #about { height: 1; text-wrap: nowrap; text-overflow: ellipsis; }
    CalculatorPage.-slim CalculatorForm > Pick > .taker { margin-left: 14; }
    CalculatorPage.-slim CalculatorForm > Entry > .taker { margin: 0 6 0 14; }
    CalculatorPage.-small #names { min-width: 20; }
    CalculatorPage.-small CalculatorForm > Pick > .taker { margin-left: 14; }
    CalculatorPage.-small CalculatorForm > Entry > .taker { margin: 0 6 0 14; }
    """

    def __init__(self, keeper: Keeper) -> None:
        super().__init__(keeper)
        self._forms: dict[str, CalculatorForm] = {}
        """Those last shown, the latest at the end."""
        self._aside: dict[str, PutAside] = {}
        self._from_jar: dict[str, int] = {}
        """Which jar a calculation was begun with, by calculator."""
        self._begun: tuple[str, dict[str, Value]] | None = None
        """What another page asked for before this one was shown."""
        self._shown: Calculator | None = None
        self._plan: FillPlan | None = None
        self._reckoned: FormState = {}
        """Contents of the form when the figures shown were calculated."""

    def compose_page(self) -> ComposeResult:
        """List; form, and what it or the field with the keys is for; outcome."""
        with Horizontal():
            yield Table[Calculator](
                (Column(""),), _cells, _name,
                id="names", when_chosen=partial(self.call_later, self._choose),
            )  # fmt: skip
            with Container(id="bench"):
                with Vertical(id="form-side"):
                    yield Container(id="forms")
                    yield Static("", id="about", markup=False)
                yield OutcomePane(is_plain=self.host.is_plain)
        yield Input(placeholder=self.FIND_HINT, compact=True, id="find")

    @property
    def names(self) -> Table[Calculator]:
        """The list of calculators."""
        return self.query_one("#names", Table)

    @property
    def form(self) -> CalculatorForm | None:
        """The form of the chosen calculator."""
        chosen = self.names.selected
        return self._forms.get(chosen.name) if chosen else None

    def begin(self, name: str, values: Mapping[str, Value]) -> None:
        """Open a calculator by name with some of its fields filled in, keys in its form."""
        self._begun = (name, dict(values))
        if self.is_mounted:
            self._do_begun()

    def _do_begun(self) -> None:
        if self._begun is None:
            return
        (name, values), self._begun = self._begun, None
        self._from_jar.pop(name, None)
        self._show_all()
        self.names.select(name)
        self._open(calculators()[name], values)
        # A form that is new has no fields to go to before it is on screen.
        self.call_after_refresh(self._go_into_form)

    def read(self) -> None:
        """Show the calculators; values of the shelf go where nothing was typed."""
        self.show_rows()
        self._head()
        for name, form in self._forms.items():
            form.refit(self.wording)
            form.follow(self._from_shelf(name))
        self._do_begun()

    def show_rows(self) -> None:
        """Show the calculators that match the words."""
        found = [c for c in calculators().values() if self.matches(c.title, c.summary)]
        self.names.show(found, hint="No calculator matches. Press esc to show all.")

    def _show_all(self) -> None:
        line = self.query_one("#find", Input)
        line.value = ""
        line.display = False
        self.show_rows()

    def _choose(self) -> None:
        chosen = self.names.selected
        if chosen is None:
            return
        if chosen is not self._shown:
            self._open(chosen)
        elif form := self.form:
            self._reckon(form)

    @on(Table.Opened, "#names")
    def _go_into_form(self) -> None:
        if form := self.form:
            form.call_later(form.focus_first)  # once it has its fields

    def _open(self, calculator: Calculator, values: Mapping[str, Value] | None = None) -> None:
        """Show a calculator's form, made on its first use; its contents stay from then on."""
        name = calculator.name
        form = self._forms.get(name)
        if form is None:
            form = self._bring(calculator, values)
        elif values is not None:
            form.start_from(self._from_shelf(name) | dict(values))
        self._forms[name] = self._forms.pop(name)
        if len(self._forms) > _FORMS_SHOWN:
            oldest = next(iter(self._forms))
            self._aside[oldest] = self._forms.pop(oldest).put_aside()
        for each in self._forms.values():
            each.display = each is form
        self._shown = calculator
        self._head()
        self._tell(calculator.summary)
        self.query_one(OutcomePane).scroll_home(animate=False)
        self._reckon(form)
        self.refresh_bindings()

    def _bring(self, calculator: Calculator, values: Mapping[str, Value] | None) -> CalculatorForm:
        """A form as it was left, or as it comes, begun with some values if there are any."""
        name = calculator.name
        aside = self._aside.pop(name, None)
        if aside is None or values is not None:
            start = self._from_shelf(name) | dict(values or {})
            form = self._forms[name] = CalculatorForm(calculator, start, self.wording)
        else:
            form = self._forms[name] = CalculatorForm.taken_up(aside)
            form.refit(self.wording)
            form.follow(self._from_shelf(name))
        self.query_one("#forms").mount(form)
        return form

    def _head(self) -> None:
        self.head(Text(self._shown.title if self._shown else "Calculator", style="bold"))

    def _from_shelf(self, name: str, values: Mapping[str, Value] | None = None) -> dict[str, Value]:
        """What the shelf knows for a calculator, given `values` or the contents of its form."""
        form = self._forms.get(name)
        if form is None or not start_of(name).follows:
            return from_shelf(self.keeper, name, Asked(condition=Condition.DRIED))
        pressing = Pressing(str(form.parts["pressing"].state))
        condition = Condition(str((values or form.state())["condition"]))
        return from_shelf(self.keeper, name, Asked(pressing, condition, self._from_jar.get(name)))

    @on(CalculatorForm.Changed)
    def _typing(self, event: CalculatorForm.Changed) -> None:
        name = event.form.calculator.name
        if event.key in start_of(name).follows:
            event.form.follow(self._from_shelf(name))
        # Filling in a form sends one message for each of its fields.
        is_news = event.form.state() != self._reckoned or event.form.has_pointed
        if event.form is self.form and is_news:
            self._reckon(event.form)

    def _reckon(self, form: CalculatorForm) -> None:
        pane = self.query_one(OutcomePane)
        form.settle()
        self._reckoned = form.state()
        had_plan, self._plan = self._plan is not None, None
        try:
            outcome = form.calculator.reckon(form.values())
        except Unworkable as error:
            problem = self._said(error.sentence)
            match form.point_out(error.field, problem):
                case Pointed.MISSING:
                    pane.wait(problem)
                case Pointed.WRONG:
                    pane.wait("Correct what is marked with ! to see the result.")
                case Pointed.NOWHERE:
                    pane.wait(problem, is_wrong=True)
        except NotUnderstood as error:
            pane.wait(str(error))
        else:
            self._plan = outcome.plan
            pane.show(outcome, self.wording)
        if had_plan != (self._plan is not None):
            self.refresh_bindings()

    def _said(self, sentence: Sentence) -> str:
        return self.wording.fill_in(sentence.text, sentence.figures, sentence.sum)

    def on_descendant_focus(self, event: DescendantFocus) -> None:
        """Say what the field is for that has the keys."""
        form = self.form
        if form is not None and event.widget is not self.names:
            self._tell(form.help_at(event.widget) or form.calculator.summary)

    def _tell(self, text: str) -> None:
        # The lines have their place whether or not they are filled: nothing is laid out again.
        self.query_one("#about", Static).update(text, layout=False)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Only what can be done here and now."""
        if not self.is_mounted:
            return True
        form = self.form
        if action == "use":
            return self._plan is not None
        if action == "add_row":
            return form is not None and form.has_list
        if action == "remove_row":
            return form is not None and form.row_at_keys is not None
        if action == "from_shelf":
            return form is not None and bool(start_of(form.calculator.name).nothing_to_offer)
        if action == "find":
            return not isinstance(self.focused, Input)  # There it is half of a fraction.
        if action == "stop_finding":
            return not self.names.has_focus or bool(self.sought)
        return super().check_action(action, parameters)

    async def action_add_row(self) -> None:
        """Another row in the list."""
        if self.form:
            await self.form.add_row()

    def action_remove_row(self) -> None:
        """Delete the row."""
        if self.form:
            self.form.remove_row()

    def action_clear(self) -> None:
        """Clear what was typed: the calculator's form as it first was."""
        if form := self.form:
            self._from_jar.pop(form.calculator.name, None)
            asked = Asked(condition=Condition.DRIED)
            form.start_from(from_shelf(self.keeper, form.calculator.name, asked))

    @work
    async def action_from_shelf(self) -> None:
        """Begin with something on the shelf."""
        form = self.form
        if form is None:
            return
        name = form.calculator.name
        found = start_of(name).offers(self.keeper)
        if not found:
            self.host.say(start_of(name).nothing_to_offer)
            return
        offer = await self.app.push_screen_wait(OffersScreen(form.calculator.title, found))
        if offer is None:
            return
        values = self.attempt(offer.values)
        if values is None:
            return
        if offer.adds:
            await form.put_rows(values)
        else:
            if offer.jar_id is not None:
                self._from_jar[name] = offer.jar_id
            form.start_from(self._from_shelf(name, values) | values)

    @work
    async def action_use(self) -> None:
        """Fill a jar as calculated."""
        from stillroom.screens.jar.fill import FillDialog

        if self._plan is None or self.form is None:
            return
        start = jar_start(self._plan, self.form.values(), self.keeper)
        card = await self.app.push_screen_wait(FillDialog(self.keeper, start=start))
        if card:
            self.host.changed(f"Filled {card.herb} {card.code}")
            await self.host.show_jar(card.jar_id)


def _cells(calculator: Calculator) -> tuple[Cell, ...]:
    return (Cell(calculator.title),)


def _name(calculator: Calculator) -> str:
    return calculator.name
