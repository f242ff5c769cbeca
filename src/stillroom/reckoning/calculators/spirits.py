"""Calculators for spirit and water: dilute or strengthen, mix, and read an alcoholometer."""

from collections.abc import Sequence
from typing import NoReturn

from stillroom.reckoning import cautions, sources
from stillroom.reckoning.alcoholometry import (
    REFERENCE_TEMPERATURE_C,
    SIXTY_F_IN_C,
    abv_at,
    density,
    mass_fraction_from_abv,
    true_abv,
    volume_at_20c,
)
from stillroom.reckoning.calculator import (
    Calculator,
    Field,
    Given,
    Outcome,
    Sentence,
    Unworkable,
    abv,
    adding_up,
    celsius,
    density_of,
    finely,
    grams,
    ml,
    result,
    say,
)
from stillroom.reckoning.calculators.liquid_working import (
    ethanol_of,
    liquid_working,
    swelling,
    volumes_of,
)
from stillroom.reckoning.conversions import uk_proof_from_abv, us_proof_from_abv
from stillroom.reckoning.kinds import AS_WRITTEN, Figure, Kind
from stillroom.reckoning.mixing import (
    Liquid,
    Recipe,
    SpiritOnHand,
    combine,
    make_up,
    mix,
    most_at_strength_ml,
)

SPIRIT_CAUTIONS = (cautions.FOOD_GRADE, cautions.FIRE, cautions.LAW)
AT_20_C = say(
    "Volumes and strengths are at {0}, and there is only ethanol and water.", celsius(20.0)
)


def _dilute(given: Given) -> Outcome:
    strength_abv, target_abv = given.number("strength"), given.number("target")
    stronger_abv, on_hand_ml = given.maybe("stronger"), given.maybe("volume")
    wanted_ml, temperature_c = given.maybe("wanted"), given.number("temperature")
    if target_abv == 0.0:
        raise Unworkable("The strength must be above 0 %.", "target")
    if target_abv > strength_abv and stronger_abv is None:
        text = "{0} is stronger than {1}: enter a stronger spirit to strengthen it with."
        raise Unworkable(say(text, abv(target_abv), abv(strength_abv)), "stronger")
    if target_abv > max(strength_abv, stronger_abv or 0.0):
        _refuse_too_weak(target_abv, stronger_abv)
    if wanted_ml:
        on_hand = Liquid(on_hand_ml, strength_abv, temperature_c) if on_hand_ml else None
        spirit = SpiritOnHand(strength_abv, on_hand.volume_at_20c_ml if on_hand else None)
        recipe = _to_volume(spirit, stronger_abv, target_abv, wanted_ml)
        return _dilute_outcome(recipe, spirit, stronger_abv, temperature_c, is_all_asked=True)
    if not on_hand_ml:
        raise Unworkable("Enter the volume you have, or the volume you want.", "volume")
    is_strengthening = target_abv > strength_abv
    added_abv = stronger_abv if is_strengthening and stronger_abv is not None else 0.0
    base = Liquid(on_hand_ml, strength_abv, temperature_c)
    recipe = combine(base, added_abv, target_abv)
    if recipe.shortfall:  # what is added is of the very strength, or so near that it takes seas
        _refuse_too_weak(target_abv, stronger_abv)
    spirit = SpiritOnHand(strength_abv, base.volume_at_20c_ml)
    return _dilute_outcome(recipe, spirit, stronger_abv, temperature_c, is_all_asked=False)


def _refuse_too_weak(target_abv: float, stronger_abv: float | None) -> NoReturn:
    text = "{0} can't be reached by adding {1}: give a spirit that is stronger than that."
    raise Unworkable(say(text, abv(target_abv), abv(stronger_abv or 0.0)), "stronger")


def _to_volume(
    spirit: SpiritOnHand, stronger_abv: float | None, target_abv: float, wanted_ml: float
) -> Recipe:
    """The spirit that was given, with the stronger one only for what it cannot do alone."""
    spirits = [spirit]
    recipe = make_up(spirits, target_abv, wanted_ml)
    if recipe.shortfall and stronger_abv is not None and stronger_abv > spirit.strength_abv:
        spirits.append(SpiritOnHand(stronger_abv))
        recipe = make_up(spirits, target_abv, wanted_ml)
    if recipe.shortfall:
        most_ml = most_at_strength_ml(spirits, target_abv, wanted_ml)
        text = "What is on hand makes {0} at {1} at most."
        raise Unworkable(say(text, ml(most_ml), abv(target_abv)), "wanted")
    return recipe


