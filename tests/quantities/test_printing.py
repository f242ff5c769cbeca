"""Quantities are printed at the precision of a kitchen, and can be read back."""

import math
from decimal import Decimal

import pytest

from stillroom.quantities import Style, UnitSystem, fill_in, show, unit_of
from stillroom.reckoning import kinds
from stillroom.reckoning.kinds import Figure, Kind, Sum

METRIC, US, IMPERIAL = UnitSystem


@pytest.mark.parametrize(
    ("volume_ml", "text"),
    [
        (0, "0 mL"),
        (0.05, "0.05 mL"),
        (0.5, "0.5 mL"),
        (2.46, "2.5 mL"),
        (30, "30 mL"),
        (28.413, "28.4 mL"),
        (99.96, "100 mL"),
        (430, "430 mL"),
        (428.5, "429 mL"),
        (999.4, "999 mL"),
        (999.6, "1 L"),
        (1250, "1.25 L"),
        (1234, "1234 mL"),
        (1500, "1.5 L"),
        (12_345, "12.35 L"),
        (100_000, "100 L"),
        (-30, "-30 mL"),
        (-0.001, "0 mL"),
    ],
)
def test_a_metric_volume_is_printed_as_finely_as_a_jug_can_show(volume_ml, text):
    assert show(Kind.VOLUME, volume_ml) == text


@pytest.mark.parametrize(
    ("mass_g", "text"),
    [(0.25, "0.25 g"), (7.25, "7.3 g"), (120, "120 g"), (1200, "1.2 kg"), (1201, "1201 g")],
)
def test_a_metric_mass_is_printed_as_finely_as_a_scale_can_show(mass_g, text):
    assert show(Kind.MASS, mass_g) == text


@pytest.mark.parametrize(
    ("kind", "value", "system", "text"),
    [
        (Kind.VOLUME, 430, US, "14.5 fl oz"),
        (Kind.VOLUME, 430, IMPERIAL, "15.1 fl oz"),
        (Kind.VOLUME, 0.5, US, "0.017 fl oz"),
        (Kind.VOLUME, 3785.411784, US, "128 fl oz"),
        (Kind.MASS, 120, US, "4.2 oz"),
        (Kind.MASS, 453.59237, US, "1 lb"),
        (Kind.MASS, 453.5, US, "1 lb"),
        (Kind.MASS, 992.2333093750001, IMPERIAL, "2 lb 3 oz"),
        (Kind.MASS, -1000, US, "-2 lb 3.3 oz"),
        (Kind.STRENGTH, 40, US, "40 %"),
        (Kind.STRENGTH, 28.62, METRIC, "28.6 %"),
        (Kind.STRENGTH, 0.4, METRIC, "0.4 %"),
        (Kind.RATIO, 5, METRIC, "1:5"),
        (Kind.RATIO, 2.5, METRIC, "1:2.5"),
        (Kind.PERCENT, 75, METRIC, "75 %"),
        (Kind.TEMPERATURE, 20, METRIC, "20 °C"),
        (Kind.TEMPERATURE, 20, US, "68 °F"),
        (Kind.TEMPERATURE, 20, IMPERIAL, "20 °C"),
        (Kind.TEMPERATURE, -5, METRIC, "-5 °C"),
        (Kind.DENSITY, 0.9489, METRIC, "0.9489 g/mL"),
        (Kind.DENSITY, 1.005, METRIC, "1.0050 g/mL"),
        # 1.5 · 28.3495 / 29.5735 and 0.2 · 29.5735 / 28.3495, to be checked against fl oz and oz.
        (Kind.RETENTION, 1.5, METRIC, "1.5 mL/g"),
        (Kind.RETENTION, 1.5, US, "1.44 fl oz/oz"),
        (Kind.CONCENTRATION, 0.2, US, "0.209 oz/fl oz"),
        (Kind.DENSITY, 0.9489, US, "0.9899 oz/fl oz"),
        # An imperial fluid ounce was made to hold an ounce of water.
        (Kind.DENSITY, 0.9982, IMPERIAL, "1.0004 oz/fl oz"),
        (Kind.DROPS, 39.5, METRIC, "39.5 drops/mL"),
        (Kind.DROPS, 40, US, "1183 drops/fl oz"),
        (Kind.US_PROOF, 189.5, US, "189.5 proof"),
        (Kind.UK_PROOF, 70, IMPERIAL, "70 UK proof"),
        (Kind.CONCENTRATION, 0.2, METRIC, "0.2 g/mL"),
        (Kind.COUNT, 12, METRIC, "12"),
        (Kind.NUMBER, 2.5, METRIC, "2.5"),
        (Kind.MONEY, 12.5, METRIC, "12.50"),
        (Kind.MONEY, 3, US, "3.00"),
        (Kind.MONEY_PER_ML, 0.03, METRIC, "30.00/L"),
        # 946.352946 mL to the US quart, 568.26125 to the imperial pint, 453.59237 g to the pound.
        (Kind.MONEY_PER_ML, 0.03, US, "28.39/qt"),
        (Kind.MONEY_PER_ML, 0.03, IMPERIAL, "17.05/pint"),
        (Kind.MONEY_PER_ML, 0.00005, METRIC, "0.05/L"),
        (Kind.MONEY_PER_G, 0.05, METRIC, "50.00/kg"),
        (Kind.MONEY_PER_G, 0.05, US, "22.68/lb"),
        (Kind.DAYS, 14, METRIC, "14 days"),
        (Kind.DAYS, 1, METRIC, "1 day"),
        (Kind.DAYS, 0, METRIC, "0 days"),
    ],
)
def test_every_kind_is_printed_in_the_units_of_the_system(kind, value, system, text):
    assert show(kind, value, system) == text
    assert show(Figure(kind, value), system=system) == text


