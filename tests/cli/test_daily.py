"""The daily commands: `today` lists what to do, and the others do it."""

import gzip
import re
import shutil
import sqlite3
import subprocess
import sys
from contextlib import closing
from datetime import timedelta
from itertools import pairwise
from pathlib import Path

import pytest

from stillroom.clock import SetClock
from stillroom.keeping.drafts import ChargeDraft
from stillroom.keeping.keeper import Keeper
from stillroom.reckoning.charge import Condition, Part
from stillroom.records.store import Store

from ..builders import filled, spirit
from .answers import Say


def test_today_lists_what_to_do(say: Say, stocked: Path) -> None:
    answer = say("today", "--shelf", stocked)
    assert answer.code == 0
    assert answer.out == (
        "Today is 26 Nov 2026.\n"
        "\n"
        "To shake: 2 jars, 2 shakes\n"
        "  26-002 Calendula, flower, dried, on North larder\n"
        "  26-003 Thyme, aerial parts, dried, on North larder\n"
        "\n"
        "Late: 1 jar\n"
        "  26-003 Thyme, aerial parts, dried, on North larder: 2 days late\n"
        "\n"
        "To bottle: 1 tincture\n"
        "  26-001 Elecampane: 80 mL\n"
    )


def test_a_busy_day_is_at_most_120_lines_with_the_most_urgent_by_name(
    say: Say, stocked: Path, clock: SetClock
) -> None:
    keeper = Keeper(Store.open(stocked), clock)
    for number in range(100):
        charge = ChargeDraft(f"Herb {number:02d}", Part.LEAF, Condition.DRIED, 50)
        filled(keeper, [charge], spirit(300), on=keeper.today - timedelta(days=number))
    keeper.store.close()
    lines = say("today", "--shelf", stocked).out.splitlines()
    assert len(lines) <= 120
    assert "To shake: 102 jars, 102 shakes" in lines
    late = lines[lines.index("Late: 86 jars") + 1 :]
    assert "Herb 99" in late[0]  # the one that is latest
    assert "more: --json lists all" in late[late.index("") - 1]
    assert len(lines) > 100  # as many as there is room for
    every = say("today", "--json", "--shelf", stocked).json
    assert (len(every["to_shake"]), len(every["over"])) == (102, 86)


def test_today_has_json(say: Say, stocked: Path) -> None:
    told = say("today", "--json", "--shelf", stocked).json
    assert told["day"] == "2026-11-26"
    assert [jar["code"] for jar in told["to_shake"]] == ["26-002", "26-003"]
    (over,) = told["over"]
    assert over["days_left"] == -2
    assert over["strain_on"] == "2026-11-24"
    assert over["shelf"] == "North larder"
    assert told["due"] == []
    assert told["to_bottle"] == [
        {"code": "26-001", "name": "Elecampane", "made_on": "2026-11-16", "to_bottle_ml": 80.0}
    ]


def test_today_on_an_empty_shelf_has_nothing_to_do(say: Say, shelf_file: Path) -> None:
    answer = say("today", "--shelf", shelf_file, "--new")
    assert answer == (0, "Today is 26 Nov 2026.\nNothing to do today.\n", "")


def test_today_lists_bottles_past_their_date(say: Say, stocked: Path, clock: SetClock) -> None:
    clock.advance(days=365 * 6)
    answer = say("today", "--shelf", stocked)
    assert (
        "Past or near the keep-until date: 2 bottles\n  26-001.1 Elecampane: 250 mL" in answer.out
    )
    assert ", past its date\n" in answer.out
    assert [b["code"] for b in say("today", "--json", "--shelf", stocked).json["passing"]] == [
        "26-001.1",
        "26-001.2",
    ]


def test_jars_are_shaken_by_code(say: Say, stocked: Path) -> None:
    answer = say("shake", "26-002", "--shelf", stocked)
    assert answer == (0, "Shook 26-002 Calendula, 1 of 1.\n", "")
    again = say("shake", "26-002", "--shelf", stocked)
    assert again.code == 2
    assert again.err == "Calendula 26-002 has had today's shakes.\n"


