"""A shelf to give commands about, and a way to give them."""

import os
import subprocess
import sys
from datetime import timedelta
from pathlib import Path
from shutil import copyfile

import pytest

from stillroom.__main__ import run
from stillroom.clock import SetClock
from stillroom.keeping.bottles.bottling import bottle_up
from stillroom.keeping.cupboard.cupboard import add_shelf, add_spirit
from stillroom.keeping.drafts import (
    BottleDraft,
    BottlingDraft,
    ChargeDraft,
    JarDraft,
    PourDraft,
    ShelfDraft,
    SpiritDraft,
    StrainDraft,
)
from stillroom.keeping.jars.jar import fill_jar
from stillroom.keeping.jars.straining import strain
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import remember
from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.states import LiquidKind
from stillroom.reckoning.yields import Pressing
from stillroom.records.store import Store

from ..conftest import NOW
from .answers import Answer, Say


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
    spirit = add_spirit(keeper, SpiritDraft("Vodka", 40, 5000))
    filled = fill(keeper, "Elecampane", Part.ROOT, 30, spirit)
    tincture = strain(
        keeper, StrainDraft(filled, keeper.today - timedelta(days=10), 430, Pressing.PRESSED)
    )
    bottles = (BottleDraft(250, 250, "Door"), BottleDraft(100, 100, "Box"))
    bottle_up(keeper, BottlingDraft(tincture.tincture_id, bottles, keeper.today))
    fill(keeper, "Calendula", Part.FLOWER, 5, spirit)
    fill(keeper, "Thyme", Part.AERIAL_PARTS, 16, spirit)
    keeper.store.close()
    return path


@pytest.fixture
def stocked(shelf_file: Path, stocked_once: Path) -> Path:
    """A shelf with a jar to shake, one that is over, a tincture with two bottles, and a spirit."""
    copyfile(stocked_once, shelf_file)
    shelf_file.chmod(0o600)
    return shelf_file


def fill(keeper: Keeper, herb: str, part: Part, days_ago: int, spirit: int) -> int:
    """Fill a jar of 120 g with 600 mL of spirit for a fortnight; returns its id."""
    day = keeper.today - timedelta(days=days_ago)
    charge = ChargeDraft(herb, part, Condition.DRIED, 120, gathered_on=day, origin="South bed")
    draft = JarDraft(
        (charge,), (PourDraft(LiquidKind.SPIRIT, 600, 40, spirit),), day, day + timedelta(days=14)
    )
    return fill_jar(keeper, draft).jar_id


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
