"""A bottled tincture in one line, for tests that begin where the main job ends."""

from collections.abc import Sequence
from datetime import date, timedelta
from typing import Protocol

import pytest

from stillroom.keeping.bottling import bottle_up
from stillroom.keeping.drafts import (
    BottleDraft,
    BottlingDraft,
    ChargeDraft,
    JarDraft,
    PourDraft,
    StrainDraft,
)
from stillroom.keeping.jars import fill_jar
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.stock import bottle_rows
from stillroom.keeping.straining import strain
from stillroom.keeping.views import BottleRow
from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.yields import Pressing


def dried_seed(
    herb: str, mass_g: float | None = 40, gathered_on: date | None = None, origin: str = ""
) -> ChargeDraft:
    return ChargeDraft(
        herb, Part.SEED, Condition.DRIED, mass_g, gathered_on=gathered_on, origin=origin
    )


class Bottled(Protocol):
    """Makes a tincture and bottles it, every bottle full."""

    def __call__(
        self,
        *herbs: ChargeDraft | str,
        sizes_ml: Sequence[float] = (100,),
        poured_ml: float = 200,
        strength_abv: float = 40,
        spirit_id: int | None = None,
        yield_ml: float = 150,
        days_ago: int = 0,
        place: str = "",
    ) -> list[BottleRow]: ...


@pytest.fixture
def bottled(keeper: Keeper) -> Bottled:
    """Forty grams of dried seed in 200 mL of 40 %, strained to 150 mL, unless told otherwise."""

    def make(
        *herbs: ChargeDraft | str,
        sizes_ml: Sequence[float] = (100,),
        poured_ml: float = 200,
        strength_abv: float = 40,
        spirit_id: int | None = None,
        yield_ml: float = 150,
        days_ago: int = 0,
        place: str = "",
    ) -> list[BottleRow]:
        day = keeper.today - timedelta(days=days_ago)
        charges = tuple(dried_seed(herb) if isinstance(herb, str) else herb for herb in herbs)
        pours = (PourDraft("spirit", poured_ml, strength_abv, spirit_id),)
        jar = fill_jar(keeper, JarDraft(charges, pours, filled_on=day, strain_on=day))
        tincture = strain(keeper, StrainDraft(jar.jar_id, day, yield_ml, Pressing.SQUEEZED))
        bottles = tuple(BottleDraft(size, size, place) for size in sizes_ml)
        bottle_up(keeper, BottlingDraft(tincture.tincture_id, bottles, day))
        made = [row for row in bottle_rows(keeper) if row.tincture_id == tincture.tincture_id]
        return sorted(made, key=lambda row: row.bottle_id)

    return make
