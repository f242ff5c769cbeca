"""A form as a command: FIELD=VALUE words, or questions line by line on a terminal.

What is read is handed to the same use case, in the same draft, as the form on the screen hands it.
"""

from argparse import ArgumentParser
from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import nullcontext
from dataclasses import dataclass, field
from functools import partial
from types import MappingProxyType
from typing import Any

from stillroom.cli.call import Call, Command, json_option, why_option, yes_option
from stillroom.cli.output import put, put_json
from stillroom.cli.pairs import cells, pairs
from stillroom.cli.prompts import STOPPED, ask, ask_yes, can_ask, listed_choices, report
from stillroom.dates import parse_day
from stillroom.errors import DateInDoubt, NeedsConfirmation, NotUnderstood, ReasonNeeded, Refused
from stillroom.keeping.keeper import Keeper
from stillroom.quantities import parse_shakes
from stillroom.reckoning.kinds import Kind

Values = Mapping[str, Any]
"""What was read, by the keys of the fields; a field that was left out is not in it."""
Reader = Callable[[Call, str], Any]
YES = "yes"


def words(call: Call, text: str) -> str:
    """Read any text, without the space around it."""
    return text.strip()


def shakes(call: Call, text: str) -> int:
    """Shakes a day, 0 to 9."""
    return parse_shakes(text)


def amount(kind: Kind) -> Reader:
    """A quantity of a kind, in the units of the shelf where it has none."""
    return lambda call, text: call.wording.read(kind, text)


def whole_number(kind: Kind) -> Reader:
    """A count, or a number of days."""
    return lambda call, text: int(call.wording.read(kind, text))


def day(call: Call, text: str) -> Any:
    """A day that has been, or today."""
    return parse_day(text, call.keeper.today, past=True)


def day_to_come(call: Call, text: str) -> Any:
    """A day that may be ahead."""
    return parse_day(text, call.keeper.today)


def is_always(row: Values) -> bool:
    """Of a question that is asked whatever was answered before."""
    return True


def is_never(row: Values) -> bool:
    """Of a field that is only given as FIELD=VALUE: few need it, and each question costs a key."""
    return False


@dataclass(frozen=True)
class FormField:
    """One field of a command."""

    key: str
    label: str
    read: Reader = words
    hint: str = ""
    """What a blank means, or an example."""
    is_required: bool = False
    can_be_blank: bool = False
    """Whether FIELD= with nothing after it is a value: it takes out what was there."""
    choices: tuple[str, ...] = ()
    columns: tuple["FormField", ...] = ()
    """Of a field that may be given several times, each time with these columns."""
    is_asked: Callable[[Values], bool] = is_always
    """Whether to ask for it, after what was answered before."""

    @property
    def form(self) -> str:
        """What to write after the equals sign, in the help."""
        if self.columns:
            return '"' + ";".join(column.key for column in self.columns) + '"'
        return "|".join(self.choices) if self.choices else "…"


def choice(key: str, label: str, choices: Iterable[str], **more: Any) -> FormField:
    """A field with a few possible answers."""
    known = tuple(choices)
    return FormField(key, label, partial(_chosen, known), choices=known, **more)


def yes_or_no(key: str, label: str, **more: Any) -> FormField:
    """A field that is read as true or false."""
    known = (YES, "no")

    def read(call: Call, text: str) -> bool:
        return _chosen(known, call, text) == YES

    return FormField(key, label, read, choices=known, **more)


def _chosen(choices: tuple[str, ...], call: Call, text: str) -> str:
    wanted = " ".join(text.split()).casefold()
    for known in choices:
        if wanted == known.casefold():
            return known
    raise NotUnderstood(f"choose from {', '.join(choices)}.")


@dataclass(frozen=True)
class Done:
    """What came of a command."""

    lines: Sequence[str]
    json: Callable[[], object]
    """What --json prints, read from the shelf only where it is asked for."""


Result = tuple[Sequence[str], object]
"""The lines of what was done, and what --json prints; None without it."""
Act = Callable[[Call, Keeper, Values, bool], Done]
"""Does it, with what was read, and whether the questions are answered with yes."""


