"""Who keeps the shelf: the store, the clock, and the frame every use case runs in."""

import math
from collections.abc import Callable, Hashable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from time import monotonic
from typing import Any

from stillroom.clock import Clock
from stillroom.dates import DayForm, show_moment, show_month
from stillroom.errors import DateInDoubt, ReasonNeeded, Refused, StoreError
from stillroom.keeping.words import clean_note, listed
from stillroom.reckoning.states import LineKind
from stillroom.records.closings import WhatIsClosed, closed_that_changes, what_is_closed
from stillroom.records.disk import is_locked
from stillroom.records.failures import plain_failures
from stillroom.records.journal import begin_line, drop_line, end_line, write_event
from stillroom.records.store import Store
from stillroom.records.undo import begin, finish

CHANGED_MEANWHILE = "Another window changed this. Press esc and open it again."
CLOCK_SLACK = timedelta(hours=1)
"""How far a clock may be set back without a question."""
MOST_BACK, MOST_AHEAD = timedelta(days=1), timedelta(days=400)
"""How far from the last entry an act may be dated without a question: a journey, a year away."""
LAST_ENTRY = "SELECT at FROM event ORDER BY id DESC LIMIT 1"
FORGOTTEN_AFTER_S = 1.0
"""After a failed wait for another program's lock, how long (s) further waits are short."""
SHORT_WAIT_S, PATIENCE_S = 0.02, 0.2
"""How long each of those is, and all of them together; with the first, less than half a second."""
UNREAD = -1
"""No version of any file."""
LONGEST_LINE = 20_000
"""Letters of a line of the ledger: two notes, old and new, may come to more."""
UNDO_DEPTH = 5000
"""Actions kept for undo; older ones can no longer be undone."""


def stamp(moment: datetime) -> str:
    """A moment as it is stored: ISO 8601 in UTC, to the microsecond, sortable as text."""
    return moment.astimezone(UTC).isoformat(timespec="microseconds")


def doubt(
    now: datetime,
    last_entry: str,
    *,
    back: timedelta = MOST_BACK,
    form: DayForm = DayForm.DAY_MONTH_YEAR,
) -> str:
    """Why a clock that shows `now` may be wrong, given the moment of the last entry; or blank."""
    if not last_entry:
        return ""
    # Moments are sortable as text, and a damaged one need not be a moment.
    if stamp(now - MOST_AHEAD) <= last_entry <= stamp(now + back):
        return ""
    return (
        f"This computer's date is {show_moment(stamp(now), form)}, but the last entry is from "
        f"{show_moment(last_entry, form)}. Is the date right?"
    )


class _RehearsalOver(Exception):
    """Raised to end a rehearsal: the transaction around it is rolled back."""


@dataclass
class Act:
    """One use case under way: when, by whom, and what undo will call it."""

    at: str
    day: date
    maker: str
    title: str
    """May be made more exact while the act runs."""

    why: str = ""
    """The reason given, as for a correction."""
    line_id: int = 0
    """Its line in the journal."""
    db: Any = None
    """The shelf it writes to."""

    def note(self, kind: str, text: str = "", **about: int | None) -> int:
        """Write a line in the ledger; `about` names rows as `jar_id=`, `bottle_id=` and so on.

        Returns the line's id. A text that is too long for a line is cut off.
        """
        text, day = text[:LONGEST_LINE], self.day.isoformat()
        return write_event(self.db, self.at, day, self.maker, kind, text, self.line_id, about)


