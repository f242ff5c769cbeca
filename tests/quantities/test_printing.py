"""Quantities are printed at the precision of a kitchen, and can be read back."""

import math

import pytest

from stillroom.quantities import UnitSystem, fill_in, show, unit_of
from stillroom.reckoning.kinds import Figure, Kind

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
def test_a_metric_volume_is_printed_to_what_a_jug_can_show(volume_ml, text):
    assert show(Kind.VOLUME, volume_ml) == text


@pytest.mark.parametrize(
    ("mass_g", "text"),
    [(0.25, "0.25 g"), (7.25, "7.3 g"), (120, "120 g"), (1200, "1.2 kg"), (1201, "1201 g")],
)
def test_a_metric_mass_is_printed_to_what_a_scale_can_show(mass_g, text):
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
        (Kind.RETENTION, 1.5, US, "1.5 mL/g"),
        (Kind.CONCENTRATION, 0.2, METRIC, "0.2 g/mL"),
        (Kind.COUNT, 12, METRIC, "12"),
        (Kind.NUMBER, 2.5, METRIC, "2.5"),
        (Kind.MONEY, 12.5, METRIC, "12.50"),
        (Kind.MONEY, 3, US, "3.00"),
        (Kind.MONEY_PER_ML, 0.03, METRIC, "0.03/mL"),
        (Kind.MONEY_PER_ML, 0.03, US, "0.887/fl oz"),
        (Kind.MONEY_PER_G, 0.05, METRIC, "0.05/g"),
        (Kind.MONEY_PER_G, 0.05, US, "1.42/oz"),
        (Kind.DAYS, 14, METRIC, "14 days"),
        (Kind.DAYS, 1, METRIC, "1 day"),
        (Kind.DAYS, 0, METRIC, "0 days"),
    ],
)
def test_every_kind_is_printed_in_the_units_of_the_system(kind, value, system, text):
    assert show(kind, value, system) == text
    assert show(Figure(kind, value), system=system) == text


@pytest.mark.parametrize(
    ("kind", "value", "text"),
    [
        (Kind.VOLUME, 1250, "1250"),
        (Kind.VOLUME, 430.2, "430"),
        (Kind.MASS, 1200, "1200"),
        (Kind.STRENGTH, 28.62, "28.6"),
        (Kind.RATIO, 2.5, "2.5"),
        (Kind.DAYS, 14, "14"),
        (Kind.MONEY_PER_ML, 0.03, "0.03"),
    ],
)
def test_without_its_unit_a_number_stays_in_the_unit_of_the_heading(kind, value, text):
    assert show(kind, value, unit=False) == text


def test_a_us_mass_without_its_unit_is_in_ounces_even_above_a_pound():
    assert show(Kind.MASS, 992.2333093750001, US, unit=False) == "35"


def test_a_decimal_comma_is_printed_when_asked_for():
    assert show(Kind.VOLUME, 1250, decimal_comma=True) == "1,25 L"
    assert show(Kind.RATIO, 2.5, decimal_comma=True) == "1:2,5"
    assert show(Kind.MONEY, 12.5, decimal_comma=True) == "12,50"
    assert show(Kind.MASS, 1000, US, decimal_comma=True) == "2 lb 3,3 oz"


def test_figures_are_filled_into_a_sentence():
    figures = [
        Figure(Kind.VOLUME, 600),
        Figure(Kind.STRENGTH, 40),
        Figure(Kind.VOLUME, 240),
    ]
    sentence = "{0} at {1} holds {2} of ethanol"
    assert fill_in(sentence, figures) == "600 mL at 40 % holds 240 mL of ethanol"
    assert fill_in(sentence, figures, US) == "20.3 fl oz at 40 % holds 8.1 fl oz of ethanol"
    assert fill_in("1:{0}", [Figure(Kind.NUMBER, 2.5)], decimal_comma=True) == "1:2,5"


def test_a_sentence_may_hold_braces_of_its_own():
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
        (Kind.MONEY_PER_ML, "/mL", "/fl oz"),
    ],
)
def test_a_heading_names_the_unit_of_bare_numbers(kind, metric, us):
    assert unit_of(kind) == metric
    assert unit_of(kind, US) == us


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf, None])
def test_what_is_not_a_finite_number_cannot_be_printed(value):
    with pytest.raises(ValueError, match="No volume to print"):
        show(Kind.VOLUME, value)


def test_words_and_choices_cannot_be_printed_as_numbers():
    with pytest.raises(ValueError, match="No text to print"):
        show(Kind.TEXT, 1.0)
