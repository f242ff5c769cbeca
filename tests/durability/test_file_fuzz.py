"""A short form of the fuzz: every way of spoiling a shelf, a few times."""

import subprocess
import sys
from pathlib import Path


def test_spoiled_shelves_are_looked_at_without_traceback_hang_or_change() -> None:
    script = Path(__file__).with_name("file_fuzz.py")
    done = subprocess.run(
        [sys.executable, str(script), "--shelves", "36", "--seed", "7"],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert "36 shelves, 0 failures" in done.stdout
