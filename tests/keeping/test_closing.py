"""A closed month or record changes only for a reason, and undo stops before it."""

from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta

import pytest

from stillroom.clock import SetClock
from stillroom.errors import NotUnderstood, ReasonNeeded, Refused
from stillroom.keeping.bottles.blends import make_blend
from stillroom.keeping.bottles.bottle_views import bottle_rows
from stillroom.keeping.bottles.bottling import bottle_up
from stillroom.keeping.bottles.status import release
from stillroom.keeping.bottles.stock import (
    discard_bottle,
    move_bottle,
    put_right,
    set_keep_until,
    take_out,
)
from stillroom.keeping.closing import (
    close_batch,
    close_month,
    closing_of,
    closings,
    month_typed,
    read_month,
)
from stillroom.keeping.correcting.correct import correct
from stillroom.keeping.correcting.subjects import subject_of_code
from stillroom.keeping.drafts import (
    BlendDraft,
    BlendPartDraft,
    BottleDraft,
    BottlingDraft,
    ChargeDraft,
)
from stillroom.keeping.jars.jar import discard_jar, note_jar, set_dates, shake
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import save_settings, settings_of
from stillroom.keeping.shelf_file.check import check
from stillroom.keeping.undo import redo, undo
from stillroom.reckoning.charge import Condition, Part

from ..builders import bottled, filled, spirit, strained

OCTOBER = date(2026, 10, 1)
SAGE = ChargeDraft("Sage", Part.LEAF, Condition.DRIED, 50)


@pytest.fixture
def shelf(keeper: Keeper, clock: SetClock) -> Keeper:
    """Jar 1 filled, strained and bottled in October; jar 2 filled in October and steeping."""
    clock.advance(days=-50)  # 7 October
    save_settings(keeper, replace(settings_of(keeper), maker="AL"))
    filled(keeper, [SAGE], spirit(300, 45))
    clock.advance(days=14)
    made = strained(keeper, 1, 220)
    bottled(keeper, made, BottleDraft(100, 100), BottleDraft(100, 60))
    filled(keeper, [replace(SAGE, herb="Thyme")], spirit(300, 45), days=20)
    clock.advance(days=36)  # 26 November
    return keeper


def in_october(day: int) -> date:
    return date(2026, 10, day)


def blend(keeper: Keeper, on: date) -> object:
    other = bottled(keeper, strained(keeper, 2, 200), BottleDraft(100, 100))
    rows = {row.tincture_id: row.bottle_id for row in bottle_rows(keeper)}
    parts = (BlendPartDraft(rows[1], 20), BlendPartDraft(rows[other.tincture_id], 20))
    return make_blend(keeper, BlendDraft("Evening", parts, on))


USUAL: dict[str, Callable[[Keeper], object]] = {
    "a draw today": lambda k: take_out(k, 1, 10),
    "a count": lambda k: put_right(k, 1, 80),
    "a discarded bottle": lambda k: discard_bottle(k, 1, "fell"),
    "another place": lambda k: move_bottle(k, 1, "Door"),
    "a shake": lambda k: shake(k, 2),
    "later dates of a steeping jar": lambda k: set_dates(
        k, 2, in_october(21), k.today + timedelta(days=5), 1
    ),
    "straining a jar of that month": lambda k: strained(k, 2, 200),
    "discarding a jar of that month": lambda k: discard_jar(k, 2, "mould"),
    "a blend today": lambda k: blend(k, k.today),
    "a release": lambda k: release(k, 1),
}
"""What is done in November with what was made in October."""
DATED: dict[str, Callable[[Keeper], object]] = {
    "a draw": lambda k: take_out(k, 1, 10, day=in_october(30), confirmed=True),
    "a jar": lambda k: filled(k, [SAGE], spirit(100, 45), on=in_october(9)),
    "a straining": lambda k: strained(k, 2, 200, on=in_october(28)),
    "a bottling": lambda k: bottle_up(k, BottlingDraft(1, (BottleDraft(50, 50),), in_october(25))),
}
"""Entries dated in October."""
CHANGES: dict[str, Callable[[Keeper], object]] = {
    "a bottling": lambda k: bottle_up(k, BottlingDraft(1, (BottleDraft(50, 50),), k.today)),
    "a write-off": lambda k: bottle_up(k, BottlingDraft(1, (), k.today, write_off_rest=True)),
    "a note": lambda k: note_jar(k, 1, "smells of hay"),
    "another keep-until date": lambda k: set_keep_until(k, 1, k.today + timedelta(days=90)),
}
"""What changes the record of batch 1 on a later day."""


@pytest.mark.parametrize("act", USUAL.values(), ids=USUAL)
def test_acts_that_change_no_closed_fact_need_no_reason(
    shelf: Keeper, act: Callable[[Keeper], object]
) -> None:
    close_month(shelf, OCTOBER)
    close_batch(shelf, 1)
    act(shelf)
    undo(shelf)
    redo(shelf)
    assert check(shelf) == []


