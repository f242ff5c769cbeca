"""Whatever is typed gives a finite number or a refusal, and what is printed reads back."""

import math
import string
import sys
from decimal import Decimal

import pytest
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st

from stillroom.errors import NotUnderstood
from stillroom.quantities import Style, UnitSystem, parse, parse_volume_or_mass, show
from stillroom.reckoning.kinds import Kind

from ..examples import examples

METRIC = UnitSystem.METRIC
NUMERIC = [kind for kind in Kind if kind not in (Kind.TEXT, Kind.CHOICE)]
SIGNED = {Kind.TEMPERATURE}

settings.register_profile("quantities", deadline=None, max_examples=examples(150))
relaxed = settings.get_profile("quantities")

TOKENS = [
    *"0123456789", "1.5", "0,5", "1,250", "1.250", "1/2", "½", "¾", "⁄", "1e3", "-", "−", "+", ".",
    ",", "/", ":", "%", "°", "³", "**", "(", ")", "_", " ", "  ", "\u202f", "\u00a0", "\n", "ml",
    "l", "L", "cl", "g", "kg", "oz", "fl", "fl oz", "fl. oz.", "lb", "cup", "cups", "pint", "us",
    "UK", "imperial", "proof", "abv", "% vol", "w/w", "a", "half", "half a", "and", "per", "for",
    "days", "weeks", "fortnight", "c", "F", "g/ml", "kg/m3", "€", "$", "nan", "inf", "x", "e",
    "１", "．", "٣", "²", "\u0000", "\ufe0f", "🌿", "drops", "gr", "to", "in",
]  # fmt: skip

typed = st.one_of(
    st.text(max_size=30),
    st.text(alphabet=string.printable, max_size=30),
    st.lists(st.sampled_from(TOKENS), max_size=8).map("".join),
    st.lists(st.sampled_from(TOKENS), max_size=8).map(" ".join),
    st.text(alphabet="0123456789.,/ -", max_size=80),
)


def _reading(kind: Kind, text: str, system: UnitSystem = METRIC) -> float | str:
    """The number read, or the words of the refusal."""
    try:
        return parse(kind, text, system)
    except NotUnderstood as refusal:
        return str(refusal)


@settings(relaxed, max_examples=examples(1500))
@given(typed, st.sampled_from(NUMERIC), st.sampled_from(UnitSystem))
@example("-", Kind.TEMPERATURE, METRIC)
@example("1:", Kind.RATIO, METRIC)
@example("$", Kind.MONEY, METRIC)
@example("/", Kind.MONEY_PER_ML, METRIC)
@example("1 per ", Kind.MONEY_PER_ML, METRIC)
@example("0" * 64, Kind.NUMBER, METRIC)
def test_any_text_is_read_as_a_finite_number_or_refused(text, kind, system):
    value = _reading(kind, text, system)
    if isinstance(value, str):
        assert value.endswith(".")
    else:
        assert math.isfinite(value)
        assert value >= 0 or kind in SIGNED


@settings(relaxed, max_examples=examples(300))
@given(typed, st.sampled_from(UnitSystem))
def test_any_text_is_read_as_a_quantity_or_refused(text, system):
    try:
        figure = parse_volume_or_mass(text, system)
    except NotUnderstood:
        return
    assert figure.kind in (Kind.VOLUME, Kind.MASS)
    assert 0 <= figure.value < 1e6


def _written(number: Decimal, mark: str, group: str) -> str:
    whole, _, part = f"{number:f}".partition(".")
    head = len(whole) % 3 or 3
    groups = [whole[:head], *(whole[i : i + 3] for i in range(head, len(whole), 3))]
    return group.join(groups) + (mark + part if part else "")


@settings(relaxed, max_examples=examples(400))
@given(
    st.decimals(min_value=0, max_value=99_999, places=None, allow_nan=False).map(
        lambda number: Decimal(f"{number:.4f}").normalize()
    ),
    st.sampled_from(((".", ""), (",", ""), (".", ","), (",", "."), (".", " "), (",", "\u202f"))),
    st.sampled_from((("ml", 1), ("cl", 10), ("dl", 100), ("cups", 250))),
    st.sampled_from(("", " ")),
)
def test_a_number_in_any_notation_is_read_as_itself_or_refused(number, style, unit, gap):
    """The reading is checked against the number that was written, never against the reader."""
    mark, group = style
    name, size = unit
    assume(float(number) * size < 1e6)  # More than anyone's shelf holds is not what was meant.
    written = _written(number, mark, group)
    value = _reading(Kind.VOLUME, f"{written}{gap}{name}")
    if isinstance(value, str):
        assert "Could be" in value
        assert sum(written.count(sign) for sign in ".,") == 1
        assert written[-4] in ".,"
    else:
        assert value == pytest.approx(float(number) * size, rel=1e-12)


