"""The working as printed, read again as a reader would and added up with pint and fractions."""

import re
from decimal import Decimal
from fractions import Fraction
from random import Random

import pint
import pytest

from stillroom.quantities import UnitSystem, fill_in, show
from stillroom.reckoning.kinds import Figure, Kind
from stillroom.reckoning.registry import Outcome, Sentence, Unworkable, calculators

from ..examples import examples

METRIC, US, IMPERIAL = UnitSystem

# Handed over to pint by its own names, of a registry that the program doesn't use.
UNITS: pint.UnitRegistry[Fraction] = pint.UnitRegistry(non_int_type=Fraction)
FLUID_OUNCE = {US: UNITS.US_fluid_ounce, IMPERIAL: UNITS.imperial_fluid_ounce}
WORDS = {
    "mL": UNITS.milliliter, "L": UNITS.liter, "g": UNITS.gram, "kg": UNITS.kilogram,
    "oz": UNITS.ounce, "lb": UNITS.pound, "qt": UNITS.US_liquid_quart, "pt": UNITS.imperial_pint,
    "pint": UNITS.imperial_pint, "pints": UNITS.imperial_pint,
}  # fmt: skip
NUMBER = r"-?\d+(?:\.\d+)?"


def printed(sentence: Sentence, system: UnitSystem) -> str:
    return fill_in(sentence.text, sentence.figures, system, sum=sentence.sum)


def found_in(outcome: Outcome, system: UnitSystem) -> dict[str, str]:
    """Every result as printed, by its label as printed."""
    lines = {}
    for result in outcome.results:
        value = result.value
        shown = show(value, system=system) if isinstance(value, Figure) else printed(value, system)
        lines[printed(result.label, system)] = shown
    return lines


def said(outcome: Outcome, system: UnitSystem) -> list[str]:
    """Everything a reader sees that has figures in it."""
    sentences = (*outcome.working, *outcome.assumptions, *outcome.warnings)
    results = found_in(outcome, system)
    lines = [printed(s, system) for s in sentences]
    return [*lines, *outcome.cautions, *results, *results.values()]


def amounts(text: str, system: UnitSystem) -> list:
    """The numbers of a line with their units, as printed; `2 lb 3 oz` is one."""
    found = []
    words = r"((?: |/)[a-zA-Z%/]+(?: oz(?:/oz)?)?)?"
    for match in re.finditer(rf"({NUMBER}) lb ({NUMBER}) oz|({NUMBER}){words}", text):
        if match[1]:
            found.append(Fraction(match[1]) * UNITS.pound + Fraction(match[2]) * UNITS.ounce)
        else:
            found.append(Fraction(match[3]) * unit((match[4] or "").strip(), system))
    return found


def unit(words: str, system: UnitSystem):
    """The pint unit of the words after a number; words that are no unit leave it bare."""
    if words.startswith("/"):
        words = words[1:]
        return 1 / unit(words, system)
    if words.startswith("%"):
        return Fraction(1, 100) * UNITS.dimensionless
    if words.startswith("fl oz"):
        top = FLUID_OUNCE[system] * Fraction(1)
        return top / WORDS["oz"] if words == "fl oz/oz" else top
    if "/" in words:
        above, _, below = words.partition("/")
        over = FLUID_OUNCE[system] if below.startswith("fl") else WORDS.get(below)
        top = 1 if above == "drops" else WORDS.get(above)
        if over is not None and top is not None:
            return Fraction(1) * top / over
    first = words.split(" ")[0]
    return Fraction(1) * WORDS.get(first, UNITS.dimensionless)


def step_of(text: str) -> Fraction:
    """The last digit of the last figure printed in a line."""
    last = re.findall(NUMBER, text)[-1]
    return Fraction(1, 10 ** len(last.partition(".")[2]))


