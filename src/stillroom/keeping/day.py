"""What the day asks for: shakes, jars due, jars over, tinctures to bottle, bottles running out."""

from dataclasses import dataclass
from datetime import date

from stillroom.keeping.bottles.print_log import OldLabel, old_labels
from stillroom.keeping.bottles.stock_outlook import passing_soon
from stillroom.keeping.bottles.tinctures import unbottled
from stillroom.keeping.cards import JarCard, ShelvesView
from stillroom.keeping.cupboard.lots_good import Good, passing_lots
from stillroom.keeping.jars.shelves import shelves_view
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.views import BottleRow, TinctureView
from stillroom.keeping.year.ahead import plan_view
from stillroom.keeping.year.plan_views import Ahead


@dataclass(frozen=True)
class DayView:
    """Today's work."""

    day: date
    to_shake: tuple[JarCard, ...]
    due: tuple[JarCard, ...]
    over: tuple[JarCard, ...]
    to_press: tuple[JarCard, ...]
    """Jars drained and still to be pressed."""
    to_bottle: tuple[TinctureView, ...]
    """Tinctures and blends with liquid that is in no bottle yet."""
    uncovered: tuple[JarCard, ...]
    passing: tuple[BottleRow, ...]
    """Bottles past their keep-until date or soon to be."""
    old_labels: tuple[OldLabel, ...]
    """Labels to print again, or to dismiss."""
    passing_lots: tuple[Good, ...] = ()
    """Dried herb in store past the day up to which it is usually good, or soon to be."""
    to_start: tuple[Ahead, ...] = ()
    """What has to be gathered or filled this month, so that it lasts."""


def day_view(keeper: Keeper) -> DayView:
    """What today asks for."""
    shelves: ShelvesView = shelves_view(keeper)
    return DayView(
        day=shelves.today,
        to_shake=shelves.to_shake,
        due=shelves.due_today,
        over=shelves.over,
        to_press=shelves.to_press,
        to_bottle=tuple(unbottled(keeper)),
        uncovered=tuple(j for j in shelves.jars if j.is_steeping and not j.covered),
        passing=tuple(passing_soon(keeper)),
        old_labels=tuple(old_labels(keeper)),
        passing_lots=tuple(passing_lots(keeper)),
        to_start=plan_view(keeper).due,
    )
