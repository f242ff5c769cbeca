"""A shelf with a little of everything on it, for pages that list things."""

from datetime import timedelta

from stillroom.keeping.cards import JarCard
from stillroom.keeping.cupboard.cupboard import add_shelf, add_spirit, keep_bottle_size
from stillroom.keeping.drafts import (
    BottleDraft,
    ChargeDraft,
    JarDraft,
    PourDraft,
    ShelfDraft,
    SpiritDraft,
)
from stillroom.keeping.jars.jar import fill_jar
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.views import TinctureView
from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.states import LiquidKind

from .. import builders

AWKWARD = "金盏花 [b]Éch[/b] [50%]"
"""A name with wide characters, accents and what looks like markup."""


def fill(keeper: Keeper, herb: str, *, days: int = 14, ago: int = 0, shakes: int = 1) -> JarCard:
    """A jar of dried leaf under vodka, filled some days ago."""
    filled = keeper.today - timedelta(days=ago)
    return fill_jar(
        keeper,
        JarDraft(
            charges=(ChargeDraft(herb, Part.LEAF, Condition.DRIED, 100),),
            pours=(PourDraft(LiquidKind.SPIRIT, 500, 40),),
            filled_on=filled,
            strain_on=filled + timedelta(days=days),
            shakes_per_day=shakes,
        ),
    )


def spirit(keeper: Keeper, name: str = "Grain spirit", bought_ml: float | None = 1000) -> int:
    """A spirit of 40 %, bought for 25."""
    return add_spirit(keeper, SpiritDraft(name, 40, bought_ml, price=25, bought_on=keeper.today))


def strained(
    keeper: Keeper,
    herb: str,
    *,
    days_ago: int = 30,
    mass_g: float | None = 100,
    yield_ml: float = 350,
    spirit_id: int | None = None,
) -> TinctureView:
    """A tincture of 100 g dried flower in 500 mL of 40 % spirit, strained a fortnight later."""
    filled_on = keeper.today - timedelta(days=days_ago)
    charge = ChargeDraft(
        herb, Part.FLOWER, Condition.DRIED, mass_g, gathered_on=filled_on, origin="own garden"
    )
    jar_id = builders.filled(keeper, [charge], builders.spirit(500, 40, spirit_id), on=filled_on)
    return builders.strained(keeper, jar_id, yield_ml, on=filled_on + timedelta(days=14))


def bottled(keeper: Keeper, tincture: TinctureView, *volumes_ml: float, place: str = "") -> None:
    """Bottles of 250 mL filled from a tincture on the day it was made."""
    bottles = [BottleDraft(250, volume, place) for volume in volumes_ml]
    builders.bottled(keeper, tincture, *bottles, on=tincture.made_on)


def stock(keeper: Keeper) -> None:
    """Two herbs in three bottles, one tincture that waits, a spirit, shelves and sizes."""
    spirit_id = spirit(keeper)
    add_shelf(keeper, ShelfDraft("North larder", "dark and dry"))
    keep_bottle_size(keeper, 250, 12)
    bottled(
        keeper,
        strained(keeper, "Calendula", spirit_id=spirit_id),
        250,
        100,
        place="North larder",
    )
    bottled(keeper, strained(keeper, AWKWARD, days_ago=40, yield_ml=200), 200, place="Cellar")
    strained(keeper, "Yarrow", days_ago=20)
