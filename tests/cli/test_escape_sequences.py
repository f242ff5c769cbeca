"""No name or text controls the terminal: no control character is printed."""

import shutil
import sqlite3
from contextlib import closing, suppress
from pathlib import Path
from shutil import copyfile

import pytest

from stillroom.cli.parser import COMMANDS
from stillroom.clock import SetClock
from stillroom.keeping.jars.jar import shake_all
from stillroom.keeping.keeper import Keeper
from stillroom.records.store import Store

from ..conftest import NOW
from ..spoiling import without_rules
from .answers import Answer, Say

PAYLOAD = "\x1b]0;pwn\x07\x1b[2J\x9b31m\x85\x7f\r\n\x08\u202e"
"""Sets a window's title, clears the screen, colours, rings, and begins a line of its own."""
IN_A_PATH = PAYLOAD.replace("\x85", "")

CALLS = [
    "today", "jars", "bottles", "stocklist", "shelflist", "daysheet", "calendar", "check",
    "export --json -", "today --json", "jars --json", "bottles --json", "check --json",
    "trace 26-005.1", "trace 26-005.1 --json", "labels 26-005.1 --text", "record 26-005",
    "recall --herb Calendula", "recall --spirit Vodka", "ledger", "ledger --json",
    "correct 26-005", "correct 26-005 --json", "correct 26-005 weight=30 --dry-run",
    "correct 26-005 yield=1", "correct 26-005 note=x",
    "backup b.stillroom", "draw 26-005.1 1",
    "shake --all", "undo", "redo", "export out", "import out", "import out --json",
    "labels 26-005.1 --to l.pdf", "stocklist --to s.txt", "calendar --to c.ics",
    "restore b.stillroom", "calculate", "release 26-005", "reject 26-006",
    "withdraw vodka --dry-run", "withdraw 26-005", "withdrawn", "close 26-005", "close 2026-09",
]  # fmt: skip


def steering(answer: Answer) -> set[str]:
    """The characters of an answer that a terminal obeys; calendars end their lines in CR LF."""
    printed = (answer.out + answer.err).replace("\r\n", "\n")
    return {c for c in printed if (c < " " and c != "\n") or "\x7f" <= c <= "\x9f"} | (
        {"\u202e"} & set(printed)
    )


