"""Nothing that is written ever replaces a shelf, its logs or a backup, asked or unasked."""

import os
import shutil
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest

from stillroom.__main__ import run
from stillroom.clock import SetClock
from stillroom.errors import Refused
from stillroom.files import write_file
from stillroom.keeping.cupboard.cupboard import add_shelf
from stillroom.keeping.drafts import ShelfDraft
from stillroom.keeping.interchange.writing import FILES, export_folder
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.shelf_file.backups import backup_to

from ..conftest import NOW
from .files_beside import every_file


def left_open(shelf: Path) -> None:
    """Write to a shelf in a program that is killed: its log and the log's index stay."""
    act = (
        "import os, sys, sqlite3\n"
        "db = sqlite3.connect(sys.argv[1], isolation_level=None)\n"
        "db.execute(\"UPDATE setting SET value = value || 'x' WHERE name = 'cautions_read'\")\n"
        "os._exit(0)\n"
    )
    subprocess.run([sys.executable, "-c", act, str(shelf)], check=True)


@pytest.fixture(scope="session")
def targets_once(
    stocked_once: Path,
    tmp_path_factory: pytest.TempPathFactory,
) -> Path:
    """The folder that `targets` copies."""
    folder = tmp_path_factory.mktemp("targets") / "other"
    (folder / "backups").mkdir(parents=True)
    shutil.copy(stocked_once, folder / "backups" / "shelf-2026-11-25.stillroom")
    other = folder / "other.pdf"  # a shelf may have any name, such as one that a paper would have
    shutil.copy(stocked_once, other)
    left_open(other)
    hot = folder / "hot.stillroom"
    shutil.copy(stocked_once, hot)
    Path(f"{hot}-journal").write_bytes(bytes.fromhex("d9d505f920a163d7") + bytes(504))
    garbled = folder / "garbled"
    shutil.copy(stocked_once, garbled)
    left_open(garbled)
    garbled.write_bytes(b"\x5a" * 512 + garbled.read_bytes()[512:])
    return folder


@pytest.fixture
def targets(stocked: Path, targets_once: Path, tmp_path: Path) -> dict[str, Path]:
    """Every kind of file that must stay as it is."""
    folder = shutil.copytree(targets_once, tmp_path / "other")
    absent = Path(f"{stocked}-wal")
    assert not absent.exists()
    return {
        "the shelf": stocked,
        "a log of the shelf that doesn't exist yet": absent,
        "another shelf": folder / "other.pdf",
        "its log": folder / "other.pdf-wal",
        "the index of its log": folder / "other.pdf-shm",
        "a journal": folder / "hot.stillroom-journal",
        "a backup": folder / "backups" / "shelf-2026-11-25.stillroom",
        "a shelf with a garbled start": folder / "garbled",
    }


KINDS = (
    "the shelf",
    "a log of the shelf that doesn't exist yet",
    "another shelf",
    "its log",
    "the index of its log",
    "a journal",
    "a backup",
    "a shelf with a garbled start",
)


def ways_to(target: Path, folder: Path, ending: str) -> dict[str, Path]:
    """The file's own name, and links of both kinds, named as the command wants it."""
    folder.mkdir()
    ways = {"directly": target, "through a link": folder / f"soft{ending}"}
    ways["through a link"].symlink_to(target)
    is_garbled = target.name == "garbled"  # under another name nothing shows what it was
    if target.exists() and not is_garbled:
        ways["through a hard link"] = folder / f"hard{ending}"
        os.link(target, ways["through a hard link"])
    return ways


COMMANDS = {
    ("record", "26-001", "--to"): ".txt",
    ("export", "--json"): ".json",
    ("export",): "",
    ("backup",): ".stillroom",
}
"""One of each kind of command that writes files."""
PAPERS = {
    ("labels", "26-001.1", "--to"): ".pdf",
    ("daysheet", "--to"): ".pdf",
    ("shelflist", "--to"): ".txt",
    ("stocklist", "--to"): ".pdf",
    ("withdrawn", "--to"): ".txt",
    ("calendar", "--to"): ".ics",
}
"""Others that write as `record` does."""


