"""Tries whether the tests notice small faults in the arithmetic: mutation testing.

    python tests/mutations.py --mutants 500 --seed 1
    python tests/mutations.py --only survivors.txt --longest 60 --seconds 600

Draws mutants of `reckoning` and the arithmetic of `keeping` (see `mutation/mutants.py`), runs the
tests that reach each, the quickest first, until one fails, and prints those that no test noticed.

No file is changed. The tests are collected once; a mutant is the code of a function replaced in a
forked process. Where the changed line runs at import, that process imports the tests again.
"""

import argparse
import os
import pickle
import re
import signal
import sys
import tempfile
from collections import Counter, defaultdict
from functools import partial
from importlib import import_module
from pathlib import Path
from random import Random
from typing import Any

import pytest

sys.path.insert(0, str(Path(__file__).parent / "mutation"))

from mutants import AT_IMPORT, ROOT, SOURCES, SRC, Mutant, mutants_of
from patching import ChangedModule, Imported
from reach import COULD_NOT_TRY, Reach, fails, in_child, measure

TESTS = [
    "tests/reckoning", "tests/quantities/test_printing.py", "tests/keeping",
    "tests/cli/test_at_most.py", "tests/cli/test_calculate.py", "tests/paper/test_label.py",
    "tests/paper/test_batch_record.py", "tests/interchange/test_notebook.py",
    "src/stillroom/reckoning", "src/stillroom/keeping",
]  # fmt: skip
OPTIONS = [
    "-q", "-s", "--doctest-modules", "--import-mode=importlib", "--hypothesis-profile=quick",
    "--override-ini=addopts=", "-p", "no:cacheprovider", "-p", "no:xdist",
]  # fmt: skip
GOAL = 0.95
SURVIVED, NOT_TRIED = "survived  ", "not tried "


class Chosen:
    """A pytest plugin that runs the chosen tests alone, in their order."""

    def __init__(self, names: list[str]) -> None:
        self.rank = {name: i for i, name in enumerate(names)}

    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        chosen = [item for item in items if item.nodeid in self.rank]
        items[:] = sorted(chosen, key=lambda item: self.rank[item.nodeid])


def run_again(mutant: Mutant, names: list[str]) -> int:
    """Whether a test fails once everything is imported again, the changed module with it."""
    for name in list(sys.modules):
        if name.partition(".")[0] in {"stillroom", "tests"}:
            del sys.modules[name]
    sys.meta_path.insert(0, ChangedModule(mutant))
    try:  # first, or pytest would load the module on disk for its doctests
        import_module(mutant.module)
    except Exception:
        return 1
    files = [file for file, _ in Counter(name.partition("::")[0] for name in names).most_common()]
    none_ran = {pytest.ExitCode.OK, pytest.ExitCode.NO_TESTS_COLLECTED}
    for file in files:
        if pytest.main([*OPTIONS, "-x", file], [Chosen(names)]) not in none_ran:
            return 1
    return 0


def _unnumbered(line: str) -> str:
    """A printed mutant without its line number, which other changes to the module may move."""
    return re.sub(r":\d+ ", " ", line[len(SURVIVED) :], count=1)


