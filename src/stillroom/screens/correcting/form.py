"""One form that corrects any entry, drawn from the facts of what it is about."""

import re
from collections.abc import Sequence
from dataclasses import replace
from itertools import groupby
from typing import TYPE_CHECKING

from textual import on
from textual.app import ComposeResult
from textual.containers import Vertical
from textual.widgets import Input, Static

from stillroom.errors import (
    NeedsConfirmation,
    NotUnderstood,
    ReasonNeeded,
    Refused,
    StillroomError,
)
from stillroom.keeping.correcting.correct import CorrectionPlan, correct, plan_correction
from stillroom.keeping.correcting.facts import facts_of
from stillroom.keeping.correcting.kinds import Fact, FactKind, Subject, Value
from stillroom.keeping.correcting.reading import read_fact
from stillroom.keeping.correcting.subjects import subject_of_code, title_of
from stillroom.keeping.cupboard.herb_names import known_herbs
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import settings_of
from stillroom.keeping.wording import wording
from stillroom.keeping.year.people import names
from stillroom.quantities import how_many
from stillroom.screens.host import Row
from stillroom.screens.kit.choice import Choice, Pick
from stillroom.screens.kit.dialog import Dialog
from stillroom.screens.kit.fields import DayEntry, Entry, note_lines, on_one_line, why_entry, words
from stillroom.screens.kit.lines import show
from stillroom.screens.kit.text import safe

if TYPE_CHECKING:
    from stillroom.keeping.trace.views import ScannedThing

MOST_EFFECTS = 6
"""How many consequences are listed one by one."""

Field = Entry[Value] | DayEntry | Pick


