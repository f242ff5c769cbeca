"""A calculated plan for a jar, as the fill form begins with it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Self

from stillroom.keeping.cupboard_views import SpiritView
from stillroom.keeping.drafts import PourDraft
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.wording import wording
from stillroom.quantities import Notation
from stillroom.reckoning.charge import Condition, Part, fit_in_jar, liquid_in_jar
from stillroom.reckoning.kinds import Kind
from stillroom.reckoning.mixing import Liquid
from stillroom.reckoning.registry import FillPlan, Value
from stillroom.reckoning.states import LiquidKind
from stillroom.screens.calculator.starts import spirits_to_pour
from stillroom.screens.jar.fill import JarStart
from stillroom.screens.jar.herb_fields import HerbStart

SAME_STRENGTH = 0.005
"""% v/v within which a figure typed from a label is that of the bottle in the cupboard."""
ROUNDING = 0.005
"""Share of a pour that rounding it to what a jug shows may add."""


HARDLY_ANY = 1e-6
"""Share of an amount that no jug or scale shows."""
_MOST_TRIES = 2000


def jar_start(plan: FillPlan, values: Mapping[str, Value], keeper: Keeper) -> JarStart:
    """A calculated plan as the fill form begins with it, its spirits out of the cupboard."""
    notation = wording(keeper)
    jar_ml = values["jar"]
    capacity_ml = float(jar_ml) if isinstance(jar_ml, int | float) else None
    amounts = _Amounts.nearest(plan, notation)
    if not amounts.are_as_planned(plan, capacity_ml):
        amounts = _Amounts.no_weaker_and_no_fuller(plan, notation)
    herb = HerbStart(
        part=Part(str(values["part"])),
        condition=Condition(str(values["condition"])),
        mass_g=amounts.mass_g,
        water_fraction=plan.charges[0].water_fraction if values["water"] is not None else None,
    )
    cupboard = spirits_to_pour(keeper)
    pours: list[PourDraft] = []
    for pour, volume_ml in zip(plan.pours, amounts.spirits_ml, strict=True):
        pours += _out_of(cupboard, Liquid(volume_ml, pour.strength_abv))
    if amounts.water_ml > 0:
        pours.append(PourDraft(LiquidKind.WATER, amounts.water_ml))
    return JarStart(herbs=(herb,), pours=tuple(pours), capacity_ml=capacity_ml)


@dataclass(frozen=True)
class _Amounts:
    """A plan in amounts that a jug and a scale show."""

    mass_g: float | None
    spirits_ml: tuple[float, ...]
    water_ml: float

    @classmethod
    def nearest(cls, plan: FillPlan, notation: Notation) -> Self:
        return cls(
            _measured(Kind.MASS, plan.charges[0].mass_g, notation),
            tuple(_measured(Kind.VOLUME, p.volume_ml, notation) or 0.0 for p in plan.pours),
            _measured(Kind.VOLUME, plan.water_ml, notation) or 0.0,
        )

    @classmethod
    def no_weaker_and_no_fuller(cls, plan: FillPlan, notation: Notation) -> Self:
        """Herb and water rounded down, and spirit up where there is that much less water."""
        wanted_ml = [pour.volume_ml for pour in plan.pours]
        up_ml = [_beside(Kind.VOLUME, each, notation, up=True) for each in wanted_ml]
        less_water_ml = plan.water_ml - (sum(up_ml) - sum(wanted_ml))
        mass_g = plan.charges[0].mass_g
        herb_g = None if mass_g is None else _beside(Kind.MASS, mass_g, notation)
        if less_water_ml <= 0.0:
            down_ml = tuple(_beside(Kind.VOLUME, each, notation) for each in wanted_ml)
            return cls(herb_g, down_ml, _beside(Kind.VOLUME, plan.water_ml, notation))
        return cls(herb_g, tuple(up_ml), _beside(Kind.VOLUME, less_water_ml, notation))

    def are_as_planned(self, plan: FillPlan, capacity_ml: float | None) -> bool:
        """Whether the jar keeps as the plan says, and fits if that does."""
        charges = [replace(plan.charges[0], mass_g=self.mass_g)]
        spirits = zip(plan.pours, self.spirits_ml, strict=True)
        pours = [*(replace(p, volume_ml=ml) for p, ml in spirits), Liquid(self.water_ml)]
        fits = plan.fit is None or not plan.fit.is_enough or capacity_ml is None
        return liquid_in_jar(charges, pours).keeping is plan.jar.keeping and (
            fits or fit_in_jar(charges, pours, capacity_ml or 0.0).is_enough
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


def _measured(kind: Kind, value: float | None, notation: Notation) -> float | None:
    """A value rounded to the nearest that a jug or a scale shows."""
    return None if value is None else notation.read(kind, notation.of(kind, value))


def _beside(kind: Kind, value: float, notation: Notation, *, up: bool = False) -> float:
    """The nearest value that a jug or a scale shows on one side."""
    shown = _measured(kind, value, notation) or 0.0
    sign = 1.0 if up else -1.0
    step = abs(shown - value)
    for tries in range(_MOST_TRIES):
        if (shown - value) * sign >= -HARDLY_ANY * value:
            break
        shown = _measured(kind, max(0.0, value + sign * step * (tries + 1)), notation) or 0.0
    return shown
