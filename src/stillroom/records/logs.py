"""What SQLite leaves beside a shelf: whether it continues that file, and how it is set aside.

The write-ahead log is read from its bytes, as https://www.sqlite.org/walformat.html describes it,
before SQLite may play it into the file.
"""

import os
import re
import shutil
import sqlite3
import struct
import time
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

from stillroom.errors import StoreError
from stillroom.files import LOG_ENDINGS, is_in_use, sync_file
from stillroom.records.connecting import can_write, connect
from stillroom.records.contradictions import IN_SCHEMA_1, SINCE_SCHEMA_2
from stillroom.records.disk import error_code
from stillroom.records.file_state import (
    APPLICATION_ID,
    FIRST,
    STATE,
    STATE_VALUE,
    FileState,
    read_state,
)

TRIES, PAUSE_S = 5, 0.02
"""How often, and how far apart, a log is looked at that another program is writing to."""

_MAGIC = (0x377F0682, 0x377F0683)
_VERSION = 3007000
_HEADER = struct.Struct(">8I")
_FRAME = struct.Struct(">6I")
_STATES = re.compile(f"{STATE}{STATE_VALUE}".encode())


def log_of(path: Path) -> Path:
    """Where SQLite keeps the log of a file, also where the path is a link to it."""
    return Path(f"{path.resolve()}-wal")


def has_log(path: Path) -> bool:
    """Whether the newest changes are in a write-ahead log: it is open, or had no clean end."""
    try:
        return log_of(path).stat().st_size > 0
    except OSError:
        return False


def has_journal(path: Path) -> bool:
    """Whether there is a journal from which SQLite would first roll back an interrupted change."""
    try:
        with Path(f"{path.resolve()}-journal").open("rb") as file:
            return file.read(1) not in (b"", b"\0")  # as SQLite decides it
    except OSError:
        return False


def left_beside(path: Path) -> list[Path]:
    """The files of SQLite beside a path, whether or not there is a file at the path itself."""
    beside = [Path(f"{path.resolve()}{suffix}") for suffix in LOG_ENDINGS]
    return [file for file in beside if file.exists()]


def set_logs_aside(path: Path, kept: Path) -> list[Path]:
    """Give what SQLite left beside a path the names that go with `kept`; returns those names."""
    moved = []
    for suffix in LOG_ENDINGS:
        file = Path(f"{path.resolve()}{suffix}")
        if file.exists():
            moved.append(file.replace(f"{kept}{suffix}"))
    return moved


@dataclass(frozen=True)
class Log:
    """The finished acts of a write-ahead log."""

    data: bytes
    """Header and frames, up to the end of the last act."""
    page_size: int
    first_end: int
    """Where the first act ends."""

    def holds_page(self, number: int) -> bool:
        """Whether a page of the file is in the log."""
        step = _FRAME.size + self.page_size
        starts = range(_HEADER.size, len(self.data), step)
        return any(_FRAME.unpack_from(self.data, at)[0] == number for at in starts)

    @property
    def states(self) -> list[tuple[str, str]]:
        """The marks that its acts found and left, one pair for each state of the file in it."""
        return [(f[2].decode(), f[3].decode()) for f in _STATES.finditer(self.data)]

    @property
    def is_played(self) -> bool:
        """Whether SQLite would play it: by its checksums, the first act is there to its end."""
        order = ">" if _HEADER.unpack_from(self.data)[0] & 1 else "<"
        sums = _checksum(self.data[:24], order, (0, 0))
        step = _FRAME.size + self.page_size
        for at in range(_HEADER.size, self.first_end, step):
            sums = _checksum(self.data[at : at + 8], order, sums)
            sums = _checksum(self.data[at + _FRAME.size : at + step], order, sums)
            if sums != _FRAME.unpack_from(self.data, at)[4:]:
                return False
        return True


