"""Density of ethanol and water, and the strengths that follow from it.

The general formula, its 54 coefficients and its range are those of OIML R 22, International
Alcoholometric Tables (1975), which is also the annex of Council Directive 76/766/EEC:

    ρ(p, t) = Σ A_k p^(k-1) + Σ B_k (t-20)^k + Σ_i Σ_k C_ik p^k (t-20)^i     kg/m³

with p the mass fraction of ethanol and t the temperature, −20 to +40 °C. At one temperature this
is a polynomial in p, so each temperature is worked into twelve coefficients once and remembered.
"""

from functools import lru_cache
from math import isfinite

from stillroom.reckoning.kinds import Figure, Kind
from stillroom.reckoning.limits import OutOfRange, within

LOWEST_TEMPERATURE_C = -20.0
HIGHEST_TEMPERATURE_C = 40.0
REFERENCE_TEMPERATURE_C = 20.0
"""Strength is volume of ethanol over volume of the whole, both at this temperature."""

GLASS_EXPANSION_PER_C = 25e-6
"""Cubic expansion of soda-lime glass, conventional value. ISO 1768:1975; OIML R 22 tables VIII."""

EDGE_KG_PER_M3 = 0.05
"""A density this far beyond pure water or pure ethanol still counts as pure: printed tables round
to 0.1 kg/m³, and a reading of plain water should not be refused for its last digit."""

_A = (
    998.20123,
    -192.9769495,
    389.1238958,
    -1668.103923,
    13522.15441,
    -88292.78388,
    306287.4042,
    -613838.1234,
    747017.2998,
    -547846.1354,
    223446.0334,
    -39032.85426,
)
"""For p⁰ to p¹¹."""

_B = (
    -0.20618513,
    -0.0052682542,
    3.6130013e-05,
    -3.8957702e-07,
    7.169354e-09,
    -9.9739231e-11,
)
"""For (t − 20)¹ to (t − 20)⁶."""

_C = (
    (
        0.1693443461530087,
        -10.46914743455169,
        71.96353469546523,
        -704.7478054272792,
        3924.090430035045,
        -12101.64659068747,
        22486.46550400788,
        -26055.62982188164,
        18523.73922069467,
        -7420.201433430137,
        1285.617841998974,
    ),
    (
        -0.0119301300505701,
        0.2517399633803461,
        -2.170575700536993,
        13.53034988843029,
        -50.29988758547014,
        109.635566657757,
        -142.2753946421155,
        108.043594285623,
        -44.14153236817392,
        7.442971530188783,
    ),
    (
        -0.0006802995733503803,
        0.01876837790289664,
        -0.2002561813734156,
        1.02299296671922,
        -2.895696483903638,
        4.810060584300675,
        -4.672147440794683,
        2.458043105903461,
        -0.5411227621436812,
    ),
    (
        4.075376675622027e-06,
        -8.76305857347111e-06,
        6.515031360099368e-06,
        -1.51578483698721e-06,
    ),
    (
        -2.788074354782409e-08,
        1.345612883493354e-08,
    ),
)
"""Row i for (t − 20)^(i+1); within it for p¹ upward."""


@lru_cache(maxsize=64)
def _coefficients(temperature_c: float) -> tuple[float, ...]:
    """The coefficients of density in the mass fraction at one temperature, highest power first."""
    within(temperature_c, LOWEST_TEMPERATURE_C, HIGHEST_TEMPERATURE_C, "Temperature", "°C")
    away = temperature_c - REFERENCE_TEMPERATURE_C
    rising = list(_A)
    power = 1.0
    for b in _B:
        power *= away
        rising[0] += b * power
    power = 1.0
    for row in _C:
        power *= away
        for k, c in enumerate(row, start=1):
            rising[k] += c * power
    return tuple(reversed(rising))


def _density_and_slope(coefficients: tuple[float, ...], p: float) -> tuple[float, float]:
    """Density and its derivative in the mass fraction, by Horner's scheme in one pass."""
    value = slope = 0.0
    for coefficient in coefficients:
        slope = slope * p + value
        value = value * p + coefficient
    return value, slope


