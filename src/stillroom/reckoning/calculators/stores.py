"""Calculators for the store cupboard: fresh and dried, and cost."""

from decimal import Decimal

from stillroom.reckoning import cautions, sources
from stillroom.reckoning.calculator import (
    Calculator,
    Field,
    Given,
    Outcome,
    Sentence,
    Unworkable,
    grams,
    ml,
    money,
    number,
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
        raise Unworkable("Dried herb can't be all water.", "left")
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
        raise Unworkable("Dried herb can't weigh more than it did fresh.", "dried_sample")
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
    "What a tincture costs by volume, per bottle and by weight of herb, losses included.",
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
