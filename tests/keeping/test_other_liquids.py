"""Glycerine, honey and vinegar poured on herb: figures, keeping, trace, record, corrections."""

from datetime import timedelta

import pytest

from stillroom.errors import Refused
from stillroom.keeping.bottles.blends import make_blend
from stillroom.keeping.bottles.tinctures import tincture_view
from stillroom.keeping.contents import herb_equivalents
from stillroom.keeping.correcting.correct import correct
from stillroom.keeping.correcting.subjects import subject_of_code
from stillroom.keeping.cupboard.liquids import add_liquid, liquids
from stillroom.keeping.drafts import (
    BlendDraft,
    ChargeDraft,
    InputDraft,
    JarDraft,
    LiquidDraft,
    PourDraft,
)
from stillroom.keeping.jars.jar import fill_jar, top_up
from stillroom.keeping.jars.jar_sum import comes_to
from stillroom.keeping.jars.jar_view import jar_view
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import Settings, save_settings, settings_of
from stillroom.keeping.shelf_file.check import check
from stillroom.keeping.trace.ancestry import trace
from stillroom.keeping.trace.batch_history import batch_history
from stillroom.keeping.undo import redo, undo
from stillroom.keeping.wording import wording
from stillroom.paper.batch_record import batch_record
from stillroom.reckoning.charge import Charge, Condition, Part
from stillroom.reckoning.mixing import Liquid
from stillroom.reckoning.states import InputKind, LiquidKind, OtherLiquidKind

from ..builders import filled, spirit, strained
from ..reckoning.printed_density import ETHANOL, G_PER_ML, WEIGHT_PERCENT, between, g_per_ml

FRESH = ChargeDraft("Thyme", Part.LEAF, Condition.FRESH, 100, 0.8)
"""100 g with 80 g of water, which is 80 / 0.9982 mL."""


@pytest.fixture
def glycerine(keeper: Keeper) -> int:
    draft = LiquidDraft(
        "Glycerine", OtherLiquidKind.GLYCERINE, 1.261, "a handbook", None, 99.5, 1000, 9,
        keeper.today, "Weir", "lot 7", "G1",
    )  # fmt: skip
    return add_liquid(keeper, draft)


def on_herb(keeper: Keeper, *pours: PourDraft) -> int:
    day = keeper.today
    return fill_jar(keeper, JarDraft((FRESH,), pours, day, day + timedelta(days=14))).jar_id


def of(liquid_id: int, volume_ml: float) -> PourDraft:
    return PourDraft(LiquidKind.LIQUID, volume_ml, liquid_id=liquid_id)


def test_glycerine_on_fresh_herb_mixes_with_its_water_and_gets_no_verdict(
    keeper: Keeper, glycerine: int
) -> None:
    jar = jar_view(keeper, on_herb(keeper, of(glycerine, 300)))
    water_ml = 80 / 0.9982
    assert jar.outlook.volume_ml == pytest.approx(300 + water_ml, abs=0.01)
    assert jar.outlook.strength_abv == 0
    assert jar.outlook.others.glycerol_percent == pytest.approx(
        99.5 * 300 / (300 + water_ml), abs=0.01
    )
    verdict = wording(keeper).verdict(jar.outlook)
    assert "glycerol 78.5 %" in verdict
    assert "no verdict" in verdict
    assert "weak" not in verdict
    assert liquids(keeper)[0].left_ml == pytest.approx(700)


def test_with_enough_spirit_the_rule_for_alcohol_applies(keeper: Keeper, glycerine: int) -> None:
    """200 mL of 96 % with 80.14 mL of water contract to 273.0 mL by OIML R 22; 100 go on top."""
    jar = jar_view(keeper, on_herb(keeper, spirit(200, 96), of(glycerine, 100)))
    assert jar.outlook.volume_ml == pytest.approx(273.0 + 100, abs=0.5)
    ethanol_ml = 192.0
    assert jar.outlook.strength_abv == pytest.approx(100 * ethanol_ml / jar.outlook.volume_ml)
    assert jar.outlook.verdict.startswith("Strong enough")


def test_acidity_is_printed_in_the_notation_of_the_shelf(keeper: Keeper) -> None:
    """300 mL with 12.5 g of acid in 100 mL, and 80.14 mL of water: 9.9 g in 100 mL."""
    vinegar = LiquidDraft("Vinegar", OtherLiquidKind.VINEGAR, 1.01, acidity=12.5)
    save_settings(keeper, Settings(decimal_comma=True))
    jar = jar_view(keeper, on_herb(keeper, of(add_liquid(keeper, vinegar), 300)))
    assert "acid 9,9 %." in wording(keeper).verdict(jar.outlook)


