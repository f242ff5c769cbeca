"""Sharing a tincture into bottles: least left over, then fewest bottles."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from math import ceil, gcd

from stillroom.reckoning.limits import OutOfRange, within

MOST_ML = 50_000.0
_FINE_PER_ML = 10**10
"""Every unit of volume in use is a whole number of these by definition."""
_COARSE_PER_ML = 100
_ROUNDING_ML = 1e-6
"""A volume that comes out of a sum may be this much below the round number that is meant."""
_MOST_STEPS = 2_000_000


@dataclass(frozen=True)
class SizeToFill:
    """A size of bottle and how many empty ones there are."""

    size_ml: float
    empties: int | None = None
    """None when there are enough."""

    def __post_init__(self) -> None:
        within(self.size_ml, 1, MOST_ML, "A bottle", "mL")
        if self.empties is not None and self.empties < 0:
            raise OutOfRange(f"Empty bottles must be zero or more, not {self.empties}.")


@dataclass(frozen=True)
class Sharing:
    """How many bottles of each size to fill."""

    counts: tuple[int, ...]
    """In the order the sizes were given."""
    bottled_ml: float
    left_over_ml: float

    @property
    def bottle_count(self) -> int:
        return sum(self.counts)


def share_into_bottles(volume_ml: float, sizes: Sequence[SizeToFill]) -> Sharing:
    """Returns the bottles to fill, every one full: least left over, then fewest bottles.

    An exact search, up to 50 L. Every sum of bottles is one bit of a whole number, so all of them
    are found by a few shifts; the fewest bottles that make the best sum are then found largest
    first. Only where sizes share no common measure, as fluid ounces and millilitres together, is
    each rounded up to a hundredth of a millilitre.

    >>> share_into_bottles(430, [SizeToFill(100), SizeToFill(50), SizeToFill(30, empties=2)])
    Sharing(counts=(4, 0, 1), bottled_ml=430.0, left_over_ml=0.0)
    """
    within(volume_ml, 0, MOST_ML, "The volume to bottle", "mL")
    room, units = _in_steps(volume_ml, sizes)
    order = sorted(range(len(sizes)), key=lambda i: -units[i])
    limits = tuple(_limit(sizes[i], units[i], room) for i in order)
    counts = [0] * len(sizes)
    for place, count in enumerate(_fewest(tuple(units[i] for i in order), limits, room)):
        counts[order[place]] = count
    bottled_ml = sum((s.size_ml * count for s, count in zip(sizes, counts, strict=True)), 0.0)
    return Sharing(tuple(counts), bottled_ml, max(0.0, volume_ml - bottled_ml))


def _in_steps(volume_ml: float, sizes: Sequence[SizeToFill]) -> tuple[int, list[int]]:
    """The volume and the sizes as whole numbers of their common measure."""
    fine = [round(s.size_ml * _FINE_PER_ML) for s in sizes]
    step = gcd(*fine) or 1
    with_rounding_ml = volume_ml + _ROUNDING_ML
    room = int(with_rounding_ml * _FINE_PER_ML) // step
    if room <= _MOST_STEPS:
        return room, [size // step for size in fine]
    coarse = [ceil(s.size_ml * _COARSE_PER_ML) for s in sizes]
    return int(with_rounding_ml * _COARSE_PER_ML), coarse


def _limit(size: SizeToFill, unit: int, room: int) -> int:
    fitting = room // unit
    return fitting if size.empties is None else min(fitting, size.empties)


def _fewest(units: tuple[int, ...], limits: tuple[int, ...], room: int) -> tuple[int, ...]:
    """Counts, largest size first, that fill the most of the room with the fewest bottles."""
    reachable = _sums_from(units, limits, room)
    best_sum = reachable[0].bit_length() - 1

    @cache
    def fill(place: int, left: int) -> tuple[int, tuple[int, ...]] | None:
        if place == len(units):
            return (0, ()) if left == 0 else None
        best: tuple[int, tuple[int, ...]] | None = None
        unit = units[place]
        for count in range(min(limits[place], left // unit), -1, -1):
            rest = left - count * unit
            if best is not None and count + _at_least(units, place + 1, rest) >= best[0]:
                break
            if not reachable[place + 1] >> rest & 1:
                continue
            found = fill(place + 1, rest)
            if found is not None and (best is None or count + found[0] < best[0]):
                best = (count + found[0], (count, *found[1]))
        return best

    found = fill(0, best_sum)
    return found[1] if found else ()


def _at_least(units: tuple[int, ...], place: int, left: int) -> int:
    """Fewest bottles of the sizes from `place` on that could hold what is left."""
    return -(-left // units[place]) if place < len(units) else 0


def _sums_from(units: tuple[int, ...], limits: tuple[int, ...], room: int) -> list[int]:
    """For each place, the sums within the room that the sizes from there on can make, as bits."""
    everything = (1 << (room + 1)) - 1
    sums = [1]
    for unit, limit in zip(reversed(units), reversed(limits), strict=True):
        bits, left, chunk = sums[-1], limit, 1
        while left > 0:
            taken = min(chunk, left)
            bits |= bits << (taken * unit)
            bits &= everything
            left -= taken
            chunk *= 2
        sums.append(bits)
    return sums[::-1]
