"""A short form of the fuzz: every way of spoiling a shelf, a few times."""

import subprocess
import sys
from pathlib import Path

from ..examples import examples

FIRST = 6
"""From here on few shelves find much: a page that ends a command, a rule whose lack does."""


def test_spoiled_shelves_are_opened_without_traceback_hang_or_change() -> None:
    script = Path(__file__).with_name("file_fuzz.py")
    shelves = examples(120)
    options = {"shelves": shelves, "seed": 7, "first": FIRST, "screen-every": 5}
    done = subprocess.run(
        [sys.executable, str(script), *(f"--{name}={value}" for name, value in options.items())],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert f"{shelves} shelves, 0 failures" in done.stdout
