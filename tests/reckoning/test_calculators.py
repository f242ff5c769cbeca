"""The registry: all calculators, their working, and what they do with nonsense."""

import re
import subprocess
import sys
from math import isfinite

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stillroom.reckoning import cautions
from stillroom.reckoning.kinds import Figure, Kind
from stillroom.reckoning.registry import Unworkable, calculators

from ..examples import examples
from .outcomes import EXAMPLES, found, reckon, sentences


def test_each_calculator_has_an_example_in_the_order_of_the_list():
    assert list(calculators()) == list(EXAMPLES)


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_calculator_shows_results_working_and_sources(name):
    outcome = reckon(name, **EXAMPLES[name])
    assert outcome.results
    assert outcome.working
    assert outcome.assumptions
    assert outcome.sources
    assert len({result.key for result in outcome.results}) == len(outcome.results)
    for sentence in sentences(outcome):
        plain = sentence.plain()
        assert plain[0].isupper() or plain[0].isdigit()
        assert plain[-1] in ".?"
        assert "{" not in plain


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_caution_is_one_of_the_shared_cautions(name):
    shared = {value for key, value in vars(cautions).items() if key.isupper() and key != "ALL"}
    assert set(reckon(name, **EXAMPLES[name]).cautions) <= shared


@pytest.mark.parametrize("name", ["fill", "simmer", "dilute", "mix"])
def test_cautions_about_spirit_and_fire_are_shown_where_spirit_is_poured(name):
    said = reckon(name, **EXAMPLES[name]).cautions
    assert cautions.FOOD_GRADE in said
    assert cautions.FIRE in said


@pytest.mark.parametrize("name", EXAMPLES)
def test_field_keys_can_be_typed_and_choices_contain_the_default(name):
    for field in calculators()[name].fields:
        for each in (field, *field.columns):
            assert re.fullmatch(r"[a-z_]+", each.key)
            if each.kind is Kind.CHOICE:
                assert each.default in dict(each.choices)
            if each.default is not None and each.kind not in (Kind.CHOICE, Kind.TEXT):
                assert isinstance(each.default, float)


def test_sentences_hold_figures_so_that_any_unit_can_be_shown():
    """No working line has a bare number with a unit of volume or mass typed into it."""
    for name, example in EXAMPLES.items():
        for sentence in reckon(name, **example).working:
            if name == "convert":
                continue  # it states the definitions of the units
            assert not re.search(r"\d (mL|g|oz)\b", sentence.text), sentence.text


def test_the_working_can_be_checked_by_hand():
    outcome = reckon("fill", mass=100.0)
    assert "500 mL at 40 % vol holds 200 mL of ethanol." in [s.plain() for s in outcome.working]


def test_the_fill_calculator_gives_a_plan_that_can_be_poured():
    plan = reckon("fill", mass=100.0, target=30.0, spirits=[{"strength": 96.0}]).plan
    assert plan is not None
    assert plan.charges[0].mass_g == 100
    assert plan.pours[0].strength_abv == 96
    assert plan.pours[0].volume_ml + plan.water_ml == pytest.approx(500)
    assert plan.jar.strength_abv == pytest.approx(30)


def test_the_fill_calculator_finds_the_herb_for_a_jar():
    outcome = reckon("fill", jar=1000.0, ratio=5.0)
    assert found(outcome, "poured") == pytest.approx(5 * found(outcome, "mass"))
    assert found(outcome, "needed") <= 950 * 1.002


def test_the_fill_calculator_shows_a_way_out_where_40_cannot_be_reached():
    outcome = reckon("fill", mass=100.0, ratio=2.0, condition="fresh", target=40.0)
    said = " ".join(sentence.plain() for sentence in outcome.warnings)
    assert "can't be reached" in said
    assert "28.6 % vol" in said
    assert "dry the herb first" in said


def test_the_fill_calculator_adds_up_bottles_of_one_strength():
    bottles = [{"strength": 40.0, "on_hand": 300.0}, {"strength": 40.0, "on_hand": 300.0}]
    outcome = reckon("fill", mass=100.0, spirits=bottles)
    assert not outcome.warnings
    assert found(outcome, "spirit_1") == pytest.approx(500)