def test_honey_in_a_tincture_poured_on_herb_does_not_contract(keeper: Keeper) -> None:
    """100 g of dried herb hold 10 g of water. 300 mL of 96 % and 200 mL that are 40 % honey, 50 %
    ethanol and so 60 mL of the rest: spirit and water weigh 10 + 300 · 0.8074 + 120 · ρ(83.3 %).

    The densities are those of the printed table, not of the program.
    """
    honey = add_liquid(keeper, LiquidDraft("Honey", OtherLiquidKind.HONEY, 1.42, bought_ml=500))
    thyme = ChargeDraft("Thyme", Part.LEAF, Condition.DRIED, 50, 0.0)
    base = strained(keeper, filled(keeper, [thyme], spirit(500, 500 / 6)), 400)
    sweet = make_blend(
        keeper,
        BlendDraft(
            "Sweet", (), keeper.today,
            others=(
                InputDraft(InputKind.BATCH, 300, base.tincture_id),
                InputDraft(InputKind.LIQUID, 200, honey),
            ),
        ),
    )  # fmt: skip
    sage = ChargeDraft("Sage", Part.LEAF, Condition.DRIED, 100, 0.1)
    poured = PourDraft(LiquidKind.TINCTURE, 200, source_id=sweet.tincture_id)
    made = strained(keeper, filled(keeper, [sage], spirit(300, 96), poured), 350)

    ethanol_ml = 300 * 0.96 + 120 * 5 / 6
    mass_g = 10 + 300 * g_per_ml(96) + 120 * g_per_ml(500 / 6)
    percent = 100 * ethanol_ml * ETHANOL / mass_g
    volume_ml = mass_g / between(percent, WEIGHT_PERCENT, G_PER_ML) + 80
    herbs = {each.herb: each.g_per_ml for each in herb_equivalents(keeper, made.tincture_id)}
    assert herbs["Sage"] == pytest.approx(100 / volume_ml, rel=2e-4)
    assert herbs["Thyme"] == pytest.approx(50 / 500 * 120 / volume_ml, rel=2e-4)
    assert made.others.share == pytest.approx(80 / volume_ml, rel=2e-4)


def test_a_tincture_carries_its_share_of_the_liquid_and_every_view_names_it(
    keeper: Keeper, glycerine: int
) -> None:
    jar_id = on_herb(keeper, of(glycerine, 300))
    made = strained(keeper, jar_id, 300)
    assert made.keep_until is None
    assert made.others.share == pytest.approx(300 / (300 + 80 / 0.9982))
    assert made.to_mind == ()
    root = trace(keeper, made.code)
    assert any(n.label == "Glycerine" and "Weir, lot 7, G1" in n.detail for n in root.walk())
    record = str(batch_record(batch_history(keeper, made.tincture_id), settings_of(keeper),
                              keeper.clock.now()))  # fmt: skip
    assert "Glycerine" in record
    assert "Weir, lot 7, G1" in record
    assert check(keeper) == []
    undo(keeper)
    undo(keeper)
    assert liquids(keeper)[0].left_ml == pytest.approx(1000)
    redo(keeper)
    redo(keeper)
    assert check(keeper) == []


def test_no_more_is_poured_than_was_bought(keeper: Keeper, glycerine: int) -> None:
    jar_id = on_herb(keeper, of(glycerine, 900))
    with pytest.raises(Refused, match="isn't that much"):
        top_up(keeper, jar_id, of(glycerine, 101))
    top_up(keeper, jar_id, of(glycerine, 100))
    assert liquids(keeper)[0].left_ml == pytest.approx(0, abs=1e-9)


def test_a_pour_of_a_liquid_is_corrected_with_all_that_follows(
    keeper: Keeper, glycerine: int
) -> None:
    jar_id = on_herb(keeper, of(glycerine, 300))
    made = strained(keeper, jar_id, 300)
    subject = subject_of_code(keeper, made.code)
    correct(keeper, subject, {"pour-1.volume": "350 ml"})
    now = tincture_view(keeper, made.tincture_id)
    assert now.others.share == pytest.approx(350 / (350 + 80 / 0.9982))
    assert check(keeper) == []
    # It was spirit after all.
    correct(keeper, subject, {"pour-1.kind": "spirit", "pour-1.strength": "40 %"})
    now = tincture_view(keeper, made.tincture_id)
    assert not now.others
    assert now.strength_abv == pytest.approx(jar_view(keeper, jar_id).outlook.strength_abv)
    assert liquids(keeper)[0].left_ml == pytest.approx(1000)
    correct(keeper, subject, {"pour-1.liquid": "Glycerine G1"})
    assert tincture_view(keeper, made.tincture_id).others
    assert check(keeper) == []


def test_the_fill_form_gives_no_verdict_on_honey_either(keeper: Keeper) -> None:
    """It has no rule for whether honey keeps; with enough spirit the rule of alcohol holds."""
    leaf = [Charge(100)]
    honey = Liquid(300, other_ml=300, other_g=426)
    alone = comes_to(leaf, [honey], None, wording(keeper))
    assert "! There is no rule for whether it keeps: no verdict." in alone
    assert not any("weak" in line for line in alone)
    strong = comes_to(leaf, [honey, Liquid(600, 60)], None, wording(keeper))
    assert any("Strong enough" in line for line in strong)
