"""The calculator for the strength in a jar."""

from stillroom.reckoning import cautions, sources
from stillroom.reckoning.calculator import (
    Calculator,
    Field,
    Given,
    Outcome,
    Sentence,
    Unworkable,
    abv,
    count,
    grams,
    one_to,
    result,
    say,
)
from stillroom.reckoning.calculators.herb_fields import (
    CONDITION,
    PART,
    SIMMERED,
    WATER,
    charge_from,
    water_assumption,
)
from stillroom.reckoning.calculators.jars import (
    DRAINED_HOLDS,
    JAR_SIZE,
    PLANT_WATER_JOINS,
    fit_warnings,
    verdict,
)
from stillroom.reckoning.calculators.liquid_working import (
    ethanol_of,
    liquid_working,
    swelling,
    volumes_of,
)
from stillroom.reckoning.charge import KEEPING_SOURCE, Charge, fit_in_jar, liquid_in_jar, ratio_n
from stillroom.reckoning.kinds import Kind
from stillroom.reckoning.mixing import Liquid
from stillroom.reckoning.shelf_life import KEEPING_YEARS, SHELF_LIFE_SOURCE


def _jar_strength(given: Given) -> Outcome:
    charges = tuple(_charge_row(row) for row in given.rows("herbs"))
    pours = tuple(
        Liquid(row.number("volume"), row.number("strength"), row.number("temperature"))
        for row in given.rows("pours")
    )
    if not any(pour.volume_ml > 0.0 for pour in pours):
        raise Unworkable("At least one pour must be greater than zero.", "pours.0.volume")
    if not charges:
        text = "Add a row for the herb. Leave its weight blank if it was not weighed."
        raise Unworkable(text, "herbs")
    jar = liquid_in_jar(charges, pours)
    volumes = volumes_of(pours, jar, jar.plant_water_g)
    ethanol, _ = ethanol_of(pours)
    keeping, warnings = verdict(jar.keeping, jar.keeping_sentence)
    carried = [Charge(mass) for row in given.rows("pours") if (mass := row.maybe("herb"))]
    n = ratio_n([*charges, *carried], sum(pour.volume_ml for pour in pours))
    capacity_ml = given.maybe("jar")
    fit = fit_in_jar(charges, pours, capacity_ml) if capacity_ml else None
    if jar.is_partial:
        text = (
            "Herb that was not weighed is left out: if it was fresh, the jar is weaker than this."
        )
        warnings = (*warnings, say(text))
    return Outcome(
        results=(
            result("strength", "Strength in the jar", abv(jar.strength_abv)),
            *keeping,
            result("liquid", "Liquid in the jar", volumes.together),
            result("ethanol", "Ethanol in it", ethanol),
            result("contraction", "Lost to contraction", volumes.lost),
            result(
                "ratio",
                "Ratio, herb to liquid poured",
                "unknown (herb not weighed)" if n is None else one_to(n),
            ),
            result("years", "Usual keeping time, years", count(KEEPING_YEARS[jar.keeping])),
        ),
        working=(
            say("The herbs bring {0} of water.", grams(jar.plant_water_g)),
            *liquid_working(pours, jar, jar.plant_water_g),
        ),
        assumptions=(PLANT_WATER_JOINS, *_usual_water(given), *([CARRIED] if carried else [])),
        sources=(sources.MASS_BALANCE, sources.SR28, KEEPING_SOURCE, SHELF_LIFE_SOURCE),
        cautions=(cautions.NO_HYDROMETER, cautions.HEALTH),
        warnings=(*warnings, *swelling(jar), *fit_warnings(fit)),
    )


CARRIED = say(
    "If a tincture was poured on, the ratio counts its herb as well, as on a label: all herb to "
    "all liquid poured."
)


def _charge_row(row: Given) -> Charge:
    return charge_from(row, row.maybe("mass"), simmered=row.words("simmered") == "yes")


def _usual_water(given: Given) -> tuple[Sentence, ...]:
    said = (sentence for row in given.rows("herbs") for sentence in water_assumption(row))
    held = [DRAINED_HOLDS for row in given.rows("herbs") if row.words("simmered") == "yes"]
    return tuple(dict.fromkeys([*said, *held]))


JAR_STRENGTH = Calculator(
    "jar-strength",
    "Strength in the jar",
    "How strong a jar is with the plant's water and every top-up, and whether it will keep.",
    (
        Field(
            "herbs",
            "Herbs",
            Kind.TEXT,
            required=False,
            columns=(
                Field("mass", "Weight", Kind.MASS, None, "Blank if not weighed.", required=False),
                PART,
                CONDITION,
                WATER,
                SIMMERED,
            ),
        ),
        Field(
            "pours",
            "Poured on",
            Kind.TEXT,
            columns=(
                Field("volume", "Volume", Kind.VOLUME, 500.0, "Enter top-ups as pours too."),
                Field("strength", "Strength", Kind.STRENGTH, 40.0, "0 for water."),
                Field("temperature", "At", Kind.TEMPERATURE, 20.0, "When it was measured."),
                Field(
                    "herb",
                    "Herb in it",
                    Kind.MASS,
                    None,
                    "Of a tincture. Blank: none.",
                    required=False,
                ),
            ),
        ),
        JAR_SIZE,
    ),
    _jar_strength,
)
