"""The standard input and output in place of a file: a minus sign."""

import shutil
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory

from stillroom.cli.call import Call
from stillroom.errors import Refused


def is_stream(path: Path) -> bool:
    """Whether the standard input or output is meant."""
    return str(path) == "-"


@contextmanager
def readable(path: Path) -> Iterator[Path]:
    """The file; for -, one that holds what comes from the standard input."""
    if not is_stream(path):
        yield path
        return
    with _temporary("standard input") as file:
        with file.open("wb") as written:
            shutil.copyfileobj(sys.stdin.buffer, written)
        yield file


@contextmanager
def sent_to_output(call: Call, what: str) -> Iterator[Path]:
    """A new file, whose content goes to the standard output; Refused where that is a terminal."""
    refuse_terminal(what)
    with _temporary("standard output") as file:
        yield file
        call.content = file.read_bytes()


def refuse_terminal(what: str) -> None:
    """Raise Refused where what isn't text would go to a terminal."""
    if sys.stdout.isatty():
        raise Refused(f"{what} would go to the terminal. Send it to a program or a file.")


@contextmanager
def _temporary(name: str) -> Iterator[Path]:
    with TemporaryDirectory(prefix="stillroom-") as folder:
        yield Path(folder) / name