def close(made, result, text: str) -> bool:
    """Whether a sum comes to the printed result, give or take half its last digit."""
    step = step_of(text)
    # A bare litre or kilogram is printed to a hundredth, a bare pound to a tenth of an ounce.
    if re.search(rf"{NUMBER} (?:kg|L)\b(?!.*{NUMBER})", text):
        step = Fraction(1, 100)
    if result.units == UNITS.pound:
        result = result.to(UNITS.ounce)
        step = min(step, Fraction(1, 10))
    value = made.to(result.units)
    return abs(value.magnitude - result.magnitude) <= step * Fraction(51, 100)


SUMS = [
    (r" measured separately comes to .* together, .* less\.$", lambda a: a[0] - a[1]),
    (r" measured separately comes to .* together, .* more\.$", lambda a: a[1] - a[0]),
    (r"^\S.* less \S+.* is ", lambda a: a[0] - a[1]),
    (r"^\S.* to share, less ", lambda a: a[0] - a[1]),
    (r" of dried herb at .* holds back ", lambda a: a[0] * a[1]),
    (r" of dried herb at .* would hold back ", lambda a: a[0] * a[1]),
    (r" of .* take ", lambda a: a[0] * a[1]),
    (r" make .* bottled\.$", lambda a: sum(a[1:-1], a[0])),
    (r" of liquid and .* make .* of water", lambda a: a[0] + a[1]),
    (r" put in and .* in the root, less ", lambda a: a[0] + a[1] - a[2]),
    (r" drops made ", lambda a: a[0] / a[1]),
    (r" drops at .* are ", lambda a: a[0] / a[1]),
    (r"^.* at .* is .* drops\.$", lambda a: a[0] * a[1]),
    (r" of pure alcohol\.$", lambda a: a[0] * a[1]),
    (r" of it at .* weighs ", lambda a: a[0] * a[1]),
    (r"^.* ÷ ", lambda a: a[0] / a[1]),
    (r" dried, times ", lambda a: a[0] * a[1]),
    (r" dried to .* of the fresh weight", lambda a: 1 - a[1] * (1 - a[2]) / a[0]),
    (r" for the rest make ", lambda a: sum(a[1:-1], a[0])),
    (r" used of .* bought at ", lambda a: a[2] * a[0] / a[1]),
    (r" of tincture at .* cost ", lambda a: a[0] * a[1]),
    (r" for the tincture and ", lambda a: a[0] + a[1]),
    (r"^.* at .*/.* is ", lambda a: a[0] / a[1]),
    (r" doubled is ", lambda a: 200 * a[0]),
    (r" stands for ", lambda a: a[0] * a[1]),
]
"""How a reader adds up each kind of line, by its words; the first that fits."""
SAYS_NO_SUM = (
    "Published,", "Your own strainings", "A reading of", "At ", "of ethanol", "of herb.",
    "parts dry to 1", "is spirit of",
    "stands for about",  # 1:n is g to the mL in every system
)  # fmt: skip

OURS = [
    "simmer", "yield", "bottles", "weigh", "alcoholometer", "drops", "amount", "fresh-dried",
    "blend", "cost",
]  # fmt: skip


OTHERS = ["fill", "dilute", "mix", "jar-strength"]
"""Their sums are read back in test_printed_sums.py."""


def test_the_working_of_every_calculator_can_be_read_back() -> None:
    assert sorted([*OURS, *OTHERS, "convert"]) == sorted(calculators())


def any_case(name: str, dice: Random) -> dict:
    """Values for everything a calculator asks for; half of what may be blank is."""
    values: dict = {}
    for field in calculators()[name].fields:
        if field.columns:
            count = dice.randint(1 if field.required else 0, 3)
            values[field.key] = [
                {c.key: any_value(c, dice) for c in field.columns} for _ in range(count)
            ]
        elif field.required or dice.random() < 0.5:
            values[field.key] = any_value(field, dice)
    if name == "yield":  # no straining gives more than there was
        values["own"] = [row for row in values["own"] if row["yield"] <= row["liquid"]]
    return values


