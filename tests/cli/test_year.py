"""`year` and `people`: sums and names, on paper for people and as JSON for programs."""

from pathlib import Path

import pytest

from .answers import Say


@pytest.fixture
def drawn(say: Say, stocked: Path) -> Path:
    """The stocked shelf, from which some was drawn, given and spilled."""
    say("draw", "26-001.1", "30 ml", "--for", "Ada", "--shelf", stocked)
    say("draw", "26-001.1", "20 ml", "--for", "ada", "--kind", "give", "--shelf", stocked)
    say("draw", "26-001.2", "5 ml", "--kind", "spill", "--shelf", stocked)
    return stocked


def test_the_year_lists_what_was_made_used_and_lost(say: Say, drawn: Path) -> None:
    text = say("year", "--shelf", drawn).out
    assert text.startswith("From 1 Jan 2026 to 26 Nov 2026.\n")
    for line in (
        "Used: 50 mL (taken 30 mL, given 20 mL)",
        "Lost: 5 mL spilled",
        "Elecampane",
        "Nov 2026: ",
        "Spirits, liquids and herbs that went in: no price known",
        "Not counted, as no price is known: Vodka, the herb",
    ):
        assert line in text


@pytest.mark.parametrize("units", ["metric", "us", "imperial"])
def test_the_json_of_the_year_is_metric_whatever_the_units_of_the_shelf(
    say: Say, drawn: Path, units: str
) -> None:
    say("settings", f"units={units}", "--shelf", drawn)
    year = say("year", "--json", "--shelf", drawn).json
    assert (year["from"], year["to"]) == ("2026-01-01", "2026-11-26")
    assert year["total"]["used_ml"] == 50
    assert year["total"]["amounts"]["given"] == 20
    assert year["total"]["left_ml"] == pytest.approx(
        year["total"]["made_ml"] - 55 - year["total"]["amounts"].get("written off", 0)
    )
    assert year["herbs"]["Elecampane"]["lost_ml"] == 5
    assert year["months"]["2026-11"]["used_ml"] == 50
    assert year["cost"]["without"]


def test_any_two_days_can_be_the_period(say: Say, drawn: Path) -> None:
    before = say("year", "--from", "1 Jan 2025", "--to", "31 Dec 2025", "--json", "--shelf", drawn)
    assert before.json["total"]["amounts"] == {}
    assert before.json["herbs"] == {}
    wrong = say("year", "--from", "today", "--to", "yesterday", "--shelf", drawn)
    assert (wrong.code, wrong.err) == (2, "The last day is before the first.\n")


@pytest.mark.parametrize(
    ("words", "days"),
    [
        (("year", "--from", "1 Jan", "--to", "1 Feb"), "1 Jan 2026 to 1 Feb 2026"),
        (("year", "--to", "1 Feb"), "1 Jan 2026 to 1 Feb 2026"),
        (("year", "--from", "1 Jan", "--to", "31 Dec"), "1 Jan 2026 to 31 Dec 2026"),
        (("signsheet", "losses", "--from", "1 Jan", "--until", "1 Feb"), "1 Feb 2026"),
    ],
)
def test_a_period_without_years_is_the_most_recent_one(
    say: Say, drawn: Path, words: tuple[str, ...], days: str
) -> None:
    assert days in say(*words, "--shelf", drawn).out


def test_a_search_without_matches_is_not_reported_as_an_empty_shelf(
    say: Say, stocked: Path
) -> None:
    assert say("learning", "dill", "--shelf", stocked).out == "No straining is of dill.\n"
    assert say("people", "--shelf", stocked).out == "Nobody got anything yet.\n"
    assert say("people", "--of", "26-001", "--shelf", stocked).out == "Nobody got any of 26-001.\n"


def test_the_ledger_refuses_a_period_that_ends_before_it_begins(say: Say, drawn: Path) -> None:
    wrong = say("ledger", "--from", "2 Nov 2026", "--to", "1 Nov 2026", "--shelf", drawn)
    assert (wrong.code, wrong.err) == (2, "The last day is before the first.\n")


def test_people_are_listed_with_what_they_got(say: Say, drawn: Path) -> None:
    text = say("people", "--shelf", drawn).out
    assert text == (
        "1 name.\n\nada: 50 mL\n"
        "  26 Nov 2026: 30 mL Elecampane, 26-001.1, drawn\n"
        "  26 Nov 2026: 20 mL Elecampane, 26-001.1, given\n"
    )
    (person,) = say("people", "ADA", "--json", "--shelf", drawn).json
    assert (person["name"], person["volume_ml"]) == ("ada", 50)
    assert [each["batch"] for each in person["taken"]] == ["26-001", "26-001"]
    assert say("people", "bob", "--shelf", drawn).code == 2


def test_everyone_who_got_some_of_a_batch_is_listed(say: Say, drawn: Path) -> None:
    assert say("people", "--of", "26-001", "--shelf", drawn).out.startswith(
        "1 name got any of 26-001.\n"
    )
    say("forget", "Ada", "--yes", "--shelf", drawn)
    assert "Ada" not in say("people", "--shelf", drawn).out
