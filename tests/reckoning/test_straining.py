"""Yield and bottles."""

from itertools import product
from time import perf_counter

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stillroom.reckoning.bottling import BottleSize, share_into_bottles
from stillroom.reckoning.conversions import GRAMS_PER_OUNCE, ML_PER_US_FLUID_OUNCE
from stillroom.reckoning.yields import (
    RETENTION,
    Pressing,
    expected_yield,
    learned_retention,
    retention_seen,
    share_of_theoretical,
)

retentions = st.floats(0, 6)


@pytest.mark.parametrize(
    ("pressing", "least_oz", "most_oz"),
    [(Pressing.SQUEEZED, 13, 14), (Pressing.PRESSED, 17, 17)],
)
def test_yield_of_a_published_jar(pressing, least_oz, most_oz):
    """Michael Moore's manual: 4 oz of dry root in 20 fl oz gives 13–14 squeezed, up to 17 pressed.

    Half a fluid ounce, half of the last digit he prints.
    """
    liquid_ml, root_g = 20 * ML_PER_US_FLUID_OUNCE, 4 * GRAMS_PER_OUNCE
    ounces = expected_yield(liquid_ml, root_g, pressing).yield_ml / ML_PER_US_FLUID_OUNCE
    assert least_oz - 0.5 <= ounces <= most_oz + 0.5


def test_one_to_five_pressed_ends_as_published():
    """Kooperation Phytopharmaka: 1:5 by liquid ends as 1:4 to 1:4.5 by what is recovered."""
    assert 400 <= expected_yield(500, 100, Pressing.PRESSED).yield_ml <= 450


def test_harder_pressing_keeps_less_back():
    means = [RETENTION[how].mean for how in Pressing]
    assert means == sorted(means, reverse=True)


def test_published_means_lie_in_the_published_ranges():
    for retention in RETENTION.values():
        assert retention.low <= retention.mean <= retention.high


@given(st.lists(retentions, min_size=1, max_size=12))
def test_own_strainings_pull_the_mean_towards_themselves(own):
    prior = RETENTION[Pressing.SQUEEZED].mean
    learned = learned_retention(Pressing.SQUEEZED, own)
    own_mean = sum(own) / len(own)
    low, high = sorted((prior, own_mean))
    assert low - 1e-9 <= learned.mean <= high + 1e-9
    assert learned.own_count == len(own)


def test_many_agreeing_strainings_narrow_the_range():
    few = learned_retention(Pressing.SQUEEZED, [1.7, 1.7])
    many = learned_retention(Pressing.SQUEEZED, [1.7] * 30)
    assert many.spread < few.spread < RETENTION[Pressing.SQUEEZED].spread


def test_strainings_that_scatter_widen_the_range():
    steady = learned_retention(Pressing.SQUEEZED, [1.6, 1.7, 1.8])
    scattered = learned_retention(Pressing.SQUEEZED, [0.5, 1.7, 2.9])
    assert scattered.spread > steady.spread


@given(st.floats(0, 5000), st.floats(0, 1000), st.sampled_from(Pressing), st.lists(retentions))
def test_yield_stays_within_the_liquid(liquid_ml, dried_g, pressing, own):
    expected = expected_yield(liquid_ml, dried_g, pressing, own)
    assert 0 <= expected.low_ml <= expected.yield_ml <= expected.high_ml <= liquid_ml


@given(st.floats(100, 5000), st.floats(1, 50), st.floats(0, 2))
def test_retention_seen_undoes_the_yield(liquid_ml, dried_g, kept):
    assert retention_seen(liquid_ml, liquid_ml - kept * dried_g, dried_g) == pytest.approx(
        kept, abs=1e-6
    )


def test_share_of_theoretical_is_a_percentage():
    assert share_of_theoretical(360, 480) == 75.0
    with pytest.raises(ValueError, match="more than zero"):
        share_of_theoretical(1, 0)


sizes = st.lists(
    st.builds(BottleSize, st.integers(5, 120), st.one_of(st.none(), st.integers(0, 4))),
    min_size=1,
    max_size=3,
    unique_by=lambda size: size.size_ml,
)


@given(st.integers(0, 300), sizes)
def test_bottles_equal_brute_force(volume_ml, bottle_sizes):
    """Every combination tried: none leaves less over, nor as little in fewer bottles."""
    counts = [
        range(min(volume_ml // size.size_ml, 999 if size.empties is None else size.empties) + 1)
        for size in bottle_sizes
    ]
    best = min(
        (volume_ml - filled, sum(combination))
        for combination in product(*counts)
        for filled in [sum(n * s.size_ml for n, s in zip(combination, bottle_sizes, strict=True))]
        if filled <= volume_ml
    )
    sharing = share_into_bottles(volume_ml, bottle_sizes)
    assert (sharing.left_over_ml, sharing.bottle_count) == best


@given(st.floats(0, 3000), st.lists(st.floats(1, 500), min_size=1, max_size=4))
def test_bottles_never_hold_more_than_there_is(volume_ml, size_list):
    sharing = share_into_bottles(volume_ml, [BottleSize(size) for size in size_list])
    assert sharing.bottled_ml <= volume_ml + 1e-5
    assert sharing.bottled_ml + sharing.left_over_ml == pytest.approx(volume_ml, abs=1e-5)
    assert sharing.left_over_ml < min(size_list) + 0.01 * 3000


def test_ten_fluid_ounces_fill_ten_one_ounce_bottles():
    ounce = ML_PER_US_FLUID_OUNCE
    assert share_into_bottles(10 * ounce, [BottleSize(ounce)]).counts == (10,)


def test_a_sum_a_rounding_short_still_fills_the_bottle():
    assert share_into_bottles(0.1 + 0.2 + 29.7, [BottleSize(30)]).counts == (1,)


def test_limited_empties_are_respected():
    sharing = share_into_bottles(500, [BottleSize(100, 2), BottleSize(50, 3), BottleSize(30)])
    assert sharing.counts[0] <= 2
    assert sharing.counts[1] <= 3
    assert sharing.left_over_ml == 0


def test_large_sharing_is_fast():
    odd = [29.57, 59.15, 118.29, 236.59, 30.0, 50.0]
    started = perf_counter()
    share_into_bottles(5000, [BottleSize(size) for size in odd])
    assert perf_counter() - started < 1.0


@pytest.mark.parametrize("volume_ml", [-1, 50_001, float("nan"), float("inf")])
def test_volume_to_bottle_out_of_range_is_refused(volume_ml):
    with pytest.raises(ValueError, match="from 0 to 50000 mL"):
        share_into_bottles(volume_ml, [BottleSize(50)])


def test_bottle_that_cannot_be_is_refused():
    with pytest.raises(ValueError, match="A bottle must be from 1"):
        BottleSize(0.5)
    with pytest.raises(ValueError, match="zero or more"):
        BottleSize(50, -1)
