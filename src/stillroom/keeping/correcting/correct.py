"""Correct what was recorded, in one act, with all that follows from it."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from stillroom.errors import NeedsConfirmation, Refused, choose_from
from stillroom.keeping.bottles.losses import let_losses_follow
from stillroom.keeping.correcting.changes import write_changes
from stillroom.keeping.correcting.columns import (
    BLANK_REMOVES,
    NONE_REMOVES,
    REMOVES,
    SHAKES_OF_DAYS,
)
from stillroom.keeping.correcting.effects import effects, labels_changed, picture
from stillroom.keeping.correcting.fact_reader import show_value
from stillroom.keeping.correcting.facts import facts_of
from stillroom.keeping.correcting.judge import judge
from stillroom.keeping.correcting.kinds import Fact, FactKind, NewValue, Subject, SubjectKind
from stillroom.keeping.correcting.line_lots import short_when_filled
from stillroom.keeping.correcting.questions import deadly, questions_about
from stillroom.keeping.correcting.reached import lots_reached, matters, touched
from stillroom.keeping.correcting.reading import read_fact
from stillroom.keeping.correcting.recalculate import before_change, recalculate
from stillroom.keeping.correcting.replay import anchors, replay
from stillroom.keeping.correcting.rows import RowWriter
from stillroom.keeping.correcting.struck import (
    lines_of,
    shakes_changed,
    shakes_label,
    strike,
    words_for,
)
from stillroom.keeping.correcting.subjects import code_of, subject_of_code, title_of
from stillroom.keeping.cupboard.counts import keep_what_was_seen, seen_in_cupboard
from stillroom.keeping.cupboard.lot_replay import lot_anchors, replay_lots
from stillroom.keeping.graph import downstream
from stillroom.keeping.keeper import Act, Keeper
from stillroom.keeping.settings import refuse_without_why
from stillroom.keeping.wording import Wording, wording
from stillroom.keeping.words import changed, clean_note, listed
from stillroom.reckoning.states import LineKind

UNCHANGED = "Nothing would change."
_LONGEST_TITLE = 200


@dataclass(frozen=True)
class Change:
    """A fact as it was recorded and as it becomes, in the units of the shelf."""

    name: str
    """Its name, after `CODE:` if it is a fact of something other than the form is about."""
    label: str
    before: str
    after: str


@dataclass(frozen=True)
class CorrectionPlan:
    """What a correction would do; nothing is written."""

    title: str
    changes: tuple[Change, ...]
    effects: tuple[str, ...] = ()
    """What follows, such as `26-004 strength 45.3 → 43.1 %`."""
    labels: tuple[str, ...] = ()
    """Codes of the bottles whose label text changes."""
    obstacles: tuple[str, ...] = ()
    """Why it can't be, each with the way out, in sentences."""
    ways_out: tuple[Fact, ...] = ()
    """Facts to correct as well to make it possible, by names such as `bottle-1.volume`."""
    questions: tuple[str, ...] = ()
    """What is unlikely but possible."""


class _TrialOver(Exception):
    """Raised to end a trial: the transaction around it is rolled back."""


def plan_correction(keeper: Keeper, subject: Subject, texts: Mapping[str, str]) -> CorrectionPlan:
    """What these changes would come to; `texts` holds what was typed, by the names of the facts.

    A name may begin with the code of something else, as in `26-004:yield`. Raises NotUnderstood
    where a text can't be read, Refused where there is no such fact or nothing would change.
    """
    plan = None
    try:
        with keeper.act("Correct", kind=LineKind.CORRECTION) as act:
            plan = _carry_out(keeper, act, subject, texts)
            raise _TrialOver
    except _TrialOver:
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
    refuse_without_why(keeper, why)
    with keeper.act("Correct", kind=LineKind.CORRECTION, why=why) as act:
        plan = _carry_out(keeper, act, subject, texts)
        if plan.obstacles:
            raise Refused(" ".join(plan.obstacles))
        if plan.questions and not confirmed:
            raise NeedsConfirmation(" ".join([*plan.questions, "Save anyway?"]))
    return plan


def carry_out_values(keeper: Keeper, act: Act, asked: Sequence[NewValue]) -> CorrectionPlan:
    """Give these facts their values inside a running act of kind correction.

    Raises Refused where the shelf can't hold it true.
    """
    subject = asked[0].subject
    plan = _change(keeper, act, subject, _Names(keeper, subject), asked)
    if plan.obstacles:
        raise Refused(" ".join(plan.obstacles))
    return plan


