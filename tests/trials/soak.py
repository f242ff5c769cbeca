"""Whether the program stays small however long it is used.

    python tests/trials/soak.py [--in-terminal] [--times 1000]

Moves the focus 2,000 times, turns 1,000 pages, opens and closes 1,000 dialogs, adds and takes away
1,000 rows of a list on the sample shelf (`--times` sets these; focus moves are twice as many).
Prints live objects and memory ten times a part, and the growth from the 40 % mark to the end of it.
In a terminal of its own only memory is known. Nothing is asserted here; `test_soak.py` does that.
"""

import argparse
import asyncio
import gc
import os
import sys
import tempfile
from collections.abc import Awaitable, Callable, Iterator
from dataclasses import dataclass
from itertools import cycle, islice
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from monkey import NAMED
from program import Place, Terminal, resident_mb

from stillroom.clock import SystemClock
from stillroom.keeping.keeper import Keeper
from stillroom.records.store import Store
from stillroom.screens.app import StillroomApp

Press = Callable[[str], Awaitable[object]]


@dataclass(frozen=True)
class Part:
    """One thing done again and again."""

    name: str
    steps: tuple[tuple[str, ...], ...]
    """Keys of one time; each in turn."""
    opening: tuple[str, ...] = ()
    closing: tuple[str, ...] = ()
    share: int = 1
    """How many times as often as the others it is done."""

    def keys(self, times: int) -> Iterator[tuple[str, ...]]:
        """The keys of so many times."""
        return islice(cycle(self.steps), times)


def parts() -> tuple[Part, ...]:
    """Focus moves, page changes, dialogs, rows of a calculator's list."""
    pages = tuple((key,) for key in "23451")
    dialogs = tuple((key, "escape") for key in ("n", "t", "m", "e", "s", "question_mark", "enter"))
    return (
        Part("focus moves", (("tab",),), ("n",), ("escape",), share=2),
        Part("page changes", pages, closing=("1",)),
        Part("dialogs", dialogs),
        Part(
            "rows of a list",
            (("ctrl+n", "ctrl+r"),),
            ("3", "down", "down", "enter"),
            ("escape", "1"),
        ),
    )


async def soak(
    press: Press, part: Part, times: int, measure: Callable[[], float], marks: int = 10
) -> list[float]:
    """Do one part; returns what was measured at so many marks."""
    measured = []
    for key in part.opening:
        await press(key)
    for number, keys in enumerate(part.keys(part.share * times), 1):
        for key in keys:
            await press(key)
        if number % (part.share * times // marks) == 0:
            measured.append(measure())
    for key in part.closing:
        await press(key)
    return measured


def live_objects() -> int:
    """Objects that the garbage collector knows and cannot collect."""
    gc.collect()
    return len(gc.get_objects())


def growth(measured: list[float]) -> float:
    """From the 40 % mark to the end."""
    return measured[-1] - measured[len(measured) * 2 // 5 - 1]


def show(what: str, unit: str, measured: list[float]) -> None:
    """Print a line of marks and the growth."""
    marks = " ".join(f"{mark:8.1f}" if unit == "MB" else f"{mark:8.0f}" for mark in measured)
    print(f"{what:13} {unit:7} {marks}   growth {growth(measured):+.1f}", flush=True)


async def in_process(place: Place, times: int) -> None:
    """Without a terminal, where objects can be counted."""
    store = Store.open(place.shelf)
    app = StillroomApp(Keeper(store, SystemClock()))
    async with app.run_test(size=(120, 40)) as pilot:

        async def press(key: str) -> None:
            await pilot.press(key)
            await pilot.pause()

        for part in parts():
            resident: list[float] = []

            def measure(resident: list[float] = resident) -> float:
                objects = live_objects()
                resident.append(resident_mb(os.getpid()))
                return objects

            show(part.name, "objects", await soak(press, part, times, measure))
            show("", "MB", resident)
    store.close()


async def in_terminal(place: Place, times: int) -> None:
    """The real program, of which memory alone can be seen."""
    with place.started() as terminal:
        for part in parts():
            measured = await soak(
                lambda key: _press(terminal, key), part, times, lambda: resident_mb(terminal.pid)
            )
            show(part.name, "MB", measured)
        terminal.send(b"q")
        terminal.wait_end()


async def _press(terminal: Terminal, key: str) -> None:
    _, ctrl, letter = key.rpartition("ctrl+")
    plain = bytes([ord(letter) & 0x1F]) if ctrl else key.encode()
    terminal.send({**NAMED, "question_mark": b"?"}.get(key, plain))
    terminal.calm()


def main() -> None:
    """Run it one way or the other."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--in-terminal", action="store_true")
    parser.add_argument("--times", type=int, default=1000)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        place = Place.with_sample(Path(folder))
        run = in_terminal if asked.in_terminal else in_process
        asyncio.run(run(place, asked.times))


if __name__ == "__main__":
    main()
