"""A bottled tincture in one line, for tests that begin where the main job ends."""

from collections.abc import Callable, Sequence
from datetime import timedelta
from functools import partial

import pytest

from stillroom.keeping.bottles.bottle_views import bottle_rows
from stillroom.keeping.drafts import (
    BottleDraft,
    ChargeDraft,
)
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.views import BottleRow
from stillroom.reckoning.charge import Condition, Part

from ..builders import bottled as fill_bottles
from ..builders import filled, spirit, strained


@pytest.fixture
def bottled(keeper: Keeper) -> Callable[..., list[BottleRow]]:
    """Make a tincture and bottle it, as `tincture_in_bottles` does, on the test's shelf."""
    return partial(tincture_in_bottles, keeper)


def tincture_in_bottles(
    keeper: Keeper,
    *herbs: ChargeDraft | str,
    sizes_ml: Sequence[float] = (100,),
    poured_ml: float = 200,
    spirit_abv: float = 40,
    spirit_id: int | None = None,
    yield_ml: float = 150,
    measured_abv: float | None = None,
    days_ago: int = 0,
    place: str = "",
    write_off_rest: bool = True,
) -> list[BottleRow]:
    """Make a tincture and bottle it, every bottle full, the rest lost; returns its bottles.

    Herbs are drafts, or names for 40 g of dried seed.
    """
    day = keeper.today - timedelta(days=days_ago)
    charges = tuple(
        ChargeDraft(herb, Part.SEED, Condition.DRIED, 40) if isinstance(herb, str) else herb
        for herb in herbs
    )
    poured = spirit(poured_ml, spirit_abv, spirit_id)
    jar_id = filled(keeper, charges, poured, on=day, days=0)
    tincture = strained(keeper, jar_id, yield_ml, on=day, measured_abv=measured_abv)
    bottles = [BottleDraft(size, size, place) for size in sizes_ml]
    fill_bottles(keeper, tincture, *bottles, on=day, write_off_rest=write_off_rest)
    made = [row for row in bottle_rows(keeper) if row.tincture_id == tincture.tincture_id]
    return sorted(made, key=lambda row: row.bottle_id)
