"""Calculators for spirit and water: dilute or strengthen, mix, and read an alcoholometer."""

from typing import NoReturn

from stillroom.reckoning import cautions, sources
from stillroom.reckoning.alcoholometry import (
    REFERENCE_TEMPERATURE_C,
    SIXTY_F_IN_C,
    abv_at,
    density,
    mass_fraction_from_abv,
    true_abv,
)
from stillroom.reckoning.calculator import (
    Calculator,
    Field,
    Given,
    Outcome,
    Sentence,
    Unworkable,
    abv,
    celsius,
    density_of,
    grams,
    ml,
    percent,
    result,
    say,
)
from stillroom.reckoning.calculators.jars import liquid_working
from stillroom.reckoning.conversions import uk_proof_from_abv, us_proof_from_abv
from stillroom.reckoning.kinds import AS_WRITTEN, Figure, Kind
from stillroom.reckoning.mixing import (
    Liquid,
    Mixture,
    Recipe,
    Shortfall,
    Spirit,
    combine,
    make_up,
    mix,
    most_at_strength_ml,
)

SPIRIT_CAUTIONS = (cautions.FOOD_GRADE, cautions.FIRE, cautions.LAW)
AT_20_C = say("Volumes and strengths are at 20 °C, and there is only ethanol and water.")


def _dilute(given: Given) -> Outcome:
    strength_abv, target_abv = given.number("strength"), given.number("target")
    stronger_abv, on_hand_ml = given.maybe("stronger"), given.maybe("volume")
    wanted_ml = given.maybe("wanted")
    if target_abv > strength_abv and stronger_abv is None:
        text = "{0} is stronger than {1}: give a stronger spirit to strengthen it with."
        raise Unworkable(say(text, abv(target_abv), abv(strength_abv)), "stronger")
    if target_abv > max(strength_abv, stronger_abv or 0.0):
        _refuse_too_weak(target_abv, stronger_abv)
    if wanted_ml:
        return _to_volume(strength_abv, on_hand_ml, stronger_abv, target_abv, wanted_ml)
    if not on_hand_ml:
        raise Unworkable("Give the volume you have, or the volume you want.", "volume")
    is_strengthening = target_abv > strength_abv
    added_abv = stronger_abv if is_strengthening and stronger_abv is not None else 0.0
    base = Liquid(on_hand_ml, strength_abv, given.number("temperature"))
    recipe = combine(base, added_abv, target_abv)
    if recipe.shortfall:  # what is added is of the very strength, or so near that it takes seas
        _refuse_too_weak(target_abv, stronger_abv)
    added = ("stronger", "water")
    return _dilute_outcome(recipe, (strength_abv, added_abv), base.temperature_c, first=added)


def _refuse_too_weak(target_abv: float, stronger_abv: float | None) -> NoReturn:
    text = "{0} cannot be reached by adding {1}: give a spirit that is stronger than that."
    raise Unworkable(say(text, abv(target_abv), abv(stronger_abv or 0.0)), "stronger")


def _to_volume(
    strength_abv: float,
    on_hand_ml: float | None,
    stronger_abv: float | None,
    target_abv: float,
    wanted_ml: float,
) -> Outcome:
    spirits = [Spirit(strength_abv, on_hand_ml or None)]
    if stronger_abv is not None:
        spirits.append(Spirit(stronger_abv))
    recipe = make_up(spirits, target_abv, wanted_ml)
    if recipe.shortfall is Shortfall.TOO_LITTLE:
        most_ml = most_at_strength_ml(spirits, target_abv, wanted_ml)
        text = "What is on hand makes {0} at {1} at most."
        raise Unworkable(say(text, ml(most_ml), abv(target_abv)), "wanted")
    strengths = (strength_abv, stronger_abv or 0.0)
    return _dilute_outcome(recipe, strengths, 20.0, first=("spirit", "stronger", "water"))


