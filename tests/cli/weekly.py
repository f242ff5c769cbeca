"""A shelf whose first bottle is drawn from each week."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from stillroom.clock import SetClock
from stillroom.keeping.bottles.bottle_views import bottle_rows
from stillroom.keeping.bottles.stock import take_out
from stillroom.keeping.keeper import Keeper
from stillroom.records.store import Store

from ..conftest import NOW

WEEKS = 6


@contextmanager
def drawn_weekly(path: Path, volume_ml: float, *, person: str = "") -> Iterator[tuple[Keeper, int]]:
    """Draw so much for six weeks; gives the keeper and the bottle's id for what comes after."""
    clock = SetClock(NOW)
    keeper = Keeper(Store.open(path), clock)
    bottle_id = next(row.bottle_id for row in bottle_rows(keeper) if row.code == "26-001.1")
    for _ in range(WEEKS):
        clock.advance(days=7)
        take_out(keeper, bottle_id, volume_ml, person=person)
    yield keeper, bottle_id
    keeper.store.close()
