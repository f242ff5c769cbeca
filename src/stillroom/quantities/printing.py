"""Figures rounded to what can be measured, with the unit that reads best at their size."""

import math
import re
from collections.abc import Sequence
from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_UP, Context, Decimal, localcontext
from functools import lru_cache
from typing import NamedTuple

from stillroom.quantities.limits import BOUNDS
from stillroom.quantities.numbers import digits
from stillroom.quantities.units import HOME_UNIT, PRICED_BY, UnitSystem, in_units
from stillroom.reckoning.kinds import (
    LIMIT_SLACK_ABV,
    STRENGTH_LIMITS_ABV,
    Addend,
    Figure,
    Kind,
    Sum,
)

# (below, step): up to a size, values are rounded to a step. Each step is finer than what a
# kitchen jug or scale shows at that size.
_Steps = tuple[tuple[float, str], ...]
_METRIC_STEPS: _Steps = ((1, "0.01"), (100, "0.1"), (10_000, "1"), (math.inf, "1E+1"))
_OUNCE_STEPS: _Steps = ((0.1, "0.001"), (1, "0.01"), (100, "0.1"), (math.inf, "1"))
_POUND_STEPS: _Steps = ((0.1, "0.001"), (1, "0.01"), (math.inf, "0.1"))
_SHARE_STEPS: _Steps = ((1, "0.01"), (math.inf, "0.1"))
_FINE_STEPS: _Steps = ((1, "0.001"), (100, "0.01"), (math.inf, "0.1"))
_PRICE_STEPS: _Steps = ((0.1, "0.001"), (math.inf, "0.01"))
_STEPS: dict[Kind, _Steps] = {
    Kind.STRENGTH: _SHARE_STEPS,
    Kind.PERCENT: _SHARE_STEPS,
    Kind.US_PROOF: _SHARE_STEPS,
    Kind.UK_PROOF: _SHARE_STEPS,
    Kind.RATIO: ((10, "0.01"), (math.inf, "0.1")),
    Kind.TEMPERATURE: ((math.inf, "0.1"),),
    Kind.DENSITY: ((math.inf, "0.0001"),),
    Kind.RETENTION: ((math.inf, "0.01"),),
    Kind.CONCENTRATION: _FINE_STEPS,
    Kind.DROPS: ((100, "0.1"), (math.inf, "1")),
    Kind.COUNT: ((math.inf, "1"),),
    Kind.NUMBER: _FINE_STEPS,
    Kind.MONEY: ((math.inf, "0.01"),),
    Kind.MONEY_PER_ML: _PRICE_STEPS,
    Kind.MONEY_PER_G: _PRICE_STEPS,
    Kind.DAYS: ((math.inf, "1"),),
}
_LEAST_DECIMALS = {Kind.MONEY: 2, Kind.MONEY_PER_ML: 2, Kind.MONEY_PER_G: 2, Kind.DENSITY: 4}


_MONEY = (Kind.MONEY, Kind.MONEY_PER_ML, Kind.MONEY_PER_G)
_ROOMY = Context(prec=400)


class Style(NamedTuple):
    """How figures look apart from their units."""

    decimal_comma: bool = False
    currency: str = ""
    """A sign such as € or a code such as EUR; blank prints bare amounts."""
    joint: str = " "
    """What is between a number and its unit."""


PLAIN = Style()
"""As figures are written for programs."""


def _step(amount: float, steps: _Steps) -> Decimal:
    return Decimal(next(step for below, step in steps if abs(amount) < below))


def _quantized(amount: Decimal, step: Decimal, rounding: str = ROUND_HALF_UP) -> Decimal:
    return amount.quantize(step, rounding, context=_ROOMY)


def _exact(amount: float) -> Decimal:
    return Decimal(repr(amount))


def _pounds(ounces: Decimal) -> tuple[str, str]:
    pounds, rest = divmod(abs(ounces), 16)
    sign = "-" if ounces < 0 else ""
    if not rest:
        return f"{sign}{pounds}", " lb"
    return f"{sign}{pounds} lb {digits(rest)}", " oz"


