"""Which sentences a calculator adds or leaves out, what it refuses, and figures worked by hand."""

import pytest

from stillroom.quantities import UnitSystem, fill_in, show
from stillroom.reckoning.calculator import adding_up, finely, ml, say
from stillroom.reckoning.kinds import Figure, Kind
from stillroom.reckoning.registry import Outcome, Unworkable, calculators

from .printed_density import mixed

JAR = {"liquid": 500.0, "mass": 100.0}
OWN = {"liquid": 500.0, "dried": 100.0, "yield": 320.0}
WEAK = [{"strength": 40.0}]
ROOT = {"mass": 40.0, "spirit": 96.0}
SEVENTY = {"strength": 70.0, "target": 40.0}


def reckon(name: str, values: dict) -> Outcome:
    return calculators()[name].reckon(values)


def text_of(outcome: Outcome) -> str:
    """Everything shown beside the results."""
    sentences = (*outcome.working, *outcome.assumptions, *outcome.warnings)
    return "\n".join(sentence.plain() for sentence in sentences)


def shown(outcome: Outcome) -> dict[str, float | str]:
    return {
        each.key: each.value.value if isinstance(each.value, Figure) else each.value.plain()
        for each in outcome.results
    }


@pytest.mark.parametrize(
    ("name", "values", "words"),
    [
        # 500 mL less 100 g at 1.8 mL/g is 320 mL, give or take 2 · 0.45 mL/g: 230 to 410 mL.
        ("yield", JAR | {"measured": 506.0}, "More was measured than should be in the jar"),
        ("yield", JAR | {"measured": 500.0}, "Far more was measured than expected"),
        ("yield", JAR | {"measured": 100.0}, "Far less was measured than expected"),
        ("yield", JAR | {"measured": 225.0}, "outside the range"),
        ("yield", JAR | {"measured": 415.0}, "outside the range"),
        ("yield", {"liquid": 100.0, "mass": 100.0}, "The herb would hold all of it"),
        ("yield", JAR | {"own": [OWN | {"yield": 10.0}]}, "far from what is usual: 1."),
        ("yield", JAR | {"own": [OWN | {"yield": 510.0}]}, "far from what is usual: 1."),
        ("yield", JAR | {"condition": "fresh"}, "No figure is published for fresh herb"),
        ("yield", JAR | {"own": [OWN]}, "Your own strainings, 1 of them"),
        ("bottles", {"volume": 20.0, "sizes": [{"size": 30.0}]}, "no bottle that this would fill"),
        (
            "bottles",
            {"volume": 130.0, "sizes": [{"size": 100.0}, {"size": 30.0}]},
            "100 mL and 30 mL make 130 mL bottled.",
        ),
        ("drops", {"strength": 40.0}, "No one figure is right for every dropper"),
        ("drops", {"counted": 40.0}, "True for this dropper"),
        (
            "blend",
            {"parts": [{"volume": 50.0, "strength": 40.0, "ratio": 5.0}]},
            "Herb from a ratio alone",
        ),
        (
            "blend",
            {"parts": [{"volume": 50.0, "strength": 40.0}]},
            "Herb can't be counted while a part has neither",
        ),
        ("amount", {"volume": 5.0, "strength": 40.0, "ratio": 5.0}, "Herb from a ratio alone"),
        (
            "jar-strength",
            {"herbs": [{"mass": None, "condition": "fresh"}], "pours": [{}]},
            "the jar is weaker than this",
        ),
        (
            "jar-strength",
            {"herbs": [{"mass": 40.0, "simmered": "yes"}], "pours": [{}]},
            "Drained root holds",
        ),
        (
            "jar-strength",
            {"herbs": [{"mass": 100.0}], "pours": [{"volume": 500.0}], "jar": 590.0},
            "It doesn't fit: it needs",
        ),
        ("fill", {"mass": 100.0}, "Strengths in use:"),
        ("fill", {"mass": 100.0}, "100 g of herb at 1:5 takes 500 mL of liquid."),
        (
            "fill",
            {"mass": 100.0},
            "510 mL measured separately, 10 mL of it the plant's water, comes to",
        ),
        ("fill", {"mass": 100.0, "ratio": 2.0}, "The herb brings 10 g of water (10 % of its"),
        ("fill", {"jar": 500.0}, "a twentieth left free"),
        (
            "fill",
            {"mass": 100.0, "spirits": [{"strength": 40.0, "on_hand": 300.0}]},
            "There is only 300 mL of spirit on hand; 500 mL is needed.",
        ),
        (
            "fill",
            {"mass": 100.0, "target": 35.0, "spirits": [{"strength": 40.0, "on_hand": 300.0}]},
            "There is not enough strong spirit for 35 % vol",
        ),
        ("fill", {"mass": 100.0, "target": 50.0, "spirits": WEAK}, "can't be reached at 1:5"),
        (
            "fill",
            {"mass": 100.0, "target": 39.0, "spirits": WEAK, "condition": "fresh", "ratio": 2.0},
            "gets there from 1:",
        ),
        (
            "fill",
            {"mass": 100.0, "target": 40.0, "spirits": WEAK, "condition": "fresh"},
            "Or dry the herb first",
        ),
        ("fill", {"mass": 100.0, "target": 50.0, "spirits": WEAK}, "the liquid would have to be"),
        (
            "fill",
            {"mass": 100.0},
            "25 % for tannins, mucilage, flavonoids; 45–60 % for essential oils, alkaloids, "
            "saponins; 90–96 % for resins and gums. Common practice, no source.",
        ),
        ("weigh", {"full": 9.0, "empty": 1.0, "strength": 0.0}, "The volume is at 20 °C"),
        ("fresh-dried", {"mass": 100.0}, "Dried herb still holds 10 % water."),
        (
            "dilute",
            SEVENTY | {"volume": 500.0, "temperature": 30.0},
            "The spirit was measured at 30 °C and is taken to 20 °C.",
        ),
        (
            "mix",
            {"liquids": [{"volume": 0.5, "strength": 96.0, "temperature": 30.0}]},
            "0.5 mL measured at 30 °C is",
        ),
        ("mix", {"liquids": [{"volume": 0.5, "strength": 96.0}]}, "holds 0.48 mL of ethanol"),
        ("simmer", ROOT | {"put_in": 750.0}, "A third boils off"),
        (
            "simmer",
            ROOT | {"put_in": 750.0},
            "750 mL put in and 4.01 mL in the root, less 250 mL boiled off, leave 504 mL.",
        ),
        ("simmer", ROOT | {"put_in": 750.0}, "Drained root holds"),
        ("simmer", ROOT | {"put_in": 500.0, "kept": 501.0}, "More liquid was left than the 500 mL"),
        ("simmer", ROOT | {"mass": 400.0, "put_in": 500.0}, "The root would soak up all the water"),
        (
            # 40 g hold 36 g of solids, so 80 g drained hold 44 mL; of 754 mL that leaves 210.
            "simmer",
            ROOT | {"put_in": 750.0, "kept": 500.0, "drained": 80.0, "boiled_off": 33.0},
            "By what was measured 28 % of the water boiled off, not 33 %.",
        ),
    ],
)
def test_each_case_has_its_sentence(name, values, words):
    assert words in text_of(reckon(name, values))