@pytest.mark.parametrize("act", DATED.values(), ids=DATED)
def test_an_entry_dated_in_a_closed_month_needs_a_reason(
    shelf: Keeper, act: Callable[[Keeper], object]
) -> None:
    close_month(shelf, OCTOBER)
    before = shelf.rows("SELECT count(*), max(id) FROM journal")
    with pytest.raises(ReasonNeeded, match=r"^Oct 2026 is closed: give a reason for this\.$"):
        act(shelf)
    assert shelf.rows("SELECT count(*), max(id) FROM journal") == before
    with shelf.because("found on a slip of paper"):
        act(shelf)
    ((why,),) = shelf.rows("SELECT why FROM journal ORDER BY id DESC LIMIT 1")
    assert why == "found on a slip of paper"
    with pytest.raises(Refused, match=r"Oct 2026 is closed\. “.*” can't be undone\. Correct"):
        undo(shelf)
    assert check(shelf) == []


@pytest.mark.parametrize("act", CHANGES.values(), ids=CHANGES)
def test_a_closed_record_changes_only_with_a_reason(
    shelf: Keeper, act: Callable[[Keeper], object]
) -> None:
    close_batch(shelf, 1)
    with pytest.raises(ReasonNeeded, match=r"^The record of 26-001 is closed: give a reason"):
        act(shelf)
    with shelf.because("as agreed"):
        act(shelf)
    with pytest.raises(Refused, match=r"The record of 26-001 is closed\. “"):
        undo(shelf)


@pytest.mark.parametrize(
    ("code", "name", "text"),
    [
        ("26-001", "yield", "221 ml"),
        ("26-001", "weight", "51 g"),
        ("26-001", "bottle-1.day", "22 Oct 2026"),
        ("26-002", "filled", "20 Oct 2026"),
    ],
)
def test_a_correction_of_something_closed_needs_a_reason(
    shelf: Keeper, code: str, name: str, text: str
) -> None:
    close_month(shelf, OCTOBER)
    subject = subject_of_code(shelf, code)
    with pytest.raises(ReasonNeeded):
        correct(shelf, subject, {name: text}, confirmed=True)
    correct(shelf, subject, {name: text}, why="misread", confirmed=True)
    with pytest.raises(Refused, match=r"can't be undone\. Correct it"):
        undo(shelf)


def test_undo_stops_at_the_first_act_that_would_change_something_closed(shelf: Keeper) -> None:
    """Whatever was done before it stays as well, and what was done since comes back as usual."""
    close_month(shelf, OCTOBER)
    take_out(shelf, 1, 10)
    shake(shelf, 2)
    assert undo(shelf).startswith("Shook")
    assert undo(shelf).startswith("Drew")
    with pytest.raises(Refused, match="“Closed Oct 2026” can't be undone: other things were done"):
        undo(shelf)
    assert redo(shelf).startswith("Drew")


def test_a_closing_can_be_undone_while_it_is_the_last_act(shelf: Keeper) -> None:
    close_month(shelf, OCTOBER)
    assert undo(shelf) == "Closed Oct 2026"
    assert closings(shelf) == []
    assert redo(shelf) == "Closed Oct 2026"
    assert undo(shelf) == "Closed Oct 2026"
    assert undo(shelf).startswith("Filled ")
    close_batch(shelf, 1)
    assert closing_of(shelf, "26-001") is not None
    assert undo(shelf) == "Closed the record of 26-001"
    assert closing_of(shelf, "26-001") is None


def test_an_act_undone_before_the_closing_is_not_redone_after_it(shelf: Keeper) -> None:
    """A new act drops what could be redone; a closing is one."""
    take_out(shelf, 1, 10, day=in_october(30), confirmed=True)
    undo(shelf)
    close_month(shelf, OCTOBER)
    with pytest.raises(Refused, match="Nothing to redo"):
        redo(shelf)


def test_only_a_past_month_is_closed_and_once_and_with_initials(
    shelf: Keeper,
) -> None:
    for month in (shelf.today, shelf.today + timedelta(days=40)):
        with pytest.raises(Refused, match="isn't over yet"):
            close_month(shelf, month)
    assert close_month(shelf, in_october(17)) == "Oct 2026"
    with pytest.raises(Refused, match="already closed"):
        close_month(shelf, OCTOBER)
    close_batch(shelf, 1)
    with pytest.raises(Refused, match="26-001 is already closed"):
        close_batch(shelf, 1)
    assert [(c.month, c.batch, c.day, c.maker) for c in closings(shelf)] == [
        (OCTOBER, "", shelf.today, "AL"),
        (None, "26-001", shelf.today, "AL"),
    ]
    save_settings(shelf, replace(settings_of(shelf), maker=""))
    with pytest.raises(Refused, match="Set your initials first"):
        close_month(shelf, date(2026, 9, 1))


def test_a_month_is_read_as_people_write_it() -> None:
    for text in ("2026-10", "October 2026", "oct 2026", "10/2026", " Oct  2026 "):
        assert month_typed(text) == OCTOBER
    for text in ("26-001", "26-001.1", "October", "2026", "2026-13"):
        assert month_typed(text) is None
    with pytest.raises(NotUnderstood, match="Enter a month"):
        read_month("soon")


def test_other_months_and_batches_stay_open(shelf: Keeper) -> None:
    close_month(shelf, date(2026, 9, 1))
    take_out(shelf, 1, 10, day=in_october(30), confirmed=True)
    undo(shelf)
    strained(shelf, 2, 200)
    close_batch(shelf, 2)
    set_keep_until(shelf, 1, shelf.today + timedelta(days=90))
    undo(shelf)