def refuse_to_write(
    words: tuple[str, ...], target: Path, shelf: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Give a command that must end with one sentence, which doesn't suggest to overwrite."""
    code = run([*words, str(target), "--shelf", str(shelf)], SetClock(NOW))
    said = capsys.readouterr()
    assert (code, said.out) == (2, ""), (words, target, said)
    assert len(said.err.splitlines()) == 1, (words, target, said)
    assert "--overwrite" not in said.err, (words, target)


@pytest.mark.parametrize("words", COMMANDS, ids=" ".join)
@pytest.mark.parametrize("kind", KINDS)
def test_no_command_writes_over_a_shelf_or_a_file_that_belongs_to_one(
    targets: dict[str, Path],
    stocked: Path,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    words: tuple[str, ...],
    kind: str,
) -> None:
    ways = ways_to(targets[kind], tmp_path / "ways", COMMANDS[words])
    before = every_file(tmp_path)
    for way, path in ways.items():
        for flags in ((),) if words == ("backup",) else ((), ("--overwrite",)):
            refuse_to_write((words[0], *flags, *words[1:]), path, stocked, capsys)
            assert every_file(tmp_path) == before, (way, flags)


@pytest.mark.parametrize("kind", KINDS)
def test_no_paper_replaces_a_shelf_or_a_file_that_belongs_to_one(
    targets: dict[str, Path],
    stocked: Path,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    kind: str,
) -> None:
    (tmp_path / "ways").mkdir()
    links = {}
    for words, ending in PAPERS.items():
        links[words] = tmp_path / "ways" / f"{words[0]}{ending}"  # named as the command wants it
        links[words].symlink_to(targets[kind])
    before = every_file(tmp_path)
    for words, link in links.items():
        refuse_to_write((words[0], "--overwrite", *words[1:]), link, stocked, capsys)
        assert every_file(tmp_path) == before, words


@pytest.mark.parametrize("name", FILES)
def test_no_exported_file_replaces_a_shelf(
    keeper: Keeper, tmp_path: Path, name: str, new_shelf_file: Path
) -> None:
    folder = tmp_path / "out"
    folder.mkdir()
    shutil.copy(new_shelf_file, folder / name)
    before = every_file(folder)
    for overwrite in (False, True):
        with pytest.raises(Refused, match=r"is a shelf, a backup or part of one"):
            export_folder(keeper, folder, overwrite=overwrite)
        assert every_file(folder) == before


def test_refusing_to_write_over_an_open_shelf_does_not_release_its_locks(
    keeper: Keeper, clock: SetClock
) -> None:
    """Closing a file gives up all locks that the process has on it, so it must not be read.

    Without its locks, the next program to close the shelf would delete the log in use.
    """
    shelf = keeper.store.path
    log = Path(f"{shelf}-wal")
    add_shelf(keeper, ShelfDraft("Larder"))
    for number, path in enumerate((shelf, log, Path(f"{shelf}-shm"))):
        link = shelf.with_name(f"hard-{number}")
        os.link(path, link)
        for name in (path, link):
            with pytest.raises(Refused):
                write_file(name, b"1", overwrite=True)
    other = "import sys, sqlite3; db = sqlite3.connect(sys.argv[1]); "
    other += "print(db.execute('SELECT count(*) FROM shelf').fetchone()); db.close()"
    subprocess.run([sys.executable, "-c", other, str(shelf)], check=True)
    assert log.exists()
    add_shelf(keeper, ShelfDraft("Window"))
    keeper.store.close()
    with closing(sqlite3.connect(shelf)) as db:
        assert db.execute("SELECT name FROM shelf ORDER BY id").fetchall() == [
            ("Larder",),
            ("Window",),
        ]


def test_planning_a_restore_does_not_release_the_locks_of_the_open_shelf(
    keeper: Keeper, tmp_path: Path
) -> None:
    from stillroom.keeping.shelf_file.restoring import restore_plan

    shelf = keeper.store.path
    add_shelf(keeper, ShelfDraft("Larder"))
    backup = backup_to(keeper, tmp_path / "b.stillroom")
    restore_plan(backup, shelf)
    other = "import sys, sqlite3; db = sqlite3.connect(sys.argv[1]); "
    other += "db.execute('SELECT count(*) FROM shelf').fetchone(); db.close()"
    subprocess.run([sys.executable, "-c", other, str(shelf)], check=True)
    assert Path(f"{shelf}-wal").exists()


@pytest.mark.parametrize("words", [("export", ""), ("export", "/"), ("export", "--json", "")])
def test_an_export_to_an_empty_name_or_the_root_folder_is_refused(
    stocked: Path,
    clock: SetClock,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    words: tuple[str, ...],
) -> None:
    (tmp_path / "here").mkdir()
    monkeypatch.chdir(tmp_path / "here")
    assert run([*words, "--shelf", str(stocked)], clock) == 2
    assert len(capsys.readouterr().err.splitlines()) == 1
    assert list(Path().iterdir()) == []
    assert not Path("/jars.csv").exists()
