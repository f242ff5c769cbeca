"""The tables of the shelf, on SQLite through peewee, and the file they live in."""

from .bottles import BlendPart, Bottle, Movement, Tincture
from .cupboard import BottleSize, Herb, Setting, Shelf, Spirit
from .events import Action, Event, UndoState, UndoStep
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
    "Action",
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
    "UndoState",
    "UndoStep",
]