class CorrectionDialog(Dialog[str]):
    """Facts by group, what follows from a change of them, and why."""

    ACT = "Correct"
    corrects = True
    began_with: dict[str, Value]
    DEFAULT_CSS = """
    CorrectionDialog NamedField > .taker { margin-left: 22; }
    CorrectionDialog Pick > .taker { width: 1fr; }
    CorrectionDialog .-hinted > .taker { width: 34; }
    CorrectionDialog #fields, CorrectionDialog #also { height: auto; }
    CorrectionDialog #also > .heading { margin-top: 1; }
    CorrectionDialog #why { margin-top: 1; }
    CorrectionDialog #effects { height: auto; display: none; margin-top: 1; }
    CorrectionDialog #effects.-shown { display: block; }
    """

    def __init__(self, keeper: Keeper, subject: Subject, row: Row | None = None) -> None:
        """Begin with the facts of a row, such as that of a straining, or else with the first.

        Raises Refused where there is nothing to correct any more.
        """
        super().__init__()
        self.keeper = keeper
        self.subject = subject
        self.wording = wording(keeper)
        self.TITLE_TEXT = f"Correct {title_of(keeper, subject)}"
        facts = facts_of(keeper, subject)
        self.facts = {fact.name: fact for fact in facts}
        self.began_with = {fact.name: fact.value for fact in facts}
        self._recorded = {fact.name: _first_text(fact) for fact in facts}
        self._texts = dict(self._recorded)
        """What is typed for each fact, shown now or not."""
        of_row = (fact.group for fact in facts if (fact.cell.record, fact.cell.row_id) == row)
        group = next(of_row, None)
        self._begins_in_group = group is not None or len({fact.group for fact in facts}) == 1
        self._group = group or facts[0].group
        self._also: list[str] = []
        """Facts of other groups, or of other things, to be corrected as well, by name."""
        self._names: dict[str, str] = {}
        """Names of the facts by the ids of their fields."""
        self._shown_of: dict[str, str] | None = None
        """What was changed when what follows from it was shown."""

    def written(self) -> object:
        """The facts as they are now."""
        return self._now()

    def _now(self) -> dict[str, Value]:
        """The facts as they are recorded, those of other things that are shown among them."""
        found = {fact.name: fact.value for fact in facts_of(self.keeper, self.subject)}
        others = {name.rpartition(":")[0] for name in self.facts if ":" in name}
        for code in others:
            of_code = facts_of(self.keeper, subject_of_code(self.keeper, code))
            found |= {f"{code}:{fact.name}": fact.value for fact in of_code}
        return found

    def compose_form(self) -> ComposeResult:
        """Which group, its fields, and what has to be corrected with them."""
        groups = dict.fromkeys(fact.group for fact in self.facts.values())
        more = {fact.group for fact in self.facts.values() if fact.is_one_more}
        options = [(group, f"{group}, new" if group in more else group) for group in groups]
        hint, classes = ("← → to choose", "-hinted") if len(options) > 1 else ("", "")
        yield Pick("Correct", options, self._group, id="group", hint=hint, classes=classes)
        with Vertical(id="fields"):
            yield from self._fields_of(self._group)
        yield Vertical(id="also")

    def compose_below(self) -> ComposeResult:
        """Why, and what follows."""
        yield why_entry(is_required=settings_of(self.keeper).why_required)
        yield Static("", id="effects", markup=False)

    def _fields_of(self, group: str) -> list[Field]:
        return [
            self._field(fact, fact.label)
            for fact in self.facts.values()
            if fact.group == group and fact.name not in self._also
        ]

    def _field(self, fact: Fact, label: str) -> Field:
        """A field for a fact, with what is typed for it so far."""
        text, name = self._texts[fact.name], field_id(fact.name)
        self._names[name] = fact.name
        if fact.choices:
            options = dict(fact.choices)
            if fact.can_be_blank or text not in options:
                options = {"": "none", text: options.get(text) or fact.shown or "none", **options}
            return Pick(label, options.items(), text, id=name)
        field: Entry[Value] | DayEntry
        if fact.kind is FactKind.DAY:
            field = DayEntry(
                label, self.keeper.today, wording=self.wording, hint=fact.hint, id=name,
                past=fact.cell.column != "strain_on", required=not fact.can_be_blank,
            )  # fmt: skip
        else:
            field = Entry(
                label, lambda typed: self._read(fact, typed),
                hint=fact.hint, required=not fact.can_be_blank, id=name,
                suggestions=self._suggestions(fact),
                classes="-wide" if fact.kind is FactKind.TEXT and not fact.hint else None,
            )  # fmt: skip
        field.typed = text
        return field

    def _read(self, fact: Fact, typed: str) -> Value:
        try:
            return read_fact(self.keeper, fact, _in_full(fact, typed))
        except NotUnderstood as error:  # the field has its name beside it
            raise NotUnderstood(str(error).removeprefix(f"{fact.name}: ")) from error

    def _suggestions(self, fact: Fact) -> Sequence[str]:
        if fact.cell.column in ("herb_id", "merge"):
            return [herb.name for herb in known_herbs(self.keeper)]
        if fact.cell.column == "person":
            return names(self.keeper)
        return ()

    def _collect(self) -> None:
        """Remember what is typed in the fields that are shown."""
        for area in self.query("#fields, #also"):
            for field in area.children:
                if isinstance(field, Entry | Pick):
                    text = field.value if isinstance(field, Pick) else field.typed
                    self._texts[self._names[field.id or ""]] = text

    def _typed(self) -> tuple[str, ...]:
        self._collect()
        return (*self._texts.values(), *(why.typed for why in self.query("#why").results(Entry)))

    def _changed(self) -> dict[str, str]:
        """What is typed of the facts that were changed, in full, by their names."""
        self._collect()
        return {
            name: _in_full(self.facts[name], text)
            for name, text in self._texts.items()
            if text != self._recorded[name]
        }

    def on_mount(self) -> None:
        """Where there is no group to choose, go to the first field."""
        if self._begins_in_group:
            self.query("#fields Input, #fields Choice").first().focus()

    @on(Choice.Changed, "#group Choice")
    async def _turn_to_group(self, event: Choice.Changed) -> None:
        """Show the fields of another group."""
        self._collect()
        self._group = event.choice.value
        fields = self.query_one("#fields", Vertical)
        await fields.remove_children()
        await fields.mount(*self._fields_of(self._group))

    @on(Input.Blurred)
    @on(Choice.Changed)
    def _look_ahead(self) -> None:
        """Show what follows as soon as a field is left."""
        changed = self._changed()
        if changed == self._shown_of:
            return
        if not changed:
            self._show_effects("")
            return
        try:
            plan = plan_correction(self.keeper, self.subject, changed)
        except StillroomError:  # said at the field, or once it is saved
            self._show_effects("")
        else:
            self._show_plan(plan)

    def _show_plan(self, plan: CorrectionPlan) -> None:
        self._show_effects(plan_words(plan))
        self._shown_of = None if plan.obstacles else self._changed()

    def _show_effects(self, text: str) -> None:
        self._shown_of = None
        panel = self.query_one("#effects", Static)
        show(panel, text)
        panel.set_class(bool(text), "-shown")

    def keep(self) -> str:
        """Correct it, once what follows has been shown and is wanted."""
        was_shown_of = self._shown_of
        changed = self._readable()
        why = self.query_one("#why", Entry).read() or ""
        plan = plan_correction(self.keeper, self.subject, changed)
        self._show_plan(plan)
        if plan.obstacles:
            self._offer(plan.ways_out)
            self._show_effects(plan_words(replace(plan, obstacles=())))
            raise Refused(" ".join(map(_without_names, plan.obstacles)))
        if not self.confirmed and (plan.questions or was_shown_of != self._shown_of):
            raise NeedsConfirmation(" ".join([*plan.questions, "Save what is shown here?"]))
        try:
            done = correct(self.keeper, self.subject, changed, why=why, confirmed=True)
        except ReasonNeeded as asked:  # this form has a field for it
            self.query_one("#why", Entry).mark_wrong(str(asked))
            raise NotUnderstood(str(asked)) from asked
        return f"{done.title}. {_to_print(done)}".strip()

    def _readable(self) -> dict[str, str]:
        """What was changed; what can't be read is shown at its field, and raised."""
        changed = self._changed()
        if not changed:
            raise NotUnderstood("Nothing is changed yet.")
        for field in self.query("#fields > Entry, #also > Entry").results(Entry):
            if self._names[field.id or ""] in changed:
                field.read()
        return changed

    def _offer(self, ways_out: Sequence[Fact]) -> None:
        """Show the fields of what has to be corrected as well, and go to the first of them."""
        shown = {self._names[field.id or ""] for field in self.query("#fields > *")}
        new = [fact for fact in ways_out if fact.name not in (*shown, *self._also)]
        for fact in new:
            self.facts.setdefault(fact.name, fact)
            self._recorded.setdefault(fact.name, _first_text(fact))
            self._texts.setdefault(fact.name, self._recorded[fact.name])
        self._also += [fact.name for fact in new]
        self.began_with = {**self._now(), **self.began_with}
        fields = [self._field(fact, fact.label) for fact in new]
        area = self.query_one("#also", Vertical)
        for whose, of_group in groupby(zip(new, fields, strict=True), lambda pair: _whose(pair[0])):
            area.mount(Static(whose, classes="heading", markup=False))
            area.mount(*(field for _, field in of_group))
        if fields:
            self.call_after_refresh(lambda: fields[0].query("Input, Choice").first().focus())


