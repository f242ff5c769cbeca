"""What travels of stock and stock-takes: frozen, with no database behind it."""

from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True)
class HerbOutlook:
    """How long the stock of one herb lasts."""

    herb: str
    """The heading its bottles are listed under."""
    left_ml: float
    """In bottles."""
    to_bottle_ml: float
    """Strained or blended, and still to be bottled."""
    went_out_ml: float
    """Drawn, given, spilled, blended or found missing in the last twelve months."""
    over_days: int
    """Days of the last twelve months that began with some in a bottle: it went out in those."""
    runs_out_on: date | None
    """When it is used up at that rate; None where nothing went out, or not in a lifetime."""
    is_low: bool


@dataclass(frozen=True)
class PlaceView:
    """A place that holds bottles."""

    name: str
    """Blank for bottles without one."""
    bottles: int


@dataclass(frozen=True)
class CountDifference:
    """A bottle that held more or less than recorded."""

    code: str
    recorded_ml: float
    seen_ml: float


@dataclass(frozen=True)
class StocktakeSummary:
    """What a stock-take came to."""

    place: str
    counted: int
    differences: tuple[CountDifference, ...]
    not_counted: tuple[str, ...]
    """Codes of the bottles recorded there that were not counted."""
    text: str
