"""A shelf behind a link: used through it, reported when it is gone, never replaced by a copy."""

import shutil
from pathlib import Path

import pytest

from stillroom.paths import default_shelf

from .answers import Say


@pytest.fixture
def link(stocked: Path, tmp_path: Path) -> Path:
    """A link to a shelf on a stick."""
    stick = tmp_path / "stick"
    stick.mkdir()
    (tmp_path / "home").mkdir()
    shutil.move(stocked, stick / "shelf.stillroom")
    link = tmp_path / "home" / "shelf.stillroom"
    link.symlink_to(stick / "shelf.stillroom")
    return link


def names(folder: Path) -> list[str]:
    return sorted(str(path.relative_to(folder)) for path in folder.rglob("*"))


COMMANDS = (
    ("today",),
    ("shake", "--all"),
    ("check",),
    ("import", "--jars", "list.csv"),
    ("--new", "import", "--jars", "list.csv"),
    ("backup", "copy.stillroom"),
    ("restore", "b.stillroom"),
    ("restore", "b.stillroom", "--yes"),
    ("export", "out"),
)


@pytest.mark.parametrize("words", COMMANDS, ids=" ".join)
@pytest.mark.parametrize("gone", ["stick", "file"])
@pytest.mark.parametrize("is_default", [False, True])
def test_a_link_to_an_absent_disk_gets_one_sentence_and_nothing_is_made(
    say: Say,
    link: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    words: tuple[str, ...],
    gone: str,
    is_default: bool,
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "list.csv").write_text("herb,date,part,state\nYarrow,2026-11-01,leaf,dried\n")
    assert say("backup", "b.stillroom", "--shelf", link).code == 0
    if gone == "stick":
        shutil.move(tmp_path / "stick", tmp_path / "away")
    else:
        (tmp_path / "stick" / "shelf.stillroom").unlink()
    if is_default:
        default_shelf().parent.mkdir(parents=True)
        default_shelf().symlink_to(link.readlink())
    before = names(tmp_path)
    answer = say(*words, *(() if is_default else ("--shelf", link)))
    assert (answer.code, answer.out) == (2, "")
    assert "is a link to" in answer.err
    assert "Is its disk or memory stick plugged in?" in answer.err
    assert names(tmp_path) == before
    assert link.is_symlink()


def test_restoring_writes_through_a_link(say: Say, link: Path, tmp_path: Path) -> None:
    backup = tmp_path / "b.stillroom"
    assert say("backup", backup, "--shelf", link).code == 0
    assert say("draw", "26-001.1", "30 ml", "--shelf", link).code == 0
    assert say("restore", backup, "--yes", "--shelf", link).code == 0
    assert link.is_symlink()
    assert not list((tmp_path / "home").glob("*before*"))
    stick = tmp_path / "stick"
    assert {"shelf.stillroom", "shelf.stillroom.before-restore"} <= set(names(stick))
    assert say("bottles", "Door", "--json", "--shelf", link).json[0]["left_ml"] == 250
    kept = stick / "shelf.stillroom.before-restore"
    assert say("bottles", "Door", "--json", "--shelf", kept).json[0]["left_ml"] == 220


def test_a_link_in_a_circle_is_reported(say: Say, tmp_path: Path) -> None:
    link = tmp_path / "a"
    link.symlink_to(tmp_path / "b")
    (tmp_path / "b").symlink_to(link)
    answer = say("today", "--shelf", link)
    assert answer.code == 2
    assert len(answer.err.splitlines()) == 1
