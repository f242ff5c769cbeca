"""The short sums: drying, weighing, drops, blends, alcohol in an amount, cost, units."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stillroom.reckoning import conversions
from stillroom.reckoning.blending import BlendedTincture, blend
from stillroom.reckoning.costs import Bought, batch_cost, bottle_cost
from stillroom.reckoning.doses import ethanol_g, herb_equivalent_g, in_each_ml, label_statements
from stillroom.reckoning.drops import (
    drops_in_volume,
    drops_per_ml,
    drops_per_ml_range,
    volume_of_drops_ml,
)
from stillroom.reckoning.drying import (
    dried_equivalent_g,
    drying_ratio,
    fresh_needed_g,
    water_fraction_from_drying,
)
from stillroom.reckoning.mixing import mass_from_volume_g
from stillroom.reckoning.weighing import contents_ml


def test_the_drying_ratio_agrees_with_the_usda_table(printed):
    """USDA SR28 water contents; the ratio is printed to two places at 10 % residual water."""
    for row in printed("fresh_water_content_usda_sr28"):
        ratio = drying_ratio(float(row["water_pct"]) / 100, 0.10)
        assert ratio == pytest.approx(float(row["dry_ratio_at_10pct"]), abs=0.006)


def test_the_loss_in_drying_agrees_with_growers_ratios(printed):
    """A loss of x % is a ratio of 100 / (100 − x), whatever water is left in the dried herb."""
    for row in printed("drying_loss_by_part"):
        loss = float(row["loss_pct_A"])
        water = water_fraction_from_drying(100, 100 - loss)
        assert drying_ratio(water) == pytest.approx(float(row["ratio_A"]), abs=0.005)


@given(st.floats(1, 5000), st.floats(0, 0.95), st.floats(0, 0.3))
def test_fresh_to_dried_is_the_inverse_of_dried_to_fresh(mass_g, water, left):
    dried = dried_equivalent_g(mass_g, water, left)
    assert fresh_needed_g(dried, water, left) == pytest.approx(mass_g)
    if 0 < dried <= mass_g:
        assert water_fraction_from_drying(mass_g, dried, left) == pytest.approx(water, abs=1e-9)


def test_herb_cannot_gain_weight_in_drying():
    with pytest.raises(ValueError, match="no more than the fresh weight"):
        water_fraction_from_drying(50, 60)
    with pytest.raises(ValueError, match="from 0 to 99"):
        drying_ratio(1.0)


def test_a_spirit_bottle_is_measured_by_weight():
    """NBS (1913): 50 % by weight is 0.91384 g/mL at 20 °C, so 91.384 g of it is 100 mL.

    Its strength by volume is 0.50 · 0.91384 / 0.78934, ethanol from the same table.
    """
    strength_abv = 100 * 0.50 * 0.91384 / 0.78934
    assert contents_ml(211.384, 120, strength_abv) == pytest.approx(100, abs=0.02)


@given(st.floats(0, 1000), st.floats(0, 1000), st.floats(0, 100))
def test_weighing_is_the_inverse_of_filling(volume_ml, tare_g, strength_abv):
    gross_g = tare_g + mass_from_volume_g(volume_ml, strength_abv)
    assert contents_ml(gross_g, tare_g, strength_abv) == pytest.approx(volume_ml, abs=1e-6)


def test_a_weight_less_than_that_of_the_empty_bottle_is_refused():
    with pytest.raises(ValueError, match="at least the empty weight, 120 g"):
        contents_ml(100, 120, 40)


def test_the_ranges_of_drops_include_the_old_tables(printed):
    """Gorgas and Buchheister as printed: watery to 20, spirituous from 23, each within its range.

    Outside by design: syrup and glycerin, which are neither.
    """
    watery, strong = drops_per_ml_range(0), drops_per_ml_range(45)
    for row in printed("drops_old_tables"):
        if not row["drops_per_ml"] or row["liquid"] in ("glycerin", "syrups"):
            continue
        span = watery if "water" in row["liquid"] else strong
        assert span.low <= float(row["drops_per_ml"]) <= span.high


def test_the_pharmacopoeia_dropper_gives_20_drops_of_water():
    """Ph. Eur. and USP medicine dropper: 20 drops of water weigh about 1 g."""
    assert drops_per_ml_range(0).high == 20


def test_drops_of_a_weak_tincture_are_between_those_of_water_and_spirit():
    span = drops_per_ml_range(10)
    assert span.low == drops_per_ml_range(0).low
    assert span.high == drops_per_ml_range(45).high


@given(st.floats(0, 500), st.floats(10, 60))
def test_drops_to_volume_is_the_inverse_of_volume_to_drops(drops, per_ml):
    volume_ml = volume_of_drops_ml(drops, per_ml)
    assert drops_in_volume(volume_ml, per_ml) == pytest.approx(drops)
    if drops > 1:
        assert drops_per_ml(drops, volume_ml) == pytest.approx(per_ml)


def test_a_blend_counts_herb_and_shares():
    """By hand: 60 mL at 1:5 is 12 g, 40 mL at 1:2 is 20 g; 60 + 40 mL were poured on the 32 g."""
    made = blend([BlendedTincture(60, 45, 5), BlendedTincture(40, 60, 2)])
    assert [share.herb_g for share in made.shares] == [12, 20]
    assert [share.share_percent for share in made.shares] == [60, 40]
    assert made.n == pytest.approx(100 / 32)


def test_the_herb_in_a_blend_is_per_volume_of_the_blend_and_not_of_its_parts():
    """100 mL of ethanol weigh 78.92 g; with 96.63 mL of water, 96.46 g, they are 45 % by weight, of
    which NBS Bulletin 9 prints 0.92472 g/cc at 20 °C: 189.7 mL, not 196.6."""
    parts = [
        BlendedTincture(100, 100, herb_g_per_ml=0.3),
        BlendedTincture(96.63, 0, herb_g_per_ml=0.1),
    ]
    for share, herb_g in zip(blend(parts).shares, (30, 9.663), strict=True):
        assert share.herb_g_per_ml == pytest.approx(herb_g / (175.38 / 0.92472), rel=0.0005)


def test_herb_per_ml_comes_before_the_ratio_and_the_ratio_stays_that_of_what_was_poured():
    """50 mL that hold 0.3 g each, of 1:2, stand for 15 g that 30 mL were poured on."""
    made = blend([BlendedTincture(50, 40, 2, "", 0.3), BlendedTincture(50, 40, 2)])
    assert [share.herb_g for share in made.shares] == [15, 25]
    assert made.n == pytest.approx(2)
    assert blend([BlendedTincture(50, 40, herb_g_per_ml=0.3)]).n is None


def test_a_blend_with_a_part_by_eye_has_no_figure_for_herb():
    made = blend([BlendedTincture(60, 45, 5), BlendedTincture(40, 60)])
    assert made.herb_g is None
    assert made.n is None
    assert made.shares[0].herb_g == 12


def test_a_blend_without_herb_has_no_ratio():
    made = blend([BlendedTincture(50, 40, 5, "", 0.0), BlendedTincture(50, 40, 2, "", 0.0)])
    assert (made.herb_g, made.n) == (0, None)


def test_a_blend_of_zero_volume_is_refused():
    with pytest.raises(ValueError, match="at least one tincture"):
        blend([BlendedTincture(0, 40, 5)])


def test_a_us_standard_drink_is_14_grams():
    """US NIAAA: 0.6 US fluid ounces of pure alcohol is 14 g, as in 1.5 fl oz of 80 proof."""
    ounce = conversions.ML_PER_US_FLUID_OUNCE
    assert ethanol_g(1.5 * ounce, 40) == pytest.approx(14, abs=0.5)
    assert ethanol_g(0.6 * ounce, 100) == pytest.approx(14, abs=0.5)


def test_a_uk_unit_is_eight_grams():
    """UK unit: 10 mL of pure alcohol, 8 g (UK Chief Medical Officers' guidelines, 2016)."""
    assert ethanol_g(25, 40) == pytest.approx(8, abs=0.5)


@pytest.mark.parametrize(
    ("grams", "above"),
    [
        (0.0, []),
        (0.05, [0.0]),
        (0.06, [0.0, 0.05]),
        (0.1, [0.1, 0.05]),
        (0.6, [0.1, 0.5]),
        (3.0, [0.1, 0.5]),
        (3.1, [3.0, 3.0]),
    ],
)
def test_label_statements_change_at_the_limits_of_the_rules(grams, above):
    """EU 2003: below 100 mg, 100 mg to 3 g, above 3 g. AMWarnV: 0.05–0.5 g, above 0.5 and 3 g."""
    assert [statement.above_g for statement in label_statements(grams)] == above


def test_a_label_limit_is_counted_as_its_rule_has_it():
    """EU 2003: "100 mg to 3 g" counts 100 mg itself, "above 3 g" doesn't; AMWarnV: all above."""
    named = {(t.above_g, t.where) for grams in (0.06, 0.1, 0.6, 4) for t in label_statements(grams)}
    assert named == {
        (0.0, "any amount"),
        (0.05, "above {0}"),
        (0.1, "from {0}"),
        (0.5, "above {0}"),
        (3.0, "above {0}"),
    }


def test_a_finished_tincture_counts_its_herb_by_volume():
    """USP: 20 g in 100 mL of finished tincture, so 5 mL hold 1 g."""
    assert herb_equivalent_g(5, in_each_ml(20, 100)) == pytest.approx(1.0)


@given(st.floats(1, 1000), st.floats(1, 5000), st.floats(0, 2))
def test_strained_liquid_and_marc_hold_all_that_went_in(herb_g, liquid_ml, out):
    strained_ml = liquid_ml * out
    marc_ml = max(0.0, liquid_ml - strained_ml)
    per_ml = in_each_ml(herb_g, liquid_ml, strained_ml)
    assert per_ml * strained_ml + per_ml * marc_ml == pytest.approx(herb_g)


def test_the_cost_includes_what_was_lost():
    """By hand: 500 of 700 mL at 21.00 is 15.00, 100 of 250 g at 10.00 is 4.00, over 380 mL."""
    cost = batch_cost([Bought(500, 700, 21)], [Bought(100, 250, 10)], 1.0, 400)
    assert cost.total == 20
    assert cost.per_ml == 0.05
    assert cost.per_herb_g == 0.2
    assert bottle_cost(cost, 50, 0.75) == 3.25
    assert batch_cost([Bought(500, 700, 21)], [], 0, 400).per_herb_g is None


def test_a_cost_divided_by_zero_is_refused():
    with pytest.raises(ValueError, match="greater than zero"):
        batch_cost([], [], 0, 0)
    with pytest.raises(ValueError, match="greater than zero"):
        Bought(1, 0, 5)


@pytest.mark.parametrize(
    ("unit", "constant"),
    [
        ("US fluid ounce", conversions.ML_PER_US_FLUID_OUNCE),
        ("Imperial fluid ounce", conversions.ML_PER_IMPERIAL_FLUID_OUNCE),
        ("avoirdupois ounce", conversions.GRAMS_PER_OUNCE),
        ("avoirdupois pound", conversions.GRAMS_PER_POUND),
        ("US pint", conversions.ML_PER_US_PINT),
        ("Imperial pint", conversions.ML_PER_IMPERIAL_PINT),
        ("metric teaspoon", conversions.ML_PER_TEASPOON),
        ("metric tablespoon", conversions.ML_PER_TABLESPOON),
        ("grain", conversions.GRAMS_PER_GRAIN),
    ],
)
def test_units_agree_with_their_definitions(printed, unit, constant):
    row = next(row for row in printed("units_exact") if row["unit"] == unit)
    assert constant == pytest.approx(float(row["value"]), rel=1e-12)


def test_us_proof_is_twice_the_percentage():
    """27 CFR 30.11; a 151 proof rum is 75.5 % on its label."""
    assert conversions.us_proof_from_abv(40) == 80
    assert conversions.abv_from_us_proof(151) == 75.5


def test_uk_proof_agrees_with_old_bottles():
    """Gin of 70° proof was sold as 40 % vol when labels changed in 1980 (from memory)."""
    assert conversions.abv_from_uk_proof(70) == pytest.approx(40, abs=0.05)
    assert conversions.uk_proof_from_abv(57.1) == pytest.approx(100)


def test_one_to_five_in_ounces_depends_on_the_system_of_units():
    """An imperial fluid ounce of water weighs an ounce; a US one 4 % more.

    28.4130625 / 28.349523125 and 29.5735295625 / 28.349523125, from the definitions.
    """
    imperial, us = conversions.ML_PER_IMPERIAL_FLUID_OUNCE, conversions.ML_PER_US_FLUID_OUNCE
    assert conversions.true_n_from_ounces(5, imperial) == pytest.approx(5.011, abs=0.0005)
    assert conversions.true_n_from_ounces(5, us) == pytest.approx(5.216, abs=0.0005)
    assert conversions.fluid_ounces_for_ounce(5, us) == pytest.approx(25 / 5.216, abs=0.001)


@given(st.floats(0.5, 20))
def test_ounces_for_a_true_ratio_are_the_inverse_of_the_ratio(n):
    size = conversions.ML_PER_US_FLUID_OUNCE
    ounces = conversions.fluid_ounces_for_ounce(n, size)
    assert conversions.true_n_from_ounces(ounces, size) == pytest.approx(n)


@pytest.mark.parametrize("proof", [-1, 200.1, float("nan")])
def test_proof_out_of_range_is_refused_with_the_limit(proof):
    with pytest.raises(ValueError, match="from 0 to 200"):
        conversions.abv_from_us_proof(proof)
