"""`plan`: what to make, in words and as JSON."""

import csv
import re
from datetime import timedelta
from pathlib import Path
from shutil import copyfile
from typing import Any

import pytest
from icalendar import Calendar

from stillroom.clock import SetClock
from stillroom.reckoning.moon import Phase

from .answers import Say
from .weekly import WEEKS, drawn_weekly

DAYS = 52
"""It was strained ten days before it was first drawn from."""


@pytest.fixture(scope="module")
def used_once(stocked_once: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The file that `used` copies."""
    path = tmp_path_factory.mktemp("used") / "shelf.stillroom"
    with drawn_weekly(stocked_once, path, 30):
        pass
    return path


@pytest.fixture
def used(shelf_file: Path, clock: SetClock, used_once: Path) -> Path:
    """The stocked shelf, from which some was drawn each week."""
    clock.advance(days=7 * WEEKS)
    return copyfile(used_once, shelf_file)


def test_the_plan_is_printed_in_words(say: Say, used: Path) -> None:
    text = say("plan", "--shelf", used).out
    for line in (
        "Elecampane, root, dried",
        f"a month over {DAYS} days in stock",
        "Lasts: until ",
        "Make: ",
    ):
        assert line in text


def test_the_plan_has_json_and_takes_changes_of_use_on_trial(say: Say, used: Path) -> None:
    plan = say("plan", "--json", "--shelf", used).json
    found = next(each for each in plan["herbs"] if each["herb"] == "Elecampane")
    assert found["use_per_month_ml"] == pytest.approx(180 / DAYS * 365.25 / 12, abs=1e-3)
    assert found["to_make_ml"]["low"] <= found["to_make_ml"]["expected"]
    more = say("plan", "--months", "24", "--json", "--shelf", used).json
    longer = next(each for each in more["herbs"] if each["herb"] == "Elecampane")
    assert longer["to_make_ml"]["expected"] > found["to_make_ml"]["expected"]
    without = say("plan", "--without", "elecampane", "--json", "--shelf", used).json
    assert "Elecampane" not in {each["herb"] for each in without["herbs"]}


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("plan", "--without", "Nope"), "--without: No herb is called Nope."),
        (("plan", "--more", "J."), '--more: write NAME=PERCENT, such as "J.=50%".'),
        (("plan", "--more", "=50"), '--more: write NAME=PERCENT, such as "J.=50%".'),
    ],
)
def test_a_trial_change_for_nobody_or_nothing_is_refused(
    say: Say, used: Path, words: tuple[str, ...], said: str
) -> None:
    answer = say(*words, "--shelf", used)
    assert (answer.code, answer.err) == (2, f"{said}\n")


def entries_of(file: Path) -> dict[str, Any]:
    """The entries of a calendar file by their summaries."""
    calendar: Any = Calendar.from_ical(file.read_text())
    return {str(each["summary"]): each for each in calendar.walk("VEVENT")}


def test_what_must_start_soon_is_in_today_the_day_sheet_and_the_calendar(
    say: Say, used: Path, tmp_path: Path
) -> None:
    """A window that opens in a month, for what runs out before the next one."""
    say("season", "herb=elecampane", "part=root", "from=3 Feb", "to=20 Feb", "--shelf", used)
    plan = say("plan", "--json", "--shelf", used).json
    assert plan["start_this_month"] == [["Elecampane", "root"]]
    found = next(each for each in plan["herbs"] if each["herb"] == "Elecampane")
    assert "To start this month: 1 tincture" in say("today", "--shelf", used).out
    to_start = say("today", "--json", "--shelf", used).json["to_start"]
    assert [each["herb"] for each in to_start] == ["Elecampane"]
    sheet = say("daysheet", "--shelf", used).out
    assert "START THIS MONTH" in sheet
    assert "3 Feb" in sheet
    assert "Gather" in say("calendar", "--shelf", used).out
    file = tmp_path / "dates.ics"
    say("calendar", "--to", file, "--shelf", used)
    entries = entries_of(file)
    gather = entries["Gather Elecampane, root, dried"]
    assert f"{gather['dtstart'].dt}" == found["gather"]["from"]
    assert f"{gather['dtend'].dt - timedelta(days=1)}" == found["gather"]["to"]
    assert f"{entries['Fill Elecampane, root, dried']['dtstart'].dt}" >= found["fill_by"]
    say("lots", "add", "herb=Elecampane", "part=root", "condition=dried", "weight=9 kg",
        "--shelf", used)  # fmt: skip
    say("calendar", "--to", file, "--overwrite", "--shelf", used)
    later = entries_of(file)
    assert later[gather["summary"]]["uid"] == gather["uid"]
    assert later[gather["summary"]]["status"] == "CANCELLED"


def test_a_season_is_entered_listed_and_removed(say: Say, used: Path) -> None:
    learned = "Elecampane, root: gathered 27 Oct, from 1 gathering of your own"
    assert learned in say("season", "--shelf", used).out
    line = say("season", "herb=Elecampane", "part=root", "from=12-15", "to=20 Jan", "months=18",
               "--shelf", used).out  # fmt: skip
    assert line == ("Elecampane, root: gathered 15 Dec to 20 Jan, as you set, 18 months in hand\n")
    assert line in say("season", "--shelf", used).out
    every = say("season", "--json", "--shelf", used).json
    found = next(each for each in every if each["herb"] == "Elecampane")
    assert (found["from"], found["to"], found["is_typed"]) == ("12-15", "01-20", True)
    answer = say("season", "herb=Elecampane", "part=root", "to=", "--shelf", used)
    assert (answer.code, "both" in answer.err) == (2, True)
    say("season", "herb=Elecampane", "part=root", "from=", "to=", "months=", "--shelf", used)
    assert learned in say("season", "--shelf", used).out


def test_one_person_can_be_planned_to_use_more(say: Say, used: Path) -> None:
    say("draw", "26-001.1", "12 ml", "--for", "Ada", "--shelf", used)

    def use(*words: str) -> float:
        plan = say("plan", "--json", *words, "--shelf", used).json
        return float(
            next(e for e in plan["herbs"] if e["herb"] == "Elecampane")["use_per_month_ml"]
        )

    assert use("--more", "ada=100%") - use() == pytest.approx(12 / DAYS * 365.25 / 12, abs=1e-3)
    assert "What if: Ada 50 % more." in say("plan", "--more", "Ada=50", "--shelf", used).out
    for wrong in ("Bo=50", "Ada", "Ada=x", "Ada=-200", "Ada=-20 less", "=20", "Ada=1100"):
        assert say("plan", "--more", wrong, "--shelf", used).code == 2


def test_one_person_can_be_planned_to_use_less_and_another_person_more(
    say: Say, used: Path
) -> None:
    for name, ml in (("Ada", 12), ("Bo", 20)):
        say("draw", "26-001.1", f"{ml} ml", "--for", name, "--shelf", used)

    def less(*words: str) -> float:
        """mL over the days in stock that the plan counts with less of."""
        rates = [
            next(
                e["use_per_month_ml"]
                for e in say("plan", "--json", *more, "--shelf", used).json["herbs"]
                if e["herb"] == "Elecampane"
            )
            for more in ((), words)
        ]
        return float((rates[0] - rates[1]) / 365.25 * 12 * DAYS)

    for written in ("Ada=-25%", "Ada=-25", "Ada=25 % less", "ada=\u221225 %"):
        assert less("--more", written) == pytest.approx(3, abs=2e-3)
    assert less("--more", "Ada=-100%") == pytest.approx(12, abs=2e-3)
    both = ("--more", "Ada=-25%", "--more", "Bo=50% more")
    assert less(*both) == pytest.approx(3 - 10, abs=2e-3)
    otherwise = "What if: Ada 25 % less, Bo 50 % more."
    assert otherwise in say("plan", *both, "--shelf", used).out
    twice = say("plan", "--more", "Ada=1", "--more", "ADA=2", "--shelf", used)
    assert (twice.code, "Ada is named twice" in twice.err) == (2, True)


def test_a_number_of_months_that_makes_no_sense_is_refused(say: Say, used: Path) -> None:
    for months in ("0", "x", "1000"):
        answer = say("plan", "--months", months, "--shelf", used)
        assert (answer.code, answer.err.count("\n")) == (2, 1)


def test_the_plan_of_an_empty_shelf_is_empty(say: Say, shelf_file: Path) -> None:
    say("settings", "units=metric", "--new", "--shelf", shelf_file)
    assert "nothing to plan yet" in say("plan", "--shelf", shelf_file).out


def test_the_phase_of_the_moon_is_off_until_it_is_asked_for(
    say: Say, used: Path, tmp_path: Path
) -> None:
    assert "Moon" not in say("plan", "--shelf", used).out
    say("settings", "moon=yes", "--shelf", used)
    text = say("plan", "--shelf", used).out
    assert re.search("Moon: (new moon|waxing|first quarter|full moon|waning|last quarter) on", text)
    assert "folk practice" in text
    phases = {"", *Phase}
    plan = say("plan", "--json", "--shelf", used).json
    found = {each["herb"]: each["moon"] for each in plan["herbs"]}
    assert found["Elecampane"] in phases - {""}
    assert f"Moon: {found['Elecampane']} on" in text
    say("plan", "--out", tmp_path / "plan.csv", "--shelf", used)
    with (tmp_path / "plan.csv").open(encoding="utf-8", newline="") as file:
        assert {line["herb"]: line["moon"] for line in csv.DictReader(file)} == {
            herb: moon or "" for herb, moon in found.items()
        }
    say("settings", "moon=no", "--shelf", used)
    assert {e["moon"] for e in say("plan", "--json", "--shelf", used).json["herbs"]} == {None}
    say("plan", "--out", tmp_path / "off.csv", "--shelf", used)
    assert "moon" not in (tmp_path / "off.csv").read_text().partition("\n")[0]