def density(mass_fraction: float, temperature_c: float = 20.0) -> float:
    """Returns the density of an ethanol–water mixture in kg/m³.

    Valid for mass fractions 0 to 1 and −20 to +40 °C; below its freezing point the value is only
    what the formula gives. OIML R 22 (1975), general formula.

    >>> density(0), density(1), density(1, 40)
    (998.201, 789.24, 771.93)
    """
    if not 0.0 <= mass_fraction <= 1.0:
        within(mass_fraction, 0, 1, "Mass fraction of ethanol")
    value = 0.0
    for coefficient in _coefficients(temperature_c):
        value = value * mass_fraction + coefficient
    return value


WATER_KG_PER_M3 = density(0.0)
"""Pure water at 20 °C."""
ETHANOL_KG_PER_M3 = density(1.0)
"""Pure ethanol at 20 °C."""
WATER_G_PER_ML = WATER_KG_PER_M3 / 1000.0
ETHANOL_G_PER_ML = ETHANOL_KG_PER_M3 / 1000.0


def abv_from_mass_fraction(
    mass_fraction: float, reference_c: float = REFERENCE_TEMPERATURE_C
) -> float:
    """Returns the strength in % v/v at 20 °C: 100 · p · ρ(p, 20) / ρ(1, 20).

    Another reference temperature gives the strength as older tables and US proof have it, both
    volumes at that temperature. Valid for mass fractions 0 to 1. OIML R 22 (1975), definition of
    strength by volume.

    >>> abv_from_mass_fraction(0.4243)
    50.0
    """
    pure = density(1.0, reference_c)
    return min(100.0, 100.0 * mass_fraction * density(mass_fraction, reference_c) / pure)


def mass_fraction_from_abv(abv: float, reference_c: float = REFERENCE_TEMPERATURE_C) -> float:
    """Returns the mass fraction of ethanol at a strength in % v/v at 20 °C.

    The inverse of `abv_from_mass_fraction`, by Newton's method held inside a bracket; valid for
    0 to 100 % vol.

    >>> mass_fraction_from_abv(50)
    0.4243
    """
    if not 0.0 < abv < 100.0:
        return within(abv, 0, 100, "Strength", "% vol") / 100.0
    ethanol_kg_per_m3 = abv * density(1.0, reference_c) / 100.0
    coefficients = _coefficients(reference_c)
    low, high = 0.0, 1.0
    p = ethanol_kg_per_m3 / (coefficients[-1] - 2.09 * abv)
    for _ in range(25):
        value, slope = _density_and_slope(coefficients, p)
        excess = p * value - ethanol_kg_per_m3
        if excess > 0.0:
            high = p
        else:
            low = p
        step = excess / (value + p * slope)
        if abs(step) < 1e-15:
            break
        p -= step
        if not low <= p <= high:
            p = (low + high) / 2.0
    return min(1.0, max(0.0, p))


def abv_from_density(density: float, temperature_c: float = 20.0) -> float:
    """Returns the strength in % v/v at 20 °C of a mixture from its density in kg/m³.

    The inverse of the general formula, for plain ethanol and water only: anything dissolved in the
    liquid makes it read too weak. Valid from pure ethanol to pure water at −20 to +40 °C.

    >>> abv_from_density(930.14), abv_from_density(935.91, 12)
    (50.0, 50.0)
    """
    return abv_from_mass_fraction(_mass_fraction_from_density(density, temperature_c))


def _mass_fraction_from_density(kg_per_m3: float, temperature_c: float) -> float:
    coefficients = _coefficients(temperature_c)
    water, ethanol = coefficients[-1], density(1.0, temperature_c)
    if not ethanol < kg_per_m3 < water:
        return _pure(kg_per_m3, ethanol, water, temperature_c)
    low, high = 0.0, 1.0
    p = (water - kg_per_m3) / (water - ethanol)
    for _ in range(25):
        value, slope = _density_and_slope(coefficients, p)
        excess = value - kg_per_m3
        if excess > 0.0:
            low = p
        else:
            high = p
        step = excess / slope
        if abs(step) < 1e-15:
            break
        p -= step
        if not low <= p <= high:
            p = (low + high) / 2.0
    return min(1.0, max(0.0, p))


