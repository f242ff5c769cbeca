"""What every test may ask for: a clock set by hand and a shelf in a real file."""

import os
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import HealthCheck, Phase, settings

from stillroom.clock import SetClock
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import remember
from stillroom.records.store import Store

# A busy machine is no fault of the arithmetic: no example fails for having taken long.
settings.register_profile("unhurried", deadline=None, suppress_health_check=[HealthCheck.too_slow])
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


def pytest_runtest_logstart(nodeid: str) -> None:
    """Write down which test this worker is in, for `.ci/run` to print should the suite hang."""
    if folder := os.environ.get("RUNNING_TESTS"):
        worker = os.environ.get("PYTEST_XDIST_WORKER", "main")
        Path(folder, worker).write_text(f"{nodeid}\n", encoding="utf-8")


@pytest.fixture(autouse=True)
def no_home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Keep every test out of the user's own folders."""
    for name in ("XDG_DATA_HOME", "XDG_CONFIG_HOME", "XDG_STATE_HOME", "XDG_CACHE_HOME", "HOME"):
        monkeypatch.setenv(name, str(tmp_path / "home"))


@pytest.fixture
def clock() -> SetClock:
    """A quarter past nine on Thursday 26 November 2026."""
    return SetClock(datetime(2026, 11, 26, 9, 15, tzinfo=UTC))


@pytest.fixture
def shelf_file(tmp_path: Path) -> Path:
    """Where the test's shelf lies."""
    return tmp_path / "shelf.stillroom"


@pytest.fixture
def keeper(shelf_file: Path, clock: SetClock) -> Iterator[Keeper]:
    """A keeper of an empty shelf."""
    store = Store.open(shelf_file, create=True)
    opened = Keeper(store, clock)
    remember(opened, "cautions_read", "2026-11-26")
    yield opened
    store.close()
