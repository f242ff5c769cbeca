"""What reckoning refuses, and the sentence it refuses with."""

from math import isfinite

from stillroom.errors import StillroomError
from stillroom.reckoning.kinds import Figure, Kind


class OutOfRange(StillroomError, ValueError):
    """A number outside what the formula is good for; names the limit.

    `str()` says so in metric units; `text` and `figures` are the same sentence for anyone's units,
    the figures in the places {0}, {1}, …
    """

    def __init__(self, text: str, *figures: Figure, plain: str = "") -> None:
        self.text, self.figures = text, figures
        super().__init__(plain or text.format(*map(_plainly, figures)))


_KIND = {
    "mL": Kind.VOLUME,
    "g": Kind.MASS,
    "% vol": Kind.STRENGTH,
    "%": Kind.PERCENT,
    "°C": Kind.TEMPERATURE,
}
_UNIT = {kind: unit for unit, kind in _KIND.items()}


def within(value: float, low: float, high: float, what: str, unit: str = "") -> float:
    """Returns the value if it is from `low` to `high`; a value that is not a number never is.

    >>> within(40, 0, 100, "Strength", "% vol")
    40
    """
    if low <= value <= high:
        return value
    plain = f"{what} must be from {low:g} to {high:g}{_spaced(unit)}, not {value:g}."
    raise _out_of_range(
        f"{what} must be from {{0}} to {{1}}, not {{2}}.", plain, unit, low, high, value
    )


def at_least_nothing(value: float, what: str, unit: str = "") -> float:
    """Returns the value if it is a finite number, zero or more."""
    if 0.0 <= value < float("inf"):
        return value
    plain = f"{what} must be zero or more{_spaced(unit)}, not {value:g}."
    raise _out_of_range(f"{what} must be zero or more, not {{0}}.", plain, unit, value)


def more_than_nothing(value: float, what: str, unit: str = "") -> float:
    """Returns the value if it is a finite number above zero."""
    if 0.0 < value < float("inf"):
        return value
    plain = f"{what} must be greater than zero{_spaced(unit)}, not {value:g}."
    raise _out_of_range(f"{what} must be greater than zero, not {{0}}.", plain, unit, value)


def _out_of_range(text: str, plain: str, unit: str, *values: float) -> OutOfRange:
    if not all(map(isfinite, values)):
        return OutOfRange(plain)
    kind = _KIND.get(unit, Kind.NUMBER)
    return OutOfRange(text, *(Figure(kind, value) for value in values), plain=plain)


def _spaced(unit: str) -> str:
    return f" {unit}" if unit else ""


def _plainly(figure: Figure) -> str:
    unit = _UNIT.get(figure.kind)
    return f"{figure.value:g} {unit}" if unit else f"{figure.value:g}"