@pytest.mark.parametrize(
    ("name", "values", "words"),
    [
        ("yield", JAR | {"measured": 504.0, "mass": 0.0}, "measured than"),
        ("yield", JAR | {"measured": 235.0}, "measured"),
        ("yield", JAR | {"measured": 405.0}, "measured"),
        ("yield", JAR, "The herb would hold all of it"),
        ("yield", JAR | {"own": [OWN]}, "left out"),
        ("yield", JAR, "No figure is published for fresh herb"),
        ("yield", JAR, "Your own strainings, "),
        ("bottles", {"volume": 30.0, "sizes": [{"size": 30.0}]}, "no bottle that this would fill"),
        ("bottles", {"volume": 30.0, "sizes": [{"size": 30.0}]}, " bottled."),
        (
            "blend",
            {"parts": [{"volume": 50.0, "strength": 40.0, "ratio": 5.0, "herb": 0.2}]},
            "Herb from a ratio alone",
        ),
        ("blend", {"parts": [{"volume": 50.0, "strength": 40.0, "ratio": 5.0}]}, "can't be count"),
        ("amount", {"volume": 5.0, "strength": 40.0, "herb": 0.2, "ratio": 5.0}, "ratio alone"),
        ("amount", {"volume": 5.0, "strength": 40.0}, "ratio alone"),
        ("jar-strength", {"herbs": [{"mass": 100.0}], "pours": [{}]}, "weaker than this"),
        ("jar-strength", {"herbs": [{"mass": 40.0}], "pours": [{}]}, "Drained root holds"),
        (
            "jar-strength",
            {"herbs": [{"mass": 100.0}], "pours": [{"volume": 500.0}], "jar": 700.0},
            "It doesn't fit",
        ),
        ("fill", {"mass": 100.0, "target": 30.0}, "Strengths in use:"),
        ("fill", {"mass": 100.0, "jar": 700.0}, "a twentieth left free"),
        (
            "fill",
            {"mass": 100.0, "target": 50.0, "spirits": WEAK},
            "Or dry the herb first",
        ),
        ("fill", {"mass": 100.0, "target": 50.0, "spirits": WEAK}, "gets there from"),
        ("dilute", SEVENTY | {"volume": 500.0}, "was measured at"),
        ("simmer", ROOT | {"put_in": 750.0, "boiled_off": 33.0}, "A third boils off"),
        ("simmer", ROOT | {"kept": 500.0}, "A third boils off"),
        ("simmer", ROOT | {"kept": 500.0}, "put in and"),
        ("simmer", ROOT | {"put_in": 750.0, "drained": 80.0}, "Drained root holds"),
        ("simmer", ROOT | {"put_in": 750.0, "mass": 0.0}, "Drained root holds"),
        (
            "simmer",
            ROOT | {"put_in": 750.0, "boiled_off": 28.0, "kept": 500.0},
            "Drained root holds",
        ),
        ("simmer", ROOT | {"put_in": 500.0, "kept": 500.0}, "More liquid was left"),
        ("simmer", ROOT | {"put_in": 750.0}, "The root would soak up"),
        (
            "simmer",
            ROOT | {"put_in": 750.0, "kept": 500.0, "drained": 80.0, "boiled_off": 28.5},
            "By what was measured",
        ),
    ],
)
def test_no_case_has_the_sentence_of_another(name, values, words):
    assert words not in text_of(reckon(name, values))


