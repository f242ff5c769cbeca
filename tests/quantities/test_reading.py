"""Quantities are read as people write them, and never as something else."""

import math
import re

import pytest

from stillroom import quantities
from stillroom.errors import NotUnderstood
from stillroom.quantities import UnitSystem, parse
from stillroom.reckoning.kinds import Figure, Kind

METRIC, US, IMPERIAL = UnitSystem
THIN, NARROW, HARD = "\u2009", "\u202f", "\u00a0"

US_CUP, US_OUNCE, UK_OUNCE = 236.5882365, 29.5735295625, 28.4130625
OZ, LB = 28.349523125, 453.59237


@pytest.mark.parametrize(
    ("text", "volume_ml"),
    [
        ("250ml", 250),
        ("250 ml", 250),
        ("250 mL", 250),
        ("250 ML", 250),
        ("250 ml.", 250),
        (" 250  ml ", 250),
        (f"250{HARD}ml", 250),
        (f"250{NARROW}ml", 250),
        ("２５０ｍｌ", 250),
        ("250 cc", 250),
        ("250 cm3", 250),
        ("250cm³", 250),
        ("250 millilitres", 250),
        ("500", 500),
        ("0", 0),
        ("007 ml", 7),
        ("1.5 l", 1500),
        ("1.5l", 1500),
        ("1,5 L", 1500),
        ("0,5 l", 500),
        (".5 l", 500),
        (",5 l", 500),
        ("1.5 ℓ", 1500),
        ("7 dl", 700),
        ("70 cl", 700),
        ("70cl", 700),
        ("½ litre", 500),
        ("1½ l", 1500),
        ("1 ½ l", 1500),
        ("1 1/2 l", 1500),
        ("1-1/2 l", 1500),
        ("1 1⁄2 l", 1500),
        ("3/4 l", 750),
        ("¾ l", 750),
        ("half a litre", 500),
        ("half a liter", 500),
        ("a litre", 1000),
        ("two litres", 2000),
        ("1 L 250 ml", 1250),
        ("1l250ml", 1250),
        ("1 l, 250 ml", 1250),
        ("1 l and 250 ml", 1250),
        ("1 cup and 2 tbsp", 280),
        ("1 1/2 cups", 375),
        ("2 tsp", 10),
        ("8 fl oz", 8 * US_OUNCE),
        ("8 fl. oz.", 8 * US_OUNCE),
        ("8fl.oz.", 8 * US_OUNCE),
        ("8 floz", 8 * US_OUNCE),
        ("8 fluid ounces", 8 * US_OUNCE),
        ("8 UK fl oz", 8 * UK_OUNCE),
        ("8 imp. fl. oz.", 8 * UK_OUNCE),
        ("8 fl oz UK", 8 * UK_OUNCE),
        ("1 US pint", 16 * US_OUNCE),
        ("1 U.S. pint", 16 * US_OUNCE),
        ("1 imperial pint", 20 * UK_OUNCE),
        ("1 US cup", US_CUP),
    ],
)
def test_a_volume_is_read_as_written_in_a_metric_kitchen(text, volume_ml):
    assert quantities.parse_volume(text) == pytest.approx(volume_ml, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "us_ml", "imperial_ml"),
    [
        ("8 fl oz", 8 * US_OUNCE, 8 * UK_OUNCE),
        ("8", 8 * US_OUNCE, 8 * UK_OUNCE),
        ("14,5", 14.5 * US_OUNCE, 14.5 * UK_OUNCE),
        ("1 pint", 16 * US_OUNCE, 20 * UK_OUNCE),
        ("1 pint 4 fl oz", 20 * US_OUNCE, 24 * UK_OUNCE),
        ("1½ cups", 1.5 * US_CUP, 375),
        ("1 1/2 cups", 1.5 * US_CUP, 375),
        ("1 metric cup", 250, 250),
        ("2 qt", 64 * US_OUNCE, 80 * UK_OUNCE),
        ("250 ml", 250, 250),
    ],
)
def test_a_volume_follows_the_system_of_units(text, us_ml, imperial_ml):
    assert quantities.parse_volume(text, US) == pytest.approx(us_ml, rel=1e-12)
    assert quantities.parse_volume(text, IMPERIAL) == pytest.approx(imperial_ml, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "mass_g"),
    [
        ("120", 120),
        ("120g", 120),
        ("120 gm", 120),
        ("120 grams", 120),
        ("1.2 kg", 1200),
        ("1,2kg", 1200),
        ("1 kg 200 g", 1200),
        ("half a kilo", 500),
        ("500 mg", 0.5),
        ("10 oz", 10 * OZ),
        ("10 oz.", 10 * OZ),
        ("1 lb", LB),
        ("2 lb 3 oz", 2 * LB + 3 * OZ),
        ("2 lbs, 3 oz", 2 * LB + 3 * OZ),
        ("2lb3oz", 2 * LB + 3 * OZ),
        ("¼ lb", LB / 4),
        ("an ounce", OZ),
    ],
)
def test_a_mass_is_read_in_many_forms(text, mass_g):
    assert quantities.parse_mass(text) == pytest.approx(mass_g, rel=1e-12)