def _dilute_outcome(
    recipe: Recipe, strengths: tuple[float, float], temperature_c: float, first: tuple[str, ...]
) -> Outcome:
    """What to pour together; `first` are the pours that were asked about."""
    amounts_ml = (*recipe.amounts_ml, 0.0)[:2]
    pours = tuple(
        Liquid(amount_ml, strength)
        for amount_ml, strength in zip(amounts_ml, strengths, strict=True)
        if amount_ml > 0.0
    )
    poured = {
        "spirit": result("spirit", "Spirit of {0}", ml(amounts_ml[0]), abv(strengths[0])),
        "stronger": result(
            "stronger", "Stronger spirit of {0}", ml(amounts_ml[1]), abv(strengths[1])
        ),
        "water": result("water", "Water", ml(recipe.water_ml)),
    }
    if amounts_ml[1] <= 0.0:
        del poured["stronger"]
    elif recipe.water_ml <= 0.0:
        del poured["water"]
    results = (
        *(line for key, line in poured.items() if key in first),
        result("result", "Comes to", ml(recipe.result.volume_ml)),
        result("strength", "At", abv(recipe.result.strength_abv)),
        *(line for key, line in poured.items() if key not in first),
        result("contraction", "Lost to contraction", ml(recipe.result.contraction_ml)),
    )
    working = liquid_working(pours, recipe.result.ethanol_ml, recipe.result.volume_ml)
    if recipe.water_ml > 0.0:
        working = (*working, _mass_sentence(pours, recipe))
    assumptions: tuple[Sentence, ...] = (
        AT_20_C,
        say("Or pour the spirit and make up to the mark with water at 20 °C."),
    )
    if temperature_c != 20.0:
        read = say("The spirit was measured at {0} and is taken to 20 °C.", celsius(temperature_c))
        assumptions = (*assumptions, read)
    return Outcome(
        results,
        working,
        assumptions,
        (sources.MASS_BALANCE,),
        SPIRIT_CAUTIONS,
    )


def _mass_sentence(pours: tuple[Liquid, ...], recipe: Recipe) -> Sentence:
    spirit_g = sum(pour.mass_g for pour in pours)
    text = "The result weighs {0} and the spirit {1}: the difference, {2}, is water."
    water_g = max(0.0, recipe.result.mass_g - spirit_g)
    return say(text, grams(recipe.result.mass_g), grams(spirit_g), grams(water_g))


DILUTE = Calculator(
    "dilute",
    "Dilute or strengthen spirit",
    "Water, or a stronger spirit, to bring a spirit to a strength.",
    (
        Field("strength", "Spirit", Kind.STRENGTH, 96.0, "As on its label."),
        Field("target", "Strength to reach", Kind.STRENGTH, 60.0),
        Field(
            "volume",
            "Volume on hand",
            Kind.VOLUME,
            None,
            "All of it is used, unless a volume to make is given.",
            required=False,
        ),
        Field("wanted", "Volume to make", Kind.VOLUME, None, required=False),
        Field(
            "stronger",
            "Stronger spirit",
            Kind.STRENGTH,
            None,
            "To strengthen with.",
            required=False,
        ),
        Field("temperature", "Measured at", Kind.TEMPERATURE, 20.0),
    ),
    _dilute,
)


def _mix(given: Given) -> Outcome:
    liquids = tuple(
        Liquid(row.number("volume"), row.number("strength"), row.number("temperature"))
        for row in given.rows("liquids")
    )
    if not any(liquid.volume_ml > 0.0 for liquid in liquids):
        raise Unworkable("At least one liquid must be more than nothing.", "liquids.0.volume")
    mixture = mix(liquids)
    poured_ml = sum(liquid.volume_at_20c_ml for liquid in liquids)
    return Outcome(
        (
            result("volume", "Comes to", ml(mixture.volume_ml)),
            result("strength", "At", abv(mixture.strength_abv)),
            result("contraction", "Lost to contraction", ml(mixture.contraction_ml)),
            result("ethanol", "Ethanol in it", ml(mixture.ethanol_ml)),
            result("mass", "Weight", grams(mixture.mass_g)),
        ),
        (
            *liquid_working(liquids, mixture.ethanol_ml, mixture.volume_ml),
            _shrink(mixture, poured_ml),
        ),
        (AT_20_C,),
        (sources.MASS_BALANCE,),
        SPIRIT_CAUTIONS,
        _swells(mixture),
    )


def _shrink(mixture: Mixture, poured_ml: float) -> Sentence:
    change = "less" if mixture.contraction_ml >= 0.0 else "more"
    text = f"{{0}} measured separately comes to {{1}} together, {{2}} {change}."
    share = percent(100.0 * abs(mixture.contraction_ml) / poured_ml)
    return say(text, ml(poured_ml), ml(mixture.volume_ml), share)


def _swells(mixture: Mixture) -> tuple[Sentence, ...]:
    if mixture.contraction_ml > -0.05:
        return ()
    return (say("Weak liquids swell a little when mixed, so the contraction is below zero."),)


MIX = Calculator(
    "mix",
    "Mix liquids",
    "What any spirits and waters come to when they are poured together.",
    (
        Field(
            "liquids",
            "Liquids",
            Kind.TEXT,
            columns=(
                Field("volume", "Volume", Kind.VOLUME, 500.0),
                Field("strength", "Strength", Kind.STRENGTH, 40.0, "0 for water."),
                Field("temperature", "At", Kind.TEMPERATURE, 20.0, "When it was measured."),
            ),
        ),
    ),
    _mix,
)


