"""What every test of the screen needs."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from stillroom.clock import SetClock
from stillroom.keeping.keeper import Keeper
from stillroom.screens import afar, scanner

from ..conftest import NOW, keeper_of_copy
from .hands import let_pilots_wait, parse_styles_once
from .stocked import stock


@pytest.fixture(autouse=True)
def patient_pilots(monkeypatch: pytest.MonkeyPatch) -> None:
    """Pilots go on once every key has been taken, and the terminal shows everything."""
    monkeypatch.setenv("TERM", "xterm-256color")
    monkeypatch.setenv("COLORTERM", "truecolor")
    monkeypatch.delenv("NO_COLOR", raising=False)
    let_pilots_wait(monkeypatch)
    parse_styles_once(monkeypatch)


@pytest.fixture(autouse=True)
def slow_hands(monkeypatch: pytest.MonkeyPatch) -> None:
    """No key of a test is a scanner's, however quickly it comes, unless the test has a scanner."""
    monkeypatch.setattr(scanner, "pace_s", lambda found: 0.0)


@pytest.fixture(autouse=True)
def wakeful(monkeypatch: pytest.MonkeyPatch) -> None:
    """No screen rests because a test moves its clock on, unless the test is about that."""
    monkeypatch.setattr(afar, "quiet_after_s", lambda found: 0.0)


@pytest.fixture
def scanner_on(slow_hands: None, monkeypatch: pytest.MonkeyPatch) -> None:
    """Have a scanner, with the pace that is set."""
    monkeypatch.setattr(scanner, "pace_s", lambda found: found.scan_gap_ms / 1000)


@pytest.fixture(scope="session")
def stocked_once(empty_shelf: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The file that `stocked` copies."""
    path = tmp_path_factory.mktemp("stocked") / "shelf.stillroom"
    with keeper_of_copy(empty_shelf, path, SetClock(NOW)) as keeper:
        stock(keeper)
    return path


@pytest.fixture
def stocked(shelf_file: Path, clock: SetClock, stocked_once: Path) -> Iterator[Keeper]:
    """A keeper of a shelf with three bottles, a tincture still to be bottled, and a cupboard."""
    with keeper_of_copy(stocked_once, shelf_file, clock) as keeper:
        yield keeper
