"""Calculators for the straining day: yield, bottles, and weighing in."""

from stillroom.reckoning import cautions, sources
from stillroom.reckoning.alcoholometry import density, mass_fraction_from_abv
from stillroom.reckoning.bottling import SizeToFill, share_into_bottles
from stillroom.reckoning.calculator import (
    Calculator,
    Field,
    Given,
    Outcome,
    Result,
    Sentence,
    Unworkable,
    celsius,
    count,
    density_of,
    difference,
    grams,
    ml,
    ml_per_g,
    number,
    percent,
    product,
    quotient,
    result,
    say,
    span,
    total,
)
from stillroom.reckoning.calculators.herb_fields import (
    CONDITION,
    PART,
    WATER,
    charge_from,
    water_assumption,
)
from stillroom.reckoning.charge import Condition
from stillroom.reckoning.kinds import Kind
from stillroom.reckoning.weighing import contents_ml, net_g
from stillroom.reckoning.yields import (
    OWN_WATER_ML_PER_G,
    RETENTION,
    ExpectedYield,
    Pressing,
    expected_yield,
    is_possible,
    retention_seen,
    share_of_theoretical,
)

SAME_HERB, OTHER_HERBS = "same", "other"


def _yield(given: Given) -> Outcome:
    liquid_ml = given.number("liquid")
    if liquid_ml == 0.0:
        raise Unworkable("The liquid in the jar must be greater than zero.", "liquid")
    charge = charge_from(given, given.number("mass"))
    pressing, condition = Pressing(given.words("pressing")), Condition(given.words("condition"))
    seen = [_own_retention(i, row) for i, row in enumerate(given.rows("own"))]
    own = [kept for kept in seen if kept is not None]
    same_herb = given.words("own_of") == SAME_HERB
    expected = expected_yield(
        liquid_ml, charge.dried_g, pressing, own, condition, same_herb=same_herb
    )
    learned = expected.retention
    measured_ml = given.maybe("measured")
    results = [
        result("expected", "Expected yield", ml(expected.yield_ml)),
        result("range", "Range to expect", span(ml(expected.low_ml), ml(expected.high_ml))),
        result("share", "Share of the liquid in the jar", _share(expected.yield_ml, liquid_ml)),
        result("theoretical", "All the liquid in the jar", ml(expected.theoretical_ml)),
        result("retention", "Held back by the marc", ml_per_g(learned.mean)),
        result("strainings", "Your own strainings used", count(learned.own_count)),
    ]
    if learned.own_spread is not None:
        results.append(result("spread", "Spread of your own", ml_per_g(learned.own_spread)))
    if measured_ml is not None:
        results += _measured(measured_ml, liquid_ml, charge.dried_g)
    return Outcome(
        tuple(results),
        _yield_working(expected, pressing),
        (
            *water_assumption(given),
            say("The range covers about 19 of 20; the marc counts by its dried weight."),
            say(
                "The published figure counts as {0} strainings of your own.",
                number(learned.prior_weight),
            ),
            *_fresh_assumption(condition),
            say("What marc holds back varies with the herb; no table by plant part is published."),
        ),
        (RETENTION[pressing].source, sources.BATCH_RECORD),
        (),
        _yield_warnings(measured_ml, expected, len(seen) - learned.own_count),
    )


def _fresh_assumption(condition: Condition) -> tuple[Sentence, ...]:
    if condition is not Condition.FRESH:
        return ()
    return (
        say("No figure is published for fresh herb: that of dried herb is used, range widened."),
    )


def _own_retention(i: int, row: Given) -> float | None:
    """What a marc kept; None where more came out than can have been in the jar."""
    liquid_ml, yield_ml, dried_g = (row.number(key) for key in ("liquid", "yield", "dried"))
    if dried_g == 0.0:
        raise Unworkable("The dried weight must be greater than zero.", f"own.{i}.dried")
    if not is_possible(liquid_ml, yield_ml):
        return None
    return retention_seen(liquid_ml, yield_ml, dried_g)


def _share(part_ml: float, liquid_ml: float) -> Sentence:
    return say("{0}", percent(share_of_theoretical(part_ml, liquid_ml)))