def test_a_bare_mass_is_in_ounces_under_us_and_imperial():
    assert quantities.parse_mass("4", US) == pytest.approx(4 * OZ)
    assert quantities.parse_mass("4", IMPERIAL) == pytest.approx(4 * OZ)


@pytest.mark.parametrize(
    ("text", "strength_abv"),
    [
        ("40%", 40),
        ("40", 40),
        ("40 %", 40),
        ("40 % vol", 40),
        ("40% vol.", 40),
        ("40 abv", 40),
        ("40% ABV", 40),
        ("40 % v/v", 40),
        ("40 per cent", 40),
        ("37,5 %", 37.5),
        ("12.345 %", 12.345),
        ("0.5 %", 0.5),
        ("80 proof", 40),
        ("80° proof", 40),
        ("70 UK proof", 39.97),
        ("96", 96),
    ],
)
def test_a_strength_is_read_in_many_forms(text, strength_abv):
    assert quantities.parse_strength(text) == pytest.approx(strength_abv)


@pytest.mark.parametrize(
    ("kind", "text", "system", "value"),
    [
        (Kind.RATIO, "1:5", METRIC, 5),
        (Kind.RATIO, "1 : 2,5", METRIC, 2.5),
        (Kind.RATIO, "1∶5", METRIC, 5),
        (Kind.RATIO, "5", METRIC, 5),
        (Kind.RATIO, "1/5", METRIC, 5),
        (Kind.RATIO, "1 to 5", METRIC, 5),
        (Kind.RATIO, "1:1.250", METRIC, 1.25),
        (Kind.RATIO, "10", METRIC, 10),
        (Kind.RATIO, "1:2½", METRIC, 2.5),
        (Kind.RATIO, "1½", METRIC, 1.5),
        (Kind.PERCENT, "75", METRIC, 75),
        (Kind.PERCENT, "7,5 %", METRIC, 7.5),
        (Kind.PERCENT, "75 percent", METRIC, 75),
        (Kind.TEMPERATURE, "20", METRIC, 20),
        (Kind.TEMPERATURE, "20 °C", US, 20),
        (Kind.TEMPERATURE, "20 ℃", US, 20),
        (Kind.TEMPERATURE, "20c", US, 20),
        (Kind.TEMPERATURE, "68", US, 20),
        (Kind.TEMPERATURE, "68 F", METRIC, 20),
        (Kind.TEMPERATURE, "68°F", IMPERIAL, 20),
        (Kind.TEMPERATURE, "-5", METRIC, -5),
        (Kind.TEMPERATURE, "−5 °C", METRIC, -5),
        (Kind.TEMPERATURE, "-40 F", METRIC, -40),
        (Kind.TEMPERATURE, "+20", METRIC, 20),
        (Kind.DENSITY, "0.95", METRIC, 0.95),
        (Kind.DENSITY, "1.005", METRIC, 1.005),
        (Kind.DENSITY, "0,95 g/ml", US, 0.95),
        (Kind.DENSITY, "950 kg/m3", METRIC, 0.95),
        (Kind.DENSITY, "950 kg/m³", METRIC, 0.95),
        (Kind.DENSITY, "0.95 g / cm3", METRIC, 0.95),
        (Kind.DENSITY, "0.95 g per ml", METRIC, 0.95),
        (Kind.RETENTION, "1.5", METRIC, 1.5),
        (Kind.RETENTION, "1,5 ml/g", METRIC, 1.5),
        (Kind.CONCENTRATION, "0.2 g/ml", METRIC, 0.2),
        (Kind.CONCENTRATION, "200 mg/ml", METRIC, 0.2),
        (Kind.COUNT, "12", METRIC, 12),
        (Kind.COUNT, "1,250", METRIC, 1250),
        (Kind.NUMBER, "2,5", METRIC, 2.5),
        (Kind.NUMBER, "0.250", METRIC, 0.25),
        (Kind.MONEY, "12.50", METRIC, 12.5),
        (Kind.MONEY, "12,50", METRIC, 12.5),
        (Kind.MONEY, "£12.50", METRIC, 12.5),
        (Kind.MONEY, "12.50 €", METRIC, 12.5),
        (Kind.MONEY, "1,250.00", METRIC, 1250),
        (Kind.MONEY, "1.250,00", METRIC, 1250),
        (Kind.MONEY_PER_ML, "30", METRIC, 0.03),
        (Kind.MONEY_PER_ML, "28", US, 28 / (32 * US_OUNCE)),
        (Kind.MONEY_PER_ML, "17", IMPERIAL, 17 / (20 * UK_OUNCE)),
        (Kind.MONEY_PER_G, "50", METRIC, 0.05),
        (Kind.MONEY_PER_G, "24", US, 24 / LB),
        (Kind.MONEY_PER_ML, "21 per 700 ml", METRIC, 0.03),
        (Kind.MONEY_PER_ML, "£21 for 70 cl", METRIC, 0.03),
        (Kind.MONEY_PER_ML, "30/l", METRIC, 0.03),
        (Kind.MONEY_PER_ML, "30 per litre", METRIC, 0.03),
        (Kind.MONEY_PER_ML, "30 € per litre", METRIC, 0.03),
        (Kind.MONEY_PER_ML, "15 per half a litre", METRIC, 0.03),
        (Kind.MONEY_PER_G, "12.50 per 250 g", METRIC, 0.05),
        (Kind.MONEY_PER_G, "12 per lb", US, 12 / LB),
        (Kind.DAYS, "14", METRIC, 14),
        (Kind.DAYS, "14 days", METRIC, 14),
        (Kind.DAYS, "1 day", METRIC, 1),
        (Kind.DAYS, "2 weeks", METRIC, 14),
        (Kind.DAYS, "6 wk", METRIC, 42),
        (Kind.DAYS, "a fortnight", METRIC, 14),
        (Kind.DAYS, "three weeks", METRIC, 21),
        (Kind.VOLUME, "1 1/2 cups", US, 1.5 * US_CUP),
        (Kind.MASS, "2 lb 3 oz", US, 2 * LB + 3 * OZ),
        (Kind.STRENGTH, "70 UK proof", IMPERIAL, 39.97),
    ],
)
def test_each_kind_of_quantity_is_read_by_its_own_rules(kind, text, system, value):
    assert parse(kind, text, system) == pytest.approx(value, rel=1e-12)


