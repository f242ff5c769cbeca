"""Whatever is at the path gets one clear sentence; the file and its folder don't change."""

import os
import socket
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from random import Random
from shutil import copy, copyfile

import pytest

from stillroom.clock import SetClock
from stillroom.errors import StoreError
from stillroom.keeping.cupboard.cupboard import add_shelf
from stillroom.keeping.drafts import ShelfDraft
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.shelf_file.check import check
from stillroom.records.file_state import APPLICATION_ID
from stillroom.records.schema import newest_schema
from stillroom.records.store import Store

from ..conftest import NOW
from ..examples import examples
from .unprivileged import run

Spoil = Callable[[Path], object]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder with nothing else in it."""
    made = tmp_path / "folder"
    made.mkdir()
    return made


@pytest.fixture
def shelf(folder: Path, shelf_once: Path) -> Path:
    """A sound shelf, closed."""
    return Path(copy(shelf_once, folder / "shelf"))


@pytest.fixture(scope="module")
def shelf_once(new_shelf_file: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The file that `shelf` copies."""
    path = copyfile(new_shelf_file, tmp_path_factory.mktemp("sound") / "shelf")
    keeper = Keeper(Store.open(path), SetClock(NOW))
    for number in range(40):
        add_shelf(keeper, ShelfDraft(f"Plank {number}", "x" * 500))
    keeper.store.close()
    return path


def look(folder: Path) -> dict[str, tuple[object, ...]]:
    """All that can be seen of a folder's files without opening a pipe.

    Left out is the index of the log, which keeps the locks of readers and is no part of the data.
    """
    seen: dict[str, tuple[object, ...]] = {}
    for path in folder.iterdir():
        if path.name.endswith("-shm"):
            continue
        found = path.lstat()
        data = path.read_bytes() if path.is_file() else None
        seen[path.name] = (data, found.st_mode, found.st_size, found.st_mtime_ns)
    return seen


def write(path: Path, position: int, data: bytes) -> None:
    with path.open("r+b") as file:
        file.seek(position)
        file.write(data)


def foreign(path: Path) -> None:
    path.unlink()
    with closing(sqlite3.connect(path)) as db:
        db.execute("CREATE TABLE jar (id INTEGER)")


def newer_in_the_log(path: Path) -> None:
    """The version of a newer program, still in its write-ahead log as after a crash."""
    with closing(sqlite3.connect(path)) as db:
        db.execute(f"PRAGMA user_version = {newest_schema() + 1}")
        kept = {f: f.read_bytes() for f in (path, Path(f"{path}-wal"), Path(f"{path}-shm"))}
    for file, data in kept.items():
        file.write_bytes(data)


def replace(path: Path, make: Callable[[Path], object]) -> None:
    path.unlink()
    make(path)


def listen(path: Path) -> None:
    with socket.socket(socket.AF_UNIX) as made:
        made.bind(str(path))


def spoil_a_rule(path: Path) -> None:
    """A flipped bit in a CHECK, which SQLite does not look at in a file opened for reading."""
    whole = path.read_bytes()
    spoiled = whole.replace(b"undone IN (0, 1)", b"undone IN (0, \xb1)")
    assert spoiled != whole
    path.write_bytes(spoiled)


HEADER_OF_OURS = (
    b"SQLite format 3\0".ljust(60, b"\0")
    + (1).to_bytes(4, "big")
    + bytes(4)
    + APPLICATION_ID.to_bytes(4, "big")
).ljust(100, b"\0")

