"""Alcoholometers by their scales: what the calculator prints, against printed tables."""

from collections import defaultdict
from itertools import product

import pytest

from stillroom.quantities import UnitSystem, fill_in, read_instrument, show
from stillroom.reckoning.kinds import Figure
from stillroom.reckoning.registry import Outcome, Unworkable, calculators

METRIC, US, IMPERIAL = UnitSystem

AUTO = "auto"


def read(text: str, temperature_c: float, system: UnitSystem = METRIC, setting: str = "",
         scale: str = AUTO, true_at: str = AUTO) -> Outcome:  # fmt: skip
    """The calculator's outcome for a reading as typed."""
    reading, scale, true_at = read_instrument(text, scale, true_at, system, setting)
    return calculators()["alcoholometer"].reckon(
        {"reading": reading, "temperature": temperature_c, "scale": scale, "true_at": true_at}
    )


def celsius(fahrenheit: float) -> float:
    return (fahrenheit - 32.0) / 1.8


def shown(outcome: Outcome, system: UnitSystem = METRIC) -> dict[str, str]:
    """Every result as printed, by its label."""
    lines = {}
    for result in outcome.results:
        assert isinstance(result.value, Figure)
        label = fill_in(result.label.text, result.label.figures, system)
        lines[label] = show(result.value, system=system)
    return lines


def test_proof_agrees_with_the_us_gauging_manual(printed):
    """27 CFR 30.23 and 30.61 and the TTB's own page, every cell to its printed tenth."""
    rows = printed("cfr27_part30_proof")
    assert len(rows) == 8
    for row in rows:
        outcome = read(f"{row['reading_proof']} proof", celsius(float(row["temperature_f"])), US)
        proof = float(row["true_proof"])
        assert shown(outcome, US)["True strength at 60 °F"] == f"{proof:g} proof", row


def test_a_us_percent_scale_is_half_the_proof_scale(printed):
    """27 CFR 30.11: proof is twice the % by volume at 60 °F."""
    for row in printed("cfr27_part30_proof"):
        reading = float(row["reading_proof"]) / 2.0
        outcome = read(f"{reading:.4f} %", celsius(float(row["temperature_f"])), US)
        percent = float(shown(outcome, US)["True strength at 60 °F"].removesuffix(" %"))
        assert percent == pytest.approx(float(row["true_proof"]) / 2.0, abs=0.0501)


def test_uk_proof_is_read_at_60_f_and_converted_to_uk_proof():
    """100 UK proof is 57.1 % at 60 °F, so its readings go as those of a % scale true there."""
    uk = shown(read("100 UK proof", celsius(77), IMPERIAL), IMPERIAL)
    us = shown(read("57.1 %", celsius(77), US), US)
    degrees = float(uk["True strength at 15.6 °C"].removesuffix(" UK proof"))
    assert degrees * 0.571 == pytest.approx(float(us["True strength at 60 °F"][:-2]), abs=0.08)


def test_an_old_glass_hydrometer_agrees_with_its_printed_table(printed):
    """Dick (1872), table 55: readings to 0.1 on old measurements, so 0.25 % vol is allowed."""
    suspect = {("55", "65")}
    wrong = set()
    for row in printed("dick1872_hydrometer"):
        outcome = read(f"{row['reading']} %", celsius(float(row["temperature_f"])), US)
        ours = float(shown(outcome, US)["True strength at 60 °F"].removesuffix(" %"))
        if abs(ours - float(row["true_abv"])) > 0.25:
            wrong.add((row["true_abv"], row["temperature_f"]))
    assert wrong == suspect


@pytest.mark.parametrize(
    ("text", "system", "setting", "true_at"),
    [
        ("80 proof", METRIC, "", "15.6 °C"),
        ("80 proof", US, "", "60 °F"),
        ("40 %", US, "", "60 °F"),
        ("40", US, "", "60 °F"),
        ("70 UK proof", IMPERIAL, "", "15.6 °C"),
        ("40 %", METRIC, "", "20 °C"),
        ("40 %", IMPERIAL, "", "20 °C"),
        ("40 %", METRIC, "15c", "15 °C"),
        ("40 %", US, "20c", "68 °F"),
        ("80 proof", US, "20c", "68 °F"),
        ("80 proof", METRIC, "15c", "15 °C"),
    ],
)
def test_the_reference_temperature_follows_the_scale_or_the_setting(text, system, setting, true_at):
    outcome = read(text, 25.0, system, setting)
    assert shown(outcome, system)["The instrument is true at"] == true_at
    sentence = outcome.assumptions[0]
    assert f"true at {true_at}." in fill_in(sentence.text, sentence.figures, system)


