"""Every table, in one place: what the use cases write through."""

from .bottles import BlendPart, Bottle, Movement, Tincture
from .cupboard import BottleSize, Herb, Setting, Shelf, Spirit
from .events import Event
from .formulas import Formula, FormulaPart
from .jars import ChargeLine, Jar, Pour, Shake, Straining

RECORDS = (
    Setting,
    Herb,
    Shelf,
    Spirit,
    BottleSize,
    Jar,
    ChargeLine,
    Pour,
    Shake,
    Straining,
    Tincture,
    Bottle,
    Movement,
    BlendPart,
    Formula,
    FormulaPart,
    Event,
)
"""Every table a person's record is made of, parents before children."""

__all__ = [
    "RECORDS",
    "BlendPart",
    "Bottle",
    "BottleSize",
    "ChargeLine",
    "Event",
    "Formula",
    "FormulaPart",
    "Herb",
    "Jar",
    "Movement",
    "Pour",
    "Setting",
    "Shake",
    "Shelf",
    "Spirit",
    "Straining",
    "Tincture",
]
