"""A shelf to give commands about, and a way to give them."""

import os
import subprocess
import sys
from datetime import timedelta
from hashlib import sha256
from pathlib import Path
from shutil import copyfile, copytree

import pytest

from stillroom.__main__ import run
from stillroom.clock import SetClock
from stillroom.files import is_in_use
from stillroom.keeping.cupboard.cupboard import add_shelf, add_spirit
from stillroom.keeping.drafts import (
    BottleDraft,
    ChargeDraft,
    ShelfDraft,
    SpiritDraft,
)
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import remember
from stillroom.keeping.shelf_file.backups import BESIDE, backup_folder, backup_if_due
from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.yields import Pressing
from stillroom.records import shelf_file as shelf_file_module
from stillroom.records.logs import has_log
from stillroom.records.store import Store

from ..builders import bottled, filled, spirit, strained
from ..conftest import NOW
from .answers import Answer, Say

_verdicts: dict[bytes, tuple[str, int]] = {}
"""What was found of a shelf file, by the digest of its bytes."""


@pytest.fixture(autouse=True)
def judged_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Judge the same bytes once: command after command opens a shelf that none has changed."""
    judge = shelf_file_module._examine

    def examine(path: Path) -> tuple[str, int]:
        if is_in_use(path) or has_log(path) or not os.access(path, os.R_OK):
            return judge(path)
        digest = sha256(path.read_bytes()).digest()
        if digest not in _verdicts:
            _verdicts[digest] = judge(path)
        return _verdicts[digest]

    monkeypatch.setattr(shelf_file_module, "_examine", examine)


@pytest.fixture
def say(capsys: pytest.CaptureFixture[str], clock: SetClock) -> Say:
    """Give a command in this process, on the test's own day."""

    def give(*words: str | Path) -> Answer:
        capsys.readouterr()
        code = run([str(word) for word in words], clock)
        return Answer(code, *capsys.readouterr())

    return give


@pytest.fixture(scope="session")
def stocked_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The file that `stocked` copies."""
    path = tmp_path_factory.mktemp("stocked") / "shelf.stillroom"
    keeper = Keeper(Store.open(path, create=True), SetClock(NOW))
    remember(keeper, "cautions_read", f"{keeper.today}")
    add_shelf(keeper, ShelfDraft("North larder"))
    vodka = add_spirit(keeper, SpiritDraft("Vodka", 40, 5000))
    jar_id = fill(keeper, "Elecampane", Part.ROOT, 30, vodka)
    strained_on = keeper.today - timedelta(days=10)
    tincture = strained(keeper, jar_id, 430, Pressing.PRESSED, on=strained_on)
    bottled(keeper, tincture, BottleDraft(250, 250, "Door"), BottleDraft(100, 100, "Box"))
    fill(keeper, "Calendula", Part.FLOWER, 5, vodka)
    fill(keeper, "Thyme", Part.AERIAL_PARTS, 16, vodka)
    assert backup_if_due(keeper, backup_folder(keeper)).made
    keeper.store.close()
    return path


@pytest.fixture
def stocked_without_backup(shelf_file: Path, stocked_once: Path) -> Path:
    """A shelf with a jar to shake, one that is late, a tincture with two bottles, and a spirit."""
    copyfile(stocked_once, shelf_file)
    shelf_file.chmod(0o600)
    return shelf_file


@pytest.fixture
def stocked(stocked_without_backup: Path, stocked_once: Path) -> Path:
    """The same shelf with today's backup, which the first change of each test would make."""
    copytree(stocked_once.with_name(BESIDE), stocked_without_backup.with_name(BESIDE))
    return stocked_without_backup


def fill(keeper: Keeper, herb: str, part: Part, days_ago: int, spirit_id: int) -> int:
    """Fill a jar of 120 g with 600 mL of spirit for a fortnight; returns its id."""
    day = keeper.today - timedelta(days=days_ago)
    charge = ChargeDraft(herb, part, Condition.DRIED, 120, gathered_on=day, origin="South bed")
    return filled(keeper, [charge], spirit(600, 40, spirit_id), on=day)


@pytest.fixture
def sample_file(shelf_file: Path, sample_shelf: Path) -> Path:
    """The sample shelf as a file: `--sample` would read it in again for each command."""
    return copyfile(sample_shelf, shelf_file)


@pytest.fixture
def program(tmp_path: Path) -> Say:
    """Give a command to the program as a person does, in a process of its own."""

    def give(*words: str | Path, **environment: str) -> Answer:
        done = subprocess.run(
            [sys.executable, "-m", "stillroom", *map(str, words)],
            env=os.environ | environment,
            cwd=tmp_path,
            capture_output=True,
            text=True,
            check=False,
        )
        return Answer(done.returncode, done.stdout, done.stderr)

    return give
