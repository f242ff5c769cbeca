"""Every table, in one place: what the use cases write through."""

from stillroom.records.bottles import (
    BatchInput,
    Bottle,
    CodeAlias,
    Loss,
    Movement,
    Returned,
    Tincture,
)
from stillroom.records.cupboard import (
    BottleSize,
    CupboardMovement,
    Herb,
    OtherLiquid,
    Setting,
    Shelf,
    Spirit,
)
from stillroom.records.events import Event
from stillroom.records.formulas import Formula, FormulaPart
from stillroom.records.herbs import GatheringWindow, HerbLot, HerbMovement
from stillroom.records.jars import ChargeLine, Jar, Pour, Shake, Straining, StrainingGo
from stillroom.records.papers import Closing, PrintLine

RECORDS = (
    Setting,
    Herb,
    Shelf,
    Spirit,
    OtherLiquid,
    CupboardMovement,
    BottleSize,
    GatheringWindow,
    HerbLot,
    HerbMovement,
    Jar,
    ChargeLine,
    Shake,
    Straining,
    StrainingGo,
    Tincture,
    Loss,
    Bottle,
    Movement,
    Returned,
    Pour,
    BatchInput,
    CodeAlias,
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
    "BatchInput",
    "Bottle",
    "BottleSize",
    "ChargeLine",
    "Closing",
    "CodeAlias",
    "CupboardMovement",
    "Event",
    "Formula",
    "FormulaPart",
    "GatheringWindow",
    "Herb",
    "HerbLot",
    "HerbMovement",
    "Jar",
    "Loss",
    "Movement",
    "OtherLiquid",
    "Pour",
    "PrintLine",
    "Returned",
    "Setting",
    "Shake",
    "Shelf",
    "Spirit",
    "Straining",
    "StrainingGo",
    "Tincture",
]
