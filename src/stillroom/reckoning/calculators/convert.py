"""The calculator that converts a quantity between units and notations."""

from decimal import Decimal

from stillroom.reckoning import conversions, sources
from stillroom.reckoning.calculator import (
    Calculator,
    Field,
    Given,
    Outcome,
    Result,
    Sentence,
    Unworkable,
    abv,
    grams,
    ml,
    number,
    one_to,
    percent,
    result,
    say,
)
from stillroom.reckoning.kinds import Amounts, Figure, Kind, Sum


def _convert(given: Given) -> Outcome:
    results, working = [], []
    for key, converted in _CONVERSIONS.items():
        value = given.maybe(key)
        if value is not None:
            more, said = converted(value)
            results += more
            working += said
    if not results:
        raise Unworkable("Enter something to convert.", "volume")
    return Outcome(
        tuple(results),
        tuple(working),
        (
            say(
                "US proof is defined at 60 °F and % vol at 20 °C (68 °F): under {0} vol apart.",
                percent(0.1),
            ),
            say(
                "Old UK proof: 100° is taken as {0} % vol; published values run {1} to {2}.",
                number(57.1),
                number(57.06),
                number(57.15),
            ),
        ),
        (sources.UNITS, "27 CFR 30.11: proof is twice the percentage by volume."),
    )


Converted = tuple[list[Result], list[Sentence]]


def _volume(volume_ml: float) -> Converted:
    units = (
        ("us_fl_oz", "US fluid ounces", conversions.ML_PER_US_FLUID_OUNCE),
        ("us_cup", "US cups", conversions.ML_PER_US_CUP),
        ("us_pint", "US pints", conversions.ML_PER_US_PINT),
        ("imp_fl_oz", "Imperial fluid ounces", conversions.ML_PER_IMPERIAL_FLUID_OUNCE),
        ("imp_pint", "Imperial pints", conversions.ML_PER_IMPERIAL_PINT),
        ("teaspoon", "Teaspoons of 5 mL", conversions.ML_PER_TEASPOON),
        ("tablespoon", "Tablespoons of 15 mL", conversions.ML_PER_TABLESPOON),
    )
    results = [result("volume", "Volume", ml(volume_ml))]
    results += [result(key, label, number(volume_ml / size)) for key, label, size in units]
    return results, [
        say(
            "A US fluid ounce is {0} mL and an imperial one {1} mL, rounded.",
            number(conversions.ML_PER_US_FLUID_OUNCE),
            number(conversions.ML_PER_IMPERIAL_FLUID_OUNCE),
        )
    ]


def _mass(mass_g: float) -> Converted:
    results = [
        result("mass", "Weight", grams(mass_g)),
        result("oz", "Ounces", number(conversions.ounces(mass_g))),
        result("lb", "Pounds", number(mass_g / conversions.GRAMS_PER_POUND)),
        result("grain", "Grains", number(mass_g / conversions.GRAMS_PER_GRAIN)),
    ]
    return results, [
        say(
            "An ounce is {0} g and a grain {1} g, rounded.",
            number(conversions.GRAMS_PER_OUNCE),
            number(conversions.GRAMS_PER_GRAIN),
        )
    ]


def _strength(strength_abv: float) -> Converted:
    us, uk = (
        conversions.us_proof_from_abv(strength_abv),
        conversions.uk_proof_from_abv(strength_abv),
    )
    results = [
        result("strength", "Strength", abv(strength_abv)),
        result("us_proof_of", "US proof", number(us)),
        result("uk_proof_of", "Old UK proof, degrees", number(uk)),
    ]
    return results, [say("{0} doubled is {1} US proof.", abv(strength_abv), number(us))]


def _us_proof(proof: float) -> Converted:
    if proof > 200.0:
        raise Unworkable("US proof must be from 0 to 200.", "us_proof")
    strength = abv(conversions.abv_from_us_proof(proof))
    text = "Half of {0} US proof is {1}."
    return [result("from_us_proof", "From US proof", strength)], [
        say(text, number(proof), strength)
    ]


def _uk_proof(proof: float) -> Converted:
    if proof > 100.0 * 100.0 / conversions.UK_100_PROOF_ABV:
        raise Unworkable("Old UK proof must be from 0 to about 175 degrees.", "uk_proof")
    strength = abv(conversions.abv_from_uk_proof(proof))
    text = "{0} degrees, at {1} % vol for each hundred, is {2}."
    return [result("from_uk_proof", "From old UK proof", strength)], [
        say(text, number(proof), number(conversions.UK_100_PROOF_ABV), strength)
    ]


def _ratio(n: float) -> Converted:
    if n == 0.0:
        raise Unworkable("The ratio must be greater than 1:0.", "ratio")
    us, imperial = conversions.ML_PER_US_FLUID_OUNCE, conversions.ML_PER_IMPERIAL_FLUID_OUNCE
    results = [
        result("per_100_ml", "Herb in {0}", grams(conversions.grams_per_100_ml(n)), ml(100.0)),
        result("us_true", "US: ounce to fluid ounces is", _true(n, us)),
        result("us_for_true", "US fluid ounces for each ounce", _for_true(n, us)),
        result("imp_true", "Imperial: ounce to fluid ounces is", _true(n, imperial)),
        result("imp_for_true", "Imperial fluid ounces for each ounce", _for_true(n, imperial)),
    ]
    # In plain numbers: it is about what ounces come to in metric, whatever units are set.
    text = "{0} US fluid ounces are {1} mL; ÷ {2} g, an ounce of herb, that is {3}."
    figures = (number(n), number(n * us), number(conversions.GRAMS_PER_OUNCE), _true(n, us))
    return results, [Sentence(text, figures, Sum(3, _per_ounce))]


def _per_ounce(amounts: Amounts) -> Decimal:
    """mL to the g of an ounce of herb."""
    return amounts[1] / amounts[2]


def _true(n: float, fluid_ounce_ml: float) -> Figure:
    return one_to(conversions.true_n_from_ounces(n, fluid_ounce_ml))


def _for_true(n: float, fluid_ounce_ml: float) -> Figure:
    return number(conversions.fluid_ounces_for_ounce(n, fluid_ounce_ml))


_CONVERSIONS = {
    "volume": _volume,
    "mass": _mass,
    "strength": _strength,
    "us_proof": _us_proof,
    "uk_proof": _uk_proof,
    "ratio": _ratio,
}


CONVERT = Calculator(
    "convert",
    "Convert",
    "Metric, US and imperial, proof both ways, and what 1:5 means in ounces.",
    (
        Field("volume", "Volume", Kind.VOLUME, None, required=False),
        Field("mass", "Weight", Kind.MASS, None, required=False),
        Field("strength", "Strength", Kind.STRENGTH, None, required=False),
        Field("us_proof", "US proof", Kind.NUMBER, None, required=False),
        Field("uk_proof", "Old UK proof", Kind.NUMBER, None, "Degrees.", required=False),
        Field("ratio", "Ratio", Kind.RATIO, None, "If the n were in ounces.", required=False),
    ),
    _convert,
)
