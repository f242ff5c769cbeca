"""The end of the sample shelf's story: pressed twice, joined, thinned, sweetened and lost."""

from datetime import timedelta
from typing import TYPE_CHECKING

from stillroom.keeping.bottles.blends import make_blend
from stillroom.keeping.bottles.bottle_views import bottle_rows
from stillroom.keeping.bottles.bottling import bottle_up
from stillroom.keeping.bottles.joining import Thinning, all_of, joined, thinned
from stillroom.keeping.bottles.losses import lose
from stillroom.keeping.bottles.tinctures import tincture_view
from stillroom.keeping.cupboard.counting import count_in_cupboard, take_from_cupboard
from stillroom.keeping.cupboard.cupboard import shelf_rows
from stillroom.keeping.cupboard.liquids import add_liquid
from stillroom.keeping.cupboard.lot_reading import herb_lots
from stillroom.keeping.cupboard.lots import give_herb, weigh_lot
from stillroom.keeping.cupboard.taking import charge_of_lot
from stillroom.keeping.drafts import (
    AgainDraft,
    BlendDraft,
    BlendPartDraft,
    BottleDraft,
    BottlingDraft,
    ChargeDraft,
    InputDraft,
    JarDraft,
    LiquidDraft,
    PourDraft,
    StrainDraft,
)
from stillroom.keeping.jars.jar import fill_jar
from stillroom.keeping.jars.marc import pour_again
from stillroom.keeping.jars.straining import drain, strain
from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.other_liquids import USUAL
from stillroom.reckoning.states import (
    CupboardMovementKind,
    InputKind,
    LiquidKind,
    LossKind,
    OtherLiquidKind,
)
from stillroom.reckoning.yields import Pressing

if TYPE_CHECKING:
    from .make_sample_shelf import Dispensary

SAGE_TWICE, FENNEL_TO_PRESS = 34, 16
"""Days before today on which the two jars were filled."""


def handle_materials(at: "Dispensary") -> None:
    """A few of each, entered today; codes that were given before stay as they are."""
    keeper, today = at.keeper, at.keeper.today
    honey, glycerine = (_bought(at, kind) for kind in (OtherLiquidKind.HONEY,
                                                       OtherLiquidKind.GLYCERINE))  # fmt: skip

    # Drained one day and pressed the next; its marc steeps again.
    twice = _filled(at, "Sage", 30.0, 150.0, ago=SAGE_TWICE)
    day = today - timedelta(days=13)
    drain(keeper, StrainDraft(twice, day, 85.0, Pressing.DRAINED))
    at.step()
    made = strain(keeper, StrainDraft(twice, day + timedelta(days=1), 30.0, Pressing.PRESSED))
    at.step()
    spirit = at.pour(LiquidKind.SPIRIT, 80.0, 40)
    filled_on = day + timedelta(days=1)
    pour_again(keeper, AgainDraft(twice, (spirit,), filled_on, filled_on + timedelta(days=21)))

    # Another, drained today, waits for the press.
    to_press = _filled(at, "Fennel", 40.0, 200.0, ago=FENNEL_TO_PRESS)
    at.step()
    drain(keeper, StrainDraft(to_press, today, 110.0, Pressing.DRAINED))

    # Some of it was lost; the rest joined what was left of an older bottle, and was thinned.
    at.step()
    lose(keeper, made.tincture_id, LossKind.FILTERED_OFF, 5.0, note="through paper")
    at.step()
    thyme = at.named("Thyme")
    taken = (all_of(None, made.tincture_id), BlendPartDraft(thyme.bottle_id, 20.0))
    both = make_blend(keeper, joined(keeper, taken, today, "Sage and thyme"), confirmed=True)
    at.step()
    target = Thinning(all_of(None, both.tincture_id), 30.0, today)
    thin = make_blend(keeper, thinned(keeper, target), confirmed=True)
    at.step()
    rest_ml = tincture_view(keeper, thin.tincture_id).loose_ml - 100.0
    bottles = (
        BottleDraft(50.0, 50.0, "Kitchen drawer"),
        BottleDraft(50.0, 50.0, "Kitchen drawer"),
        BottleDraft(100.0, rest_ml, "Kitchen drawer"),
    )
    bottle_up(keeper, BottlingDraft(thin.tincture_id, bottles, today))

    # One bottle went on new herb, one into honey; glycerine went on herb from the beginning.
    one, other, _ = (row for row in bottle_rows(keeper) if row.tincture_id == thin.tincture_id)
    at.step()
    sage = next(lot for lot in herb_lots(keeper) if lot.code == "H-26-006")
    fill_jar(
        keeper,
        JarDraft(
            (charge_of_lot(sage, 15.0),),
            (PourDraft(LiquidKind.TINCTURE, 50.0, bottle_id=one.bottle_id),),
            today,
            today + timedelta(days=21),
            shelf_id=_shelf_id(at),
            note="The bottle of two herbs, on the same herb again.",
        ),
    )
    at.step()
    sweet = BlendDraft(
        "Sage honey",
        (BlendPartDraft(other.bottle_id, 40.0),),
        today,
        others=(InputDraft(InputKind.LIQUID, 20.0, honey),),
    )
    made = make_blend(keeper, sweet, confirmed=True)
    at.step()
    bottle = BottleDraft(100.0, made.loose_ml, "Kitchen drawer")
    bottle_up(keeper, BottlingDraft(made.tincture_id, (bottle,), today))
    at.step()
    ginger = ChargeDraft("Ginger", Part.ROOT, Condition.DRIED, 40.0)
    pours = (
        PourDraft(LiquidKind.LIQUID, 150.0, liquid_id=glycerine),
        PourDraft(LiquidKind.WATER, 50.0),
    )
    fill_jar(
        keeper,
        JarDraft((ginger,), pours, today, today + timedelta(days=28), shelf_id=_shelf_id(at)),
    )
    _count_and_spill(at, honey, glycerine)