def test_a_yield_may_be_measured_by_jug_or_by_scale():
    assert quantities.parse_volume_or_mass("430 ml") == Figure(Kind.VOLUME, 430)
    assert quantities.parse_volume_or_mass("410 g") == Figure(Kind.MASS, 410)
    assert quantities.parse_volume_or_mass("430") == Figure(Kind.VOLUME, 430)
    assert quantities.parse_volume_or_mass("10 oz", US) == Figure(Kind.MASS, 10 * OZ)
    assert quantities.parse_volume_or_mass("10 fl oz", US).kind is Kind.VOLUME


def test_counts_and_days_are_whole_numbers():
    assert isinstance(quantities.parse_count("12"), int)
    assert isinstance(quantities.parse_days("2 weeks"), int)


@pytest.mark.parametrize(
    "text",
    ["1,250 ml", "1.250 ml", "1,250", "1.250", "999.999 ml", "1.250 fl oz", "2 l 1.250 ml"],
)
def test_one_mark_before_three_digits_is_refused_where_it_is_ambiguous(text):
    with pytest.raises(NotUnderstood, match=r"Could be .* or .*: write"):
        quantities.parse_volume(text)


def test_the_refusal_of_a_thousands_mark_shows_what_to_write():
    with pytest.raises(NotUnderstood) as caught:
        quantities.parse_volume("1,250 ml")
    assert str(caught.value) == "Could be 1.25 or 1250: write 1.25 or 1250."
    assert quantities.parse_volume("1.25 ml") == 1.25
    assert quantities.parse_volume("1250 ml") == 1250
    with pytest.raises(NotUnderstood, match=r"write 1\.2340 or 1234\."):
        quantities.parse_volume("1,234 ml")
    assert quantities.parse_volume("1.2340 ml") == 1.234


