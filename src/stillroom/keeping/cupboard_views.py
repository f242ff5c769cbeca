"""What travels of the cupboard: spirits, herbs, planks and bottle sizes, and herb in tinctures."""

from dataclasses import dataclass
from datetime import date

from stillroom.keeping.words import in_a_row
from stillroom.reckoning.charge import Condition, Part


@dataclass(frozen=True)
class SpiritView:
    """A spirit in the cupboard."""

    spirit_id: int
    name: str
    strength_abv: float
    bought_ml: float | None
    left_ml: float | None
    """None where the cupboard does not keep count."""
    price: float | None
    bought_on: date | None
    origin: str
    note: str
    lot: str = ""
    code: str = ""
    """Blank where it has none; it tells two lots of one spirit apart."""
    density_g_per_ml: float | None = None
    """As weighed; None where it follows from the strength."""

    @property
    def where_from(self) -> str:
        """Origin, lot and code in one text, as `bought_from` has them in SQL."""
        return in_a_row(self.origin, self.lot, self.code)

    @property
    def price_per_ml(self) -> float | None:
        """Paid per mL, where both are known."""
        if self.price is None or not self.bought_ml:
            return None
        return self.price / self.bought_ml


@dataclass(frozen=True)
class HerbView:
    """A herb in the cupboard."""

    herb_id: int
    name: str
    botanical: str
    cautions: str
    note: str
    jars: int
    """Jars it has gone into."""
    in_stock_ml: float
    """Tincture of it in bottles; of a blend only its share."""


@dataclass(frozen=True)
class ShelfRow:
    """A plank in the cupboard's list."""

    shelf_id: int
    name: str
    note: str
    position: int
    jars: int


@dataclass(frozen=True)
class SizeView:
    """A size of bottle in use."""

    size_id: int
    size_ml: float
    empties: int | None


@dataclass(frozen=True)
class HerbEquivalent:
    """How much of one herb a millilitre of a tincture holds."""

    herb_id: int
    herb: str
    botanical: str
    part: Part
    condition: Condition
    g_per_ml: float | None
    """As it went in; None where some of it was put in by eye."""
    dried_g_per_ml: float | None
    """The same as if it had gone in dried."""
    is_at_most: bool
    """Whether another herb in its jar was put in by eye, so that its water is not counted."""
