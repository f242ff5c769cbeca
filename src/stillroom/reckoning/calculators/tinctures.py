"""Calculators for finished tinctures: drops, blends, and the alcohol in an amount."""

from stillroom.reckoning import cautions, sources
from stillroom.reckoning.alcoholometry import ETHANOL_G_PER_ML
from stillroom.reckoning.blending import Blend, BlendedTincture, blend
from stillroom.reckoning.calculator import (
    Calculator,
    Field,
    Given,
    Outcome,
    Result,
    Sentence,
    Unworkable,
    abv,
    density_of,
    drops_per_ml_of,
    g_per_ml,
    grams,
    ml,
    number,
    one_to,
    percent,
    product,
    quotient,
    result,
    say,
    share,
    span,
)
from stillroom.reckoning.calculators.jars import verdict
from stillroom.reckoning.calculators.liquid_working import liquid_working, volumes_of
from stillroom.reckoning.charge import KEEPING_SOURCE, will_it_keep
from stillroom.reckoning.doses import (
    LABEL_THRESHOLDS,
    ethanol_g,
    herb_equivalent_g,
    label_statements,
)
from stillroom.reckoning.drops import (
    drops_in_volume,
    drops_per_ml,
    drops_per_ml_range,
    volume_of_drops_ml,
)
from stillroom.reckoning.kinds import Figure, Kind
from stillroom.reckoning.mixing import Liquid


def _drops(given: Given) -> Outcome:
    counted, strength_abv = given.maybe("counted"), given.maybe("strength")
    drops, volume_ml = given.maybe("drops"), given.maybe("volume")
    if counted is not None:
        return _calibrated(counted, given.number("counted_volume"), drops, volume_ml)
    if strength_abv is None:
        raise Unworkable("Enter the strength, or count the drops.", "strength")
    per_ml = drops_per_ml_range(strength_abv)
    ends = (drops_per_ml_of(per_ml.low), drops_per_ml_of(per_ml.high))
    results = [result("per_ml", "A dropper gives", span(*ends))]
    working = [say("At {0}, published droppers give {1} to {2}.", abv(strength_abv), *ends)]
    if drops is not None:
        low, high = volume_of_drops_ml(drops, per_ml.high), volume_of_drops_ml(drops, per_ml.low)
        results.append(result("volume", "{0} drops", span(ml(low), ml(high)), number(drops)))
    if volume_ml is not None:
        low, high = (drops_in_volume(volume_ml, n) for n in (per_ml.low, per_ml.high))
        results.append(
            result("drops", "Drops in {0}", span(number(low), number(high)), ml(volume_ml))
        )
    warning = "No one figure is right for every dropper: count yours into a small measure."
    return Outcome(
        tuple(results),
        tuple(working),
        (say("{0} is true of water from a pharmacopoeia dropper only.", drops_per_ml_of(20.0)),),
        _DROPS_SOURCES,
        (cautions.NO_DOSE,),
        (say(warning),),
    )


def _calibrated(
    counted: float, counted_ml: float, drops: float | None, volume_ml: float | None
) -> Outcome:
    if counted == 0.0 or counted_ml == 0.0:
        field = "counted" if counted == 0.0 else "counted_volume"
        raise Unworkable("Count at least one drop, into a volume greater than zero.", field)
    per_ml = drops_per_ml(counted, counted_ml)
    rate = drops_per_ml_of(per_ml)
    results = [result("per_ml", "This dropper gives", rate)]
    working = [quotient("{0} drops made {1}: {2}.", number(counted), ml(counted_ml), rate)]
    if drops is not None:
        made_ml = volume_of_drops_ml(drops, per_ml)
        results.append(result("volume", "{0} drops", ml(made_ml), number(drops)))
        working.append(quotient("{0} drops at {1} are {2}.", number(drops), rate, ml(made_ml)))
    if volume_ml is not None:
        made = drops_in_volume(volume_ml, per_ml)
        results.append(result("drops", "Drops in {0}", number(made), ml(volume_ml)))
        working.append(product("{0} at {1} is {2} drops.", ml(volume_ml), rate, number(made)))
    return Outcome(
        tuple(results),
        tuple(working),
        (say("True for this dropper and this tincture, held the same way."),),
        ("Your own count.",),
        (cautions.NO_DOSE,),
    )


