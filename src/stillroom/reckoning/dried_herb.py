"""How long dried herb is usually good: a convention to look again by, never proof."""

from collections.abc import Mapping
from datetime import date

from stillroom.errors import NotUnderstood
from stillroom.reckoning.months import months_on
from stillroom.reckoning.plant import Part

LEAFY_MONTHS, WOODY_MONTHS = 12, 24
"""Leaf and flower are said to be good for one to two years, root, bark and seed for two to three,
dark, dry and closed: the shorter of each. Common practice, no source."""
_WOODY = (Part.ROOT, Part.BARK, Part.SEED, Part.FRUIT, Part.RESIN)
USUAL_MONTHS: Mapping[Part, int] = {
    part: WOODY_MONTHS if part in _WOODY else LEAFY_MONTHS for part in Part
}
"""By part of the plant."""
MOST_MONTHS = 240
NEAR_DAYS = 30
"""From so many days before, it is shown as near. Common practice, no source."""
NO_PROOF = "Smell, colour and taste decide."


def own_months(text: str) -> dict[Part, int]:
    """Returns the months for which a person holds parts to be good; NotUnderstood otherwise.

    >>> own_months("leaf 18, aerial parts 15")[Part.AERIAL_PARTS]
    15
    """
    found: dict[Part, int] = {}
    for piece in filter(None, map(str.strip, text.split(","))):
        name, _, months = piece.rpartition(" ")
        part = next((each for each in Part if each == " ".join(name.split()).casefold()), None)
        if part is None or not months.isdecimal() or not 1 <= int(months) <= MOST_MONTHS:
            raise NotUnderstood(
                "Dried herb: write parts with their months, 1 to 240, such as leaf 18, root 36. "
                f"The parts are {', '.join(Part)}."
            )
        found[part] = int(months)
    return found


def good_until(dry_since: date, months: int) -> date:
    """Returns the day up to which it is usually good: the same day of a later month, or its last.

    >>> good_until(date(2026, 8, 31), 6)
    datetime.date(2027, 2, 28)
    """
    return months_on(dry_since, months)
