"""Which shelf is opened; a file that isn't a complete shelf is refused and not changed."""

import os
import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from random import Random

import pytest

from stillroom.cli import today
from stillroom.cli.call import Command
from stillroom.paths import default_shelf, log_folder
from stillroom.records.store import Store

from ..examples import examples
from ..spoiling import without_rules
from .answers import Say


def test_a_missing_shelf_is_not_created_unasked(say: Say, shelf_file: Path) -> None:
    answer = say("today", "--shelf", shelf_file)
    assert answer == (2, "", f"There is no shelf at {shelf_file}. Add --new to create one.\n")
    assert not shelf_file.exists()


@pytest.mark.parametrize(
    "words",
    [
        "fill herb=Sage;leaf;dried pour=600ml;40%", "spirits add name=Vodka strength=40%",
        "liquids add name=Honey kind=honey", "herbs add name=Dill", "shelves add name=South",
        "sizes add size=50ml", "lots add herb=Dill part=seed condition=dried", "settings units=us",
    ],
)  # fmt: skip
def test_a_first_entry_creates_the_shelf_in_the_data_folder(say: Say, words: str) -> None:
    path = default_shelf()
    dry = say(*words.split(), "--dry-run")
    assert (dry.code, path.exists()) == (2, False)
    first = say(*words.split())
    assert (first.code, first.err) == (0, f"This is the first entry of a new shelf: {path}.\n")
    assert say("undo").err == ""
    refused = say(*words.split(), "--shelf", path.with_name("other.stillroom"))
    assert (refused.code, path.with_name("other.stillroom").exists()) == (2, False)


@pytest.mark.parametrize("new", [True, False])
def test_a_refused_command_leaves_no_shelf_behind_and_can_be_tried_again(
    say: Say, shelf_file: Path, new: bool
) -> None:
    where = ("--shelf", shelf_file, "--new") if new else ()
    path = shelf_file if new else default_shelf()
    for words in ("spirits add name=V strength=400%", "fill herb=Foxglove;leaf;dried pour=1l;40%"):
        refused = say(*words.split(), *where)
        assert (refused.code, refused.out, list(path.parent.glob("*.stillroom*"))) == (2, "", [])
    assert say("spirits", "add", "name=V", "strength=40%", *where).code == 0
    kept = path.read_bytes()
    assert say("spirits", "add", "name=V", "strength=400%", *where[:2]).code == 2
    assert path.read_bytes() == kept


@pytest.mark.parametrize("words", ["today", "settings units=us", "shelves add name=South"])
def test_the_sample_shelf_is_not_announced_as_a_new_shelf(say: Say, words: str) -> None:
    answer = say("--sample", *words.split())
    assert (answer.code, answer.err) == (0, "")


@pytest.mark.parametrize("words", ["today", "draw 26-001.1 3ml", "settings", "spirits", "lots"])
def test_a_command_that_needs_a_shelf_creates_none(say: Say, words: str) -> None:
    answer = say(*words.split())
    assert (answer.code, answer.out, default_shelf().exists()) == (2, "", False)
    assert answer.err.startswith("There is no shelf at")


def test_new_makes_a_private_shelf_and_only_once(say: Say, shelf_file: Path) -> None:
    assert say("--shelf", shelf_file, "--new", "today").code == 0
    assert shelf_file.stat().st_mode & 0o777 == 0o600
    again = say("--shelf", shelf_file, "--new", "today")
    assert again.code == 2
    assert "Leave out --new" in again.err


def test_the_shelf_option_may_come_before_or_after_the_command(say: Say, stocked: Path) -> None:
    assert say("--shelf", stocked, "jars").out == say("jars", "--shelf", stocked).out


def test_without_the_option_the_shelf_in_the_data_folder_is_used(say: Say) -> None:
    missing = say("today")
    assert missing.code == 2
    assert str(default_shelf()) in missing.err
    assert say("today", "--new").code == 0
    assert default_shelf().exists()
    assert default_shelf().parent.stat().st_mode & 0o777 == 0o700
    assert say("today").code == 0


def test_the_sample_shelf_has_things_to_do_today_and_is_deleted_afterwards(
    program: Say, tmp_path: Path
) -> None:
    temporary = tmp_path / "temporary"
    temporary.mkdir()
    answer = program("--sample", "today", "--json", TMPDIR=str(temporary))
    assert answer.code == 0
    for work in ("to_shake", "due", "over", "to_bottle", "uncovered", "passing"):
        assert answer.json[work], work
    assert list(temporary.iterdir()) == []
    assert not default_shelf().exists()