def _measured(measured_ml: float, liquid_ml: float, dried_g: float) -> list[Result]:
    said = [
        result(
            "measured_share", "Measured, of the liquid in the jar", _share(measured_ml, liquid_ml)
        )
    ]
    if dried_g > 0.0:
        kept = retention_seen(liquid_ml, measured_ml, dried_g)
        said.append(result("measured_retention", "Held back by this marc", ml_per_g(kept)))
    return said


def _yield_working(expected: ExpectedYield, pressing: Pressing) -> tuple[Sentence, ...]:
    learned, published = expected.retention, RETENTION[pressing]
    text = (
        f"Published, {pressing.value}: {{0}} to {{1}} of the liquid poured, taken as {{2}}; with "
        "the dried herb's own water {3}."
    )
    with_water = published.mean + OWN_WATER_ML_PER_G
    figures = (published.low, published.high, published.mean, with_water)
    said = [say(text, *map(ml_per_g, figures))]
    if learned.own_mean is not None:
        text = "Your own strainings, {0} of them, held back {1} on average; together, {2}."
        of_own = (count(learned.own_count), ml_per_g(learned.own_mean), ml_per_g(learned.mean))
        said.append(say(text, *of_own))
    kept_ml = expected.theoretical_ml - expected.yield_ml
    herb, rate = grams(expected.dried_g), ml_per_g(learned.mean)
    if expected.yield_ml == 0.0:
        text = "{0} of dried herb at {1} would hold back {2}, more than there is."
        return (*said, product(text, herb, rate, ml(expected.dried_g * learned.mean)))
    left = (ml(expected.theoretical_ml), ml(kept_ml), ml(expected.yield_ml))
    return (
        *said,
        product("{0} of dried herb at {1} holds back {2}.", herb, rate, ml(kept_ml)),
        difference("{0} less {1} is {2}.", *left),
    )


def _yield_warnings(
    measured_ml: float | None, expected: ExpectedYield, left_out: int
) -> tuple[Sentence, ...]:
    said = []
    if left_out:
        said.append(
            say("Own strainings left out, being far from what is usual: {0}.", count(left_out))
        )
    if expected.yield_ml == 0.0:
        said.append(say("The herb would hold all of it: add liquid, or press it."))
    if measured_ml is None:
        return tuple(said)
    if not is_possible(expected.theoretical_ml, measured_ml):
        said.append(say("More was measured than should be in the jar: check both."))
    elif expected.is_odd(measured_ml):
        far = "more" if measured_ml > expected.yield_ml else "less"
        said.append(say(f"Far {far} was measured than expected: check both."))
    elif not expected.low_ml <= measured_ml <= expected.high_ml:
        said.append(say("What was measured is outside the range to expect."))
    return tuple(said)


YIELD = Calculator(
    "yield",
    "Expected yield",
    "How much to expect from a straining, from what marc held back before.",
    (
        Field("liquid", "Liquid in the jar", Kind.VOLUME, None, "With the plant's own water."),
        Field("mass", "Herb", Kind.MASS, None, "As it went in."),
        PART,
        CONDITION,
        WATER,
        Field(
            "pressing",
            "Method",
            Kind.CHOICE,
            Pressing.SQUEEZED.value,
            choices=(
                (Pressing.DRAINED.value, "Drained"),
                (Pressing.SQUEEZED.value, "Squeezed by hand"),
                (Pressing.PRESSED.value, "Pressed"),
            ),
        ),
        Field("measured", "Yield as measured", Kind.VOLUME, None, required=False),
        Field(
            "own_of",
            "Your own are of",
            Kind.CHOICE,
            SAME_HERB,
            choices=((SAME_HERB, "This herb"), (OTHER_HERBS, "Other herbs")),
        ),
        Field(
            "own",
            "Your own strainings",
            Kind.TEXT,
            help="In the same condition, got out the same way.",
            required=False,
            columns=(
                Field("liquid", "Liquid in the jar", Kind.VOLUME),
                Field("dried", "Dried weight", Kind.MASS),
                Field("yield", "Yield", Kind.VOLUME),
            ),
        ),
    ),
    _yield,
)