def _count_and_spill(at: "Dispensary", honey: int, glycerine: int) -> None:
    """What the cupboard and the herbs in store gain and lose beside jars and blends."""
    keeper = at.keeper
    at.step()
    take_from_cupboard(
        keeper, InputKind.LIQUID, honey, 15.0, CupboardMovementKind.SPILL, note="the jar tipped"
    )
    at.step()
    count_in_cupboard(keeper, InputKind.LIQUID, glycerine, 340.0, note="what clings to the flask")
    at.step()
    fennel = next(lot for lot in herb_lots(keeper, with_empty=False) if lot.herb == "Fennel")
    give_herb(keeper, fennel.lot_id, 20.0, person="Noor")
    at.step()
    assert fennel.left_g is not None
    weigh_lot(keeper, fennel.lot_id, fennel.left_g - 24.0, note="drier than it was")


def _shelf_id(at: "Dispensary") -> int:
    """The shelf with the fewest jars."""
    return min(shelf_rows(at.keeper), key=lambda shelf: (shelf.jars, -shelf.position)).shelf_id


def _bought(at: "Dispensary", kind: OtherLiquidKind) -> int:
    at.step()
    usual = USUAL[kind]
    name, price, lot = {
        OtherLiquidKind.HONEY: ("Honey", 9.5, ""),
        OtherLiquidKind.GLYCERINE: ("Glycerine", 12.8, "G-118"),
    }[kind]
    draft = LiquidDraft(
        name, kind, usual.density_g_per_ml, usual.source, usual.acidity, usual.glycerol,
        500.0, price, at.keeper.today - timedelta(days=6), "Mill Lane Herbs", lot,
    )  # fmt: skip
    return add_liquid(at.keeper, draft)


def _filled(at: "Dispensary", herb: str, mass_g: float, volume_ml: float, *, ago: int) -> int:
    """A jar of dried herb in store that was filled so many days ago, entered today."""
    at.step()
    lot = next(lot for lot in herb_lots(at.keeper, with_empty=False) if lot.herb == herb)
    filled_on = at.keeper.today - timedelta(days=ago)
    draft = JarDraft(
        (charge_of_lot(lot, mass_g),),
        (at.pour(LiquidKind.SPIRIT, volume_ml, 40),),
        filled_on,
        filled_on + timedelta(days=14),
        shelf_id=_shelf_id(at),
    )
    return fill_jar(at.keeper, draft).jar_id
