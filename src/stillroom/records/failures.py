"""What SQLite refuses, turned into sentences for people."""

import sqlite3
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager

from peewee import DatabaseError, IntegrityError, ProgrammingError

from stillroom.errors import Refused, StoreError
from stillroom.records.disk import ShelfDatabase, disk_failure

Run = Callable[[str, Sequence[object] | Mapping[str, object]], sqlite3.Cursor]
"""Runs one statement with its values."""

PLAINER = {
    "A jar that was strained or discarded can only be brought back by undo.": (
        "This jar was strained or discarded. Only undo can restore it."
    ),
    "A jar is strained when there is a straining of it, and only then.": (
        "A jar counts as strained only if its straining is recorded."
    ),
    "A jar that was discarded cannot be strained.": "A discarded jar can't be strained.",
    "A bottle cannot hold less than nothing or more than its size.": (
        "A bottle's content can't be negative, or more than its size."
    ),
    "A movement is never rewritten: a further movement corrects it.": (
        "A movement can't be changed. Add another one to correct it."
    ),
    "A movement is never taken away: a further movement corrects it.": (
        "A movement can't be deleted. Add another one to correct it."
    ),
    "A part of a blend is drawn for it from a bottle of another tincture.": (
        "A part of a blend must be drawn for it, from a bottle of another tincture."
    ),
    "What went into a blend is never rewritten.": "The parts of a blend can't be changed.",
    "A tincture cannot be more than what was strained.": (
        "A tincture can't be more than the yield of its straining."
    ),
    "There is not that much of this tincture left to bottle.": (
        "There isn't that much of this tincture left to bottle."
    ),
    "More of this tincture is in bottles than that would leave.": (
        "More than that is already in bottles."
    ),
    "There is not that much of this spirit left in the cupboard.": (
        "There isn't that much of this spirit left in the cupboard."
    ),
    "More of this spirit has been poured than that.": (
        "More than that of this spirit has already been poured."
    ),
    "A pour is never rewritten: it is taken out and put in again.": "A pour can't be changed.",
    "A filled bottle keeps its size and its tincture.": (
        "A filled bottle's size and tincture can't be changed."
    ),
}
"""The sentences of the released schema's triggers, which cannot change there, in plainer words."""


@contextmanager
def plain_failures(*, writing: bool = True) -> Iterator[None]:
    """Turn SQLite's message into a sentence for people; our own mistakes still raise."""
    try:
        yield
    except IntegrityError as error:
        raise Refused(_said_by_schema(str(error))) from error
    except (ProgrammingError, sqlite3.ProgrammingError):
        raise
    except (DatabaseError, sqlite3.Error) as error:
        raise StoreError(disk_failure(error, writing=writing)) from error
    except (OverflowError, UnicodeEncodeError) as error:
        raise Refused("A number is too large, or some text is invalid.") from error


def runner(db: ShelfDatabase) -> Run:
    """Runs many small statements, each read before the next, without peewee's work for each.

    Raises what `plain_failures` does: what fails is run again by peewee.
    """
    cursor = db.cursor()

    def run(sql: str, params: Sequence[object] | Mapping[str, object]) -> sqlite3.Cursor:
        try:
            return cursor.execute(sql, params)
        except (sqlite3.Error, OverflowError, UnicodeError):
            with plain_failures():
                failed: sqlite3.Cursor = db.execute_sql(sql, params)
                return failed

    return run


def _said_by_schema(error: str) -> str:
    if error.endswith("."):  # a sentence of our own triggers
        return PLAINER.get(error, error)
    if "UNIQUE" in error:
        return "That name or number is already in use."
    if "FOREIGN KEY" in error:
        return "It is still in use on this shelf, or no longer exists."
    return f"The shelf can't hold that ({error})."
