"""Every act can be undone, in reverse order, down to the last value of the last row."""

import ast
import re
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory

from hypothesis import given, settings
from hypothesis import strategies as st

import stillroom.keeping
from stillroom.clock import SetClock
from stillroom.keeping.shelf_file.check import check
from stillroom.keeping.undo import redo, undo, undoable

from ..examples import examples
from . import driver as driver_file
from .driver import Driver, content
from .take_back import MORNING, opened, take_back

NOT_DRIVEN = {"plan_correction"}  # `correct` does the same, and keeps it


def test_the_driver_performs_every_use_case() -> None:
    """A use case added later is missing here until the driver does it too."""
    verbs = set()
    for source in Path(stillroom.keeping.__file__).parent.rglob("*.py"):
        if source.parent.name == "interchange":  # its tests undo an import
            continue
        for function in ast.parse(source.read_text()).body:
            if isinstance(function, ast.FunctionDef) and "keeper.act(" in ast.unparse(function):
                verbs.add(function.name)
    assert len(verbs) > 30
    driver = Path(driver_file.__file__).read_text()
    missing = {verb for verb in verbs if not re.search(rf"\b{verb}\(\s*d\.keeper", driver)}
    assert missing == NOT_DRIVEN


@settings(max_examples=examples(50), deadline=None)
@given(st.lists(st.integers(0, 2**32), min_size=1, max_size=25))
def test_undoing_random_acts_restores_each_earlier_content(seeds: list[int]) -> None:
    clock = SetClock(MORNING)
    with TemporaryDirectory() as folder:
        keeper = opened(Path(folder) / "shelf", clock)
        states = [content(keeper)]
        for seed in seeds:
            if Driver(keeper, Random(seed), clock).step():
                states.append(content(keeper))
        assert check(keeper) == []
        for earlier in reversed(states[:-1]):
            undo(keeper)
            assert content(keeper) == earlier
        assert undoable(keeper) is None
        assert check(keeper) == []
        for later in states[1:]:
            redo(keeper)
            assert content(keeper) == later
        assert check(keeper) == []
        keeper.store.close()


def test_acts_are_undone_and_redone_across_restarts(tmp_path: Path) -> None:
    """A short form of the script."""
    assert take_back(tmp_path / "shelf", actions=200, seed=2) >= 200