@dataclass
class Keeper:
    """An open shelf, the clock it lives by, and whose initials go into the record."""

    store: Store
    clock: Clock
    at_shelf: str | None = None
    """Initials of who is at the shelf in this window; None for those of the settings."""
    labels_compared: dict[int, tuple[Any, str]] = field(default_factory=dict)
    """By bottle, the facts from which the text of its label was last made, and that text."""
    remembered: dict[str, tuple[Hashable, Any]] = field(default_factory=dict)
    """Results by name, each with what it was made from (`keeping/memo.py`)."""
    _settings: dict[str, str] = field(default_factory=dict)
    _settings_version: int = UNREAD
    _day: date | None = None
    """The local day of the act under way."""
    _must_hold: Callable[[], bool] | None = None
    _why: str = ""
    """The reason for the acts that give none of their own."""
    _trusted: date | None = None
    """The day on which a person confirmed this computer's date."""
    _locked_at: float = -math.inf
    """When a lock of another program was last waited for in vain."""
    _patience_left: float = 0.0
    _rehearses: bool = False
    """Whether what is done now will be rolled back."""
    _found: tuple[int, str] | None = None
    """Id and moment of the last action when we began to distinguish others' acts from our own."""
    _own_acts: set[tuple[int, str]] = field(default_factory=set)
    """Ids and moments of the actions done here since then."""

    @property
    def today(self) -> date:
        """The local day; an act that midnight overtakes ends on the day it began."""
        return self._day or self.clock.today()

    @property
    def date_in_doubt(self) -> str:
        """Why the clock cannot be right, as after a power cut where it has no battery; or blank."""
        return doubt(self.clock.now(), self._last_entry, back=CLOCK_SLACK, form=self._day_form)

    @property
    def _day_form(self) -> DayForm:
        return DayForm(self.setting("day_form", DayForm.DAY_MONTH_YEAR))

    @property
    def _last_entry(self) -> str:
        last = self.rows(LAST_ENTRY)
        return str(last[0][0]) if last else ""

    def trust_date(self) -> None:
        """Trust this computer's date, because a person confirmed it."""
        self._trusted = self.clock.today()

    @property
    def trusts_date(self) -> bool:
        """Whether a person has confirmed today's date."""
        return self._trusted == self.clock.today()

    def refuse_doubtful_date(self) -> None:
        """Raise DateInDoubt where an act would be dated far from the last entry, until trusted."""
        if self.trusts_date:
            return
        doubtful = doubt(self.clock.now(), self._last_entry, form=self._day_form)
        if doubtful:
            raise DateInDoubt(doubtful)

    def tell_acts_apart(self) -> None:
        """From here on, distinguish our own acts from another program's."""
        ((*found,),) = self.rows("SELECT coalesce(max(id), 0), coalesce(max(at), '') FROM action")
        self._found = (found[0], found[1])
        self._own_acts.clear()

    def is_anothers(self, action_id: int, at: str) -> bool:
        """Whether another program has acted since this one began to keep track."""
        if self._found is None or (action_id, at) in self._own_acts:
            return False
        # An id may come again, once an action has been undone.
        return action_id > self._found[0] or at > self._found[1]

    def setting(self, name: str, default: str = "") -> str:
        """A setting of this shelf, by its stored name."""
        return self.stored_settings().get(name, default)

    def stored_settings(self) -> Mapping[str, str]:
        """The settings of this shelf as stored, by name: read again once they may have changed."""
        # During an act no other program can change them.
        if self._day is None or self._settings_version == UNREAD:
            version = self.store.data_version
            if version != self._settings_version:
                self._settings = dict(self.rows("SELECT name, value FROM setting"))
                self._settings_version = version
        return self._settings

    def forget_settings(self) -> None:
        """Read the settings from the file again when next needed."""
        self._settings_version = UNREAD

    def rows(self, sql: str, *values: object) -> list[tuple[Any, ...]]:
        """The rows that a reading query finds."""
        with plain_failures(writing=self.store.db.in_transaction()):
            return list(self.store.db.execute_sql(sql, values))

    def each_row(self, sql: str, *values: object) -> Iterator[tuple[Any, ...]]:
        """The rows that a reading query finds, one by one: thousands aren't in memory at once."""
        with plain_failures(writing=self.store.db.in_transaction()):
            # Not `yield from`: dropped half-way, that would close the cursor of a closed shelf.
            for row in self.store.db.execute_sql(sql, values):  # noqa: UP028
                yield row

    @property
    def path(self) -> Path:
        """Where the shelf file is."""
        return self.store.path

    @property
    def is_read_only(self) -> bool:
        """Whether nothing can be written to the shelf."""
        return self.store.read_only

    @property
    def trouble(self) -> str:
        """Why the shelf cannot be written to, in a sentence, where that may be cured."""
        return self.store.trouble

    @property
    def data_version(self) -> int:
        """A number that changes when another program writes to the shelf."""
        return self.store.data_version

    @property
    def maker(self) -> str:
        """Initials of the person at the shelf."""
        return self.setting("maker") if self.at_shelf is None else self.at_shelf

    @contextmanager
    def act(self, title: str, *, kind: LineKind = LineKind.ACT, why: str = "") -> Iterator[Act]:
        """Run one use case: a single transaction, undoable under its title, all or nothing.

        Its line in the journal is of the given kind, with the reason.

        Raises Refused where the shelf's own rules say no, DateInDoubt where the clock may be
        wrong, StoreError where the file cannot take the write. Each way nothing has changed.
        """
        with self.writing():
            if self._must_hold and not self._must_hold():
                raise Refused(CHANGED_MEANWHILE)
            self.refuse_doubtful_date()
            db = self.store.db
            act = Act(
                stamp(self.clock.now()), self.today, self.maker, title, why or self._why, db=db
            )
            self.forget_settings()
            self._day = act.day
            closed = what_is_closed(db)
            try:
                act.line_id = begin_line(
                    db, act.at, act.day.isoformat(), act.maker, kind, act.title
                )
                action_id = begin(
                    db, act.at, act.maker, act.title, correcting=kind is LineKind.CORRECTION
                )
                yield act
                if closed and not act.why:
                    self.refuse_to_change(closed, act.line_id, action_id)
                if finish(db, action_id, act.title, act.line_id, keep=UNDO_DEPTH):
                    end_line(db, act.line_id, act.title, act.why)
                else:
                    drop_line(db, act.line_id)
                if self._found is not None:
                    self._own_acts.add((action_id, act.at))
            finally:
                self._day = None

    def refuse_to_change(
        self,
        closed: WhatIsClosed,
        line_id: int,
        action_id: int,
        *,
        of_id: int | None = None,
        otherwise: str = "",
    ) -> None:
        """Raise ReasonNeeded where an act has written to what is closed.

        An undo, of the line `of_id`, can't be done for a reason either: then `otherwise` names the
        way out, and it is Refused.
        """
        months, batches = closed_that_changes(self.store.db, closed, line_id, action_id, of_id)
        names = [
            show_month(date.fromisoformat(f"{month}-01"), self._day_form) for month in months
        ] + [f"the record of {code}" for code in batches]
        if not names:
            return
        is_closed = f"{listed(names)} {'is' if len(names) == 1 else 'are'} closed"
        said = is_closed[0].upper() + is_closed[1:]
        if otherwise:
            raise Refused(f"{said}. {otherwise}")
        raise ReasonNeeded(f"{said}: give a reason for this.")

    @contextmanager
    def because(self, why: str) -> Iterator[None]:
        """Give the reason for acts that have none of their own, as where a month is closed."""
        before = self._why
        self.give_reason(why)
        try:
            yield
        finally:
            self._why = before

    def give_reason(self, why: str) -> None:
        """Give the reason for all acts from here on that have none of their own."""
        self._why = clean_note(why, "The reason", limit=2000)

    @contextmanager
    def rehearsal(self) -> Iterator[None]:
        """Run use cases as they would run, and then roll back all that they wrote.

        They refuse, ask and return what they would; nothing of them stays in the file.
        """
        try:
            with self.writing():
                self._rehearses = True
                yield
                raise _RehearsalOver
        except _RehearsalOver:
            pass
        finally:
            self._rehearses = False

    @contextmanager
    def only_if(self, holds: Callable[[], bool]) -> Iterator[None]:
        """Refuse acts that begin when this no longer holds, as where another program was first."""
        self._must_hold = holds
        try:
            yield
        finally:
            self._must_hold = None

    def refuse_if_for_looking(self) -> None:
        """Raise Refused where nothing can be written."""
        if self.store.read_only:
            if self.store.trouble:
                raise Refused(self.store.trouble)
            raise Refused("This shelf is read-only: its file can't be written.")

    @contextmanager
    def writing(self) -> Iterator[None]:
        """Hold the shelf for one transaction, once it is sure that the file can take it."""
        if self._rehearses:
            yield from self._writing_in_rehearsal()
            return
        self.refuse_if_for_looking()
        if self.store.db.in_transaction():
            raise RuntimeError("A use case cannot run inside another: neither could be undone.")
        try:
            with self._patience(), plain_failures(writing=True):
                self.store.prepare_to_write()
                with self.store.db.atomic("IMMEDIATE"):
                    self.store.begin_act()
                    yield
        finally:
            self.forget_settings()

    def _writing_in_rehearsal(self) -> Iterator[None]:
        """One use case of several inside the transaction that is rolled back."""
        try:
            with plain_failures(writing=True), self.store.db.atomic():
                yield
        finally:
            self.forget_settings()

    @contextmanager
    def _patience(self) -> Iterator[None]:
        """Wait for another program's lock, but not for each of many keys pressed in the same time.

        Otherwise the waits would add up before the next key is answered.
        """
        began = monotonic()
        is_first = began - self._locked_at >= FORGOTTEN_AFTER_S
        if is_first:
            self._patience_left = PATIENCE_S
        try:
            if is_first:
                yield
            else:
                with self.store.waiting(min(SHORT_WAIT_S, self._patience_left)):
                    yield
        except StoreError as error:
            if is_locked(error) and is_first:
                self._locked_at = monotonic()
            elif is_locked(error):
                self._patience_left = max(0.0, self._patience_left - (monotonic() - began))
            raise