def _pure(kg_per_m3: float, ethanol: float, water: float, temperature_c: float) -> float:
    """Pure water or pure ethanol, if the density is no more than a rounding beyond it."""
    if water <= kg_per_m3 <= water + EDGE_KG_PER_M3:
        return 0.0
    if ethanol - EDGE_KG_PER_M3 <= kg_per_m3 <= ethanol:
        return 1.0
    raise OutOfRange(
        f"At {temperature_c:g} °C the density of ethanol and water is from {ethanol:.2f} "
        f"to {water:.2f} kg/m³; {kg_per_m3:g} is neither."
    )


SIXTY_F_IN_C = (60.0 - 32.0) / 1.8
"""Where US proof, US % and the old UK proof are true: 27 CFR 30.11; Spirits Act 1880 (UK)."""


def true_abv(
    reading_abv: float, temperature_c: float, reference_c: float = REFERENCE_TEMPERATURE_C
) -> float:
    """Returns the strength at 20 °C from an alcoholometer's reading at another temperature.

    For a soda-lime glass alcoholometer that is true at `reference_c`, its reading in % v/v at that
    temperature (US proof divided by two). It floats so that
    ρ(p, t) · (1 + 25·10⁻⁶ · (t − reference)) = ρ(p_read, reference). For plain spirit and water
    only. Valid for readings from pure water to pure ethanol, −20 to +40 °C. OIML R 22 (1975),
    construction of tables VIII.

    >>> round(true_abv(40, 20), 1), round(true_abv(40, 30), 1)
    (40.0, 36.0)
    """
    within(reading_abv, 0, 100, "The reading", "% vol")
    read_kg_per_m3 = density(mass_fraction_from_abv(reading_abv, reference_c), reference_c)
    glass = 1.0 + GLASS_EXPANSION_PER_C * (temperature_c - reference_c)
    if not isfinite(glass):
        within(temperature_c, LOWEST_TEMPERATURE_C, HIGHEST_TEMPERATURE_C, "Temperature", "°C")
    try:
        return abv_from_density(read_kg_per_m3 / glass, temperature_c)
    except OutOfRange:
        within(temperature_c, LOWEST_TEMPERATURE_C, HIGHEST_TEMPERATURE_C, "Temperature", "°C")
        raise OutOfRange(
            "A reading of {0} at {1} is not possible in ethanol and water: check the reading and "
            "the thermometer.",
            Figure(Kind.STRENGTH, reading_abv),
            Figure(Kind.TEMPERATURE, temperature_c),
        ) from None


def abv_at(strength_abv: float, reference_c: float) -> float:
    """Returns a strength in % v/v at 20 °C as % v/v with both volumes at another temperature.

    >>> round(abv_at(40, SIXTY_F_IN_C), 2)
    39.94
    """
    return abv_from_mass_fraction(mass_fraction_from_abv(strength_abv), reference_c)


def volume_at_20c(volume: float, abv: float, temperature_c: float) -> float:
    """Returns the volume at 20 °C of a liquid measured at another temperature, in the same unit.

    V · ρ(p, t) / ρ(p, 20). The stretch of the measure itself, a fortieth of a percent in 10 °C for
    glass, is left out. Valid for 0 to 100 % vol, −20 to +40 °C. OIML R 22 (1975).

    >>> volume_at_20c(1000, 96, 30)
    989.2
    """
    if not 0.0 <= volume < float("inf"):
        raise OutOfRange(f"A volume must be zero or more, not {volume:g}.")
    if temperature_c == REFERENCE_TEMPERATURE_C:
        within(abv, 0, 100, "Strength", "% vol")
        return volume
    p = mass_fraction_from_abv(abv)
    return volume * density(p, temperature_c) / density(p)
