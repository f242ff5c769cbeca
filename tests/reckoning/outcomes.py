"""An example of every calculator, and reading what one gives."""

from typing import Any

from stillroom.reckoning.kinds import Figure
from stillroom.reckoning.registry import Outcome, calculators

EXAMPLES: dict[str, dict[str, Any]] = {
    "fill": {"mass": 100.0, "ratio": 2.0, "condition": "fresh", "target": 40.0, "jar": 500.0},
    "dilute": {"volume": 500.0},
    "mix": {"liquids": [{"volume": 500.0, "strength": 96.0}, {"volume": 500.0, "strength": 0.0}]},
    "jar-strength": {"herbs": [{"mass": 100.0, "condition": "fresh"}], "pours": [{}]},
    "simmer": {"mass": 40.0, "put_in": 750.0, "spirit": 40.0},
    "yield": {
        "liquid": 500.0,
        "mass": 100.0,
        "measured": 320.0,
        "own": [{"liquid": 500.0, "dried": 100.0, "yield": 320.0}],
    },
    "bottles": {"volume": 430.0, "sizes": [{"size": 100.0}, {"size": 30.0, "empties": 1.0}]},
    "weigh": {"full": 213.0, "empty": 120.0, "strength": 40.0},
    "alcoholometer": {"reading": 40.0, "temperature": 25.0},
    "drops": {"strength": 40.0, "drops": 30.0, "volume": 2.0},
    "blend": {
        "parts": [
            {"name": "Calendula", "volume": 60.0, "strength": 40.0, "ratio": 5.0},
            {"volume": 50.0, "strength": 40.0, "ratio": 2.0},
        ]
    },
    "amount": {"volume": 5.0, "strength": 40.0, "ratio": 5.0},
    "fresh-dried": {"fresh_sample": 500.0, "dried_sample": 100.0, "dried_target": 50.0},
    "cost": {
        "spirits": [{"used": 500.0, "bought": 700.0, "price": 21.0}],
        "herbs": [{"used": 100.0, "bought": 250.0, "price": 10.0}],
        "yield": 380.0,
        "bottle": 50.0,
    },
    "convert": {"mass": 100.0, "strength": 40.0, "us_proof": 80.0, "uk_proof": 70.0, "ratio": 5.0},
}


def reckon(name, **values) -> Outcome:
    return calculators()[name].reckon(values)


def found(outcome, key):
    value = next(result.value for result in outcome.results if result.key == key)
    return value.value if isinstance(value, Figure) else value.plain()


def sentences(outcome):
    return (*outcome.working, *outcome.assumptions, *outcome.warnings)
