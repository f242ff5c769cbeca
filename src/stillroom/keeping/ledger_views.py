"""Lines of the ledger as they are shown."""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum


class Mark(StrEnum):
    """Why a line of the ledger is struck through."""

    NONE = ""
    UNDONE = "undone"
    CORRECTED = "corrected"


@dataclass(frozen=True)
class Later:
    """The line of the journal that undid or corrected an entry of the ledger."""

    line_id: int
    day: date
    maker: str
    title: str
    why: str


@dataclass(frozen=True)
class EventView:
    """One line of the ledger."""

    event_id: int
    at: str
    day: date
    maker: str
    kind: str
    text: str
    subject: str
    """Code or name of what it is about."""
    jar_id: int | None = None
    tincture_id: int | None = None
    bottle_id: int | None = None
    line_id: int | None = None
    """Its line in the journal; None where it is older than the journal."""
    mark: Mark = Mark.NONE
    later: Later | None = None
    """What undid or corrected it."""

    @property
    def later_id(self) -> int | None:
        """The line of the journal that undid or corrected it."""
        return self.later.line_id if self.later else None
