"""`fill` and `top-up`: herb from a lot, and the figures of the jar, as the form shows them."""

import re
from collections.abc import Callable
from pathlib import Path

import pytest

from .answers import Answer, Say
from .test_prompts import Typed

At = Callable[..., Answer]


@pytest.fixture
def at(say: Say, stocked: Path) -> At:
    """Give a command about a shelf with a lot of dried Fennel seed, H-26-001."""
    words = [
        "lots",
        "add",
        "herb=Fennel",
        "part=seed",
        "condition=dried",
        "weight=200g",
        "origin=Market",
    ]
    assert say(*words, "--shelf", stocked).code == 0
    return lambda *words: say(*words, "--shelf", stocked)


POUR = "pour=600 ml;Vodka"


@pytest.mark.parametrize(
    "herb", ["h-26-001;;;80 g", "name=H-26-001;mass=80 g", "lot=H-26-001;mass=80 g"]
)
def test_the_code_of_a_lot_stands_for_its_herb(at: At, herb: str) -> None:
    jar = at("fill", f"herb={herb}", POUR, "--json").json
    assert (jar["herb"], jar["part"], jar["condition"]) == ("Fennel", "seed", "dried")
    (lot,) = at("lots", "--json").json
    assert lot["left_g"] == pytest.approx(120)
    assert "H-26-001" not in {each["name"] for each in at("herbs", "--json").json}


def test_a_lot_is_chosen_line_by_line(at: At, monkeypatch: pytest.MonkeyPatch) -> None:
    lines = ["H-26-001", "80 g", "", "", "600 ml", "Vodka", ""]
    monkeypatch.setattr("sys.stdin", Typed("".join(f"{line}\n" for line in lines)))
    answer = at("fill")
    assert answer.out.startswith("Filled 26-004 Fennel, seed, dried")
    assert "Herb 1, name (or the code of a lot in store): " in answer.err
    assert "Herb 1, origin" not in answer.err


@pytest.mark.parametrize("fact", ["botanical=Foeniculum", "gathered=1 Nov", "origin=Hill"])
def test_a_fact_that_the_lot_has_is_refused_if_it_is_given_again(at: At, fact: str) -> None:
    refused = at("fill", f"herb=H-26-001;mass=80 g;{fact}", POUR)
    assert (refused.code, refused.out) == (2, "")
    assert "leave it out: it is known from the lot H-26-001" in refused.err


def test_the_volume_strength_and_ratio_of_a_jar_are_reported(at: At) -> None:
    """120 g of dried root bring 10 % of water: 240 mL of ethanol in about 611 mL."""
    lines = at("fill", "herb=Marshmallow;root;dried;120 g", POUR).out.splitlines()
    found = re.fullmatch(r"(\d+) mL at ([\d.]+) %, 1:5 herb to liquid poured\. Strong.*", lines[1])
    assert found
    assert float(found[1]) == pytest.approx(611, abs=3)
    assert float(found[2]) == pytest.approx(100 * 240 / 611, abs=0.3)
    # 300 mL more of water bring it to about 240 in 910.
    topped = at("top-up", "26-004", "volume=300 ml", "liquid=water").out.splitlines()[1]
    found = re.match(r"(\d+) mL at ([\d.]+) %, 1:7\.5", topped)
    assert found
    assert float(found[2]) == pytest.approx(100 * 240 / 910, abs=0.5)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["pour=100 ml;Vodka", "pour=900 ml;water"], "Too weak to keep"),
        ([POUR, "size=500 ml"], "! Doesn't fit: needs "),
        (["pour=100 ml;96%"], "! This herb takes up all of this liquid"),
    ],
)
def test_the_command_gives_the_same_warnings_as_the_form(
    at: At, words: list[str], said: str
) -> None:
    herb = "herb=Marshmallow;root;dried;120 g"
    assert said in at("fill", herb, *words).out
    assert said not in at("fill", herb, "pour=600 ml;Vodka", "size=1 l").out


def test_where_there_is_no_rule_for_keeping_the_shares_are_reported(at: At) -> None:
    """140 mL of honey in 202 mL, which the water of 20 g of dried leaf makes of 200."""
    assert at("liquids", "add", "name=Honey", "kind=honey", "bought=500 ml").code == 0
    answer = at("fill", "herb=Sage;leaf;dried;20 g", "pour=60 ml;Vodka", "pour=140 ml;Honey")
    assert "Shares: Honey 69.3 %. There is no rule" in answer.out
