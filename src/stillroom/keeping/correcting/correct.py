"""Correct what was recorded, in one act, with all that follows from it."""

from collections.abc import Mapping
from dataclasses import dataclass

from stillroom.dates import parse_day
from stillroom.errors import NeedsConfirmation, NotUnderstood, Refused
from stillroom.keeping.correcting.facts import (
    Fact,
    FactKind,
    Subject,
    Value,
    facts_of,
    show_value,
    title_of,
)
from stillroom.keeping.keeper import Act, Keeper
from stillroom.keeping.wording import Wording, wording
from stillroom.keeping.words import clean_note
from stillroom.reckoning.kinds import Kind
from stillroom.reckoning.states import LineKind

UNCHANGED = "Nothing would change."


@dataclass(frozen=True)
class Change:
    """A fact as it was recorded and as it becomes, in the units of the shelf."""

    name: str
    label: str
    before: str
    after: str


@dataclass(frozen=True)
class CorrectionPlan:
    """What a correction would do; nothing is written."""

    changes: tuple[Change, ...]
    effects: tuple[str, ...] = ()
    """What follows, such as `26-004 strength 45.3 → 43.1 %`."""
    labels: tuple[str, ...] = ()
    """Codes of the bottles whose label text changes."""
    obstacles: tuple[str, ...] = ()
    """Why it can't be, each with the way out, in sentences."""
    ways_out: tuple[Fact, ...] = ()
    """What has to be corrected too, such as `bottle-1.volume`."""
    questions: tuple[str, ...] = ()
    """What is unlikely but possible."""


class _TakenBack(Exception):
    """Ends a trial: nothing of it stays."""


def plan_correction(keeper: Keeper, subject: Subject, texts: Mapping[str, str]) -> CorrectionPlan:
    """What these changes would come to; `texts` holds what was typed, by the names of the facts.

    Raises NotUnderstood where one can't be read, Refused where there is no such fact.
    """
    plan = None
    try:
        with keeper.act("Correct", kind=LineKind.CORRECTION) as act:
            plan = _carry_out(keeper, act, subject, texts)
            raise _TakenBack
    except _TakenBack:
        pass
    assert plan is not None
    return plan


def correct(
    keeper: Keeper,
    subject: Subject,
    texts: Mapping[str, str],
    *,
    why: str = "",
    confirmed: bool = False,
) -> CorrectionPlan:
    """Correct these facts and all that follows from them, in one act with one undo.

    Raises Refused where the shelf can't hold it true, NeedsConfirmation where it is unlikely.
    """
    why = clean_note(why, "The reason", limit=2000)
    with keeper.act("Correct", kind=LineKind.CORRECTION, why=why) as act:
        plan = _carry_out(keeper, act, subject, texts)
        if plan.obstacles:
            raise Refused(" ".join(plan.obstacles))
        if plan.questions and not confirmed:
            raise NeedsConfirmation(" ".join([*plan.questions, "Save anyway?"]))
    return plan


def read_fact(keeper: Keeper, fact: Fact, text: str) -> Value:
    """The value that a text stands for; NotUnderstood explains what would be valid."""
    return _read(fact, text, wording(keeper), keeper)


def _carry_out(
    keeper: Keeper, act: Act, subject: Subject, texts: Mapping[str, str]
) -> CorrectionPlan:
    said = wording(keeper)
    facts = {fact.name: fact for fact in facts_of(keeper, subject)}
    changes = []
    for name, text in texts.items():
        fact = facts.get(name)
        if fact is None:
            raise Refused(f"There is no field {name}. Choose from {', '.join(facts)}.")
        value = _read(fact, text, said, keeper)
        if value == fact.value:
            continue
        shown = show_value(fact.kind, value, fact.choices, said)
        changes.append(Change(fact.name, fact.label, fact.shown, shown))
        keeper.store.db.execute_sql(
            f"UPDATE {fact.cell.record} SET {fact.cell.column} = ? WHERE id = ?",
            (value, fact.cell.row_id),
        )
    if not changes:
        raise Refused(UNCHANGED)
    act.title = f"Corrected {title_of(keeper, subject)}"
    return CorrectionPlan(tuple(changes))


_NUMBERS = {
    FactKind.VOLUME: Kind.VOLUME,
    FactKind.MASS: Kind.MASS,
    FactKind.STRENGTH: Kind.STRENGTH,
    FactKind.PERCENT: Kind.PERCENT,
    FactKind.MONEY: Kind.MONEY,
    FactKind.COUNT: Kind.COUNT,
}


def _read(fact: Fact, text: str, said: Wording, keeper: Keeper) -> Value:
    text = text.strip()
    if text == fact.shown:
        return fact.value
    if not text:
        if fact.can_be_blank:
            return "" if fact.kind is FactKind.TEXT else None
        raise NotUnderstood(f"{fact.label} is needed.")
    if fact.kind in _NUMBERS:
        number = said.read(_NUMBERS[fact.kind], text)
        return number / 100 if fact.kind is FactKind.PERCENT else number
    if fact.kind is FactKind.DAY:
        return parse_day(text, keeper.today)
    if fact.kind is FactKind.TEXT:
        return clean_note(text, fact.label)
    for key, label in fact.choices:
        if text.casefold() in (key.casefold(), label.casefold()):
            return key == "yes" if fact.kind is FactKind.YES_NO else key
    wanted = ", ".join(label for _, label in fact.choices)
    raise NotUnderstood(f"{fact.label}: choose from {wanted}.")
