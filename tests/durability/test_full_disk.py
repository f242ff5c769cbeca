"""No byte free: looking, printing and exporting to another disk work, and nothing is lost."""

import resource
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from stillroom.__main__ import run
from stillroom.clock import SetClock
from stillroom.errors import Refused
from stillroom.keeping.cupboard.cupboard import add_shelf
from stillroom.keeping.drafts import ShelfDraft
from stillroom.keeping.jars.shelves import shelves_view
from stillroom.keeping.keeper import Keeper
from stillroom.records.store import Store
from stillroom.screens.app import StillroomApp

from ..screens.driving import flat, press
from .files_beside import WITH_LOG, copy_with_log

GROWN = """
import os, sys
from datetime import UTC, datetime
from pathlib import Path
from stillroom.clock import SetClock
from stillroom.keeping.cupboard.cupboard import add_shelf
from stillroom.keeping.drafts import ShelfDraft
from stillroom.keeping.keeper import Keeper
from stillroom.records.store import Store
clock = SetClock(datetime(2026, 11, 26, 9, 0, tzinfo=UTC))
keeper = Keeper(Store.open(Path(sys.argv[1]), create=True), clock)
for number in range(40):
    add_shelf(keeper, ShelfDraft(f"Plank {number}", "x" * 900))
os._exit(9)
"""
LOGS = ["no log", "a log", "a log and its index"]
LOOKS = (
    ("today",),
    ("jars", "--json"),
    ("bottles",),
    ("trace", "26-001.1"),
    ("stocklist",),
    ("check",),
    ("undo", "--dry-run"),
    ("labels", "26-001", "--to", "labels.pdf"),
    ("record", "26-001", "--to", "record.txt"),
    ("calendar", "--to", "dates.ics"),
    ("export", "out"),
    ("export", "--json", "shelf.json"),
    ("backup", "copy.stillroom"),
)
ACTS = (
    ("shake", "--all"),
    ("draw", "26-001.1", "30 ml"),
    ("undo",),
    ("import", "--jars", "list.csv"),
)


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A disk of its own of some megabytes."""
    folder = tmp_path / "disk"
    folder.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=4m", "tmpfs", str(folder)]
    if not shutil.which("mount") or subprocess.run(mount, capture_output=True).returncode:
        pytest.skip("only where a small disk can be mounted, as root can")
    yield folder
    subprocess.run(["umount", "-l", str(folder)], check=True)


@pytest.fixture
def put_shelf(stocked_once: Path, killed_once: Path) -> Callable[[Path, str], Path]:
    """Put a shelf into a folder, closed or as a kill leaves it, and return its path."""

    def put(folder: Path, log: str) -> Path:
        made = stocked_once if log == "no log" else killed_once
        return copy_with_log(made, folder, WITH_LOG[: LOGS.index(log) + 1])

    return put


def fill_up(folder: Path) -> Path:
    filling = folder / "filling"
    with filling.open("ab", buffering=0) as file:
        for size in (65_536, 4096, 1):
            try:
                while file.write(bytes(size)):
                    pass
            except OSError:
                pass
    return filling


def state(folder: Path) -> dict[str, bytes]:
    return {
        path.name: path.read_bytes() for path in folder.iterdir() if not path.name.endswith("-shm")
    }


@pytest.mark.parametrize("log", LOGS)
def test_with_no_byte_free_everything_except_writing_works(
    put_shelf: Callable[[Path, str], Path],
    small_disk: Path,
    tmp_path: Path,
    clock: SetClock,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    log: str,
) -> None:
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    monkeypatch.chdir(elsewhere)
    (elsewhere / "list.csv").write_text("herb,date,part,state\nYarrow,2026-11-01,leaf,dried\n")
    shelf = put_shelf(small_disk, log)
    filling = fill_up(small_disk)
    if log == "a log":  # to read it without room for an index it has to be folded in
        assert run(["jars", "--json", "--shelf", str(shelf)], clock) == 0
        assert '"shaken_today": 1' in capsys.readouterr().out
        fill_up(small_disk)
    before = state(small_disk)
    for words in LOOKS:
        code = run([*words, "--shelf", str(shelf)], clock)
        said = capsys.readouterr()
        assert code == 0, (words, said.err)
        assert "disk is full" in said.err, words
        assert len(said.err.splitlines()) == 1
        assert said.out, words
        if words == ("jars", "--json"):
            assert ('"shaken_today": 1' in said.out) == (log != "no log")
        assert state(small_disk) == before, words
    for words in ACTS:
        code = run([*words, "--shelf", str(shelf)], clock)
        said = capsys.readouterr()
        assert (code, said.out) == (2, ""), words
        assert "disk is full" in said.err, words
        assert state(small_disk) == before, words
    assert run(["check", "--shelf", "copy.stillroom"], clock) == 0
    filling.unlink()
    assert run(["draw", "26-001.1", "30 ml", "--shelf", str(shelf)], clock) == 0
    assert run(["check", "--shelf", str(shelf)], clock) == 0
    assert capsys.readouterr().err == ""


@pytest.mark.parametrize("log", ["no log", "a log and its index"])
async def test_the_screen_opens_with_no_byte_free(
    put_shelf: Callable[[Path, str], Path],
    small_disk: Path,
    clock: SetClock,
    log: str,
) -> None:
    shelf = put_shelf(small_disk, log)
    fill_up(small_disk)
    before = state(small_disk)
    keeper = Keeper(Store.open(shelf), clock)
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24), notifications=True) as pilot:
        await pilot.pause()
        assert "disk is full" in flat(app)
        for page in "123456":
            await press(pilot, page)
        await press(pilot, "1", "space")
        assert "disk is full" in flat(app)
    keeper.store.close()
    assert state(small_disk) == before


async def test_the_screen_opens_where_there_is_no_room_for_the_index_of_a_log(
    put_shelf: Callable[[Path, str], Path],
    small_disk: Path,
    clock: SetClock,
) -> None:
    """The log is folded in, which makes room."""
    shelf = put_shelf(small_disk, "a log")
    fill_up(small_disk)
    keeper = Keeper(Store.open(shelf), clock)
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24), notifications=True):
        assert "all 2 shaken" in flat(app)
    keeper.store.close()


def test_a_log_that_needs_the_file_to_grow_is_still_read(
    small_disk: Path, clock: SetClock, capsys: pytest.CaptureFixture[str]
) -> None:
    """It can neither get an index nor be folded in completely."""
    shelf = small_disk / "shelf.stillroom"
    subprocess.run([sys.executable, "-c", GROWN, str(shelf)], check=False)
    Path(f"{shelf}-shm").unlink()
    filling = fill_up(small_disk)
    assert Path(f"{shelf}-wal").stat().st_size > shelf.stat().st_size
    for words in (["jars"], ["check"], ["daysheet"], ["export", "--json", "-"]):
        assert run([*words, "--shelf", str(shelf)], clock) == 0
        said = capsys.readouterr()
        assert "disk is full" in said.err
        assert "Plank 39" in said.out or words in (["check"], ["daysheet"])
    filling.unlink()
    assert run(["check", "--shelf", str(shelf)], clock) == 0
    assert run(["jars", "--shelf", str(shelf)], clock) == 0
    assert "Plank 39" in capsys.readouterr().out


@contextmanager
def no_file_may_grow() -> Iterator[None]:
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (0, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


@pytest.mark.parametrize("log", LOGS[:2])
def test_a_used_up_quota_is_handled_like_a_full_disk(
    put_shelf: Callable[[Path, str], Path],
    tmp_path: Path,
    clock: SetClock,
    log: str,
) -> None:
    """The disk itself says that it has room."""
    (tmp_path / "quota").mkdir()
    shelf = put_shelf(tmp_path / "quota", log)
    with no_file_may_grow():
        keeper = Keeper(Store.open(shelf), clock)
        assert len(shelves_view(keeper).jars) == 3
        if keeper.store.read_only:
            with pytest.raises(Refused, match="The disk is full"):
                add_shelf(keeper, ShelfDraft("Window"))
        keeper.store.close()
