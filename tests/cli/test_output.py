"""What was done shows in the exit code, even where the report cannot be printed."""

import shutil
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest

from stillroom.__main__ import run
from stillroom.clock import SetClock

from .answers import Say

COMMANDS = (
    ("today",),
    ("today", "--json"),
    ("jars",),
    ("shake", "26-002"),
    ("shake", "--all"),
    ("bottles",),
    ("draw", "26-001.1", "30 ml"),
    ("undo",),
    ("undo", "--dry-run"),
    ("redo",),
    ("redo", "--dry-run"),
    ("trace", "26-001.1"),
    ("recall", "vodka"),
    ("reckon", "dilute", "strength=96%", "target=40%", "volume=500 ml"),
    ("labels", "26-001", "--text"),
    ("withdraw", "26-001", "--dry-run"),
    ("withdraw", "26-001"),
    ("withdrawn",),
    ("close", "2026-10"),
    ("withdrawn", "--to", "withdrawn.txt"),
    ("labels", "26-001", "--to", "labels.pdf"),
    ("record", "26-001"),
    ("daysheet", "--to", "day.txt"),
    ("shelflist",),
    ("stocklist", "--to", "stock.txt"),
    ("calendar",),
    ("calendar", "--to", "dates.ics"),
    ("export", "out"),
    ("export", "--json", "-"),
    ("export", "--json", "shelf.json"),
    ("import", "--jars", "list.csv"),
    ("import", "--jars", "list.csv", "--dry-run"),
    ("import", "--jars", "bad.csv"),
    ("backup", "copy.stillroom"),
    ("restore", "before.stillroom"),
    ("restore", "before.stillroom", "--yes"),
    ("check",),
    ("--help",),
    ("shake", "--help"),
)


def everything(folder: Path, shelf: Path) -> tuple[list[str], list[str]]:
    """The names of all files but those that looking may leave, and what the shelf holds."""
    names = sorted(
        str(path.relative_to(folder))
        for path in folder.rglob("*")
        if path.is_file()
        and "backups" not in path.parts
        and not path.name.endswith(("-wal", "-shm"))
    )
    with closing(sqlite3.connect(shelf)) as db:
        tables = [n for (n,) in db.execute("SELECT name FROM sqlite_schema WHERE type = 'table'")]
        rows = [str(db.execute(f'SELECT * FROM "{name}"').fetchall()) for name in sorted(tables)]
    return names, rows


@pytest.mark.parametrize("words", COMMANDS, ids=" ".join)
def test_a_full_output_never_hides_that_something_was_done(
    say: Say,
    stocked: Path,
    clock: SetClock,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    words: tuple[str, ...],
) -> None:
    """Done, and the code is 3; not done, and it is 2. Whether it was is read from the files."""
    monkeypatch.chdir(tmp_path)
    shutil.copy(stocked, tmp_path / "before.stillroom")
    (tmp_path / "list.csv").write_text("herb,date,part,state\nYarrow,2026-11-01,leaf,dried\n")
    (tmp_path / "bad.csv").write_text("herb,date\nYarrow,never\n")
    assert say("draw", "26-001.2", "5 ml", "--shelf", stocked).code == 0
    if words == ("redo",):
        assert say("undo", "--shelf", stocked).code == 0
    before = everything(tmp_path, stocked)
    with open("/dev/full", "w") as full, monkeypatch.context() as patched:  # noqa: PTH123
        patched.setattr("sys.stdout", full)
        code = run([*words, "--shelf", str(stocked)], clock)
    changed = everything(tmp_path, stocked) != before
    assert code == (3 if changed else 2)


def shell(line: str, cwd: Path) -> int:
    command = line.replace("stillroom", f"{sys.executable} -m stillroom", 1)
    return subprocess.run(command, shell=True, cwd=cwd, check=False).returncode


@pytest.mark.parametrize(
    ("line", "code"),
    [
        ("stillroom undo --yes <&- >&- 2>&-", 3),
        ("stillroom undo --yes >&-", 3),
        ("stillroom undo --yes 2>&-", 0),
        ("stillroom today <&- >&- 2>&-", 2),
        ("stillroom shake nothing 2>/dev/full", 2),
        ("stillroom shake nothing >&- 2>&-", 2),
        ("stillroom --help >/dev/full 2>&1", 2),
        ("stillroom <&- >&- 2>&-", 2),
    ],
)
def test_closed_streams_cause_no_error(stocked: Path, line: str, code: int) -> None:
    assert shell(f"{line} --shelf {stocked}", stocked.parent) == code
    with closing(sqlite3.connect(stocked)) as db:
        (jars,) = db.execute("SELECT count(*) FROM jar").fetchone()
        assert db.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    assert jars == (2 if "undo" in line else 3)


def test_check_names_the_shelf_it_checked(say: Say, stocked: Path) -> None:
    assert say("check", "--shelf", stocked).out == f"No problems found in {stocked}.\n"
    assert say("--sample", "check") == (0, "No problems found in the sample shelf.\n", "")
