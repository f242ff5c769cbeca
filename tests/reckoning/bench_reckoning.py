"""Prints what a density, an inverse and a mixture cost, and how CoolProp compares.

    python tests/reckoning/bench_reckoning.py

Each figure is the best of five runs: the time nothing else took from.
"""

from collections.abc import Callable
from itertools import cycle
from timeit import repeat

from stillroom.reckoning.alcoholometry import (
    abv_from_density,
    density,
    mass_fraction_from_abv,
    true_abv,
)
from stillroom.reckoning.bottling import SizeToFill, share_into_bottles
from stillroom.reckoning.mixing import Liquid, SpiritOnHand, make_up, mix

FRACTIONS = [i / 101.0 for i in range(1, 60)]
STRENGTHS = [float(i) for i in range(1, 96)]
TEMPERATURES = [-10.0, 5.0, 12.5, 25.0, 31.0]
SIZES = [SizeToFill(size) for size in (10.0, 20.0, 30.0, 50.0, 100.0, 250.0)]
MIXED_SIZES = [SizeToFill(size) for size in (29.57, 59.15, 118.29, 236.59, 30.0, 50.0)]


def microseconds(call: Callable[[], object], number: int) -> float:
    return min(repeat(call, number=number, repeat=5)) / number * 1e6


def over(values: list[float], call: Callable[[float], object]) -> Callable[[], object]:
    """The call with the next value each time, so that no one value is measured alone."""
    turn = cycle(values)
    return lambda: call(next(turn))


def main() -> None:
    # Loading it takes seconds, which the tests that find this file need not spend.
    from CoolProp.CoolProp import PropsSI

    t = cycle(TEMPERATURES)
    spirits = [SpiritOnHand(40.0), SpiritOnHand(96.0, 400.0)]
    pours = [Liquid(500.0, 96.0), Liquid(500.0)]
    ours = microseconds(over(FRACTIONS, lambda p: density(p, next(t))), 20_000)
    theirs = microseconds(
        over(FRACTIONS, lambda p: PropsSI("D", "T", 298.15, "P", 101325, f"INCOMP::MEA[{p:.4f}]")),
        2_000,
    )
    rows = [
        ("density at 20 °C", microseconds(over(FRACTIONS, density), 20_000)),
        ("density away from 20 °C", ours),
        ("density, CoolProp INCOMP::MEA", theirs),
        (
            "mass fraction from strength",
            microseconds(over(STRENGTHS, mass_fraction_from_abv), 5_000),
        ),
        (
            "strength from density, 25 °C",
            microseconds(
                over(FRACTIONS, lambda p: abv_from_density(990.0 - 180.0 * p, 25.0)), 5_000
            ),
        ),
        (
            "alcoholometer, 25 °C",
            microseconds(over(STRENGTHS[4:], lambda s: true_abv(s, 25.0)), 5_000),
        ),
        ("mix of two liquids", microseconds(lambda: mix(pours), 5_000)),
        ("two spirits to a strength", microseconds(lambda: make_up(spirits, 60.0, 1000.0), 1_000)),
        ("5 L into six sizes", microseconds(lambda: share_into_bottles(5000.0, SIZES), 100)),
        ("5 L into mixed units", microseconds(lambda: share_into_bottles(5000.0, MIXED_SIZES), 5)),
    ]
    for name, cost in rows:
        print(f"{name:<32}{cost:>12.2f} µs")
    print(f"{'CoolProp over ours, density':<32}{theirs / ours:>12.1f} times")


if __name__ == "__main__":
    main()
