"""The one list of calculators: the screen, the command line and the help are drawn from it."""

from functools import cache

from stillroom.reckoning.calculator import (
    Calculator,
    Field,
    Outcome,
    Result,
    Scalar,
    Sentence,
    Unworkable,
    Value,
)
from stillroom.reckoning.filling import FillPlan

__all__ = [
    "Calculator",
    "Field",
    "FillPlan",
    "Outcome",
    "Result",
    "Scalar",
    "Sentence",
    "Unworkable",
    "Value",
    "calculators",
]


@cache
def calculators() -> dict[str, Calculator]:
    """Returns every calculator by name, in the order to show them.

    They are imported on the first call, so that nothing is paid for them at the start.
    """
    from stillroom.reckoning.calculators.convert import CONVERT
    from stillroom.reckoning.calculators.jar_strength import JAR_STRENGTH
    from stillroom.reckoning.calculators.jars import FILL
    from stillroom.reckoning.calculators.simmering import SIMMER
    from stillroom.reckoning.calculators.spirits import ALCOHOLOMETER, DILUTE, MIX
    from stillroom.reckoning.calculators.stores import COST, FRESH_DRIED
    from stillroom.reckoning.calculators.straining import BOTTLES, WEIGH, YIELD
    from stillroom.reckoning.calculators.tinctures import AMOUNT, BLEND, DROPS

    entries = (
        FILL,
        DILUTE,
        MIX,
        JAR_STRENGTH,
        SIMMER,
        YIELD,
        BOTTLES,
        WEIGH,
        ALCOHOLOMETER,
        DROPS,
        BLEND,
        AMOUNT,
        FRESH_DRIED,
        COST,
        CONVERT,
    )
    return {entry.name: entry for entry in entries}
