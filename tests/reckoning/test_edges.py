"""What holds at the edges: the ends of a range, a value of zero, several where one would do."""

from dataclasses import replace
from math import floor
from random import Random
from statistics import median

import pytest

from stillroom.reckoning.charge import (
    Charge,
    Condition,
    liquid_in_jar,
    mass_for_jar_g,
    most_abv,
    ratio_n,
)
from stillroom.reckoning.conversions import abv_from_uk_proof, us_proof_from_abv
from stillroom.reckoning.costs import Bought, batch_cost
from stillroom.reckoning.filling import plan_fill
from stillroom.reckoning.limits import OutOfRange
from stillroom.reckoning.mixing import Liquid, SpiritOnHand, make_up
from stillroom.reckoning.registry import Unworkable
from stillroom.reckoning.simmering import decoction
from stillroom.reckoning.yields import ExpectedYield, Pressing, learned_retention

from .outcomes import found, reckon


def test_pure_ethanol_is_200_us_proof_and_nothing_is_more() -> None:
    """27 CFR 30.11: proof is twice the percentage."""
    assert us_proof_from_abv(100) == 200
    with pytest.raises(OutOfRange):
        us_proof_from_abv(100.5)


def test_pure_ethanol_is_175_uk_proof_and_nothing_is_more() -> None:
    """Published values of 100 degrees run from 57.06 to 57.15 % vol; 100 / 0.5715 is 175.0."""
    assert abv_from_uk_proof(175) == pytest.approx(100, abs=0.1)
    with pytest.raises(OutOfRange):
        abv_from_uk_proof(176)


def test_no_spirit_and_no_target_is_above_100_percent() -> None:
    assert SpiritOnHand(100).strength_abv == 100
    with pytest.raises(OutOfRange):
        SpiritOnHand(100.5)
    with pytest.raises(OutOfRange):
        make_up([SpiritOnHand(100)], 100.5, 500)


def test_herb_is_never_entirely_water() -> None:
    assert mass_for_jar_g(1000, 2, 0.99) > 0
    with pytest.raises(OutOfRange):
        mass_for_jar_g(1000, 2, 0.995)


@pytest.mark.parametrize("order", [1, -1])
def test_one_herb_by_eye_among_weighed_ones_makes_the_plant_water_unknown(order: int) -> None:
    charges = [Charge(100, 0.1), Charge(None, 0.8)][::order]
    assert liquid_in_jar(charges, [Liquid(500, 40)]).hides_water


def test_herb_without_a_weight_has_no_ratio() -> None:
    assert ratio_n([Charge(0.0, 0.1)], 500) is None


@pytest.mark.parametrize("yield_ml", [0.8, 80.0])
def test_all_the_ethanol_in_the_yield_is_the_highest_possible_strength(yield_ml: float) -> None:
    assert most_abv(40, 0.25 * yield_ml, yield_ml) == pytest.approx(25)


def without_outliers(own: list[float], least_spread: float) -> list[float]:
    """NIST/SEMATECH e-Handbook, 1.3.5.17: 0.6745 × distance ÷ MAD above 3.5 is an outlier.

    The MAD counts as what it would be for the least spread at least.
    """
    middle = median(own)
    mad = max(median(abs(x - middle) for x in own), 0.6745 * least_spread)
    kept = [x for x in own if 0.6745 * abs(x - middle) / mad <= 3.5]
    return kept if kept == own or len(kept) < 4 else without_outliers(kept, least_spread)


def test_outliers_are_found_by_the_modified_z_score() -> None:
    random = Random(5)
    some_left_out = 0
    for _ in range(300):
        centre, scatter = random.uniform(1.5, 4), random.uniform(0.1, 0.8)
        own = [max(0.0, random.gauss(centre, scatter)) for _ in range(random.randint(6, 12))]
        own.append(max(0.0, centre + random.choice((-1, 1)) * random.uniform(2, 6) * scatter))
        kept = without_outliers(own, 0.20)
        if len(kept) < 4:
            continue  # then what is published decides
        learned = learned_retention(Pressing.SQUEEZED, own, Condition.DRIED)
        assert learned.own_count == len(kept), own
        some_left_out += len(kept) < len(own)
    assert 30 < some_left_out < 270


@pytest.mark.parametrize(
    ("jar_ml", "ratio", "step_g"), [(3000, 5, 1.0), (1000, 5, 1.0), (500, 5, 0.1), (60, 7, 0.1),
                                    (5, 9, 0.01)],
)  # fmt: skip
def test_herb_for_a_jar_is_rounded_down_to_the_step_of_a_scale(
    jar_ml: float, ratio: float, step_g: float
) -> None:
    """Neat spirit doesn't swell: the sum of one gram is exact, and the rest is rounding down."""
    outcome = reckon(
        "fill", jar=jar_ml, ratio=ratio, mass=None, target=None, part="leaf",
        condition="dried", water=10.0, spirits=[{"strength": 40.0}],
    )  # fmt: skip
    exact_g = 0.95 * jar_ml / (ratio + 0.1 / 0.99823 + 0.9 / 1.5)
    assert found(outcome, "mass") == pytest.approx(floor(exact_g / step_g) * step_g, abs=1e-9)


