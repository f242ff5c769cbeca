"""`correct`: what it lists, refuses and changes, and what stays readable."""

import json
from pathlib import Path
from shutil import copyfile

import pytest

from .answers import Say


@pytest.fixture
def sample(sample_shelf: Path, tmp_path: Path) -> Path:
    """The sample shelf as a file that keeps what is done to it."""
    path = tmp_path / "sample.stillroom"
    copyfile(sample_shelf, path)
    return path


def test_a_yield_below_what_was_bottled_is_refused_with_a_way_out(say: Say, sample: Path) -> None:
    answer = say("correct", "26-005", "yield=480 ml", "--shelf", sample)
    assert answer.code == 2
    assert "540 mL was bottled" in answer.err
    assert "bottle-1.volume=" in answer.err
    listed = say("correct", "26-005", "--json", "--shelf", sample).json
    values = {field["name"]: field["value"] for field in listed["fields"]}
    assert values["yield"] == 560


def test_following_the_way_out_is_one_act_with_one_undo(say: Say, sample: Path) -> None:
    changes = ("yield=480 ml", "bottle-1.volume=190 ml")
    assert say("correct", "26-005", *changes, "--yes", "--shelf", sample).code == 0
    held = {b["code"]: b["left_ml"] for b in _bottles(say, sample)}
    assert held["26-005.1"] == 190 - 30
    assert say("undo", "--shelf", sample).code == 0
    assert {b["code"]: b["left_ml"] for b in _bottles(say, sample)}["26-005.1"] == 250 - 30


def _bottles(say: Say, shelf: Path) -> list[dict[str, object]]:
    found: list[dict[str, object]] = say("bottles", "--json", "--shelf", shelf).json
    return found


def test_a_correction_stays_readable_and_undo_restores_the_figures(say: Say, sample: Path) -> None:
    before = say("bottles", "--json", "--shelf", sample).out
    record = say("trace", "26-005", "--shelf", sample).out
    done = say("correct", "26-005", "yield=555 ml", "--why", "misread jug", "--shelf", sample)
    assert done.code == 0
    assert "560 → 555 mL" in done.out
    assert "555 mL" in say("trace", "26-005", "--shelf", sample).out

    entries = say("ledger", "--json", "--shelf", sample).json
    told = json.dumps(entries, ensure_ascii=False)
    assert "Yield 560 → 555 mL" in told
    assert "misread jug" in told

    assert say("undo", "--shelf", sample).code == 0
    assert say("bottles", "--json", "--shelf", sample).out == before
    assert say("trace", "26-005", "--shelf", sample).out == record
    after = say("ledger", "--json", "--shelf", sample).json
    assert "Yield 560 → 555 mL" in json.dumps(after, ensure_ascii=False)
    assert say("check", "--shelf", sample).code == 0


def test_a_dry_run_of_a_correction_changes_nothing(say: Say, sample: Path) -> None:
    before = say("bottles", "--json", "--shelf", sample).out
    planned = say(
        "correct", "25-001", "pour-2.strength=90 %", "--dry-run", "--json", "--shelf", sample
    )
    plan = planned.json
    assert planned.told["is_done"] is False
    assert len(plan["effects"]) == 3  # the tincture, a blend of it, and a blend of that blend
    assert plan["labels"]
    assert say("bottles", "--json", "--shelf", sample).out == before


def test_without_a_field_it_lists_the_fields_and_their_present_values(
    say: Say, sample: Path
) -> None:
    listed = say("correct", "26-005", "--shelf", sample).out
    assert "yield: 560 mL (Yield)" in listed
    assert "bottle-6.volume: 30 mL (Volume; 0 deletes it)" in listed


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("yeild=555 ml",), "There is no field yeild."),
        (("yield=lots",), "yield: "),
        (("yield=560 ml",), "Nothing would change."),
        (("yield",), "write yield=VALUE"),
        (("part=twig",), "Choose from leaf"),
        (("filled=2030-01-01",), "in the future"),
        (("filled=1 Aug",), "after the day it was to be strained, 13 Jul 2026"),
        (("filled=1 Aug", "strain=9 Aug"), "Correct that day too: strained="),
        (("strained=20 Jul",), "bottle-1.day="),
        (("pour-1.volume=9 l",), "would be bought"),
        (("pour-1.kind=water", "pour-1.strength=20 %"), "has no strength"),
        (("lost=30 ml",), "bottle-1.volume="),
        (("jar=25-001",), "was strained already"),
        (("bottle-6.volume=0",), "26-005.6:movement-1.volume=0"),
        (("bottle-1.size=100 ml",), "can't hold 250 mL"),
        (("26-005.4:movement-1.volume=60 ml",), "would hold −30 mL"),
    ],
)
def test_a_correction_that_makes_no_sense_is_refused_with_a_reason(
    say: Say, sample: Path, words: tuple[str, ...], said: str
) -> None:
    answer = say("correct", "26-005", *words, "--shelf", sample)
    assert answer.code == 2
    assert said in answer.err


def test_a_jar_is_moved_to_another_lot_and_undo_moves_it_back(say: Say, sample: Path) -> None:
    """80 g of sage in jar 26-011 were of the bag that was bought."""
    facts = ("came=bought", "day=1 Sep 2026", "weight=200 g", "origin=The fair")
    sage = ("herb=Sage", "part=leaf", "condition=dried", *facts)
    assert say("lots", "add", *sage, "--shelf", sample).code == 0

    def left() -> dict[str, float]:
        lots = say("lots", "--json", "--shelf", sample).json
        return {lot["code"]: lot["left_g"] for lot in lots if lot["herb"] == "Sage"}

    def recalled(code: str) -> bool:
        return "26-011" in say("recall", code, "--shelf", sample).out

    before = left()
    (new,) = before.keys() - {"H-26-006"}
    assert say("correct", "26-011", f"lot={new}", "--shelf", sample).code == 0
    assert left() == {"H-26-006": before["H-26-006"] + 80, new: 120}
    assert (recalled("H-26-006"), recalled(new)) == (False, True)
    assert "The fair" in say("trace", "26-011", "--shelf", sample).out
    assert say("check", "--shelf", sample).code == 0
    assert say("undo", "--shelf", sample).code == 0
    assert left() == before
    refused = say("correct", "26-014", "lot=H-26-002", "condition=fresh", "--shelf", sample)
    assert refused.code == 2
    assert "H-26-002 was used up on 9 Aug 2026, before the jar was filled" in refused.err
    assert "Correct one of these days too: filled=… or H-26-002:used-up=…" in refused.err


def test_an_unlikely_value_needs_yes(say: Say, sample: Path) -> None:
    answer = say("correct", "26-005", "yield=900 ml", "--shelf", sample)
    assert answer.code == 2
    assert "more than the" in answer.err
    assert "--yes" in answer.err
    assert say("correct", "26-005", "yield=900 ml", "--yes", "--shelf", sample).code == 0


def test_a_deadly_plant_is_named_as_deadly_before_it_is_saved(say: Say, sample: Path) -> None:
    answer = say("correct", "26-005", "herb=Foxglove", "--shelf", sample)
    assert answer.code == 2
    assert "Foxglove is poisonous" in answer.err


def test_a_spirit_that_must_never_be_drunk_is_refused(say: Say, sample: Path) -> None:
    answer = say("correct", "Vodka 2024-11-20", "name=Rubbing alcohol", "--yes", "--shelf", sample)
    assert answer.code == 2
    assert "must never be drunk" in answer.err
