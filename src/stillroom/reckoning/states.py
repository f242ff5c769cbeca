"""The words that a shelf is written down in: states, kinds, and how a strength is known.

Each is one column of the schema, whose CHECKs a test compares with these.
"""

from collections.abc import Iterable
from enum import StrEnum


class JarState(StrEnum):
    """What has become of a jar."""

    STEEPING = "steeping"
    STRAINED = "strained"
    DISCARDED = "discarded"


class LiquidKind(StrEnum):
    """What was poured on the herb."""

    SPIRIT = "spirit"
    WATER = "water"
    DECOCTION = "decoction"


class StrengthBy(StrEnum):
    """How the strength of a tincture is known."""

    MEASURED = "measured"
    CALCULATED = "calculated"
    ESTIMATED = "estimated"
    """Some herb was not weighed, or only a figure on a label is known."""
    UNKNOWN = "unknown"


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

        Liquid thrown away does not; filling and pouring together are no use. A correction is use
        that nobody wrote down.
        """
        return (self.takes_out and self is not MovementKind.DISCARD) or self.corrects

    @property
    def verb(self) -> str:
        """What somebody did by hand, such as "Drew"."""
        return _VERBS[self]


CORRECTIONS = (MovementKind.WEIGH_IN, MovementKind.COUNT)
BY_HAND = (MovementKind.DRAW, MovementKind.GIVE, MovementKind.SPILL)
"""What takes liquid out for a reason that a person chooses."""
_TAKES_OUT = (*BY_HAND, MovementKind.BLEND, MovementKind.DISCARD)
_VERBS = {
    MovementKind.DRAW: "Drew",
    MovementKind.GIVE: "Gave",
    MovementKind.SPILL: "Spilled",
}


def in_sql(words: Iterable[StrEnum]) -> str:
    """Words as a list in SQL.

    >>> in_sql(CORRECTIONS)
    "('weigh in', 'count')"
    """
    quoted = (f"'{word}'" for word in words)
    return f"({', '.join(quoted)})"