@pytest.mark.parametrize("seed", range(examples(10)))
def test_flipped_bits_are_reported_in_one_sentence_or_do_no_harm(
    say: Say, stocked: Path, tmp_path: Path, seed: int
) -> None:
    whole, random = stocked.read_bytes(), Random(seed)
    spoiled, told = tmp_path / "spoiled.stillroom", 0
    for number in range(6):
        content = bytearray(whole)
        for _ in range(random.choice((1, 3, 20))):
            content[random.randrange(100, len(content))] ^= 1 << random.randrange(8)
        for words in (
            ("today", "--json"),
            ("check",),
            ("export", "--json", "-"),
            ("export", tmp_path / f"out-{number}"),
            ("trace", "26-001.1"),
            ("shake", "--all"),
        ):
            for suffix in ("-wal", "-shm"):
                Path(f"{spoiled}{suffix}").unlink(missing_ok=True)
            spoiled.write_bytes(content)
            answer = say(*words, "--shelf", spoiled)
            assert answer.code in (0, 1, 2), (words, answer.err)
            if answer.code == 2:
                assert answer.err.count("\n") == 1
                told += 1
    assert told


@pytest.mark.parametrize("is_default", [False, True])
def test_an_import_that_adds_nothing_leaves_no_new_shelf(
    say: Say, tmp_path: Path, is_default: bool
) -> None:
    good, bad = tmp_path / "good.csv", tmp_path / "bad.csv"
    good.write_text("herb,date,part,form\nSage,2026-11-20,leaf,dry\n", encoding="utf-8")
    bad.write_text("herb,date\nSage,2026-13-20\n", encoding="utf-8")
    shelf = default_shelf() if is_default else tmp_path / "new.stillroom"
    where = () if is_default else ("--shelf", shelf, "--new")
    for code, words in (
        (0, ("import", "--jars", good, "--dry-run")),
        (2, ("import", "--jars", bad)),
        (2, ("import", tmp_path / "nowhere")),
    ):
        assert say(*where, *words).code == code
        assert not shelf.exists()
    assert say(*where, "import", "--jars", good).code == 0
    assert say("--shelf", shelf, "import", "--jars", bad).code == 2
    assert shelf.exists()


def a_folder(path: Path) -> None:
    path.mkdir()


def an_empty_file(path: Path) -> None:
    path.touch()


def a_text(path: Path) -> None:
    path.write_text("Dear diary, today I filled a jar. " * 20, encoding="utf-8")


def a_foreign_database(path: Path) -> None:
    with closing(sqlite3.connect(path)) as db:
        db.execute("CREATE TABLE song (title)")
        db.commit()


def a_newer_shelf(path: Path) -> None:
    with closing(sqlite3.connect(path)) as db:
        db.execute("PRAGMA user_version = 999")


def half_a_shelf(path: Path) -> None:
    content = path.read_bytes()
    path.write_bytes(content[: len(content) // 2])


def a_shelf_with_a_torn_page(path: Path) -> None:
    content = bytearray(path.read_bytes())
    content[4096:8192] = b"\xa5" * 4096
    path.write_bytes(content)


def a_pipe(path: Path) -> None:
    os.mkfifo(path)


OF_A_SHELF = (a_newer_shelf, half_a_shelf, a_shelf_with_a_torn_page)


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (a_folder, "is a folder"),
        (an_empty_file, "is an empty file"),
        (a_text, "is not a shelf file"),
        (a_foreign_database, "is a database of another program"),
        (a_newer_shelf, "was written by a newer Stillroom"),
        (half_a_shelf, "is damaged"),
        (a_shelf_with_a_torn_page, "is damaged"),
        (a_pipe, "is not an ordinary file"),
    ],
)
def test_a_bad_file_gets_one_sentence_and_is_not_changed(
    program: Say,
    say: Say,
    stocked: Path,
    tmp_path: Path,
    spoil: Callable[[Path], None],
    said: str,
) -> None:
    folder = tmp_path / "bad"
    folder.mkdir()
    bad = folder / "bad.stillroom"
    if spoil in OF_A_SHELF:
        shutil.copy(stocked, bad)
    spoil(bad)
    before = seen(folder)
    for give, *words in (
        (program, "today"),
        (say, "check"),
        (say, "shake", "--all"),
        (say, "import", folder),
    ):
        answer = give(*words, "--shelf", bad)
        assert answer.code == 2
        assert answer.out == ""
        assert said in answer.err
        assert answer.err.count("\n") == 1
    assert seen(folder) == before


def seen(folder: Path) -> list[tuple[object, ...]]:
    """Every file of a folder: name, when it was changed, and content."""
    return [
        (path.name, path.stat().st_mtime_ns, path.read_bytes() if path.is_file() else None)
        for path in sorted(folder.iterdir())
    ]


