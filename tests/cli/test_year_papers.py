"""The parts of the year on paper and as tables, and the sheets to sign: their figures agree."""

import csv
from pathlib import Path
from shutil import copyfile
from typing import Any

import pytest
from pypdf import PdfReader

from stillroom.clock import SetClock
from stillroom.keeping.bottles.stock import take_out
from stillroom.reckoning.states import MovementKind

from .answers import Say
from .weekly import WEEKS, drawn_weekly


@pytest.fixture(scope="module")
def used_once(stocked_once: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The file that `used` copies."""
    path = tmp_path_factory.mktemp("used") / "shelf.stillroom"
    with drawn_weekly(stocked_once, path, 20, person="Ada") as (keeper, bottle_id):
        take_out(keeper, bottle_id, 5, kind=MovementKind.SPILL)
    return path


@pytest.fixture
def used(shelf_file: Path, clock: SetClock, used_once: Path) -> Path:
    """The stocked shelf, from which somebody got some each week, and something was spilled."""
    clock.advance(days=7 * WEEKS)
    return copyfile(used_once, shelf_file)


def text_of(path: Path) -> str:
    return " ".join(" ".join(page.extract_text() for page in PdfReader(path).pages).split())


def table_of(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_the_plan_as_a_table_has_the_figures_of_its_json(
    say: Say, used: Path, tmp_path: Path
) -> None:
    plan: Any = say("plan", "--json", "--shelf", used).json
    say("plan", "--out", tmp_path / "plan.csv", "--shelf", used)
    lines = table_of(tmp_path / "plan.csv")
    assert [line["herb"] for line in lines] == [each["herb"] for each in plan["herbs"]]
    for line, each in zip(lines, plan["herbs"], strict=True):
        for name in ("in_bottles_ml", "use_per_month_ml"):
            assert float(line[name] or 0) == pytest.approx(each[name] or 0, abs=1e-3)
        made = each["to_make_ml"]
        assert float(line["make_ml"] or 0) == pytest.approx(made["expected"] if made else 0, abs=1)
    say("plan", "--out", tmp_path / "plan.pdf", "--shelf", used)
    text = text_of(tmp_path / "plan.pdf")
    for words in ("Plan as of", "Elecampane, root, dried", "G gather, F fill, X runs out"):
        assert words in text


def test_the_year_as_a_table_adds_up_and_is_on_paper_with_its_months(
    say: Say, used: Path, tmp_path: Path
) -> None:
    year: Any = say("year", "--from", "1 Nov 2026", "--json", "--shelf", used).json
    say("year", "--from", "1 Nov 2026", "--out", tmp_path / "year.csv", "--shelf", used)
    lines = table_of(tmp_path / "year.csv")
    total = next(line for line in lines if line["of"] == "all")
    assert float(total["used_ml"]) == pytest.approx(year["total"]["used_ml"])
    assert float(total["spilled"]) == pytest.approx(5)
    for of in ("herb", "month", "batch"):
        found = sum(float(line["used_ml"]) for line in lines if line["of"] == of)
        assert found == pytest.approx(year["total"]["used_ml"])
    costs = year["cost"]["by_kind"]
    kinds = {line["name"]: line for line in lines if line["of"] == "kind"}
    assert kinds.keys() == costs.keys() >= {"taken", "spilled"}
    assert float(kinds["spilled"]["spilled"]) == pytest.approx(5)
    for name, line in kinds.items():
        assert (line["cost"] or None, costs[name]["cost"]) == (None, None), "Vodka has no price"
        assert line["without_price"] == ", ".join(costs[name]["without"])
        assert "Vodka" in line["without_price"]
    say("year", "--from", "1 Nov 2026", "--out", tmp_path / "year.pdf", "--shelf", used)
    text = text_of(tmp_path / "year.pdf")
    for words in ("Made and used in each month (mL)", "made used", "By batch", "Nov 26"):
        assert words in text


def test_what_strainings_teach_is_a_list_a_table_and_a_chart(
    say: Say, used: Path, tmp_path: Path
) -> None:
    found: Any = say("learning", "--json", "--shelf", used).json
    say("learning", "--out", tmp_path / "learning.csv", "--shelf", used)
    lines = table_of(tmp_path / "learning.csv")
    assert len(lines) == sum(len(each["strainings"]) for each in found)
    assert "expected next" in say("learning", "elecampane", "--shelf", used).out
    say("learning", "--out", tmp_path / "learning.pdf", "--shelf", used)
    text = text_of(tmp_path / "learning.pdf")
    for words in ("Yield, % of the liquid", "Held back by a gram, dried (mL/g)", "published",
                  "In stock (mL)"):  # fmt: skip
        assert words in text


def test_people_have_a_table_too(say: Say, used: Path, tmp_path: Path) -> None:
    say("people", "--out", tmp_path / "people.csv", "--shelf", used)
    lines = table_of(tmp_path / "people.csv")
    assert {line["name"] for line in lines} == {"Ada"}
    assert sum(float(line["volume_ml"]) for line in lines) == pytest.approx(120)
    say("people", "--out", tmp_path / "people.pdf", "--shelf", used)
    assert "Ada: 120 mL" in text_of(tmp_path / "people.pdf")


def test_only_file_names_of_a_known_kind_are_written_and_no_file_is_replaced(
    say: Say, used: Path, tmp_path: Path
) -> None:
    file = tmp_path / "plan.csv"
    for command in ("plan", "year", "learning", "people"):
        assert say(command, "--out", tmp_path / "a.doc", "--shelf", used).code == 2
        assert say(command, "--json", "--out", file, "--shelf", used).code == 2
    file.write_text("mine")
    assert say("plan", "--out", file, "--shelf", used).code == 2
    assert file.read_text() == "mine"


@pytest.mark.parametrize(
    ("sheet", "words"),
    [
        ("stock-take", ("26-001.1", "Recorded", "Counted")),
        ("losses", ("26-001.1", "spill", "5 mL")),
        ("past", ("No bottle is past its date.",)),
        ("spirit", ("Pure ethanol", "Before", "Bought", "Used", "Lost", "Left")),
    ],
)
def test_each_sheet_has_its_lines_and_a_place_to_sign(
    say: Say, used: Path, tmp_path: Path, sheet: str, words: tuple[str, ...]
) -> None:
    text = say("signsheet", sheet, "--shelf", used).out
    say("signsheet", sheet, "--to", tmp_path / "sheet.pdf", "--shelf", used)
    printed = text_of(tmp_path / "sheet.pdf")
    for word in (*words, "Signature", "Witness"):
        assert word.casefold() in text.casefold()
        assert word in printed


def test_a_period_that_ends_before_it_begins_is_refused(say: Say, used: Path) -> None:
    for sheet in ("losses", "spirit"):
        answer = say("signsheet", sheet, "--from", "1 Nov 2026", "--until", "1 Oct 2026",
                     "--shelf", used)  # fmt: skip
        assert (answer.code, "before the first" in answer.err) == (2, True)
