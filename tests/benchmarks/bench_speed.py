"""Every goal of speed in one run, as ratios to what this machine can do: its floor.

    python tests/benchmarks/bench_speed.py [--shelf FILE] [--rounds 9] [--idle 60]

The floor is a bare Textual app: its first paint and its key to paint; for files, plain `sqlite3`
and `csv`; for the rest, the processor time of the bare app's start. FILE is the shelf of ten years
that tests/make_big_shelf.py makes, and is made where none is given. Nothing is asserted: times
differ from run to run. Run it on a machine that does nothing else.
"""

import argparse
import os
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from statistics import median

from bench_interchange import fill_shelf, own_export, own_import, plain_export, plain_import
from bench_screen import BARE, STILLROOM
from terminal import Terminal

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.make_big_shelf import make_big_shelf

from stillroom.clock import SystemClock
from stillroom.keeping.bottles.bottle_views import bottle_rows
from stillroom.keeping.day import day_view
from stillroom.keeping.jars.shelves import shelves_view
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import remember, settings_of
from stillroom.keeping.shelf_file.sample import open_sample
from stillroom.paper.lists import stock_list
from stillroom.paper.pdf import as_pdf
from stillroom.records.store import Store

BARE_WITH_A_KEY = """
from textual.app import App
from textual.widgets import Static

class Bare(App):
    def compose(self):
        yield Static("ready and bare")

    def on_key(self, event):
        self.query_one(Static).update(f"{event.time}")

Bare().run()
"""
READY, BARE_READY = "Quit", "ready and bare"
QUIET_S = 0.15
"""Nothing written for so long: it has settled."""
ANSWER_S = 2.0
"""What is not answered by then is not answered by writing anything."""
BACKUP_S = 8.0
"""The backup of the day is made a little after the start, and is over by then."""
REST_S = 30.0
"""By then the backup of a large shelf has been made and checked, too."""
BOTTLES = 8_000
"""On the stock list."""
TICKS = os.sysconf("SC_CLK_TCK")


def cpu_s(pid: int) -> float:
    """Processor seconds that a process has taken so far."""
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / TICKS


def cpu_of(work: Callable[[], object]) -> float:
    """Processor seconds that some work takes here."""
    start = time.process_time()
    work()
    return time.process_time() - start