@pytest.mark.parametrize(
    ("name", "values", "field", "words"),
    [
        ("fill", {}, "mass", "Enter the weight of the herb or the jar size"),
        ("fill", {"mass": 0.0, "jar": 0.0}, "mass", "Enter the weight of the herb or the jar size"),
        ("fill", {"mass": 100.0, "ratio": 0.0}, "ratio", "greater than 1:0"),
        ("fill", {"mass": -1.0}, "mass", "Herb must be zero or more"),
        ("fill", {"mass": 1.1e9}, "mass", "Herb is too large"),
        ("fill", {"mass": True}, "mass", "Herb must be a number"),
        ("fill", {"mass": "some"}, "mass", "Herb must be a number"),
        ("fill", {"mass": 1.0, "part": "wing"}, "part", "Part must be one of"),
        ("mix", {"liquids": 5.0}, "liquids", "Liquids must be a list"),
        ("dilute", {"volume": 500.0, "strength": 101.0}, "strength", "from 0 % vol to 100 % vol"),
        ("dilute", {"volume": 500.0, "temperature": -21.0}, "temperature", "from -20 °C to 40 °C"),
        ("dilute", {"volume": 500.0, "temperature": 41.0}, "temperature", "from -20 °C to 40 °C"),
        ("dilute", {}, "volume", "Enter the volume you have, or the volume you want"),
        ("dilute", {"volume": 0.0, "wanted": 0.0}, "volume", "Enter the volume you have"),
        ("mix", {"liquids": [{"volume": 0.0}]}, "liquids.0.volume", "greater than zero"),
        ("jar-strength", {"herbs": [{}], "pours": [{"volume": 0.0}]}, "pours.0.volume", "greater"),
        ("simmer", ROOT, "put_in", "Enter the water put in, or the liquid left"),
        ("simmer", ROOT | {"put_in": 0.0, "mass": 0.0}, "put_in", "No water is left"),
        ("yield", {"liquid": 0.0, "mass": 1.0}, "liquid", "greater than zero"),
        ("yield", JAR | {"own": [OWN, OWN | {"dried": 0.0}]}, "own.1.dried", "greater than zero"),
        ("bottles", {"volume": 9.0, "sizes": [{"size": 0.99}]}, "sizes.0.size", "1 mL or more"),
        (
            "bottles",
            {"volume": 9.0, "sizes": [{"size": 1.0, "empties": 1.5}]},
            "sizes.0.empties",
            "a whole number",
        ),
        ("weigh", {"full": 9.9, "empty": 10.0, "strength": 0.0}, "full", "at least the empty"),
        ("drops", {}, "strength", "Enter the strength, or count the drops"),
        ("drops", {"counted": 0.0}, "counted", "Count at least one drop"),
        ("drops", {"counted": 1.0, "counted_volume": 0.0}, "counted_volume", "Count at least one"),
        (
            "blend",
            {"parts": [{"volume": 0.0, "strength": 40.0}]},
            "parts.0.volume",
            "greater than zero",
        ),
        (
            "blend",
            {"parts": [{"volume": 9.0, "strength": 40.0, "ratio": 0.0}]},
            "parts.0.ratio",
            "greater than 1:0",
        ),
        ("amount", {"volume": 5.0, "strength": 40.0, "ratio": 0.0}, "ratio", "greater than 1:0"),
        ("fresh-dried", {}, "mass", "Enter the weight of the herb, of a sample"),
        ("fresh-dried", {"fresh_sample": 100.0}, "dried_sample", "both before and after"),
        ("fresh-dried", {"dried_sample": 20.0}, "fresh_sample", "both before and after"),
        ("fresh-dried", {"mass": 9.0, "left": 99.1}, "left", "can't be all water"),
        ("fresh-dried", {"mass": 9.0, "water": 99.1}, "water", "has no dried weight"),
        (
            "fresh-dried",
            {"fresh_sample": 9.0, "dried_sample": 9.1},
            "dried_sample",
            "weigh more than it did fresh",
        ),
        (
            "fresh-dried",
            {"fresh_sample": 9.0, "dried_sample": 0.0},
            "fresh_sample",
            "greater than zero",
        ),
        (
            "fresh-dried",
            {"fresh_sample": 0.0, "dried_sample": 0.0},
            "fresh_sample",
            "greater than zero",
        ),
        ("cost", {"spirits": [{"used": 1.0, "bought": 1.0, "price": 1.0}], "yield": 0.0}, "yield",
         "greater than zero"),
        ("cost", {"spirits": [{"used": 1.0, "bought": 0.0, "price": 1.0}], "yield": 1.0},
         "spirits.0.bought", "greater than zero"),
        ("convert", {}, "volume", "Enter something to convert"),
        ("convert", {"us_proof": 200.1}, "us_proof", "from 0 to 200"),
        ("convert", {"uk_proof": 175.2}, "uk_proof", "about 175"),
        ("convert", {"ratio": 0.0}, "ratio", "greater than 1:0"),
    ],
)  # fmt: skip
def test_an_impossible_value_is_refused_at_its_field(name, values, field, words):
    with pytest.raises(Unworkable) as refused:
        reckon(name, values)
    assert refused.value.field == field
    assert words in str(refused.value)