def _steps_of(kind: Kind, system: UnitSystem, unit: bool) -> _Steps:
    if kind is Kind.MASS and unit and system is not UnitSystem.METRIC:
        return _POUND_STEPS
    if (kind, system) in HOME_UNIT:
        return _METRIC_STEPS if system is UnitSystem.METRIC else _OUNCE_STEPS
    return _STEPS[kind]


def _rounded(figure: Figure, system: UnitSystem, *, unit: bool = True, finer: int = 0) -> Decimal:
    """A figure in the system's own unit, rounded to what can be measured, or some digits finer.

    Rounding never carries it across one of its limits: what is under a limit is printed as less
    than the limit is, with a digit more where it takes one.
    """
    amount, _ = in_units(figure.kind, figure.value, system)
    fine_as = figure.value if figure.fine_as is None else figure.fine_as
    size, _ = in_units(figure.kind, fine_as, system)
    step = _step(size, _steps_of(figure.kind, system, unit)).scaleb(-finer)
    if figure.addend is not None:
        return _part_of_sum(figure.kind, figure.addend, step, system)
    shown = _quantized(_exact(amount), step)
    limits, slack = figure.limits, 0.0
    if figure.kind is Kind.STRENGTH:
        limits, slack = (*limits, *STRENGTH_LIMITS_ABV), LIMIT_SLACK_ABV
    for limit in limits:
        if figure.value == limit:
            return _limit_shown(figure.kind, limit, system)
        shown = _on_its_side(_exact(amount), shown, step, figure.value < limit - slack,
                             _limit_shown(figure.kind, limit, system))  # fmt: skip
    return shown


def _part_of_sum(kind: Kind, addend: Addend, step: Decimal, system: UnitSystem) -> Decimal:
    """A part rounded to a step so that with the others it adds up to the total as it is rounded.

    By largest remainder: all are rounded down, and those that lose most get the steps that lack.
    """
    with localcontext(_ROOMY):
        in_steps = [_exact(in_units(kind, part, system)[0]) / step for part in addend.parts]
        rounded_down = [part.to_integral_value(ROUND_FLOOR) for part in in_steps]
        total = _exact(in_units(kind, addend.total, system)[0]) / step
        lacking = int(total.to_integral_value(ROUND_HALF_UP) - sum(rounded_down))
        most_lost_first = sorted(range(len(in_steps)), key=lambda i: rounded_down[i] - in_steps[i])
        got_one = addend.place in most_lost_first[:lacking]
        return (rounded_down[addend.place] + got_one) * step


def _limit_shown(kind: Kind, limit: float, system: UnitSystem) -> Decimal:
    """A limit to three digits, which is all of it in the units it was set in."""
    amount, _ = in_units(kind, limit, system)
    return Context(prec=3).create_decimal(_exact(amount))


def _on_its_side(
    amount: Decimal, shown: Decimal, step: Decimal, is_under: bool, limit: Decimal
) -> Decimal:
    """An amount as shown, or a digit finer, so that it reads as under a limit if it is."""
    if is_under == (shown < limit):
        return shown
    step = step.scaleb(-1)
    finer = _quantized(amount, step)
    if is_under == (finer < limit):
        return finer
    return _quantized(limit, step, ROUND_CEILING) - step if is_under else limit


def _written(kind: Kind, shown: Decimal, system: UnitSystem, unit: bool = True) -> tuple[str, str]:
    """A rounded amount in digits, in the unit that reads best at its size, and that unit."""
    _, suffix = in_units(kind, 0.0, system)
    with localcontext(_ROOMY):
        is_metric = (kind, system) in HOME_UNIT and system is UnitSystem.METRIC
        if unit and is_metric and abs(shown) >= 1000 and shown % 10 == 0:
            return digits(shown / 1000), " L" if kind is Kind.VOLUME else " kg"
        if unit and suffix == " oz" and abs(shown) >= 16:
            return _pounds(shown)
    number = digits(shown, _LEAST_DECIMALS.get(kind, 0))
    if kind is Kind.DAYS:
        suffix = " day" if number == "1" else " days"
    return number, suffix