_DROPS_SOURCES = (
    "Gorgas, Dental Medicine: drops in a fluid drachm of water, alcohol and tinctures.",
    "Buchheister, Handbuch der Drogisten-Praxis (1893): drops to the gram.",
    "Upper end: Tate's law, with surface tensions that have no source.",
)

DROPS = Calculator(
    "drops",
    "Drops",
    "Drops and millilitres: exact for a dropper you have counted, a range for any other.",
    (
        Field(
            "strength",
            "Strength",
            Kind.STRENGTH,
            None,
            "Where no drops were counted.",
            required=False,
        ),
        Field(
            "counted",
            "Drops counted",
            Kind.NUMBER,
            None,
            "Into the volume below; blank if you have not counted.",
            required=False,
        ),
        Field("counted_volume", "Volume they made", Kind.VOLUME, 1.0),
        Field("drops", "Drops to measure", Kind.NUMBER, None, required=False),
        Field("volume", "Volume to count out", Kind.VOLUME, None, required=False),
    ),
    _drops,
)


RATIO = Field(
    "ratio", "Ratio", Kind.RATIO, None, "Herb to liquid poured; blank if not known.", required=False
)
HERB_IT_HOLDS = Field(
    "herb",
    "Herb it holds",
    Kind.CONCENTRATION,
    None,
    "As the bottle's page shows it. If left out, the ratio is used.",
    required=False,
)
AS_IF_ALL_WAS_POURED = say(
    "Herb from a ratio alone is calculated as if all the liquid in the jar had been poured on. The "
    "herb's own water adds to it: with fresh herb the true figure is clearly lower."
)


def _blend(given: Given) -> Outcome:
    parts = tuple(_part(i, row) for i, row in enumerate(given.rows("parts")))
    if not any(part.volume_ml > 0.0 for part in parts):
        raise Unworkable("At least one part must be greater than zero.", "parts.0.volume")
    made = blend(parts)
    keeping, warnings = verdict(will_it_keep(made.mixture.strength_abv))
    pours = tuple(Liquid(part.volume_ml, part.strength_abv) for part in parts)
    volumes = volumes_of(pours, made.mixture)
    if made.herb_g is None:
        text = "Herb can't be counted while a part has neither a ratio nor the herb it holds."
        warnings = (*warnings, say(text))
    return Outcome(
        (
            result("volume", "Total", volumes.together),
            result("strength", "Strength", abv(made.mixture.strength_abv)),
            *keeping,
            *_herb_results(made),
            result("contraction", "Lost to contraction", volumes.lost),
            *(line for i in range(len(parts)) for line in _part_results(i, parts[i], made)),
        ),
        (
            *liquid_working(pours, made.mixture),
            *(_herb_sentence(part) for part in parts if part.herb_g is not None),
        ),
        (
            say("Dissolved extract is not counted in volume or strength."),
            say("Every ratio is herb to liquid poured."),
            *(
                (AS_IF_ALL_WAS_POURED,)
                if any(part.n and part.herb_g_per_ml is None for part in parts)
                else ()
            ),
        ),
        (sources.MASS_BALANCE, KEEPING_SOURCE),
        (cautions.HEALTH, cautions.NO_DOSE),
        warnings,
    )


def _part(i: int, row: Given) -> BlendedTincture:
    n = row.maybe("ratio")
    if n == 0.0:
        raise Unworkable("The ratio must be greater than 1:0.", f"parts.{i}.ratio")
    name = row.words("name") or f"Part {i + 1}"
    return BlendedTincture(row.number("volume"), row.number("strength"), n, name, row.maybe("herb"))


def _herb_results(made: Blend) -> tuple[Result, ...]:
    lines = []
    if made.herb_g is not None:
        lines.append(result("herb", "Herb it stands for", grams(made.herb_g)))
    if made.n is not None:
        lines.append(result("ratio", "Ratio, all herb to all liquid poured", one_to(made.n)))
    return tuple(lines)