def read_log(path: Path) -> Log | None:
    """The log beside a file; None where it holds no finished act, so that SQLite passes it over."""
    try:
        data = log_of(path).read_bytes()
    except OSError:
        return None
    if len(data) < _HEADER.size:
        return None
    magic, version, page_size, _, *salts, sum_1, sum_2 = _HEADER.unpack_from(data)
    if magic not in _MAGIC or version != _VERSION or not 512 <= page_size <= 65536:
        return None
    if _checksum(data[:24], ">" if magic & 1 else "<", (0, 0)) != (sum_1, sum_2):
        return None
    ends = []
    step = _FRAME.size + page_size
    for at in range(_HEADER.size, len(data) - step + 1, step):
        page, pages_after, *of_frame, _, _ = _FRAME.unpack_from(data, at)
        if of_frame != salts or not page:  # what an earlier log has left behind
            break
        if pages_after:  # the last frame of an act
            ends.append(at + step)
    return Log(data[: ends[-1]], page_size, ends[0]) if ends else None


def _checksum(data: bytes, order: str, sums: tuple[int, int]) -> tuple[int, int]:
    first, second = sums
    words = iter(struct.unpack(f"{order}{len(data) // 4}I", data))
    for one, two in zip(words, words, strict=True):
        first = (first + one + second) & 0xFFFFFFFF
        second = (second + two + first) & 0xFFFFFFFF
    return first, second


def state_in_file(path: Path) -> FileState | None:
    """The state of the main file alone, without its log.

    Raises sqlite3.DatabaseError where it cannot be read so, as in the middle of a checkpoint.
    """
    with closing(connect(path, "mode=ro&immutable=1")) as file:
        return read_state(file.execute)


def refuse_strange_log(path: Path) -> None:
    """Raise StoreError where the log beside a file does not continue it; nothing is changed."""
    for _ in range(TRIES):
        before = _stamps(path)
        trouble = _trouble_with_log(path)
        if not trouble:
            return
        if _stamps(path) == before:
            raise StoreError(trouble)
        time.sleep(PAUSE_S)  # another program is writing: its file and log were read at odds
    raise StoreError(f"Another program is writing to {path}. Try again.")


def continues(log: Log, state: FileState | None) -> bool | None:
    """Whether a log continues a file in a state; None where neither of them shows it."""
    states = log.states
    if state is None:
        # A first act on a shelf of the released version begins the count.
        return None if not states or any(before == FIRST for before, _ in states) else False
    if not states:  # written by a version that leaves no marks
        return None
    # The file is as it was before the log, or has taken in a part of it, or all.
    return any(state.mark in pair for pair in states)


def is_continued(path: Path, now: FileState | None) -> bool:
    """Whether a main file is the one that `now`, read through SQLite, was reached from.

    To be asked while nobody else can write.
    """
    for _ in range(TRIES):
        try:
            in_file = state_in_file(path)
        except sqlite3.DatabaseError:  # read while another program folds its log in
            time.sleep(PAUSE_S)
            continue
        if in_file and now and in_file.identity != now.identity:
            return False
        log = read_log(path)
        return in_file == now or (log is not None and continues(log, in_file) is not False)
    return False


def is_written_over(path: Path) -> bool:
    """Whether the log of a file that we have open no longer continues what is in its place."""
    log = read_log(path)
    if log is None:
        return False
    try:
        return continues(log, state_in_file(path)) is False
    except sqlite3.DatabaseError:
        return True


def keep_log_apart(path: Path, kept: Path) -> None:
    """Copy a log that SQLite has open to the name of another, and empty it."""
    copy = Path(f"{kept}-wal")
    copy.touch(mode=0o600)
    shutil.copyfile(log_of(path), copy)
    sync_file(copy)
    os.truncate(log_of(path), 0)


def _trouble_with_log(path: Path) -> str:
    log = read_log(path)
    if log is None:
        return ""
    try:
        state = state_in_file(path)
        verdict = continues(log, state)
        if verdict is False and state is None and _has_a_mark(path, log):
            verdict = None  # its settings were being folded in, page by page
    except sqlite3.DatabaseError:
        verdict = None
    if verdict or (verdict is None and is_in_use(path)) or not log.is_played:
        return ""
    if verdict is None:
        return _trouble_with_copy(path)
    return _strange(path, log_of(path))


def _has_a_mark(path: Path, log: Log) -> bool:
    """Whether a mark of the log is anywhere in the main file."""
    if is_in_use(path):
        return False
    data = path.read_bytes()
    return any(mark.encode() in data for pair in log.states for mark in pair)


