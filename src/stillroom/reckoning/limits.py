"""What reckoning refuses, and the sentence it refuses with."""

from stillroom.errors import StillroomError


class OutOfRange(StillroomError, ValueError):
    """A number outside what the formula is good for; `str()` names the limit."""


def within(value: float, low: float, high: float, what: str, unit: str = "") -> float:
    """Returns the value if it lies from `low` to `high`; a value that is not a number never does.

    >>> within(40, 0, 100, "Strength", "% vol")
    40
    """
    if low <= value <= high:
        return value
    raise OutOfRange(f"{what} must be from {low:g} to {high:g}{_spaced(unit)}, not {value:g}.")


def at_least_nothing(value: float, what: str, unit: str = "") -> float:
    """Returns the value if it is a finite number, zero or more."""
    if 0.0 <= value < float("inf"):
        return value
    raise OutOfRange(f"{what} must be zero or more{_spaced(unit)}, not {value:g}.")


def more_than_nothing(value: float, what: str, unit: str = "") -> float:
    """Returns the value if it is a finite number above zero."""
    if 0.0 < value < float("inf"):
        return value
    raise OutOfRange(f"{what} must be more than zero{_spaced(unit)}, not {value:g}.")


def _spaced(unit: str) -> str:
    return f" {unit}" if unit else ""
