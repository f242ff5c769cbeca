"""Which functions each test calls, and the CPU time it takes."""

import os
import resource
import signal
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from types import CodeType

import pytest
from mutants import AT_IMPORT, SOURCES, Mutant
from patching import Imported

COULD_NOT_TRY = 70
"""How a process ends whose work failed: a fault of the trial, not of the mutant."""
MEMORY_BYTES = 3 << 30
"""A mutant may ask for memory without end."""


@dataclass
class Reach:
    """What the tests take and reach."""

    seconds: dict[str, float] = field(default_factory=dict)
    """CPU time of each test by its name."""
    functions: dict[str, set[tuple[str, str]]] = field(default_factory=dict)
    """The path and name of each function that a test calls."""

    def add(self, other: "Reach") -> None:
        self.seconds |= other.seconds
        self.functions |= other.functions

    def tests_of(self, mutant: Mutant, worth_s: float) -> list[str]:
        """The tests that reach a mutant, the quickest first, up to the time that it is worth."""
        path = str(mutant.path)
        if mutant.function != AT_IMPORT:
            reached = (path, mutant.function)
            names = [name for name, calls in self.functions.items() if reached in calls]
            names.sort(key=self.seconds.__getitem__)
        else:
            names = [name for name, calls in self.functions.items() if path in dict(calls)]
            if not names:  # a module of constants: whatever reckons may rest on them
                names = [name for name in self.seconds if name.startswith("tests/reckoning")]
            names.sort(key=self._rank(names))
        return self._up_to(names, worth_s)

    def _rank(self, names: list[str]) -> Callable[[str], tuple[float, float]]:
        """Each file is imported again: first those whose tests reach it most for their time."""
        reaching: dict[str, int] = {}
        taken: dict[str, float] = {}
        for name in names:
            path = name.partition("::")[0]
            reaching[path] = reaching.get(path, 0) + 1
            taken[path] = taken.get(path, 0.3) + self.seconds[name]

        def rank(name: str) -> tuple[float, float]:
            path = name.partition("::")[0]
            return (-reaching[path] / taken[path], self.seconds[name])

        return rank

    def _up_to(self, names: list[str], worth_s: float) -> list[str]:
        kept, seconds = [], 0.0
        for name in names:
            seconds += self.seconds[name]
            if seconds > worth_s and kept:
                break
            kept.append(name)
        return kept


def measure(items: Sequence[pytest.Item], imported: Imported, longest_s: float) -> Reach:
    """Run every test once, noting the functions it calls; those that take longer are left out."""
    signal.signal(signal.SIGPROF, _too_long)
    wanted = {str(path) for path in SOURCES}
    reach = Reach()
    for item in items:
        calls: set[CodeType] = set()

        def note(frame, *_, calls=calls):  # type: ignore[no-untyped-def]
            calls.add(frame.f_code)

        imported.forget()
        started = time.process_time()
        signal.setitimer(signal.ITIMER_PROF, longest_s)
        sys.settrace(note)
        failed = fails(item)
        sys.settrace(None)
        signal.setitimer(signal.ITIMER_PROF, 0)
        if failed:
            continue
        reach.seconds[item.nodeid] = time.process_time() - started
        reach.functions[item.nodeid] = {
            (code.co_filename, code.co_qualname.partition(".<locals>")[0])
            for code in calls
            if code.co_filename in wanted
        }
    return reach


def _too_long(*_: object) -> None:
    sys.settrace(None)
    pytest.fail("takes too long to be run for every mutant")


def fails(item: pytest.Item) -> bool:
    """Run one test; also true where the time was up outside it."""
    before = item.session.testsfailed
    try:
        item.config.hook.pytest_runtest_protocol(item=item, nextitem=None)
    except BaseException:
        return True
    return item.session.testsfailed > before


def in_child(work: Callable[[], int], limit_s: float) -> int:
    """Start a process with limits of CPU time and memory; it ends with what `work` returns."""
    sys.stdout.flush()
    child = os.fork()
    if child:
        return child
    code = COULD_NOT_TRY
    try:
        silent = os.open(os.devnull, os.O_WRONLY)
        os.dup2(silent, 1)
        os.dup2(silent, 2)
        used = resource.getrusage(resource.RUSAGE_SELF)
        limit = int(used.ru_utime + used.ru_stime + limit_s) + 1
        resource.setrlimit(resource.RLIMIT_CPU, (limit, limit + 5))
        resource.setrlimit(resource.RLIMIT_AS, (MEMORY_BYTES, MEMORY_BYTES))
        code = work()
    finally:
        os._exit(code)
