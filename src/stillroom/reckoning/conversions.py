"""Units by their definitions, and proof both ways."""

from stillroom.reckoning.limits import at_least_nothing, more_than_nothing, within

GRAMS_PER_OUNCE = 28.349523125
"""Avoirdupois; 1/16 of 0.45359237 kg exactly. UK Units of Measurement Regulations 1995."""
GRAMS_PER_POUND = 453.59237
GRAMS_PER_GRAIN = 0.06479891

ML_PER_US_FLUID_OUNCE = 29.5735295625
"""1/128 of the US gallon of 231 cubic inches, the inch being 25.4 mm exactly."""
ML_PER_US_PINT = 16 * ML_PER_US_FLUID_OUNCE
ML_PER_US_CUP = 8 * ML_PER_US_FLUID_OUNCE

ML_PER_IMPERIAL_FLUID_OUNCE = 28.4130625
"""1/160 of the imperial gallon of 4.54609 L exactly. UK Units of Measurement Regulations 1995."""
ML_PER_IMPERIAL_PINT = 20 * ML_PER_IMPERIAL_FLUID_OUNCE

ML_PER_TEASPOON = 5.0
"""The metric medicine spoon."""
ML_PER_TABLESPOON = 15.0

UK_100_PROOF_ABV = 57.1
"""Published values run from 57.06 to 57.15, by temperature and buoyancy of air."""


def us_proof_from_abv(strength_abv: float) -> float:
    """Returns US proof: twice the % vol.

    US proof is held at 60 °F and % vol here at 20 °C; they differ by less than 0.1 % vol.
    27 CFR 30.11.

    >>> us_proof_from_abv(40)
    80.0
    """
    return 2.0 * within(strength_abv, 0, 100, "Strength", "% vol")


def abv_from_us_proof(proof: float) -> float:
    """Returns % vol from US proof, 0 to 200.

    >>> abv_from_us_proof(151)
    75.5
    """
    return within(proof, 0, 200, "US proof") / 2.0


def uk_proof_from_abv(strength_abv: float) -> float:
    """Returns degrees of the old UK (Sikes) proof: 100° is 57.1 % vol.

    >>> round(uk_proof_from_abv(40))
    70
    """
    return within(strength_abv, 0, 100, "Strength", "% vol") * 100.0 / UK_100_PROOF_ABV


def abv_from_uk_proof(proof: float) -> float:
    """Returns % vol from old UK proof degrees, up to that of pure ethanol, about 175.

    >>> abv_from_uk_proof(70)
    40.0
    """
    within(proof, 0, 100.0 * 100.0 / UK_100_PROOF_ABV, "UK proof", "degrees")
    return proof * UK_100_PROOF_ABV / 100.0


def true_n_from_ounces(n: float, ml_per_fluid_ounce: float) -> float:
    """Returns the g:mL ratio of one ounce of herb to n fluid ounces: n · mL per fl oz / 28.35.

    >>> true_n_from_ounces(5, ML_PER_US_FLUID_OUNCE)
    5.22
    """
    more_than_nothing(n, "The ratio")
    return n * more_than_nothing(ml_per_fluid_ounce, "A fluid ounce", "mL") / GRAMS_PER_OUNCE


def fluid_ounces_for_ounce(n: float, ml_per_fluid_ounce: float) -> float:
    """Returns the fluid ounces that one ounce of herb needs for a true 1:n.

    >>> fluid_ounces_for_ounce(5, ML_PER_US_FLUID_OUNCE)
    4.79
    """
    more_than_nothing(n, "The ratio")
    return n * GRAMS_PER_OUNCE / more_than_nothing(ml_per_fluid_ounce, "A fluid ounce", "mL")


def grams_per_100_ml(n: float) -> float:
    """Returns the herb in 100 mL at 1:n.

    >>> grams_per_100_ml(5)
    20.0
    """
    return 100.0 / more_than_nothing(n, "The ratio")


def ounces(mass_g: float) -> float:
    """Returns avoirdupois ounces.

    >>> ounces(100)
    3.527
    """
    return at_least_nothing(mass_g, "The weight", "g") / GRAMS_PER_OUNCE