def any_value(field, dice: Random):
    if field.choices:
        return dice.choice(field.choices)[0]
    low, high = {
        Kind.VOLUME: (1, 3000), Kind.MASS: (1, 3000), Kind.STRENGTH: (1, 96), Kind.PERCENT: (1, 90),
        Kind.TEMPERATURE: (5, 35), Kind.MONEY: (0, 90), Kind.RATIO: (1, 20), Kind.NUMBER: (1, 150),
        Kind.COUNT: (0, 9), Kind.TEXT: (0, 0), Kind.CONCENTRATION: (0.01, 2),
    }[field.kind]  # fmt: skip
    if field.kind is Kind.TEXT:
        return "Elecampane"
    if field.kind is Kind.COUNT:
        return float(dice.randint(int(low), int(high)))
    value = dice.uniform(low, high) if dice.random() < 0.7 else dice.uniform(low, low + 5)
    return round(value, dice.randint(0, 6)) or 1.0


def cases(name: str, count: int):
    """Outcomes of random values, and the words of refusals, in every system of units."""
    dice = Random(name)
    for _ in range(count):
        values = any_case(name, dice)
        try:
            outcome: Outcome | Unworkable = calculators()[name].reckon(values)
        except Unworkable as refused:
            outcome = refused
        yield values, outcome


@pytest.mark.parametrize("system", UnitSystem)
@pytest.mark.parametrize("name", OURS)
def test_printed_sums_add_up(name, system):
    summed = 0
    for values, outcome in cases(name, examples(400)):
        if isinstance(outcome, Unworkable):
            continue
        for sentence in outcome.working:
            text = printed(sentence, system)
            fits = [work for pattern, work in SUMS if re.search(pattern, text)]
            if not fits or any(words in text for words in SAYS_NO_SUM):
                assert any(words in text for words in SAYS_NO_SUM), f"How does it add up? {text}"
                continue
            found = amounts(text, system)
            assert close(fits[0](found), found[-1], text), (values, text)
            summed += 1
    assert summed > 25 or name == "alcoholometer"


@pytest.mark.parametrize("name", [*OURS, *OTHERS, "convert"])
def test_the_figures_of_a_sum_are_added_before_they_are_rounded(name):
    """What is printed is made to add up, which must hide no figure that is not the sum."""
    for values, outcome in cases(name, 40):
        for sentence in () if isinstance(outcome, Unworkable) else outcome.working:
            if sentence.sum is None:
                continue
            made = sentence.sum.work([Decimal(figure.value) for figure in sentence.figures])
            result = sentence.figures[sentence.sum.of].value
            assert float(made) == pytest.approx(result, rel=1e-5, abs=1e-6), (values, sentence)


def test_the_working_of_the_cost_of_a_bottle_adds_up():
    """By hand: 500 of 700 mL at 21.00, 15.00; 100 of 250 g at 10.00, 4.00; 1.00 for the rest.

    20.00 for 400 mL is 0.05 for each; 50 mL cost 2.50, with the empty bottle's 0.75 3.25.
    """
    outcome = calculators()["cost"].reckon(
        {
            "spirits": [{"used": 500.0, "bought": 700.0, "price": 21.0}],
            "herbs": [{"used": 100.0, "bought": 250.0, "price": 10.0}],
            "other": 1.0,
            "yield": 400.0,
            "bottle": 50.0,
            "empty": 0.75,
        }
    )
    assert [[figure.value for figure in line.figures] for line in outcome.working] == [
        [500, 700, 21, 15],
        [100, 250, 10, 4],
        [15, 4, 1, 20],
        [20, 400, 0.05],
        [50, 0.05, 2.5],
        [2.5, 0.75, 3.25],
    ]
    shown = {
        each.key: each.value.value for each in outcome.results if isinstance(each.value, Figure)
    }
    assert shown == {"per_ml": 0.05, "total": 20, "per_g": 0.2, "per_bottle": 3.25}


