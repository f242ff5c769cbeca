"""The words that a shelf is written down in: states, kinds, and how a strength is known.

Each is a table of the schema, which a test compares with these.
"""

from collections.abc import Iterable
from enum import StrEnum


class JarState(StrEnum):
    """What has become of a jar."""

    STEEPING = "steeping"
    DRAINED = "drained"
    """Its liquid was poured off, and the marc is still to be pressed."""
    STRAINED = "strained"
    DISCARDED = "discarded"


NOT_ENDED = (JarState.STEEPING, JarState.DRAINED)
"""A jar with liquid that is no batch yet."""


class LiquidKind(StrEnum):
    """What was poured on the herb."""

    SPIRIT = "spirit"
    WATER = "water"
    DECOCTION = "decoction"
    HELD_BACK = "held back"
    """What the marc of an earlier jar held."""
    TINCTURE = "tincture"
    LIQUID = "liquid"
    """Another liquid of the cupboard, such as glycerine."""


class OtherLiquidKind(StrEnum):
    """What a liquid of the cupboard is that is no spirit."""

    GLYCERINE = "glycerine"
    VINEGAR = "vinegar"
    HONEY = "honey"
    SYRUP = "syrup"
    JUICE = "juice"
    OTHER = "other"


class InputKind(StrEnum):
    """Where something came from that went into a batch without a jar."""

    BOTTLE = "bottle"
    BATCH = "batch"
    """What waited to be bottled."""
    SPIRIT = "spirit"
    LIQUID = "liquid"
    WATER = "water"


class BatchHow(StrEnum):
    """How a batch was made of others; the schema leaves it open."""

    BLENDED = "blended"
    JOINED = "joined"
    THINNED = "thinned"
    STRENGTHENED = "strengthened"


class LossKind(StrEnum):
    """How liquid of a batch was lost before it was bottled."""

    FILTERED_OFF = "filtered off"
    DREGS = "dregs"
    EVAPORATED = "evaporated"
    SAMPLE = "sample"
    SPILLED = "spilled"
    SPOILED = "spoiled"
    NOT_STATED = "not stated"


class CupboardMovementKind(StrEnum):
    """Why there is more or less of a spirit or liquid in the cupboard, pours apart."""

    COUNT = "count"
    GIVE = "give"
    SPILL = "spill"
    EVAPORATED = "evaporated"
    SPOILED = "spoiled"
    DISCARD = "discard"

    @property
    def takes_out(self) -> bool:
        """Whether it only ever takes liquid out."""
        return self is not CupboardMovementKind.COUNT


class StrengthBy(StrEnum):
    """How the strength of a tincture is known."""

    MEASURED = "measured"
    CALCULATED = "calculated"
    ESTIMATED = "estimated"
    """Some herb was not weighed, or only a figure on a label is known."""
    UNKNOWN = "unknown"


class DayBy(StrEnum):
    """How a day is known."""

    STATED = "stated"
    ASSUMED = "assumed"
    """Answered for a sheet that leaves it out, and not confirmed yet."""
    NOT_KNOWN = "not known"
    """The only day that is known stands in its place."""


class LineKind(StrEnum):
    """What a line of the journal says was done."""

    ACT = "act"
    CORRECTION = "correction"
    UNDO = "undo"
    REDO = "redo"
    IMPORT = "import"
    NEW_SCHEMA = "new schema"
    NAME_REMOVED = "name removed"


class BatchStatus(StrEnum):
    """Whether a batch may be used."""

    WAITING = "waiting"
    RELEASED = "released"
    REJECTED = "rejected"
    WITHDRAWN = "withdrawn"


class PrintKind(StrEnum):
    """What a line of the print log says of a label."""

    PRINTED = "printed"
    DISMISSED = "dismissed"
    """It differs from the bottle by now, and needs no printing."""