def _bottles(given: Given) -> Outcome:
    volume_ml = given.number("volume")
    sizes = tuple(_bottle_size(i, row) for i, row in enumerate(given.rows("sizes")))
    sharing = share_into_bottles(volume_ml, sizes)
    filled = tuple((size, n) for size, n in zip(sizes, sharing.counts, strict=True) if n > 0)
    results = [
        result(f"bottles_{i}", "Bottles of {0}", count(n), ml(size.size_ml))
        for i, (size, n) in enumerate(filled, start=1)
    ]
    working = [
        product("{0} of {1} take {2}.", count(n), ml(size.size_ml), ml(n * size.size_ml))
        for size, n in filled
    ]
    if len(filled) > 1:
        text = " and ".join(f"{{{i}}}" for i in range(len(filled)))
        takes = [ml(n * size.size_ml) for size, n in filled]
        text = f"{text} make {{{len(filled)}}} bottled."
        working.append(total(text, *takes, ml(sharing.bottled_ml)))
    text = "{0} to share, less {1} bottled, leaves {2}."
    figures = (ml(volume_ml), ml(sharing.bottled_ml), ml(sharing.left_over_ml))
    working.append(difference(text, *figures))
    return Outcome(
        (
            *results,
            result("bottled", "Bottled", ml(sharing.bottled_ml)),
            result("left_over", "Left over", ml(sharing.left_over_ml)),
            result("count", "Bottles, total", count(sharing.bottle_count)),
        ),
        tuple(working),
        (say("Every bottle is full. Least left over comes first, then fewest bottles."),),
        ("Exact search; no published source is needed.",),
        (),
        () if filled else (say("There is no bottle that this would fill."),),
    )


def _bottle_size(i: int, row: Given) -> SizeToFill:
    size_ml, empties = row.number("size"), row.maybe("empties")
    if size_ml < 1.0:
        raise Unworkable(say("A bottle must hold {0} or more.", ml(1.0)), f"sizes.{i}.size")
    if empties is not None and empties != int(empties):
        raise Unworkable("Empty bottles must be a whole number.", f"sizes.{i}.empties")
    return SizeToFill(size_ml, None if empties is None else int(empties))


BOTTLES = Calculator(
    "bottles",
    "Share into bottles",
    "Which bottles to fill so that the least is left over.",
    (
        Field("volume", "Volume to share", Kind.VOLUME),
        Field(
            "sizes",
            "Bottle sizes",
            Kind.TEXT,
            columns=(
                Field("size", "Size", Kind.VOLUME),
                Field(
                    "empties",
                    "Empty bottles",
                    Kind.COUNT,
                    None,
                    "Blank if there are plenty.",
                    required=False,
                ),
            ),
        ),
    ),
    _bottles,
)


SUGAR_ML_PER_G = 0.62
"""Volume that a gram of dissolved sugar adds. Common practice, no source."""


def _weigh(given: Given) -> Outcome:
    gross_g, tare_g = given.number("full"), given.number("empty")
    if gross_g < tare_g:
        raise Unworkable("The full weight must be at least the empty weight.", "full")
    strength_abv = given.number("strength")
    volume_ml = contents_ml(gross_g, tare_g, strength_abv)
    g_per_ml = density(mass_fraction_from_abv(strength_abv)) / 1000.0
    contents_g = net_g(gross_g, tare_g)
    return Outcome(
        (
            result("volume", "Volume", ml(volume_ml)),
            result("mass", "Weight of the contents", grams(contents_g)),
            result("density", "Density", density_of(g_per_ml)),
        ),
        (
            difference("{0} less {1} is {2}.", grams(gross_g), grams(tare_g), grams(contents_g)),
            quotient("{0} at {1} is {2}.", grams(contents_g), density_of(g_per_ml), ml(volume_ml)),
        ),
        (
            say("The volume is at {0}; weight needs no thermometer.", celsius(20.0)),
            say(
                "Dissolved extract is not counted: each percent of it, by weight in volume, makes "
                "the answer about {0} too large, if it swells the liquid as sugar does (common "
                "practice, no source).",
                percent((1.0 - SUGAR_ML_PER_G * g_per_ml) / g_per_ml),
            ),
        ),
        (sources.R22,),
        (cautions.NO_HYDROMETER,),
    )


WEIGH = Calculator(
    "weigh",
    "Weigh a bottle",
    "The volume in a bottle or jar from its weight, full and empty.",
    (
        Field("full", "Full", Kind.MASS),
        Field("empty", "Empty", Kind.MASS, None, "With its cap or dropper, as weighed full."),
        Field("strength", "Strength", Kind.STRENGTH, None, "0 for water."),
    ),
    _weigh,
)