class Trial:
    """A pytest plugin: when the tests are collected, tries the mutants on them."""

    def __init__(self, asked: argparse.Namespace) -> None:
        self.asked = asked
        self.is_enough = False

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        self.items = {item.nodeid: item for item in session.items}
        self.imported = Imported()
        self.reach = self._reach()
        self._try(self._drawn())
        return True

    def _drawn(self) -> list[Mutant]:
        everything = [mutant for path in SOURCES for mutant in mutants_of(path)]
        if not self.asked.only:
            count = min(self.asked.mutants, len(everything))
            print(f"{len(everything)} mutants, {count} drawn with seed {self.asked.seed}")
            return Random(self.asked.seed).sample(everything, count)
        lines = Path(self.asked.only).read_text().splitlines()
        named = {_unnumbered(line) for line in lines if line.startswith((SURVIVED, NOT_TRIED))}
        found = [m for m in everything if _unnumbered(f"{SURVIVED}{m}") in named]
        for name in named - {_unnumbered(f"{SURVIVED}{mutant}") for mutant in found}:
            print(f"gone      {name}")
        return found

    def _reach(self) -> Reach:
        """Read from the folder where it was noted; what is not there is measured and noted."""
        folder = Path(self.asked.reach or tempfile.mkdtemp(prefix="stillroom-reach-"))
        folder.mkdir(exist_ok=True)
        reach = self._noted(folder)
        noted = reach.seconds.keys() | reach.left_out
        lacking = [item for name, item in self.items.items() if name not in noted]
        if lacking:
            for i in range(self.asked.processes):
                part = folder / f"{len(noted)}-{i}"
                in_child(partial(self._measure, lacking[i :: self.asked.processes], part), 3600)
            for _ in range(self.asked.processes):
                os.wait()
            reach = self._noted(folder)
        seconds = sum(reach.seconds.values())
        print(f"{len(reach.seconds)} of {len(self.items)} tests, {seconds:.0f} s", flush=True)
        return reach

    def _noted(self, folder: Path) -> Reach:
        reach = Reach()
        for part in folder.iterdir():
            reach.add(pickle.loads(part.read_bytes()), self.items.keys())
        return reach

    def _measure(self, items: list[pytest.Item], part: Path) -> int:
        part.write_bytes(pickle.dumps(measure(items, self.imported, self.asked.longest)))
        return 0

    def _run(self, mutant: Mutant, names: list[str]) -> int:
        if mutant.function == AT_IMPORT:
            return run_again(mutant, names)
        self.imported.patch(mutant)
        if any(fails(self.items[name]) for name in names):
            return 1
        # What was called while the tests were imported has left its results there.
        return run_again(mutant, names) if self.asked.only else 0

    def _try(self, drawn: list[Mutant]) -> None:
        waiting, tried = list(reversed(drawn)), 0
        running: dict[Any, Any] = {}
        came_to: dict[str, list[Mutant]] = defaultdict(list)
        ends = {0: "survived", -signal.SIGXCPU: "out of time", COULD_NOT_TRY: "not tried"}
        while waiting or running:
            while waiting and len(running) < self.asked.processes:
                mutant = waiting.pop()
                names = self.reach.tests_of(mutant, self.asked.seconds)
                limit_s = 20 + 5 * sum(self.reach.seconds[name] for name in names)
                running[in_child(partial(self._run, mutant, names), limit_s)] = mutant
            child, status = os.wait()
            mutant = running.pop(child)
            end = ends.get(os.waitstatus_to_exitcode(status), "killed")
            came_to[end].append(mutant)
            if end in {"survived", "not tried"}:
                print(f"{end:10}{mutant}", flush=True)
            tried = sum(map(len, came_to.values()))
            if tried % 100 == 0:
                print(f"{tried} of {len(drawn)} tried", flush=True)
        tried -= len(came_to["not tried"])
        killed = tried - len(came_to["survived"])
        print(f"{killed} of {tried} killed, {100 * killed / max(tried, 1):.1f} %;", end=" ")
        print(f"{len(came_to['out of time'])} of them by taking too long")
        self.is_enough = killed >= GOAL * tried


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--mutants", type=int, default=500)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", default="", help="try the survivors in this printed result again")
    parser.add_argument("--longest", type=float, default=2, help="CPU seconds that a test may take")
    parser.add_argument("--seconds", type=float, default=15, help="of tests for each mutant")
    parser.add_argument("--processes", type=int, default=1)
    parser.add_argument("--reach", default="", help="folder that holds what the tests reach")
    asked = parser.parse_args()
    os.chdir(ROOT)
    sys.path.insert(0, str(SRC))
    trial = Trial(asked)
    pytest.main([*OPTIONS, *TESTS], [trial])
    return 0 if trial.is_enough else 1


if __name__ == "__main__":
    sys.exit(main())
