"""`plan`: what to make, in words and as JSON."""

from pathlib import Path

import pytest

from stillroom.clock import SetClock

from .answers import Say

DAYS = 52
"""It was strained ten days before it was first drawn from."""


@pytest.fixture
def used(say: Say, stocked: Path, clock: SetClock) -> Path:
    """The stocked shelf, from which some is drawn each week."""
    for _ in range(6):
        clock.advance(days=7)
        say("draw", "26-001.1", "30 ml", "--shelf", stocked)
    return stocked


def test_the_plan_in_words(say: Say, used: Path) -> None:
    text = say("plan", "--shelf", used).out
    for line in (
        "Elecampane, root, dried",
        f"a month by {DAYS} days in stock",
        "Lasts: until ",
        "Make: ",
    ):
        assert line in text


def test_the_plan_for_programs_and_what_if(say: Say, used: Path) -> None:
    plan = say("plan", "--json", "--shelf", used).json
    found = next(each for each in plan["herbs"] if each["herb"] == "Elecampane")
    assert found["use_per_month_ml"] == pytest.approx(180 / DAYS * 365.25 / 12, abs=1e-3)
    assert found["to_make_ml"]["low"] <= found["to_make_ml"]["expected"]
    more = say("plan", "--months", "24", "--json", "--shelf", used).json
    longer = next(each for each in more["herbs"] if each["herb"] == "Elecampane")
    assert longer["to_make_ml"]["expected"] > found["to_make_ml"]["expected"]
    without = say("plan", "--without", "elecampane", "--json", "--shelf", used).json
    assert "Elecampane" not in {each["herb"] for each in without["herbs"]}


def test_months_that_make_no_sense_are_refused(say: Say, used: Path) -> None:
    for months in ("0", "x", "1000"):
        answer = say("plan", "--months", months, "--shelf", used)
        assert (answer.code, answer.err.count("\n")) == (2, 1)


def test_an_empty_shelf_has_nothing_to_plan(say: Say, shelf_file: Path) -> None:
    say("settings", "units=metric", "--new", "--shelf", shelf_file)
    assert "nothing to plan yet" in say("plan", "--shelf", shelf_file).out