@pytest.fixture(scope="session")
def hostile_once(sample_shelf: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The file that `hostile` copies."""
    shelf = copyfile(sample_shelf, tmp_path_factory.mktemp("hostile") / "shelf.stillroom")
    keeper = Keeper(Store.open(shelf), SetClock(NOW))
    shake_all(keeper)
    keeper.store.close()
    with without_rules(shelf, with_checks=True) as db:
        spoiled = 0
        for table, column in db.execute(
            """SELECT m.name, c.name FROM sqlite_schema m, pragma_table_info(m.name) c
               WHERE m.type = 'table' AND c.type = 'TEXT' AND m.name <> 'undo_step'"""
        ).fetchall():
            with suppress(sqlite3.IntegrityError):
                about = "WHERE name NOT LIKE 'file%'" if table == "setting" else ""
                db.execute(f"UPDATE {table} SET {column} = {column} || ? {about}", (PAYLOAD,))
                spoiled += 1
    assert spoiled > 20
    return shelf


@pytest.fixture
def hostile(shelf_file: Path, hostile_once: Path) -> Path:
    """The sample shelf, the payload behind every text that its rules let through."""
    return copyfile(hostile_once, shelf_file)


def test_no_command_prints_control_characters_from_a_hostile_shelf(
    hostile: Path, say: Say, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert {call.split()[0] for call in CALLS} <= set(COMMANDS)
    monkeypatch.chdir(hostile.parent)
    printed = ""
    for call in CALLS:
        answer = say("--shelf", hostile, *call.split())
        assert steering(answer) == set(), call
        assert answer.code != 70, (call, answer.err)
        printed += answer.out
    assert "␛[2J" in printed  # it was there to be printed


def test_check_reports_control_characters(hostile: Path, say: Say) -> None:
    checked = say("--shelf", hostile, "check")
    assert checked.code == 1
    assert "holds control characters" in checked.out


@pytest.mark.parametrize(
    "words",
    [
        ["--shelf", "{0}", "today"],
        ["--shelf", "{0}/", "today"],
        ["--shelf", "{0}", "--new", "check"],
        ["{0}"],
        ["today", "--{0}"],
        ["today", "{0}"],
        ["labels", "{0}", "--text"],
        ["trace", "{0}"],
        ["draw", "{0}", "{0}"],
        ["calculate", "{0}"],
        ["calculate", "dilute", "{0}={0}"],
        ["calculate", "dilute", "have={0}"],
        ["import", "{0}"],
        ["import", "--jars", "{0}"],
        ["export", "{0}"],
        ["export", "--json", "{0}"],
        ["calendar", "--to", "{0}"],
        ["labels", "26-005.1", "--to", "{0}"],
        ["record", "26-005", "--to", "{0}.pdf"],
        ["backup", "{0}"],
        ["restore", "{0}"],
    ],
    ids=" ".join,
)
def test_no_argument_or_path_is_printed_unescaped(
    words: list[str],
    say: Say,
    tmp_path: Path,
    sample_shelf: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.chdir(tmp_path)
    given = [word.format(IN_A_PATH) for word in words]
    if "--shelf" not in words and "restore" not in words:
        given += ["--shelf", str(copyfile(sample_shelf, tmp_path / "sample.stillroom"))]
    assert steering(say(*given)) == set()
    assert steering(say(*given)) == set()  # again, where it has written a file


def test_no_imported_text_is_printed_unescaped(say: Say, tmp_path: Path, stocked: Path) -> None:
    notebook = tmp_path / "nb.csv"
    for text in (
        f'herb,date,"{PAYLOAD}col"\nSage,2026-11-01,x\n',
        f'"{PAYLOAD}herb",date\nSage,2026-11-01\n',
        f'herb,date\n"Sage{PAYLOAD}",2026-11-01\n',
        f'herb,date,code\nSage,2026-11-01,"{PAYLOAD}"\n',
        f'herb,date\nSage,"{PAYLOAD}"\n',
    ):
        notebook.write_text(text, newline="")
        for more in ([], ["--json"], ["--dry-run"]):
            assert steering(say("--shelf", stocked, "import", "--jars", notebook, *more)) == set()
    say("--shelf", stocked, "export", tmp_path / "out")
    manifest = tmp_path / "out" / "manifest.json"
    sound = manifest.read_text()
    for spoiled in (
        sound.replace("1", '"\\u001b]0;p\\u0007"', 1),
        sound.replace('"', '"\x1b[2J', 1),
        '{"files": {"\\u001b[2J.csv": {"lines": "\\u001b[2J"}}}',
    ):
        manifest.write_text(spoiled)
        assert steering(say("--shelf", stocked, "import", tmp_path / "out")) == set()
    manifest.write_text(sound)
    shutil.copy(tmp_path / "out" / "jars.csv", tmp_path / "out" / f"{IN_A_PATH}.csv")
    jars = tmp_path / "out" / "jars.csv"
    jars.write_text(jars.read_text().replace("code", f"code{PAYLOAD}", 1), newline="")
    assert steering(say("--shelf", stocked, "import", tmp_path / "out")) == set()


def test_no_message_of_sqlite_is_printed_unescaped(stocked: Path, say: Say) -> None:
    with closing(sqlite3.connect(stocked, isolation_level=None)) as db:
        db.execute(f'CREATE TABLE "{PAYLOAD}" (id)')
        db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    for words in (["today"], ["check"], ["check", "--json"], ["restore", stocked]):
        assert steering(say("--shelf", stocked, *words)) == set()


def test_no_system_folder_is_printed_unescaped(program: Say, tmp_path: Path, stocked: Path) -> None:
    odd = str(tmp_path / IN_A_PATH)
    for words in (["today"], ["backup", "x"], ["import", "nothing"]):
        assert steering(program(*words, XDG_DATA_HOME=odd, HOME=odd)) == set()
