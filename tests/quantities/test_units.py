"""Units have the sizes that law and standards give them."""

import pytest

from stillroom.errors import NotUnderstood
from stillroom.quantities import UnitSystem, parse_mass, parse_strength, parse_volume

METRIC, US, IMPERIAL = UnitSystem

HB44 = "NIST Handbook 44, Appendix C, sections 2 and 4: gallon of 231 in3, 1 in = 2.54 cm"
UK95 = "UK Units of Measurement Regulations 1995 (SI 1995/1804), Schedule"

VOLUMES = [
    ("1 gallon", US, 231 * 2.54**3, HB44),
    ("1 quart", US, 231 / 4 * 2.54**3, HB44),
    ("1 pint", US, 473.176473, HB44),
    ("1 cup", US, 236.5882365, HB44),
    ("1 gill", US, 118.29411825, HB44),
    ("1 fl oz", US, 29.5735295625, HB44),
    ("1 tbsp", US, 14.78676478125, HB44),
    ("1 tsp", US, 4.92892159375, HB44),
    ("1 gallon", IMPERIAL, 4546.09, UK95),
    ("1 quart", IMPERIAL, 1136.5225, UK95),
    ("1 pint", IMPERIAL, 568.26125, UK95),
    ("1 gill", IMPERIAL, 142.0653125, UK95),
    ("1 fl oz", IMPERIAL, 28.4130625, UK95),
    ("1 tsp", METRIC, 5, "21 CFR 101.9(b)(5)(viii)"),
    ("1 tbsp", METRIC, 15, "21 CFR 101.9(b)(5)(viii)"),
    ("1 cup", METRIC, 250, "Standards Association of Australia metric cup (NSW Health chart)"),
    ("1 tsp", IMPERIAL, 5, "the metric spoon"),
    ("1 tbsp", IMPERIAL, 15, "the metric spoon"),
    ("1 cup", IMPERIAL, 250, "the metric cup"),
    ("1 l", METRIC, 1000, "SI Brochure, 9th edition, table 8"),
    ("1 dl", METRIC, 100, "SI Brochure, 9th edition, tables 7 and 8"),
    ("1 cl", METRIC, 10, "SI Brochure, 9th edition, tables 7 and 8"),
    ("1 cm³", METRIC, 1, "SI Brochure, 9th edition, table 8"),
]

MASSES = [
    ("1 lb", 453.59237, UK95),
    ("1 oz", 28.349523125, UK95),
    ("1 grain", 0.06479891, HB44),
    ("1 kg", 1000, "SI Brochure, 9th edition"),
    ("1 mg", 0.001, "SI Brochure, 9th edition"),
]


@pytest.mark.parametrize(("text", "system", "volume_ml", "source"), VOLUMES)
def test_a_us_or_imperial_measure_has_its_published_size(text, system, volume_ml, source):
    assert parse_volume(text, system) == pytest.approx(volume_ml, rel=1e-14), source


@pytest.mark.parametrize("system", UnitSystem)
@pytest.mark.parametrize(("text", "mass_g", "source"), MASSES)
def test_a_weight_has_its_published_size_in_every_system(text, mass_g, source, system):
    assert parse_mass(text, system) == pytest.approx(mass_g, rel=1e-14), source


@pytest.mark.parametrize(
    ("text", "parts", "of"),
    [
        ("1 gallon", 128, "fl oz"),
        ("1 quart", 2, "pints"),
        ("1 pint", 16, "fl oz"),
        ("1 cup", 8, "fl oz"),
        ("1 cup", 16, "tbsp"),
        ("1 tbsp", 3, "tsp"),
    ],
)
def test_us_measures_are_divided_as_handbook_44_has_it(text, parts, of):
    assert parse_volume(text, US) == pytest.approx(parse_volume(f"{parts} {of}", US), rel=1e-14)


@pytest.mark.parametrize(
    ("text", "parts", "of"),
    [
        ("1 gallon", 160, "fl oz"),
        ("1 gallon", 8, "pints"),
        ("1 quart", 2, "pints"),
        ("1 pint", 20, "fl oz"),
        ("1 gill", 5, "fl oz"),
    ],
)
def test_imperial_measures_are_divided_as_the_schedule_has_it(text, parts, of):
    whole = parse_volume(text, IMPERIAL)
    assert whole == pytest.approx(parse_volume(f"{parts} {of}", IMPERIAL), rel=1e-14)


def test_a_us_fluid_ounce_is_the_customary_one_and_not_the_30_ml_of_nutrition_labels():
    """21 CFR 101.9(b)(5)(viii) sets 30 mL "for nutrition labeling purposes" only."""
    assert parse_volume("100 fl oz", US) == pytest.approx(2957.35295625)


def test_us_proof_is_twice_the_percentage():
    """27 CFR 5.1: proof is twice the percentage of ethyl alcohol by volume."""
    assert parse_strength("80 proof", US) == 40
    assert parse_strength("151 proof", US) == 75.5
    assert parse_strength("200 proof", US) == 100


@pytest.mark.parametrize("text", ["80 proof", "80 Proof", "80° proof", "80proof"])
def test_bare_proof_is_asked_about_where_both_kinds_are_in_use(text):
    """80 US proof is 40 %, 80 UK proof 45.7 %: 14 % apart, three times a fluid ounce."""
    with pytest.raises(NotUnderstood, match=r"write e\.g\. 80 US proof, 70 UK proof or 40 %"):
        parse_strength(text, IMPERIAL)
    assert parse_strength(text, UnitSystem.METRIC) == 40
    assert parse_strength(text.lower().replace("proof", " US proof"), IMPERIAL) == 40


def test_uk_proof_spirit_is_57_percent():
    """Published values of 100 UK proof run from 57.06 to 57.15 % v/v; 70° was 40 % on labels."""
    assert 57.06 <= parse_strength("100 UK proof", IMPERIAL) <= 57.15
    assert parse_strength("70° UK proof", IMPERIAL) == pytest.approx(40, abs=0.05)
    assert parse_strength("175 British proof", IMPERIAL) == pytest.approx(100, abs=0.1)
