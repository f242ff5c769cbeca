"""What spent herb holds back of its tincture, for a second pour on it.

The marc is full of tincture of its full strength (Michael Moore's manual): all the liquid in the
jar less what came out, or what the marc weighs less the dry herb in it, at the tincture's density.
"""

from stillroom.reckoning.limits import at_least_nothing, more_than_nothing
from stillroom.reckoning.mixing import volume_from_mass_ml

ANOTHER_POUR = (
    "The herb is counted once, with the first pour. What more it gives isn't known: grams per mL "
    "count what the liquid in the marc carried over, and the label has no ratio."
)
SIMMER_MARC = (
    "Marc wet with spirit is flammable: press it, let it air, and use no open flame near it. Let "
    "the decoction cool before spirit goes on."
)


def held_by_marc_ml(liquid_ml: float, yield_ml: float) -> float:
    """Returns what a marc holds: all the liquid in the jar less what was strained.

    >>> held_by_marc_ml(510, 330)
    180.0
    """
    at_least_nothing(yield_ml, "The yield", "mL")
    return max(0.0, float(at_least_nothing(liquid_ml, "The liquid in the jar", "mL") - yield_ml))


def held_by_weight_ml(marc_g: float, solids_g: float, strength_abv: float) -> float:
    """Returns what a marc holds by its weight: less the herb without its water, as tincture.

    What the tincture took out of the herb is left out: the solids weigh a little less by then.

    >>> round(held_by_weight_ml(260, 90, 39), 1)
    178.9
    """
    more_than_nothing(marc_g, "The weight of the marc", "g")
    at_least_nothing(solids_g, "The dry herb", "g")
    return volume_from_mass_ml(max(0.0, marc_g - solids_g), strength_abv)
