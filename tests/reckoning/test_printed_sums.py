"""What is printed adds up as printed, in every system of units: sums redone from the text alone."""

import re
from decimal import Decimal
from random import Random

import pytest

from stillroom.quantities import UnitSystem, fill_in, show
from stillroom.reckoning.charge import KNOWN_CONDITIONS, KNOWN_PARTS
from stillroom.reckoning.kinds import Figure
from stillroom.reckoning.mixing import Shortfall
from stillroom.reckoning.registry import Outcome, calculators

from ..examples import examples
from .printed_density import mixed

SYSTEMS = list(UnitSystem)
AMOUNT = r"(-?[\d.]+ (?:L|mL|fl oz|kg|g|lb(?: [\d.]+ oz)?|oz))"
PERCENT = r"([\d.]+) %"


def amount(text: str) -> Decimal:
    """In mL, g, fl oz or oz, as it is printed."""
    pounds = re.fullmatch(r"(-?[\d.]+) lb(?: ([\d.]+) oz)?", text)
    if pounds:
        return 16 * Decimal(pounds[1]) + Decimal(pounds[2] or 0)
    number, _, unit = text.partition(" ")
    return Decimal(number) * (1000 if unit in ("L", "kg") else 1)


def last_digit(text: str) -> Decimal:
    """One more in the last digit of the volumes of a text; idle zeros are left off."""
    volumes = re.findall(r"[\d.]+ (?:mL|L|fl oz)", text)
    return Decimal(1) if max(map(amount, volumes)) > 5000 else Decimal("0.1")


def shown(outcome: Outcome, system: UnitSystem) -> dict[str, str]:
    return {
        r.key: show(r.value, system=system)
        if isinstance(r.value, Figure)
        else fill_in(r.value.text, r.value.figures, system)
        for r in outcome.results
    }


def working(outcome: Outcome, system: UnitSystem) -> str:
    return "\n".join(fill_in(each.text, each.figures, system) for each in outcome.working)


def some_liquids(random: Random, most: int) -> list[dict[str, float]]:
    return [
        {
            "volume": random.choice([random.uniform(0.5, 50), random.uniform(50, 3000)]),
            "strength": random.choice([0.0, 40.0, random.uniform(0, 100)]),
            "temperature": random.choice([20.0, 20.0, random.uniform(5, 35)]),
        }
        for _ in range(random.randint(1, most))
    ]


def a_case(random: Random, name: str) -> dict[str, object]:
    """Values that can be worked, in the sizes of a kitchen and with more digits than it uses."""
    if name == "mix":
        return {"liquids": some_liquids(random, 5)}
    if name == "jar-strength":
        herb = {
            "mass": random.uniform(1, 400),
            "condition": random.choice(KNOWN_CONDITIONS).value,
            "part": random.choice(KNOWN_PARTS).value,
        }
        return {"herbs": [herb], "pours": some_liquids(random, 4)}
    if name == "dilute":
        weak, target, strong = sorted(random.uniform(3, 96) for _ in range(3))
        is_strengthening = random.random() < 0.4
        return {
            "strength": weak if is_strengthening else strong,
            "target": target,
            "stronger": strong if is_strengthening else None,
            "temperature": random.choice([20.0, 20.0, random.uniform(5, 35)]),
            random.choice(["volume", "wanted"]): random.uniform(5, 3000),
        }
    return {
        "mass": random.choice([None, random.uniform(1, 400)]),
        "jar": random.uniform(100, 5000),
        "ratio": round(random.uniform(0.5, 10), 1),
        "condition": random.choice(KNOWN_CONDITIONS).value,
        "target": random.choice([None, random.uniform(10, 80)]),
        "spirits": [
            {
                "strength": random.choice([37.5, 40.0, 96.0, random.uniform(20, 96)]),
                "on_hand": random.choice([None, random.uniform(1, 900)]),
            }
            for _ in range(random.randint(1, 5))
        ],
    }


def check_liquid(text: str) -> None:
    """Ethanol, volume and strength, from the sentences about them."""
    digit = last_digit(text)
    held = re.findall(rf"{AMOUNT} at {PERCENT} holds {AMOUNT} of ethanol", text)
    for volume, strength, ethanol in held:
        product = amount(volume) * Decimal(strength) / 100
        rounding = 2 * digit + amount(volume) / 2000  # a strength is printed to 0.1 %
        assert abs(product - amount(ethanol)) <= rounding, (volume, strength, ethanol)
    (found,) = re.findall(rf"{AMOUNT} of ethanol in {AMOUNT} of liquid is {PERCENT}", text)
    in_all, volume, strength = found
    assert sum(amount(ethanol) for _, _, ethanol in held) == amount(in_all), text
    quotient = 100 * amount(in_all) / amount(volume)
    assert abs(quotient - Decimal(strength)) <= Decimal("0.1") + 100 * digit / amount(volume), text


