"""The calculator for simmered roots."""

from stillroom.reckoning import cautions, sources
from stillroom.reckoning.alcoholometry import WATER_G_PER_ML
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
    result,
    say,
    total,
)
from stillroom.reckoning.calculators.herb_fields import (
    CONDITION,
    WATER,
    charge_from,
    water_assumption,
)
from stillroom.reckoning.calculators.jars import (
    DRAINED_HOLDS,
    one_and_another_less,
    simmer_warnings,
    verdict,
)
from stillroom.reckoning.calculators.liquid_working import ethanol_of, liquid_working, volumes_of
from stillroom.reckoning.charge import KEEPING_SOURCE, Part, will_it_keep
from stillroom.reckoning.kinds import Kind, Sum
from stillroom.reckoning.mixing import Liquid, added_to_reach_ml, mix
from stillroom.reckoning.simmering import Decoction, decoction


def _simmer(given: Given) -> Outcome:
    root = charge_from(given, given.number("mass"))
    put_in_ml, kept_ml = given.maybe("put_in"), given.maybe("kept")
    if put_in_ml is None and kept_ml is None:
        raise Unworkable("Enter the water put in, or the liquid left after simmering.", "put_in")
    boiled_off = given.maybe("boiled_off")
    boiled = None if boiled_off is None else boiled_off / 100.0
    pot = decoction(root, put_in_ml, boiled, kept_ml, given.maybe("drained"))
    if pot.water.volume_ml == 0.0:
        raise Unworkable("No water is left: check what was put in and what boiled off.", "put_in")
    target_abv, spirit_abv = given.number("target"), given.number("spirit")
    spirit_ml = added_to_reach_ml(pot.water, spirit_abv, target_abv)
    if spirit_ml is None:
        return _simmer_unreachable(given, pot)
    pours = (pot.water, Liquid(spirit_ml, spirit_abv))
    jar = mix(pours)
    ethanol, _ = ethanol_of(pours)
    keeping, warnings = verdict(will_it_keep(jar.strength_abv))
    return Outcome(
        results=(
            result("spirit", "Spirit to add", ml(spirit_ml)),
            result("strength", "Strength in the jar", abv(jar.strength_abv)),
            *keeping,
            *_simmer_waters(pot),
            result("liquid", "Liquid in the jar", volumes_of(pours, jar).together),
            result("ethanol", "Ethanol in it", ethanol),
        ),
        working=(
            *_simmer_working(pot),
            *liquid_working(pours, jar),
        ),
        assumptions=_simmer_assumptions(given),
        sources=_SIMMER_SOURCES,
        cautions=_SIMMER_CAUTIONS,
        warnings=(*simmer_warnings(given, pot), *warnings),
    )


def _simmer_unreachable(given: Given, pot: Decoction) -> Outcome:
    """Nothing to add: the spirit is no stronger than what is asked for."""
    spirit_abv, target_abv = given.number("spirit"), given.number("target")
    text = (
        "A spirit of {0} can't bring water to {1}, however much you pour: it only comes near its "
        "own strength."
    )
    half = mix([pot.water, Liquid(pot.water.volume_ml, spirit_abv)])
    hint = "As much spirit as water, {0}, gives {1}."
    return Outcome(
        results=(
            result("spirit", "Spirit to add", "out of reach"),
            result("best", "Stays weaker than", abv(spirit_abv)),
            *_simmer_waters(pot),
        ),
        working=_simmer_working(pot),
        assumptions=_simmer_assumptions(given),
        sources=_SIMMER_SOURCES,
        cautions=_SIMMER_CAUTIONS,
        warnings=(
            say(text, abv(spirit_abv), abv(target_abv)),
            say(hint, ml(pot.water.volume_ml), abv(half.strength_abv)),
            *simmer_warnings(given, pot),
        ),
    )


def _simmer_waters(pot: Decoction) -> tuple[Result, ...]:
    waters = (
        result("kept", "Liquid left after simmering", ml(pot.kept_ml)),
        result("root_water", "Water held by the root", grams(pot.in_root_g)),
        result("all_water", "Water in the jar", ml(pot.water.volume_ml)),
    )
    if pot.boiled_off_ml is None:
        return waters
    return (*waters, result("boiled_off", "Boiled off", ml(pot.boiled_off_ml)))


def _simmer_working(pot: Decoction) -> tuple[Sentence, ...]:
    """The ledger of the water, all of it as volumes so that the lines add up."""
    in_root, own = ml(pot.in_root_g / WATER_G_PER_ML), ml(pot.own_g / WATER_G_PER_ML)
    kept, left = ml(pot.kept_ml), ml(pot.water.volume_ml)
    together = total("{0} of liquid and {1} of water in the root make {2} of water.", kept, in_root,
                     left)  # fmt: skip
    if pot.put_in_ml is None or pot.boiled_off_ml is None:
        return (together,)
    text = "{0} put in and {1} in the root, less {2} boiled off, leave {3}."
    balance = Sum(3, one_and_another_less, is_exact=True)
    figures = (ml(pot.put_in_ml), own, ml(pot.boiled_off_ml), left)
    return (Sentence(text, figures, balance), together)


def _simmer_assumptions(given: Given) -> tuple[Sentence, ...]:
    said = [
        say("Everything dissolved in the decoction is counted as water."),
        say("It may cloud when the spirit goes on (common practice, no source)."),
    ]
    if given.maybe("kept") is None and given.maybe("boiled_off") is None:
        said.append(say("A third boils off in a household simmer of 20 to 30 minutes: measure it."))
    if given.number("mass") == 0.0:
        return tuple(said)
    known = [given.maybe(key) for key in ("put_in", "boiled_off", "kept")]
    if given.maybe("drained") is None and None in known:
        said.append(DRAINED_HOLDS)
    return (*said, *water_assumption(given))


_SIMMER_SOURCES = (
    sources.MASS_BALANCE,
    "Household decoction: 20 g dried or 40 g fresh in 750 mL down to 500 mL. British "
    "Pharmaceutical Codex 1911: 5 parts boiled 10 minutes in 120 of water, made up to 100.",
    KEEPING_SOURCE,
)


_SIMMER_CAUTIONS = (
    cautions.COOL_FIRST,
    cautions.FIRE,
    cautions.FOOD_GRADE,
    cautions.IDENTIFY,
    cautions.HEALTH,
)


SIMMER = Calculator(
    "simmer",
    "Simmered roots",
    "The spirit to add to a decoction of root or bark.",
    (
        Field("mass", "Root", Kind.MASS, None, "Before simmering."),
        Field(
            "part",
            "Part",
            Kind.CHOICE,
            Part.ROOT.value,
            choices=((Part.ROOT.value, "Root"), (Part.BARK.value, "Bark")),
        ),
        CONDITION,
        WATER,
        Field("put_in", "Water put in", Kind.VOLUME, None, required=False),
        Field(
            "boiled_off",
            "Boiled off",
            Kind.PERCENT,
            None,
            "Of the water put in; blank for a third, or for what the measured liquid leaves.",
            required=False,
        ),
        Field(
            "kept",
            "Liquid left after simmering",
            Kind.VOLUME,
            None,
            "Poured off the root and measured; blank to estimate it from what boiled off.",
            required=False,
        ),
        Field(
            "drained", "Root, drained", Kind.MASS, None, "If you weighed it after.", required=False
        ),
        Field("spirit", "Spirit", Kind.STRENGTH, None, "As on its label."),
        Field("target", "Strength in the jar", Kind.STRENGTH, 25.0, "25 % or more to keep."),
    ),
    _simmer,
)
