"""A copy of the sample shelf for each test, made from the CSV files only once."""

from pathlib import Path

import pytest

from ..screens.hands import let_pilots_wait
from .program import Place


@pytest.fixture(scope="session")
def sample(tmp_path_factory: pytest.TempPathFactory) -> Place:
    """The sample shelf, not to be opened."""
    return Place.with_sample(tmp_path_factory.mktemp("sample"))


@pytest.fixture
def place(sample: Place, tmp_path: Path) -> Place:
    """A copy to work at."""
    return sample.copy(tmp_path / "place")


@pytest.fixture(autouse=True)
def patient_pilots(monkeypatch: pytest.MonkeyPatch) -> None:
    """Pilots go on once every key has been taken."""
    let_pilots_wait(monkeypatch)
