"""What every test may ask for: a clock set by hand and a shelf in a real file."""

import gc
import os
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from shutil import copyfile
from unittest.mock import patch

import pytest
from hypothesis import HealthCheck, Phase, settings

from stillroom.clock import SetClock
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import remember
from stillroom.keeping.shelf_file.sample import open_sample
from stillroom.paper import system_fonts
from stillroom.records.store import Store

from .examples import examples

# A busy machine is no fault of the arithmetic: no example fails for having taken long.
settings.register_profile(
    "unhurried",
    deadline=None,
    max_examples=examples(200),
    suppress_health_check=[HealthCheck.too_slow],
)
settings.load_profile("unhurried")
# For mutations.py: the same few examples each time, and no search for the smallest that fails.
settings.register_profile(
    "quick",
    settings.get_profile("unhurried"),
    max_examples=15,
    database=None,
    derandomize=True,
    phases=(Phase.explicit, Phase.generate),
)

# The tests start the program hundreds of times: its modules are compiled once, not each time.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
# What is drawn goes by the terminal: one that shows everything, wherever the tests run.
os.environ["TERM"] = "xterm-256color"

NOW = datetime(2026, 11, 26, 9, 15, tzinfo=UTC)


def pytest_xdist_auto_num_workers() -> int:
    """Three workers for two processors: a third of a test's time is waiting for the next frame."""
    mine = os.sched_getaffinity(0) if hasattr(os, "sched_getaffinity") else ()
    return (len(mine) or os.cpu_count() or 1) * 3 // 2


def pytest_runtest_logstart(nodeid: str) -> None:
    """Write down which test this worker is in, for `.ci/run` to print should the suite hang."""
    if folder := os.environ.get("RUNNING_TESTS"):
        worker = os.environ.get("PYTEST_XDIST_WORKER", "main")
        Path(folder, worker).write_text(f"{nodeid}\n", encoding="utf-8")


def pytest_collection_finish() -> None:
    """Have the garbage collector leave out what lives until the end: modules and collected tests.

    An app on screen makes and drops so many objects that searching all of it each time took a
    sixth of the suite's time.
    """
    gc.collect()
    gc.freeze()
    gc.set_threshold(50_000, 20, 10)


@pytest.fixture(autouse=True)
def no_home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Keep every test out of the user's own folders."""
    for name in ("XDG_DATA_HOME", "XDG_CONFIG_HOME", "XDG_STATE_HOME", "XDG_CACHE_HOME", "HOME"):
        monkeypatch.setenv(name, str(tmp_path / "home"))


@pytest.fixture(autouse=True)
def no_fonts(monkeypatch: pytest.MonkeyPatch) -> None:
    """Print with our own font alone, whatever fonts the computer has."""
    monkeypatch.setattr(system_fonts, "fonts_with", lambda letter: ())


@pytest.fixture
def clock() -> SetClock:
    """A quarter past nine on Thursday 26 November 2026."""
    return SetClock(NOW)


@pytest.fixture
def shelf_file(tmp_path: Path) -> Path:
    """The file of the test's shelf."""
    return tmp_path / "shelf.stillroom"


@pytest.fixture(scope="session")
def new_shelf_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The file of a new shelf, made once: opening a copy takes a fifth of the time."""
    path = tmp_path_factory.mktemp("new") / "shelf.stillroom"
    Store.open(path, create=True).close()
    return path


@pytest.fixture(scope="session")
def empty_shelf(new_shelf_file: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The file of an empty shelf whose cautions have been read: tests begin with a copy."""
    path = copyfile(new_shelf_file, tmp_path_factory.mktemp("empty") / "shelf.stillroom")
    keeper = Keeper(Store.open(path), SetClock(NOW))
    remember(keeper, "cautions_read", "2026-11-26")
    keeper.store.close()
    return path


@pytest.fixture(scope="session")
def sample_shelf(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The file of the sample shelf as it is opened now, read in once: tests begin with a copy."""
    keeper = open_sample(SetClock(NOW), tmp_path_factory.mktemp("sample"))
    keeper.store.close()
    return keeper.store.path


def open_copy(made: Path, shelf_file: Path) -> Store:
    """Open a copy of a shelf that this session made, and so need not judge again."""
    judge = "stillroom.records.store.refuse_what_is_not_a_shelf"
    with patch(judge, new=lambda path, newest: newest):
        return Store.open(copyfile(made, shelf_file))


@contextmanager
def keeper_of_copy(made: Path, shelf_file: Path, clock: SetClock) -> Iterator[Keeper]:
    """A keeper of a copy of a shelf that this session made; the shelf is closed at the end."""
    keeper = Keeper(open_copy(made, shelf_file), clock)
    try:
        yield keeper
    finally:
        keeper.store.close()  # another one, if a backup was restored


@pytest.fixture
def keeper(shelf_file: Path, clock: SetClock, empty_shelf: Path) -> Iterator[Keeper]:
    """A keeper of an empty shelf."""
    with keeper_of_copy(empty_shelf, shelf_file, clock) as keeper:
        yield keeper


@pytest.fixture
def sample(shelf_file: Path, clock: SetClock, sample_shelf: Path) -> Iterator[Keeper]:
    """A keeper of the sample shelf, whose cautions have been read."""
    with keeper_of_copy(sample_shelf, shelf_file, clock) as keeper:
        remember(keeper, "cautions_read", "2026-11-26")
        yield keeper