def settle_journal(path: Path) -> None:
    """Have SQLite roll back the transaction in a journal beside a file.

    That is tried on a private copy first. Raises StoreError where the journal does not belong.
    """
    trouble = _trouble_with_copy(path)
    if trouble:
        raise StoreError(trouble)
    if not can_write(path):
        raise StoreError(
            f"A change to {path} was cut short, and can't be undone because the file is "
            "read-only. Copy it, with all files beside it that begin with its name, to another "
            "folder."
        )
    try:
        with closing(connect(path, "mode=rw")) as file:
            file.execute("SELECT count(*) FROM sqlite_schema").fetchone()
    except sqlite3.DatabaseError as error:
        if error_code(error) == sqlite3.SQLITE_BUSY:
            raise StoreError(f"The shelf {path} is locked by another program.") from error
        raise StoreError(f"The shelf {path} can't be opened ({error}). Try again.") from error


@dataclass(frozen=True)
class _Judgement:
    """What a look at a copy of a shelf has shown."""

    verdict: str
    """SQLite's: "ok", or what is wrong."""
    contradictions: frozenset[tuple[str, int]] = frozenset()
    """Kind and id of the rows in the ledger that contradict others."""
    state: FileState | None = None


def _trouble_with_copy(path: Path) -> str:
    """What is wrong with a file once SQLite has applied the log beside it, tried on a copy."""
    beside = [file for file in left_beside(path) if not file.name.endswith("-shm")]
    try:
        with_log, alone = _judge_copy(path, beside), _judge_copy(path, [])
    except OSError as error:
        return f"{path} can't be copied for reading: {error.strerror}."
    if with_log.verdict != "ok" and alone.verdict != "ok":
        return (
            f"The shelf {path} is damaged ({with_log.verdict}). Restore a backup, or copy it "
            "before repair."
        )
    is_strange = with_log.verdict != "ok" or with_log.contradictions - alone.contradictions
    if is_strange or (has_journal(path) and not _takes_back(with_log.state, alone.state)):
        return _strange(path, *beside)
    return ""


def _takes_back(state: FileState | None, cut_short: FileState | None) -> bool:
    """Whether a journal leads from a change cut short to the state before it."""
    if state is None or cut_short is None:
        return True
    return state.mark in (cut_short.mark, cut_short.before)


def _judge_copy(path: Path, beside: list[Path]) -> _Judgement:
    """Judge a private copy of a file and of what is beside it."""
    with TemporaryDirectory(prefix="stillroom-") as folder:
        copy = Path(folder) / "shelf"
        shutil.copyfile(path, copy)
        for file in beside:
            shutil.copyfile(file, f"{copy}{file.name.removeprefix(path.resolve().name)}")
        try:
            with closing(connect(copy, "mode=rw")) as opened:
                verdict = _full_check(opened)
                (schema,) = opened.execute("PRAGMA user_version").fetchone()
                contradictions = IN_SCHEMA_1 if schema < 2 else SINCE_SCHEMA_2
                rows = opened.execute(contradictions) if verdict == "ok" else ()
                return _Judgement(verdict, frozenset(rows), read_state(opened.execute))
        except UnicodeDecodeError:  # SQLite cites a damaged schema in its own message
            return _Judgement("its tables can't be read")
        except sqlite3.DatabaseError as error:
            return _Judgement(str(error))


def _full_check(file: sqlite3.Connection) -> str:
    (verdict,) = file.execute("PRAGMA integrity_check(1)").fetchone()
    if verdict != "ok":
        return " ".join(str(verdict).split())
    if file.execute("PRAGMA application_id").fetchone() != (APPLICATION_ID,):
        return "it is not marked as a shelf"
    if file.execute("PRAGMA foreign_key_check").fetchone():
        return "some rows point to others that don't exist"
    return "ok"


def _strange(path: Path, *beside: Path) -> str:
    names = " and ".join(file.name for file in beside)
    return (
        f"{names}, beside {path}, doesn't belong to that file: one of them came from elsewhere. "
        f"Nothing was changed; to use the shelf as it is, move {names} to another folder, or "
        "restore a backup."
    )


def _stamps(path: Path) -> list[tuple[int, int] | None]:
    return [stamp(file) for file in (path, log_of(path))]


def stamp(path: Path) -> tuple[int, int] | None:
    """What changes when a file is written to; None where there is none."""
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_size, max(found.st_mtime_ns, found.st_ctime_ns)