def test_with_one_wrong_code_no_jar_is_shaken(say: Say, stocked: Path) -> None:
    answer = say("shake", "26-002", "26-099", "--shelf", stocked)
    assert answer.code == 2
    assert "26-099" in answer.err
    assert len(say("today", "--json", "--shelf", stocked).json["to_shake"]) == 2


def test_all_jars_are_shaken_with_one_option(say: Say, stocked: Path) -> None:
    assert say("shake", "--all", "--shelf", stocked).out == "Shook 2 jars.\n"
    assert say("today", "--json", "--shelf", stocked).json["to_shake"] == []
    assert say("shake", "--all", "--shelf", stocked).code == 2


def test_shake_needs_codes_or_all_but_not_both(say: Say, stocked: Path) -> None:
    assert say("shake", "--shelf", stocked).code == 2
    assert say("shake", "--all", "26-002", "--shelf", stocked).code == 2


def test_jars_are_listed_shelf_by_shelf(say: Say, stocked: Path) -> None:
    answer = say("jars", "--shelf", stocked)
    assert answer.out == (
        "3 jars.\n"
        "\n"
        "North larder\n"
        "  26-001 Elecampane, root, dried: strained, 80 mL to bottle\n"
        "  26-002 Calendula, flower, dried: 9 days, strain 5 Dec 2026, shaken 0 of 1 today\n"
        "  26-003 Thyme, aerial parts, dried: 2 days late, strain 24 Nov 2026, "
        "shaken 0 of 1 today\n"
    )
    codes = [jar["code"] for jar in say("jars", "--json", "--shelf", stocked).json]
    assert codes == ["26-001", "26-002", "26-003"]


def test_bottles_are_listed_and_found_by_words(say: Say, stocked: Path) -> None:
    answer = say("bottles", "--shelf", stocked)
    assert answer.out.startswith("2 bottles, 350 mL in all.\n26-001.1 Elecampane: 250 mL of 250 mL")
    (found,) = say("bottles", "ELECAMP", "box", "--json", "--shelf", stocked).json
    assert (found["code"], found["left_ml"], found["place"]) == ("26-001.2", 100.0, "Box")
    assert say("bottles", "sage", "--shelf", stocked).out == "0 bottles, 0 mL in all.\n"


def test_a_draw_is_undone_and_redone(say: Say, stocked: Path) -> None:
    answer = say("draw", "26-001.1", "30", "ml", "--reason", "for Ada", "--shelf", stocked)
    assert answer == (0, "26-001.1 Elecampane now holds 220 mL.\n", "")
    assert say("undo", "--shelf", stocked).out == "Undone: Drew 30 mL from 26-001.1.\n"
    assert say("bottles", "Door", "--json", "--shelf", stocked).json[0]["left_ml"] == 250
    assert say("redo", "--shelf", stocked).out == "Redone: Drew 30 mL from 26-001.1.\n"
    assert say("bottles", "Door", "--json", "--shelf", stocked).json[0]["left_ml"] == 220
    assert say("redo", "--shelf", stocked).code == 2


@pytest.mark.parametrize(
    ("options", "person", "note"),
    [
        (("--for", "Ada"), "Ada", ""),
        (("--for", "Ada", "--note", "a cold", "--kind", "give"), "Ada", "a cold"),
        (("--note", "Ada", "--kind", "give"), "", "Ada"),
        (("--reason", "Ada", "--kind", "give"), "Ada", ""),
        (("--reason", "two\nlines", "--kind", "give"), "", "two\nlines"),
        (("--reason", "a cold", "--for", "Ada", "--kind", "give"), "Ada", "a cold"),
        (("--reason", "a cold"), "", "a cold"),
        (("--reason", "a cold", "--note", "drops"), "", "drops a cold"),
    ],
)
def test_the_name_of_who_gets_it_is_kept_apart_from_the_note(
    say: Say, stocked: Path, options: tuple[str, ...], person: str, note: str
) -> None:
    say("draw", "26-001.1", "30 ml", *options, "--shelf", stocked)
    with closing(sqlite3.connect(stocked)) as db:
        last = "SELECT person, note FROM movement ORDER BY id DESC LIMIT 1"
        assert db.execute(last).fetchone() == (person, note)


