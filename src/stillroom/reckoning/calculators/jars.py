"""Calculators for a jar: filling it with herb and spirit."""

from decimal import Decimal
from math import floor

from stillroom.reckoning import cautions, sources
from stillroom.reckoning.calculator import (
    Calculator,
    Field,
    Given,
    Outcome,
    Result,
    Sentence,
    Unworkable,
    abv,
    adding_up,
    finely,
    grams,
    ml,
    ml_per_g,
    one_to,
    percent,
    result,
    say,
)
from stillroom.reckoning.calculators.herb_fields import (
    CONDITION,
    PART,
    WATER,
    water_assumption,
    water_fraction_from,
)
from stillroom.reckoning.calculators.liquid_working import liquid_working
from stillroom.reckoning.charge import (
    KEEPING_SOURCE,
    SOAKED_ML_PER_G,
    STRENGTH_BANDS,
    STRENGTH_BANDS_SOURCE,
    Charge,
    Condition,
    Fit,
    Keeping,
    Part,
    mass_for_jar_g,
    usual_n,
)
from stillroom.reckoning.filling import FillPlan, n_needed, plan_fill, strength_needed_abv
from stillroom.reckoning.kinds import Amounts, Kind
from stillroom.reckoning.mixing import Liquid, Shortfall, SpiritOnHand
from stillroom.reckoning.simmering import Decoction

SPIRITS = Field(
    "spirits",
    "Spirits on hand",
    Kind.TEXT,
    columns=(
        Field("strength", "Strength", Kind.STRENGTH, 40.0, "As on its label."),
        Field("on_hand", "On hand", Kind.VOLUME, None, "Blank if there is plenty.", required=False),
    ),
    help="Poured neat in this order when no strength is asked for.",
)

JAR_SIZE = Field(
    "jar", "Jar size", Kind.VOLUME, None, "To the brim; 5 % is left free.", required=False
)

SHOWN_ALIKE_ABV = 0.05
"""Half of the last digit of a strength as it is shown."""

PLANT_WATER_JOINS = say("Water in the plant joins the liquid as pure water; its solids do not.")
DRAINED_HOLDS = say(
    "Drained root holds {0} of water for its dried weight, or its own water if that is more: weigh "
    "it drained to know.",
    ml_per_g(SOAKED_ML_PER_G),
)


def verdict(
    keeping: Keeping, sentence: str = ""
) -> tuple[tuple[Result, ...], tuple[Sentence, ...]]:
    """Whether it will keep, as a result, and as a warning when it is not sure to."""
    sentence = sentence or keeping.sentence
    warnings = () if keeping is Keeping.KEEPS else (Sentence(sentence),)
    return (result("keeping", "Keeping", sentence),), warnings


def _fill(given: Given) -> Outcome:
    n = given.maybe("ratio")
    if n == 0.0:
        raise Unworkable("The ratio must be greater than 1:0.", "ratio")
    if n is None:
        n = usual_n(Part(given.words("part")), Condition(given.words("condition")))
    spirits = _pooled(given)
    jar_ml, mass_g = given.maybe("jar"), given.maybe("mass")
    if not jar_ml and not mass_g:
        raise Unworkable("Enter the weight of the herb or the jar size.", "mass")
    water_fraction = water_fraction_from(given)
    is_from_jar = not mass_g
    target_abv = given.maybe("target")
    if is_from_jar and jar_ml:
        mass_g = _fitting_g(jar_ml, n, water_fraction, spirits, target_abv)
    charge = Charge(mass_g, water_fraction)
    plan = plan_fill(charge, n, spirits, target_abv, jar_ml or None)
    keeping, keeping_warnings = verdict(plan.jar.keeping)
    return Outcome(
        results=(*_fill_results(plan), *keeping),
        working=_fill_working(plan, charge, jar_ml if is_from_jar else None),
        assumptions=(
            *water_assumption(given),
            PLANT_WATER_JOINS,
            say("Spirit and water are measured separately, before they shrink together."),
            *_bands(target_abv),
        ),
        sources=(
            sources.MASS_BALANCE,
            sources.PH_EUR_TINCTURES,
            sources.USP_1890_FRESH,
            sources.SR28,
            KEEPING_SOURCE,
        ),
        cautions=(
            cautions.IDENTIFY,
            cautions.FOOD_GRADE,
            cautions.FIRE,
            cautions.HEALTH,
            cautions.LAW,
            cautions.NOT_ADVICE,
        ),
        warnings=(*_fill_warnings(plan, charge, spirits), *keeping_warnings),
        plan=plan,
    )