@pytest.mark.parametrize(
    ("name", "values"),
    [
        ("dilute", {"volume": 500.0, "temperature": -20.0}),
        ("dilute", {"volume": 500.0, "temperature": 40.0, "strength": 100.0}),
        ("fill", {"mass": 1e-5}),
        ("fill", {"mass": 100.0, "target": 0.5}),
        ("drops", {"counted": 1.0}),
        ("bottles", {"volume": 9.0, "sizes": [{"size": 1.0, "empties": 0.0}]}),
        ("weigh", {"full": 10.0, "empty": 10.0, "strength": 0.0}),
        ("fresh-dried", {"mass": 9.0, "left": 99.0}),
        ("fresh-dried", {"mass": 9.0, "water": 99.0}),
        ("fresh-dried", {"fresh_sample": 9.0, "dried_sample": 9.0}),
        ("convert", {"us_proof": 200.0}),
        ("convert", {"uk_proof": 175.0}),
        ("amount", {"volume": 5.0, "strength": 40.0, "ratio": 0.01}),
    ],
)
def test_a_value_at_its_limit_is_accepted(name, values):
    assert reckon(name, values).results


ML_PER_FL_OZ = 29.5735295625
"""NIST Handbook 44: the US fluid ounce."""


@pytest.mark.parametrize(
    ("name", "values", "expected"),
    [
        # NIST Handbook 44 and the UK regulations of 1995: 1 US pint is 16 fl oz, a cup 8, an
        # imperial pint 568.26125 mL, a pound 453.59237 g, a grain 0.06479891 g.
        ("convert", {"volume": 568.26125}, {
            "volume": 568.26125, "us_fl_oz": 568.26125 / ML_PER_FL_OZ,
            "us_cup": 568.26125 / ML_PER_FL_OZ / 8, "us_pint": 568.26125 / ML_PER_FL_OZ / 16,
            "imp_fl_oz": 20, "imp_pint": 1, "teaspoon": 113.65225, "tablespoon": 37.884083}),
        ("convert", {"mass": 453.59237}, {"mass": 453.59237, "oz": 16, "lb": 1, "grain": 7000}),
        ("convert", {"strength": 57.1}, {"strength": 57.1, "us_proof_of": 114.2,
                                         "uk_proof_of": 100}),
        ("convert", {"us_proof": 151.0}, {"from_us_proof": 75.5}),
        ("convert", {"uk_proof": 70.0}, {"from_uk_proof": 39.97}),
        # 20 g in 100 mL; 5 fl oz to the ounce are 5 · 29.5735 / 28.3495 mL to the g.
        ("convert", {"ratio": 5.0}, {
            "per_100_ml": 20, "us_true": 5 * ML_PER_FL_OZ / 28.349523125,
            "us_for_true": 5 * 28.349523125 / ML_PER_FL_OZ,
            "imp_true": 5 * 28.4130625 / 28.349523125,
            "imp_for_true": 5 * 28.349523125 / 28.4130625}),
        # 20 g that hold 2 g of water are 18 g of solids in 100 g: 82 % water, 5 to 1.
        ("fresh-dried", {"fresh_sample": 100.0, "dried_sample": 20.0, "mass": 250.0,
                         "dried_target": 30.0},
         {"water": 82, "drying_ratio": 5, "dried": 50, "gather": 150}),
        ("fresh-dried", {"mass": 100.0, "water": 80.0, "left": 20.0},
         {"water": 80, "drying_ratio": 4, "dried": 25}),
        ("drops", {"counted": 40.0, "counted_volume": 2.0, "drops": 30.0, "volume": 3.0},
         {"per_ml": 20, "volume": 1.5, "drops": 60}),
        # From 23 to 51 drops: 102 of them are 2 mL to 102/23, and 2 mL are 46 to 102 of them.
        ("drops", {"strength": 40.0, "drops": 102.0, "volume": 2.0},
         {"per_ml": "23 drops/mL to 51 drops/mL", "volume": "2 mL to 4.43 mL",
          "drops": "46 to 102"}),
        # 500 less 320 mL are 180 mL, 1.8 for each g; 320 of 500 mL are 64 %.
        ("yield", JAR | {"measured": 320.0}, {
            "theoretical": 500, "measured_share": "64 %", "measured_retention": 1.8,
            "strainings": 0, "expected": 320, "share": "64 %"}),
        # Two that kept 1.6 and 2.0 mL/g: their spread is 0.2 · √2.
        ("yield", JAR | {"own": [OWN | {"yield": 340.0}, OWN | {"yield": 300.0}]},
         {"strainings": 2, "spread": 0.282843}),
        ("bottles", {"volume": 435.0, "sizes": [{"size": 100.0, "empties": 3.0}, {"size": 30.0}]},
         {"bottles_1": 1, "bottles_2": 11, "bottled": 430, "left_over": 5, "count": 12}),
        # 5 mL of 40 % are 2 mL of ethanol at 0.78924 g/mL, OIML R 22.
        ("amount", {"volume": 5.0, "strength": 40.0, "herb": 0.2},
         {"ethanol": 1.57848, "ethanol_volume": 2, "herb": 1}),
        ("amount", {"volume": 5.0, "strength": 40.0, "ratio": 2.0},
         {"ethanol": 1.57848, "ethanol_volume": 2, "herb": 2.5}),
        # Of one strength nothing shrinks: 10 g and 8 g in 100 mL, that 100 mL were poured on.
        ("blend", {"parts": [{"volume": 50.0, "strength": 40.0, "ratio": 5.0},
                             {"volume": 50.0, "strength": 40.0, "ratio": 6.25}]},
         {"volume": 100, "strength": 40, "herb": 18, "ratio": 100 / 18, "share_1": 50,
          "herb_1": 0.1, "share_2": 50, "herb_2": 0.08}),
        ("mix", {"liquids": [{"volume": 300.0}, {"volume": 200.0}]},
         {"volume": 500, "strength": 40, "contraction": 0, "ethanol": 200}),
        ("jar-strength", {"herbs": [{"mass": 100.0, "water": 0.0}], "pours": [{"volume": 500.0}]},
         {"strength": 40, "liquid": 500, "ethanol": 200, "contraction": 0, "ratio": 5, "years": 5}),
        ("fill", {"mass": 100.0, "water": 0.0},
         {"strength": 40, "mass": 100, "spirit_1": 500, "water": 0, "poured": 500, "ratio": 5,
          "liquid": 500}),
        ("fill", {"mass": 100.0, "jar": 700.0, "water": 0.0}, {"mass": 100, "needed": 566.667}),
        # 950 mL below the headspace of a litre; 1 g takes 5 mL and 0.667 of its own solids.
        ("fill", {"jar": 1000.0, "water": 0.0}, {"mass": 167, "poured": 835}),
        ("dilute", {"strength": 60.0, "target": 60.0, "volume": 500.0},
         {"water": 0, "result": 500, "strength": 60, "spirit": 500, "contraction": 0}),
        # 750 mL less a third, and 36 g of solids soak up 1.55 mL each of what is left.
        ("simmer", ROOT | {"put_in": 750.0, "kept": 500.0, "drained": 80.0},
         {"kept": 500, "root_water": 44, "all_water": 544.08, "boiled_off": 209.93}),
    ],
)  # fmt: skip
def test_results_agree_with_those_worked_by_hand(name, values, expected):
    found = shown(reckon(name, values))
    for key, value in expected.items():
        if isinstance(value, str):
            assert found[key] == value, key
        else:
            assert found[key] == pytest.approx(value, rel=1e-4, abs=1e-6), key