def test_the_dilute_calculator_uses_the_given_spirit_before_the_stronger_one():
    """By hand: 700 mL of 40 % holds 280 mL of ethanol; 450 − 280 = 170 mL is in 177.1 of 96 %."""
    outcome = reckon("dilute", strength=40.0, target=45.0, wanted=1000.0, volume=700.0, stronger=96)
    assert found(outcome, "spirit") == pytest.approx(700)
    assert found(outcome, "stronger") == pytest.approx(177.1, abs=0.05)
    enough = reckon("dilute", strength=60.0, target=45.0, wanted=1000.0, stronger=96.0)
    assert found(enough, "spirit") == pytest.approx(750)
    assert "stronger" not in [result.key for result in enough.results]


def test_the_dilute_calculator_counts_the_temperature_of_the_spirit():
    """70 % vol is 62.39 % by weight; the Bureau of Standards prints 0.88650 and 0.88417 g/mL at

    20 °C and 0.87809 and 0.87574 at 30 °C for 62 and 63 %: a litre at 20 °C is 1009.60 mL at 30.
    1 L of 40 % takes 400 / 0.7 = 571.43 mL of it at 20 °C, so 576.9 at 30.
    """
    warm = reckon("dilute", strength=70.0, target=40.0, wanted=1000.0, temperature=30.0)
    assert found(warm, "spirit") == pytest.approx(576.9, abs=0.1)
    assert "576.9 mL measured at 30 °C is 571.4 mL at 20 °C." in [s.plain() for s in warm.working]
    with pytest.raises(Unworkable, match=r"makes 990\.\d mL|makes 991 mL"):
        reckon("dilute", strength=70.0, target=40.0, wanted=1000.0, volume=571.43, temperature=30.0)


def test_the_dilute_calculator_refuses_a_target_of_plain_water():
    with pytest.raises(Unworkable, match="The strength must be above 0 %") as refused:
        reckon("dilute", strength=96.0, target=0.0, volume=500.0)
    assert refused.value.field == "target"


@pytest.mark.parametrize(
    ("values", "last"),
    [
        ({"strength": 96.0, "target": 60.0}, "pour the spirit and make up to the mark with water"),
        (
            {"strength": 40.0, "target": 60.0, "stronger": 96.0},
            "make up to the mark with the stronger one",
        ),
        ({"strength": 40.0, "target": 40.0}, None),
    ],
)
def test_a_mixture_made_up_to_the_mark_shows_what_to_add_last(values, last):
    said = " ".join(s.plain() for s in reckon("dilute", volume=500.0, **values).assumptions)
    assert "make up to the mark" not in said if last is None else last in said


@pytest.mark.parametrize(
    ("name", "values"),
    [
        ("dilute", {"strength": 20.0, "target": 10.0, "volume": 500.0}),
        (
            "jar-strength",
            {"herbs": [{"mass": 400.0, "condition": "fresh"}], "pours": [{"strength": 20.0}]},
        ),
    ],
)
def test_a_mixture_that_expands_is_explained(name, values):
    outcome = reckon(name, **values)
    assert found(outcome, "contraction") < 0
    assert any("swell a little" in sentence.plain() for sentence in outcome.warnings)
    assert any("more." in sentence.plain() for sentence in outcome.working)


def test_an_empty_bottle_is_not_offered_as_a_way_out_of_a_weak_jar():
    spirits = [{"strength": 96.0, "on_hand": 0.0}, {"strength": 40.0}]
    outcome = reckon("fill", mass=100.0, condition="fresh", target=50.0, spirits=spirits)
    assert "96 %" not in " ".join(sentence.plain() for sentence in outcome.warnings)
    empty = reckon("fill", mass=100.0, target=50.0, spirits=spirits[:1])
    assert found(empty, "strength") == 0
    assert "gets there" not in " ".join(sentence.plain() for sentence in empty.warnings)


