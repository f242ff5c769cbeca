"""Which functions each test calls, and the CPU time it takes."""

import os
import resource
import signal
import sys
import time
import traceback
from collections.abc import Callable, Collection, Sequence
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
    left_out: set[str] = field(default_factory=set)
    """Tests that fail, or take too long to be run for every mutant."""

    def add(self, other: "Reach", names: Collection[str]) -> None:
        """Join what another has of the tests of these names."""
        self.left_out |= other.left_out & set(names)
        for name in other.seconds.keys() & names:
            self.seconds[name] = other.seconds[name]
            self.functions[name] = other.functions[name]

    def tests_of(self, mutant: Mutant, worth_s: float) -> list[str]:
        """The tests that reach a mutant, the quickest first, up to the time that it is worth."""
        path = str(mutant.path)
        if mutant.function != AT_IMPORT:
            reached = [
                name for name, calls in self.functions.items() if (path, mutant.function) in calls
            ]
        else:  # who uses a constant calls nothing of its module
            reached = [
                name
                for name, calls in self.functions.items()
                if path in dict(calls) or name.startswith("tests/reckoning")
            ]
        reached.sort(key=self.seconds.__getitem__)
        kept: list[str] = []
        seconds = 0.0
        for name in reached:
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

        def note(frame, *_, calls=calls):
            calls.add(frame.f_code)

        imported.forget()
        started = time.process_time()
        signal.setitimer(signal.ITIMER_PROF, longest_s)
        sys.settrace(note)
        failed = fails(item)
        sys.settrace(None)
        signal.setitimer(signal.ITIMER_PROF, 0)
        if failed:
            reach.left_out.add(item.nodeid)
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
    code, complaints = COULD_NOT_TRY, os.dup(2)
    try:
        silent = os.open(os.devnull, os.O_WRONLY)
        os.dup2(silent, 1)
        os.dup2(silent, 2)
        used = resource.getrusage(resource.RUSAGE_SELF)
        limit = int(used.ru_utime + used.ru_stime + limit_s) + 1
        resource.setrlimit(resource.RLIMIT_CPU, (limit, limit + 5))
        resource.setrlimit(resource.RLIMIT_AS, (MEMORY_BYTES, MEMORY_BYTES))
        code = work()
    except Exception:
        os.write(complaints, traceback.format_exc().encode())
    finally:
        os._exit(code)
