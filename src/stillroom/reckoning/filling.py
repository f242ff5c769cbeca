"""Planning a jar: how much herb, what to pour, and what strength it comes to."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import fsum

from stillroom.reckoning.alcoholometry import WATER_G_PER_ML
from stillroom.reckoning.charge import Charge, Fit, JarLiquid, fit_in_jar, liquid_in_jar
from stillroom.reckoning.limits import more_than_nothing
from stillroom.reckoning.mixing import (
    TINY_ML,
    Liquid,
    Recipe,
    Shortfall,
    SpiritOnHand,
    added_to_reach_ml,
    mix,
    pours_for_jar,
)


@dataclass(frozen=True)
class FillPlan:
    """A jar ready to be filled."""

    charges: tuple[Charge, ...]
    pours: tuple[Liquid, ...]
    """Spirits, with the volume of each; the water is not among them."""
    spirit_places: tuple[int, ...]
    """For each pour, which of the spirits it was planned from."""
    water_ml: float
    n: float
    """The n of 1:n, mL poured per g of herb."""
    jar: JarLiquid
    target_abv: float | None
    shortfall: Shortfall | None
    """None when the target is reached, or none was set and there is enough to pour."""
    fit: Fit | None
    """None when the size of the jar was not given."""

    @property
    def poured_ml(self) -> float:
        return fsum(pour.volume_ml for pour in self.pours) + self.water_ml


def plan_fill(
    charge: Charge,
    n: float,
    spirits: Sequence[SpiritOnHand],
    target_abv: float | None = None,
    jar_ml: float | None = None,
) -> FillPlan:
    """Returns what to pour on a weighed charge at 1:n, for a strength in the jar if one is set.

    Without a target the spirits go on neat, in the order given. With one, see `pours_for_jar`.

    >>> plan = plan_fill(Charge(100, 0.8), 2, [SpiritOnHand(95)])
    >>> round(plan.jar.strength_abv, 1)
    69.5
    """
    mass_g = more_than_nothing(charge.mass_g or 0.0, "The weight of herb", "g")
    poured_ml = mass_g * more_than_nothing(n, "The ratio")
    if target_abv is None:
        amounts_ml, shortfall = _neat(spirits, poured_ml)
        water_ml = 0.0
    else:
        recipe: Recipe = pours_for_jar(spirits, target_abv, poured_ml, charge.water_g)
        amounts_ml, shortfall = list(recipe.amounts_ml), recipe.shortfall
        water_ml = recipe.water_ml
    places = tuple(i for i, amount in enumerate(amounts_ml) if amount > 0.0)
    pours = tuple(Liquid(amounts_ml[i], spirits[i].strength_abv) for i in places)
    everything = [*pours, Liquid(water_ml)]
    return FillPlan(
        charges=(charge,),
        pours=pours,
        spirit_places=places,
        water_ml=water_ml,
        n=n,
        jar=liquid_in_jar([charge], everything),
        target_abv=target_abv,
        shortfall=shortfall,
        fit=None if jar_ml is None else fit_in_jar([charge], everything, jar_ml),
    )


def _neat(
    spirits: Sequence[SpiritOnHand], poured_ml: float
) -> tuple[list[float], Shortfall | None]:
    amounts_ml, left_ml = [], poured_ml
    for spirit in spirits:
        amounts_ml.append(min(left_ml, spirit.limit_ml))
        left_ml -= amounts_ml[-1]
    return amounts_ml, Shortfall.TOO_LITTLE if left_ml > TINY_ML else None


def strength_needed_abv(poured_ml: float, plant_water_g: float, target_abv: float) -> float | None:
    """Returns the strength a menstruum of that volume must have; None if even pure ethanol fails.

    By halving on the strength of the mixture.

    >>> round(strength_needed_abv(200, 80, 28.6))
    40
    """
    plant_water = Liquid(plant_water_g / WATER_G_PER_ML)

    def in_jar_abv(strength_abv: float) -> float:
        return mix([Liquid(poured_ml, strength_abv), plant_water]).strength_abv

    low_abv, high_abv = target_abv, 100.0
    if in_jar_abv(high_abv) < target_abv:
        return None
    for _ in range(40):
        middle_abv = (low_abv + high_abv) / 2.0
        if in_jar_abv(middle_abv) < target_abv:
            low_abv = middle_abv
        else:
            high_abv = middle_abv
    return high_abv


def n_needed(charge: Charge, spirit_abv: float, target_abv: float) -> float | None:
    """Returns the n of 1:n at which a neat spirit reaches a strength in the jar, if it ever does.

    >>> round(n_needed(Charge(100, 0.8), 40, 28.6), 1)
    2.0
    """
    mass_g = more_than_nothing(charge.mass_g or 0.0, "The weight of herb", "g")
    plant_water = Liquid(charge.water_g / WATER_G_PER_ML)
    needed_ml = added_to_reach_ml(plant_water, spirit_abv, target_abv)
    return None if needed_ml is None else needed_ml / mass_g