@dataclass(frozen=True)
class Form:
    """A command that takes fields."""

    fields: tuple[FormField, ...]
    act: Act
    subject: str = ""
    """What it is about, if it is about something: the placeholder for its code or name."""
    about: str = ""
    """What that is, for the help, where not every kind of code or name will do."""
    notes: str = ""
    show: Callable[[Call], int] | None = None
    """What it does without values where nobody can be asked; None where values are needed."""
    asks: bool = True
    """Whether it asks on a terminal where no values are given."""
    ask_first: Callable[[Call], Mapping[str, Any] | None] = field(default=lambda call: None)
    """Asks in its own order; None to be asked field by field."""
    begins_shelf: bool = False
    """Whether it may be the first thing done, on a shelf that is created for it."""
    takes_more: bool = False
    """Whether more codes may follow the first: they are in `call.asked.more`."""

    @property
    def by_key(self) -> dict[str, FormField]:
        """Its fields by name."""
        return {entry.key: entry for entry in self.fields}

    def command(self) -> Command:
        """It as a command."""
        notes = f"{lines_about(self.fields)}\n\n{self.notes}".strip()
        return Command(self._arguments, partial(_run, self), notes)

    def _arguments(self, parser: ArgumentParser) -> None:
        if self.subject:
            about = self.about or _SUBJECTS[self.subject]
            parser.add_argument("subject", metavar=self.subject, help=about)
        kind = "CODE or FIELD=VALUE" if self.takes_more else "FIELD=VALUE"
        parser.add_argument(
            "values", nargs="*", metavar=kind, help="a field and its value; see below"
        )
        change_options(parser)


_SUBJECTS = {
    "CODE": "code of a jar, batch or bottle, such as 26-004 or 26-004.1",
    "NAME": "name or code of a spirit or other liquid of the cupboard",
}


_YES_TO_ALL = "go ahead without asking, even if this computer's date is in doubt"


def change_options(parser: ArgumentParser, yes: str = _YES_TO_ALL) -> None:
    """What every command takes that changes the shelf; `yes` is what --yes confirms."""
    parser.add_argument(
        "--dry-run", action="store_true", help="change nothing; show what would be done"
    )
    json_option(parser)
    why_option(parser)
    yes_option(parser, yes)


def lines_about(fields: Iterable[FormField]) -> str:
    """Fields, for the help of a command."""
    lines = ["fields:"]
    for entry in fields:
        lines += [f"  {_line(entry)}", *(f"      {_line(column)}" for column in entry.columns)]
    return "\n".join(lines)


def _line(entry: FormField) -> str:
    said = f"{entry.key}={entry.form}: {entry.label}"
    notes = [] if entry.is_required else ["optional"]
    if entry.columns:
        notes.append("may be repeated")
    notes += [entry.hint] if entry.hint else []
    return said + (f" ({'; '.join(notes)})" if notes else "")


def _run(form: Form, call: Call) -> int:
    is_asked = False
    if form.takes_more:
        call.asked.more = [word for word in call.asked.values if "=" not in word]
        call.asked.values = [word for word in call.asked.values if "=" in word]
    if form.begins_shelf and (call.asked.values or (form.asks and can_ask())):
        call.begin_shelf()
    if call.asked.values or (form.takes_more and call.asked.more):
        values = read_pairs(form.by_key, call)
    elif form.asks and can_ask():
        values = dict(form.ask_first(call) or ask_for(form.fields, call))
        is_asked = True
    elif form.show:
        return form.show(call)
    else:
        values = {}
    refuse_missing(form.fields, values)
    return carry_out(call, partial(form.act, call), values, is_asked=is_asked)


def carry_out(
    call: Call,
    act: Callable[[Keeper, Values, bool], Done],
    values: Values = MappingProxyType({}),
    *,
    is_asked: bool = False,
) -> int:
    """Do it, or in a dry run see what would be done; ask on the terminal what has to be asked."""
    is_dry = call.asked.dry_run
    if is_dry and call.asked.new:
        raise Refused("--dry-run can't be combined with --new: a shelf would be created.")
    keeper = call.keeper_to_change(backup=not is_dry)

    def attempt(confirmed: bool) -> Result:
        # What came of a rehearsal can be read only until it ends.
        with keeper.rehearsal() if is_dry else nullcontext():
            done = act(keeper, values, confirmed)
            return done.lines, done.json() if call.asked.json else None

    lines, result = _with_questions(keeper, attempt, confirmed=call.asked.yes, is_asked=is_asked)
    call.is_done = not is_dry
    if call.asked.json:
        put_json(call, result, is_done=call.is_done)
        return 0
    if is_dry:
        put("Dry run: nothing was saved. Without --dry-run, this would be done:")
    for line in lines:
        put(line)
    return 0