def cpu_of_command(*words: str | Path) -> tuple[float, str]:
    """Processor seconds of a command, and what it prints."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    done = subprocess.run([*STILLROOM, *words], capture_output=True, text=True, check=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime, done.stdout


def start_of(command: Sequence[str], marker: str) -> tuple[float, float, float]:
    """Milliseconds to the first paint and to the last byte before it settles; its CPU seconds."""
    with Terminal(command) as terminal:
        painted = last = terminal.wait_for(marker)
        cpu = cpu_s(terminal.pid)
        while terminal.read(QUIET_S):
            last = time.perf_counter()
        return 1000 * (painted - terminal.started), 1000 * (last - terminal.started), cpu


def key_ms(terminal: Terminal, key: bytes) -> float:
    """From a key to the last byte that it makes the program write."""
    sent = last = time.perf_counter()
    terminal.send(key)
    wait_s = ANSWER_S
    while terminal.read(wait_s):
        last, wait_s = time.perf_counter(), 0.1
    return 1000 * (last - sent)


def keys_ms(command: Sequence[str], marker: str, keys: Sequence[bytes], rounds: int) -> list[float]:
    """The median of each of some keys, pressed in turn, after a round that warms up."""
    found: list[list[float]] = [[] for _ in keys]
    with Terminal(command) as terminal:
        terminal.wait_for(marker)
        terminal.settle(quiet=BACKUP_S, seconds=BACKUP_S)
        for number in range(rounds + 1):
            for times, key in zip(found, keys, strict=True):
                took = key_ms(terminal, key)
                if number:
                    times.append(took)
    return [median(times) for times in found]


def first_key_cpu(shelf: Path, key: bytes, marker: str) -> tuple[float, float]:
    """A key pressed right after the first paint: CPU seconds to the first sign, and to its end."""
    with Terminal([*STILLROOM, "--shelf", str(shelf)]) as terminal:
        terminal.wait_for(READY)
        before = cpu_s(terminal.pid)
        terminal.send(key)
        terminal.read(60)
        sign = cpu_s(terminal.pid) - before
        terminal.wait_until(lambda picture: marker in picture.text)
        return sign, cpu_s(terminal.pid) - before


def after_a_day(shelf: Path, idle_s: float) -> tuple[float, float, int]:
    """MB after every page was opened; CPU seconds and bytes written while idle."""
    with Terminal([*STILLROOM, "--shelf", str(shelf)]) as terminal:
        terminal.wait_for(READY)
        for key in b"1234561n\x1b2345612345":
            key_ms(terminal, bytes([key]))
        terminal.settle(quiet=REST_S, seconds=REST_S)
        status = Path(f"/proc/{terminal.pid}/status").read_text()
        memory_mb = int(status.partition("VmRSS:")[2].split()[0]) / 1024
        written = _written(terminal.pid)
        cpu = cpu_s(terminal.pid)
        terminal.settle(quiet=idle_s, seconds=idle_s)
        return memory_mb, cpu_s(terminal.pid) - cpu, _written(terminal.pid) - written


def _written(pid: int) -> int:
    lines = Path(f"/proc/{pid}/io").read_text().splitlines()
    return int(next(line for line in lines if line.startswith("write_bytes")).split()[1])


def row(measure: str, value: float, goal: str, unit: str = "") -> None:
    """One line of the table."""
    print(f"{measure:66} {value:9.2f}{unit:3} goal {goal}", flush=True)


def starts(sample: Path, ten_years: Path, rounds: int) -> float:
    """All rows about starting; returns the CPU seconds of the bare start."""
    commands = {
        "bare": ([sys.executable, "-c", BARE], BARE_READY),
        "sample": ([*STILLROOM, "--shelf", str(sample)], READY),
        "--sample": ([*STILLROOM, "--sample"], READY),
        "ten years": ([*STILLROOM, "--shelf", str(ten_years)], READY),
    }
    found: dict[str, list[tuple[float, float, float]]] = {name: [] for name in commands}
    for number in range(rounds + 1):  # in turn, so that all are measured in the same conditions
        for name, (command, marker) in commands.items():
            measured = start_of(command, marker)
            if number:  # the first round warms the disk
                found[name].append(measured)
    paint, settled, cpu = (
        {name: median(each[n] for each in times) for name, times in found.items()} for n in range(3)
    )
    row("bare Textual app, first paint", paint["bare"], "-", " ms")
    row("first paint, sample shelf / bare", paint["sample"] / paint["bare"], "1.30")
    row("  the same in processor time", cpu["sample"] / cpu["bare"], "-")
    row("until settled, sample shelf / bare", settled["sample"] / settled["bare"], "1.45")
    row("--sample, which makes its shelf first / bare", paint["--sample"] / paint["bare"], "1.6")
    row("first paint, ten years / sample shelf", paint["ten years"] / paint["sample"], "1.1")
    return cpu["bare"]


def keys(sample: Path, ten_years: Path, rounds: int) -> None:
    """All rows about keys."""
    (floor,) = keys_ms([sys.executable, "-c", BARE_WITH_A_KEY], BARE_READY, [b"t"], rounds)
    row("bare Textual app, key to paint", floor, "-", " ms")
    for name, goal, pressed in (
        ("arrow", "1.5", (b"\x1b[C", b"\x1b[D")),
        ("page change", "3", (b"2", b"1")),
        ("shake-all, undo", "4", (b"a", b"u")),
    ):
        # Each in a start of its own: a message that fades would count with the next key.
        one, other = (
            median(keys_ms([*STILLROOM, "--shelf", str(shelf)], READY, pressed, rounds))
            for shelf in (sample, ten_years)
        )
        row(f"{name}, sample shelf / bare key", one / floor, goal)
        row(f"{name}, ten years / sample shelf", other / one, "1.3")


def reads(sample: Path, ten_years: Path) -> None:
    """Rows about reading and printing much."""
    took = []
    for path in (sample, ten_years):
        keeper = Keeper(Store.open(path), SystemClock())
        seconds = median(cpu_of(partial(shelves_view, keeper)) for _ in range(15))
        took.append(seconds / max(1, len(shelves_view(keeper).jars)))
        keeper.store.close()
    row("the board's read for each jar on it, ten years / sample shelf", took[1] / took[0], "1.2")
    _, said = cpu_of_command("--shelf", ten_years, "today")
    row("today, ten years: lines", len(said.splitlines()), "120")
    for command, goal in (("bottles", "1.2"), ("check", "2.5")):
        seconds, _ = cpu_of_command("--shelf", ten_years, command)
        row(f"{command}, ten years, processor time", seconds, goal, " s")
    keeper = Keeper(Store.open(ten_years), SystemClock())
    bottles = bottle_rows(keeper)[:BOTTLES]
    document = stock_list(bottles, day_view(keeper), settings_of(keeper))
    row(f"stocklist PDF, {len(bottles)} bottles, processor time",
        cpu_of(lambda: as_pdf(document)), "7", " s")  # fmt: skip
    keeper.store.close()


def interchange(place: Path) -> None:
    """Rows about export and import, of 10,000 bottles."""
    shelf = place / "shelf.stillroom"
    fill_shelf(shelf, 10_000)
    out = cpu_of(lambda: own_export(shelf, place / "out"))
    plain_out = cpu_of(lambda: plain_export(shelf, place / "plain"))
    back = cpu_of(lambda: own_import(place / "out", place / "again.stillroom"))
    plain_back = cpu_of(lambda: plain_import(place / "plain", place / "plain.db", shelf))
    row("import / plain sqlite3 and csv", back / plain_back, "6")
    row("export / plain sqlite3 and csv", out / plain_out, "2")


def first_keys(sample: Path, bare_cpu: float) -> None:
    """Rows about the first form and calculator, pressed at once after the start."""
    for name, key, marker in (
        ("fill form", b"n", "Botanical"),
        ("calculator", b"3", "Weigh a bottle"),
    ):
        sign, done = first_key_cpu(sample, key, marker)
        row(f"first {name}: processor time to a sign", sign, "0.3", " s")
        row(f"first {name}: processor time until it shows", done, "0.3", " s")
        row(f"first {name} / bare start, processor time", done / bare_cpu, "-")


def main() -> None:
    """Run all of it."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--shelf", type=Path)
    parser.add_argument("--rounds", type=int, default=9)
    parser.add_argument("--idle", type=float, default=60.0)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        ten_years = place / "ten-years.stillroom"
        if asked.shelf:
            shutil.copyfile(asked.shelf, ten_years)
        else:
            make_big_shelf(ten_years)
        (place / "sample").mkdir()
        sample = open_sample(SystemClock(), place / "sample").store.path
        for path in (sample, ten_years):
            keeper = Keeper(Store.open(path), SystemClock())
            keeper.trust_date()
            remember(keeper, "cautions_read", "2026-01-01")
            keeper.store.close()
        print(f"{datetime.now(UTC):%Y-%m-%d}, Python {sys.version.split()[0]}")
        bare_cpu = starts(sample, ten_years, asked.rounds)
        keys(sample, ten_years, asked.rounds)
        reads(sample, ten_years)
        (place / "files").mkdir()
        interchange(place / "files")
        first_keys(sample, bare_cpu)
        memory_mb, idle_cpu, written = after_a_day(ten_years, asked.idle)
        row("memory after every page, ten years", memory_mb, "90", " MB")
        row("idle a minute, processor time", idle_cpu * 60 / asked.idle, "0.13", " s")
        row("idle, bytes written", written, "0")


if __name__ == "__main__":
    main()
