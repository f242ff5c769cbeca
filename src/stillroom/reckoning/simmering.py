"""Roots simmered in water before the spirit goes on."""

from dataclasses import replace

from stillroom.reckoning.alcoholometry import WATER_G_PER_ML
from stillroom.reckoning.charge import Charge
from stillroom.reckoning.limits import OutOfRange, at_least_nothing, within
from stillroom.reckoning.mixing import Liquid

SHARE_BOILED_OFF = 1.0 / 3.0
"""A household decoction: 750 mL of water down to 500 mL in 20 to 30 minutes. Published household
directions, 20 g dried or 40 g fresh root."""


def liquid_left_ml(
    put_in_ml: float, root: Charge, boiled_off_fraction: float = SHARE_BOILED_OFF
) -> float:
    """Returns the free liquid left after simmering: put in · (1 − boiled off) − soaked up.

    Dried root soaks up water as it cooks; fresh root is full already. Never below zero.

    >>> liquid_left_ml(750, Charge(40, 0.7), 1 / 3)
    500.0
    """
    at_least_nothing(put_in_ml, "The water put in", "mL")
    within(100.0 * boiled_off_fraction, 0, 100, "The share boiled off", "%")
    soaked_ml = (water_in_root_g(root) - root.water_g) / WATER_G_PER_ML
    return max(0.0, put_in_ml * (1.0 - boiled_off_fraction) - soaked_ml)


def water_in_root_g(root: Charge, drained_g: float | None = None) -> float:
    """Returns the water in the root once it is simmered and drained.

    Drained weight − dry solids if it was weighed; else 1.75 mL per g of dried weight, or the
    root's own water where that is more.

    >>> water_in_root_g(Charge(100, 0.7), drained_g=130)
    100.0
    """
    if drained_g is None:
        return replace(root, is_simmered=True).water_g
    at_least_nothing(drained_g, "The drained weight of the root", "g")
    if drained_g < root.solids_g:
        raise OutOfRange(
            f"The drained root must weigh at least its dry solids, {root.solids_g:.1f} g, "
            f"not {drained_g:g} g."
        )
    return drained_g - root.solids_g


def water_in_jar(liquid_ml: float, root_water_g: float) -> Liquid:
    """Returns all the water the spirit will meet: the liquid kept and what the root holds.

    >>> water_in_jar(500, 99.82).volume_ml
    600.0
    """
    at_least_nothing(liquid_ml, "The liquid kept", "mL")
    at_least_nothing(root_water_g, "Water in the root", "g")
    return Liquid(liquid_ml + root_water_g / WATER_G_PER_ML)