def _part_results(i: int, part: BlendedTincture, made: Blend) -> tuple[Result, ...]:
    share, name = made.shares[i], part.name.replace("{", "(").replace("}", ")")
    lines = (result(f"share_{i + 1}", f"{name}: share", percent(share.share_percent)),)
    if share.herb_g_per_ml is None:
        return lines
    herb = result(f"herb_{i + 1}", f"{name}: herb in the blend", g_per_ml(share.herb_g_per_ml))
    return (*lines, herb)


def _herb_sentence(part: BlendedTincture) -> Sentence:
    herb_g = grams(part.herb_g or 0.0)
    if part.herb_g_per_ml is not None:
        text = "{0} at {1} stands for {2} of herb."
        return product(text, ml(part.volume_ml), g_per_ml(part.herb_g_per_ml), herb_g)
    text = "{0} at {1} stands for about {2} of herb."
    return say(text, ml(part.volume_ml), one_to(part.n or 0.0), herb_g)


BLEND = Calculator(
    "blend",
    "Blend tinctures",
    "Strength, shares and herb of finished tinctures poured together.",
    (
        Field(
            "parts",
            "Tinctures",
            Kind.TEXT,
            columns=(
                Field("name", "Name", Kind.TEXT, None, required=False),
                Field("volume", "Volume", Kind.VOLUME),
                Field("strength", "Strength", Kind.STRENGTH),
                RATIO,
                HERB_IT_HOLDS,
            ),
        ),
    ),
    _blend,
)


def _amount(given: Given) -> Outcome:
    volume_ml, strength_abv = given.number("volume"), given.number("strength")
    n = given.maybe("ratio")
    if n == 0.0:
        raise Unworkable("The ratio must be greater than 1:0.", "ratio")
    alcohol_g = ethanol_g(volume_ml, strength_abv)
    # What rounding does to it must not take it across the limit of a rule.
    alcohol = Figure(Kind.MASS, alcohol_g, tuple(t.above_g for t in LABEL_THRESHOLDS if t.above_g))
    results = [
        result("ethanol", "Alcohol in it", alcohol),
        result("ethanol_volume", "As pure alcohol", ml(volume_ml * strength_abv / 100.0)),
    ]
    pure_ml = volume_ml * strength_abv / 100.0
    working = [
        share("{0} at {1} is {2} of pure alcohol.", ml(volume_ml), abv(strength_abv), ml(pure_ml)),
        product("{0} of it at {1} weighs {2}.", ml(pure_ml), density_of(ETHANOL_G_PER_ML), alcohol),
    ]
    assumptions = [
        say("The statements are what those rules ask of a medicine's label for one dose."),
        say("The EU text was revised in 2019; the newer figures could not be checked."),
    ]
    per_ml = given.maybe("herb")
    if per_ml is not None:
        herb = grams(herb_equivalent_g(volume_ml, per_ml))
        results.append(result("herb", "Herb it stands for", herb))
        working.append(product("{0} at {1} stands for {2}.", ml(volume_ml), g_per_ml(per_ml), herb))
    elif n is not None:
        herb = grams(herb_equivalent_g(volume_ml, 1.0 / n))
        results.append(result("herb", "Herb it stands for, about", herb))
        working.append(say("{0} at {1} stands for about {2}.", ml(volume_ml), one_to(n), herb))
        assumptions.append(AS_IF_ALL_WAS_POURED)
    statements = label_statements(alcohol_g)
    results += [
        result(f"label_{i}", f"{s.rule}, {s.where}", s.says, _limit(s.above_g))
        for i, s in enumerate(statements, start=1)
    ]
    return Outcome(
        tuple(results),
        tuple(working),
        tuple(assumptions),
        (sources.R22, sources.EU_2003_LABEL, sources.AMWARNV),
        (cautions.NO_DOSE, cautions.HEALTH, cautions.NOT_ADVICE),
    )


def _limit(above_g: float) -> Figure:
    return Figure(Kind.MASS, above_g, (above_g,) if above_g else ())


AMOUNT = Calculator(
    "amount",
    "Alcohol in an amount",
    "Alcohol and herb in an amount taken. Recommends no dose.",
    (
        Field("volume", "Amount", Kind.VOLUME),
        Field("strength", "Strength", Kind.STRENGTH),
        RATIO,
        HERB_IT_HOLDS,
    ),
    _amount,
)