def _fitting_g(
    jar_ml: float,
    n: float,
    water_fraction: float,
    spirits: list[SpiritOnHand],
    target_abv: float | None,
) -> float:
    """The herb for a jar, as a scale shows it, so that all of it stays below the headspace.

    What ends up weak swells a little; then there is that much less herb.
    """
    mass_g = _as_weighed_g(mass_for_jar_g(jar_ml, n, water_fraction))
    while True:
        fit = plan_fill(Charge(mass_g, water_fraction), n, spirits, target_abv, jar_ml).fit
        if fit is None or fit.is_enough:
            return mass_g
        mass_g = _as_weighed_g(mass_g * (1.0 - 1e-9) * fit.usable_ml / fit.needed_ml)


def _as_weighed_g(mass_g: float) -> float:
    """Rounded down to what is shown of a mass: 1 g from 100 g on, a tenth from 1 g, a hundredth."""
    per_g = 1 if mass_g >= 100.0 else 10 if mass_g >= 1.0 else 100
    return floor(mass_g * per_g) / per_g or mass_g


def _pooled(given: Given) -> list[SpiritOnHand]:
    """The spirits, bottles of the same strength counted as one."""
    on_hand: dict[float, float | None] = {}
    for row in given.rows("spirits"):
        strength, volume_ml = row.number("strength"), row.maybe("on_hand")
        before_ml = on_hand.get(strength, 0.0)
        unlimited = before_ml is None or volume_ml is None
        on_hand[strength] = None if unlimited else (before_ml or 0.0) + (volume_ml or 0.0)
    return [SpiritOnHand(strength, volume_ml) for strength, volume_ml in on_hand.items()]


def _fill_results(plan: FillPlan) -> tuple[Result, ...]:
    volumes_ml = (*(pour.volume_ml for pour in plan.pours), plan.water_ml)
    poured, [(*each_poured, water)] = adding_up(Kind.VOLUME, volumes_ml)
    pours = tuple(
        result(f"spirit_{place + 1}", "Spirit of {0}", figure, abv(pour.strength_abv))
        for place, pour, figure in zip(plan.spirit_places, plan.pours, each_poured, strict=True)
    )
    results = (
        result("strength", "Strength in the jar", abv(plan.jar.strength_abv)),
        result("mass", "Herb", grams(plan.charges[0].mass_g or 0.0)),
        *pours,
        result("water", "Water to add", water),
        result("poured", "Liquid to pour, total", poured),
        result("ratio", "Ratio, herb to liquid poured", one_to(plan.n)),
        result("liquid", "Liquid in the jar", ml(plan.jar.volume_ml)),
    )
    if plan.fit is None:
        return results
    return (*results, result("needed", "Room it takes", ml(plan.fit.needed_ml)))


def _fill_working(
    plan: FillPlan, charge: Charge, from_jar_ml: float | None
) -> tuple[Sentence, ...]:
    mass_g = charge.mass_g or 0.0
    lines = []
    if from_jar_ml is not None:
        text = "A jar of {0}, a twentieth left free, takes {1} of herb at {2}."
        lines.append(say(text, ml(from_jar_ml), grams(mass_g), one_to(plan.n)))
    text = "{0} of herb at {1} takes {2} of liquid."
    lines.append(say(text, finely(grams(mass_g)), one_to(plan.n), finely(ml(plan.n * mass_g))))
    text = "The herb brings {0} of water ({1} of its weight)."
    lines.append(say(text, grams(charge.water_g), percent(100.0 * charge.water_fraction)))
    return (
        *lines,
        *liquid_working((*plan.pours, Liquid(plan.water_ml)), plan.jar, plan.jar.plant_water_g),
    )


def _fill_warnings(
    plan: FillPlan, charge: Charge, spirits: list[SpiritOnHand]
) -> tuple[Sentence, ...]:
    warnings: list[Sentence] = []
    if plan.target_abv is not None and plan.target_abv - plan.jar.strength_abv < SHOWN_ALIKE_ABV:
        return fit_warnings(plan.fit)
    if plan.shortfall is Shortfall.TOO_LITTLE and plan.target_abv is None:
        text = "There is only {0} of spirit on hand; {1} is needed."
        warnings.append(say(text, ml(plan.poured_ml), ml(plan.n * (charge.mass_g or 0.0))))
    elif plan.shortfall is Shortfall.TOO_LITTLE and plan.target_abv is not None:
        text = "There is not enough strong spirit for {0}; the best with what is on hand is {1}."
        warnings.append(say(text, abv(plan.target_abv), abv(plan.jar.strength_abv)))
    elif plan.shortfall is not None and plan.target_abv is not None:
        warnings.extend(_too_weak(plan, charge, spirits, plan.target_abv))
    return (*warnings, *fit_warnings(plan.fit))


