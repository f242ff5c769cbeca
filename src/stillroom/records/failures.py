"""What SQLite refuses, turned into sentences for people."""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager

from peewee import DatabaseError, IntegrityError, ProgrammingError

from stillroom.errors import Refused, StoreError
from stillroom.records.disk import disk_failure


@contextmanager
def plain_failures(*, writing: bool = True) -> Iterator[None]:
    """Turn what SQLite says into a sentence for people; a mistake of ours stays one."""
    try:
        yield
    except IntegrityError as error:
        raise Refused(_said_by_schema(str(error))) from error
    except (ProgrammingError, sqlite3.ProgrammingError):
        raise
    except (DatabaseError, sqlite3.Error) as error:
        raise StoreError(disk_failure(error, writing=writing)) from error
    except (OverflowError, UnicodeEncodeError) as error:
        raise Refused("A number is too large, or a text is not whole, to be kept.") from error


def _said_by_schema(error: str) -> str:
    if error.endswith("."):  # our own triggers speak in sentences
        return error
    if "UNIQUE" in error:
        return "There is one with that name or number already."
    if "FOREIGN KEY" in error:
        return "It is used elsewhere on this shelf, or no longer there."
    return f"The shelf cannot hold that ({error})."
