"""The columns that can be corrected, each with the name and label of its fact."""

from dataclasses import dataclass, replace

from stillroom.keeping.correcting.kinds import FactKind
from stillroom.reckoning.charge import KNOWN_CONDITIONS, KNOWN_PARTS, Condition, Part
from stillroom.reckoning.kinds import Kind
from stillroom.reckoning.states import (
    BY_HAND,
    HERB_DISCARDS,
    CupboardMovementKind,
    DayBy,
    HerbCame,
    HerbMovementKind,
    LiquidKind,
    LossKind,
    MovementKind,
    OtherLiquidKind,
)
from stillroom.reckoning.yields import Pressing

REMOVES = "0 deletes it"
BLANK_REMOVES = "blank deletes it"
"""Hints for entries that can be deleted."""
PARTS = tuple((str(part), str(part)) for part in Part)
CONDITIONS = tuple((str(condition), str(condition)) for condition in Condition)
LOT_PARTS = tuple((str(part), str(part)) for part in KNOWN_PARTS)
LOT_CONDITIONS = tuple((str(condition), str(condition)) for condition in KNOWN_CONDITIONS)
"""The parts and conditions of herb in store, which are always known; those of a jar may not be."""
DAYS_KNOWN = tuple((str(each), str(each)) for each in DayBy)
PRESSINGS = tuple((str(pressing), str(pressing)) for pressing in Pressing)
LIQUIDS = tuple(
    (str(kind), str(kind))
    for kind in LiquidKind
    if kind not in (LiquidKind.HELD_BACK, LiquidKind.TINCTURE)
)
"""What a pour can be corrected to; what came from another batch stays what it is."""
LOSS_CHOICES = tuple((str(kind), str(kind)) for kind in LossKind)
OUT = tuple((str(kind), str(kind)) for kind in BY_HAND)
HERB_OUT = tuple((str(kind), str(kind)) for kind in (HerbMovementKind.GIVE, *HERB_DISCARDS))
CUPBOARD_OUT = tuple((str(kind), str(kind)) for kind in CupboardMovementKind if kind.takes_out)
CAME = tuple((str(came), str(came)) for came in HerbCame)
LIQUID_KINDS = tuple((str(kind), str(kind)) for kind in OtherLiquidKind)
DISCARD = str(MovementKind.DISCARD)
YES_NO = (("yes", "yes"), ("no", "no"))

HELD_WHEN_SEEN = "seen"
"""Column of a movement that isn't stored: what the bottle held when it was counted or weighed."""
SHAKES_OF_DAYS = "shakes"
KEEP_UNTIL = "keep_until"
USUAL = "usual"
"""What is typed to have a keep-until date calculated again instead of set by hand."""
MAY_BE_AHEAD = ("strain_on", KEEP_UNTIL)
"""Days that are planned; all others are past."""
NONE_REMOVES = "none deletes it"
"""The hint at what was seen, which may be nothing."""


@dataclass(frozen=True)
class FactColumn:
    """A column that can be corrected, with the name and label of its fact."""

    column: str
    name: str
    label: str
    kind: FactKind
    can_be_blank: bool = False
    choices: tuple[tuple[str, str], ...] = ()
    hint: str = ""


