"""Calculators for the store cupboard: fresh and dried, cost, and units."""

from decimal import Decimal

from stillroom.reckoning import cautions, conversions, sources
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
    money,
    number,
    one_to,
    percent,
    product,
    quotient,
    result,
    say,
    total,
)
from stillroom.reckoning.calculators.herb_fields import (
    CONDITION,
    PART,
    WATER,
    water_assumption,
    water_fraction_from,
)
from stillroom.reckoning.costs import Bought, Cost, batch_cost, bottle_cost
from stillroom.reckoning.drying import (
    dried_equivalent_g,
    drying_ratio,
    fresh_needed_g,
    water_fraction_from_drying,
)
from stillroom.reckoning.kinds import Amounts, Figure, Kind, Sum


def _fresh_dried(given: Given) -> Outcome:
    left = given.number("left") / 100.0
    if left > 0.99:
        raise Unworkable("Dried herb cannot be all water.", "left")
    fresh_g, dried_g = given.maybe("fresh_sample"), given.maybe("dried_sample")
    mass_g, target_g = given.maybe("mass"), given.maybe("dried_target")
    if fresh_g is None and dried_g is None and mass_g is None and target_g is None:
        raise Unworkable(
            "Enter the weight of the herb, of a sample, or of the dried herb wanted.", "mass"
        )
    if (fresh_g is None) != (dried_g is None):
        missing = "fresh_sample" if fresh_g is None else "dried_sample"
        raise Unworkable("Enter the sample's weight both before and after drying.", missing)
    working: tuple[Sentence, ...] = ()
    assumed: tuple[Sentence, ...] = ()
    if fresh_g is not None and dried_g is not None:
        water = _weighed_water(fresh_g, dried_g, left)
        text = "{0} dried to {1} that still holds {2} water: {3} of the fresh weight was water."
        figures = (grams(fresh_g), grams(dried_g), percent(100 * left), percent(100 * water))
        working = (Sentence(text, figures, Sum(3, _water_lost)),)
    else:
        water = water_fraction_from(given)
        assumed = water_assumption(given)
    if water > 0.99:
        raise Unworkable("Herb that is all water has no dried weight.", "water")
    ratio = drying_ratio(water, left)
    results = [
        result("water", "Water in the herb", percent(100.0 * water)),
        result("drying_ratio", "Parts by weight that dry to one", number(ratio)),
    ]
    text = "{0} parts dry to 1: what is not water is {1} before and {2} after."
    shares = (percent(100.0 * (1.0 - water)), percent(100.0 * (1.0 - left)))
    working = (*working, Sentence(text, (number(ratio), *shares), Sum(0, _dries_down)))
    if mass_g is not None:
        equivalent_g = dried_equivalent_g(mass_g, water, left)
        results.append(result("dried", "Dried, it would weigh", grams(equivalent_g)))
        working = (*working, _divided(mass_g, ratio, equivalent_g))
    if target_g is not None:
        gather_g = fresh_needed_g(target_g, water, left)
        results.append(result("gather", "To gather", grams(gather_g)))
        text = "{0} dried, times {1}, is {2}."
        working = (*working, product(text, grams(target_g), number(ratio), grams(gather_g)))
    return Outcome(
        tuple(results),
        working,
        (*assumed, say("Dried herb still holds {0} water.", percent(100.0 * left))),
        (
            sources.SR28,
            "Growers' drying losses: leaf 80, flower 75, aerial 70, root 65, bark 45 %.",
        ),
        (cautions.IDENTIFY,),
    )


def _weighed_water(fresh_g: float, dried_g: float, left: float) -> float:
    if fresh_g == 0.0 or dried_g == 0.0:
        raise Unworkable("Both weights of the sample must be greater than zero.", "fresh_sample")
    if dried_g > fresh_g:
        raise Unworkable("Dried herb cannot weigh more than it did fresh.", "dried_sample")
    return water_fraction_from_drying(fresh_g, dried_g, left)


def _divided(mass_g: float, ratio: float, equivalent_g: float) -> Sentence:
    return quotient("{0} ÷ {1} is {2}.", grams(mass_g), number(ratio), grams(equivalent_g))


def _water_lost(amounts: Amounts) -> Decimal:
    """% of the fresh weight that was water: fresh, dried, % left."""
    fresh, dried, left, _ = amounts
    return 100 - dried * (100 - left) / fresh if fresh else Decimal(0)


def _dries_down(amounts: Amounts) -> Decimal:
    """Parts that dry to one, from what is not water before and after."""
    _, before, after = amounts
    return after / before if before else Decimal(0)


FRESH_DRIED = Calculator(
    "fresh-dried",
    "Fresh and dried",
    "Water in a herb, its weight dried, and how much to gather.",
    (
        PART,
        Field(
            "condition",
            "Condition",
            Kind.CHOICE,
            "fresh",
            CONDITION.help,
            choices=CONDITION.choices,
        ),
        WATER,
        Field("mass", "Herb", Kind.MASS, None, "As it is now.", required=False),
        Field("dried_target", "Dried herb wanted", Kind.MASS, None, required=False),
        Field(
            "fresh_sample",
            "Sample, fresh",
            Kind.MASS,
            None,
            "Weigh some, dry it, weigh it again.",
            required=False,
        ),
        Field("dried_sample", "Sample, dried", Kind.MASS, None, required=False),
        Field("left", "Water left when dry", Kind.PERCENT, 10.0),
    ),
    _fresh_dried,
)


