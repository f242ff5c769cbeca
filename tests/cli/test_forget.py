"""`forget` lists where a name is, and removes it where you choose."""

from pathlib import Path

import pytest

from .answers import Say


@pytest.fixture
def given(say: Say, stocked: Path) -> Path:
    say("draw", "26-001.1", "30 ml", "--kind", "give", "--for", "Quillon", "--shelf", stocked)
    say("draw", "26-001.1", "5 ml", "--note", "quillon's tea", "--shelf", stocked)
    say("draw", "26-001.1", "5 ml", "--note", "more for Quillon", "--shelf", stocked)
    return stocked


def test_without_an_answer_it_lists_and_changes_nothing(say: Say, given: Path) -> None:
    before = given.read_bytes()
    answer = say("forget", "Quillon", "--shelf", given)
    assert answer.code == 2
    assert "For Quillon: 1 place." in answer.out
    assert "in and out of a bottle: note: quillon's tea" in answer.out
    assert "Does a law oblige you" in answer.out
    assert "--only" in answer.err
    assert given.read_bytes() == before
    assert say("forget", "Quillon", "--dry-run", "--yes", "--shelf", given).code == 0
    assert given.read_bytes() == before


def test_yes_removes_the_name_everywhere(say: Say, given: Path) -> None:
    answer = say("forget", "Quillon", "--yes", "--shelf", given)
    assert answer.code == 0
    assert b"uillon" not in given.read_bytes()
    # The backup of the day was made before the first draw.
    assert say("forget", "Quillon", "--yes", "--shelf", given).code == 2
    assert say("check", "--shelf", given).code == 0


def test_only_removes_the_name_from_what_was_chosen(say: Say, given: Path) -> None:
    listed = say("forget", "Quillon", "--dry-run", "--json", "--shelf", given).json
    tea = [m["number"] for m in listed["matches"] if "tea" in m["text"]]
    assert len(tea) == 2  # the note and its line in the ledger
    done = say("forget", "Quillon", "--only", ",".join(map(str, tea)), "--json", "--shelf", given)
    assert done.json["removed_from"] == 3
    left = say("forget", "Quillon", "--dry-run", "--json", "--shelf", given).json
    assert left["places_of_the_name_alone"] == 0
    assert [m["text"] for m in left["matches"] if m["where"].endswith("note")] == [
        "more for Quillon"
    ]


def test_only_none_removes_the_names_of_people(say: Say, given: Path) -> None:
    assert say("forget", "Quillon", "--only", "none", "--shelf", given).code == 0
    left = say("forget", "Quillon", "--dry-run", "--json", "--shelf", given).json
    assert left["places_of_the_name_alone"] == 0
    assert left["matches"]


@pytest.mark.parametrize("only", ["99", "x", "1,,2"])
def test_a_number_that_is_not_listed_is_refused(say: Say, given: Path, only: str) -> None:
    before = given.read_bytes()
    answer = say("forget", "Quillon", "--only", only, "--shelf", given)
    assert (answer.code, answer.out) == (2, "")
    assert given.read_bytes() == before


def test_no_daily_backup_is_made_while_the_name_is_still_in_the_file(say: Say, given: Path) -> None:
    for path in given.parent.glob("backups/*"):
        path.unlink()
    say("forget", "Quillon", "--yes", "--shelf", given)
    assert list(given.parent.glob("backups/*")) == []
