"""Jars filled, strained and bottled in a line, for tests that begin where that ends."""

from collections.abc import Sequence
from datetime import date, timedelta
from typing import Any

from stillroom.keeping.bottles.bottling import bottle_up
from stillroom.keeping.cards import JarCard
from stillroom.keeping.cupboard.lot_views import HerbLotView
from stillroom.keeping.cupboard.lots import add_lot
from stillroom.keeping.drafts import (
    BottleDraft,
    BottlingDraft,
    ChargeDraft,
    HerbLotDraft,
    JarDraft,
    PourDraft,
    StrainDraft,
)
from stillroom.keeping.jars.jar import fill_jar
from stillroom.keeping.jars.learning import own_strainings
from stillroom.keeping.jars.straining import strain
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.views import JarView, TinctureView
from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.states import HerbCame, LiquidKind
from stillroom.reckoning.yields import Pressing


def spirit(volume_ml: float, strength_abv: float = 40, spirit_id: int | None = None) -> PourDraft:
    """Spirit poured on, of the cupboard or of nowhere."""
    return PourDraft(LiquidKind.SPIRIT, volume_ml, strength_abv, spirit_id)


def filled(
    keeper: Keeper,
    charges: Sequence[ChargeDraft],
    *pours: PourDraft,
    on: date | None = None,
    days: int = 14,
    capacity_ml: float | None = None,
    simmered: bool = False,
    note: str = "",
) -> int:
    """Fill a jar, today unless another day is given, to steep so many days; returns its id."""
    day = on or keeper.today
    draft = JarDraft(
        tuple(charges),
        pours,
        day,
        day + timedelta(days=days),
        capacity_ml=capacity_ml,
        simmered=simmered,
        note=note,
    )
    return fill_jar(keeper, draft).jar_id


def calendula(keeper: Keeper, herb: str = "Calendula", mass_g: float | None = 120) -> JarCard:
    """Fill a jar of dried flower with 600 mL of 40 % spirit, to steep a fortnight."""
    charge = ChargeDraft(herb, Part.FLOWER, Condition.DRIED, mass_g)
    day = keeper.today
    draft = JarDraft((charge,), (spirit(600),), day, day + timedelta(days=14))
    return fill_jar(keeper, draft)


def strained(
    keeper: Keeper,
    jar_id: int,
    yield_ml: float,
    pressing: Pressing = Pressing.SQUEEZED,
    *,
    on: date | None = None,
    marc_g: float | None = None,
    measured_abv: float | None = None,
    confirmed: bool = False,
) -> TinctureView:
    """Strain a jar, today unless another day is given."""
    day = on or keeper.today
    draft = StrainDraft(jar_id, day, yield_ml, pressing, marc_g, measured_abv, confirmed=confirmed)
    return strain(keeper, draft)


def bottled(
    keeper: Keeper,
    tincture: TinctureView,
    *bottles: BottleDraft,
    on: date | None = None,
    write_off_rest: bool = False,
) -> TinctureView:
    """Fill bottles from a tincture, today unless another day is given."""
    day = on or keeper.today
    return bottle_up(keeper, BottlingDraft(tincture.tincture_id, bottles, day, write_off_rest))


def retentions_seen(keeper: Keeper, jar: JarView | None, pressing: Pressing) -> list[float]:
    """What the marc held back, mL per g dried, in the strainings that a jar is judged by."""
    return [own.retention for own in own_strainings(keeper, pressing, jar)]


LOT_CAME_ON = date(2026, 11, 10)
"""When `gathered` came."""


def gathered(keeper: Keeper, mass_g: float | None = 900.0, **more: object) -> HerbLotView:
    """A lot of fresh yarrow of the lower bed, unless other facts are given."""
    facts: dict[str, Any] = {
        "herb": "Yarrow",
        "part": Part.FLOWER,
        "condition": Condition.FRESH,
        "came": HerbCame.GATHERED,
        "got_on": LOT_CAME_ON,
        "origin": "the lower bed",
        "mass_g": mass_g,
    }
    return add_lot(keeper, HerbLotDraft(**facts | more))
