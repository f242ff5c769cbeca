"""What each command prints as JSON has the shape that the reference page gives."""

from argparse import ArgumentParser
from copy import deepcopy
from pathlib import Path
from typing import Any

import pytest
from jsonschema import ValidationError

import stillroom
from stillroom.cli.exit_codes import MEANINGS, ExitCode
from stillroom.cli.parser import COMMANDS, command_of
from stillroom.cli.reference import page
from stillroom.cli.schema import SHAPES_VERSION
from stillroom.cli.shapes import SHAPES, schema_of
from stillroom.cli.shared_shapes import SHARED
from stillroom.keeping.interchange.tables import TABLES

from .answers import Answer, Say, validator
from .test_commands import README

OWN_FORMAT = "export"
"""Its --json takes a file, whose format has a number of its own."""

# In this order on one shelf, so that later ones find what earlier ones made.
COMMANDS_IN_ORDER = [
    "import out", "today", "jars", "round", "bottles", "bottles --empties", "settings",
    "settings currency=EUR",
    "settings drops_per_ml=20", "spirits",
    "spirits add name=Rum strength=40% price=9 bought=500ml",
    "liquids add name=Honey kind=honey price=5 bought=100ml", "liquids",
    "cupboard Honey left=90ml", "herbs add name=Fennel note=tall", "herbs", "lots",
    "lots add herb=Calendula part=flower condition=fresh weight=900g origin=bed price=3",
    "lots lay-out H-26-001 weight=800g", "lots dry H-26-002 weight=150g",
    "lots weigh H-26-002 weight=140g",
    "lots give H-26-002 weight=5g for=J.", "lots discard H-26-002 weight=5g",
    "lots used-up H-26-002",
    "spirits add name=Gin strength=40% bought=500ml", "cupboard Gin left=450ml",
    "lots add herb=Calendula part=flower condition=dried", "lots delete H-26-003", "lots",
    "shelves add name=South", "shelves", "shelves up South", "sizes add size=33ml empties=4",
    "sizes", "fill herb=Fennel;seed;dried;50g pour=250ml;Rum pour=50ml;water",
    "fill herb=Fennel;seed;dried pour=250ml;40%",
    "top-up 26-004 volume=20ml liquid=Honey", "dates 26-004 shakes=2", "cover 26-004 covered=no",
    "note 26-004 text=sweet", "move 26-004 shelf=South", "shake 26-004", "shake --all",
    "strain 26-004", "strain 26-005", "strain 26-004 yield=200ml method=drained more=yes",
    "today", "jars", "strain 26-004", "strain 26-004 yield=60ml method=pressed",
    "strain 26-003 yield=450ml method=squeezed marc=300g", "bottle 26-004",
    "bottle 26-004 bottle=100ml;;Door bottle=100ml rest=dregs", "pour-again 26-003",
    "pour-again 26-003 pour=200ml;Vodka", "bottle 26-003 proposed=yes", "today",
    "discard 26-005 note=mould", "loss 26-001.1 volume=5ml kind=sample",
    "loss 26-001 volume=5ml kind=dregs",
    "draw 26-001.1 30ml --for J. --note cough", "draw 26-004.1 10ml --kind give --for K.",
    "returned 26-001.1 volume=5ml from=J. note=unopened",
    "weigh-in 26-001.2 full=290g empty=200g", "count 26-001.1 seen=200ml", "stock-take",
    "stock-take place=Door bottle=26-001.1;190ml", "keep-until 26-001 until=",
    "move 26-001.1 place=",
    "keep-until 26-001 until=2027-11-01", "formula add name=Mix part=Fennel;1;seed part=Thyme;2",
    "formula", "blend name=Mix part=26-004.1;50ml part=26-001.1;100ml part=Honey;10ml",
    "join 26-004.1 26-001.1 name=Rest", "bottle 26-007 bottle=50ml",
    "thin 26-003.1 target=30% take=20ml", "draw 26-001.2 20ml", "people", "people --of 26-001",
    "labels 26-001", "labels 26-001 --dry-run", "labels 26-001 --to labels.pdf",
    "keep-until 26-001 until=2028-11-01", "today", "labels 26-001 --dismiss",
    "correct 26-001", "correct 26-001 yield=425ml --dry-run", "correct 26-001 yield=425ml",
    "correct 26-001.1", "correct Vodka", "correct Fennel", "ledger", "year", "plan",
    "plan --months 24",
    "season herb=Calendula part=flower from=06-15 to=08-31 months=18", "season", "learning",
    "trace 26-001.2", "trace 26-007", "recall Vodka", "recall Fennel",
    "calculate", "calculate mix", "calculate dilute strength=96% target=40% volume=500ml",
    "settings maker=AL releases=yes", "reject 26-004 --why mould", "release 26-004 --yes",
    "withdraw Fennel --why recall", "bottles", "discard 26-003.1", "close 2026-10",
    "record 26-001", "record 26-004 --to record.pdf", "daysheet", "shelflist --to shelves.txt",
    "stocklist", "withdrawn", "signsheet spirit", "calendar --to dates.ics",
    "undo --dry-run", "undo", "redo --dry-run", "redo", "forget J. --dry-run", "forget J. --yes",
    "redo --dry-run", "import --jars list.csv --dry-run", "import --jars list.csv",
    "backup copy.stillroom", "restore copy.stillroom --dry-run", "restore copy.stillroom --yes",
    "check", "ledger",
]  # fmt: skip