def test_exactly_enough_spirit_is_accepted():
    spirits = [{"strength": 40.0, "on_hand": 0.1 + 0.2}, {"strength": 50.0, "on_hand": 499.7}]
    assert not reckon("fill", mass=100.0, spirits=spirits).warnings


def test_a_strength_printed_like_the_target_gets_no_warning():
    spirits = [{"strength": 40.0, "on_hand": 300.0}, {"strength": 96.0, "on_hand": 100.0}]
    best = reckon("fill", mass=100.0, target=90.0, spirits=spirits)
    target = round(found(best, "strength"), 1)
    if target <= found(best, "strength"):
        target += 0.04
    said = reckon("fill", mass=100.0, target=target, spirits=spirits).warnings
    assert not said


def test_two_spirits_and_water_make_a_strength():
    outcome = reckon("dilute", strength=40.0, stronger=96.0, target=60.0, wanted=1000.0)
    assert found(outcome, "result") == pytest.approx(1000)
    assert found(outcome, "strength") == pytest.approx(60)


def test_the_dilute_calculator_shows_first_what_to_add():
    def keys(**given):
        return [line.key for line in reckon("dilute", **given).results]

    assert keys(strength=96.0, target=40.0, volume=500.0)[:2] == ["water", "result"]
    assert keys(strength=40.0, target=60.0, volume=500.0, stronger=96.0)[0] == "stronger"
    assert keys(strength=96.0, target=40.0, wanted=500.0)[:2] == ["spirit", "water"]
    assert keys(strength=40.0, target=40.0, volume=500.0)[0] == "water"


@given(
    strength=st.floats(1, 96),
    stronger=st.none() | st.floats(1, 96),
    target=st.floats(1, 96),
    volume=st.none() | st.floats(1, 5000),
    wanted=st.none() | st.floats(1, 5000),
)
def test_the_dilute_calculator_reaches_the_strength_or_refuses(
    strength, stronger, target, volume, wanted
):
    given_fields = {"strength": strength, "stronger": stronger, "target": target}
    try:
        outcome = reckon("dilute", **given_fields, volume=volume, wanted=wanted)
    except Unworkable:
        return
    assert found(outcome, "strength") == pytest.approx(target, abs=0.001)
    if wanted:
        assert found(outcome, "result") == pytest.approx(wanted)


@pytest.mark.parametrize(
    ("given_fields", "said", "field"),
    [
        ({"strength": 40, "target": 60, "stronger": 50, "volume": 500}, "can't be", "stronger"),
        ({"strength": 40, "target": 60, "stronger": 60, "volume": 500}, "can't be", "stronger"),
        ({"strength": 1, "target": 96 - 1e-14, "stronger": 96, "volume": 1}, "can't", "stronger"),
        ({"strength": 40, "target": 60, "stronger": 50, "wanted": 500}, "can't be", "stronger"),
        ({"strength": 96, "target": 40, "volume": 500, "wanted": 3000}, "at most", "wanted"),
    ],
)
def test_the_dilute_calculator_refuses_what_cannot_be_made(given_fields, said, field):
    with pytest.raises(Unworkable, match=said) as refused:
        reckon("dilute", **{name: float(value) for name, value in given_fields.items()})
    assert refused.value.field == field


def test_the_dilute_calculator_reports_what_is_missing():
    with pytest.raises(Unworkable, match="enter a stronger spirit") as refused:
        reckon("dilute", strength=40.0, target=60.0, volume=500.0)
    assert refused.value.field == "stronger"


def test_the_jar_strength_counts_top_ups():
    herbs = [{"mass": 100.0}]
    one = reckon("jar-strength", herbs=herbs, pours=[{"volume": 500.0, "strength": 40.0}])
    two = reckon(
        "jar-strength",
        herbs=herbs,
        pours=[{"volume": 500.0, "strength": 40.0}, {"volume": 250.0, "strength": 0.0}],
    )
    assert found(two, "strength") < found(one, "strength")
    assert found(two, "ethanol") == pytest.approx(found(one, "ethanol"))