@pytest.mark.parametrize(
    ("values", "read_at_c", "on_scale"),
    [
        ({}, 20.0, None),
        ({"scale": "percent"}, 20.0, None),
        ({"scale": "us_proof"}, 140 / 9, 80),
        ({"scale": "uk_proof"}, 140 / 9, 40 / 0.571),
        ({"true_at": "60f"}, 140 / 9, 40),
        ({"scale": "us_proof", "true_at": "20c"}, 20.0, 80),
    ],
)
def test_a_reading_at_the_temperature_of_its_scale_is_the_strength(values, read_at_c, on_scale):
    """20 °C for per cent and 60 °F for proof, unless another is printed on the instrument.

    What is 40 % at 60 °F is 40 % at 20 °C to a tenth, as water and ethanol shrink in 4 °C.
    """
    outcome = reckon("alcoholometer", values | {"reading": 40.0, "temperature": read_at_c})
    found = shown(outcome)
    assert found["strength"] == pytest.approx(40, abs=0.1)
    assert found["true_at"] == pytest.approx(read_at_c)
    if on_scale is None:
        assert "on_scale" not in found
    else:
        assert found["on_scale"] == pytest.approx(on_scale, abs=1e-3)


def labels(name: str, values: dict) -> dict[str, str]:
    return {each.key: each.label.plain() for each in reckon(name, values).results}