def test_the_choice_in_the_form_comes_before_the_setting():
    outcome = read("40 %", 25.0, METRIC, "15c", true_at="20c")
    assert shown(outcome)["The instrument is true at"] == "20 °C"
    assert shown(read("193", celsius(75), US, scale="us_proof"), US)[
        "True strength at 60 °F"
    ] == "189.5 proof"  # fmt: skip


@pytest.mark.parametrize("true_at", ["20c", "15c", "60f"])
def test_an_instrument_is_right_at_its_reference_temperature(true_at):
    reference_c = {"20c": 20.0, "15c": 15.0, "60f": celsius(60)}[true_at]
    for reading in (0.5, 12.0, 40.0, 61.3, 96.0):
        outcome = read(f"{reading} %", reference_c, true_at=true_at)
        assert shown(outcome)[f"True strength at {show_celsius(reference_c)}"] == f"{reading:g} %"


def show_celsius(celsius: float) -> str:
    return f"{celsius:.1f}".removesuffix(".0") + " °C"


def test_readings_agree_with_the_cells_of_oiml_r22_table_viiib(printed):
    """Each cell to half its last printed digit, 0.1 % vol."""
    rows = printed("oiml_r22_viiib")
    assert {row["issue"] for row in rows} == {"R22", "METAS", "EC"}
    for row in rows:
        outcome = read(f"{row['reading_abv']} %", float(row["temperature_c"]))
        true = outcome.results[0]
        assert true.label.text.startswith("True strength")
        assert isinstance(true.value, Figure)
        assert true.value.value == pytest.approx(float(row["true_abv"]), abs=0.0505), row


def test_readings_follow_r22_as_its_tables_viii_were_made(printed):
    """OIML R 22, table VIIIb: % vol at 20 °C of a reading in % vol on a glass true at 20 °C.

    Where no printed cell is at hand, the table is made again from the printed coefficients the way
    R 22 describes it: table IVa for the density of the reading at 20 °C, the
    glass of ISO 1768, and the general formula turned round, here by halving and with its terms
    summed one by one, never by the code under test. Half the last digit printed there, 0.1 % vol.
    """
    terms = [
        (row["group"], int(row["i"]), int(row["k"]), float(row["value"]))
        for row in printed("oiml_r22_coefficients")
    ]

    def rho(p: float, t: float) -> float:
        sums: dict[str, float] = defaultdict(float)
        for group, i, k, value in terms:
            if group == "A":
                sums["A"] += value * p ** (k - 1)
            elif group == "B":
                sums["B"] += value * (t - 20.0) ** k
            else:
                sums["C"] += value * p**k * (t - 20.0) ** i
        return sum(sums.values())

    def halved(is_above) -> float:
        low, high = 0.0, 1.0
        for _ in range(50):
            middle = (low + high) / 2.0
            low, high = (low, middle) if is_above(middle) else (middle, high)
        return low

    pure = rho(1.0, 20.0)
    for reading, t in product((10.0, 25.0, 40.0, 55.0, 70.0, 90.0), (0.0, 10.0, 15.0, 27.0, 35.0)):
        read_p = halved(lambda p, q=reading: 100.0 * p * rho(p, 20.0) / pure > q)
        here = rho(read_p, 20.0) / (1.0 + 25e-6 * (t - 20.0))
        true_p = halved(lambda p, t=t, here=here: rho(p, t) < here)
        expected = 100.0 * true_p * rho(true_p, 20.0) / pure
        ours = float(shown(read(f"{reading} %", t))["True strength at 20 °C"].removesuffix(" %"))
        assert ours == pytest.approx(expected, abs=0.0501), (reading, t)


@pytest.mark.parametrize(("reading", "temperature_f"), [("0 proof", 100), ("200 proof", 30)])
def test_an_impossible_reading_is_refused_in_the_units_of_the_shelf(reading, temperature_f):
    """Even pure water reads above 0 when it is warm, and pure ethanol below 200 when it is cold."""
    with pytest.raises(Unworkable) as refused:
        read(reading, celsius(temperature_f), US)
    sentence = refused.value.sentence
    said = fill_in(sentence.text, sentence.figures, US)
    assert f"{temperature_f} °F is not possible" in said


def test_the_glass_contracts_below_the_temperature_of_its_scale():
    assert "the glass has shrunk" in read("40 %", 5.0).working[1].text
    assert "the glass has stretched" in read("40 %", 30.0).working[1].text