def test_the_ratio_counts_the_herb_of_a_tincture_poured_on():
    """The Forager's Path, School of Botanical Studies, "Double maceration", worked example: an
    ounce in 10 fl oz is 1:10; that tincture on a further ounce counts as 1:5."""
    ounce, ten_fl_oz = 28.349523125, 10 * 29.5735295625
    herbs, poured = [{"mass": ounce}], {"volume": ten_fl_oz, "strength": 40.0}
    once = reckon("jar-strength", herbs=herbs, pours=[poured])
    twice = reckon("jar-strength", herbs=herbs, pours=[poured | {"herb": ounce}])
    assert (ten_fl_oz / ounce, found(once, "ratio")) == (
        pytest.approx(10.43, abs=0.01), pytest.approx(ten_fl_oz / ounce),
    )  # fmt: skip
    assert found(twice, "ratio") == pytest.approx(ten_fl_oz / ounce / 2)
    assert any("as on a label" in said.plain() for said in twice.assumptions)
    assert not any("as on a label" in said.plain() for said in once.assumptions)
    assert found(twice, "strength") == found(once, "strength")


def test_the_jar_strength_warns_of_a_jar_that_will_not_keep():
    pours = [{"volume": 500.0, "strength": 15.0}]
    outcome = reckon("jar-strength", herbs=[{"mass": 100.0}], pours=pours)
    assert "Too weak to keep" in found(outcome, "keeping")
    assert outcome.warnings


@pytest.mark.parametrize("herbs", [None, []])
def test_the_jar_strength_needs_a_herb(herbs):
    with pytest.raises(Unworkable, match="Add a row for the herb") as refused:
        reckon("jar-strength", herbs=herbs, pours=[{"volume": 500.0, "strength": 40.0}])
    assert refused.value.field == "herbs"


def test_a_jar_by_eye_is_calculated_without_its_herb_and_marked():
    outcome = reckon("jar-strength", herbs=[{"mass": None, "condition": "fresh"}], pours=[{}])
    assert found(outcome, "ratio") == "unknown (herb not weighed)"
    assert any("weaker than this" in sentence.plain() for sentence in outcome.warnings)


def test_the_simmer_calculator_adds_spirit_for_the_chosen_strength():
    """500 mL to 25 % with 96 %: the sum by hand is in tests/reckoning/test_charge.py."""
    outcome = reckon("simmer", kept=500.0, mass=0.0, spirit=96.0)
    assert found(outcome, "spirit") == pytest.approx(171.5, abs=0.5)
    assert cautions.COOL_FIRST in outcome.cautions


@given(mass=st.floats(1, 500), condition=st.sampled_from(["fresh", "dried"]))
def test_a_simmered_jar_has_the_strength_planned_for_it(mass, condition):
    root = {"mass": mass, "part": "root", "condition": condition}
    plan = reckon("simmer", **root, kept=500.0, spirit=96.0, target=30.0)
    pours = [
        {"volume": 500.0, "strength": 0.0},
        {"volume": found(plan, "spirit"), "strength": 96.0},
    ]
    jar = reckon("jar-strength", herbs=[{**root, "simmered": "yes"}], pours=pours)
    assert found(jar, "strength") == pytest.approx(30.0)
    assert found(jar, "liquid") == pytest.approx(found(plan, "liquid"))


def test_the_simmer_calculator_warns_of_more_liquid_than_there_was_water():
    outcome = reckon("simmer", mass=40.0, put_in=500.0, kept=501.0, spirit=96.0)
    assert any("More liquid was left" in warning.text for warning in outcome.warnings)
    outcome = reckon("simmer", mass=40.0, put_in=500.0, kept=500.0, spirit=96.0)
    assert not any("More liquid was left" in warning.text for warning in outcome.warnings)


def test_the_simmer_calculator_reports_a_spirit_that_is_too_weak():
    outcome = reckon("simmer", mass=40.0, put_in=750.0, spirit=40.0, target=40.0)
    assert found(outcome, "spirit") == "out of reach"
    assert "however much you pour" in outcome.warnings[0].plain()