def _cost(given: Given) -> Outcome:
    yield_ml = given.number("yield")
    if yield_ml == 0.0:
        raise Unworkable("The yield must be greater than zero.", "yield")
    spirits, herbs = _bought(given, "spirits"), _bought(given, "herbs")
    cost = batch_cost(spirits, herbs, given.number("other"), yield_ml)
    results = [
        result("per_ml", "Cost of the tincture", Figure(Kind.MONEY_PER_ML, cost.per_ml)),
        result("total", "Cost of the batch", money(cost.total)),
    ]
    if cost.per_herb_g is not None:
        per_g = Figure(Kind.MONEY_PER_G, cost.per_herb_g)
        results.append(result("per_g", "Cost for the herb put in", per_g))
    size_ml = given.maybe("bottle")
    working = _cost_working(spirits, herbs, given.number("other"), cost, yield_ml)
    if size_ml:
        empty = given.number("empty")
        each = bottle_cost(cost, size_ml, empty)
        results.append(result("per_bottle", "Cost of a bottle of {0}", money(each), ml(size_ml)))
        filled = money(cost.per_ml * size_ml)
        per_ml = Figure(Kind.MONEY_PER_ML, cost.per_ml)
        text = "{0} for the tincture and {1} for the empty bottle make {2}."
        working = (
            *working,
            product("{0} of tincture at {1} cost {2}.", ml(size_ml), per_ml, filled),
            total(text, filled, money(empty), money(each)),
        )
    return Outcome(
        tuple(results),
        working,
        (say("The cost is divided by the yield, so it includes what the marc holds back."),),
        ("Arithmetic; no published source is needed.",),
        (cautions.LAW,),
    )


def _bought(given: Given, key: str) -> tuple[Bought, ...]:
    things = []
    for i, row in enumerate(given.rows(key)):
        if row.number("bought") == 0.0:
            text = "The amount the price is for must be greater than zero."
            raise Unworkable(text, f"{key}.{i}.bought")
        things.append(Bought(row.number("used"), row.number("bought"), row.number("price")))
    return tuple(things)


def _cost_working(
    spirits: tuple[Bought, ...],
    herbs: tuple[Bought, ...],
    other: float,
    cost: Cost,
    yield_ml: float,
) -> tuple[Sentence, ...]:
    text = "{0} used of {1} bought at {2}: {3}."
    lines = [
        Sentence(
            text,
            (unit(b.used), unit(b.bought), money(b.price), money(b.cost)),
            Sum(3, _used_of),
        )
        for things, unit in ((spirits, ml), (herbs, grams))
        for b in things
    ]
    costs = [money(b.cost) for b in (*spirits, *herbs)] + [money(other)]
    places = [f"{{{i}}}" for i in range(len(costs))]
    text = f"{', '.join(places[:-1])} and {places[-1]} for the rest make {{{len(costs)}}}."
    per_ml = Figure(Kind.MONEY_PER_ML, cost.per_ml)
    return (
        *lines,
        total(text, *costs, money(cost.total)),
        quotient("{0} ÷ {1} of tincture is {2}.", money(cost.total), ml(yield_ml), per_ml),
    )


def _used_of(amounts: Amounts) -> Decimal:
    """The price of what was used of what was bought."""
    used, bought, price, _ = amounts
    return used * price / bought if bought else Decimal(0)


def _purchase(unit: Kind) -> tuple[Field, ...]:
    return (
        Field("used", "Used", unit),
        Field("bought", "Of", unit, None, "The amount the price is for."),
        Field("price", "Price", Kind.MONEY),
    )


COST = Calculator(
    "cost",
    "Cost",
    "What a tincture costs per mL, per bottle and per g of herb, losses included.",
    (
        Field(
            "spirits",
            "Spirits",
            Kind.TEXT,
            columns=_purchase(Kind.VOLUME),
        ),
        Field(
            "herbs",
            "Herbs",
            Kind.TEXT,
            required=False,
            columns=_purchase(Kind.MASS),
        ),
        Field("other", "Everything else", Kind.MONEY, 0.0),
        Field("yield", "Yield", Kind.VOLUME, None, "As measured after straining."),
        Field("bottle", "Bottle size", Kind.VOLUME, None, required=False),
        Field("empty", "Empty bottle and label", Kind.MONEY, 0.0),
    ),
    _cost,
)


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
            say("US proof is held at 60 °F and % vol at 20 °C (68 °F): under 0.1 % vol apart."),
            say("Old UK proof: 100° is taken as 57.1 % vol; published values run 57.06 to 57.15."),
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
        say("A US fluid ounce is 29.5735295625 mL, an imperial one 28.4130625 mL, exactly.")
    ]


def _mass(mass_g: float) -> Converted:
    results = [
        result("mass", "Weight", grams(mass_g)),
        result("oz", "Ounces", number(conversions.ounces(mass_g))),
        result("lb", "Pounds", number(mass_g / conversions.GRAMS_PER_POUND)),
        result("grain", "Grains", number(mass_g / conversions.GRAMS_PER_GRAIN)),
    ]
    return results, [say("An ounce is 28.349523125 g and a grain 0.06479891 g, exactly.")]


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
    text = "{0} degrees, at 57.1 % vol for each hundred, is {1}."
    return [result("from_uk_proof", "From old UK proof", strength)], [
        say(text, number(proof), strength)
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
    text = "{0} US fluid ounces are {1} mL; ÷ 28.3495 g, an ounce of herb, that is {2}."
    figures = (number(n), number(n * us), _true(n, us))
    return results, [Sentence(text, figures, Sum(2, _per_ounce))]


def _per_ounce(amounts: Amounts) -> Decimal:
    """mL to the g of an ounce of herb."""
    return amounts[1] / Decimal("28.3495")


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
