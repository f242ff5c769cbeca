"""Roots simmered in water before the spirit goes on: a ledger of the water."""

from dataclasses import dataclass, replace

from stillroom.reckoning.alcoholometry import WATER_G_PER_ML
from stillroom.reckoning.charge import Charge
from stillroom.reckoning.kinds import Figure, Kind
from stillroom.reckoning.limits import OutOfRange, at_least_nothing, within
from stillroom.reckoning.mixing import Liquid

SHARE_BOILED_OFF = 1.0 / 3.0
"""A household decoction: 750 mL of water down to 500 mL in 20 to 30 minutes. Published household
directions, 20 g dried or 40 g fresh root."""
_ROUNDING_G = 1e-6


@dataclass(frozen=True)
class Decoction:
    """Where the water went: put in and the root's own = boiled off + kept + in the root."""

    own_g: float
    """What the root brought."""
    kept_g: float
    """What was poured off the root, or would be."""
    in_root_g: float
    """What the root still holds, drained."""
    put_in_g: float | None = None
    boiled_off_g: float | None = None
    """Not known where the water put in is not."""
    is_soaked_up: bool = False
    """Whether the root would take up more than was left, and so holds all of it."""

    @property
    def put_in_ml(self) -> float | None:
        return None if self.put_in_g is None else self.put_in_g / WATER_G_PER_ML

    @property
    def boiled_off_ml(self) -> float | None:
        return None if self.boiled_off_g is None else self.boiled_off_g / WATER_G_PER_ML

    @property
    def kept_ml(self) -> float:
        return self.kept_g / WATER_G_PER_ML

    @property
    def water(self) -> Liquid:
        """All the water the spirit will meet."""
        return Liquid((self.kept_g + self.in_root_g) / WATER_G_PER_ML)


def decoction(
    root: Charge,
    put_in_ml: float | None = None,
    boiled_off_fraction: float | None = None,
    kept_ml: float | None = None,
    drained_g: float | None = None,
) -> Decoction:
    """Returns where the water is once a root was simmered and drained; none appears or vanishes.

    What was measured is taken as measured, and the rest follows from the balance. Where that
    leaves two things open, a third of the water put in boils off, and drained root holds 1.75 mL
    per g of its dried weight, or its own water where that is more, up to the water there is.
    What cannot be raises OutOfRange.

    >>> round(decoction(Charge(40, 0.7), put_in_ml=750).kept_ml)
    500
    """
    at_least_nothing(put_in_ml or 0.0, "The water put in", "mL")
    at_least_nothing(kept_ml or 0.0, "The liquid kept", "mL")
    if boiled_off_fraction is not None:
        within(100.0 * boiled_off_fraction, 0, 100, "The share boiled off", "%")
    drained = None if drained_g is None else _water_in_drained_g(root, drained_g)
    if kept_ml is not None:
        return _measured(root, put_in_ml, boiled_off_fraction, kept_ml * WATER_G_PER_ML, drained)
    if put_in_ml is None:
        raise OutOfRange("Enter the water put in, or the liquid left after simmering.")
    if boiled_off_fraction is None:
        boiled_off_fraction = SHARE_BOILED_OFF
    put_in_g = put_in_ml * WATER_G_PER_ML
    boiled_off_g = put_in_g * boiled_off_fraction
    left_g = put_in_g + root.water_g - boiled_off_g
    wanted_g = _soaked_g(root) if drained is None else drained
    if drained is not None and drained > left_g + _ROUNDING_G:
        raise OutOfRange(
            "The drained root holds {0} of water, and only {1} was left after boiling: check the "
            "weights and the water put in.",
            _water(drained),
            _water(left_g),
        )
    in_root_g = min(wanted_g, left_g)
    return Decoction(
        root.water_g,
        left_g - in_root_g,
        in_root_g,
        put_in_g,
        boiled_off_g,
        is_soaked_up=wanted_g > left_g + _ROUNDING_G,
    )


def _measured(
    root: Charge,
    put_in_ml: float | None,
    boiled_off_fraction: float | None,
    kept_g: float,
    drained: float | None,
) -> Decoction:
    """The ledger where the liquid kept was measured."""
    if put_in_ml is None:
        in_root_g = _soaked_g(root) if drained is None else drained
        return Decoction(root.water_g, kept_g, in_root_g)
    put_in_g = put_in_ml * WATER_G_PER_ML
    there_g = put_in_g + root.water_g
    if drained is not None:
        in_root_g, is_soaked_up = drained, False
    elif boiled_off_fraction is not None:
        there_after_g = there_g - put_in_g * boiled_off_fraction
        _refuse_more(kept_g, 0.0, there_after_g)
        in_root_g, is_soaked_up = max(0.0, there_after_g - kept_g), False
    else:
        wanted_g, left_g = _soaked_g(root), max(0.0, there_g - kept_g)
        in_root_g, is_soaked_up = min(wanted_g, left_g), wanted_g > left_g + _ROUNDING_G
    _refuse_more(kept_g, in_root_g, there_g)
    boiled_off_g = max(0.0, there_g - kept_g - in_root_g)
    return Decoction(root.water_g, kept_g, in_root_g, put_in_g, boiled_off_g, is_soaked_up)


def _refuse_more(kept_g: float, in_root_g: float, there_g: float) -> None:
    if kept_g + in_root_g > there_g + _ROUNDING_G:
        raise OutOfRange(
            "{0} of liquid and {1} of water in the root are more than the {2} there was: check "
            "what was measured.",
            _water(kept_g),
            _water(in_root_g),
            _water(there_g),
        )


def _water(mass_g: float) -> Figure:
    return Figure(Kind.VOLUME, mass_g / WATER_G_PER_ML)


def _soaked_g(root: Charge) -> float:
    return replace(root, is_simmered=True).water_g


def _water_in_drained_g(root: Charge, drained_g: float) -> float:
    """The water in a root by its weight drained: what is not its dry solids."""
    at_least_nothing(drained_g, "The drained weight of the root", "g")
    if drained_g < root.solids_g - _ROUNDING_G:
        raise OutOfRange(
            "The drained root must weigh at least its dry solids, {0}, not {1}.",
            Figure(Kind.MASS, root.solids_g),
            Figure(Kind.MASS, drained_g),
        )
    return max(0.0, drained_g - root.solids_g)