def test_the_yield_calculator_shows_how_many_strainings_it_rests_on():
    outcome = reckon("yield", **EXAMPLES["yield"])
    assert found(outcome, "strainings") == 1
    assert " to " in found(outcome, "range")
    assert found(outcome, "measured_share") == "64 %"


def test_the_yield_calculator_warns_of_more_than_there_was_in_the_jar():
    outcome = reckon("yield", liquid=500.0, mass=100.0, measured=600.0)
    assert any("More was measured" in sentence.plain() for sentence in outcome.warnings)


@pytest.mark.parametrize(("by_weight", "g_per_ml"), [(0.0, 0.99823), (0.5, 0.91384)])
def test_the_weigh_calculator_names_what_extract_adds_to_the_weight(by_weight, g_per_ml):
    """Water and 50 % by weight as NBS Bulletin 9 prints them at 20 °C.

    100 mL of spirit in which 1 g is dissolved, swelling it by 0.62 mL, is 100.62 mL and weighs a
    gram more; by that weight it would be 100 mL and 1 / density. A percent of it is 1 / 100.62.
    """
    strength = 100 * by_weight * g_per_ml / 0.78934
    outcome = reckon("weigh", full=100 * g_per_ml, empty=0.0, strength=strength)
    assert found(outcome, "density") == pytest.approx(g_per_ml, abs=0.0001)
    assert found(outcome, "volume") == pytest.approx(100, abs=0.02)
    [said] = [s for s in outcome.assumptions if "extract" in s.text]
    too_large = 100 * (100 + 1 / g_per_ml - 100.62) / 100.62
    per_percent = too_large / (100 / 100.62)
    assert said.figures[0].value == pytest.approx(per_percent, abs=0.003)


def test_the_alcoholometer_calculator_explains_why_it_cannot_read_a_tincture():
    assert cautions.NO_HYDROMETER in reckon("alcoholometer", **EXAMPLES["alcoholometer"]).cautions
    assert "dissolved extract" in cautions.NO_HYDROMETER


def test_drops_are_a_range_until_they_are_counted():
    uncounted = reckon("drops", strength=40.0, drops=30.0)
    counted = reckon("drops", drops=30.0, counted=40.0)
    assert " to " in found(uncounted, "per_ml")
    assert " to " in found(uncounted, "volume")
    assert found(counted, "volume") == 0.75


def test_the_amount_calculator_recommends_nothing():
    outcome = reckon("amount", volume=5.0, strength=40.0)
    assert cautions.NO_DOSE in outcome.cautions
    assert not any("take " in sentence.plain() for sentence in sentences(outcome))


def test_a_missing_value_is_refused_at_its_field():
    with pytest.raises(Unworkable, match="Enter the weight of the herb") as refused:
        reckon("fill")
    assert refused.value.field == "mass"
    with pytest.raises(Unworkable, match="Full is needed") as refused:
        reckon("weigh", full=None)
    assert refused.value.field == "full"


def test_a_value_out_of_range_is_refused_at_its_row():
    with pytest.raises(Unworkable, match="from 0 % vol to 100 % vol") as refused:
        reckon("mix", liquids=[{"volume": 5.0}, {"volume": 5.0, "strength": 120.0}])
    assert refused.value.field == "liquids.1.strength"


def test_an_unknown_field_is_refused():
    with pytest.raises(Unworkable, match="no such field"):
        reckon("fill", **{"{weight}": 100.0})


def test_blank_rows_are_ignored():
    rows = [{"volume": None, "strength": None}, {"volume": 100.0, "strength": 40.0}]
    assert found(reckon("mix", liquids=rows), "volume") == pytest.approx(100)


def test_names_with_braces_are_shown_unchanged():
    outcome = reckon("blend", parts=[{"name": "{0} {evil}", "volume": 50.0, "strength": 40.0}])
    assert all(result.label.plain() for result in outcome.results)


AWKWARD = [0.0, 1e-12, 0.5, 1.0, 20.0, 39.99, 40.0, 99.0, 100.0, 1e3, 5e4, 1e9, -1.0]
AWKWARD += [float("nan"), float("inf")]