def test_today_asks_about_a_clock_that_went_back(say: Say, stocked: Path, clock: SetClock) -> None:
    assert "Is the date right?" not in say("today", "--shelf", stocked).out
    clock.advance(days=-400)
    assert "Is the date right?" in say("today", "--shelf", stocked).out


ACTS = {
    ("shake", "26-002"): "Shook",
    ("shake", "--all"): "Shook",
    ("draw", "26-001.1", "30 ml"): "holds",
    ("undo",): "Undone",
    ("redo",): "Redone",
    ("import", "--jars", "list.csv"): "imported",
    ("import", "out"): "imported",
}


@pytest.mark.parametrize("words", ACTS, ids=" ".join)
@pytest.mark.parametrize("days", [-2, 402])
def test_an_act_far_from_the_last_entry_is_confirmed_before_anything_is_written(
    say: Say,
    stocked: Path,
    clock: SetClock,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    words: tuple[str, ...],
    days: int,
) -> None:
    monkeypatch.chdir(tmp_path)
    if words == ("redo",):
        assert say("undo", "--shelf", stocked).code == 0
    if words[0] == "import":
        (tmp_path / "list.csv").write_text("herb,date,part,state\nYarrow,2026-11-01,leaf,dried\n")
        say("export", "out", "--shelf", stocked)
    shutil.rmtree(tmp_path / "backups", ignore_errors=True)
    clock.advance(days=days)
    before = {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()}
    asked = say(*words, "--shelf", stocked)
    assert (asked.code, asked.out) == (2, "")
    assert "This computer's date is" in asked.err
    assert asked.err.endswith("Is the date right? Add --yes to go ahead.\n")
    assert {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()} == before
    done = say(*words, "--yes", "--shelf", stocked)
    if days > 0 or words[0] not in ("shake", "draw", "import"):
        assert (done.code, done.err) == (0, "")
        assert ACTS[words] in done.out


def test_a_draw_can_be_of_an_earlier_day(say: Say, stocked: Path, clock: SetClock) -> None:
    clock.advance(days=3)
    assert say("draw", "26-001.1", "30 ml", "--on", "yesterday", "--shelf", stocked).code == 0
    before = say("draw", "26-001.1", "30 ml", "--on", "1 Jan 2020", "--shelf", stocked)
    assert before.code == 2
    assert "was filled on" in before.err


def test_a_draw_that_cannot_be_is_refused_in_one_sentence(say: Say, stocked: Path) -> None:
    for words, said in (
        (("26-001.1", "300ml"), "Not enough left: 26-001.1 holds 250 mL, not 300 mL.\n"),
        (("26-001", "30ml"), "26-001 is a tincture. Give the code of one of its bottles.\n"),
        (("26-001.9", "30ml"), "26-001.9"),
        (("26-001.1", "30 drops"), "A drop has no fixed size"),
        (("26-001.1", "10", "oz"), "oz is a weight"),
    ):
        answer = say("draw", *words, "--shelf", stocked)
        assert answer.code == 2
        assert said in answer.err
        assert answer.err.count("\n") == 1
    assert say("bottles", "Door", "--json", "--shelf", stocked).json[0]["left_ml"] == 250


def test_all_of_a_bottle_is_drawn_and_a_herb_name_draws_the_bottle_that_expires_first(
    say: Say, stocked: Path
) -> None:
    assert say("draw", "26-001.1", "all", "--shelf", stocked).out == (
        "26-001.1 Elecampane now holds 0 mL.\n"
    )
    drawn = say("draw", "elecampane", "10 ml", "--shelf", stocked)
    assert drawn == (0, "26-001.2 Elecampane now holds 90 mL.\n", "")
    assert say("draw", "elecampane", "all", "of", "it", "--shelf", stocked).code == 0
    none = say("draw", "elecampane", "10 ml", "--shelf", stocked)
    assert (none.code, none.err.count("\n")) == (2, 1)
    assert "No jar, batch or bottle has the code elecampane." in none.err


