"""Backups by command: one before the first change of a day, one at will, and back again."""

import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from stillroom.clock import SetClock

from .answers import Say


@pytest.fixture
def stocked(stocked_without_backup: Path) -> Path:
    """The shelf before today's backup."""
    return stocked_without_backup


def left_in(say: Say, shelf: Path, place: str) -> float:
    (bottle,) = say("bottles", place, "--json", "--shelf", shelf).json
    return float(bottle["left_ml"])


def test_the_first_change_of_a_day_is_preceded_by_a_backup(
    say: Say, stocked: Path, clock: SetClock
) -> None:
    backups = stocked.parent / "backups"
    assert say("today", "--shelf", stocked).code == 0
    assert not backups.exists()
    assert say("draw", "26-001.1", "30 ml", "--shelf", stocked).code == 0
    assert say("draw", "26-001.1", "30 ml", "--shelf", stocked).code == 0
    (backup,) = backups.iterdir()
    assert left_in(say, backup, "Door") == 250
    clock.advance(days=1)
    assert say("undo", "--shelf", stocked).code == 0
    assert len(list(backups.iterdir())) == 2
    assert say("today", "--json", "--shelf", stocked).json["backup"] == {
        "last_on": f"{clock.today()}",
        "failed_on": None,
        "failure": "",
        "in_doubt": "",
    }


def test_today_reports_a_failed_backup_and_still_works(say: Say, stocked: Path) -> None:
    (stocked.parent / "backups").write_text("a file where the folder should be")
    assert say("shake", "--all", "--shelf", stocked).code == 0
    assert "The backup of 26 Nov 2026 failed:\n" in say("today", "--shelf", stocked).out
    told = say("today", "--json", "--shelf", stocked).json["backup"]
    assert told["failed_on"] == "2026-11-26"
    assert told["failure"]


def test_a_backup_is_never_written_over_a_file(say: Say, stocked: Path, tmp_path: Path) -> None:
    copy = tmp_path / "copy.stillroom"
    assert say("backup", copy, "--shelf", stocked) == (0, f"Wrote {copy}.\n", "")
    assert say("check", "--shelf", copy).code == 0
    before = copy.read_bytes()
    for target in (copy, tmp_path, tmp_path / "none" / "copy.stillroom"):
        answer = say("backup", target, "--shelf", stocked)
        assert answer.code == 2
        assert answer.err.count("\n") == 1
    assert copy.read_bytes() == before


def test_restore_shows_first_what_it_replaces_and_keeps_it(
    say: Say, stocked: Path, tmp_path: Path
) -> None:
    copy = tmp_path / "copy.stillroom"
    assert say("backup", copy, "--shelf", stocked).code == 0
    assert say("draw", "26-001.1", "30 ml", "--shelf", stocked).code == 0

    told = say("restore", copy, "--shelf", stocked)
    assert told.code == 2
    assert f"The backup {copy}: 3 jars (2 steeping), 2 bottles, last entry" in told.out
    assert f"The shelf {stocked}: 3 jars (2 steeping), 2 bottles, last entry" in told.out
    assert "--yes" in told.err
    assert left_in(say, stocked, "Door") == 220

    answer = say("restore", copy, "--yes", "--shelf", stocked)
    assert answer.code == 0
    assert left_in(say, stocked, "Door") == 250
    kept = Path(answer.out.splitlines()[-1].removeprefix("The old shelf is kept in ")[:-1])
    assert left_in(say, kept, "Door") == 220
    assert say("check", "--shelf", stocked).code == 0


def test_restore_works_where_there_is_no_shelf_yet(say: Say, stocked: Path) -> None:
    assert say("restore", stocked).code == 0
    assert len(say("jars", "--json").json) == 3


def test_a_damaged_shelf_can_be_replaced(say: Say, stocked: Path, tmp_path: Path) -> None:
    copy = tmp_path / "copy.stillroom"
    shutil.copy(stocked, copy)
    stocked.write_bytes(stocked.read_bytes()[:9000])
    assert say("today", "--shelf", stocked).code == 2
    told = say("restore", copy, "--shelf", stocked)
    assert "The shelf can't be read: " in told.out
    assert say("restore", copy, "--yes", "--shelf", stocked).code == 0
    assert say("check", "--shelf", stocked).code == 0


def test_a_file_that_cannot_be_restored_is_refused_in_one_sentence(
    say: Say, stocked: Path, tmp_path: Path
) -> None:
    text = tmp_path / "text"
    text.write_text("no backup")
    for words, said in (
        ((text,), "is not a shelf file"),
        ((tmp_path / "none",), "There is no backup at"),
        ((stocked,), "That is the open shelf itself"),
    ):
        answer = say("restore", *words, "--yes", "--shelf", stocked)
        assert answer.code == 2
        assert said in answer.err
    assert say("check", "--shelf", stocked).code == 0


def test_the_sample_shelf_is_never_restored_to(say: Say, stocked: Path) -> None:
    answer = say("--sample", "restore", stocked, "--yes")
    assert answer.code == 2
    assert "The sample shelf isn't saved" in answer.err


def test_an_import_on_trial_makes_no_backup(say: Say, stocked: Path, tmp_path: Path) -> None:
    assert say("export", tmp_path / "out", "--shelf", stocked).code == 0
    assert say("import", tmp_path / "out", "--dry-run", "--shelf", stocked).code == 0
    assert not (stocked.parent / "backups").exists()
    assert say("import", tmp_path / "out", "--shelf", stocked).code == 0
    assert (stocked.parent / "backups").exists()


@pytest.mark.parametrize("words", [("backup",), ("restore",), ("export",), ("daysheet", "--to")])
@pytest.mark.parametrize("name", ["x" * 300, f"~{'x' * 300}", "y/" * 3000, "/dev/null/in/x.pdf"])
def test_an_impossible_file_name_is_refused_in_one_sentence(
    say: Say, stocked: Path, words: tuple[str, ...], name: str
) -> None:
    answer = say(*words, name, "--shelf", stocked)
    assert answer.code == 2
    assert answer.err.count("\n") == 1


def test_a_backup_folder_that_came_with_the_shelf_is_named_until_it_is_confirmed(
    stocked: Path, say: Say, tmp_path: Path
) -> None:
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    with closing(sqlite3.connect(stocked)) as db, db:
        db.execute(
            "INSERT INTO setting (name, value) VALUES ('backup_folder', ?), ('units', 'furlong')",
            (str(elsewhere),),
        )
    today = say("--shelf", stocked, "today")
    assert f"This shelf sends its backups to {elsewhere}" in today.out
    assert "The setting Units can't be furlong. " in today.err
    assert say("--shelf", stocked, "shake", "--all").code == 0
    assert list(elsewhere.iterdir()) == []
    confirmed = say("--shelf", stocked, "backup", "--confirm-folder")
    assert (confirmed.code, f"go to {elsewhere} from now on" in confirmed.out) == (0, True)
    assert "for its backups" not in say("--shelf", stocked, "today").out
    assert say("--shelf", stocked, "undo").code == 0
    assert len(list(elsewhere.iterdir())) == 1
    assert say("--shelf", stocked, "backup").code == 2
