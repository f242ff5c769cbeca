"""Glycerine, honey and the like with spirit: volumes add, mass and ethanol are conserved."""

import random

import pytest

from stillroom.reckoning.alcoholometry import density, mass_fraction_from_abv
from stillroom.reckoning.mixing import Liquid, added_to_reach_ml, mix

GLYCEROL_G_PER_ML = 1.261
"""CRC Handbook of Chemistry and Physics, glycerol at 20 °C."""


def other(volume_ml: float, g_per_ml: float) -> Liquid:
    return Liquid(volume_ml, other_ml=volume_ml, other_g=volume_ml * g_per_ml)


def test_other_liquids_add_by_volume_and_only_spirit_and_water_contract() -> None:
    """500 mL of 96 % and 500 mL of water are 969.6 mL of 49.5 %, as printed reduction tables have
    it; 300 mL of glycerine go on top."""
    made = mix([Liquid(500, 96), Liquid(500), other(300, GLYCEROL_G_PER_ML)])
    assert made.volume_ml == pytest.approx(969.6 + 300, abs=0.05)
    assert made.strength_abv == pytest.approx(100 * 480 / 1269.6, abs=0.01)
    assert made.contraction_ml == pytest.approx(30.4, abs=0.05)


def test_mass_ethanol_and_other_liquids_are_conserved_through_any_number_of_mixings() -> None:
    luck = random.Random(7)
    for _ in range(300):
        parts = [
            Liquid(luck.uniform(1, 900), luck.uniform(0, 96)) for _ in range(luck.randint(0, 3))
        ] + [other(luck.uniform(1, 500), luck.uniform(0.9, 1.5)) for _ in range(luck.randint(1, 3))]
        luck.shuffle(parts)
        at_once = mix(parts)
        made = mix(parts[:1])
        for part in parts[1:]:  # one by one comes to the same
            made = mix([made.as_liquid, part])
        grams = sum(
            p.other_g or p.volume_ml * density(mass_fraction_from_abv(p.strength_abv)) / 1000
            for p in parts
        )
        assert at_once.mass_g == pytest.approx(grams, rel=1e-9)
        assert made.mass_g == pytest.approx(grams, rel=1e-9)
        assert made.volume_ml == pytest.approx(at_once.volume_ml, rel=1e-9)
        ethanol_ml = sum(p.volume_ml * p.strength_abv / 100 for p in parts)
        assert made.strength_abv * made.volume_ml / 100 == pytest.approx(ethanol_ml, abs=1e-6)
        assert made.other_ml == pytest.approx(sum(p.other_ml for p in parts), rel=1e-9)


@pytest.mark.parametrize("added_abv", [0.0, 96.0])
def test_the_water_or_spirit_for_a_sweetened_tincture_is_found(added_abv: float) -> None:
    base = mix([Liquid(400, 40), other(100, 1.42)])
    target = 20.0 if added_abv == 0 else 50.0
    added_ml = added_to_reach_ml(base, added_abv, target)
    assert added_ml is not None
    made = mix([base.as_liquid, Liquid(added_ml, added_abv)])
    assert made.strength_abv == pytest.approx(target, abs=1e-6)
    assert added_to_reach_ml(base, 30.0, 50.0) is None


def test_without_spirit_the_strength_is_zero() -> None:
    made = mix([other(100, 1.42), other(50, 1.261)])
    assert (made.volume_ml, made.strength_abv, made.contraction_ml) == (150, 0, 0)
