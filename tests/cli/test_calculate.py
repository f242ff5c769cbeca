"""The calculators by command: each is explained, and gives the figures of its function."""

from dataclasses import replace
from pathlib import Path

import pytest

from stillroom.clock import SystemClock
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import save_settings, settings_of
from stillroom.quantities import UnitSystem
from stillroom.reckoning.registry import calculators
from stillroom.records.store import Store

from .answers import Say


def test_without_a_name_all_calculators_are_listed(say: Say) -> None:
    answer = say("reckon")
    assert answer.code == 0
    for entry in calculators().values():
        assert f"{entry.name}: {entry.summary}\n" in answer.out
    assert [entry["name"] for entry in say("reckon", "--json").json] == list(calculators())


@pytest.mark.parametrize("name", calculators())
def test_each_calculator_explains_its_fields(say: Say, name: str) -> None:
    answer = say("reckon", name)
    assert answer.code == 0
    fields = say("reckon", name, "--json").json["fields"]
    assert [f["key"] for f in fields] == [f.key for f in calculators()[name].fields]
    for f in fields:
        assert f"  {f['key']}=" in answer.out


def test_a_spirit_is_diluted_by_command(say: Say) -> None:
    # By ethanol alone; the function itself is tested against published tables.
    told = say("reckon", "dilute", "strength=96%", "target=60%", "wanted=1 l", "--json").json
    found = {result["key"]: result for result in told["results"]}
    assert found["result"]["value"] == pytest.approx(1000)
    assert found["strength"]["value"] == pytest.approx(60)
    assert found["spirit"]["value"] * 0.96 == pytest.approx(600)
    assert found["spirit"]["unit"] == "mL"
    for part in ("working", "assumptions", "sources", "cautions"):
        assert told[part]


def test_results_and_headings_are_printed_as_plain_lines(say: Say) -> None:
    answer = say("reckon", "dilute", "strength=96%", "target=60%", "wanted=1 l")
    assert answer.code == 0
    lines = answer.out.splitlines()
    assert lines[:3] == [
        "Dilute or strengthen spirit",
        "  Spirit of 96 %: 625 mL",
        "  Water: 405.2 mL",
    ]
    assert lines[3:5] == ["  Total: 1 L", "  Strength: 60 %"]
    for heading in ("Working:", "Assumptions:", "Sources:", "Cautions:"):
        assert heading in lines


def test_columns_in_order_and_columns_by_name_give_the_same_result(say: Say) -> None:
    by_order = say("reckon", "mix", "liquids=500 ml;96%", "liquids=300 ml;0;20", "--json")
    by_name = say(
        "reckon",
        "mix",
        "liquids=strength=96%;volume=500ml",
        "liquids=strength=0;volume=300",
        "--json",
    )
    assert by_order.code == 0
    assert by_order.json == by_name.json


def test_a_column_left_out_has_its_default(say: Say) -> None:
    short = say("reckon", "jar-strength", "herbs=120 g;;fresh", "pours=600ml", "--json").json
    full = say(
        "reckon", "jar-strength", "herbs=120 g;leaf;fresh", "pours=600ml;40%;20", "--json"
    ).json
    assert short == full


def test_a_blank_value_clears_the_default(say: Say) -> None:
    answer = say("reckon", "simmer", "mass=40 g", "spirit=40%", "put_in=", "kept=")
    assert answer.code == 2
    assert answer.err == ("put_in: Enter the water put in, or the liquid left after simmering.\n")


def test_options_set_the_units_for_reading_and_printing(say: Say) -> None:
    words = ("weigh", "full=9 oz", "empty=4 oz", "strength=80 proof")
    metric = say("reckon", *words, "--json").json["results"][0]
    us = say("reckon", *words, "--units", "us", "--json").json["results"][0]
    assert us["value"] == metric["value"]
    assert us["shown"].endswith("fl oz")
    assert metric["shown"].endswith("mL")
    assert say("reckon", "weigh", "full=9", "empty=4", words[3], "--units", "us", "--json").json[
        "results"
    ][0]["value"] == pytest.approx(metric["value"])


@pytest.mark.parametrize("name", calculators())
def test_help_after_a_name_is_that_calculators_own(say: Say, name: str) -> None:
    answer = say("reckon", name, "--help")
    assert answer.code == 0
    for field in calculators()[name].fields:
        assert f"  {field.key}=" in answer.out
    assert say("reckon", name, "--units", "us", "-h").code == 0
    assert "KEY=VALUE" in say("reckon", "--help").out


def test_us_proof_is_read_at_60_degrees_f(say: Say) -> None:
    """27 CFR 30.61, table 1: 193 proof at 75 °F is 189.5. 80 at 77 °F: see test_instruments."""
    words = ("reckon", "alcoholometer", "temperature=75", "--units", "us")
    answer = say(*words, "reading=193 proof")
    assert "True strength at 60 °F: 189.5 proof\n" in answer.out
    assert "The instrument is true at: 60 °F\n" in answer.out
    assert "189.5 proof" in say(*words, "reading=193", "scale=US proof").out
    bottle = ("reckon", "alcoholometer", "temperature=77", "reading=80 proof", "--units", "us")
    assert "72.4 proof" in say(*bottle).out


