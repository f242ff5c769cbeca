"""The short form of the kill script; its long form is run by hand."""

import subprocess
import sys
from pathlib import Path
from random import Random

import pytest

from stillroom.errors import StoreError
from stillroom.keeping.cupboard.cupboard import add_shelf
from stillroom.keeping.drafts import ShelfDraft
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.undo import redo, undo

from ..examples import examples
from . import kill

SCRIPT = Path(__file__).with_name("kill.py")


def test_nothing_acknowledged_is_lost_when_it_is_killed(tmp_path: Path) -> None:
    kills = examples(75)
    ran = subprocess.run(
        [sys.executable, str(SCRIPT), "--times", str(kills), "--folder", str(tmp_path)],
        capture_output=True,
        text=True,
    )
    assert ran.returncode == 0, ran.stdout + ran.stderr
    assert ran.stdout.startswith(f"{kills} kills, ")
    assert int(ran.stdout.split()[2]) > 2 * kills  # it was at work when it was killed


def acknowledged(keeper: Keeper) -> kill.Acknowledged:
    return kill.Acknowledged(kill.top_action(keeper), kill.digest(keeper))


def test_the_judge_accepts_what_was_acknowledged_and_one_act_more(keeper: Keeper) -> None:
    said = acknowledged(keeper)
    assert not kill.judge(keeper, said)
    add_shelf(keeper, ShelfDraft("Larder"))
    assert kill.judge(keeper, said)
    redo(keeper)
    said = acknowledged(keeper)
    undo(keeper)
    assert kill.judge(keeper, said)


def test_the_judge_notices_what_is_lost_or_half_done(keeper: Keeper) -> None:
    add_shelf(keeper, ShelfDraft("Larder"))
    said = acknowledged(keeper)
    keeper.store.db.execute_sql("UPDATE shelf SET note = 'half'")
    with pytest.raises(kill.Wrong, match="not there"):
        kill.judge(keeper, said)
    keeper.store.db.execute_sql("UPDATE shelf SET note = ''")
    for name in ("Window", "Attic"):
        add_shelf(keeper, ShelfDraft(name))
    with pytest.raises(kill.Wrong, match="nor one action further"):
        kill.judge(keeper, said)


def test_a_program_that_ends_before_it_is_killed_is_noticed(tmp_path: Path) -> None:
    (tmp_path / "shelf").write_text("not a shelf")
    with pytest.raises((kill.Wrong, StoreError)):
        kill.kill_once(kill.Hand(), tmp_path / "shelf", Random(3))