METRIC_WORDS = re.compile(r"\d ?(mL|L|ml|l|g|kg)\b|\bmL\b|g/mL|mL/g|°C(?! \(\d+ °F\))")
"""Of metric alone; a temperature may be given both ways."""


@pytest.mark.parametrize("name", [*OURS, *OTHERS])
def test_everything_is_in_us_units_where_these_are_set(name):
    for values, outcome in cases(name, examples(400)):
        if isinstance(outcome, Unworkable):
            lines = [printed(outcome.sentence, US)]
        else:
            lines = said(outcome, US)
        for line in lines:
            assert not METRIC_WORDS.search(line), (values, line)


OUT_OF_RANGE = (-1.0, 0.0, 0.4, 51_000.0, 2e6, 2e9)


@pytest.mark.parametrize("name", [*OURS, *OTHERS])
def test_every_refusal_is_in_us_units_where_these_are_set(name):
    """Each number of a calculator is put out of its range in turn, in its rows as well."""
    dice = Random(f"out of range {name}")
    refusals = [
        sentence
        for _ in range(12)
        for spoiled in spoilt(any_case(name, dice))
        if (sentence := refusal_of(name, spoiled))
    ]
    assert len(refusals) > 20
    for sentence in refusals:
        assert not METRIC_WORDS.search(printed(sentence, US))


def refusal_of(name: str, values: dict) -> Sentence | None:
    """The sentence that refuses values, if one does."""
    try:
        calculators()[name].reckon(values)
    except Unworkable as refused:
        return refused.sentence
    return None


def spoilt(values: dict):
    """The values with each number in them out of range in turn."""
    for key, value in values.items():
        for wrong in OUT_OF_RANGE:
            if isinstance(value, float):
                yield values | {key: wrong}
            elif isinstance(value, list):
                for i, row in enumerate(value):
                    for cell in (cell for cell, held in row.items() if isinstance(held, float)):
                        rows = [*value[:i], row | {cell: wrong}, *value[i + 1 :]]
                        yield values | {key: rows}


@pytest.mark.parametrize("system", UnitSystem)
def test_alcohol_in_a_dose_is_printed_on_the_right_side_of_every_threshold(system):
    """European Commission (2003): from 0.1 g and above 3 g; AMWarnV: above 0.05, 0.5 and 3 g."""
    limits_g = (0.05, 0.1, 0.5, 3.0)
    for limit_g in limits_g:
        for share in (0.97, 0.99, 0.9999, 1.0001, 1.01, 1.03):
            # 0.78924 g/mL at 20 °C, OIML R 22.
            volume_ml = limit_g * share / 0.78924 / 0.40
            outcome = calculators()["amount"].reckon({"volume": volume_ml, "strength": 40.0})
            lines = found_in(outcome, system)
            alcohol = Fraction(lines["Alcohol in it"].split()[0])
            at = Fraction(show(Figure(Kind.MASS, limit_g, (limit_g,)), system=system).split()[0])
            assert (alcohol < at) == (share < 1), (limit_g, share, lines)


@pytest.mark.parametrize("system", UnitSystem)
def test_a_strength_under_a_limit_is_never_printed_as_the_limit(system):
    """Beside the rule that under 20 % it won't keep, and from 25 % it does."""
    for target in (19.94, 19.97, 19.9999, 24.94, 24.97, 24.9999, 20.0, 25.0, 25.02):
        outcome = calculators()["simmer"].reckon(
            {"mass": 40.0, "put_in": 750.0, "spirit": 96.0, "target": target}
        )
        lines = found_in(outcome, system)
        strength = Fraction(lines["Strength in the jar"].removesuffix(" %"))
        assert (strength < 20) == (target < 20)
        assert (strength < 25) == (target < 25)
        assert ("Too weak" in lines["Keeping"]) == (strength < 20)
        assert ("Strong enough" in lines["Keeping"]) == (strength >= 25)
