"""A calculated plan for a jar, as the fill form begins with it."""

from collections.abc import Mapping, Sequence

from stillroom.keeping.drafts import PourDraft
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.views import SpiritView
from stillroom.keeping.wording import wording
from stillroom.quantities import Notation
from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.kinds import Kind
from stillroom.reckoning.mixing import Liquid
from stillroom.reckoning.registry import FillPlan, Value
from stillroom.reckoning.states import LiquidKind
from stillroom.screens.calculator.starts import spirits_to_pour
from stillroom.screens.jar.fill import HerbStart, JarStart

SAME_STRENGTH = 0.005
"""% v/v within which a figure typed from a label is that of the bottle in the cupboard."""
ROUNDING = 0.005
"""Share of a pour that rounding it to what a jug shows may add."""


def jar_start(plan: FillPlan, values: Mapping[str, Value], keeper: Keeper) -> JarStart:
    """A calculated plan as the fill form begins with it, its spirits out of the cupboard."""
    notation = wording(keeper)
    charge = plan.charges[0]
    herb = HerbStart(
        part=Part(str(values["part"])),
        condition=Condition(str(values["condition"])),
        mass_g=None if charge.mass_g is None else _measured(Kind.MASS, charge.mass_g, notation),
        water_fraction=charge.water_fraction if values["water"] is not None else None,
    )
    cupboard = spirits_to_pour(keeper)
    pours: list[PourDraft] = []
    for pour in plan.pours:
        volume_ml = _measured(Kind.VOLUME, pour.volume_ml, notation)
        pours += _out_of(cupboard, Liquid(volume_ml, pour.strength_abv))
    if plan.water_ml > 0:
        pours.append(PourDraft(LiquidKind.WATER, _measured(Kind.VOLUME, plan.water_ml, notation)))
    capacity = values["jar"]
    return JarStart(
        herbs=(herb,),
        pours=tuple(pours),
        capacity_ml=float(capacity) if isinstance(capacity, int | float) else None,
    )


def _out_of(cupboard: Sequence[SpiritView], pour: Liquid) -> list[PourDraft]:
    """A pour shared among the spirits of its strength, and what they lack from elsewhere.

    One bottle that holds it all is enough; of several such, the first of the cupboard.
    """
    alike = [s for s in cupboard if abs(s.strength_abv - pour.strength_abv) < SAME_STRENGTH]
    enough = [s for s in alike if s.left_ml is None or s.left_ml >= pour.volume_ml]
    drafts = []
    left_ml = pour.volume_ml
    for spirit in enough[:1] or alike:
        if left_ml > 0:
            taken_ml = left_ml if spirit.left_ml is None else min(left_ml, spirit.left_ml)
            drafts.append(
                PourDraft(LiquidKind.SPIRIT, taken_ml, spirit.strength_abv, spirit.spirit_id)
            )
            left_ml -= taken_ml
    # A last spoonful is the rounding of the jug, not another bottle.
    if not drafts or left_ml > ROUNDING * pour.volume_ml:
        drafts.append(PourDraft(LiquidKind.SPIRIT, left_ml, pour.strength_abv))
    return drafts


def _measured(kind: Kind, value: float, notation: Notation) -> float:
    """A value rounded to what a jug or a scale shows."""
    return notation.read(kind, notation.of(kind, value))
