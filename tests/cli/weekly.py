"""A shelf whose first bottle is drawn from each week."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from stillroom.clock import SetClock
from stillroom.keeping.bottles.bottle_views import bottle_rows
from stillroom.keeping.bottles.stock import take_out
from stillroom.keeping.keeper import Keeper

from ..conftest import NOW, keeper_of_copy

WEEKS = 6


@contextmanager
def drawn_weekly(
    made: Path, path: Path, volume_ml: float, *, person: str = ""
) -> Iterator[tuple[Keeper, int]]:
    """Draw so much for six weeks on a copy; gives its keeper and the bottle's id for more."""
    clock = SetClock(NOW)
    with keeper_of_copy(made, path, clock) as keeper:
        bottle_id = next(row.bottle_id for row in bottle_rows(keeper) if row.code == "26-001.1")
        for _ in range(WEEKS):
            clock.advance(days=7)
            take_out(keeper, bottle_id, volume_ml, person=person)
        yield keeper, bottle_id
