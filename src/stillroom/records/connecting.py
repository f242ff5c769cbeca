"""Plain SQLite connections to a file, outside peewee and its threads."""

import os
import sqlite3
from pathlib import Path
from urllib.parse import quote

from stillroom.records.disk import lenient_text

BUSY_TIMEOUT_MS = 250
"""How long one waits for another program; longer would freeze the screen."""


def can_write(path: Path) -> bool:
    """Whether both a shelf and its folder, where the write-ahead log goes, can be written."""
    return os.access(path, os.W_OK) and os.access(path.resolve().parent, os.W_OK)


def uri(path: Path, mode: str) -> str:
    """The name under which SQLite opens a file in a mode."""
    return f"file://{quote(os.fsencode(path.absolute()))}?{mode}"


def connect(path: Path, mode: str) -> sqlite3.Connection:
    """A plain connection, outside peewee and its threads."""
    opened = sqlite3.connect(
        uri(path, mode), uri=True, timeout=BUSY_TIMEOUT_MS / 1000, isolation_level=None
    )
    opened.text_factory = lenient_text
    return opened