def whole_percent(strength_abv: float) -> float:
    """A strength in whole percent, never rounded up to where the verdict on keeping changes.

    >>> whole_percent(38.6), whole_percent(24.6), whole_percent(25.4)
    (39.0, 24.0, 25.0)
    """
    rounded = float(round(strength_abv))
    for limit in STRENGTH_LIMITS_ABV:
        if strength_abv < limit - LIMIT_SLACK_ABV and rounded >= limit:
            return limit - 1.0
    return rounded


def how_many(count: int, noun: str) -> str:
    """A number of things.

    >>> how_many(1, "jar"), how_many(3, "jar")
    ('1 jar', '3 jars')
    """
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"


def show(
    what: Kind | Figure,
    value: float | None = None,
    system: UnitSystem = UnitSystem.METRIC,
    *,
    unit: bool = True,
    style: Style = PLAIN,
) -> str:
    """Print a value of a kind, or a figure, rounded to what can be measured.

    `unit=False` leaves the unit off, for a column that names it in its head.
    """
    figure = (
        what if isinstance(what, Figure) else Figure(what, math.nan if value is None else value)
    )
    if not math.isfinite(figure.value) or figure.kind not in BOUNDS:
        raise ValueError(f"No {figure.kind.value} to print: {figure.value}")
    shown = _rounded(figure, system, unit=unit)
    number, suffix = _written(figure.kind, shown, system, unit)
    if not unit:
        return number.replace(".", ",") if style.decimal_comma else number
    return _dressed(figure.kind, number, suffix, style)


@lru_cache(maxsize=4096)
def show_value(kind: Kind, value: float, system: UnitSystem, style: Style) -> str:
    """A value of a kind with its unit; long lists show the same ones again and again."""
    return show(Figure(kind, value), system=system, style=style)


def _dressed(kind: Kind, number: str, suffix: str, style: Style) -> str:
    if style.decimal_comma:
        number = number.replace(".", ",")
    if kind is Kind.RATIO:
        return f"1:{number}"
    if kind in _MONEY and style.currency:
        # A sign is written close to the number, a code or an abbreviation apart from it.
        number = f"{style.currency}{' ' if style.currency[-1].isalpha() else ''}{number}"
    return (number + suffix).replace(" ", style.joint)


def fill_in(
    text: str,
    figures: Sequence[Figure],
    system: UnitSystem = UnitSystem.METRIC,
    *,
    style: Style = PLAIN,
    sum: Sum | None = None,
) -> str:
    """Put figures, printed in a system's units, in the places {0}, {1}, … of a sentence.

    Where the sentence sets out a sum, they are printed in digits that add up.
    """
    shown = _adding_up(figures, sum, system) if sum else [_rounded(f, system) for f in figures]
    words = [
        _dressed(figure.kind, *_written(figure.kind, amount, system), style)
        for figure, amount in zip(figures, shown, strict=True)
    ]
    # Not str.format: a sentence may hold a herb's name, and that may hold a brace.
    return re.sub(r"\{(\d{1,3})\}", lambda place: words[int(place[1])], text)


_MORE_DIGITS = 4
"""Digits beyond what can be measured that the parts of a sum may be given so that it adds up."""


def _adding_up(figures: Sequence[Figure], sum: Sum, system: UnitSystem) -> list[Decimal]:
    """The figures of a sum, rounded no more than lets a reader come to the printed result."""
    result = figures[sum.of]
    usual = _rounded(result, system)
    amount, _ = in_units(result.kind, result.value, system)
    step = _step(amount, _steps_of(result.kind, system, True))
    with localcontext(_ROOMY):
        for finer in range(_MORE_DIGITS + 1):
            shown = [_rounded(figure, system, finer=finer) for figure in figures]
            shown[sum.of] = usual
            made = _made(sum, figures, shown, system)
            if _quantized(made, step) == usual:
                break
    shown[sum.of] = made if sum.is_exact else _quantized(made, step)
    return shown


def _made(
    sum: Sum, figures: Sequence[Figure], shown: Sequence[Decimal], system: UnitSystem
) -> Decimal:
    """What the figures of a sum make as printed, with prices by the litre worked by the mL."""
    units = [PRICED_BY.get((figure.kind, system), ("", "", 1))[2] for figure in figures]
    made = sum.work([amount / unit for amount, unit in zip(shown, units, strict=True)])
    return made * units[sum.of]
