"""Three tinctures of the sample shelf, planned by hand from its exported files.

What each line of the files holds is written here and compared with them first, so that the sums
below can be followed with a pencil. On 26 November 2026, with twelve months in hand.
"""

import csv
from datetime import date, timedelta
from math import sqrt
from pathlib import Path
from shutil import copyfile
from typing import Any

import pytest

from .answers import Say

FILES = Path(__file__).parents[2] / "sample_shelf"
TODAY = date(2026, 11, 26)
MONTH = 365.25 / 12
ELDER = "Elderflower from the three old trees behind the chapel at the end of the lane, 2nd picking"


def lines(file: str, **wanted: str) -> list[dict[str, str]]:
    """The lines of an exported file that have these cells."""
    with (FILES / f"{file}.csv").open(encoding="utf-8", newline="") as text:
        return [x for x in csv.DictReader(text) if all(x[k] == v for k, v in wanted.items())]


def taken(batch: str) -> list[tuple[str, str, float]]:
    """Kind, day and mL of everything that left the bottles of a batch, by day."""
    bottles = {line["code"] for line in lines("bottles", tincture=batch)}
    return sorted(
        (
            (move["kind"], move["day"], -float(move["volume_ml"]))
            for move in lines("movements")
            if move["bottle"] in bottles and move["kind"] != "fill"
        ),
        key=lambda each: each[1],
    )


@pytest.fixture
def plan(say: Say, sample_shelf: Path, tmp_path: Path) -> dict[str, Any]:
    """The plan of the sample shelf by herb, with the spirit for all of it."""
    shelf = copyfile(sample_shelf, tmp_path / "sample.stillroom")
    found = say("plan", "--json", "--shelf", shelf).json
    herbs = {each["herb"]: each for each in found["herbs"]}
    start = [herb for herb, _ in found["start_this_month"]]
    return {**herbs, "spirits": found["spirits"], "start": start}


def test_myrrh_is_planned_as_worked_out_by_hand(plan: dict[str, Any]) -> None:
    """One jar, strained in March, of which 75 mL were used in 261 days: 55 mL last until June."""
    (made,) = lines("tinctures", code="26-001")
    assert (made["made_on"], made["volume_ml"]) == ("2026-03-10", "130")
    assert made["keep_until"] == "2031-03-10"
    assert taken("26-001") == [
        ("give", "2026-03-26", 20), ("draw", "2026-04-20", 10),
        ("give", "2026-08-06", 15), ("give", "2026-09-01", 30),
    ]  # fmt: skip
    days = (TODAY - date(2026, 3, 10)).days
    assert days == 21 + 30 + 31 + 30 + 31 + 31 + 30 + 31 + 26 == 261
    a_day = 75 / 261
    found = plan["Myrrh"]
    assert found["in_bottles_ml"] == 130 - 75
    assert found["use_per_month_ml"] == pytest.approx(75 / 261 * 365.25 / 12, abs=1e-4)
    # 55 mL are used up in 55 / (75 / 261) = 191.4 days.
    until = TODAY + timedelta(days=191)
    assert found["covered_until"] == until.isoformat() == "2027-06-05"
    # It steeped from 9 February to 9 March, 28 days.
    (jar,) = lines("jars", code="26-001")
    assert (jar["filled_on"], jar["strain_on"]) == ("2026-02-09", "2026-03-09")
    assert found["fill_by"] == (until - timedelta(days=28)).isoformat() == "2027-05-08"
    # Twelve months from today is 26 November 2027, 174 days after the stock is used up.
    to_last = date(2027, 11, 26) - until
    make = to_last.days * a_day
    assert (to_last.days, make) == (174, pytest.approx(50))
    # Single amounts at random days, a rate that rests on 261 days, and a quarter from year to year.
    squares = (20**2 + 10**2 + 15**2 + 30**2) / 261
    spread = sqrt(squares * (174 + 174**2 / 261) + (0.25 * make) ** 2)
    assert found["to_make_ml"] == pytest.approx(
        {"low": 0, "expected": make, "high": make + 2 * spread}, abs=1e-3
    )
    # Of 203.4 mL of liquid, the marc of 40 g kept 1.834 mL a gram. Published are 1.75 drained, and
    # the 10 % of water in dried herb at 0.9982 g/mL; a variance of 0.20² between strainings and of
    # 0.60² between herbs makes that count for 1/9 of a straining.
    (strained,) = lines("strainings", jar="26-001")
    assert (strained["pressing"], strained["yield_ml"]) == ("drained", "130")
    liquid = float(strained["liquid_ml"])
    kept = (1 / 9 * (1.75 + 0.10 / 0.9982) + (liquid - 130) / 40) / (1 / 9 + 1)
    a_gram = liquid / 40 - kept
    (charge,) = lines("herbs_in_jars", jar="26-001")
    (pour,) = lines("pours", jar="26-001")
    assert (charge["mass_g"], pour["volume_ml"], pour["strength_abv"]) == ("40", "200", "96")
    assert not lines("losses", tincture="26-001")
    grams = make / a_gram
    assert grams == pytest.approx(15.4, abs=0.05)
    assert found["herb_g"]["expected"] == pytest.approx(grams, abs=1e-2)
    assert found["to_get_g"]["expected"] == found["herb_g"]["expected"], "none in store"
    assert found["to_get_fresh_g"] is None, "resin isn't dried"
    assert found["poured_ml"] == pytest.approx(grams * 200 / 40, abs=0.05)
    assert (found["jars"], found["strength_abv"], found["gather"]) == (1, 96, None)