@pytest.mark.parametrize(
    ("strength_abv", "text"),
    [
        (24.94, "24.9 %"),
        (24.95, "24.95 %"),
        (24.97, "24.97 %"),
        (24.996, "24.99 %"),
        (24.999998, "24.99 %"),
        (25 - 1e-7, "25 %"),  # made up to 25 %, but for the arithmetic
        (25, "25 %"),
        (25.04, "25 %"),
        (19.97, "19.97 %"),
        (20, "20 %"),
        (29.97, "30 %"),
    ],
)
def test_a_strength_is_never_rounded_up_to_one_that_keeps(strength_abv, text):
    """At 20 and 25 % the verdict changes; what is under either is printed as under it."""
    assert show(Kind.STRENGTH, strength_abv) == text


@pytest.mark.parametrize("system", UnitSystem)
@pytest.mark.parametrize("limit_g", [0.05, 0.1, 0.5, 3.0])
def test_a_weight_is_never_rounded_across_a_legal_limit(limit_g, system):
    """Thresholds of alcohol in a dose; 0.1 g is 0.0035274 oz, printed to three digits."""

    def printed(grams):
        text = show(Figure(Kind.MASS, grams, (limit_g,)), system=system)
        return Decimal(text.split()[0])

    limit = printed(limit_g)
    for share in (0.5, 0.9, 0.97, 0.99, 0.995, 0.999, 0.9999, 0.999999):
        assert printed(limit_g * share) < limit
    for share in (1, 1.000001, 1.001, 1.01, 1.1):
        assert printed(limit_g * share) >= limit


def test_the_figures_of_a_sum_have_digits_that_add_up():
    """8.45 less 8 is 0.45; rounded one by one the first is 8.5, and 8.5 less 8 is 0.5."""
    ounce_ml = 29.5735295625
    figures = [Figure(Kind.VOLUME, n * ounce_ml) for n in (8.45, 8, 0.45)]
    less = Sum(2, kinds.difference, is_exact=True)
    text = "{0} less {1} leaves {2}"
    assert fill_in(text, figures, US, sum=less) == "8.45 fl oz less 8 fl oz leaves 0.45 fl oz"
    assert fill_in(text, figures, US, style=Style(decimal_comma=True), sum=less).startswith(
        "8,45 fl oz"
    )