def _too_weak(
    plan: FillPlan, charge: Charge, spirits: list[SpiritOnHand], target_abv: float
) -> list[Sentence]:
    """The honest answer, and the ways out of it that exist."""
    text = "{0} can't be reached at {1} with these spirits: the best is {2}."
    said = [say(text, abv(target_abv), one_to(plan.n), abv(plan.jar.strength_abv))]
    strongest_abv = max((s.strength_abv for s in spirits if s.limit_ml > 0.0), default=0.0)
    n = n_needed(charge, strongest_abv, target_abv)
    if n:
        text = "The spirit of {0} gets there from {1} on: less herb to the same liquid."
        said.append(say(text, abv(strongest_abv), one_to(n)))
    needed_abv = strength_needed_abv(plan.n * (charge.mass_g or 0.0), charge.water_g, target_abv)
    if needed_abv is not None:
        said.append(say("At {0} the liquid would have to be {1}.", one_to(plan.n), abv(needed_abv)))
    if charge.water_fraction > 0.3:
        said.append(say("Or dry the herb first: its water weakens the spirit."))
    return said


def fit_warnings(fit: Fit | None) -> tuple[Sentence, ...]:
    if fit is None or fit.is_enough:
        return ()
    text = "It doesn't fit: it needs {0}, and the jar has {1} below its headspace."
    return (say(text, finely(ml(fit.needed_ml)), finely(ml(fit.usable_ml))),)


def _bands(target_abv: float | None) -> tuple[Sentence, ...]:
    if target_abv is not None:
        return ()
    bands = "; ".join(f"{_band(b.low_abv, b.high_abv)} for {b.used_for}" for b in STRENGTH_BANDS)
    return (say(f"Strengths in use: {bands}. {STRENGTH_BANDS_SOURCE}"),)


def _band(low_abv: float, high_abv: float) -> str:
    return f"{low_abv:g} %" if low_abv == high_abv else f"{low_abv:g}–{high_abv:g} %"


FILL = Calculator(
    "fill",
    "Fill a jar",
    "What to pour on a herb, from its weight or from the jar size.",
    (
        Field(
            "mass",
            "Herb",
            Kind.MASS,
            None,
            "If blank: as much as fits in the jar below.",
            required=False,
        ),
        JAR_SIZE,
        Field(
            "ratio",
            "Ratio",
            Kind.RATIO,
            None,
            "Blank: dried 1:5, resin 1:10, fresh 1:2.",
            required=False,
        ),
        PART,
        CONDITION,
        WATER,
        Field(
            "target",
            "Strength in the jar",
            Kind.STRENGTH,
            None,
            "What it should come to with the plant's water; blank to pour the spirit neat.",
            required=False,
        ),
        SPIRITS,
    ),
    _fill,
)


def simmer_warnings(given: Given, pot: Decoction) -> tuple[Sentence, ...]:
    """What is odd about the water of simmered root."""
    said = []
    if pot.is_soaked_up and given.maybe("kept") is None:
        text = "The root would soak up all the water that is left: start with more, or boil less."
        said.append(say(text))
    put_in_ml = pot.put_in_ml
    if put_in_ml is not None and given.maybe("kept") is not None and pot.kept_ml > put_in_ml:
        text = "More liquid was left than the {0} of water that was put in: is that right?"
        said.append(say(text, ml(put_in_ml)))
    boiled_off = given.maybe("boiled_off")
    if boiled_off is not None and put_in_ml and pot.boiled_off_ml is not None:
        measured = 100.0 * pot.boiled_off_ml / put_in_ml
        if abs(measured - boiled_off) > 1.0:
            text = "By what was measured {0} of the water boiled off, not {1}."
            said.append(say(text, percent(measured), percent(boiled_off)))
    return tuple(said)


def one_and_another_less(amounts: Amounts) -> Decimal:
    """The first two added up, less the third."""
    return amounts[0] + amounts[1] - amounts[2]