class CodeDialog(Dialog[Subject]):
    """What to correct, by its code or name."""

    ACT = "Next"
    TITLE_TEXT = "Correct"

    def __init__(self, keeper: Keeper) -> None:
        super().__init__()
        self.keeper = keeper

    def compose_form(self) -> ComposeResult:
        """The field for a code or name."""
        yield Entry("Code or name", words, id="code", classes="-wide", max_length=200,
                    hint="of a jar, batch, bottle or lot, or a name")  # fmt: skip

    def take_scan(self, thing: "ScannedThing") -> None:
        """Go on with what was scanned."""
        self.query_one("#code", Entry).typed = thing.code
        self.action_keep()

    def keep(self) -> Subject:
        """What it refers to."""
        return subject_of_code(self.keeper, self.query_one("#code", Entry).needed())


def field_id(name: str) -> str:
    """The id of a fact's field.

    >>> field_id("bottle-1.volume"), field_id("26-004:yield")
    ('bottle-1_volume', 'of_26-004_yield')
    """
    id = re.sub(r"[^\w-]", "_", name, flags=re.ASCII)
    return f"of_{id}" if ":" in name else id


def _whose(fact: Fact) -> str:
    code = fact.name.rpartition(":")[0]
    return f"{code} {fact.group}" if code else fact.group


def plan_words(plan: CorrectionPlan) -> str:
    """What changes and what follows, in lines."""
    blank = "blank"
    changes = [f"{c.label} {c.before or blank} → {c.after or blank}" for c in plan.changes]
    effects = list(plan.effects[:MOST_EFFECTS])
    if more := len(plan.effects) - len(effects):
        effects.append(f"{more} more")
    if labels := _to_print(plan):
        effects.append(labels.removesuffix("."))
    lines = [f"Changes: {'; '.join(changes)}"]
    if effects:
        lines.append(f"Then: {'; '.join(effects)}")
    lines += [f"! {_without_names(obstacle)}" for obstacle in plan.obstacles]
    return "\n".join(map(safe, lines))


def _without_names(obstacle: str) -> str:
    """Why something can't be, without the names that the command line has for the fields.

    >>> _without_names("Correct that day too: 26-004:strain=…")
    'Correct that day too.'
    >>> _without_names("Correct the bottling too, such as bottle-1.volume=…")
    'Correct the bottling too.'
    """
    return re.sub(r"(?:, such as|:)(?: (?:or )?[\w.:-]+=\S*)+$", ".", obstacle)


def _to_print(plan: CorrectionPlan) -> str:
    return f"{how_many(len(plan.labels), 'label')} to print again." if plan.labels else ""


def _first_text(fact: Fact) -> str:
    """What its field begins with."""
    if fact.choices:
        return fact.shown if fact.kind is FactKind.YES_NO else str(fact.value or "")
    return on_one_line(fact.shown)


def _in_full(fact: Fact, typed: str) -> str:
    """A typed text with its lines."""
    return note_lines(typed) if fact.kind is FactKind.TEXT else typed
