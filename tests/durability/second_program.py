"""Another program at the same shelf: does what each line on its standard input names.

Each answer is one line: `done`, or the kind of refusal and its sentence.
"""

import sqlite3
import sys
from datetime import UTC, datetime
from pathlib import Path

from stillroom.clock import SetClock
from stillroom.errors import StillroomError
from stillroom.keeping.bottles.stock import take_out
from stillroom.keeping.drafts import StrainDraft
from stillroom.keeping.jars.jar import shake
from stillroom.keeping.jars.straining import strain
from stillroom.keeping.keeper import Keeper
from stillroom.reckoning.yields import Pressing
from stillroom.records.disk import is_locked
from stillroom.records.store import Store


def do(keeper: Keeper, verb: str, number: int) -> None:
    if verb == "shake":
        shake(keeper, number)
    elif verb == "draw":
        take_out(keeper, number, 10)
    elif verb == "strain":
        strain(keeper, StrainDraft(number, keeper.today, 400, Pressing.SQUEEZED))
    elif verb == "hold":  # the lock, until this program ends
        sqlite3.Connection.execute(keeper.store.db.connection(), "BEGIN IMMEDIATE")
    else:
        raise ValueError(verb)


def answer(keeper: Keeper, verb: str, number: int) -> str:
    """What comes of it; asked again where the lock was not free in time, as on a busy machine."""
    while True:
        try:
            do(keeper, verb, number)
            return "done"
        except StillroomError as error:
            if not is_locked(error):
                return f"{type(error).__name__}: {error}"


def main(path: Path) -> None:
    clock = SetClock(datetime(2026, 11, 26, 9, 15, tzinfo=UTC))
    keeper = Keeper(Store.open(path), clock)
    print("ready", flush=True)
    for line in sys.stdin:
        verb, number = line.split()
        print(answer(keeper, verb, int(number)), flush=True)


if __name__ == "__main__":
    main(Path(sys.argv[1]))
