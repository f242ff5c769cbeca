"""The way to the screen and back: the terminal it needs, its colours, and what a crash leaves."""

import re
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from stillroom.__main__ import run
from stillroom.cli import today
from stillroom.cli.call import Command
from stillroom.keeping.cupboard.cupboard import add_shelf
from stillroom.keeping.drafts import ShelfDraft
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.shelf_file.restoring import restore_open
from stillroom.paths import default_shelf, log_folder
from stillroom.records.store import Store
from stillroom.screens.app import StillroomApp

from .answers import Say
from .terminal import in_terminal, until_hung_up

QUIT = b"\x11"
NOT_AT_THE_START = (
    "keeping.year.", "keeping.correcting", "keeping.jars.expecting", "reckoning.calculators",
    "paper.pdf", "screens.help", "screens.kit.dialog",
)  # fmt: skip
"""What the first page can be painted without; each would make every start slower."""
WELCOME = "larder"


def test_the_start_loads_nothing_that_the_first_page_does_not_need() -> None:
    code = "import stillroom.screens.app, sys; print(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert "stillroom.keeping.jars.shelves" in done.stdout
    assert [each for each in NOT_AT_THE_START if f"stillroom.{each}" in done.stdout] == []


def test_the_first_start_makes_a_shelf_and_quitting_restores_the_terminal() -> None:
    seen = in_terminal(keys=QUIT, once="jar")
    assert seen.code == 0
    assert seen.is_restored
    assert default_shelf().exists()


def test_the_sample_shelf_is_deleted_when_the_screen_closes(tmp_path: Path) -> None:
    temporary = tmp_path / "temporary"
    temporary.mkdir()
    seen = in_terminal("--sample", keys=QUIT, once=WELCOME, TMPDIR=str(temporary))
    assert seen.code == 0
    assert "SAMPLE" in seen.out
    assert list(temporary.iterdir()) == []
    assert not default_shelf().exists()


def test_a_closed_terminal_ends_the_program_quietly(tmp_path: Path) -> None:
    temporary = tmp_path / "temporary"
    temporary.mkdir()
    assert until_hung_up("--sample", once=WELCOME, TMPDIR=str(temporary)) == 0
    assert list(temporary.iterdir()) == []
    assert not log_folder().exists()


def test_without_a_terminal_there_is_no_screen_and_no_shelf_is_made(program: Say) -> None:
    answer = program()
    assert answer.code == 2
    assert answer.err.startswith("The screen needs a terminal")
    assert answer.err.count("\n") == 1
    assert not default_shelf().exists()


def test_a_dumb_terminal_gets_a_hint_to_use_the_commands() -> None:
    seen = in_terminal(TERM="dumb")
    assert seen.code == 2
    assert "TERM=dumb" in seen.out
    assert "\x1b" not in seen.out


@pytest.mark.parametrize("environment", [{"NO_COLOR": "1"}, {"TERM": "linux"}])
def test_plain_terminals_get_none_of_our_colours(
    sample: Keeper, environment: dict[str, Any]
) -> None:
    seen = in_terminal("--shelf", str(sample.path), keys=QUIT, once=WELCOME, **environment)
    assert seen.code == 0
    codes = {
        code for found in re.findall(r"\x1b\[([\d;]+)m", seen.out) for code in found.split(";")
    }
    assert codes
    assert codes <= {"0", "1", "2", "3", "4", "7", "9", "39", "49"} | ANSI[environment.get("TERM")]


# The sixteen colours of the terminal's own palette may be used where colours are wanted.
ANSI = {None: set(), "linux": {str(n) for n in (*range(30, 38), *range(40, 48), *range(90, 108))}}


def test_a_shelf_restored_on_screen_is_a_single_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def restore_and_work(app: StillroomApp) -> None:
        restore_open(app.keeper, backup)
        add_shelf(app.keeper, ShelfDraft("Larder"))

    shelf, backup = default_shelf(), tmp_path / "backup.stillroom"
    Store.open(shelf, create=True).close()
    backup.write_bytes(shelf.read_bytes())
    monkeypatch.setattr("stillroom.__main__._refuse_without_screen", lambda: None)
    monkeypatch.setattr(StillroomApp, "run", restore_and_work)
    assert run([]) == 0
    assert [path.name for path in shelf.parent.glob(f"{shelf.name}-*")] == []


def test_a_bad_file_is_reported_without_opening_the_screen(tmp_path: Path) -> None:
    bad = tmp_path / "bad.stillroom"
    bad.write_text("no shelf")
    seen = in_terminal("--shelf", str(bad))
    assert seen.code == 2
    assert "is not a shelf file" in seen.out
    assert "\x1b" not in seen.out
    assert bad.read_text() == "no shelf"


FAILING = """
import sys
import stillroom.screens.app as app

def fail(*_, **__):
    raise RuntimeError("the lid is stuck")

app.StillroomApp.{where} = fail
from stillroom.__main__ import main
from stillroom.cli.call import Command
main()
"""


@pytest.mark.parametrize("where", ["__init__", "get_default_screen", "on_mount", "check_day"])
def test_a_crash_on_screen_writes_a_log_and_restores_the_terminal(
    stocked: Path, where: str
) -> None:
    before = rows(stocked)
    seen = in_terminal(
        "--shelf",
        str(stocked),
        keys=b"x" if where == "check_day" else b"",
        once=WELCOME,
        program=("-c", FAILING.format(where=where)),
    )
    assert seen.code == 70
    assert seen.is_restored
    (log,) = log_folder().iterdir()
    assert str(log) in "".join(seen.out.split("\r\n"))
    assert "Traceback (most recent call last)" not in seen.out
    assert "the lid is stuck" in log.read_text()
    assert "Traceback (most recent call last)" in log.read_text()
    assert "\x1b" not in log.read_text()
    assert rows(stocked) == before


def test_a_crash_in_a_command_writes_a_log_that_only_the_user_can_read(
    say: Say, stocked: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(_: object) -> int:
        raise RuntimeError("the lid is stuck")

    monkeypatch.setattr(today, "json_option", lambda _: None)
    monkeypatch.setitem(today.COMMANDS, "today", Command(lambda _: None, fail))
    before = rows(stocked)
    answer = say("today", "--shelf", stocked)
    (log,) = log_folder().iterdir()
    assert answer == (
        70,
        "",
        f"Stillroom has failed; what was saved before is safe. The traceback is in {log}.\n",
    )
    assert "RuntimeError: the lid is stuck" in log.read_text()
    assert log.stat().st_mode & 0o777 == 0o600
    assert log.parent.stat().st_mode & 0o777 == 0o700
    assert rows(stocked) == before


def test_a_crash_is_reported_even_if_no_log_can_be_written(
    say: Say, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(_: object) -> int:
        raise RuntimeError("the lid is stuck")

    monkeypatch.setitem(today.COMMANDS, "today", Command(lambda _: None, fail))
    log_folder().parent.mkdir(parents=True)
    log_folder().touch()  # a file where the folder should be
    answer = say("today")
    assert answer.code == 70
    assert "RuntimeError: the lid is stuck" in answer.err
    assert answer.err.count("\n") == 1


def test_ctrl_c_ends_a_command_quietly(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def wait(_: object) -> int:
        raise KeyboardInterrupt

    monkeypatch.setitem(today.COMMANDS, "today", Command(lambda _: None, wait))
    assert run(["today"]) == 130
    assert capsys.readouterr() == ("", "")


def rows(shelf: Path) -> list[str]:
    """Everything a shelf holds, as SQL."""
    with closing(sqlite3.connect(shelf)) as db:
        return list(db.iterdump())
