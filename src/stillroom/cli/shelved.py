"""A list that is added to, changed and deleted from by its command, such as `spirits`."""

from argparse import ArgumentParser
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from typing import Any, Generic, TypeVar

from stillroom.cli.call import Call, Command
from stillroom.cli.examples import EXAMPLES
from stillroom.cli.form import (
    Done,
    FormField,
    Values,
    ask_for,
    carry_out,
    change_options,
    lines_about,
    read_pairs,
    refuse_missing,
)
from stillroom.cli.found import named
from stillroom.cli.output import put, put_json
from stillroom.cli.prompts import can_ask
from stillroom.errors import Refused, choose_from
from stillroom.keeping.keeper import Keeper

T = TypeVar("T")

ADD, CHANGE, DELETE = "add", "change", "delete"


@dataclass(frozen=True)
class Shelved(Generic[T]):
    """A command that lists things and changes them by name."""

    what: str
    """One of them, in a word."""
    fields: tuple[FormField, ...]
    rows: Callable[[Keeper], Sequence[tuple[str, T]]]
    """Each with the name it goes by."""
    line: Callable[[Call, T], str]
    json: Callable[[Call, T], object]
    save: Callable[[Call, Keeper, T | None, Values], T]
    """Adds one, or changes the one given; returns it as it is then."""
    delete: Callable[[Keeper, T], None]
    more: Mapping[str, Callable[[Keeper, T], None]] = field(default_factory=dict)
    """Further acts on one of them, by their words."""
    also: Callable[[Call, Keeper, str], T | None] = lambda call, keeper, name: None
    """Another way to call one of them."""

    def command(self) -> Command:
        """It as a command."""
        acts = ", ".join((CHANGE, DELETE, *self.more))
        notes = (
            f"Without words, this lists them. To add one: {ADD} FIELD=VALUE... For the other acts\n"
            f"({acts}), give its name right after the act.\n\n{lines_about(self.fields)}"
        )
        return Command(self._arguments, partial(_run, self), notes)

    def _arguments(self, parser: ArgumentParser) -> None:
        acts = "|".join((ADD, CHANGE, DELETE, *self.more))
        parser.add_argument(
            "values",
            nargs="*",
            metavar="WORD",
            help=f"{acts}, then the name unless you add one, then FIELD=VALUE",
        )
        change_options(parser)


def _run(shelved: Shelved[T], call: Call) -> int:
    given = list(call.asked.values)
    if not given:
        return _list(shelved, call)
    act = given.pop(0)
    if act not in (ADD, CHANGE, DELETE, *shelved.more):
        known = choose_from(act, (ADD, CHANGE, DELETE, *shelved.more))
        raise Refused(f"There is no act {act} of {call.asked.command}. {known}")
    name = "" if act == ADD else _name(shelved, act, given)
    call.asked.values = given
    if act == ADD:
        call.begin_shelf()
    is_asked = act == ADD and not given and can_ask()
    if is_asked:
        values = ask_for(shelved.fields, call)
    else:
        values = read_pairs({entry.key: entry for entry in shelved.fields}, call)
    if act == ADD:
        refuse_missing(shelved.fields, values)
    elif act == CHANGE:
        _refuse_blank(shelved, given)
    if act == CHANGE and not values:
        raise Refused(f"Give what to change of {name}, as FIELD=VALUE.")
    if act not in (ADD, CHANGE) and values:
        raise Refused(f"{act} takes no fields.")
    return carry_out(call, partial(_act, shelved, call, act, name), values, is_asked=is_asked)


def _refuse_blank(shelved: Shelved[T], given: Sequence[str]) -> None:
    """Raise Refused where FIELD= would take out what has to be there."""
    for word in given:
        key, _, text = word.partition("=")
        for entry in shelved.fields:
            if entry.key == key.strip() and not (text.strip() or entry.can_be_blank):
                raise Refused(f"{entry.key}: {entry.label} can't be blank.")


def _name(shelved: Shelved[T], act: str, given: list[str]) -> str:
    if not given or "=" in given[0]:
        raise Refused(f"Give the name of the {shelved.what} after {act}.")
    return given.pop(0)


def _list(shelved: Shelved[T], call: Call) -> int:
    found = [row for _, row in shelved.rows(call.keeper)]
    if call.asked.json:
        put_json(call, [shelved.json(call, row) for row in found])
        return 0
    if not found:
        put(f"None yet. To add one: stillroom {EXAMPLES[call.asked.command]}")
    for row in found:
        put(shelved.line(call, row))
    return 0


def _act(
    shelved: Shelved[T],
    call: Call,
    act: str,
    name: str,
    keeper: Keeper,
    values: Values,
    confirmed: bool,
) -> Done:
    if act == ADD:
        saved = shelved.save(call, keeper, None, values)
        return Done([f"Added {shelved.line(call, saved)}"], lambda: shelved.json(call, saved))
    row = shelved.also(call, keeper, name)
    row = row if row is not None else named(shelved.what, name, shelved.rows(keeper))
    if act == CHANGE:
        saved = shelved.save(call, keeper, row, values)
        return Done([f"Now {shelved.line(call, saved)}"], lambda: shelved.json(call, saved))
    if act == DELETE:
        shelved.delete(keeper, row)
        return Done([f"Deleted {shelved.line(call, row)}"], lambda: shelved.json(call, row))
    shelved.more[act](keeper, row)
    found: list[Any] = [each for _, each in shelved.rows(keeper)]
    lines = [shelved.line(call, each) for each in found]
    return Done(lines, lambda: [shelved.json(call, each) for each in found])
