"""Jars filled, strained and bottled in a line, for tests that begin where that ends."""

from stillroom.keeping.jars.straining import own_strainings
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.views import JarView
from stillroom.reckoning.yields import Pressing


def retentions_seen(keeper: Keeper, jar: JarView, pressing: Pressing) -> list[float]:
    """What the marc held back, mL per g dried, in the strainings that a jar is judged by."""
    return [own.retention for own in own_strainings(keeper, pressing, jar)]
