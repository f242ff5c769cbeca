"""A calculation begun with a jar or a bottle shows the figures that the shelf shows."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import UTC, datetime
from itertools import pairwise
from pathlib import Path

import pytest

from stillroom.clock import SetClock
from stillroom.errors import StillroomError
from stillroom.keeping.bottles.blends import plan_blend
from stillroom.keeping.bottles.bottle_views import bottle_rows
from stillroom.keeping.bottles.tinctures import tincture_views, unbottled
from stillroom.keeping.contents import herb_equivalents
from stillroom.keeping.drafts import BlendDraft, BlendPartDraft, ChargeDraft, JarDraft, PourDraft
from stillroom.keeping.jars.expecting import yield_outlook
from stillroom.keeping.jars.jar import fill_jar
from stillroom.keeping.jars.jar_view import jar_view
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import remember
from stillroom.keeping.shelf_file.sample import open_sample
from stillroom.keeping.views import JarView
from stillroom.reckoning.calculator import Scalar
from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.kinds import Figure
from stillroom.reckoning.registry import Outcome, Value, calculators
from stillroom.reckoning.states import LiquidKind
from stillroom.reckoning.yields import KNOWN_PRESSINGS, Pressing
from stillroom.screens.app import StillroomApp
from stillroom.screens.calculator.form import starting
from stillroom.screens.calculator.page import CalculatorPage
from stillroom.screens.calculator.starts import (
    FOR_BOTTLE,
    FOR_JAR,
    STARTS,
    Asked,
    bottle_values,
    from_shelf,
    jar_values,
    offers,
)

from .screen_text import screen_text


def rows_in(values: Mapping[str, Value], key: str) -> list[Mapping[str, Scalar]]:
    """The rows of a list of fields."""
    rows = values[key]
    assert isinstance(rows, Sequence)
    return [row for row in rows if not isinstance(row, str)]


@pytest.fixture
def sample(tmp_path: Path) -> Iterator[Keeper]:
    keeper = open_sample(SetClock(datetime(2026, 11, 26, 5, tzinfo=UTC)), tmp_path)
    remember(keeper, "cautions_read", "2026-11-26")
    yield keeper
    keeper.store.close()


def reckoned(name: str, *starts: Mapping[str, Value]) -> Outcome:
    """As the form is filled in: the calculator's own values, then each start over them."""
    calculator = calculators()[name]
    values: dict[str, Value] = starting(calculator)
    for start in starts:
        values |= start
    return calculator.reckon(values)


def figures(outcome: Outcome) -> dict[str, float]:
    """The results by key, of a range its two ends."""
    found: dict[str, float] = {}
    for result in outcome.results:
        if isinstance(result.value, Figure):
            found[result.key] = result.value.value
        else:
            found |= {f"{result.key} {i}": f.value for i, f in enumerate(result.value.figures)}
    return found


def jars(keeper: Keeper) -> list[JarView]:
    found = [jar_view(keeper, jar_id) for (jar_id,) in keeper.rows("SELECT id FROM jar")]
    assert any(len(jar.charges) > 1 for jar in found)
    assert any(charge.condition == "fresh" for jar in found for charge in jar.charges)
    return found


def test_the_strength_calculated_for_every_jar_is_that_on_its_page(sample: Keeper) -> None:
    for jar in jars(sample):
        found = figures(reckoned("jar-strength", jar_values(sample, "jar-strength", jar)))
        assert found["strength"] == pytest.approx(jar.outlook.strength_abv), jar.card.code
        assert found["liquid"] == pytest.approx(jar.outlook.volume_ml), jar.card.code
        if any(pour.kind == "held back" for pour in jar.pours):
            continue  # whose herb is counted with the first pour
        assert found.get("ratio") == (
            None if jar.outlook.ratio is None else pytest.approx(jar.outlook.ratio)
        )


@pytest.mark.parametrize("pressing", KNOWN_PRESSINGS)
def test_the_yield_calculated_for_every_jar_is_that_in_its_straining_form(
    sample: Keeper, pressing: Pressing
) -> None:
    compared = 0
    for jar in jars(sample):
        start = jar_values(sample, "yield", jar)
        condition = Condition(str(start["condition"]))
        shelf = from_shelf(sample, "yield", Asked(pressing, condition, jar.card.jar_id))
        starts = (shelf, start)
        shown = yield_outlook(sample, jar, pressing)
        if shown.expected_ml is None:
            with pytest.raises(StillroomError):
                reckoned("yield", *starts)
            continue
        compared += 1
        found = figures(reckoned("yield", *starts))
        assert found["expected"] == pytest.approx(shown.expected_ml), jar.card.code
        assert found["range 0"] == pytest.approx(shown.low_ml), jar.card.code
        assert found["range 1"] == pytest.approx(shown.high_ml), jar.card.code
        assert found["theoretical"] == pytest.approx(shown.liquid_ml)
        assert found["strainings"] == shown.rests_on
    assert compared > 20


def test_the_cost_of_every_jar_counts_all_that_went_into_it(sample: Keeper) -> None:
    for jar in jars(sample):
        values = jar_values(sample, "cost", jar)
        used = {key: [row["used"] for row in rows_in(values, key)] for key in ("spirits", "herbs")}
        assert used["spirits"] == [p.volume_ml for p in jar.pours if p.kind == "spirit"]
        assert used["herbs"] == [c.mass_g for c in jar.charges if c.mass_g is not None]
        assert values["yield"] == (jar.straining.yield_ml if jar.straining else None)


