"""Simmered roots: a ledger of the water, kept apart from the code, over whatever is known."""

from itertools import product
from random import Random

import pytest

from stillroom.quantities import UnitSystem, fill_in
from stillroom.reckoning.kinds import Figure
from stillroom.reckoning.registry import Outcome, Unworkable, calculators

WATER_G_PER_ML = 0.998203
"""At 20 °C; OIML R 22 (1975), and IAPWS-95 to the last digit."""
FRESH, DRIED = 0.70, 0.10
"""Water assumed in root, as the calculator says: USDA SR28, root 59 to 88 %; dried 6 to 13 %."""


def simmer(**values) -> Outcome:
    return calculators()["simmer"].reckon({"spirit": 96.0, **values})


def found(outcome: Outcome) -> dict[str, float]:
    return {r.key: r.value.value for r in outcome.results if isinstance(r.value, Figure)}


def water_g(outcome: Outcome) -> tuple[float, float]:
    """Liquid and root, in g of water, as the calculator found them."""
    figures = found(outcome)
    return figures["kept"] * WATER_G_PER_ML, figures["root_water"]


CASES = [
    {"put_in": 500.0, "mass": 250.0},
    {"put_in": 750.0, "mass": 40.0, "drained": 80.0},
    {"put_in": 750.0, "mass": 40.0, "drained": 150.0},
    {"put_in": 500.0, "mass": 40.0, "boiled_off": 100.0},
]


def random_cases(seed: int, count: int):
    dice = Random(seed)
    for _ in range(count):
        case: dict[str, float | str] = {
            "mass": dice.choice((dice.uniform(5, 100), dice.uniform(100, 1500))),
            "condition": dice.choice(("fresh", "dried")),
        }
        for key, low, high in (
            ("put_in", 100, 2000),
            ("kept", 20, 1500),
            ("drained", 20, 2000),
            ("boiled_off", 0, 100),
        ):
            if dice.random() < 0.5:
                case[key] = dice.uniform(low, high)
        yield case


@pytest.mark.parametrize("seed", range(8))
def test_water_is_neither_made_nor_lost_whatever_is_known(seed):
    """In and out by hand: what was put in and the root's own water; steam, liquid and root."""
    reckoned = refused = 0
    for case in [*CASES, *random_cases(seed, 400)]:
        own_g = case["mass"] * (FRESH if case.get("condition") == "fresh" else DRIED)
        outcome = reckoned_or_refused(case)
        if isinstance(outcome, str):
            refused += 1
            assert outcome.endswith(".")
            assert impossible(case, own_g), (case, outcome)
            continue
        reckoned += 1
        kept_g, root_g = water_g(outcome)
        assert kept_g >= -1e-6
        assert root_g >= -1e-6
        if "kept" in case:
            assert kept_g == pytest.approx(case["kept"] * WATER_G_PER_ML, abs=0.01)
        if "drained" in case:
            assert root_g == pytest.approx(case["drained"] - (case["mass"] - own_g), abs=0.01)
        all_g = found(outcome)["all_water"] * WATER_G_PER_ML
        assert all_g == pytest.approx(kept_g + root_g, abs=0.05)
        if "put_in" not in case:
            continue
        steam_g = found(outcome)["boiled_off"] * WATER_G_PER_ML
        put_in_g = case["put_in"] * WATER_G_PER_ML
        assert steam_g >= -1e-6
        assert put_in_g + own_g == pytest.approx(steam_g + kept_g + root_g, abs=0.1), case
        is_open = "kept" not in case or "drained" not in case
        if "boiled_off" in case and is_open:
            assert steam_g == pytest.approx(put_in_g * case["boiled_off"] / 100, abs=0.05)
    assert reckoned > 100
    assert refused > 30


def reckoned_or_refused(case) -> Outcome | str:
    """The outcome, or the words of the refusal."""
    try:
        return simmer(**case)
    except Unworkable as refused:
        return str(refused)


