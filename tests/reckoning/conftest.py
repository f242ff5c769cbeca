"""Reads the printed tables that the reckoning is checked against."""

import csv
from collections.abc import Callable
from pathlib import Path

import pytest

Rows = list[dict[str, str]]


@pytest.fixture
def printed() -> Callable[[str], Rows]:
    """The rows of a table by file name; its source is in the comment at its head."""

    def rows(name: str) -> Rows:
        path = Path(__file__).parent / "tables" / f"{name}.csv"
        lines = [line for line in path.read_text().splitlines() if not line.startswith("#")]
        return list(csv.DictReader(lines))

    return rows