def test_drawing_past_the_keep_until_date_needs_yes(
    say: Say, stocked: Path, clock: SetClock
) -> None:
    clock.advance(days=365 * 6)
    asked = say("draw", "26-001.1", "30ml", "--shelf", stocked)
    assert asked.code == 2
    assert "--yes" in asked.err
    assert say("draw", "26-001.1", "30ml", "--yes", "--shelf", stocked).code == 0


def test_a_trace_leads_to_gathering_and_spirit(say: Say, stocked: Path) -> None:
    answer = say("trace", "26-001.1", "--shelf", stocked)
    lines = answer.out.splitlines()
    assert lines[0].startswith("Bottle 26-001.1: ")
    assert lines[1].startswith("  Tincture 26-001 Elecampane: 430 mL strained 16 Nov 2026")
    assert lines[2].startswith("    Jar 26-001: filled 27 Oct 2026")
    assert lines[3].startswith("      Herb Elecampane: 120 g root, dried, gathered 27 Oct 2026")
    assert lines[4].startswith("      Spirit Vodka: 600 mL of 40 % v/v poured 27 Oct 2026")
    tree = say("trace", "26-001.1", "--json", "--shelf", stocked).json
    jar = tree["came_from"][0]["came_from"][0]
    assert [node["kind"] for node in jar["came_from"]] == ["herb", "spirit"]


def test_a_recall_lists_where_a_spirit_and_a_herb_went(say: Say, stocked: Path) -> None:
    answer = say("recall", "vodka", "--shelf", stocked)
    assert answer.code == 0
    for code in ("26-001.1", "26-001.2", "Jar 26-002", "Jar 26-003"):
        assert code in answer.out
    (tree,) = say("recall", "Thyme", "--json", "--shelf", stocked).json
    assert [node["label"] for node in tree["went_into"]] == ["Jar 26-003"]
    refused = say("recall", "gin", "--shelf", stocked)
    assert refused.code == 2
    assert "Nothing found for gin." in refused.err


def test_a_reader_that_stops_early_causes_no_error(sample_file: Path) -> None:
    stillroom = f"{sys.executable} -m stillroom --shelf {sample_file}"
    command = f"{stillroom} export --json - | head -n 1"
    done = subprocess.run(command, shell=True, capture_output=True, text=True, check=True)
    assert (done.stdout, done.stderr) == ("{\n", "")


@pytest.mark.parametrize("command", ["today", "bottles --json", "export --json -", "stocklist"])
def test_a_full_output_is_reported_in_one_sentence(sample_file: Path, command: str) -> None:
    line = f"{sys.executable} -m stillroom --shelf {sample_file} {command} > /dev/full"
    done = subprocess.run(line, shell=True, capture_output=True, text=True)
    assert done.returncode == 2
    assert done.stderr == "The report couldn't be written: No space left on device.\n"


def test_names_that_the_terminal_cannot_show_are_still_printed(
    program: Say, sample_file: Path
) -> None:
    answer = program("--shelf", sample_file, "jars", PYTHONIOENCODING="ascii")
    assert answer.code == 0
    told = program("--shelf", sample_file, "jars", "--json", PYTHONIOENCODING="ascii")
    assert any(not jar["herb"].isascii() for jar in told.json)


def test_a_dry_run_of_undo_and_redo_shows_what_they_would_do(say: Say, stocked: Path) -> None:
    assert say("draw", "26-001.1", "30 ml", "--shelf", stocked).code == 0
    told = say("undo", "--dry-run", "--shelf", stocked).out
    assert told == "Would undo: Drew 30 mL from 26-001.1.\n"
    assert say("redo", "--dry-run", "--shelf", stocked).out == "Nothing to redo.\n"
    assert say("undo", "--shelf", stocked).out == "Undone: Drew 30 mL from 26-001.1.\n"
    told = say("redo", "--dry-run", "--shelf", stocked).out
    assert told == "Would redo: Drew 30 mL from 26-001.1.\n"


