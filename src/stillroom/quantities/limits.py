"""What a kind of number may be, and the sentences that refuse another."""

import math
from dataclasses import dataclass

from stillroom.errors import NotUnderstood
from stillroom.quantities.units import UnitSystem
from stillroom.reckoning.kinds import (
    Kind,
)


@dataclass(frozen=True)
class _Bounds:
    """What a kind of number may be, and the words for it."""

    noun: str
    low: float
    high: float
    limit: str
    """The words for the upper limit."""
    example: str
    whole: bool = False

    def holds(self, value: float) -> bool:
        """Whether a value is possible for this kind."""
        return (
            math.isfinite(value)
            and self.low <= value <= self.high
            and not (self.whole and value != int(value))
        )


def _below(limit: float) -> float:
    return math.nextafter(limit, 0.0)


# Upper limits are exclusive where a thousands mark could meet them: that makes "1.000 l" one
# litre, because a thousand litres is already too much.
BOUNDS = {
    Kind.VOLUME: _Bounds("volume", 0, _below(1e6), "less than 1000 l", "500 ml, 1.5 l or 8 fl oz"),
    Kind.MASS: _Bounds("weight", 0, _below(1e6), "less than 1000 kg", "120 g, 1.2 kg or 4 oz"),
    Kind.STRENGTH: _Bounds("strength", 0, 100, "no more than 100 %", "40 % or 80 proof"),
    Kind.US_PROOF: _Bounds("proof", 0, 200, "no more than 200", "80 proof"),
    Kind.UK_PROOF: _Bounds("UK proof", 0, 175.2, "no more than 175 degrees", "70 UK proof"),
    Kind.RATIO: _Bounds("ratio", 0.01, _below(1000), "less than 1:1000", "1:5 or 1:2.5"),
    Kind.PERCENT: _Bounds("percentage", 0, 100, "no more than 100 %", "75 % or 7.5 %"),
    Kind.TEMPERATURE: _Bounds("temperature", -100, 300, "-100 to 300 °C", "20 °C or 68 °F"),
    Kind.DENSITY: _Bounds("density", 0.1, 5, "0.1 to 5 g/ml", "0.95 g/ml or 950 kg/m³"),
    # A hair over: 100 ml/g printed in fl oz/oz reads back as 100.004.
    Kind.RETENTION: _Bounds("retention", 0, 100.01, "no more than 100 ml/g", "1.5 ml/g"),
    Kind.CONCENTRATION: _Bounds("concentration", 0, 10, "no more than 10 g/ml", "0.2 g/ml"),
    Kind.DROPS: _Bounds("number of drops", 0, 1e4, "no more than 10000 to the ml", "40 drops/ml"),
    Kind.COUNT: _Bounds("whole number", 0, _below(1e6), "less than 1000000", "12", whole=True),
    Kind.NUMBER: _Bounds("number", 0, _below(1e9), "less than 1000000000", "12 or 2.5"),
    Kind.MONEY: _Bounds("price", 0, _below(1e9), "less than 1000000000", "12.50"),
    Kind.MONEY_PER_ML: _Bounds(
        "price per volume", 0, _below(1e6), "less than 1000000", "30, or 21 per 700 ml"
    ),
    Kind.MONEY_PER_G: _Bounds(
        "price per weight", 0, _below(1e6), "less than 1000000", "50, or 12.50 per 250 g"
    ),
    Kind.DAYS: _Bounds(
        "number of days", 0, 36525, "no more than 36525 days", "14, 14 days or 2 weeks", whole=True
    ),
}


# The same limits and examples where amounts are in ounces: (words for the limit, example).
_OUNCE_WORDS = {
    Kind.VOLUME: {
        UnitSystem.US: ("less than 33814 fl oz", "8 fl oz, 1 pint or 1/2 cup"),
        UnitSystem.IMPERIAL: ("less than 35195 fl oz", "8 fl oz, 1 pint or 1/2 pint"),
    },
    Kind.MASS: dict.fromkeys(
        (UnitSystem.US, UnitSystem.IMPERIAL), ("less than 2205 lb", "4 oz or 2 lb 3 oz")
    ),
    # 29.5735 or 28.4131 mL to the fluid ounce, 28.3495 g to the ounce.
    Kind.DENSITY: {
        UnitSystem.US: ("0.1043 to 5.216 oz/fl oz", "0.991 oz/fl oz"),
        UnitSystem.IMPERIAL: ("0.1002 to 5.011 oz/fl oz", "0.952 oz/fl oz"),
    },
    Kind.RETENTION: {
        UnitSystem.US: ("no more than 95.86 fl oz/oz", "1.5 fl oz/oz"),
        UnitSystem.IMPERIAL: ("no more than 99.78 fl oz/oz", "1.5 fl oz/oz"),
    },
    Kind.CONCENTRATION: {
        UnitSystem.US: ("no more than 10.43 oz/fl oz", "0.2 oz/fl oz"),
        UnitSystem.IMPERIAL: ("no more than 10.02 oz/fl oz", "0.2 oz/fl oz"),
    },
    Kind.DROPS: {
        UnitSystem.US: ("no more than 295735 to the fl oz", "1200 drops/fl oz"),
        UnitSystem.IMPERIAL: ("no more than 284131 to the fl oz", "1200 drops/fl oz"),
    },
    Kind.STRENGTH: {UnitSystem.IMPERIAL: ("no more than 100 %", "40 % or 70 UK proof")},
    Kind.TEMPERATURE: {UnitSystem.US: ("-148 to 572 °F", "68 °F")},
    Kind.MONEY_PER_ML: dict.fromkeys(
        (UnitSystem.US, UnitSystem.IMPERIAL), ("less than 1000000", "28, or 22.50 per 25 fl oz")
    ),
    Kind.MONEY_PER_G: dict.fromkeys(
        (UnitSystem.US, UnitSystem.IMPERIAL), ("less than 1000000", "25, or 12.50 per 8 oz")
    ),
}


def limit_and_example(kind: Kind, system: UnitSystem) -> tuple[str, str]:
    """The words for the upper limit of a kind, and an example of it."""
    bounds = BOUNDS[kind]
    return _OUNCE_WORDS.get(kind, {}).get(system, (bounds.limit, bounds.example))


def refusal(kind: Kind, system: UnitSystem = UnitSystem.METRIC) -> NotUnderstood:
    _, example = limit_and_example(kind, system)
    return NotUnderstood(f"Not a {BOUNDS[kind].noun}: write e.g. {example}.")
