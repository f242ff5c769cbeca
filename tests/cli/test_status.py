"""Batches released, rejected and withdrawn by command, and the sheet of what was withdrawn."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from stillroom.clock import SetClock
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import save_settings, settings_of
from stillroom.records.store import Store

from ..conftest import NOW
from .answers import Answer, Say

DRY = "Dry run: nothing was saved. Without --dry-run, this would be done:"


@pytest.fixture
def signed(stocked: Path) -> Path:
    """The shelf with initials."""
    keeper = Keeper(Store.open(stocked), SetClock(NOW))
    save_settings(keeper, replace(settings_of(keeper), maker="AL"))
    keeper.store.close()
    return stocked


@pytest.fixture
def at(say: Say, signed: Path) -> Callable[..., Answer]:
    return lambda *words: say(*words, "--shelf", signed)


def test_a_lot_is_withdrawn_in_one_act_and_restored_by_one_undo(
    at: Callable[..., Answer],
) -> None:
    dry = at("withdraw", "vodka", "--dry-run").out
    said = at("withdraw", "vodka", "--why", "seal broken")
    assert dry == f"{DRY}\n{said.out}"
    lines = said.out.splitlines()
    assert lines[0].startswith("Withdrew 1 batch: Vodka")
    assert lines[1:] == [
        "  26-001 Elecampane", "", "Still steeping, and not withdrawn:",
        "  Jar 26-003", "  Jar 26-002",
    ]  # fmt: skip
    assert "withdrawn" in at("bottles").out
    assert {row["status"] for row in at("bottles", "--json").json} == {"withdrawn"}
    assert "was withdrawn. Discard the bottle" in at("draw", "26-001.1", "30 ml", "--yes").err
    assert at("labels", "26-001", "--text").out.startswith("WITHDRAWN: do not use")
    assert at("undo").out.startswith("Undone: Withdrew 1 batch: Vodka")
    (told,) = at("withdraw", "vodka", "--dry-run", "--json").json["batches"]
    assert (told["code"], told["status"]) == ("26-001", "withdrawn")
    assert at("draw", "26-001.1", "30 ml").code == 0


def test_the_recall_sheet_lists_given_used_destroyed_and_held_and_leaves_returned_blank(
    at: Callable[..., Answer], tmp_path: Path
) -> None:
    assert "No batch is withdrawn." in at("withdrawn").out
    at("draw", "26-001.1", "40 ml", "--kind", "give", "--for", "J.")
    at("draw", "26-001.1", "25 ml")
    at("withdraw", "26-001", "--why", "wrong root")
    assert at("withdrawn", "--to", tmp_path / "sheet.txt").code == 0
    sheet = (tmp_path / "sheet.txt").read_text()
    assert "26 Nov 2026, AL: wrong root" in " ".join(sheet.split())
    row = next(line for line in sheet.splitlines() if line.startswith("26-001.1"))
    assert [fact in row for fact in ("250 mL", "40 mL", "25 mL", "185 mL", "____")] == [True] * 5
    assert "for J." in sheet
    back = at("returned", "26-001.1", "volume=15 ml", "from=J.")
    assert "50 mL is still out. It isn't added to the bottle." in back.out
    sheet = at("withdrawn").out
    assert "15 mL" in next(line for line in sheet.splitlines() if line.startswith("26-001.1"))
    assert at("bottles", "26-001.1", "--json").json[0]["left_ml"] == 185
    assert at("withdrawn", "--to", tmp_path / "sheet.pdf").code == 0


def test_batches_are_released_and_rejected_by_command(at: Callable[..., Answer]) -> None:
    assert at("reject", "26-001", "--why", "mould").out == "Rejected batch 26-001 Elecampane.\n"
    assert "was rejected" in at("draw", "26-001.1", "30 ml").err
    asked = at("release", "26-001.2")
    assert (asked.code, "Release it anyway? Add --yes" in asked.err) == (2, True)
    assert at("release", "26-001.2", "--yes").out == "Released batch 26-001 Elecampane.\n"
    assert at("draw", "26-001.1", "30 ml").code == 0
    assert "hasn't been strained" in at("release", "26-002").err
    assert "hasn't been strained" in at("withdraw", "26-002").err


def test_without_initials_nothing_is_released(say: Say, stocked: Path) -> None:
    for word in ("release", "reject", "withdraw"):
        assert "Set your initials first" in say(word, "26-001", "--shelf", stocked).err
