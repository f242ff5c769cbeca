"""The ledger at the command line: what was done, what was undone or corrected, and the journal."""

import csv
import io
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from stillroom.clock import SetClock
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.ledger import LedgerFilter, ledger
from stillroom.paper.ledger_csv import ledger_csv
from stillroom.records.store import Store

from .answers import Say


@pytest.fixture
def drawn(say: Say, stocked: Path, clock: SetClock) -> Path:
    """A draw that was undone on the next day, and a shake of that day."""
    assert say("draw", "26-001.1", "30 ml", "--shelf", stocked).code == 0
    clock.advance(days=1)
    assert say("undo", "--shelf", stocked).code == 0
    assert say("shake", "26-002", "--shelf", stocked).code == 0
    return stocked


def test_lines_come_oldest_first_and_show_what_undid_them(say: Say, drawn: Path) -> None:
    lines = say("ledger", "--shelf", drawn, "--from", "26 Nov 2026", "26-001.1").out.splitlines()
    assert lines[0] == f"{len(lines) - 1} entries."
    assert lines[-2].startswith("26 Nov 2026 ")
    assert lines[-2].endswith("draw 26-001.1: −30 mL [undone 27 Nov 2026]")
    assert "undone 26-001.1: Drew 30 mL from 26-001.1" in lines[-1]


@pytest.mark.parametrize(
    ("words", "kinds"),
    [
        (["--from", "27 Nov 2026"], ["undone", "shaken"]),
        (["--kind", "draw"], ["draw"]),
        (["--from", "26 Nov 2026", "--to", "26 Nov 2026", "elecampane", "strained"], ["strained"]),
        (["zzz"], []),
    ],
)
def test_days_kind_and_words_select_lines(
    say: Say, drawn: Path, words: list[str], kinds: list[str]
) -> None:
    asked = say("ledger", "--shelf", drawn, "--json", *words).json
    assert [line["kind"] for line in asked["lines"]] == kinds


def test_json_has_the_same_lines_as_the_csv_file(say: Say, drawn: Path, clock: SetClock) -> None:
    """Two ways out of the same ledger: command and CSV agree field by field."""
    asked = say("ledger", "--shelf", drawn, "--json").json
    keeper = Keeper(Store.open(drawn), clock)
    sheet = ledger_csv(ledger(keeper, LedgerFilter(), limit=-1)).decode()
    keeper.store.close()
    names = {"at": "at_utc", "day": "day", "kind": "kind", "subject": "about", "mark": "mark"}
    written = [
        {ours: row[theirs] for ours, theirs in names.items()}
        for row in csv.DictReader(io.StringIO(sheet))
    ]
    assert [{name: line[name] for name in names} for line in reversed(asked["lines"])] == written


def test_json_has_the_rows_that_an_undo_removed_as_they_were(say: Say, drawn: Path) -> None:
    asked = say("ledger", "--shelf", drawn, "--json", "--kind", "draw").json
    (line,) = asked["lines"]
    acts = {act["id"]: act for act in asked["acts"]}
    assert set(acts) == {line["act"], line["later_act"]}
    done, undone = acts[line["act"]], acts[line["later_act"]]
    assert (done["kind"], done["title"]) == ("act", "Drew 30 mL from 26-001.1")
    assert (undone["kind"], undone["of"], undone["day"]) == ("undo", done["id"], "2026-11-27")
    (movement,) = (change for change in undone["changes"] if change["record"] == "movement")
    assert movement["after"] is None
    assert (movement["before"]["volume_ml"], movement["before"]["kind"]) == (-30, "draw")


def test_json_has_the_old_and_new_values_of_each_changed_row(
    say: Say, stocked: Path, clock: SetClock
) -> None:
    """Compared with the rows that SQLite itself gives before and after."""

    def jars() -> dict[int, dict[str, object]]:
        with closing(sqlite3.connect(stocked)) as db:
            db.row_factory = sqlite3.Row
            return {row["id"]: dict(row) for row in db.execute("SELECT * FROM jar")}

    keeper = Keeper(Store.open(stocked), clock)
    before = jars()
    with keeper.act("Changed the jars") as act:
        keeper.store.db.execute_sql("UPDATE jar SET note = 'new', shakes_per_day = 3")
        act.note("note", "Changed the jars")
    keeper.store.close()
    asked = say("ledger", "--shelf", stocked, "--json", "--kind", "note").json
    (act_of_it,) = asked["acts"]
    after = jars()
    assert {
        change["row"]: (change["before"], change["after"]) for change in act_of_it["changes"]
    } == {row_id: (before[row_id], after[row_id]) for row_id in after}


def test_an_unknown_kind_or_day_is_refused_in_one_sentence(say: Say, drawn: Path) -> None:
    answer = say("ledger", "--shelf", drawn, "--kind", "brewed")
    assert (answer.code, answer.out) == (2, "")
    assert "There is no entry of the kind brewed. Kinds so far: " in answer.err
    assert say("ledger", "--shelf", drawn, "--from", "someday").code == 2


def test_the_ledger_of_an_empty_shelf_is_empty(say: Say, shelf_file: Path) -> None:
    answer = say("ledger", "--shelf", shelf_file, "--new")
    assert answer == (0, "0 entries.\n", "")
    assert say("ledger", "--shelf", shelf_file, "--json").json == {"lines": [], "acts": []}