def test_a_mixture_without_herb_is_only_its_liquids() -> None:
    """No plant: a litre of water and a litre of water are two litres."""
    outcome = reckon("mix", liquids=[{"volume": 1000.0, "strength": 0.0}] * 2)
    assert found(outcome, "volume") == pytest.approx(2000, abs=1e-6)
    assert found(outcome, "contraction") == pytest.approx(0, abs=1e-6)


def test_an_empty_liquid_is_left_out_of_a_mixture() -> None:
    liquids = [{"volume": 0.0, "strength": 96.0}, {"volume": 500.0, "strength": 40.0}]
    assert found(reckon("mix", liquids=liquids), "strength") == pytest.approx(40, abs=1e-6)


def test_measured_water_is_not_listed_as_assumed() -> None:
    def assumed(**values: object) -> bool:
        outcome = reckon("yield", liquid=500.0, mass=100.0, condition="fresh", **values)
        return any("is taken to hold" in said.plain() for said in outcome.assumptions)

    assert assumed()
    assert not assumed(water=75.0)


def test_strainings_of_other_herbs_have_less_weight() -> None:
    own = [{"liquid": 500.0, "dried": 100.0, "yield": 250.0}] * 3
    values = {"liquid": 500.0, "mass": 100.0, "own": own}
    of_same, of_others = (found(reckon("yield", own_of=of, **values), "expected")
                          for of in ("same", "other"))  # fmt: skip
    assert 250 < of_same < of_others


def test_a_sample_is_weighed_both_fresh_and_dried() -> None:
    for fresh_g, dried_g in ((0.0, 0.0), (0.0, 20.0), (100.0, 0.0)):
        with pytest.raises(Exception, match="must be greater than zero"):
            reckon("fresh-dried", fresh_sample=fresh_g, dried_sample=dried_g, dried_target=50.0)


def test_an_item_without_a_price_costs_nothing() -> None:
    spirits = [{"used": 500.0, "bought": 700.0, "price": 21.0}]
    cost = reckon("cost", spirits=spirits, bottle=50.0, **{"yield": 300.0})
    assert found(cost, "total") == pytest.approx(15.0)
    assert found(cost, "per_bottle") == pytest.approx(50 * 15.0 / 300)


def test_a_ratio_is_converted_to_herb_in_100_ml() -> None:
    """1:5 is 1 g in 5 mL: 20 g in 100 mL."""
    results = {result.key: result for result in reckon("convert", ratio=5.0).results}
    assert results["per_100_ml"].label.plain() == "Herb in 100 mL"
    assert found(reckon("convert", ratio=5.0), "per_100_ml") == pytest.approx(20)


def test_water_is_weighed_only_where_there_is_some() -> None:
    def weighs(**values: object) -> bool:
        working = reckon("dilute", volume=500.0, strength=60.0, **values).working
        return any("is water" in said.plain() for said in working)

    assert weighs(target=40.0)
    assert not weighs(target=70.0, stronger=96.0)


def test_half_a_gram_of_herb_has_a_cost() -> None:
    cost = batch_cost([], [Bought(0.5, 5, 10.0)], 0.0, 20)
    assert cost.per_herb_g == pytest.approx(1.0 / 0.5)


def test_herb_by_eye_cannot_be_planned() -> None:
    with pytest.raises(OutOfRange, match="weight of herb"):
        plan_fill(Charge(None, 0.1), 5, [SpiritOnHand(40)])


def test_a_root_drained_to_its_dry_solids_holds_no_water() -> None:
    """What was put in and the root's own water, less a third of it boiled off, are all kept."""
    root = Charge(40, 0.7)
    pot = decoction(root, put_in_ml=750, boiled_off_fraction=1 / 3, drained_g=root.solids_g)
    assert pot.kept_ml * 0.99823 == pytest.approx(750 * 0.99823 * 2 / 3 + 28, abs=0.02)


def test_a_number_is_not_a_list_of_liquids() -> None:
    for given in (5, 5.0, "five"):
        with pytest.raises(Unworkable, match="must be a list"):
            reckon("mix", liquids=given)


def test_a_yield_at_the_end_of_the_expected_range_is_not_odd() -> None:
    """All figures are exact in binary: 500 mL in the jar, 1 to 3 mL kept by each of 100 g."""
    learned = replace(learned_retention(Pressing.SQUEEZED), mean=1.0, least=1.0, most=3.0)
    expected = ExpectedYield(300.0, 250.0, 350.0, 500.0, learned, 100.0)
    narrow = replace(expected, yield_ml=0.0)  # far from either end, so that the ends decide
    assert not narrow.is_odd(400.0)
    assert not narrow.is_odd(200.0)
    assert narrow.is_odd(401.0)
    assert narrow.is_odd(199.0)


def test_the_prior_scatter_counts_as_four_strainings() -> None:
    """The weight of four and the spreads of 0.20 and 0.40 are judgement, as DEVELOPERS.md says."""
    own = [1.5, 1.9]
    variance = (4 * 0.20**2 + 2 * 0.2**2) / (4 + 1)
    k = variance / 0.40**2
    learned = learned_retention(Pressing.SQUEEZED, own)
    assert learned.spread == pytest.approx((variance * (1 + 1 / (k + 2))) ** 0.5)