def test_the_temperature_of_the_spirit_is_shown_where_it_is_not_20_c():
    asked = SEVENTY | {"wanted": 500.0}
    assert labels("dilute", asked)["spirit"] == "Spirit of 70 % vol"
    warm = labels("dilute", asked | {"temperature": 30.0})
    assert warm["spirit"] == "Spirit of 70 % vol, at 30 °C"


def test_no_water_is_listed_where_only_spirit_is_added():
    values = {"strength": 40.0, "target": 60.0, "volume": 500.0, "stronger": 96.0}
    assert "water" not in labels("dilute", values)
    assert "stronger" not in labels("dilute", SEVENTY | {"volume": 500.0})
    drops = {"strength": 40.0, "target": 45.0, "volume": 0.1, "stronger": 96.0, "wanted": 1.0}
    assert {"water", "stronger"} <= labels("dilute", drops).keys()
    assert "water" not in labels("dilute", values | {"volume": 1.0, "target": 45.0})


def test_a_ratio_in_ounces_adds_up_as_printed():
    """5 · 29.5735 is 147.87 mL; ÷ 28.35 g that is 5.216."""
    [said] = reckon("convert", {"ratio": 5.0}).working
    for system in UnitSystem:
        text = fill_in(said.text, said.figures, system, sum=said.sum)
        assert text == (
            "5 US fluid ounces are 147.9 mL; ÷ 28.35 g, an ounce of herb, that is 1:5.22."
        )


