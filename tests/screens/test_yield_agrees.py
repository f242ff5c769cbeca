"""The straining form and the yield calculator, from the same jar, expect the same yield."""

import pytest

from stillroom.keeping.drafts import ChargeDraft, JarDraft, PourDraft, StrainDraft
from stillroom.keeping.jars.expecting import yield_outlook
from stillroom.keeping.jars.jar import fill_jar
from stillroom.keeping.jars.jar_view import jar_view
from stillroom.keeping.jars.learning import chief_condition
from stillroom.keeping.jars.straining import strain
from stillroom.keeping.keeper import Keeper
from stillroom.reckoning.calculators.straining import YIELD
from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.kinds import Figure
from stillroom.reckoning.states import LiquidKind
from stillroom.reckoning.yields import KNOWN_PRESSINGS, Pressing
from stillroom.screens.calculator.starts import Asked, from_shelf, jar_values

SAGE = ChargeDraft("Sage", Part.LEAF, Condition.DRIED, 50)
THYME = ChargeDraft("Thyme", Part.AERIAL_PARTS, Condition.DRIED, 50)
FRESH = ChargeDraft("Calendula", Part.FLOWER, Condition.FRESH, 150)
MEASURED = ChargeDraft("Calendula", Part.FLOWER, Condition.FRESH, 150, 0.88)


def jar_id(keeper: Keeper, *herbs: ChargeDraft) -> int:
    pours = (PourDraft(LiquidKind.SPIRIT, 500, 40),)
    return fill_jar(keeper, JarDraft(herbs, pours, keeper.today, keeper.today)).jar_id


HERBS = {
    "dried": (SAGE,),
    "two dried": (SAGE, THYME),
    "fresh": (FRESH,),
    "water measured": (MEASURED,),
    "fresh and dried": (FRESH, SAGE),
    "dried and fresh": (THYME, MEASURED),
}


@pytest.mark.parametrize("pressing", KNOWN_PRESSINGS)
@pytest.mark.parametrize("own", [(), (310,), (310, 340, 325, 330, 180)])
def test_the_straining_form_and_the_calculator_agree(
    keeper: Keeper, own: tuple[float, ...], pressing: Pressing
) -> None:
    for yield_ml in own:
        draft = StrainDraft(
            jar_id(keeper, SAGE, THYME), keeper.today, yield_ml, pressing, confirmed=True
        )
        strain(keeper, draft)
    for name, herbs in HERBS.items():
        jar = jar_view(keeper, jar_id(keeper, *herbs))
        expected = yield_outlook(keeper, jar, pressing)
        values = jar_values(keeper, "yield", jar)
        start = from_shelf(keeper, "yield", Asked(pressing, chief_condition(jar), jar.card.jar_id))
        outcome = YIELD.reckon(start | values | {"pressing": pressing.value})
        shown = {each.key: each.value for each in outcome.results}
        figure = shown["expected"]
        assert isinstance(figure, Figure), name
        assert figure.value == pytest.approx(expected.expected_ml), name
        range_of = shown["range"]
        assert not isinstance(range_of, Figure), name
        assert [each.value for each in range_of.figures] == [
            pytest.approx(expected.low_ml),
            pytest.approx(expected.high_ml),
        ], name
        count = shown["strainings"]
        assert isinstance(count, Figure), name
        assert count.value == expected.rests_on, name
