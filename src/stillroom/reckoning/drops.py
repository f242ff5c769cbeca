"""Drops and millilitres: exact with a calibrated dropper, a range without."""

from dataclasses import dataclass

from stillroom.reckoning.limits import at_least_nothing, more_than_nothing, within

SPIRITUOUS_FROM_ABV = 20.0

WATERY_PER_ML = (16.0, 20.0)
"""20: the pharmacopoeia dropper, 50 mg of water a drop (Ph. Eur., USP). 16: Gorgas, Dental
Medicine, 60 drops of water to the fluid drachm; Buchheister, Handbuch der Drogisten-Praxis (1893),
16 drops to the gram."""

SPIRITUOUS_PER_ML = (23.0, 51.0)
"""23: Buchheister (1893), spirituous tinctures at 25 to the gram. 35–41: Gorgas, tinctures. 51:
drop weight by Tate's law for strong spirit on the pharmacopoeia dropper, from surface tensions
quoted from memory."""


@dataclass(frozen=True)
class DropRange:
    """A range in place of a number nobody has measured."""

    low: float
    high: float


def drops_per_ml_range(strength_abv: float) -> DropRange:
    """Returns how many drops may make 1 mL from a dropper nobody has calibrated.

    Watery liquids 16–20; from 20 % vol up 23–51; between, anything from 16 to 51.

    >>> drops_per_ml_range(45)
    DropRange(low=23.0, high=51.0)
    """
    within(strength_abv, 0, 100, "Strength", "% vol")
    if strength_abv == 0.0:
        return DropRange(*WATERY_PER_ML)
    if strength_abv < SPIRITUOUS_FROM_ABV:
        return DropRange(WATERY_PER_ML[0], SPIRITUOUS_PER_ML[1])
    return DropRange(*SPIRITUOUS_PER_ML)


def drops_per_ml(drops: float, volume_ml: float) -> float:
    """Returns a dropper's own figure from drops counted into a measured volume.

    >>> drops_per_ml(78, 2)
    39.0
    """
    return more_than_nothing(drops, "Drops counted") / more_than_nothing(
        volume_ml, "The volume they made", "mL"
    )


def volume_of_drops_ml(drops: float, per_ml: float) -> float:
    """Returns the volume of a number of drops.

    >>> volume_of_drops_ml(30, 40)
    0.75
    """
    return at_least_nothing(drops, "Drops") / more_than_nothing(per_ml, "Drops in 1 mL")


def drops_in_volume(volume_ml: float, per_ml: float) -> float:
    """Returns the number of drops in a volume.

    >>> drops_in_volume(2.5, 40)
    100.0
    """
    return at_least_nothing(volume_ml, "The volume", "mL") * more_than_nothing(
        per_ml, "Drops in 1 mL"
    )