LIMITS = {
    Kind.VOLUME: (0, 900_000),
    Kind.MASS: (0, 900_000),
    Kind.STRENGTH: (0, 100),
    Kind.US_PROOF: (0, 200),
    Kind.UK_PROOF: (0, 175),
    Kind.DROPS: (0, 300),
    Kind.RATIO: (0.02, 900),
    Kind.PERCENT: (0, 100),
    Kind.TEMPERATURE: (-90, 290),
    Kind.DENSITY: (0.2, 4.9),
    Kind.RETENTION: (0, 100),
    Kind.CONCENTRATION: (0, 10),
    Kind.NUMBER: (0, 1e8),
    Kind.MONEY: (0, 1e8),
    Kind.MONEY_PER_ML: (0, 10_000),
    Kind.MONEY_PER_G: (0, 10_000),
}
WHOLE = {Kind.COUNT: (0, 900_000), Kind.DAYS: (0, 36_525)}


@st.composite
def quantities(draw):
    """A kind and a value that it can have."""
    kind = draw(st.sampled_from(NUMERIC))
    if kind in WHOLE:
        return kind, float(draw(st.integers(*WHOLE[kind])))
    low, high = LIMITS[kind]
    value = draw(
        st.one_of(
            st.floats(low, high),
            st.floats(low, min(high, low + 20)),
            st.integers(math.ceil(low * 1000), int(high * 1000)).map(lambda number: number / 1000),
        )
    )
    return kind, 0.0 if abs(value) < 1e-9 else value


def _half_step(kind: Kind, value: float, system: UnitSystem) -> float:
    """Half the last digit that may be shown, in the unit the kind is held in."""
    if kind in (Kind.VOLUME, Kind.MASS):
        if system is METRIC:
            return _stair(value, {1: 0.005, 100: 0.05, 10_000: 0.5, math.inf: 5})
        size = 28.349523125 if kind is Kind.MASS else 28.4130625
        if system is UnitSystem.US and kind is Kind.VOLUME:
            size = 29.5735295625
        return size * _stair(value / size, {0.1: 0.0005, 1: 0.005, 100: 0.05, math.inf: 0.5})
    if kind in (Kind.MONEY_PER_ML, Kind.MONEY_PER_G):
        return 0.005
    steps = {
        # Just under 20 and 25 % it is cut to a hundredth, as 24.999 is to 24.99.
        Kind.STRENGTH: 0.05,
        Kind.PERCENT: 0.05,
        Kind.US_PROOF: 0.05,
        Kind.UK_PROOF: 0.05,
        Kind.DROPS: 0.5,
        Kind.RATIO: 0.05,
        Kind.TEMPERATURE: 0.05,
        # Of oz to the fl oz, up to 1.044 of g to the mL, and the other way round.
        Kind.DENSITY: 0.00005,
        Kind.RETENTION: 0.0053,
        Kind.CONCENTRATION: 0.005,
        Kind.NUMBER: 0.05,
        Kind.MONEY: 0.005,
        Kind.COUNT: 0.0,
        Kind.DAYS: 0.0,
    }
    return steps[kind]


def _stair(value: float, steps: dict[float, float]) -> float:
    return next(step for below, step in steps.items() if abs(value) < below)


@settings(relaxed, max_examples=examples(800))
@given(quantities(), st.sampled_from(UnitSystem), st.booleans())
@example((Kind.CONCENTRATION, 10.0), UnitSystem.US, False)
@example((Kind.RETENTION, 100.0), UnitSystem.IMPERIAL, True)
def test_a_printed_figure_is_read_back_to_the_printed_precision(quantity, system, decimal_comma):
    kind, value = quantity
    text = show(kind, value, system, style=Style(decimal_comma=decimal_comma))
    if kind is Kind.RATIO and value < 0.015:
        return
    again = parse(kind, text, system)
    assert abs(again - value) <= _half_step(kind, value, system) * (1 + 1e-9) + 1e-9
    assert show(kind, again, system, style=Style(decimal_comma=decimal_comma)) == text


LARGER = {Kind.DROPS: 30, Kind.MONEY_PER_ML: 1000, Kind.MONEY_PER_G: 1000}
"""How much larger a figure can be in the unit it is printed in, where it must be a float too: drops
to the fl oz, prices by the litre and kilogram; up to twice for the rest, as °F are to °C."""


@settings(relaxed)
@given(st.floats(allow_nan=False, allow_infinity=False), st.sampled_from(NUMERIC))
@example(sys.float_info.max, Kind.TEMPERATURE)
@example(sys.float_info.max, Kind.DROPS)
@example(-sys.float_info.max, Kind.MONEY_PER_ML)
def test_any_finite_value_can_be_printed(value, kind):
    for system in UnitSystem:
        assert show(kind, value / LARGER.get(kind, 2), system)