def test_liquorice_is_past_its_date_before_it_is_used_up(plan: dict[str, Any]) -> None:
    """450 mL would last for years, but this weak decoction keeps until 23 December."""
    (made,) = lines("tinctures", code="25-009")
    assert (made["made_on"], made["volume_ml"], made["keep_until"]) == (
        "2025-12-23", "610", "2026-12-23",
    )  # fmt: skip
    assert taken("25-009") == [
        ("draw", "2026-01-31", 30), ("draw", "2026-02-22", 30), ("spill", "2026-05-08", 10),
        ("give", "2026-06-22", 30), ("draw", "2026-10-11", 30), ("blend", "2026-10-17", 30),
    ]  # fmt: skip
    days = (TODAY - date(2025, 12, 23)).days
    a_day = (30 + 30 + 30 + 30 + 30) / days
    assert days == 338
    found = plan["Réglisse"]
    assert found["in_bottles_ml"] == 610 - 150 - 10
    assert found["use_per_month_ml"] == pytest.approx(a_day * MONTH, abs=1e-4)
    assert 450 / a_day > 1000
    assert found["covered_until"] == "2026-12-24", "the day after the last good one"
    # A fortnight before; 337 days from 24 December to 26 November 2027 are to be made.
    assert found["fill_by"] == "2026-12-10"
    make = (date(2027, 11, 26) - date(2026, 12, 24)).days * a_day
    assert make == pytest.approx(337 * 150 / 338)
    assert found["to_make_ml"]["expected"] == pytest.approx(make, abs=1e-3)
    # Squeezed: published 1.70 and the herb's own water, 0.20² / 0.40² = 1/4 of a straining.
    (strained,) = lines("strainings", jar="25-009")
    assert (strained["pressing"], strained["yield_ml"]) == ("squeezed", "610")
    liquid = float(strained["liquid_ml"])
    kept = (1 / 4 * (1.70 + 0.10 / 0.9982) + (liquid - 610) / 100) / (1 / 4 + 1)
    grams = make / (liquid / 100 - kept)
    assert grams == pytest.approx(24.5, abs=0.05)
    assert found["herb_g"]["expected"] == pytest.approx(grams, abs=1e-2)
    # Root is 70 % water fresh and 10 % dried: 0.9 / 0.3 = 3 g of it for each gram dried.
    assert found["to_get_fresh_g"]["expected"] == pytest.approx(3 * grams, abs=3e-2)
    # 450 mL of decoction and 180 mL of 96 % on 100 g.
    poured = [(p["kind"], p["volume_ml"], p["strength_abv"]) for p in lines("pours", jar="25-009")]
    assert poured == [("decoction", "450", "0"), ("spirit", "180", "96")]
    assert found["poured_ml"] == pytest.approx(grams * 6.3, abs=0.05)
    assert found["strength_abv"] == pytest.approx(180 * 96 / 630, abs=1e-4)
    assert plan["start"] == ["Réglisse"]
    # The spirit at 96 % for this and for myrrh, of which 15.392 g take 5 mL a gram.
    needed = next(each for each in plan["spirits"] if each["strength_abv"] == 96)
    assert needed["needed_ml"] == pytest.approx(grams * 1.8 + 15.392 * 5, abs=0.05)


def test_elderflower_has_run_out_and_waits_for_june(plan: dict[str, Any]) -> None:
    """200 mL are past their date, and the flowers were gathered in mid-June twice."""
    (made,) = lines("tinctures", code="25-004")
    assert (made["volume_ml"], made["keep_until"]) == ("570", "2026-07-04")
    of_last_year = [each for each in taken("25-004") if each[1] > "2025-11-26"]
    assert of_last_year == [
        ("draw", "2026-02-14", 10), ("draw", "2026-03-08", 30), ("draw", "2026-04-11", 50),
        ("give", "2026-04-21", 15), ("give", "2026-07-08", 15), ("draw", "2026-07-10", 15),
        ("blend", "2026-11-08", 40),
    ]  # fmt: skip
    # The median is 15 mL: three times that is 45, and 15 + 3.5 · 1.4826 · 5 is 40.9. So 50 counts
    # as 45, and 170 mL were used in a year, in which there always was some.
    a_day = (10 + 30 + 45 + 15 + 15 + 15 + 40) / 365
    found = plan[ELDER]
    assert found["use_per_month_ml"] == pytest.approx(a_day * MONTH, abs=1e-4)
    assert (found["in_bottles_ml"], found["jars_by_eye"]) == (0, 1)
    assert found["past_date_ml"] == 570 - sum(ml for _, _, ml in taken("25-004"))
    assert found["covered_until"] == TODAY.isoformat()
    gathered = [line["gathered_on"] for line in lines("herbs_in_jars", herb=ELDER)]
    assert gathered == ["2025-06-19", "2026-06-14"]
    assert found["gather"] == {
        "from": "2027-06-14", "usually": "2027-06-14", "to": "2027-06-19", "own_gatherings": 2,
    }  # fmt: skip
    # Ready a fortnight after 14 June 2027, to last until a fortnight after 14 June 2028 and a
    # third of twelve months more, 121 days.
    ready, until = date(2027, 6, 28), date(2028, 6, 28) + timedelta(days=121)
    assert until == date(2028, 10, 27)
    assert (until - ready).days == 366 + 121
    assert found["to_make_ml"]["expected"] == pytest.approx(487 * a_day, abs=1e-3)
    assert (found["herb_g"], found["to_get_g"], found["jars"]) == (None, None, 0), "never weighed"
    assert ELDER not in plan["start"]
    assert {month: marks for month, marks in found["months"].items() if marks} == {
        "Nov": "X", "Jun": "GF",
    }  # fmt: skip
