"""Records what programs change below one folder: the recorder, its log, and what was acknowledged.

The recorder is `power_recorder.c`, compiled when it is needed. It is for Linux with a C compiler
and a Python whose SQLite calls the C library, as most do.
"""

import os
import pickle
import shutil
import struct
import subprocess
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "benchmarks"))

from picture import Picture

CREATE, WRITE, TRUNCATE, SYNC, MAKE_FOLDER = b"cwtsm"
RENAME, LINK, REMOVE = b"rlu"
CHANGES = frozenset((CREATE, WRITE, TRUNCATE, SYNC, MAKE_FOLDER, RENAME, LINK, REMOVE))
SHOWN = ord(">")
"""What the program wrote to its terminal."""
STARTED, SENT, SAID = ord("^"), ord("<"), ord("!")
"""Marks of the session's own: a terminal begins; keys are pressed; an act was seen to be done."""

Shows = Callable[[Picture], object]
"""Whether a picture shows an effect."""

_HEADER = struct.Struct("=IIIIQQ")


@dataclass(frozen=True)
class Record:
    """One line of the log."""

    operation: int
    inode: int = 0
    offset: int = 0
    path: str = ""
    other: str = ""
    """Where a rename or link leads to."""
    data: bytes = b""


@dataclass(frozen=True)
class Act:
    """Something that a session asked for, and what a cut on the way there may leave."""

    name: str
    changes: bool = True
    """Whether the record must differ from what it was before."""
    may_be_empty: bool = False
    """Whether on the way there may be a shelf with nothing in it."""
    may_lack: str = ""
    """A file that may be missing on the way, as a sign that others are of two moments."""
    keeps_old: bool = False
    """Whether the record of before must remain in one file or another."""


@dataclass(frozen=True)
class Acknowledged:
    """From this moment on somebody had been shown that an act was done."""

    act: Act
    at: int
    """How many records of the log came before."""


@dataclass
class Recording:
    """What a session did to one folder, and when each act was acknowledged."""

    session: str
    shelf: str
    """Path of the shelf below the folder."""
    before: dict[str, bytes | None]
    """The folder at the start: paths to contents, None for a folder."""
    inodes: dict[str, int]
    records: list[Record] = field(default_factory=list)
    acknowledged: list[Acknowledged] = field(default_factory=list)
    until: datetime = datetime.min
    """What the clock of the programs showed at the end."""

    def save(self, path: Path) -> None:
        """Write it to a file."""
        path.write_bytes(pickle.dumps(self))

    @classmethod
    def load(cls, path: Path) -> "Recording":
        """Read it from a file of one's own."""
        loaded = pickle.loads(path.read_bytes())
        assert isinstance(loaded, cls)
        return loaded


def compiler() -> str | None:
    """The C compiler, if there is one."""
    return shutil.which("cc") or shutil.which("gcc")


def why_not() -> str:
    """Why nothing can be recorded here; blank where it can."""
    if os.uname().sysname != "Linux":
        return "power cuts are recorded on Linux only"
    return "" if compiler() else "there is no C compiler to build the recorder with"


@dataclass(frozen=True)
class Said:
    """An act that was seen to be done, by a picture that shows it if there is any."""

    act: Act
    shows: Shows | None


class Recorder:
    """Watches one folder while programs are run with its `environment`."""

    def __init__(self, folder: Path, workplace: Path, session: str, shelf: Path) -> None:
        self.folder = folder.resolve()
        self._log = workplace / "log"
        self._library = workplace / "recorder.so"
        self._days = 0
        self._pictures: list[tuple[int, int]] = []
        self._said: list[Said] = []
        self._build()
        self._log.touch()
        contents, inodes = _look_through(self.folder)
        relative = str(shelf.resolve().relative_to(self.folder))
        self.recording = Recording(session, relative, contents, inodes)

    def _build(self) -> None:
        source = Path(__file__).with_name("power_recorder.c")
        found = compiler()
        assert found is not None
        subprocess.run(
            [found, "-shared", "-fPIC", "-o", str(self._library), str(source), "-ldl"],
            check=True,
        )

    def environment(self, days: int = 0) -> dict[str, str]:
        """What a program must find in its environment; its clock is so many days ahead."""
        self._days = max(days, self._days)
        return {
            "LD_PRELOAD": str(self._library),
            "POWER_CUT_FOLDER": str(self.folder),
            "POWER_CUT_LOG": str(self._log),
            "POWER_CUT_DAYS": str(days),
        }

    def terminal_starts(self, columns: int, rows: int) -> None:
        """What is shown from now on is on a new terminal."""
        self._pictures.append((columns, rows))
        self._mark(STARTED)

    def asks(self) -> None:
        """Something is asked for: its effect can only be shown from now on."""
        self._mark(SENT)

    def said(self, act: Act, shows: Shows | None = None) -> None:
        """An act was seen to be done: by what a terminal showed, or just now."""
        self._said.append(Said(act, shows))
        self._mark(SAID)

    def _mark(self, operation: int) -> None:
        with self._log.open("ab", buffering=0) as log:
            log.write(_HEADER.pack(operation, 0, 0, 0, 0, 0))

    @property
    def recorded(self) -> list[Act]:
        """The acts so far."""
        return [said.act for said in self._said]

    def finish(self) -> Recording:
        """The recording, with the log so far."""
        recording = self.recording
        recording.records = list(self._read())
        recording.acknowledged = list(self._acknowledged(recording.records))
        recording.until = datetime.now(UTC) + timedelta(days=self._days)
        return recording

    def _acknowledged(self, records: list[Record]) -> Iterator[Acknowledged]:
        """Each act, from where the terminal's bytes first showed what was seen a little later."""
        pictures, picture, first = iter(self._pictures), None, None
        acts = self._next_said(records)
        for at, (record, next_said) in enumerate(zip(records, acts, strict=False)):
            if record.operation == STARTED:
                picture = Picture(*next(pictures))
            elif record.operation == SENT:
                first = None
            elif record.operation == SHOWN and picture:
                picture.feed(record.data)
                if next_said.shows and first is None and next_said.shows(picture):
                    first = at + 1
            elif record.operation == SAID:
                yield Acknowledged(next_said.act, at if first is None else first)
                first = None

    def _next_said(self, records: list[Record]) -> list[Said]:
        """At each record, up to the last mark of an act, what is seen to be done next."""
        found: list[Said] = []
        said = iter(self._said)
        for at, record in enumerate(records):
            if record.operation == SAID:
                found += [next(said)] * (at + 1 - len(found))
        return found

    def _read(self) -> Iterator[Record]:
        root = f"{self.folder}/"
        data = memoryview(self._log.read_bytes())
        at = 0
        while at < len(data):
            operation, *lengths, inode, offset = _HEADER.unpack_from(data, at)
            at += _HEADER.size
            parts = []
            for length in lengths:
                parts.append(bytes(data[at : at + length]))
                at += length
            path, other = (os.fsdecode(part).removeprefix(root) for part in parts[:2])
            yield Record(operation, inode, offset, path, other, parts[2])


def _look_through(folder: Path) -> tuple[dict[str, bytes | None], dict[str, int]]:
    """Every path below a folder, with its content and inode; the folder itself is ""."""
    contents: dict[str, bytes | None] = {"": None}
    inodes = {"": folder.stat().st_ino}
    for path in sorted(folder.rglob("*")):
        name = str(path.relative_to(folder))
        contents[name] = None if path.is_dir() else path.read_bytes()
        inodes[name] = path.stat().st_ino
    return contents, inodes