def test_the_json_of_every_command_has_its_documented_shape(
    say: Say, stocked: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "list.csv").write_text("herb,date,part,state\nYarrow,2026-11-01,leaf,dried\n")
    assert say("export", "out", "--shelf", stocked).code == 0
    for line in COMMANDS_IN_ORDER:
        answer = say(*line.split(), "--json", "--shelf", stocked)
        assert (answer.code, answer.err) == (0, ""), line
        assert answer.told["command"] == line.split()[0]
    tried = {line.split()[0] for line in COMMANDS_IN_ORDER}
    assert tried == set(SHAPES)


@pytest.mark.parametrize(
    "line", ["today", "jars", "bottles --empties", "spirits", "liquids", "herbs", "lots", "shelves",
             "season", "sizes", "formula", "settings", "ledger", "year", "plan", "learning",
             "people", "record 26-005", "daysheet", "signsheet losses",
             "recall vodka", "trace 26-015", "correct 26-005", "check"],
)  # fmt: skip
def test_the_json_of_the_sample_file_has_the_documented_shapes(
    say: Say, sample_file: Path, line: str
) -> None:
    answer = say("--shelf", sample_file, *line.split(), "--json")
    assert answer.told["version"] == SHAPES_VERSION


def test_an_import_that_is_refused_prints_its_report_in_the_same_shape(
    say: Say, stocked: Path, tmp_path: Path
) -> None:
    sheet = tmp_path / "bad.csv"
    sheet.write_text("herb,date,weight\nYarrow,2026-11-01,much\nRue,never,\nSage,2026-11-02,5\n")
    answer = say("import", "--jars", sheet, "--json", "--shelf", stocked)
    assert (answer.code, answer.told["is_done"]) == (2, False)
    assert answer.json["bad"]


def takes_json(name: str) -> bool:
    parser = ArgumentParser()
    command_of(name, COMMANDS[name][0]).arguments(parser)
    return "--json" in parser.format_help()


def test_exactly_the_commands_that_take_json_have_a_shape() -> None:
    assert {name for name in COMMANDS if takes_json(name)} - {OWN_FORMAT} == set(SHAPES)


def spoiled(value: Any) -> Any:
    """The first field that can be taken away, taken away; None where there is none."""
    if isinstance(value, list):
        return next((found for each in value if (found := spoiled(each)) is not None), None)
    if not isinstance(value, dict) or not value:
        return None
    value.pop(next(iter(value)))
    return value


@pytest.mark.parametrize("line", ["jars", "today", "bottles", "ledger", "spirits", "settings"])
def test_a_missing_or_new_field_in_the_json_is_found(say: Say, stocked: Path, line: str) -> None:
    told = say(line, "--json", "--shelf", stocked).told
    less, more = deepcopy(told), deepcopy(told)
    spoiled(less["result"])
    first = more["result"][0] if isinstance(more["result"], list) else more["result"]
    first["new"] = 1
    for each in (less, more, told | {"version": SHAPES_VERSION + 1}, told | {"command": "x"}):
        with pytest.raises(ValidationError):
            validator(line).validate(each)


def test_json_is_built_only_on_request(
    say: Say, stocked: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_: object) -> None:
        raise ArithmeticError("JSON was made")

    monkeypatch.setattr("stillroom.cli.jars.jars_json", fail)
    monkeypatch.setattr("stillroom.cli.fill.jars_json", fail)
    say("shelves", "add", "name=South", "--shelf", stocked)
    for line in (
        "shake 26-002",
        "shake --all",
        "note 26-002 text=sweet",
        "move 26-002 shelf=South",
    ):
        assert say(*line.split(), "--shelf", stocked).code == ExitCode.DONE
    assert say("note", "26-002", "text=mild", "--json", "--shelf", stocked).code == ExitCode.FAULT


def test_the_page_in_the_repository_is_what_the_command_prints(say: Say) -> None:
    kept = Path(stillroom.__file__).parent / "REFERENCE.md"
    answer = say("reference")
    assert kept.read_text(encoding="utf-8") == page() == answer.out, "run tests/make_reference.py"


def test_the_page_lists_every_exit_code_command_shape_and_column() -> None:
    told = page()
    for code, meaning in MEANINGS.items():
        assert f"| {code:d} | {meaning} |" in told
    for name in (*SHAPES, *(f"#### {name.replace('_', ' ')}" for name in SHARED)):
        assert f"# {name.removeprefix('#### ')}\n" in told
    for table in TABLES:
        assert f"### {table.file}\n" in told
        for column in table.columns:
            assert f"| `{column.name}` | " in told


def test_the_readme_lists_the_same_exit_codes() -> None:
    rows = "".join(f"| {code:d} | {meaning} |\n" for code, meaning in MEANINGS.items())
    assert rows in README.read_text(encoding="utf-8")


def test_the_reference_of_one_command_or_its_schema_can_be_printed(say: Say) -> None:
    assert say("reference", "jars").out == "### jars\n\n- list of [jar](#jar)\n"
    assert f'"const": "{OWN_FORMAT}"' not in say("reference", "--schema").out
    jars: Answer = say("reference", "jars", "--schema")
    assert '"$schema": "https://json-schema.org/draft/2020-12/schema"' in jars.out
    assert schema_of("jars")["$defs"].keys() == {"jar"}
    assert say("reference", "export").code == 2