def impossible(case, own_g: float) -> bool:
    """By the same hand: whether what was measured contradicts itself, or nothing is known."""
    if "put_in" not in case and "kept" not in case:
        return True
    solids_g = case["mass"] - own_g
    root_g = case["drained"] - solids_g if "drained" in case else 0.0
    if root_g < 0:
        return True
    kept_g = case.get("kept", 0.0) * WATER_G_PER_ML
    if "put_in" not in case:
        return False
    there_g = case["put_in"] * WATER_G_PER_ML + own_g
    if not ("kept" in case and "drained" in case):
        share = case.get("boiled_off", 100 / 3 if "kept" not in case else 0.0)
        there_g -= case["put_in"] * WATER_G_PER_ML * share / 100
    return kept_g + root_g > there_g - 0.01


@pytest.mark.parametrize(
    ("case", "spirit_ml", "all_ml"),
    [
        # 750 mL less a third, and the 4 g of the dried root: 504 mL of water whatever it holds.
        ({"mass": 40.0, "put_in": 750.0, "drained": 80.0}, 172.9, 504.0),
        ({"mass": 40.0, "put_in": 750.0, "drained": 150.0}, 172.9, 504.0),
        # 333.3 mL and 25 g: less than the 437 g that the root would take up.
        ({"mass": 250.0, "put_in": 500.0}, 123.0, 358.4),
    ],
)
def test_the_spirit_is_mixed_with_the_water_that_is_there(case, spirit_ml, all_ml):
    """Water by hand. The spirit by USP 29's table: 171.5 mL of 96 % to 500 mL of water for 25 %."""
    figures = found(simmer(**case))
    assert figures["all_water"] == pytest.approx(all_ml, abs=0.1)
    assert figures["spirit"] == pytest.approx(all_ml * 171.5 / 500, abs=0.6)
    assert figures["spirit"] == pytest.approx(spirit_ml, abs=0.6)


def test_a_root_that_soaks_up_all_the_water_is_warned_about():
    outcome = simmer(mass=250.0, put_in=500.0)
    assert found(outcome)["kept"] == 0
    assert "would soak up all the water" in outcome.warnings[0].text


@pytest.mark.parametrize(
    ("case", "said"),
    [
        ({"mass": 40.0, "put_in": 500.0, "kept": 510.0}, "are more than the"),
        ({"mass": 40.0, "put_in": 500.0, "drained": 600.0}, "and only .* was left after boiling"),
        ({"mass": 40.0, "put_in": 500.0, "kept": 450.0, "drained": 200.0}, "are more than the"),
        ({"mass": 40.0, "put_in": 500.0, "drained": 20.0}, "at least its dry solids"),
        ({"mass": 0.0, "put_in": 500.0, "boiled_off": 100.0}, "No water is left"),
    ],
)
def test_an_impossible_value_is_refused_in_the_units_of_the_shelf(case, said):
    with pytest.raises(Unworkable, match=said) as refused:
        simmer(**case)
    sentence = refused.value.sentence
    for system, unit in product(UnitSystem, (" mL", " g")):
        words = fill_in(sentence.text, sentence.figures, system)
        assert system is UnitSystem.METRIC or unit not in words


def test_a_measured_volume_comes_before_an_estimate_of_what_boiled_off():
    outcome = simmer(mass=40.0, put_in=750.0, kept=500.0, drained=80.0, boiled_off=10.0)
    assert "By what was measured" in outcome.warnings[0].text
    # 750 mL and 4 g in, 500 mL and 44 g left: 750 − 500 − 40 / 0.9982.
    assert found(outcome)["boiled_off"] == pytest.approx(209.9, abs=0.1)


def test_a_refusal_names_the_volumes_it_compared():
    """600 mL measured and 44 g of water in the root, of 500 mL and the 4 g in dried root."""
    with pytest.raises(Unworkable) as refused:
        simmer(put_in=500.0, mass=40.0, kept=600.0, drained=80.0)
    volumes = [figure.value for figure in refused.value.sentence.figures]
    assert volumes == pytest.approx([600, 44 / WATER_G_PER_ML, 500 + 4 / WATER_G_PER_ML], rel=1e-5)
