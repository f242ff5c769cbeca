"""Phases of the moon, for those who steep by them: folk practice, no source that it does anything.

Jean Meeus, Astronomical Algorithms, 2nd edition, chapter 49, with its periodic terms down to a
thousandth of a day; what is left out moves a phase by minutes. Times are dynamical time, which is
about a minute ahead of universal time in these years.
"""

from datetime import date, datetime, timedelta
from enum import StrEnum
from math import floor, radians, sin

_EPOCH = datetime(2000, 1, 1, 12)
_EPOCH_JDE = 2451545.0
_MONTH = 29.530588861
"""Days from new moon to new moon, the mean."""


class Phase(StrEnum):
    """Where the moon is on its way round."""

    NEW = "new moon"
    WAXING = "waxing"
    FIRST_QUARTER = "first quarter"
    FULL = "full moon"
    WANING = "waning"
    LAST_QUARTER = "last quarter"


_QUARTERS = (Phase.NEW, Phase.FIRST_QUARTER, Phase.FULL, Phase.LAST_QUARTER)

# Coefficient in days for new and for full moon, the power of E, and the multiples of the sun's mean
# anomaly M, the moon's mean anomaly M', and the moon's argument of latitude F.
_TERMS = (
    (-0.40720, -0.40614, 0, 0, 1, 0), (0.17241, 0.17302, 1, 1, 0, 0),
    (0.01608, 0.01614, 0, 0, 2, 0), (0.01039, 0.01043, 0, 0, 0, 2),
    (0.00739, 0.00734, 1, -1, 1, 0), (-0.00514, -0.00515, 1, 1, 1, 0),
    (0.00208, 0.00209, 2, 2, 0, 0), (-0.00111, -0.00111, 0, 0, 1, -2),
    (-0.00057, -0.00057, 0, 0, 1, 2), (0.00056, 0.00056, 1, 1, 2, 0),
    (-0.00042, -0.00042, 0, 0, 3, 0), (0.00042, 0.00042, 1, 1, 0, 2),
    (0.00038, 0.00038, 1, 1, 0, -2), (-0.00024, -0.00024, 1, -1, 2, 0),
)  # fmt: skip
# The same of the quarters.
_QUARTER_TERMS = (
    (-0.62801, 0, 0, 1, 0), (0.17172, 1, 1, 0, 0), (-0.01183, 1, 1, 1, 0), (0.00862, 0, 0, 2, 0),
    (0.00804, 0, 0, 0, 2), (0.00454, 1, -1, 1, 0), (0.00204, 2, 2, 0, 0), (-0.00180, 0, 0, 1, -2),
    (-0.00070, 0, 0, 1, 2), (-0.00040, 0, 0, 3, 0), (-0.00034, 1, -1, 2, 0),
    (0.00032, 1, 1, 0, 2), (0.00032, 1, 1, 0, -2), (-0.00028, 2, 2, 1, 0), (0.00027, 1, 1, 2, 0),
)  # fmt: skip


def phase_jde(k: float) -> float:
    """Returns the Julian ephemeris day of a phase; valid some thousand years round 2000.

    `k` counts new moons from that of 6 January 2000; a quarter, a half and three quarters more are
    the first quarter, full moon and last quarter.

    >>> round(phase_jde(-283), 3)
    2443192.651
    """
    t = k / 1236.85
    jde = 2451550.09766 + _MONTH * k + 0.00015437 * t**2 - 0.000000150 * t**3
    e = 1 - 0.002516 * t - 0.0000074 * t**2
    sun = radians(2.5534 + 29.10535670 * k - 0.0000014 * t**2)
    moon = radians(201.5643 + 385.81693528 * k + 0.0107582 * t**2)
    latitude = radians(160.7108 + 390.67050284 * k - 0.0016118 * t**2)

    def term(coefficient: float, power: int, m: int, m1: int, f: int) -> float:
        return float(coefficient * e**power * sin(m * sun + m1 * moon + f * latitude))

    quarter = round(4 * (k - floor(k))) % 4
    if quarter % 2 == 0:
        which = quarter // 2
        return jde + sum(term(each[which], *each[2:]) for each in _TERMS)
    # What the distance of the moon adds between the two quarters.
    w = 0.00306 - 0.00038 * e * sin(sun + radians(90)) + 0.00026 * sin(moon + radians(90))
    jde += sum(term(*each) for each in _QUARTER_TERMS)
    return jde + (w if quarter == 1 else -w)


def phase_at(k: float) -> datetime:
    """Returns the moment of a phase, in dynamical time."""
    return _EPOCH + timedelta(days=phase_jde(k) - _EPOCH_JDE)


def phase_on(day: date) -> Phase:
    """Returns the phase that falls on a day, or what the moon does between them."""
    middle = datetime(day.year, day.month, day.day, 12)
    k = floor(4 * ((middle - _EPOCH).days - 5) / _MONTH) / 4
    before = Phase.NEW
    for step in range(-3, 8):
        at = phase_at(k + step / 4)
        quarter = _QUARTERS[round(4 * (k + step / 4)) % 4]
        if at.date() == day:
            return quarter
        if at < middle:
            before = quarter
    return Phase.WAXING if before in (Phase.NEW, Phase.FIRST_QUARTER) else Phase.WANING
