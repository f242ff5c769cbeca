"""A calculated plan, rounded to what a jug shows, fills the jar that was calculated."""

from dataclasses import replace
from random import Random

import pytest

from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import save_settings, settings_of
from stillroom.quantities import UnitSystem
from stillroom.reckoning.charge import Charge, default_water_fraction, fit_in_jar, liquid_in_jar
from stillroom.reckoning.mixing import Liquid
from stillroom.reckoning.registry import FillPlan, calculators
from stillroom.screens.calculator.plan import jar_start
from stillroom.screens.jar.fill import JarStart


def planned(values: dict) -> tuple[FillPlan, dict]:
    """The plan of a calculator's values, and all of its values, blanks filled in."""
    calculator = calculators()["fill"]
    plan = calculator.reckon(values).plan
    assert plan is not None
    return plan, {field.key: field.default for field in calculator.fields} | values


def filled(start: JarStart) -> tuple[list[Charge], list[Liquid]]:
    """What the fill form would put into the jar."""
    charges = [
        Charge(
            herb.mass_g,
            default_water_fraction(herb.part, herb.condition)
            if herb.water_fraction is None
            else herb.water_fraction,
        )
        for herb in start.herbs
    ]
    return charges, [Liquid(pour.volume_ml, pour.strength_abv) for pour in start.pours]


@pytest.mark.parametrize("system", UnitSystem)
def test_a_rounded_plan_keeps_as_calculated_and_fits_the_jar(
    keeper: Keeper, system: UnitSystem
) -> None:
    """24.98 % in the jar is under the 25 % that was asked for and calculated."""
    save_settings(keeper, replace(settings_of(keeper), units=system))
    random = Random(f"plan {system}")
    for _ in range(300):
        jar_ml = round(random.uniform(100, 3000))
        plan, values = planned(
            {
                "jar": jar_ml,
                "mass": None if random.random() < 0.5 else jar_ml * random.uniform(0.05, 0.15),
                "ratio": random.choice([2.0, 3.3, 5.0]),
                "condition": random.choice(["dried", "fresh"]),
                "target": random.choice([None, 20.0, 25.0, 25.0, 40.0]),
                "spirits": [{"strength": random.choice([40.0, 50.0, 95.0, 96.0])}],
            }
        )
        charges, pours = filled(jar_start(plan, values, keeper))
        assert liquid_in_jar(charges, pours).keeping is plan.jar.keeping, values
        if plan.fit is not None and plan.fit.is_enough:
            assert fit_in_jar(charges, pours, jar_ml).is_enough, values
        # Two steps of a jug or a scale, of three amounts, are no more than this.
        step_ml = 1.0 if system is UnitSystem.METRIC else 3.0
        assert abs(sum(p.volume_ml for p in pours) - plan.poured_ml) <= 6 * step_ml, values


def test_amounts_are_rounded_to_the_nearest_where_the_verdict_allows(keeper: Keeper) -> None:
    """500 mL of 40 % from 96 % takes 208.3 mL of it, by the reduction tables, and 300 of water."""
    plan, values = planned({"mass": 100.0, "water": 0.0, "target": 40.0,
                            "spirits": [{"strength": 96.0}]})  # fmt: skip
    start = jar_start(plan, values, keeper)
    assert [pour.volume_ml for pour in start.pours] == [
        pytest.approx(pour.volume_ml, abs=0.5) for pour in (*plan.pours, Liquid(plan.water_ml))
    ]
    assert start.herbs[0].mass_g == 100
