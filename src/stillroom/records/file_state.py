"""Which file a shelf is, and which act it has come to: two settings of the file, not of a person.

SQLite plays any log into the file beside it. These two rows show whether a log continues the file:
every act gives the file a new random mark and notes the mark before it, and every copy that the
program makes gets a name of its own. They are no part of exports or of the undo log.
"""

import re
import secrets
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

APPLICATION_ID = 0x5374696C
"""Marks an SQLite file as a shelf: "Stil" in ASCII."""

IDENTITY, STATE = "file_identity", "file_state"
OWN_SETTINGS = (IDENTITY, STATE)
"""The names of the two rows in `setting`."""

LISTS_OF_WORDS = (
    "batch_status",
    "cupboard_movement_kind",
    "herb_movement_kind",
    "input_kind",
    "jar_state",
    "journal_kind",
    "known_kind",
    "liquid_kind",
    "loss_kind",
    "movement_kind",
    "other_liquid_kind",
    "print_kind",
)
"""Tables that list the words which columns of others may have; every shelf has the same."""

FIRST = "0" * 16
"""The mark before the first one."""

STATE_VALUE = r"(\d{12}) ([0-9a-f]{16}) ([0-9a-f]{16})"
"""How the state is written: number of the act, the mark before it, and its own mark."""

Run = Callable[[str, tuple[str, ...]], Any]
"""Runs one statement."""

_IDENTITY_FORM = re.compile(r"[0-9a-f]{32}")
_STATE_FORM = re.compile(STATE_VALUE, re.ASCII)


@dataclass(frozen=True)
class FileState:
    """A file and the act it has come to."""

    identity: str
    """Of the file, 32 hexadecimal digits; a copy has another."""
    number: int
    """Acts since the count began, undo and redo among them: it never goes down."""
    before: str
    """The mark of the act before."""
    mark: str
    """Random, of the last act."""


def read_state(run: Run) -> FileState | None:
    """The state of an open file; None where no version that writes it has worked on it."""
    sql = "SELECT name, value FROM setting WHERE name IN (?, ?)"
    rows = dict(run(sql, OWN_SETTINGS).fetchall())
    found = _STATE_FORM.fullmatch(str(rows.get(STATE)))
    if not found or not _IDENTITY_FORM.fullmatch(str(rows.get(IDENTITY))):
        return None
    return FileState(rows[IDENTITY], int(found[1]), found[2], found[3])


def begin_state(run: Run, number: int = 0) -> FileState:
    """Make this a file of its own, as a new shelf or a copy."""
    state = FileState(secrets.token_hex(16), number, FIRST, secrets.token_hex(8))
    _write(run, IDENTITY, state.identity)
    _write_state(run, state)
    return state


def next_state(run: Run, now: FileState | None) -> FileState:
    """Record one more act; to be called before it is recorded for undo."""
    if now is None:
        return begin_state(run)
    state = FileState(now.identity, now.number + 1, now.mark, secrets.token_hex(8))
    _write_state(run, state)
    return state


def _write_state(run: Run, state: FileState) -> None:
    _write(run, STATE, f"{state.number:012d} {state.before} {state.mark}")


def _write(run: Run, name: str, value: str) -> None:
    sql = """INSERT INTO setting (name, value) VALUES (?, ?)
             ON CONFLICT (name) DO UPDATE SET value = excluded.value"""
    run(sql, (name, value))