def _with_questions(
    keeper: Keeper, attempt: Callable[[bool], Result], *, confirmed: bool, is_asked: bool
) -> Result:
    while True:
        try:
            return attempt(confirmed)
        except NeedsConfirmation as question:
            if not is_asked:
                raise
            if not ask_yes(str(question)):
                raise Refused(STOPPED) from question
            if isinstance(question, DateInDoubt):
                keeper.trust_date()
            else:
                confirmed = True
        except ReasonNeeded as asked:
            if not is_asked:
                raise
            why = ask(f"{asked} Why?")
            if not why:
                raise Refused(STOPPED) from asked
            keeper.give_reason(why)


def read_pairs(fields: Mapping[str, FormField], call: Call) -> dict[str, Any]:
    """The FIELD=VALUE words, read; Refused or NotUnderstood names the field."""
    values: dict[str, Any] = {}
    for entry, text in pairs(call.asked.values, fields, call.asked.command):
        if entry.columns:
            rows = values.setdefault(entry.key, [])
            if text.strip():
                rows.append(_row(entry, text, call, len(rows) + 1))
        elif entry.key in values:
            raise Refused(f"{entry.key} is given twice.")
        elif text.strip():
            values[entry.key] = _read(entry, text, call, entry.key)
        elif entry.can_be_blank:
            values[entry.key] = None
    return values


def _row(entry: FormField, text: str, call: Call, number: int) -> dict[str, Any]:
    row: dict[str, Any] = {}
    for column, cell in cells(text, entry.columns, entry.key):
        if cell.strip():
            row[column.key] = _read(column, cell, call, f"{entry.key}, row {number}, {column.key}")
    refuse_missing(entry.columns, row, f"{entry.key}, row {number}, ")
    return row


def _read(entry: FormField, text: str, call: Call, place: str) -> Any:
    try:
        return entry.read(call, text)
    except NotUnderstood as error:
        raise NotUnderstood(f"{place}: {error}") from error


def refuse_missing(fields: Iterable[FormField], values: Values, place: str = "") -> None:
    """Raise Refused where a field that must be there was left out."""
    for entry in fields:
        if entry.is_required and entry.is_asked(values) and not values.get(entry.key):
            if values.get(entry.key) is not None and not entry.columns:  # a nought, or no
                continue
            raise Refused(f"{place}{entry.key}: {entry.label} is needed.")


def ask_for(fields: Iterable[FormField], call: Call) -> dict[str, Any]:
    """The fields, asked one line after another."""
    report("One question per line. Leave a line blank to skip it; Ctrl-C stops.")
    values: dict[str, Any] = {}
    for entry in fields:
        if not entry.is_asked(values):
            continue
        found = _ask_rows(entry, call) if entry.columns else ask_one(entry, call)
        if found is not None and found != []:
            values[entry.key] = found
    return values


def _ask_rows(entry: FormField, call: Call) -> list[dict[str, Any]]:
    """Rows, until the first column of one is left blank."""
    rows: list[dict[str, Any]] = []
    while True:
        row: dict[str, Any] = {}
        for place, column in enumerate(entry.columns):
            if not column.is_asked(row):
                continue
            ends = place == 0 and (bool(rows) or not entry.is_required)
            found = ask_one(column, call, f"{entry.label} {len(rows) + 1}, ", ends=ends)
            if found is None and ends:
                return rows
            if found is not None:
                row[column.key] = found
        rows.append(row)


def ask_one(entry: FormField, call: Call, before: str = "", *, ends: bool = False) -> Any:
    """One field, asked until it can be read; None where it is left out."""
    label = f"{before}{entry.label[:1].lower()}{entry.label[1:]}" if before else entry.label
    notes = [listed_choices(entry.choices)] if entry.choices else []
    notes += [entry.hint] if entry.hint else []
    if ends:
        notes.append("blank: no more")
    question = f"{label} ({'; '.join(notes)})" if notes else label
    while True:
        text = ask(question)
        if text:
            try:
                return entry.read(call, text)
            except (NotUnderstood, Refused) as error:
                said = str(error)
                report(said[:1].upper() + said[1:])
                continue
        if ends or not entry.is_required:
            return None
        if text is None:
            raise Refused(STOPPED)
        report(f"{entry.label} is needed.")
