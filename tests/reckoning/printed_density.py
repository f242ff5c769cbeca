"""Mixing by a printed density table alone, without any of the program's own formulas.

Rows up to 12.9 and from 45 to 85 % by weight are the printed tables of this folder. Those between
and beyond are Perry's Chemical Engineers' Handbook, table of ethanol and water at 20 °C, written
down from memory; `test_sharing.py` checks that they fit the curve of their printed neighbours.
"""

import csv
from bisect import bisect_left
from itertools import pairwise
from pathlib import Path

FROM_MEMORY = {
    15: 0.97514, 20: 0.96864, 25: 0.96168, 30: 0.95382, 35: 0.94494, 40: 0.93518,
    86: 0.82840, 87: 0.82583, 88: 0.82323, 89: 0.82062, 90: 0.81797, 91: 0.81529, 92: 0.81257,
    93: 0.80983, 94: 0.80705, 95: 0.80424, 96: 0.80138, 97: 0.79846, 98: 0.79547, 99: 0.79243,
    100: 0.78934,
}  # fmt: skip


def _rows(name: str, column: str) -> dict[float, float]:
    path = Path(__file__).parent / "tables" / f"{name}.csv"
    lines = [line for line in path.read_text().splitlines() if not line.startswith("#")]
    return {float(row["wt_pct"]): float(row[column]) for row in csv.DictReader(lines)}


_DENSITY = dict(
    sorted(
        (
            _rows("perry7_density_20c", "kg_per_l") | _rows("nbs1913_density", "20") | FROM_MEMORY
        ).items()
    )
)
WEIGHT_PERCENT = list(_DENSITY)
G_PER_ML = list(_DENSITY.values())
ETHANOL = G_PER_ML[-1]
ABV = [w * d / ETHANOL for w, d in _DENSITY.items()]


def between(x: float, xs: list[float], ys: list[float]) -> float:
    """Straight between the printed rows."""
    i = min(max(bisect_left(xs, x), 1), len(xs) - 1)
    share = (x - xs[i - 1]) / (xs[i] - xs[i - 1])
    return ys[i - 1] + share * (ys[i] - ys[i - 1])


def g_per_ml(abv: float) -> float:
    return between(abv, ABV, G_PER_ML)


def mixed(pours: list[tuple[float, float]]) -> tuple[float, float]:
    """Volume in mL and strength in % vol of pours given as mL and % vol, all at 20 °C."""
    mass_g = sum(ml * g_per_ml(abv) for ml, abv in pours)
    ethanol_g = sum(ml * abv / 100.0 * ETHANOL for ml, abv in pours)
    volume_ml = mass_g / between(100.0 * ethanol_g / mass_g, WEIGHT_PERCENT, G_PER_ML)
    return volume_ml, 100.0 * ethanol_g / ETHANOL / volume_ml


def steps() -> list[tuple[float, float]]:
    """Weight per cent and the fall in density for one per cent, row by row."""
    rows = list(zip(WEIGHT_PERCENT, G_PER_ML, strict=True))
    return [((a[0] + b[0]) / 2, (a[1] - b[1]) / (b[0] - a[0])) for a, b in pairwise(rows)]