SPOILED: dict[str, tuple[Spoil, str]] = {
    "missing": (Path.unlink, "There is no shelf at"),
    "link to nothing": (
        lambda p: replace(p, lambda q: q.symlink_to("gone")),
        "is a link to .* missing",
    ),
    "link to itself": (lambda p: replace(p, lambda q: q.symlink_to(q)), "can't be read: Too many"),
    "foreign": (foreign, "a database of another program"),
    "text": (lambda p: p.write_text("Dear Ann,\n" * 50), "is not a shelf file"),
    "short text": (lambda p: p.write_text("SQLite"), "is not a shelf file"),
    "zeros": (lambda p: p.write_bytes(bytes(8192)), "is not a shelf file"),
    "empty": (lambda p: p.write_bytes(b""), "is an empty file"),
    "folder": (lambda p: replace(p, Path.mkdir), "is a folder"),
    "pipe": (lambda p: replace(p, os.mkfifo), "is not an ordinary file"),
    "socket": (lambda p: replace(p, listen), "is not an ordinary file"),
    "header alone": (lambda p: os.truncate(p, 100), "is damaged"),
    "made-up header": (lambda p: p.write_bytes(HEADER_OF_OURS), "is damaged"),
    "one page": (lambda p: os.truncate(p, 4096), "is damaged"),
    "half": (lambda p: os.truncate(p, p.stat().st_size // 2), "is damaged"),
    "less one byte": (lambda p: os.truncate(p, p.stat().st_size - 1), "is damaged"),
    "page size": (lambda p: write(p, 16, b"\x13\x37"), "is damaged"),
    "first page": (lambda p: write(p, 100, b"\xff" * 50), "is damaged"),
    "last page": (lambda p: write(p, p.stat().st_size - 4096, b"\xff" * 4096), "is damaged"),
    "a rule": (spoil_a_rule, "is damaged .its rules can't be read"),
    "no version": (lambda p: write(p, 60, bytes(4)), "is damaged .it does not state which schema"),
    "newer": (lambda p: write(p, 60, (99).to_bytes(4, "big")), "newer Stillroom .schema 99"),
    "newer in its log": (newer_in_the_log, "newer Stillroom"),
}


@pytest.mark.parametrize(("spoil", "said"), SPOILED.values(), ids=SPOILED.keys())
def test_a_file_that_is_not_a_shelf_is_refused_and_not_changed(
    folder: Path, shelf: Path, spoil: Spoil, said: str
) -> None:
    spoil(shelf)
    before = look(folder)
    with pytest.raises(StoreError, match=said) as refusal:
        Store.open(shelf)
    assert "\n" not in str(refusal.value)
    assert look(folder) == before


@pytest.mark.parametrize("name", ["no\0name", "n" * 300, "shelf/inside"])
def test_an_impossible_file_name_is_refused(folder: Path, shelf: Path, name: str) -> None:
    before = look(folder)
    with pytest.raises(StoreError):
        Store.open(folder / name)
    with pytest.raises(StoreError):
        Store.open(folder / name, create=True)
    assert look(folder) == before


@pytest.mark.parametrize("spoil", ["empty", "text", "folder", "foreign"])
def test_making_a_shelf_never_replaces_a_file(folder: Path, shelf: Path, spoil: str) -> None:
    SPOILED[spoil][0](shelf)
    before = look(folder)
    with pytest.raises(StoreError):
        Store.open(shelf, create=True)
    assert look(folder) == before


def flipped(data: bytes, random: Random) -> bytes:
    spoiled = bytearray(data)
    spoiled[random.randrange(len(data))] ^= 1 << random.randrange(8)
    return bytes(spoiled)


def cut(data: bytes, random: Random) -> bytes:
    return data[: random.randrange(len(data))]


@pytest.mark.parametrize("spoil", [flipped, cut])
def test_a_random_fault_in_a_file_is_refused_or_does_no_harm(
    folder: Path, shelf: Path, clock: SetClock, spoil: Callable[[bytes, Random], bytes]
) -> None:
    """A flipped bit may be where nothing is stored; then the shelf opens, and `check` judges."""
    sound = shelf.read_bytes()
    refused = 0
    files = examples(200)
    for seed in range(files):
        shelf.write_bytes(spoil(sound, Random(seed)))
        before = look(folder)
        try:
            store = Store.open(shelf)
        except StoreError:
            refused += 1
        else:
            check(Keeper(store, clock))
            store.close()
        assert look(folder) == before, seed
    assert refused > files * (0.9 if spoil is cut else 0.05)


@pytest.fixture
def hog(shelf: Path) -> Iterator[sqlite3.Connection]:
    """Another program that keeps the whole file to itself."""
    with closing(sqlite3.connect(shelf, isolation_level=None)) as db:
        db.execute("PRAGMA locking_mode = EXCLUSIVE")
        db.execute("BEGIN EXCLUSIVE")
        db.execute("UPDATE shelf SET note = 'mine' WHERE id = 1")
        yield db


def test_a_locked_shelf_is_refused(folder: Path, shelf: Path, hog: sqlite3.Connection) -> None:
    before = look(folder)
    with pytest.raises(StoreError, match="locked by another program"):
        Store.open(shelf)
    assert look(folder) == before
    hog.execute("ROLLBACK")
    hog.close()
    Store.open(shelf).close()


LOOK = """
import sys
from datetime import UTC, datetime
from pathlib import Path
from stillroom.clock import SetClock
from stillroom.errors import StillroomError
from stillroom.keeping.shelf_file.check import check
from stillroom.keeping.cupboard.cupboard import add_shelf, shelf_rows
from stillroom.keeping.drafts import ShelfDraft
from stillroom.keeping.keeper import Keeper
from stillroom.records.store import Store
try:
    store = Store.open(Path(sys.argv[1]), create=True)
except StillroomError as error:
    print("refused:", error)
    raise SystemExit
keeper = Keeper(store, SetClock(datetime(2026, 11, 26, tzinfo=UTC)))
print("planks:", len(shelf_rows(keeper)), check(keeper), store.read_only)
try:
    add_shelf(keeper, ShelfDraft("New"))
except StillroomError as error:
    print("refused:", error)
store.close()
"""
NO_ENTRY = "refused: The shelf {} can't be read: Permission denied.\n"
LOOKED = "planks: 40 [] True\nrefused: This shelf is read-only"


@pytest.fixture
def locked_up(folder: Path) -> Iterator[Path]:
    """The folder, which a test may close; opened again for the cleaning up."""
    yield folder
    folder.chmod(0o700)


def test_a_read_only_file_is_opened_read_only(folder: Path, shelf: Path) -> None:
    shelf.chmod(0o400)
    before = look(folder)
    assert run(LOOK, str(shelf)).startswith(LOOKED)
    assert look(folder) == before


def test_a_shelf_in_a_read_only_folder_is_opened_read_only(locked_up: Path, shelf: Path) -> None:
    before = look(locked_up)
    locked_up.chmod(0o500)
    assert run(LOOK, str(shelf)).startswith(LOOKED)
    assert look(locked_up) == before


def left_open(shelf: Path) -> None:
    """The files as a program leaves them that is killed: the newest plank is in the log only."""
    log, index = Path(f"{shelf}-wal"), Path(f"{shelf}-shm")
    with closing(sqlite3.connect(shelf, isolation_level=None)) as db:
        db.execute("DELETE FROM shelf WHERE id = 1")
        kept = {file: file.read_bytes() for file in (shelf, log, index)}
    for file, data in kept.items():
        file.write_bytes(data)


def test_opening_read_only_reads_the_log_of_a_killed_program(locked_up: Path, shelf: Path) -> None:
    left_open(shelf)
    locked_up.chmod(0o500)
    assert run(LOOK, str(shelf)).startswith("planks: 39 [] True")
    assert {path.name for path in locked_up.iterdir()} == {"shelf", "shelf-wal", "shelf-shm"}


def test_a_log_that_cannot_be_read_is_reported_and_not_skipped(
    locked_up: Path, shelf: Path
) -> None:
    left_open(shelf)
    Path(f"{shelf}-shm").unlink()
    before = look(locked_up)
    locked_up.chmod(0o500)
    said = run(LOOK, str(shelf))
    assert said.startswith(f"refused: The shelf {shelf} was not closed, and its newest changes")
    assert look(locked_up) == before


def test_a_file_that_may_not_be_read_is_refused(folder: Path, shelf: Path) -> None:
    shelf.chmod(0)
    assert run(LOOK, str(shelf)) == NO_ENTRY.format(shelf)


def test_a_folder_that_may_not_be_entered_is_refused(locked_up: Path, shelf: Path) -> None:
    locked_up.chmod(0)
    assert run(LOOK, str(shelf)) == NO_ENTRY.format(shelf)


def test_no_shelf_is_made_where_nothing_may_be_written(locked_up: Path) -> None:
    locked_up.chmod(0o500)
    said = run(LOOK, str(locked_up / "new"))
    assert said == f"refused: No shelf can be made at {locked_up / 'new'}: Permission denied.\n"
    assert list(locked_up.iterdir()) == []