def any_value(field):
    if field.columns:
        row = st.fixed_dictionaries({}, optional={c.key: any_value(c) for c in field.columns})
        return st.lists(row, max_size=3)
    if field.choices:
        return st.sampled_from([key for key, _ in field.choices])
    if field.kind is Kind.TEXT:
        return st.sampled_from(["", "Elecampane", "{0}", None])
    return st.one_of(st.none(), st.sampled_from(AWKWARD), st.floats(0, 100))


def any_values(name):
    fields = calculators()[name].fields
    return st.fixed_dictionaries({}, optional={field.key: any_value(field) for field in fields})


@pytest.mark.parametrize("name", EXAMPLES)
def test_random_values_are_calculated_or_refused_in_words(name):
    @settings(max_examples=examples(100))
    @given(any_values(name))
    def reckons_or_refuses(values):
        try:
            outcome = calculators()[name].reckon(values)
        except Unworkable as refused:
            said = [str(refused)]
        else:
            said = [sentence.plain() for sentence in sentences(outcome)]
            said += [result.label.plain() + "." for result in outcome.results]
            figures = [r.value for r in outcome.results if isinstance(r.value, Figure)]
            assert all(isfinite(figure.value) for figure in figures)
        for sentence in said:
            assert sentence.endswith((".", "?"))
            assert not {"nan", "inf"} & set(sentence.split())

    reckons_or_refuses()


NOTHING_KNOWN = [name for name in EXAMPLES if name not in ("fill", "dilute", "mix", "jar-strength")]


@pytest.mark.parametrize("name", NOTHING_KNOWN)
def test_without_values_every_calculator_asks_for_a_field(name):
    with pytest.raises(Unworkable) as refused:
        reckon(name)
    assert refused.value.field


def without_one(example, name):
    """The example with each of its amounts left out in turn."""
    for field in calculators()[name].fields:
        if field.key in example and field.required and not field.columns:
            yield field.key, {k: v for k, v in example.items() if k != field.key}
        for column in field.columns if field.key in example else ():
            rows = example[field.key]
            if column.required and rows and column.key in rows[0]:
                row = {k: v for k, v in rows[0].items() if k != column.key}
                yield f"{field.key}.0.{column.key}", example | {field.key: [row, *rows[1:]]}


@pytest.mark.parametrize("name", NOTHING_KNOWN)
def test_a_missing_amount_is_asked_for(name):
    for place, values in without_one(EXAMPLES[name], name):
        with pytest.raises(Unworkable, match="is needed") as refused:
            reckon(name, **values)
        assert refused.value.field == place


@pytest.mark.parametrize(
    ("values", "keys"),
    [
        ({"ratio": 5.0}, {"per_100_ml", "us_true", "us_for_true", "imp_true", "imp_for_true"}),
        ({"us_proof": 80.0}, {"from_us_proof"}),
        ({"mass": 100.0}, {"mass", "oz", "lb", "grain"}),
    ],
)
def test_the_convert_calculator_shows_only_what_was_asked_for(values, keys):
    assert {result.key for result in reckon("convert", **values).results} == keys


def test_importing_the_registry_imports_no_calculator():
    """No calculator is imported until one is opened: a fresh process shows it."""
    code = (
        "import sys, stillroom.reckoning.registry;"
        "print(any('calculators.' in name for name in sys.modules))"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout.strip() == "False"


@pytest.mark.parametrize(
    ("part", "condition", "n"),
    [("leaf", "dried", 5), ("leaf", "fresh", 2), ("resin", "dried", 10)],
)
def test_a_blank_ratio_is_the_default_of_the_part(part: str, condition: str, n: float) -> None:
    """Ph. Eur., Tinctures: 1:5 or 1:10; USP 1890, fresh herbs: 1:2."""
    outcome = calculators()["fill"].reckon(
        {"mass": 100.0, "part": part, "condition": condition, "ratio": None}
    )
    assert outcome.plan is not None
    assert outcome.plan.n == n
