"""Volume from weight."""

from stillroom.reckoning.kinds import Figure, Kind
from stillroom.reckoning.limits import OutOfRange, at_least_nothing
from stillroom.reckoning.mixing import volume_from_mass_ml


def net_g(gross_g: float, tare_g: float) -> float:
    """Returns the weight of what is in a container from its weight full and empty.

    >>> net_g(250, 120)
    130
    """
    at_least_nothing(gross_g, "The full weight", "g")
    at_least_nothing(tare_g, "The empty weight", "g")
    if gross_g < tare_g:
        raise OutOfRange(
            "The full weight must be at least the empty weight, {0}, not {1}.",
            Figure(Kind.MASS, tare_g),
            Figure(Kind.MASS, gross_g),
        )
    return gross_g - tare_g


def contents_ml(gross_g: float, tare_g: float, strength_abv: float) -> float:
    """Returns the volume at 20 °C in a weighed container: (full − empty) / ρ(strength, 20 °C).

    Weight does not change with temperature, so no thermometer is needed. Dissolved extract makes
    a tincture heavier than plain spirit and the answer a little too large. Valid for 0 to 100 %.

    >>> contents_ml(213.01, 120, 50)
    100.0
    """
    return volume_from_mass_ml(net_g(gross_g, tare_g), strength_abv)
