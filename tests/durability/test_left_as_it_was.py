"""What is refused for damage is left as it was, to the byte, log and all."""

import asyncio
import shutil
import sqlite3
import subprocess
import sys
from contextlib import closing
from functools import partial
from pathlib import Path

import pytest
from rich.traceback import Traceback

from stillroom.__main__ import run
from stillroom.clock import SetClock
from stillroom.errors import StillroomError, StoreError
from stillroom.keeping.bottles.bottle_views import bottle_rows
from stillroom.keeping.day import day_view
from stillroom.keeping.jars.shelves import shelves_view
from stillroom.keeping.keeper import Keeper
from stillroom.records.store import Store
from stillroom.screens import scanner
from stillroom.screens.app import StillroomApp

from ..screens.hands import let_pilots_wait
from .files_beside import copy_with_log, every_file

COMMANDS = (
    ("today",),
    ("jars",),
    ("shake", "--all"),
    ("bottles",),
    ("draw", "26-001.1", "30 ml"),
    ("undo",),
    ("trace", "26-001.1"),
    ("ledger", "--json"),
    ("correct", "26-001"),
    ("correct", "26-001", "note=checked", "--why", "read again"),
    ("recall", "vodka"),
    ("withdrawn",),
    ("labels", "26-001", "--text"),
    ("stocklist",),
    ("calendar",),
    ("export", "out"),
    ("export", "--json", "-"),
    ("import", "--jars", "list.csv"),
    ("check",),
)
DAMAGES = {
    "a table is gone": "ALTER TABLE bottle RENAME TO gone",
    "a column is gone": "ALTER TABLE jar RENAME COLUMN code TO gone",
    "a view can't be read": "PRAGMA writable_schema = 1; UPDATE sqlite_schema "
    "SET sql = replace(sql, 'BEGIN', 'BEGAN') WHERE type = 'trigger' AND tbl_name = 'jar'",
}
SPOIL = """
import os, sqlite3, sys
db = sqlite3.connect(sys.argv[1], isolation_level=None)
for statement in sys.argv[2].split("; "):
    db.execute(statement)
os._exit(9)
"""


@pytest.fixture(scope="session")
def damaged_once(killed_once: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """A shelf for each kind of damage; its log holds acts and the damage."""
    made = {}
    for name, damage in DAMAGES.items():
        made[name] = copy_with_log(killed_once, tmp_path_factory.mktemp("damaged"))
        subprocess.run([sys.executable, "-c", SPOIL, str(made[name]), damage], check=False)
    return made


@pytest.fixture(params=DAMAGES)
def damaged(request: pytest.FixtureRequest, damaged_once: dict[str, Path], tmp_path: Path) -> Path:
    """A shelf whose log holds acts, and damage that no look at its pages shows."""
    return copy_with_log(damaged_once[request.param], tmp_path)


def files(shelf: Path) -> dict[str, bytes]:
    return {ending: Path(f"{shelf}{ending}").read_bytes() for ending in ("", "-wal")}


def test_a_command_stopped_by_damage_changes_nothing(
    damaged: Path,
    clock: SetClock,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("list.csv").write_text("herb,date\nYarrow,2026-11-01\n")
    before = files(damaged)
    stopped = 0
    kept = tmp_path / "kept"
    kept.mkdir()
    for path in (damaged, Path(f"{damaged}-wal")):
        shutil.copy(path, kept)
    for words in COMMANDS:
        code = run([*words, "--shelf", str(damaged)], clock)
        said = capsys.readouterr()
        is_damage = any(
            sign in said.err for sign in ("not as it should be", "damaged", "was not opened")
        )
        if not is_damage and words != ("check",):  # it had no use for what is damaged
            for path in kept.iterdir():
                shutil.copy(path, damaged.parent)
            Path(f"{damaged}-shm").unlink(missing_ok=True)
            continue
        stopped += 1
        assert code in ((1, 2) if words == ("check",) else (2,)), (words, said)
        assert words == ("check",) or len(said.err.splitlines()) == 1
        assert files(damaged) == before, words
    assert stopped > 1


def test_a_program_that_met_damage_changes_nothing_when_it_closes(
    damaged: Path, clock: SetClock
) -> None:
    """As the screen does, which shows the sentence and stays."""
    before = files(damaged)
    try:
        keeper = Keeper(Store.open(damaged), clock)
    except StillroomError:
        pass
    else:
        said = []
        for read in (shelves_view, bottle_rows, day_view):
            try:
                read(keeper)
            except StillroomError as error:
                said.append(str(error))
        keeper.store.close()
        assert said
    assert files(damaged) == before


def test_an_undamaged_log_is_folded_in(killed_once: Path, tmp_path: Path, clock: SetClock) -> None:
    shelf = copy_with_log(killed_once, tmp_path)
    assert run(["today", "--shelf", str(shelf)], clock) == 0
    assert not Path(f"{shelf}-wal").exists()
    with sqlite3.connect(shelf) as db:
        assert db.execute("SELECT count(*) FROM shake").fetchone() != (0,)
    db.close()


def test_a_screen_closed_by_damage_leaves_nothing_beside_the_shelf(
    stocked: Path,
    clock: SetClock,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """What a failed query holds on to must not keep the file open, with an empty log beside it."""
    with closing(sqlite3.connect(stocked)) as db:
        root = "SELECT rootpage FROM sqlite_schema WHERE name = ?"
        (one,) = db.execute(root, ("movement_by_bottle",)).fetchone()
        (other,) = db.execute(root, ("event_by_jar",)).fetchone()
    pages = stocked.read_bytes()
    start, end = (one - 1) * 4096, one * 4096
    stocked.write_bytes(pages[:start] + pages[(other - 1) * 4096 : other * 4096] + pages[end:])
    before = every_file(stocked.parent)
    store = Store.open(stocked)
    app = StillroomApp(Keeper(store, clock))
    let_pilots_wait(monkeypatch)
    # Nobody reads the picture of the traceback, which would colour a dozen whole files.
    monkeypatch.setattr("rich.traceback.Traceback", partial(Traceback, max_frames=4))
    monkeypatch.setattr(scanner, "pace_s", lambda found: 0.0)  # or the key would be held back

    async def start_it() -> None:
        async with app.run_test() as pilot:
            await pilot.press("escape", "2")

    with pytest.raises(StoreError, match="is damaged"):
        asyncio.run(start_it())
    store.close()
    left = every_file(stocked.parent).items()
    assert {path: held for path, held in left if path.parent.name != "backups"} == before


def test_an_unfinished_query_leaves_nothing_beside_the_shelf(
    stocked: Path,
) -> None:
    """A value that can't be read stops the reading, and its traceback holds the query."""
    before = every_file(stocked.parent)
    store = Store.open(stocked)
    unread = store.db.execute_sql("SELECT id FROM movement")
    unread.fetchone()
    store.leave_as_is()
    store.close()
    assert every_file(stocked.parent) == before
    del unread
