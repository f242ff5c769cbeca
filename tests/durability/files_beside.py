"""The files of a folder as they are, and a program that is killed beside its log."""

import shutil
from collections.abc import Sequence
from pathlib import Path

WITH_LOG = ("", "-wal", "-shm")
"""How the names of a shelf, its log and the log's index end."""
KILLED = """
import os, sys
from datetime import UTC, datetime
from pathlib import Path
from stillroom.clock import SetClock
from stillroom.keeping.jars.jar import shake_all
from stillroom.keeping.keeper import Keeper
from stillroom.records.store import Store
clock = SetClock(datetime(2026, 11, 26, 10, 0, tzinfo=UTC))
shake_all(Keeper(Store.open(Path(sys.argv[1])), clock))
os._exit(9)
"""
"""Shakes every jar of the shelf that is named, and ends without closing it."""


def copy_with_log(shelf: Path, folder: Path, endings: Sequence[str] = WITH_LOG) -> Path:
    """Copy a shelf and what is beside it into a folder, and return the path of the copy."""
    for ending in endings:
        shutil.copy(f"{shelf}{ending}", folder)
    return folder / shelf.name


def every_file(folder: Path) -> dict[Path, bytes]:
    files = (path for path in folder.rglob("*") if path.is_file() and not path.is_symlink())
    return {path: path.read_bytes() for path in files}
