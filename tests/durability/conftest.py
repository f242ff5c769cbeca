"""A shelf with something on it, closed or as a kill leaves it, made once for all tests."""

import subprocess
import sys
from pathlib import Path
from shutil import copy

import pytest

from ..cli.conftest import stocked_once as stocked_once
from ..cli.conftest import stocked_without_backup as stocked
from .files_beside import KILLED

__all__ = ["killed_once", "stocked", "stocked_once"]


@pytest.fixture(scope="session")
def killed_once(stocked_once: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The same shelf, its jars shaken by a program that was killed: its log is beside it."""
    shelf = Path(copy(stocked_once, tmp_path_factory.mktemp("killed")))
    subprocess.run([sys.executable, "-c", KILLED, str(shelf)], check=False)
    assert Path(f"{shelf}-wal").stat().st_size > 0
    return shelf
