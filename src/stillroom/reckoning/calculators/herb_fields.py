"""The fields that describe herb, and the charge they make."""

from stillroom.reckoning.calculator import Field, Given, Sentence, percent, say
from stillroom.reckoning.charge import (
    KNOWN_CONDITIONS,
    KNOWN_PARTS,
    Charge,
    Condition,
    Part,
    default_water_fraction,
)
from stillroom.reckoning.kinds import Kind

PART = Field(
    "part",
    "Part",
    Kind.CHOICE,
    Part.LEAF.value,
    "The part of the plant.",
    choices=tuple((part.value, part.value.capitalize()) for part in KNOWN_PARTS),
)
CONDITION = Field(
    "condition",
    "Condition",
    Kind.CHOICE,
    Condition.DRIED.value,
    "Fresh herb brings its own water.",
    choices=tuple(
        (condition.value, condition.value.capitalize()) for condition in KNOWN_CONDITIONS
    ),
)
WATER = Field(
    "water",
    "Water in the herb",
    Kind.PERCENT,
    None,
    "By weight, if you have measured it; blank for the usual figure for the part.",
    required=False,
)
SIMMERED = Field(
    "simmered",
    "Simmered first",
    Kind.CHOICE,
    "no",
    "And drained. What was poured off it counts as a pour; it holds some water back.",
    choices=(("no", "No"), ("yes", "Yes")),
)


def charge_from(given: Given, mass_g: float | None, *, simmered: bool = False) -> Charge:
    """The charge that part, condition and water above and a weight describe."""
    return Charge(mass_g, water_fraction_from(given), simmered)


def water_fraction_from(given: Given) -> float:
    measured = given.maybe("water")
    if measured is not None:
        return measured / 100.0
    return default_water_fraction(Part(given.words("part")), Condition(given.words("condition")))


def water_assumption(given: Given) -> tuple[Sentence, ...]:
    """Says which figure for water was assumed, when none was measured."""
    if given.maybe("water") is not None:
        return ()
    herb = f"{given.words('condition').capitalize()} {given.words('part')}"
    share = percent(100.0 * water_fraction_from(given))
    return (
        say(
            f"{herb} is taken to hold {{0}} water: to know, weigh some, dry it and weigh it again.",
            share,
        ),
    )