@pytest.mark.parametrize(
    ("text", "volume_ml"),
    [
        ("1.250 l", 1250),
        ("1,250 l", 1250),
        ("1.000 l", 1000),
        ("0.250 l", 250),
        ("0,250 ml", 0.25),
        ("1250.500 ml", 1250.5),
        ("1.2500 ml", 1.25),
        ("1,250.5 ml", 1250.5),
        ("1.250,5 ml", 1250.5),
        ("1 250 ml", 1250),
        (f"1{THIN}250 ml", 1250),
        (f"1{NARROW}250,5 ml", 1250.5),
        ("12,250,00 ml", None),
        ("1,25,000 ml", None),
        ("1.5.2 ml", None),
        ("1,2.5 ml", None),
        ("1 25 ml", None),
        ("1 2500 ml", None),
        ("0 250 ml", None),
        ("1'250 ml", None),
    ],
)
def test_marks_and_spaces_in_numbers_follow_one_rule(text, volume_ml):
    if volume_ml is None:
        with pytest.raises(NotUnderstood):
            quantities.parse_volume(text)
    else:
        assert quantities.parse_volume(text) == pytest.approx(volume_ml, rel=1e-12)


@pytest.mark.parametrize(
    "text",
    [
        "", " ", "ml", "x", "abc ml", "ml 250", "1e3 ml", "1e3", "0x10 ml", "1_000 ml",
        "nan", "inf", "infinity ml", "-5 ml", "−5 ml", "--5 ml", "+5 ml",
        "10**10 ml", "10^3 ml", "2*500 ml", "2 x 500 ml", "(5) ml", "5! ml", "5; ml",
        "400-450 ml", "400–450 ml", "~400 ml", "ca. 400 ml",
        "11/2 cups", "11⁄2 cups", "3/2 cups", "1/0 cups", "1 3/2 l", "1/2/3 l", "1.5 1/2 l",
        "10² ml", "٢٥٠ ml", "250 мл", "5 m³", "5 km", "5 hl", "5 ml/g", "5 ml ml", "5 l l",
        "1 l 5 l", "1 l 1500 ml", "250 ml 1 l", "1 l 250", "1 250 250ml l", "1. 5 l", "1 , 5 l",
        "1 l 1 lb", "5 imperial cup saucers", "5 us", "5 drops", "5 gr",
        "1000 l", "1000000 ml", "99999999999999999999 ml", "9" * 70, "1 ml" + " " * 70,
    ],
)  # fmt: skip
def test_what_is_not_a_volume_is_refused(text):
    with pytest.raises(NotUnderstood) as caught:
        quantities.parse_volume(text)
    assert str(caught.value).endswith(".")