def test_a_shelf_locked_by_another_program_is_reported(say: Say, stocked: Path) -> None:
    with closing(sqlite3.connect(stocked, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        answer = say("shake", "--all", "--shelf", stocked)
        assert answer.code == 2
        assert answer.err.startswith("Another program is writing to this shelf.")
        assert say("today", "--shelf", stocked).code == 0
    assert say("shake", "--all", "--shelf", stocked).code == 0


def test_check_reports_what_is_wrong_and_exits_with_code_1(say: Say, stocked: Path) -> None:
    whole = say("check", "--shelf", stocked)
    assert whole == (0, f"No problems found in {stocked}.\n", "")
    assert say("check", "--json", "--shelf", stocked).json == []
    with without_rules(stocked) as db:
        db.execute("DELETE FROM charge_line WHERE jar_id = 2")
    broken = say("check", "--shelf", stocked)
    assert broken.code == 1
    assert "Jar 26-002 has no herb." in broken.out
    answer = say("check", "--json", "--shelf", stocked)
    assert answer.code == 1
    assert [found["what"] for found in answer.json] == ["Jar 26-002 has no herb."]


def test_check_finds_no_problem_after_each_command(say: Say, stocked: Path) -> None:
    for words in (
        ("shake", "--all"),
        ("draw", "26-001.1", "30 ml"),
        ("draw", "26-001.2", "5 ml", "--kind", "spill"),
        ("undo",),
        ("undo",),
        ("redo",),
    ):
        assert say(*words, "--shelf", stocked).code == 0
        assert say("check", "--shelf", stocked).code == 0


def test_damage_that_shows_only_while_reading_is_reported_in_one_sentence(
    say: Say, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def read(_: object) -> int:
        (tmp_path / "damaged").write_text("not a database, but longer than its header " * 9)
        with closing(sqlite3.connect(tmp_path / "damaged")) as db:
            return int(db.execute("SELECT count(*) FROM jar").fetchone()[0])

    monkeypatch.setitem(today.COMMANDS, "today", Command(lambda _: None, read))
    answer = say("today")
    assert answer.code == 2
    assert answer.err.startswith("The shelf's file is damaged")
    assert not log_folder().exists()


READ_ONLY = """
import os, sys
from stillroom.__main__ import run
from stillroom.cli.call import Command
folder, shelf = sys.argv[1:]
os.chmod(shelf, 0o400)
os.chmod(folder, 0o500)
print(run(["jars", "--shelf", shelf]), run(["shake", "--all", "--shelf", shelf]))
print(os.listdir(folder))
os.chmod(folder, 0o700)
"""


def test_a_shelf_that_cannot_be_written_is_opened_read_only(stocked: Path, tmp_path: Path) -> None:
    folder = tmp_path / "sealed"
    folder.mkdir()
    sealed = folder / "shelf.stillroom"
    shutil.copy(stocked, sealed)
    # Root may write anywhere, so the powers that let it are given up.
    without = ("setpriv", "--bounding-set", "-all") if os.geteuid() == 0 else ()
    done = subprocess.run(
        [*without, sys.executable, "-c", READ_ONLY, folder, sealed],
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout.splitlines()[0] == "3 jars."
    assert done.stdout.splitlines()[-2:] == ["0 2", "['shelf.stillroom']"]
    assert done.stderr.startswith("This shelf is read-only")
    assert done.stderr.count("\n") == 1


def test_a_first_import_that_was_killed_can_be_run_again(say: Say, tmp_path: Path) -> None:
    """The kill comes when the shelf is made and nothing is in it yet."""
    notebook = tmp_path / "list.csv"
    notebook.write_text("herb,date,part,state\nYarrow,2026-11-01,leaf,dried\n")
    shelf = tmp_path / "new.stillroom"
    Store.open(shelf, create=True).close()
    words = ("--shelf", shelf, "--new", "import", "--jars", notebook)
    assert say(*words).code == 0
    before = shelf.read_bytes()
    again = say(*words)
    assert again.code == 2
    assert "already exists. Leave out --new to open it" in again.err
    assert shelf.read_bytes() == before


def test_new_never_changes_a_file_that_exists(say: Say, stocked: Path, tmp_path: Path) -> None:
    others = {"a text": b"mine", "nothing": b"", "a shelf in use": stocked.read_bytes()}
    for name, content in others.items():
        path = tmp_path / name
        path.write_bytes(content)
        answer = say("--shelf", path, "--new", "today")
        assert answer.code == 2
        assert "already exists. Leave out --new to open it" in answer.err
        assert path.read_bytes() == content


def test_check_names_what_was_planted_without_opening_the_shelf(stocked: Path, say: Say) -> None:
    with closing(sqlite3.connect(stocked, isolation_level=None)) as db:
        db.execute("CREATE TRIGGER steal AFTER INSERT ON event BEGIN DELETE FROM event; END")
        db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    before = stocked.read_bytes()
    named = "The trigger steal on event isn't part of a shelf."
    checked = say("--shelf", stocked, "check")
    assert (checked.code, named in checked.out) == (1, True)
    for words in (["today"], ["shake", "--all"], ["undo"]):
        refused = say("--shelf", stocked, *words)
        assert (refused.code, refused.out) == (2, "")
        assert named in refused.err
    assert stocked.read_bytes() == before