def test_an_amount_from_every_bottle_has_the_herb_shown_on_its_page(sample: Keeper) -> None:
    """By the page's grams in each mL; never more than 1 g to 1 mL poured would be."""
    known = 0
    for row in bottle_rows(sample, empties=True):
        values = bottle_values(sample, "amount", row)
        if row.strength_abv is None:
            continue
        found = figures(reckoned("amount", values, {"volume": 5.0}))
        assert found["ethanol_volume"] == pytest.approx(5 * row.strength_abv / 100)
        herbs = [herb.g_per_ml for herb in herb_equivalents(sample, row.tincture_id)]
        if None in herbs:
            assert "herb" not in found
            continue
        known += 1
        assert found["herb"] == pytest.approx(5 * sum(g for g in herbs if g is not None))
        assert row.ratio is not None
        assert found["herb"] < 5 / row.ratio
    assert known > 20


def test_a_blend_of_two_bottles_agrees_with_the_one_the_shelf_plans(sample: Keeper) -> None:
    views = tincture_views(sample, {row.tincture_id for row in bottle_rows(sample)})
    # Honey and the like are added without contraction; the calculator knows spirit and water.
    rows = [row for row in bottle_rows(sample) if not views[row.tincture_id].others]
    assert len(rows) > 20
    for one, other in pairwise(rows):
        if one.tincture_id == other.tincture_id:
            continue
        parts = [
            row
            for each in (one, other)
            for row in rows_in(bottle_values(sample, "blend", each), "parts")
        ]
        drafts = tuple(BlendPartDraft(each.bottle_id, each.left_ml) for each in (one, other))
        plan = plan_blend(sample, BlendDraft("Both", drafts, sample.today))
        if plan.strength_abv is None:
            continue
        found = figures(reckoned("blend", {"parts": parts}))
        assert found["volume"] == pytest.approx(plan.volume_ml)
        assert found["strength"] == pytest.approx(plan.strength_abv)
        assert found.get("ratio") == (None if plan.ratio is None else pytest.approx(plan.ratio))
        grams = [herb.g_per_ml for herb in plan.herbs]
        if None in grams:
            assert "herb" not in found
        else:
            total = plan.volume_ml * sum(g for g in grams if g is not None)
            assert found["herb"] == pytest.approx(total)


def test_every_other_calculator_starts_with_what_the_shelf_has(sample: Keeper) -> None:
    for row in bottle_rows(sample):
        for name in ("weigh", "drops"):
            assert bottle_values(sample, name, row) == {"strength": row.strength_abv}
    loose = {f"{t.name} · {t.code}": t.loose_ml for t in unbottled(sample)}
    assert {o.words: o.values()["volume"] for o in offers(sample, "bottles")} == loose
    for name in ("jar-strength", "yield", "cost", "dilute", "mix", "simmer"):
        assert offers(sample, name)


async def test_the_yield_of_several_herbs_is_the_same_on_screen(
    keeper: Keeper,
) -> None:
    """50 g each of dried sage and thyme in 500 mL of 40 %: 510 mL, of which 100 g dried keep
    180 squeezed by hand; the dried weight counts once."""
    herbs = tuple(ChargeDraft(name, Part.LEAF, Condition.DRIED, 50) for name in ("Sage", "Thyme"))
    pours = (PourDraft(LiquidKind.SPIRIT, 500, 40),)
    jar = fill_jar(keeper, JarDraft(herbs, pours, keeper.today, keeper.today))
    shown = yield_outlook(keeper, jar_view(keeper, jar.jar_id), Pressing.SQUEEZED)
    assert shown.expected_ml == pytest.approx(330, abs=1)
    app = StillroomApp(keeper)
    async with app.run_test(size=(120, 40)) as pilot:
        await pilot.press("3")
        await pilot.pause()
        page = app.screen
        assert isinstance(page, CalculatorPage)
        page.begin("yield", {})
        await pilot.pause()
        await pilot.press("ctrl+o")
        await pilot.pause()
        await pilot.press("enter")
        await pilot.pause()
        text = screen_text(app)
    assert "330 mL" in text
    assert "100 g of dried herb" in text


async def test_starting_with_a_jar_keeps_the_pressing(keeper: Keeper) -> None:
    herb = (ChargeDraft("Sage", Part.LEAF, Condition.DRIED, 100),)
    jar = fill_jar(
        keeper, JarDraft(herb, (PourDraft(LiquidKind.SPIRIT, 500, 40),), keeper.today, keeper.today)
    )
    start = from_shelf(keeper, "yield", Asked(Pressing.PRESSED, jar_id=jar.jar_id))
    assert start["pressing"] == "pressed"


NOT_ON_A_SHELF = {
    "alcoholometer": "a reading in the liquid at hand",
    "convert": "units alone",
}
"""The calculators that ask for nothing a shelf holds, and what they ask for."""


def test_every_calculator_starts_from_the_shelf_or_is_listed_as_not_doing_so() -> None:
    assert STARTS.keys() | NOT_ON_A_SHELF.keys() == calculators().keys()
    assert not STARTS.keys() & NOT_ON_A_SHELF.keys()


def test_what_the_shelf_fills_in_are_fields_of_the_calculator(sample: Keeper) -> None:
    filled = 0
    for name, start in STARTS.items():
        fields = {field.key for field in calculators()[name].fields}
        assert set(start.follows) <= fields, name
        found = [start.known(sample, Asked()), *(o.values() for o in start.offers(sample)[:3])]
        assert set().union(*found) <= fields, name
        filled += bool(set().union(*found))
    assert filled == len(STARTS)


def test_the_keys_of_jar_and_bottle_open_calculators_that_accept_them() -> None:
    assert STARTS[FOR_JAR].of_jar
    assert STARTS[FOR_BOTTLE].of_bottle