def check_shrinking(text: str) -> tuple[Decimal, Decimal] | None:
    """All measured apart is what it comes to, and what is lost or gained."""
    found = re.search(
        rf"{AMOUNT} measured separately(?:, {AMOUNT} of it the plant's water,)? comes to {AMOUNT} "
        rf"together, {AMOUNT} (less|more)",
        text,
    )
    if not found:
        return None
    apart, _, together, change, which = found.groups()
    gained = -amount(change) if which == "less" else amount(change)
    assert amount(apart) + gained == amount(together), text
    return amount(apart), amount(together)


def check_sums(name: str, results: dict[str, str], text: str) -> None:
    check_liquid(text)
    volumes = check_shrinking(text)
    if name in ("mix", "jar-strength", "dilute") and volumes:
        total = {"mix": "volume", "jar-strength": "liquid", "dilute": "result"}[name]
        assert amount(results[total]) + amount(results["contraction"]) == volumes[0]
        assert amount(results[total]) == volumes[1]
    if name == "fill":
        poured = [v for key, v in results.items() if key.startswith("spirit_") or key == "water"]
        assert sum(amount(each) for each in poured) == amount(results["poured"]), results
    for whole, spirit, water in re.findall(
        rf"weighs {AMOUNT} and the spirit {AMOUNT}: the difference, {AMOUNT}, is water", text
    ):
        assert amount(whole) - amount(spirit) == amount(water), text
    if name == "dilute" and "measured at" not in text and volumes:
        pours = [amount(results[k]) for k in ("spirit", "stronger", "water") if k in results]
        assert sum(pours) == volumes[0], results


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("name", ["fill", "dilute", "mix", "jar-strength"])
def test_the_printed_sums_add_up_as_printed(name: str, system: UnitSystem) -> None:
    random = Random(f"{name} {system}")
    for _ in range(examples(600)):
        outcome = calculators()[name].reckon(a_case(random, name))  # type: ignore[arg-type]
        check_sums(name, shown(outcome, system), working(outcome, system))


def test_herb_times_ratio_is_the_liquid_as_printed() -> None:
    random = Random(11)
    for _ in range(examples(750)):
        outcome = calculators()["fill"].reckon(a_case(random, "fill"))  # type: ignore[arg-type]
        text = working(outcome, UnitSystem.METRIC)
        (found,) = re.findall(rf"{AMOUNT} of herb at 1:([\d.]+) takes {AMOUNT} of liquid", text)
        mass, n, menstruum = found
        half = Decimal("0.5") if amount(menstruum) > 5000 else Decimal("0.05")
        rounding = half + Decimal("0.05") * Decimal(n)
        assert abs(amount(mass) * Decimal(n) - amount(menstruum)) <= rounding, text


@pytest.mark.parametrize("seed", [21, 22])
def test_herb_calculated_for_a_jar_fits_in_it(seed: int) -> None:
    """Liquid by the printed density table, and solids at 1.5 g/mL: at most 95 % of the jar."""
    random = Random(seed)
    for _ in range(examples(1000)):
        values = a_case(random, "fill") | {"mass": None, "ratio": random.uniform(0.1, 10)}
        if random.random() < 0.5:
            values |= {"target": None, "spirits": [{"strength": random.uniform(5, 40)}]}
        outcome = calculators()["fill"].reckon(values)  # type: ignore[arg-type]
        said = " ".join(sentence.plain() for sentence in outcome.warnings)
        assert "does not fit" not in said, values
        plan = outcome.plan
        assert plan is not None
        (charge,) = plan.charges
        pours = [(pour.volume_ml, pour.strength_abv) for pour in plan.pours]
        water_ml = plan.water_ml + charge.water_g / 0.99823
        liquid_ml, _ = mixed([*pours, (water_ml, 0.0)])
        jar_ml = float(values["jar"])  # type: ignore[arg-type]
        needed_ml = liquid_ml + charge.solids_g / 1.5
        assert needed_ml <= 0.95 * jar_ml * 1.0003
        if plan.shortfall is not Shortfall.TOO_LITTLE:
            assert needed_ml > 0.85 * jar_ml