def _dilute_outcome(
    recipe: Recipe,
    spirit: SpiritOnHand,
    stronger_abv: float | None,
    temperature_c: float,
    *,
    is_all_asked: bool,
) -> Outcome:
    """What to pour together; first what was asked, with the spirit itself or without."""
    spirit_ml, stronger_ml = (*recipe.amounts_ml, 0.0)[:2]
    measured_ml = spirit_ml / volume_at_20c(1.0, spirit.strength_abv, temperature_c)
    pours = (
        Liquid(measured_ml, spirit.strength_abv, temperature_c),
        Liquid(stronger_ml, stronger_abv or 0.0),
        Liquid(recipe.water_ml),
    )
    volumes = volumes_of(pours, recipe.result)
    spirit_figure, stronger_figure, water_figure = volumes.pours
    of = abv(spirit.strength_abv)
    itself = (result("spirit", "Spirit of {0}", spirit_figure, of),)
    if temperature_c != 20.0:
        label, measured = "Spirit of {0}, at {1}", finely(ml(measured_ml))
        itself = (result("spirit", label, measured, of, celsius(temperature_c)),)
    stronger = result(
        "stronger", "Stronger spirit of {0}", stronger_figure, abv(stronger_abv or 0.0)
    )
    added = (
        *((stronger,) if stronger_ml > 0.0 else ()),
        *((result("water", "Water", water_figure),) if _adds_water(recipe) else ()),
    )
    results = (
        *(itself if is_all_asked else ()),
        *added,
        result("result", "Total", volumes.together),
        result("strength", "Strength", abv(recipe.result.strength_abv)),
        *(() if is_all_asked else itself),
        result("contraction", "Lost to contraction", volumes.lost),
    )
    working = liquid_working(pours, recipe.result)
    if recipe.water_ml > 0.0:
        working = (*working, _mass_sentence(pours))
    assumptions: tuple[Sentence, ...] = (AT_20_C, *_to_the_mark(recipe))
    if temperature_c != 20.0:
        text = "The spirit was measured at {0} and is taken to {1}."
        read = say(text, celsius(temperature_c), celsius(20.0))
        assumptions = (*assumptions, read)
    return Outcome(
        results,
        working,
        assumptions,
        (sources.MASS_BALANCE,),
        SPIRIT_CAUTIONS,
        swelling(recipe.result),
    )


def _adds_water(recipe: Recipe) -> bool:
    """Whether there is water to add; none is added only where a stronger spirit is."""
    return recipe.water_ml > 0.0 or sum(recipe.amounts_ml[1:]) <= 0.0


def _to_the_mark(recipe: Recipe) -> tuple[Sentence, ...]:
    """The other way to the same volume: all but one of the liquids, then the last to the mark."""
    has_stronger = sum(recipe.amounts_ml[1:]) > 0.0
    if recipe.water_ml > 0.0:
        spirits = "both spirits" if has_stronger else "the spirit"
        text = f"Or pour {spirits} and make up to the mark with water at {{0}}."
        return (say(text, celsius(20.0)),)
    if has_stronger:
        text = "Or pour the spirit and make up to the mark with the stronger one at {0}."
        return (say(text, celsius(20.0)),)
    return ()


def _mass_sentence(pours: Sequence[Liquid]) -> Sentence:
    *spirits, water = (pour.mass_g for pour in pours)
    total, [(spirit, of_water)] = adding_up(Kind.MASS, [sum(spirits), water])
    text = "The result weighs {0} and the spirit {1}: the difference, {2}, is water."
    return say(text, total, spirit, of_water)


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
        Field(
            "temperature",
            "Measured at",
            Kind.TEMPERATURE,
            20.0,
            "The spirit; water, stronger spirit and what they make are at 20 °C (68 °F).",
        ),
    ),
    _dilute,
)


def _mix(given: Given) -> Outcome:
    liquids = tuple(
        Liquid(row.number("volume"), row.number("strength"), row.number("temperature"))
        for row in given.rows("liquids")
    )
    if not any(liquid.volume_ml > 0.0 for liquid in liquids):
        raise Unworkable("At least one liquid must be greater than zero.", "liquids.0.volume")
    mixture = mix(liquids)
    volumes = volumes_of(liquids, mixture)
    ethanol, _ = ethanol_of(liquids)
    return Outcome(
        (
            result("volume", "Total", volumes.together),
            result("strength", "Strength", abv(mixture.strength_abv)),
            result("contraction", "Lost to contraction", volumes.lost),
            result("ethanol", "Ethanol in it", ethanol),
            result("mass", "Weight", grams(mixture.mass_g)),
        ),
        liquid_working(liquids, mixture),
        (AT_20_C,),
        (sources.MASS_BALANCE,),
        SPIRIT_CAUTIONS,
        swelling(mixture),
    )


MIX = Calculator(
    "mix",
    "Mix liquids",
    "The strength and volume of spirits and waters poured together.",
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
            "unless set otherwise.",
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