def test_a_product_is_rounded_to_what_can_be_measured():
    """33.3 · 0.7893 is 26.28369, which no scale shows."""
    figures = [Figure(Kind.VOLUME, 33.3), Figure(Kind.DENSITY, 0.7893), Figure(Kind.MASS, 26.28369)]
    text = "{0} at {1} weighs {2}"
    assert fill_in(text, figures, METRIC, sum=Sum(2, kinds.product)) == (
        "33.3 mL at 0.7893 g/mL weighs 26.3 g"
    )


@pytest.mark.parametrize(
    ("kind", "value", "text"),
    [
        (Kind.VOLUME, 1250, "1250"),
        (Kind.VOLUME, 430.2, "430"),
        (Kind.MASS, 1200, "1200"),
        (Kind.STRENGTH, 28.62, "28.6"),
        (Kind.RATIO, 2.5, "2.5"),
        (Kind.DAYS, 14, "14"),
        (Kind.MONEY_PER_ML, 0.03, "30.00"),
    ],
)
def test_a_number_without_a_unit_is_in_the_unit_of_the_heading(kind, value, text):
    assert show(kind, value, unit=False) == text


def test_a_us_mass_without_a_unit_is_in_ounces_even_above_a_pound():
    assert show(Kind.MASS, 992.2333093750001, US, unit=False) == "35"


def test_a_decimal_comma_is_printed_where_set():
    assert show(Kind.VOLUME, 1250, style=Style(decimal_comma=True)) == "1,25 L"
    assert show(Kind.RATIO, 2.5, style=Style(decimal_comma=True)) == "1:2,5"
    assert show(Kind.MONEY, 12.5, style=Style(decimal_comma=True)) == "12,50"
    assert show(Kind.MASS, 1000, US, style=Style(decimal_comma=True)) == "2 lb 3,3 oz"


def test_figures_are_filled_into_a_sentence():
    figures = [
        Figure(Kind.VOLUME, 600),
        Figure(Kind.STRENGTH, 40),
        Figure(Kind.VOLUME, 240),
    ]
    sentence = "{0} at {1} holds {2} of ethanol"
    assert fill_in(sentence, figures) == "600 mL at 40 % holds 240 mL of ethanol"
    assert fill_in(sentence, figures, US) == "20.3 fl oz at 40 % holds 8.1 fl oz of ethanol"
    assert fill_in("1:{0}", [Figure(Kind.NUMBER, 2.5)], style=Style(decimal_comma=True)) == "1:2,5"


def test_a_sentence_may_contain_braces_of_its_own():
    assert fill_in("{x} {} { {0}", [Figure(Kind.COUNT, 2)]) == "{x} {} { 2"


@pytest.mark.parametrize(
    ("kind", "metric", "us"),
    [
        (Kind.VOLUME, "mL", "fl oz"),
        (Kind.MASS, "g", "oz"),
        (Kind.STRENGTH, "%", "%"),
        (Kind.RATIO, "1:", "1:"),
        (Kind.TEMPERATURE, "°C", "°F"),
        (Kind.DAYS, "days", "days"),
        (Kind.COUNT, "", ""),
        (Kind.MONEY_PER_ML, "/L", "/qt"),
    ],
)
def test_a_heading_names_the_unit_of_the_numbers_below(kind, metric, us):
    assert unit_of(kind) == metric
    assert unit_of(kind, US) == us


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf, None])
def test_a_number_that_is_not_finite_cannot_be_printed(value):
    with pytest.raises(ValueError, match="No volume to print"):
        show(Kind.VOLUME, value)


def test_words_and_choices_cannot_be_printed_as_numbers():
    with pytest.raises(ValueError, match="No text to print"):
        show(Kind.TEXT, 1.0)
