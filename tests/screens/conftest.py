"""What every test of the screen needs."""

import pytest

from .hands import let_pilots_wait


@pytest.fixture(autouse=True)
def patient_pilots(monkeypatch: pytest.MonkeyPatch) -> None:
    """Pilots go on once every key has been taken."""
    let_pilots_wait(monkeypatch)
