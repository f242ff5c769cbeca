"""What travels of the herbs in store: lots, and what became of each."""

from dataclasses import dataclass
from datetime import date

from stillroom.keeping.tolerances import EMPTY_G
from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.states import HerbCame


def origin_words(origin: str, seller_lot: str) -> str:
    """Origin and lot in one text.

    >>> origin_words("Corner shop", "77-B"), origin_words("", "")
    ('Corner shop, lot 77-B', '')
    """
    lot = f"lot {seller_lot}" if seller_lot else ""
    return ", ".join(filter(None, (origin, lot)))


def bought_from(table: str) -> str:
    """SQL for the origin, lot and code of a spirit or liquid in one text, or null."""
    lot, code = (f"iif({table}.{c} <> '', ', ' || {table}.{c}, '')" for c in ("lot", "code"))
    return f"ltrim({table}.origin || {lot} || coalesce({code}, ''), ', ')"


@dataclass(frozen=True)
class HerbLotView:
    """A lot of herb."""

    lot_id: int
    code: str
    herb_id: int
    herb: str
    botanical: str
    part: Part
    condition: Condition
    came: HerbCame
    got_on: date
    origin: str
    seller_lot: str
    mass_g: float | None
    price: float | None
    water_fraction: float | None
    laid_out_on: date | None
    laid_out_g: float | None
    dry_on: date | None
    dry_g: float | None
    from_lot_id: int | None
    from_lot: str
    """The code of the fresh lot of which it is a part."""
    used_up_on: date | None
    note: str
    left_g: float | None
    """g in store; None where it was never weighed."""
    is_at_most: bool
    """Whether some was taken by eye since it was weighed."""
    jars: int
    """Jars it went into."""

    @property
    def is_drying(self) -> bool:
        """Whether it was laid out and isn't dry yet."""
        return self.laid_out_on is not None and self.dry_on is None

    @property
    def is_in_store(self) -> bool:
        """Whether there is, or may be, some left."""
        has_some = self.left_g is None or self.left_g > EMPTY_G
        return self.used_up_on is None and has_some

    @property
    def where_from(self) -> str:
        """Its origin and lot in one text, as a jar's herb line has them."""
        return origin_words(self.origin, self.seller_lot)

    @property
    def gathered_on(self) -> date | None:
        """The day it was gathered; None where it was bought."""
        return self.got_on if self.came is HerbCame.GATHERED else None


@dataclass(frozen=True)
class LotEntry:
    """One line of a lot's own ledger."""

    day: date
    at: str
    """The moment it was recorded; blank where that isn't known."""
    kind: str
    """A kind of herb movement, or what it went into."""
    mass_g: float | None
    """g; negative where herb was taken out, None for some that wasn't weighed."""
    left_g: float | None
    """What the lot held after it."""
    maker: str = ""
    person: str = ""
    note: str = ""
    movement_id: int | None = None
    jar_id: int | None = None
    lot_id: int | None = None
    """The lot that was laid out of it."""
    code: str = ""
    """Of that jar or lot."""
