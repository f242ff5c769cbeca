"""A short form of the fuzz: every way of spoiling a shelf, a few times."""

import subprocess
import sys
from pathlib import Path

import pytest


@pytest.mark.parametrize("first", [0, 18])
def test_spoiled_shelves_are_opened_without_traceback_hang_or_change(first: int) -> None:
    script = Path(__file__).with_name("file_fuzz.py")
    options = {"shelves": 18, "seed": 7, "first": first, "screen-every": 9}
    done = subprocess.run(
        [sys.executable, str(script), *(f"--{name}={value}" for name, value in options.items())],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert "18 shelves, 0 failures" in done.stdout
