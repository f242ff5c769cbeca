"""Until when lots of dried herb are usually good."""

from dataclasses import dataclass
from datetime import date, timedelta

from stillroom.keeping.cupboard.lot_reading import herb_lots
from stillroom.keeping.cupboard.lot_views import HerbLotView
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import settings_of
from stillroom.reckoning.charge import Condition
from stillroom.reckoning.dried_herb import NEAR_DAYS, USUAL_MONTHS, good_until, own_months


@dataclass(frozen=True)
class Good:
    """A lot of dried herb, and the day up to which it is usually good."""

    lot: HerbLotView
    until: date
    is_own: bool
    """Whether the time is the shelf's own; otherwise it is common practice, no source."""

    def is_past(self, today: date) -> bool:
        """Whether that day has gone by."""
        return self.until < today

    def is_near(self, today: date) -> bool:
        """Whether it comes soon, or has gone by."""
        return self.until <= today + timedelta(days=NEAR_DAYS)


def good_of(keeper: Keeper, lot: HerbLotView) -> Good | None:
    """Until when a lot is usually good, from the day it was dry or got dry; None of fresh herb."""
    if lot.condition is not Condition.DRIED:
        return None
    own = own_months(settings_of(keeper).dried_good)
    months = own.get(lot.part, USUAL_MONTHS[lot.part])
    return Good(lot, good_until(lot.dry_on or lot.got_on, months), lot.part in own)


def goods(keeper: Keeper) -> list[Good]:
    """The lots of dried herb in store, by the day up to which they are usually good."""
    lots = herb_lots(keeper, with_empty=False)
    found = [good for lot in lots if (good := good_of(keeper, lot))]
    return sorted(found, key=lambda each: (each.until, each.lot.code))


def passing_lots(keeper: Keeper) -> list[Good]:
    """Those past that day or soon to be."""
    return [each for each in goods(keeper) if each.is_near(keeper.today)]
