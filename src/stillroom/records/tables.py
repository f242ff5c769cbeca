"""Every table, in one place: what the use cases write through."""

from stillroom.records.bottles import BlendPart, Bottle, Movement, Tincture
from stillroom.records.cupboard import BottleSize, Herb, Setting, Shelf, Spirit
from stillroom.records.events import Event
from stillroom.records.formulas import Formula, FormulaPart
from stillroom.records.jars import ChargeLine, Jar, Pour, Shake, Straining
from stillroom.records.papers import Closing, PrintLine

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
    Closing,
    PrintLine,
    Event,
)
"""Every table a person's record is made of, parents before children."""

UNDOABLE = tuple(record for record in RECORDS if record not in (Event, PrintLine))
"""Those that undo reverses; the ledger and the print log only grow."""

__all__ = [
    "RECORDS",
    "UNDOABLE",
    "BlendPart",
    "Bottle",
    "BottleSize",
    "ChargeLine",
    "Closing",
    "Event",
    "Formula",
    "FormulaPart",
    "Herb",
    "Jar",
    "Movement",
    "Pour",
    "PrintLine",
    "Setting",
    "Shake",
    "Shelf",
    "Spirit",
    "Straining",
    "Tincture",
]
