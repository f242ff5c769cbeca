"""How quick the screen is for a person: in a real pseudo-terminal, writes included.

    python tests/benchmarks/bench_screen.py

Prints the time to the first full paint of the sample shelf as a ratio to a bare Textual app, and
from pressing space to seeing the shake on screen with 12 and with 1,000 jars. Nothing is asserted:
times differ from run to run.
"""

import random
import sys
import tempfile
import time
from datetime import timedelta
from pathlib import Path
from statistics import median

from terminal import Terminal

from stillroom.clock import SystemClock
from stillroom.keeping.drafts import ChargeDraft, JarDraft, PourDraft
from stillroom.keeping.jars.jar import fill_jar
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import remember
from stillroom.keeping.shelf_file.sample import open_sample
from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.states import LiquidKind
from stillroom.records.store import Store

BARE = """
from textual.app import App
from textual.widgets import Static

class Bare(App):
    def compose(self):
        yield Static("ready and bare")

Bare().run()
"""
ROUNDS = 9
PRESSES = 55
STILLROOM = [sys.executable, "-m", "stillroom"]


def first_paint_ms(command: list[str], marker: str) -> float:
    """From starting the process to the marker on screen."""
    with Terminal(command) as terminal:
        return 1000 * (terminal.wait_for(marker) - terminal.started)


def compare_starts(shelf: Path) -> None:
    """Bare app and Stillroom in turn, so that both are measured in the same conditions."""
    bare, full = [], []
    for number in range(ROUNDS + 1):
        one = first_paint_ms([sys.executable, "-c", BARE], "ready and bare")
        other = first_paint_ms([*STILLROOM, "--shelf", str(shelf)], "Quit")
        if number:  # the first round warms the disk
            bare.append(one)
            full.append(other)
    ratios = [f / b for f, b in zip(full, bare, strict=True)]
    print(f"first paint, bare Textual app    {median(bare):7.1f} ms")
    print(f"first paint, sample shelf        {median(full):7.1f} ms")
    print(f"ratio, pair by pair              {median(ratios):7.2f}   (goal 1.45 or less)")


def shelf_of(jars: int, folder: Path) -> Path:
    """A shelf with that many jars which want nine shakes a day."""
    path = folder / f"{jars}.stillroom"
    store = Store.open(path, create=True)
    keeper = Keeper(store, SystemClock())
    remember(keeper, "cautions_read", "2026-01-01")
    day = keeper.today
    for number in range(jars):
        fill_jar(
            keeper,
            JarDraft(
                charges=(ChargeDraft(f"Herb {number:04d}", Part.LEAF, Condition.DRIED, 100),),
                pours=(PourDraft(LiquidKind.SPIRIT, 500, 40),),
                filled_on=day,
                strain_on=day + timedelta(days=14),
                shakes_per_day=9,
            ),
        )
    store.close()
    return path


def key_to_paint_ms(shelf: Path) -> list[float]:
    """From writing the key to the new count on screen, over many presses at odd moments."""
    chance = random.Random(7)
    times = []
    with Terminal([*STILLROOM, "--shelf", str(shelf)]) as terminal:
        terminal.wait_for("Quit")
        terminal.settle()
        for press in range(PRESSES):
            time.sleep(chance.uniform(0.02, 0.06))
            turn = press % 9 + 1
            sent = time.perf_counter()
            terminal.send(b" ")
            seen = terminal.wait_for("shaken" if turn == 9 else f"{turn} of 9")
            times.append(1000 * (seen - sent))
            terminal.settle(quiet=0.03)
            if turn == 9:
                terminal.send(b"\x1b[C")  # on to the next jar
                terminal.settle(quiet=0.05)
    return times


def main() -> None:
    """Run all of it."""
    with tempfile.TemporaryDirectory() as folder:
        keeper = open_sample(SystemClock(), Path(folder))
        remember(keeper, "cautions_read", "2026-01-01")
        keeper.store.close()
        compare_starts(keeper.store.path)
        for jars in (12, 1000):
            times = sorted(key_to_paint_ms(shelf_of(jars, Path(folder))))
            p95 = times[int(0.95 * len(times))]
            print(
                f"space to paint, {jars:5d} jars       {median(times):7.1f} ms median, "
                f"{p95:.1f} ms p95   (goal 10 ms or less)"
            )


if __name__ == "__main__":
    main()