def _carry_out(
    keeper: Keeper, act: Act, subject: Subject, texts: Mapping[str, str]
) -> CorrectionPlan:
    """Read what was typed, and change the facts."""
    names = _Names(keeper, subject)
    asked = [each for name, text in texts.items() if (each := names.asked(name, text))]
    return _change(keeper, act, subject, names, asked)


def _change(
    keeper: Keeper, act: Act, subject: Subject, names: "_Names", asked: Sequence[NewValue]
) -> CorrectionPlan:
    """Change the facts, calculate what follows, and judge the result, inside an act."""
    said = wording(keeper)
    changes = {each: _changes(keeper, each, names, said) for each in asked}
    if not any(found for each, found in changes.items() if each.fact.cell.column != "for"):
        raise Refused(UNCHANGED)
    titles = [title_of(keeper, each) for each in dict.fromkeys(a.subject for a in asked)]
    jars, roots, shown_roots = touched(keeper, asked)
    reached = downstream(keeper, roots)
    shown = downstream(keeper, shown_roots)
    known = judge(keeper, subject, jars, reached)
    was = picture(keeper, jars, shown)
    before = before_change(keeper, reached)
    lines = lines_of(keeper, asked)

    lots = lots_reached(keeper, asked)
    writer = RowWriter(
        keeper,
        act,
        anchors(keeper, roots),
        lots=lot_anchors(keeper, lots),
        cupboard=seen_in_cupboard(keeper),
    )
    write_changes(writer, asked)
    keep_what_was_seen(keeper, writer.cupboard)
    replay_lots(keeper, lots, writer.lots)
    replay(keeper, roots, writer.seen)
    reached = downstream(keeper, roots)
    if any(matters(each) for each in asked):
        by_rest = before.written_off - writer.lost_by_hand
        recalculate(keeper, reached, replace(before, written_off=by_rest))
    let_losses_follow(keeper, act, reached)
    questions = [*deadly(keeper, asked), *questions_about(keeper, asked)]

    short = short_when_filled(keeper, asked)
    found = [*writer.obstacles, *short, *judge(keeper, subject, jars, reached)]
    obstacles = [each for each in found if each not in known]
    now = picture(keeper, jars, downstream(keeper, shown_roots))
    act.title = f"Corrected {listed(titles)}"[:_LONGEST_TITLE]
    _note(keeper, act, changes)
    strike(act, lines)
    return CorrectionPlan(
        title=act.title,
        changes=tuple(change for of_fact in changes.values() for change in of_fact),
        effects=(*writer.followed, *effects(was, now)),
        labels=labels_changed(was, now),
        obstacles=tuple(obstacle.text for obstacle in obstacles),
        ways_out=tuple(names.facts(name for obstacle in obstacles for name in obstacle.names)),
        questions=tuple(questions),
    )


class _Names:
    """The facts by the names that a correction may use."""

    def __init__(self, keeper: Keeper, subject: Subject) -> None:
        self._keeper = keeper
        self._subject = subject
        self._facts: dict[Subject, dict[str, Fact]] = {}
        self._of(subject)

    def _of(self, subject: Subject) -> dict[str, Fact]:
        if subject not in self._facts:
            found = facts_of(self._keeper, subject)
            self._facts[subject] = {fact.name: fact for fact in found}
        return self._facts[subject]

    def asked(self, name: str, text: str) -> NewValue | None:
        """The new value typed for the fact of this name; None if it has that value already."""
        subject, fact = self._named(name)
        value = read_fact(self._keeper, fact, text)
        unchanged = value == fact.value or (value in ("", None) and fact.value in ("", None))
        return None if unchanged else NewValue(subject, fact, value)

    def _named(self, name: str) -> tuple[Subject, Fact]:
        code, colon, rest = name.rpartition(":")
        subject = subject_of_code(self._keeper, code) if colon else self._subject
        facts = self._of(subject)
        wanted = rest.strip().casefold()
        fact = facts.get(wanted) or facts.get(wanted.removesuffix("-1"))
        if fact is None:
            known = choose_from(wanted, (f.name for f in facts.values() if not f.is_one_more))
            raise Refused(f"There is no field {rest.strip()}. {known}")
        return subject, fact

    def name_of(self, asked: NewValue) -> str:
        """The name of a fact, with its code where it is of another subject."""
        if asked.subject == self._subject:
            return asked.fact.name
        return f"{code_of(self._keeper, asked.subject)}:{asked.fact.name}"

    def facts(self, names: Iterable[str]) -> list[Fact]:
        """The facts of these names, under these names; one that is no longer there is left out."""
        found = []
        for name in dict.fromkeys(names):
            try:
                _, fact = self._named(name)
            except Refused:
                continue
            found.append(replace(fact, name=name))
        return found


