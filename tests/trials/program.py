"""The program at a shelf of its own in a folder of its own, far from the user's files."""

import os
import sqlite3
import sys
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from shutil import copyfile
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[1] / "benchmarks"))
sys.path.insert(0, str(Path(__file__).parents[1]))

from terminal import Terminal as Terminal

from spoiling import without_rules
from stillroom.clock import SystemClock
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import remember
from stillroom.keeping.shelf_file.check import check
from stillroom.keeping.shelf_file.sample import open_sample
from stillroom.records.store import Store

STILLROOM = (sys.executable, "-m", "stillroom")
WATCHED = (
    sys.executable,
    "-c",
    """
import traceback
from pathlib import Path
from stillroom.__main__ import main
from stillroom.screens.app import StillroomApp

def tell(app, error, handle=StillroomApp._handle_exception):
    with (Path.home() / "tracebacks.txt").open("a") as file:
        traceback.print_exception(error, file=file)
    handle(app, error)

StillroomApp._handle_exception = tell
main()
""",
)
"""The same, but what a crash leaves is not cut to the width of the terminal."""
STARVED = (
    sys.executable,
    "-c",
    """
import ctypes, threading, time
from stillroom.__main__ import main

hold = ctypes.PyDLL(None).usleep  # PyDLL, unlike CDLL, does not let go of Python's lock

def take_turns():
    while True:
        time.sleep(0.005)
        hold(5_000)

threading.Thread(target=take_turns, daemon=True).start()
main()
""",
)
"""The same, but it gets the processor half the time, in slices, as where all cores are busy."""
READY = "Quit"
"""On the key line of the first page, once it is drawn."""


@dataclass(frozen=True)
class Place:
    """A folder with a shelf, and a home that nothing else lives in."""

    folder: Path
    shelf: Path

    @classmethod
    def with_sample(cls, folder: Path) -> "Place":
        """A copy of the sample shelf whose cautions have been read."""
        folder.mkdir(parents=True, exist_ok=True)
        keeper = open_sample(SystemClock(), folder)
        remember(keeper, "cautions_read", "2026-01-01")
        keeper.store.close()
        return cls(folder, keeper.store.path)

    def copy(self, folder: Path) -> "Place":
        """The same shelf once more, in another folder."""
        folder.mkdir(parents=True, exist_ok=True)
        return Place(folder, Path(copyfile(self.shelf, folder / self.shelf.name)))

    @property
    def environment(self) -> dict[str, str]:
        """Where the program looks for the user's folders."""
        names = ("DATA", "CONFIG", "STATE", "CACHE")
        homes = {f"XDG_{name}_HOME": str(self.home / name.lower()) for name in names}
        return {"HOME": str(self.home), **homes}

    @property
    def home(self) -> Path:
        """What the program takes for the user's own folder."""
        home = self.folder / "home"
        home.mkdir(exist_ok=True)
        return home

    def start(
        self,
        *before: str,
        program: tuple[str, ...] = STILLROOM,
        columns: int = 120,
        rows: int = 40,
        **environment: str,
    ) -> Terminal:
        """The program on this shelf, in a terminal; `before` is what it is started through."""
        command = [*before, *program, "--shelf", str(self.shelf)]
        return Terminal(
            command,
            columns=columns,
            rows=rows,
            environment=self.environment | environment,
            folder=self.home,
        )

    def started(self, *before: str, columns: int = 120, rows: int = 40) -> Terminal:
        """The program on this shelf, once its first page is drawn."""
        terminal = self.start(*before, columns=columns, rows=rows)
        terminal.wait_until(lambda picture: READY in picture.text)
        return terminal

    def wrong(self) -> list[str]:
        """What `check` finds in the shelf."""
        store = Store.open(self.shelf)
        try:
            return [str(finding) for finding in check(Keeper(store, SystemClock()))]
        finally:
            store.close()

    def ask(self, sql: str, *values: object) -> Any:
        """The first column of the first row that a query finds; None where there is none."""
        with closing(sqlite3.connect(self.shelf)) as db:
            row = db.execute(sql, values).fetchone()
        return row[0] if row else None

    def change(self, sql: str) -> None:
        """Change the file behind the program's back."""
        with without_rules(self.shelf, with_checks=True) as db:
            db.execute(sql)

    @property
    def last_action(self) -> str:
        """What undo would take back, blank where there is nothing."""
        found = self.ask("SELECT title FROM action WHERE NOT undone ORDER BY id DESC")
        return str(found or "")

    def processes(self) -> list[int]:
        """Every program that has this shelf on its command line."""
        found = []
        for entry in Path("/proc").glob("[0-9]*"):
            try:
                if str(self.shelf).encode() in (entry / "cmdline").read_bytes():
                    found.append(int(entry.name))
            except OSError:  # it has just ended
                pass
        return found

    @property
    def tracebacks(self) -> Path:
        """Where a program that is watched writes them."""
        return self.home / "tracebacks.txt"

    def crash_log(self) -> str:
        """What crashes have left, blank where there was none."""
        if self.tracebacks.exists():
            return self.tracebacks.read_text()
        logs = sorted(self.home.rglob("crash-*.log"))
        return logs[-1].read_text() if logs else ""


def resident_mb(pid: int) -> float:
    """Memory that a process holds."""
    for line in Path(f"/proc/{pid}/status").read_text().splitlines():
        if line.startswith("VmRSS"):
            return int(line.split()[1]) / 1024
    raise ProcessLookupError(pid)


def processor_seconds(pid: int) -> float:
    """Processor time that a process has used so far."""
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")
