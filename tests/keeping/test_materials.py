"""Mass, ethanol, herbs and liquids are conserved; the long form is in materials.py."""

from pathlib import Path

import pytest

from .materials import live

HISTORIES = 6


@pytest.mark.parametrize("seed", range(1, HISTORIES + 1))
def test_nothing_is_made_or_lost_without_a_record(tmp_path: Path, seed: int) -> None:
    found, done = live(tmp_path, seed)
    assert found == []
    assert sum(count for act, count in done.items() if "refused" not in act) > 10