JAR = (
    FactColumn("filled_on", "filled", "Filled on", FactKind.DAY),
    FactColumn("strain_on", "strain", "Strain on", FactKind.DAY),
    FactColumn("shakes_per_day", "shakes-per-day", "Shakes a day", FactKind.COUNT),
    FactColumn("capacity_ml", "capacity", "Jar size", FactKind.VOLUME, can_be_blank=True),
    FactColumn("simmered", "simmered", "Simmered", FactKind.YES_NO, choices=YES_NO),
    FactColumn("note", "note", "Note", FactKind.TEXT, can_be_blank=True),
)
DISCARDED = FactColumn("ended_on", "discarded", "Discarded on", FactKind.DAY)
HERB_IN_JAR: tuple[FactColumn, ...] = (
    FactColumn("herb_id", "herb", "Herb", FactKind.TEXT),
    FactColumn("part", "part", "Part", FactKind.CHOICE, choices=PARTS),
    FactColumn("part_assumed", "part-assumed", "Part assumed", FactKind.YES_NO, choices=YES_NO),
    FactColumn("condition", "condition", "Condition", FactKind.CHOICE, choices=CONDITIONS),
    FactColumn(
        "condition_assumed",
        "condition-assumed",
        "Condition assumed",
        FactKind.YES_NO,
        choices=YES_NO,
    ),
    FactColumn("mass_g", "weight", "Weight", FactKind.MASS, can_be_blank=True),
    FactColumn("lot_id", "lot", "Lot", FactKind.CHOICE, can_be_blank=True),
    FactColumn("water_fraction", "water", "Water measured", FactKind.PERCENT, can_be_blank=True),
    FactColumn("gathered_on", "gathered", "Gathered on", FactKind.DAY, can_be_blank=True),
    FactColumn("origin", "origin", "Origin, lot", FactKind.TEXT, can_be_blank=True),
)
OF_LOTS = "lot_id"
"""The column of a herb line that a marc doesn't offer: its herb is of the jar it was in first."""
REMOVABLE_HERB = replace(HERB_IN_JAR[0], can_be_blank=True, hint=BLANK_REMOVES)
POUR = (
    FactColumn("volume_ml", "volume", "Volume", FactKind.VOLUME, hint=REMOVES),
    FactColumn("strength_abv", "strength", "Strength", FactKind.STRENGTH),
    FactColumn("kind", "kind", "Liquid", FactKind.CHOICE, choices=LIQUIDS),
    FactColumn("spirit_id", "spirit", "Spirit", FactKind.CHOICE, can_be_blank=True),
    FactColumn("liquid_id", "liquid", "Other liquid", FactKind.CHOICE, can_be_blank=True),
    FactColumn("poured_on", "day", "Poured on", FactKind.DAY),
)
STRAINING = (
    FactColumn("yield_ml", "yield", "Yield", FactKind.VOLUME),
    FactColumn("strained_on", "strained", "Strained on", FactKind.DAY),
    FactColumn("pressing", "pressing", "Pressing", FactKind.CHOICE, choices=PRESSINGS),
    FactColumn(
        "pressing_assumed", "pressing-assumed", "Pressing assumed", FactKind.YES_NO, choices=YES_NO
    ),
    FactColumn("day_by", "day-known", "Straining day is", FactKind.CHOICE, choices=DAYS_KNOWN),
    FactColumn("marc_g", "marc", "Marc", FactKind.MASS, can_be_blank=True),
    FactColumn(
        "measured_abv", "measured", "Measured strength", FactKind.STRENGTH, can_be_blank=True
    ),
    FactColumn("teaches", "teaches", "Teaches the forecast", FactKind.YES_NO, choices=YES_NO),
    FactColumn("note", "straining-note", "Note on the straining", FactKind.TEXT, can_be_blank=True),
    FactColumn("jar_id", "jar", "Strained from jar", FactKind.TEXT),
)
OF_GOES = frozenset({"yield_ml", "strained_on", "pressing"})
"""What a straining in several goes takes from its goes, so that it can't be corrected itself."""
GO = (
    replace(STRAINING[0], hint=REMOVES),
    *(each for each in STRAINING if each.column in ("strained_on", "pressing")),
    FactColumn("note", "note", "Note", FactKind.TEXT, can_be_blank=True),
)
_KEEP_UNTIL = FactColumn(
    KEEP_UNTIL, "keep-until", "Keep until", FactKind.DAY, can_be_blank=True,
    hint=f"{USUAL}: as calculated",
)  # fmt: skip
TINCTURE = (
    FactColumn("name", "name", "Name", FactKind.TEXT, can_be_blank=True),
    _KEEP_UNTIL,
    FactColumn("lost_ml", "lost", "Written off", FactKind.VOLUME),
)
BLEND = (
    FactColumn("name", "name", "Name", FactKind.TEXT),
    FactColumn("made_on", "made", "Blended on", FactKind.DAY),
    _KEEP_UNTIL,
    FactColumn("note", "note", "Note", FactKind.TEXT, can_be_blank=True),
    FactColumn("lost_ml", "lost", "Written off", FactKind.VOLUME),
)
LOSS = (
    FactColumn("volume_ml", "volume", "Lost", FactKind.VOLUME, hint=REMOVES),
    FactColumn("kind", "kind", "Kind", FactKind.CHOICE, choices=LOSS_CHOICES),
    FactColumn("day", "day", "Day", FactKind.DAY),
    FactColumn("note", "note", "Note", FactKind.TEXT, can_be_blank=True),
)
RETURNED = (
    FactColumn("volume_ml", "volume", "Came back", FactKind.VOLUME, hint=REMOVES),
    FactColumn("person", "from", "From", FactKind.TEXT, can_be_blank=True),
    FactColumn("day", "day", "Day", FactKind.DAY),
    FactColumn("note", "note", "Note", FactKind.TEXT, can_be_blank=True),
)
INPUT = (
    FactColumn("volume_ml", "volume", "Volume", FactKind.VOLUME, hint=REMOVES),
    FactColumn("strength_abv", "strength", "Strength", FactKind.STRENGTH),
)
BOTTLE = (
    FactColumn("size_ml", "size", "Size", FactKind.VOLUME),
    FactColumn("place", "place", "Place", FactKind.TEXT, can_be_blank=True),
    FactColumn("filled_on", "day", "Filled on", FactKind.DAY),
    FactColumn("bottle_lot", "lot", "Lot of bottle", FactKind.TEXT, can_be_blank=True),
    FactColumn("cap_lot", "cap-lot", "Lot of cap", FactKind.TEXT, can_be_blank=True),
)
_OF_PURCHASE = (
    FactColumn("origin", "origin", "Origin", FactKind.TEXT, can_be_blank=True),
    FactColumn("lot", "lot", "Lot", FactKind.TEXT, can_be_blank=True),
    FactColumn("code", "code", "Code", FactKind.TEXT, can_be_blank=True),
    FactColumn("note", "note", "Note", FactKind.TEXT, can_be_blank=True),
)
_DENSITY = FactColumn("density_g_per_ml", "density", "Density", FactKind.NUMBER, hint="g/mL")
SPIRIT = (
    FactColumn("name", "name", "Name", FactKind.TEXT),
    FactColumn("strength_abv", "strength", "Strength", FactKind.STRENGTH),
    FactColumn("bought_ml", "volume", "Bought", FactKind.VOLUME, can_be_blank=True),
    FactColumn("price", "price", "Price", FactKind.MONEY, can_be_blank=True),
    FactColumn("bought_on", "bought", "Bought on", FactKind.DAY, can_be_blank=True),
    *_OF_PURCHASE[:-1],
    replace(_DENSITY, can_be_blank=True),
    _OF_PURCHASE[-1],
)
LIQUID = (
    FactColumn("name", "name", "Name", FactKind.TEXT),
    FactColumn("kind", "kind", "Kind", FactKind.CHOICE, choices=LIQUID_KINDS),
    _DENSITY,
    FactColumn("density_source", "source", "Density from", FactKind.TEXT, can_be_blank=True),
    FactColumn("glycerol", "glycerol", "Glycerol", FactKind.SHARE, can_be_blank=True),
    FactColumn("acidity", "acidity", "Acidity", FactKind.SHARE, can_be_blank=True),
    *SPIRIT[2:5],
    *_OF_PURCHASE,
)
LOT_ORIGIN = (
    FactColumn("herb_id", "herb", "Herb", FactKind.TEXT),
    FactColumn("part", "part", "Part", FactKind.CHOICE, choices=LOT_PARTS),
    FactColumn("came", "came", "It was", FactKind.CHOICE, choices=CAME),
    FactColumn("got_on", "got", "Got on", FactKind.DAY),
    FactColumn("origin", "origin", "Origin", FactKind.TEXT, can_be_blank=True),
    FactColumn("seller_lot", "lot", "Seller's lot", FactKind.TEXT, can_be_blank=True),
    FactColumn("price", "price", "Price", FactKind.MONEY, can_be_blank=True),
)
"""What a lot that was split off to be dried takes from the lot it was part of."""
LOT_CONDITION = FactColumn(
    "condition", "condition", "Condition", FactKind.CHOICE, choices=LOT_CONDITIONS
)
LOT_WEIGHT = FactColumn("mass_g", "weight", "Weight at first", FactKind.MASS)
LOT = (
    FactColumn("water_fraction", "water", "Water measured", FactKind.PERCENT, can_be_blank=True),
    FactColumn("note", "note", "Note", FactKind.TEXT, can_be_blank=True),
)
LOT_LAID_OUT = FactColumn("laid_out_on", "laid-out", "Laid out on", FactKind.DAY)
LOT_PART = FactColumn("laid_out_g", "laid-out-weight", "Fresh weight", FactKind.MASS)
LOT_DRIED = FactColumn("dry_on", "dry", "Dry on", FactKind.DAY)
LOT_DRY_WEIGHT = FactColumn("dry_g", "dry-weight", "Dry weight", FactKind.MASS)
LOT_END = FactColumn(
    "used_up_on", "used-up", "Used up on", FactKind.DAY, can_be_blank=True,
    hint="blank: some is left",
)  # fmt: skip
LOT_MOVEMENT = (
    FactColumn("day", "day", "Day", FactKind.DAY),
    FactColumn("note", "note", "Note", FactKind.TEXT, can_be_blank=True),
)
LOT_TAKEN = (
    FactColumn("kind", "kind", "Kind", FactKind.CHOICE, choices=HERB_OUT),
    FactColumn("person", "for", "For", FactKind.TEXT, can_be_blank=True),
    *LOT_MOVEMENT,
)
CUPBOARD_TAKEN = (
    FactColumn("kind", "kind", "Kind", FactKind.CHOICE, choices=CUPBOARD_OUT),
    *LOT_TAKEN[1:],
)
EVERYTHING, FROM_NOW_ON = "everything", "from now on"
FOR = (
    (EVERYTHING, "everything it went into"),
    (FROM_NOW_ON, "from now on"),
)
HERB = (
    FactColumn("name", "name", "Name", FactKind.TEXT),
    FactColumn("botanical", "botanical", "Botanical name", FactKind.TEXT, can_be_blank=True),
    FactColumn("cautions", "cautions", "Cautions", FactKind.TEXT, can_be_blank=True),
    FactColumn("note", "note", "Note", FactKind.TEXT, can_be_blank=True),
)

NUMBERS = {
    FactKind.VOLUME: Kind.VOLUME,
    FactKind.MASS: Kind.MASS,
    FactKind.STRENGTH: Kind.STRENGTH,
    FactKind.PERCENT: Kind.PERCENT,
    FactKind.MONEY: Kind.MONEY,
    FactKind.COUNT: Kind.COUNT,
    FactKind.SHARE: Kind.PERCENT,
    FactKind.NUMBER: Kind.NUMBER,
}