@pytest.mark.parametrize(
    ("kind", "text", "message"),
    [
        (Kind.VOLUME, "some", "Not a volume: write e.g. 500 ml, 1.5 l or 8 fl oz."),
        (Kind.VOLUME, "10 oz", "write fl oz for volume"),
        (Kind.VOLUME, "10 g", "That is a weight"),
        (Kind.VOLUME, "1 pint", "1 US pint, 1 UK pint or ml"),
        (Kind.VOLUME, "5 drops", "no fixed size"),
        (Kind.VOLUME, "-5 ml", "below zero"),
        (Kind.VOLUME, "2000 l", "less than 1000 l"),
        (Kind.VOLUME, "1 l 250", "unit after every number"),
        (Kind.MASS, "10 fl oz", "That is a volume"),
        (Kind.MASS, "some", "Not a weight: write e.g. 120 g"),
        (Kind.MASS, "10 gr", "write g for grams"),
        (Kind.STRENGTH, "0.4", "Could be 0.4 % or 40 %"),
        (Kind.STRENGTH, "95 % w/w", "by volume"),
        (Kind.STRENGTH, "101 %", "no more than 100 %"),
        (Kind.STRENGTH, "201 proof", "no more than 100 %"),
        (Kind.STRENGTH, "strong", "Not a strength: write e.g. 40 % or 80 proof."),
        (Kind.PERCENT, "0,75", "Could be 0.75 % or 75 %"),
        (Kind.RATIO, "5:1", "herb first as 1"),
        (Kind.RATIO, "2:10", "herb first as 1"),
        (Kind.RATIO, "2/10", "herb first as 1"),
        (Kind.RATIO, "½", "herb first as 1"),
        (Kind.RATIO, "1:5:2", "herb first as 1"),
        (Kind.RATIO, "1:0", "Out of range"),
        (Kind.DENSITY, "950", "0.1 to 5 g/ml"),
        (Kind.TEMPERATURE, "warm", "Not a temperature"),
        (Kind.TEMPERATURE, "-", "Not a temperature"),
        (Kind.TEMPERATURE, "20 c 5 c", "Not a temperature"),
        (Kind.TEMPERATURE, "1000", "-100 to 300"),
        (Kind.COUNT, "1.5", "without a fraction"),
        (Kind.COUNT, "1,000", "Could be 1 or 1000"),
        (Kind.DAYS, "1.5 weeks", "without a fraction"),
        (Kind.DAYS, "1 month", "write days or weeks"),
        (Kind.DAYS, "2 years", "write days or weeks"),
        (Kind.MONEY, "1,250", "Could be 1.25 or 1250"),
        (Kind.MONEY, "-3", "below zero"),
        (Kind.MONEY_PER_ML, "5 per 0 ml", "Not a price per volume"),
        (Kind.MONEY_PER_ML, "5 per 10 g", "That is a weight"),
        (Kind.MONEY_PER_ML, "5 per 10 ml per 3", "Not a price per volume"),
        (Kind.TEXT, "5", "not a number"),
        (Kind.CHOICE, "5", "not a number"),
    ],
)
def test_a_refusal_shows_what_would_be_understood(kind, text, message):
    with pytest.raises(NotUnderstood) as caught:
        parse(kind, text)
    assert message in str(caught.value)


def test_pints_are_never_guessed_in_a_metric_kitchen():
    for unit in ("pint", "quart", "gallon", "gill"):
        with pytest.raises(NotUnderstood, match=f"US and UK {unit}s differ"):
            quantities.parse_volume(f"1 {unit}")


