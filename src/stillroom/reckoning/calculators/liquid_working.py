"""The working that calculators of a jar's liquid share: volumes, ethanol, what mixing does."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from stillroom.reckoning.alcoholometry import WATER_G_PER_ML
from stillroom.reckoning.calculator import (
    NOTHING,
    Sentence,
    abv,
    adding_up,
    celsius,
    finely,
    ml,
    say,
)
from stillroom.reckoning.kinds import Addend, Figure, Kind
from stillroom.reckoning.mixing import Liquid, Mixture


@dataclass(frozen=True)
class Volumes:
    """The volumes of what is poured together, all at 20 °C, printed so that they add up."""

    apart: Figure
    """All of it before it is together: the total of what follows, and of `together` and `lost`."""
    pours: tuple[Figure, ...]
    plant_water: Figure | None
    together: Figure
    lost: Figure
    """To contraction; below zero for weak liquids, which swell."""


def volumes_of(pours: Sequence[Liquid], mixture: Mixture, plant_water_g: float = 0.0) -> Volumes:
    """Returns the volumes of pours, of the plants' water, and of what they come to."""
    apart_ml = [pour.volume_at_20c_ml for pour in pours]
    plant_ml = [plant_water_g / WATER_G_PER_ML] if plant_water_g > 0.0 else []
    total, [parts, (together, lost)] = adding_up(
        Kind.VOLUME,
        [*apart_ml, *plant_ml],
        [mixture.volume_ml, mixture.contraction_ml],
        for_checking=True,
    )
    plant_water = parts[-1] if plant_ml else None
    return Volumes(total, parts[: len(apart_ml)], plant_water, together, lost)


def ethanol_of(pours: Sequence[Liquid]) -> tuple[Figure, tuple[Figure, ...]]:
    """Returns the ethanol in all of them and in each, printed so that it adds up."""
    ethanol, [each] = adding_up(Kind.VOLUME, [pour.ethanol_ml for pour in pours], for_checking=True)
    return ethanol, each


def liquid_working(
    pours: Sequence[Liquid], mixture: Mixture, plant_water_g: float = 0.0
) -> tuple[Sentence, ...]:
    """The sum anyone can check: pour by pour to 20 °C, the ethanol, the volume, the strength.

    The figures of each sum are rounded together and add up as printed.
    """
    volumes = volumes_of(pours, mixture, plant_water_g)
    ethanol, ethanols = ethanol_of(pours)
    to_20c = tuple(
        say(
            "{0} measured at {1} is {2} at {3}.",
            finely(ml(pour.volume_ml)),
            celsius(pour.temperature_c),
            at_20c,
            celsius(20.0),
        )
        for pour, at_20c in zip(pours, volumes.pours, strict=True)
        if pour.temperature_c != 20.0 and pour.volume_ml > 0.0
    )
    holds = tuple(
        say("{0} at {1} holds {2} of ethanol.", at_20c, abv(pour.strength_abv), ethanol_in_it)
        for pour, at_20c, ethanol_in_it in zip(pours, volumes.pours, ethanols, strict=True)
        if pour.ethanol_ml > 0.0
    )
    text = "{0} of ethanol in {1} of liquid is {2}."
    total = say(text, ethanol, volumes.together, abv(mixture.strength_abv))
    return (*to_20c, *holds, *_shrinking(volumes), total)


def _shrinking(volumes: Volumes) -> tuple[Sentence, ...]:
    """What the pours lose in volume together, or gain."""
    if abs(volumes.lost.value) < NOTHING:
        return ()
    change, lost = "less", volumes.lost
    if lost.value < 0.0:
        assert lost.addend is not None
        turned = Addend(
            tuple(-part for part in lost.addend.parts), -lost.addend.total, lost.addend.place
        )
        change, lost = "more", replace(lost, value=-lost.value, addend=turned)
    apart = "{0} measured separately"
    if volumes.plant_water is not None:
        apart = "{0} measured separately, {3} of it the plant's water,"
    text = f"{apart} comes to {{1}} together, {{2}} {change}."
    figures = (volumes.apart, volumes.together, lost, volumes.plant_water or volumes.apart)
    return (say(text, *figures),)


def swelling(mixture: Mixture) -> tuple[Sentence, ...]:
    """Why the contraction is below zero, where it is."""
    if mixture.contraction_ml > -0.05:
        return ()
    return (say("Weak liquids swell a little when mixed, so the contraction is negative."),)