@pytest.mark.parametrize(
    ("value", "text"),
    [(0.25, "0.25 mL"), (0.1234, "0.123 mL"), (1.0, "1 mL"), (1.234, "1.23 mL"), (10.04, "10 mL"),
     (12.34, "12.3 mL"), (999.94, "999.9 mL"), (1000.4, "1000 mL"), (-1.234, "-1.23 mL")],
)  # fmt: skip
def test_a_number_has_three_or_four_digits(value, text):
    assert say("{0}", ml(value)).plain() == text


def test_the_way_out_of_a_weak_jar_agrees_with_the_printed_densities():
    """100 g of dried herb bring 10 g of water; fresh leaf at 80 % brings 80 g."""
    dried = reckon("fill", {"mass": 100.0, "target": 50.0, "spirits": WEAK})
    [needed] = [s for s in dried.warnings if "would have to be" in s.text]
    n, needed_abv = (figure.value for figure in needed.figures)
    assert n == 5
    assert mixed([(500, needed_abv), (10 / 0.99823, 0)])[1] == pytest.approx(50, abs=0.05)
    fresh = reckon(
        "fill",
        {"mass": 100.0, "target": 35.0, "spirits": WEAK, "condition": "fresh", "water": 80.0},
    )
    [thinner] = [s for s in fresh.warnings if "gets there" in s.text]
    strength_abv, n = (figure.value for figure in thinner.figures)
    assert strength_abv == 40
    assert mixed([(100 * n, 40), (80 / 0.99823, 0)])[1] == pytest.approx(35, abs=0.05)


@pytest.mark.parametrize(
    ("value", "text"),
    [(3.3333, "3.33 mL"), (33.333, "33.33 mL"), (714.286, "714.3 mL"), (4999.3, "4999.3 mL"),
     (5714.28, "5714 mL"), (57142.8, "57143 mL")],
)  # fmt: skip
def test_a_figure_to_be_checked_has_one_more_digit(value, text):
    assert show(finely(ml(value))) == text


def test_the_densities_of_a_reading_agree_with_the_printed_ones():
    """NBS Bulletin 9: 50 % by weight is 0.91384 g/cc at 20 °C, ethanol 0.78934, water 0.99823."""
    reading = 50 * 0.91384 / 0.78934
    outcome = reckon("alcoholometer", {"reading": reading, "temperature": 20.0})
    assert shown(outcome)["density"] == pytest.approx(0.91384, abs=0.0001)
    means, at_this = outcome.working[:2]
    assert means.figures[1].value == pytest.approx(0.91384, abs=0.0001)
    assert at_this.figures[1].value == pytest.approx(0.91384, abs=0.0001)
    water = reckon("alcoholometer", {"reading": 0.0, "temperature": 20.0})
    assert shown(water)["density"] == pytest.approx(0.99823, abs=0.0001)


@pytest.mark.parametrize("system", UnitSystem)
def test_working_with_tiny_values_can_be_printed(system):
    """What is printed as 0 divides nothing."""
    tiny = 2e-6
    cases: list[tuple[str, dict]] = [
        ("cost", {"spirits": [{"used": 1.0, "bought": tiny, "price": 1.0}], "yield": tiny}),
        ("weigh", {"full": tiny, "empty": 0.0, "strength": 0.0}),
        ("fresh-dried", {"fresh_sample": tiny, "dried_sample": tiny, "mass": tiny}),
        ("drops", {"counted": tiny, "counted_volume": tiny, "drops": tiny, "volume": tiny}),
    ]
    for name, values in cases:
        for said in reckon(name, values).working:
            assert "{" not in fill_in(said.text, said.figures, system, sum=said.sum)


@pytest.mark.parametrize(("small", "fine_as"), [(28.3, 28.3), (0.003, 9.03406)])
def test_a_sum_has_enough_digits_for_its_smallest_part_but_at_most_one_more(small, fine_as):
    """A fiftieth of the total, 451.703 mL, has one decimal more than the total."""
    total, [(_, part)] = adding_up(Kind.VOLUME, (451.7, small))
    assert (total.fine_as, part.fine_as) == (pytest.approx(fine_as), pytest.approx(fine_as))