def _changes(keeper: Keeper, asked: NewValue, names: _Names, said: Wording) -> list[Change]:
    """What is asked, old and new, to be read before it is written; shakes are a change a day."""
    name, column = names.name_of(asked), asked.fact.cell.column
    if column == SHAKES_OF_DAYS:
        return [
            Change(name, shakes_label(keeper, day), str(before), str(after))
            for day, before, after in shakes_changed(keeper, asked)
            if before != after
        ]
    if column == "merge":
        return [Change(name, words_for(asked), title_of(keeper, asked.subject), str(asked.value))]
    return [Change(name, words_for(asked), asked.fact.shown, _after(asked, said))]


def _after(asked: NewValue, said: Wording) -> str:
    fact, value = asked.fact, asked.value
    is_removed = value == 0 if fact.hint == REMOVES else value in (None, "")
    if fact.hint in (REMOVES, NONE_REMOVES, BLANK_REMOVES) and is_removed:
        return "removed"
    if fact.kind is FactKind.TEXT and "\n" in str(value):
        return " ".join(str(value).split())
    return show_value(fact.kind, value, fact.choices, said)


def _note(keeper: Keeper, act: Act, changes: Mapping[NewValue, Sequence[Change]]) -> None:
    """Write a line in the ledger for each thing that was corrected, old → new in words."""
    for subject in dict.fromkeys(each.subject for each in changes):
        found = [
            (each, change)
            for each, of_fact in changes.items()
            for change in of_fact
            if each.subject == subject
        ]
        merged = next((str(e.value) for e, _ in found if e.fact.cell.column == "merge"), None)
        texts = [_in_words(each, change) for each, change in found]
        about = _about(keeper, subject, merged)
        if subject.kind is SubjectKind.LIQUID:  # of which a line holds no number
            texts = [f"{title_of(keeper, subject)}: {texts[0]}", *texts[1:]]
        act.note("corrected", "; ".join(texts), **about)
        for each, change in found:
            for other in _moved_to(keeper, each):
                text = f"From {title_of(keeper, subject)}: {_in_words(each, change)}"
                act.note("corrected", text, **_about(keeper, other, None))


def _in_words(asked: NewValue, change: Change) -> str:
    if asked.fact.is_one_more:
        return f"{change.label} {change.after} added"
    return changed(change.label, " ".join(change.before.split()), change.after)


def _moved_to(keeper: Keeper, asked: NewValue) -> list[Subject]:
    """The bottle or jar that an entry was moved to, or both lots: it is in the history of each."""
    column, code = asked.fact.cell.column, str(asked.value).casefold()
    if column == "bottle_id":
        rows = keeper.rows("SELECT id FROM bottle WHERE lower(code) = ?", code)
        return [Subject(SubjectKind.BOTTLE, row_id) for (row_id,) in rows]
    if column == "jar_id":
        rows = keeper.rows("SELECT id FROM jar WHERE lower(code) = ?", code)
        return [Subject(SubjectKind.JAR, row_id) for (row_id,) in rows]
    if column == "lot_id":
        sql = "SELECT id FROM herb_lot WHERE code IN (?, ?) ORDER BY id"
        rows = keeper.rows(sql, asked.fact.value or "", asked.value or "")
        return [Subject(SubjectKind.LOT, row_id) for (row_id,) in rows]
    return []


def _about(keeper: Keeper, subject: Subject, merged: str | None) -> dict[str, int | None]:
    if subject.kind is SubjectKind.BOTTLE:
        rows = keeper.rows("SELECT tincture_id FROM bottle WHERE id = ?", subject.row_id)
        return {"bottle_id": subject.row_id, "tincture_id": rows[0][0] if rows else None}
    if subject.kind is SubjectKind.HERB and merged is not None:
        rows = keeper.rows("SELECT id FROM herb WHERE name = ?", merged)
        return {"herb_id": rows[0][0] if rows else None}
    if subject.kind is SubjectKind.LIQUID:
        return {}
    name = "tincture" if subject.kind is SubjectKind.BLEND else str(subject.kind)
    return {f"{name}_id": subject.row_id}
