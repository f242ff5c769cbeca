"""Undoes and redoes random actions over every use case, across restarts.

    python -m tests.durability.take_back --actions 1000 --seed 20261126

At every tenth of the way back and forth the shelf has exactly the content it had there before,
table by table, and `check` finds nothing. Ends with an error where it hasn't.
"""

import argparse
import tempfile
from datetime import UTC, datetime
from pathlib import Path
from random import Random

from stillroom.clock import SetClock
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.shelf_file.check import check
from stillroom.keeping.undo import redo, undo, undoable
from stillroom.records.store import Store

from .driver import ASIDES, STEPS, Driver, content

MORNING = datetime(2026, 11, 26, 9, 15, tzinfo=UTC)
STOPS = 10
"""At how many places the content is compared and the program restarted."""
MOST_STOPS = 50
"""By then each use case has had its turn, or never will."""
BETWEEN_NEW = 2
"""After so many random actions comes one that was never done yet."""
BETWEEN_ASIDES = 10
"""After so many actions comes one that undo leaves as it is."""


def opened(path: Path, clock: SetClock) -> Keeper:
    """A shelf that does not wait for the disk: these actions need not survive a power cut."""
    store = Store.open(path, create=True)
    store.db.pragma("synchronous", 0)
    return Keeper(store, clock)


def reopened(keeper: Keeper, clock: SetClock) -> Keeper:
    """The same shelf after a restart."""
    keeper.store.close()
    return opened(keeper.store.path, clock)


def take_back(path: Path, actions: int, seed: int) -> int:
    """Do, undo and redo so many actions, or more until each use case had its turn.

    What undo must leave as it is comes in between.

    Returns how many it took; raises AssertionError where a content isn't the earlier one.
    """
    clock = SetClock(MORNING)
    keeper = opened(path, clock)
    driver = Driver(keeper, Random(seed), clock)
    states, counts = [content(keeper)], list[int]()
    asides: set[str] = set()
    steps, all_asides = len(set(STEPS)), {aside.__name__ for aside in ASIDES}
    while len(counts) < STOPS or len(driver.done) < steps or not all_asides <= asides:
        assert len(counts) < MOST_STOPS, (
            f"only {sorted(driver.done)} and {sorted(asides)} go through"
        )
        for number in range(1, actions // STOPS + 1):
            driver.act_anew() if number % BETWEEN_NEW == 0 else driver.act()
            if number % BETWEEN_ASIDES == 0:
                asides.add(driver.aside())
        counts.append(actions // STOPS)
        states.append(content(keeper))
        assert check(keeper) == []
        keeper = driver.keeper = reopened(keeper, clock)
    printed = keeper.rows("SELECT * FROM print_log")

    for count, earlier in zip(reversed(counts), reversed(states[:-1]), strict=True):
        for _ in range(count):
            undo(keeper)
        assert content(keeper) == earlier
        assert check(keeper) == []
        keeper = reopened(keeper, clock)
    assert undoable(keeper) is None

    for count, later in zip(counts, states[1:], strict=True):
        for _ in range(count):
            redo(keeper)
        assert content(keeper) == later
        keeper = reopened(keeper, clock)
    assert check(keeper) == []
    assert keeper.rows("SELECT * FROM print_log") == printed
    keeper.store.close()
    return sum(counts)


def main() -> None:
    """Run it and print how far it went."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--actions", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=20261126)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="take-back-") as folder:
        done = take_back(Path(folder) / "shelf", asked.actions, asked.seed)
    print(f"{done:,} actions undone and redone")


if __name__ == "__main__":
    main()