_REFERENCE_C = {"20c": REFERENCE_TEMPERATURE_C, "15c": 15.0, "60f": SIXTY_F_IN_C}
_PERCENT, _US_PROOF, _UK_PROOF = "percent", "us_proof", "uk_proof"


def _alcoholometer(given: Given) -> Outcome:
    reading_abv, temperature_c = given.number("reading"), given.number("temperature")
    scale, reference = given.words("scale"), given.words("true_at")
    if scale == AS_WRITTEN:
        scale = _PERCENT
    if reference == AS_WRITTEN:
        reference = "20c" if scale == _PERCENT else "60f"
    reference_c = _REFERENCE_C[reference]
    strength_abv = true_abv(reading_abv, temperature_c, reference_c)
    read_g_per_ml = density(mass_fraction_from_abv(reading_abv, reference_c), reference_c) / 1000.0
    here = density(mass_fraction_from_abv(strength_abv), temperature_c) / 1000.0
    at_reference_abv = abv_at(strength_abv, reference_c)
    on_scale = _degrees(scale, at_reference_abv)
    at_20_c = celsius(REFERENCE_TEMPERATURE_C)
    results = [result("strength", "True strength at {0}", abv(strength_abv), at_20_c)]
    spirit = say("{0} at {1} is spirit of {2} at {3}.", on_scale, celsius(reference_c),
                 abv(strength_abv), at_20_c)  # fmt: skip
    if reference != "20c" or scale != _PERCENT:
        label = "True strength at {0}"
        results.insert(0, result("on_scale", label, on_scale, celsius(reference_c)))
    stretch = "less what the glass has stretched"
    if temperature_c < reference_c:
        stretch = "and what the glass has shrunk"
    return Outcome(
        (
            *results,
            result("true_at", "The instrument is true at", celsius(reference_c)),
            result("density", "Density at {0}", density_of(here), celsius(temperature_c)),
        ),
        (
            say(
                "A reading of {0} means a density of {1} at {2}.",
                _degrees(scale, reading_abv),
                density_of(read_g_per_ml),
                celsius(reference_c),
            ),
            say(
                f"At {{0}} that density, {stretch}, is {{1}}.",
                celsius(temperature_c),
                density_of(here),
            ),
            spirit,
        ),
        (
            say(
                f"The alcoholometer is soda-lime glass, its scale of {_SCALE_NAMES[scale]} true at "
                "{0}.",
                celsius(reference_c),
            ),
            say("There is only ethanol and water in the liquid."),
        ),
        (
            "OIML R 22, International Alcoholometric Tables (1975): general formula, and the way "
            "tables VIII are made from it.",
            "ISO 1768:1975, expansion of glass 25 millionths per kelvin.",
            "27 CFR 30.11, 30.23 and 30.61: US proof is read at 60 °F.",
            sources.OBSCURATION,
        ),
        (cautions.NO_HYDROMETER, cautions.FIRE),
    )


_SCALE_NAMES = {_PERCENT: "% vol", _US_PROOF: "US proof", _UK_PROOF: "UK proof"}


def _degrees(scale: str, strength_abv: float) -> Figure:
    """A strength as it is written on a scale."""
    if scale == _US_PROOF:
        return Figure(Kind.US_PROOF, us_proof_from_abv(strength_abv))
    if scale == _UK_PROOF:
        return Figure(Kind.UK_PROOF, uk_proof_from_abv(strength_abv))
    return abv(strength_abv)


ALCOHOLOMETER = Calculator(
    "alcoholometer",
    "Read an alcoholometer",
    "True strength of spirit from a reading at any temperature, in % or proof.",
    (
        Field(
            "reading",
            "Reading",
            Kind.STRENGTH,
            None,
            "As on its scale: 40 %, 80 proof or 70 UK proof.",
            instrument=("scale", "true_at"),
        ),
        Field("temperature", "Temperature", Kind.TEMPERATURE, None, "Of the liquid, as read."),
        Field(
            "scale",
            "Scale",
            Kind.CHOICE,
            AS_WRITTEN,
            "What a reading without its unit is in.",
            choices=(
                (AS_WRITTEN, "As the reading is written"),
                (_PERCENT, "% vol"),
                (_US_PROOF, "US proof"),
                (_UK_PROOF, "UK proof"),
            ),
        ),
        Field(
            "true_at",
            "True at",
            Kind.CHOICE,
            AS_WRITTEN,
            "Printed on the instrument. By its scale: proof and US % at 60 °F, other % at 20 °C, "
            "unless Settings say otherwise.",
            choices=(
                (AS_WRITTEN, "By its scale"),
                ("20c", "20 °C"),
                ("15c", "15 °C"),
                ("60f", "60 °F"),
            ),
        ),
    ),
    _alcoholometer,
)
