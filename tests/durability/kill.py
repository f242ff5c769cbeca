"""Kills the program at random moments and checks that all it had acknowledged is there.

    python tests/durability/kill.py --times 500 [--seed 1] [--folder DIR]

A *victim* works at a shelf in a process of its own and acknowledges each thing once it is done; it
is ended by SIGKILL. Then the shelf must open, `check` must find nothing, and the record must be
just what was acknowledged last, or one whole action further: that one is turned back, and what is
left must equal what was acknowledged. Ends with 1 and a sentence on the first failure.
"""

import argparse
import hashlib
import os
import signal
import sys
import tempfile
import time
import traceback
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from random import Random
from typing import BinaryIO, Protocol

sys.path.insert(0, str(Path(__file__).parent))

from driver import Driver, content

from stillroom.clock import SetClock
from stillroom.errors import Refused, StoreError
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.shelf_file.backups import backup_to
from stillroom.keeping.shelf_file.check import check
from stillroom.keeping.undo import redo, undo
from stillroom.records.store import Store

FRESH_AFTER = 50
"""Kills after which a new shelf is begun, as a large one takes long to compare."""


class Wrong(Exception):
    """A shelf after a kill is not what it must be."""


@dataclass(frozen=True)
class Acknowledged:
    """What a victim has said last."""

    top: int
    """Number of the last action that stands."""
    digest: str
    """Of every row of the record."""


class Victim(Protocol):
    """A way to work at a shelf; another would press keys in a pseudo-terminal."""

    def start(self, shelf: Path, seed: int) -> tuple[int, BinaryIO]:
        """Begin to work; returns the process and where its acknowledgements come from."""
        ...


class Hand:
    """Calls the use cases, undo and redo among them, and makes backups beside the shelf."""

    def start(self, shelf: Path, seed: int) -> tuple[int, BinaryIO]:
        """Begin in a fork, which has everything imported and so is at work at once."""
        reading, writing = os.pipe()
        process = os.fork()
        if process:
            os.close(writing)
            return process, os.fdopen(reading, "rb")
        try:
            work(shelf, seed, writing)
        except BaseException:
            traceback.print_exc()
        finally:
            os._exit(1)


def work(shelf: Path, seed: int, acknowledge: int) -> None:
    """Do one thing after another until killed."""
    random = Random(seed)
    clock = SetClock(datetime(2026, 11, 26, 9, 15, tzinfo=UTC))
    keeper = Keeper(Store.open(shelf, create=True), clock)
    last = keeper.rows("SELECT max(at) FROM event")[0][0]
    if last:  # the run before this one has moved its clock on
        clock.moment = datetime.fromisoformat(last)
    driver = Driver(keeper, random, clock)
    for number in range(1_000_000):
        os.write(acknowledge, f"{top_action(keeper)} {digest(keeper)}\n".encode())
        if random.random() < 0.1:
            driver.aside()
        chance = random.random()
        if chance < 0.8:
            driver.act()
        elif chance < 0.95:
            try:
                (undo if chance < 0.9 else redo)(keeper)
            except Refused:
                pass
        else:
            backup_to(keeper, shelf.with_name(f"backup-{os.getpid()}-{number}"))


def top_action(keeper: Keeper) -> int:
    """The number of the last action that stands; 0 when there is none."""
    ((top,),) = keeper.rows("SELECT coalesce(max(id), 0) FROM action WHERE NOT undone")
    return int(top)


def digest(keeper: Keeper) -> str:
    """A short sum of every row of the record."""
    return hashlib.sha256(repr(content(keeper)).encode()).hexdigest()[:16]


def judge(keeper: Keeper, said: Acknowledged) -> bool:
    """Whether the shelf is one whole action further than was said, which is then turned back.

    Raises Wrong where it is anything else than that or just what was said.
    """
    if digest(keeper) == said.digest:
        return False
    try:
        (undo if top_action(keeper) > said.top else redo)(keeper)
    except Refused as error:
        raise Wrong(f"what was acknowledged is not there: {error}") from error
    if digest(keeper) != said.digest:
        raise Wrong("the record is neither what was acknowledged nor one action further")
    return True


@contextmanager
def opened(path: Path) -> Iterator[Keeper]:
    """A shelf after the kill, as the next start of the program finds it."""
    store = Store.open(path)
    try:
        keeper = Keeper(store, SetClock(datetime(2026, 11, 26, 9, 15, tzinfo=UTC)))
        keeper.trust_date()  # the killed program had moved its own clock on
        yield keeper
    finally:
        store.close()


def kill_once(victim: Victim, shelf: Path, random: Random) -> tuple[int, bool]:
    """Start, kill, look; returns how much was acknowledged, and whether the shelf is further."""
    process, acknowledgements = victim.start(shelf, random.randrange(2**32))
    with acknowledgements:
        # Every fourth victim dies while it makes or opens the shelf, the others soon after they
        # have acknowledged something, that is in the middle of the next.
        heard = random.choice((0, 1, 4, 8))
        first = b"".join(acknowledgements.readline() for _ in range(heard))
        time.sleep(random.uniform(0, 0.005 if heard else 0.012))
        os.kill(process, signal.SIGKILL)
        _, status = os.waitpid(process, 0)
        lines = (first + acknowledgements.read()).decode().splitlines(keepends=True)
    if not os.WIFSIGNALED(status):
        raise Wrong("the victim ended by itself")
    whole = [line.split() for line in lines if line.endswith("\n")]
    further = False
    if shelf.exists():
        with opened(shelf) as keeper:
            refuse_findings(keeper)
            if whole:
                top, last_digest = whole[-1]
                further = judge(keeper, Acknowledged(int(top), last_digest))
                if further:  # something was turned back
                    refuse_findings(keeper)
    elif whole:
        raise Wrong("the shelf is not there")
    for backup in shelf.parent.glob("backup-*"):
        with opened(backup) as keeper:
            refuse_findings(keeper)
        backup.unlink()
    return len(whole), further


def refuse_findings(keeper: Keeper) -> None:
    """Raise Wrong where `check` finds anything."""
    if findings := check(keeper):
        raise Wrong(f"check found in {keeper.store.path}: {findings}")


def run(victim: Victim, times: int, seed: int, folder: Path) -> int:
    """Kill so often; returns the exit code."""
    random = Random(seed)
    began, acknowledged, further = time.monotonic(), 0, 0
    for number in range(times):
        shelf = folder / f"shelf-{number // FRESH_AFTER}"
        try:
            count, was_further = kill_once(victim, shelf, random)
        except (Wrong, StoreError) as error:
            print(f"kill {number + 1} of seed {seed}: {error}; the shelf is {shelf}")
            return 1
        acknowledged += count
        further += was_further
    print(
        f"{times} kills, {acknowledged} actions acknowledged, 0 lost, 0 half done; "
        f"{further} kills came between an action's end and its acknowledgement; "
        f"{time.monotonic() - began:.0f} s"
    )
    return 0


def main() -> int:
    """Read the arguments and run."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--times", type=int, default=500)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--folder", type=Path, help="where the shelves go; kept afterwards")
    asked = parser.parse_args()
    if asked.folder:
        asked.folder.mkdir(parents=True, exist_ok=True)
        return run(Hand(), asked.times, asked.seed, asked.folder)
    with tempfile.TemporaryDirectory() as folder:
        return run(Hand(), asked.times, asked.seed, Path(folder))


if __name__ == "__main__":
    sys.exit(main())
