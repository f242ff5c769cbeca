"""What traces show: where a batch came from and went, as a tree and as sums."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True)
class Node:
    """One thing in a tree of where liquid came from or went to."""

    kind: str
    """`bottle`, `tincture`, `blend`, `jar`, `herb`, `spirit`, `water` or `decoction`."""
    label: str
    detail: str = ""
    volume_ml: float | None = None
    """What moved on this branch: drawn into the blend, poured onto the herb, filled, strained."""
    left_ml: float | None = None
    """What is there now; None if not known."""
    contains_ml: float | None = None
    """In a recall: how much of the source is in that; None if it can't be calculated."""
    jar_id: int | None = None
    tincture_id: int | None = None
    bottle_id: int | None = None
    herb_id: int | None = None
    spirit_id: int | None = None
    lot_id: int | None = None
    """With a herb: the lot in store that it is, or was taken from."""
    liquid_id: int | None = None
    gathered_on: date | None = None
    origin: str = ""
    is_repeat: bool = False
    """Whether it is shown in full further up in the tree."""
    children: tuple["Node", ...] = ()

    def walk(self) -> Iterator["Node"]:
        """This node and all below it, from the top down."""
        waiting = [self]
        while waiting:
            node = waiting.pop()
            yield node
            waiting.extend(reversed(node.children))


@dataclass(frozen=True)
class Found:
    """What a code refers to."""

    kind: str
    """`bottle`, `tincture` or `jar`."""
    code: str
    jar_id: int | None = None
    tincture_id: int | None = None
    bottle_id: int | None = None


@dataclass(frozen=True)
class ScannedThing:
    """What a scanned code refers to; one of its ids says what it is."""

    code: str
    jar_id: int | None = None
    """With a tincture: the jar it was strained from."""
    tincture_id: int | None = None
    """With a bottle: what is in it."""
    bottle_id: int | None = None
    herb_lot_id: int | None = None
    liquid_id: int | None = None
    spirit_id: int | None = None


@dataclass(frozen=True)
class Gathering:
    """One gathering or purchase of a herb."""

    herb_id: int
    herb: str
    gathered_on: date | None
    origin: str
    jars: int
    """Jars it went into."""