def test_bottles_as_json_give_the_herb_in_each_millilitre(say: Say, stocked: Path) -> None:
    """600 mL of 40 % weigh 568.8 g; with 12 g of water out of 120 g of dried root they are 580.8 g
    of 32.6 % by weight, 0.949 g/mL: 612 mL."""
    found = say("bottles", "--json", "--shelf", stocked).json
    assert [each["ratio"] for each in found] == [5.0, 5.0]
    for each in found:
        assert each["herb_g_per_ml"] == pytest.approx(120 / 612, rel=1e-3)
        assert each["herbs_g_per_ml"] == {"Elecampane": each["herb_g_per_ml"]}
    for line in say("bottles", "--shelf", stocked).out.splitlines()[1:]:
        assert ", 1:5 poured, " in line


def test_a_herb_by_eye_has_no_grams_in_json(say: Say, sample: Keeper) -> None:
    found = say("--shelf", sample.path, "bottles", "--json", "--empties").json
    by_eye = [each for each in found if None in each["herbs_g_per_ml"].values()]
    assert by_eye
    assert all(each["herb_g_per_ml"] is None for each in by_eye)
    for each in found:
        if each not in by_eye:
            herbs = each["herbs_g_per_ml"].values()
            assert each["herb_g_per_ml"] == pytest.approx(sum(herbs))


def test_every_printed_ratio_is_of_the_liquid_poured(say: Say, sample: Keeper) -> None:
    """Every command that prints, of every code of the sample shelf."""
    shelf = sample.path
    codes = [each["code"] for each in say("--shelf", shelf, "bottles", "--json").json]
    batches = sorted({code.partition(".")[0] for code in codes})
    commands = [
        ("today",), ("jars",), ("bottles", "--empties"), ("daysheet",), ("shelflist",),
        ("calendar",), ("recall", "Thyme"),
        ("labels", "--text", *codes[:12]), ("labels", "--text", "26-009.1"),
        *(("record", batch) for batch in (*batches[:3], "26-009")),
        *(("trace", code) for code in (codes[0], "26-009.1")),
    ]  # fmt: skip
    printed = 0
    for command in commands:
        text = say("--shelf", shelf, *command).out
        for found in re.finditer(r"\b1:\d[\d.,]*", text):
            printed += 1
            assert "poured" in text[found.end() : found.end() + 60], (command, found[0])
    assert printed > 20
    stock = say("--shelf", shelf, "stocklist").out
    assert re.search(r"\b1:\d", stock)
    head, below = next(pairwise(stock[stock.index("Herb ") :].splitlines()))
    assert below[head.index("Ratio") :].startswith("poured")


@pytest.mark.parametrize("comes_first", [True, False])
def test_an_option_names_who_is_at_the_shelf(say: Say, stocked: Path, comes_first: bool) -> None:
    who, act = ("--initials", "BO"), ("note", "26-002", "text=smells of hay")
    assert say(*(who + act if comes_first else act + who), "--shelf", stocked).code == 0
    line = say("ledger", "--json", "--shelf", stocked).json["lines"][-1]
    assert (line["kind"], line["initials"]) == ("note", "BO")
    assert say("note", "26-002", "text=again", "--shelf", stocked).code == 0
    assert say("ledger", "--json", "--shelf", stocked).json["lines"][-1]["initials"] == ""
    answer = say("--initials", "a name that is too long", *act, "--shelf", stocked)
    assert (answer.code, "too long" in answer.err) == (2, True)


def test_bringing_an_older_shelf_up_to_date_shows_its_progress(say: Say, shelf_file: Path) -> None:
    released = Path(__file__).parents[1] / "records/released/schema_1.stillroom.gz"
    shelf_file.write_bytes(gzip.decompress(released.read_bytes()))
    first = say("today", "--shelf", shelf_file)
    assert first.code == 0
    assert first.err.splitlines()[:2] == [
        "Bringing the shelf up to date: 0 %.",
        "Bringing the shelf up to date: 100 %.",
    ]
    assert "up to date" not in say("today", "--shelf", shelf_file).err