class MovementKind(StrEnum):
    """Why the liquid in a bottle became more or less."""

    FILL = "fill"
    DRAW = "draw"
    GIVE = "give"
    SPILL = "spill"
    WEIGH_IN = "weigh in"
    COUNT = "count"
    POUR_TOGETHER = "pour together"
    BLEND = "blend"
    POUR_ON = "pour on"
    """On the herb of a jar."""
    FILTERED_OFF = "filtered off"
    DREGS = "dregs"
    EVAPORATED = "evaporated"
    SAMPLE = "sample"
    SPOILED = "spoiled"
    DISCARD = "discard"

    @property
    def takes_out(self) -> bool:
        """Whether it only ever takes liquid out."""
        return self in _TAKES_OUT

    @property
    def corrects(self) -> bool:
        """Whether it sets the record to what was seen in the bottle."""
        return self in CORRECTIONS

    @property
    def is_use(self) -> bool:
        """Whether it shows how fast a tincture is used.

        Liquid thrown away or lost does not; filling and pouring together are no use. A correction
        is use that nobody wrote down.
        """
        return (self.takes_out and self not in _NO_USE) or self.corrects

    @property
    def verb(self) -> str:
        """What somebody did by hand, such as "Drew"."""
        return _VERBS[self]


class HerbCame(StrEnum):
    """How a lot of herb was got."""

    GATHERED = "gathered"
    BOUGHT = "bought"


class HerbMovementKind(StrEnum):
    """Why a lot of herb became more or less, other than by filling jars."""

    WEIGH_IN = "weigh in"
    DRIED = "dried"
    GIVE = "give"
    DISCARD = "discard"
    SPOILED = "spoiled"
    USED_UP = "used up"
    """What was still recorded when a lot was at its end."""

    @property
    def takes_out(self) -> bool:
        """Whether it only ever takes herb, or its water, out."""
        return self is not HerbMovementKind.WEIGH_IN


HERB_DISCARDS = (HerbMovementKind.DISCARD, HerbMovementKind.SPOILED)
"""Why herb was thrown away, for a person to choose from."""


CORRECTIONS = (MovementKind.WEIGH_IN, MovementKind.COUNT)
INTO_OTHERS = (MovementKind.BLEND, MovementKind.POUR_ON)
"""What takes liquid into another batch."""
LOSSES = (
    MovementKind.FILTERED_OFF,
    MovementKind.DREGS,
    MovementKind.EVAPORATED,
    MovementKind.SAMPLE,
    MovementKind.SPOILED,
)
"""Losses out of a bottle; a spill is one, too, that is chosen where liquid is drawn."""
BY_HAND = (MovementKind.DRAW, MovementKind.GIVE, MovementKind.SPILL, *LOSSES)
"""What takes liquid out for a reason that a person chooses."""
LOST = (MovementKind.SPILL, *LOSSES)
"""What is lost of it, whether it may be used or not."""
LOSS_KINDS = tuple(kind for kind in LossKind if kind is not LossKind.NOT_STATED)
"""The kinds of loss that a person can choose; *not stated* isn't one of them."""
_NO_USE = (*LOSSES, MovementKind.DISCARD)
_TAKES_OUT = (*BY_HAND, *INTO_OTHERS, *_NO_USE)
_VERBS = {
    MovementKind.DRAW: "Drew",
    MovementKind.GIVE: "Gave",
    MovementKind.SPILL: "Spilled",
    MovementKind.FILTERED_OFF: "Filtered off",
    MovementKind.DREGS: "Left as dregs",
    MovementKind.EVAPORATED: "Let evaporate",
    MovementKind.SAMPLE: "Took a sample of",
    MovementKind.SPOILED: "Discarded as spoiled",
}


def in_sql(words: Iterable[StrEnum]) -> str:
    """Words as a list in SQL.

    >>> in_sql(CORRECTIONS)
    "('weigh in', 'count')"
    """
    quoted = (f"'{word}'" for word in words)
    return f"({', '.join(quoted)})"