def test_the_setting_for_the_instrument_comes_before_its_scale(say: Say, stocked: Path) -> None:
    words = ("reckon", "alcoholometer", "reading=40%", "temperature=25", "--shelf", stocked)
    assert "The instrument is true at: 20 °C" in say(*words).out
    store = Store.open(stocked)
    keeper = Keeper(store, SystemClock())
    save_settings(keeper, replace(settings_of(keeper), alcoholometer="15c"))
    store.close()
    assert "The instrument is true at: 15 °C" in say(*words).out
    assert "The instrument is true at: 20 °C" in say(*words, "true_at=20c").out


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("brew",), "There is no calculator brew. Choose from fill, "),
        (("mix", "water=1"), "mix has no field water. Choose from liquids."),
        (("mix", "liquids"), "liquids: write liquids=VALUE."),
        (("mix", "liquids=1;2;3;4"), "liquids: a row has 3 columns, volume;strength;temperature."),
        (
            ("mix", "liquids=proof=80"),
            "liquids has no field proof. Choose from volume, strength, temperature.",
        ),
        (("mix", "liquids=1;volume=2"), "liquids: volume is given twice in a row."),
        (("mix", "liquids=a lot"), "liquids, row 1, volume: Not a volume: write e.g. 500 ml"),
        (("dilute", "strength=120%"), "strength: Out of range: a strength is no more than 100 %."),
        (("dilute", "strength=40%", "strength=50%"), "strength is given twice."),
        (("dilute", "strength=40%", "target=60%"), "stronger: 60 % is stronger than 40 %"),
        (("fill", "part=stem"), "part: Part must be one of: leaf, "),
        (("dilute", "temperature=90"), "temperature: Measured at must be from -20 °C to 40 °C."),
    ],
)
def test_what_cannot_be_calculated_is_refused_in_one_sentence(
    say: Say, words: tuple[str, ...], said: str
) -> None:
    answer = say("reckon", *words)
    assert answer.code == 2
    assert not answer.out
    assert said in answer.err
    assert answer.err.count("\n") == 1


def test_choices_are_found_by_key_or_label_in_any_case(say: Say) -> None:
    by_key = say("reckon", "fill", "mass=100", "part=aerial parts", "--json").json
    assert say("reckon", "fill", "mass=100", "part=Aerial Parts", "--json").json == by_key


def test_options_may_come_between_the_values(say: Say) -> None:
    words = ["strength=96%", "target=60%", "wanted=1 l"]
    plain = say("reckon", "dilute", *words, "--units", "us").out
    assert say("reckon", "dilute", "--units", "us", *words).out == plain
    assert say("reckon", "dilute", words[0], "--units", "us", *words[1:]).out == plain
    assert say("reckon", "dilute", *words, "--nonsense=1").code == 2


def test_units_are_those_of_the_shelf_unless_an_option_names_others(
    say: Say, stocked: Path
) -> None:
    words = ("reckon", "mix", "liquids=16;96%", "--shelf", stocked)
    assert "16 mL" in say(*words).out
    store = Store.open(stocked)
    keeper = Keeper(store, SystemClock())
    save_settings(keeper, replace(settings_of(keeper), units=UnitSystem.US))
    store.close()
    assert "16 fl oz" in say(*words).out
    assert "16 mL" in say(*words, "--units", "metric").out


@pytest.mark.parametrize("units", UnitSystem)
@pytest.mark.parametrize("name", calculators())
def test_each_calculator_gives_results_in_every_system_of_units(
    say: Say, name: str, units: UnitSystem
) -> None:
    given = {
        "fill": ("mass=100 g",),
        "dilute": ("wanted=1 l",),
        "mix": ("liquids=500 ml;96%",),
        "jar-strength": ("herbs=100 g", "pours=500 ml;40%"),
        "simmer": ("mass=40 g", "put_in=750 ml", "spirit=96%"),
        "yield": ("liquid=500 ml", "mass=100 g"),
        "bottles": ("volume=430 ml", "sizes=100 ml"),
        "weigh": ("full=213 g", "empty=120 g", "strength=40%"),
        "alcoholometer": ("reading=40%", "temperature=68°F"),
        "drops": ("volume=2 ml", "strength=40%"),
        "blend": ("parts=;50 ml;40%", "parts=;30 ml;60%"),
        "amount": ("volume=5 ml", "strength=40%"),
        "fresh-dried": ("mass=100 g",),
        "cost": ("spirits=500 ml;700 ml;21", "yield=380 ml"),
        "convert": ("volume=100 ml",),
    }
    answer = say("reckon", name, *given[name], "--units", str(units), "--json")
    assert answer.code == 0, answer.err
    assert answer.json["results"]


def test_a_metric_calculation_needs_no_shelf_and_no_slow_library(program: Say) -> None:
    answer = program("reckon", "mix", "liquids=500 ml;96%", PYTHONPROFILEIMPORTTIME="1")
    assert answer.code == 0
    imported = {line.rpartition("|")[2].strip() for line in answer.err.splitlines()}
    assert "stillroom.reckoning.registry" in imported
    assert not imported & {"pint", "peewee", "textual", "rich", "reportlab", "stillroom.records"}