@pytest.mark.parametrize("kind", [kind for kind in Kind if kind not in (Kind.TEXT, Kind.CHOICE)])
def test_blank_infinite_and_missing_numbers_are_refused_for_every_kind(kind):
    for text in ("", "nan", "inf", "-inf", "1e400", "9" * 60):
        with pytest.raises(NotUnderstood):
            parse(kind, text)


def test_zero_is_a_valid_quantity():
    for kind in (Kind.VOLUME, Kind.MASS, Kind.STRENGTH, Kind.MONEY, Kind.DAYS, Kind.COUNT):
        value = parse(kind, "0")
        assert value == 0
        assert math.copysign(1, value) == 1


@pytest.mark.parametrize("kind", [Kind.VOLUME, Kind.MASS, Kind.STRENGTH, Kind.TEMPERATURE])
@pytest.mark.parametrize("text", ["1e308", "1E3 ml", "1.5e+3 g", "2e-2"])
def test_a_number_with_an_exponent_must_be_written_in_full(kind, text):
    """It isn't a second number without its unit."""
    with pytest.raises(NotUnderstood, match=r"^Write the number in full, e\.g\. 1200 in"):
        parse(kind, text)


@pytest.mark.parametrize("system", [US, IMPERIAL])
@pytest.mark.parametrize(
    ("kind", "text"),
    [
        (Kind.VOLUME, "99999 pounds"), (Kind.VOLUME, "much"), (Kind.VOLUME, "99999"),
        (Kind.MASS, "2 cups"), (Kind.MASS, "heavy"), (Kind.MASS, "99999"),
        (Kind.TEMPERATURE, "warm"), (Kind.TEMPERATURE, "9999"),
        (Kind.MONEY_PER_ML, "cheap"), (Kind.MONEY_PER_G, "cheap"),
    ],
)  # fmt: skip
def test_a_refusal_is_in_the_units_of_the_shelf(kind, text, system):
    with pytest.raises(NotUnderstood) as refused:
        parse(kind, text, system)
    assert not re.search(r"\d ?(ml|l|g|kg|mL)\b", str(refused.value)), refused.value
    assert system is IMPERIAL or "°C" not in str(refused.value)


@pytest.mark.parametrize(
    ("text", "scale", "strength_abv"),
    [
        ("193 proof", "us_proof", 96.5),
        ("70 UK proof", "uk_proof", 39.97),
        ("40 %", "percent", 40),
        ("40", "percent", 40),
    ],
)
def test_a_reading_has_the_scale_it_is_written_in(text, scale, strength_abv):
    """27 CFR 30.11: proof is twice the % by volume at 60 °F; 100 UK proof is 57.1 %."""
    read, found, _ = quantities.read_instrument(text, "auto", "auto", METRIC)
    assert found == scale
    assert read == pytest.approx(strength_abv)


def _reading(text, scale, system=METRIC):
    return quantities.read_instrument(text, scale, "auto", system)[0]


def test_a_bare_reading_is_in_degrees_of_its_scale():
    assert _reading("193", "us_proof") == 96.5
    assert _reading("80 proof", "us_proof", IMPERIAL) == 40
    assert _reading("70 proof", "uk_proof") == pytest.approx(39.97)
    assert _reading("40 %", "us_proof") == 40


@pytest.mark.parametrize("text", ["80 proof", "70 proof", "80° proof"])
def test_bare_proof_is_asked_about_where_both_kinds_are_in_use(text):
    """100 UK proof is 57.1 %, 100 US proof is 50 % (27 CFR 30.11): 80 is 45.7 or 40 %."""
    with pytest.raises(NotUnderstood, match="US and UK proof differ"):
        parse(Kind.STRENGTH, text, IMPERIAL)
    assert parse(Kind.STRENGTH, "80 US proof", IMPERIAL) == 40
    assert parse(Kind.STRENGTH, "80 UK proof", IMPERIAL) == pytest.approx(45.68)
