"""Spirits and other liquids of the cupboard: their counts, spills and purchase corrected."""

import pytest

from stillroom.errors import Refused
from stillroom.keeping.bottles.blends import make_blend
from stillroom.keeping.correcting.correct import correct, plan_correction
from stillroom.keeping.correcting.facts import facts_of
from stillroom.keeping.correcting.kinds import Subject, SubjectKind
from stillroom.keeping.correcting.starting import of_entry
from stillroom.keeping.correcting.subjects import subject_of_code
from stillroom.keeping.cupboard.counting import count_in_cupboard, take_from_cupboard
from stillroom.keeping.cupboard.cupboard import add_spirit, change_spirit, remove_spirit, spirits
from stillroom.keeping.cupboard.liquids import add_liquid, liquids, remove_liquid
from stillroom.keeping.drafts import (
    BlendDraft,
    BlendPartDraft,
    BottleDraft,
    ChargeDraft,
    InputDraft,
    JarDraft,
    LiquidDraft,
    SpiritDraft,
)
from stillroom.keeping.jars.amending import amend_jar
from stillroom.keeping.jars.jar import top_up
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.ledger import events
from stillroom.keeping.shelf_file.check import check
from stillroom.keeping.undo import redo, undo
from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.states import CupboardMovementKind, InputKind, OtherLiquidKind

from ..builders import bottled, filled, spirit, strained

SAGE = ChargeDraft("Sage", Part.LEAF, Condition.DRIED, 80)
SPILL = CupboardMovementKind.SPILL


@pytest.fixture
def vodka(keeper: Keeper) -> int:
    """1000 − 400 poured − 50 spilled is 550, of which 500 were seen; then 100 were poured on."""
    spirit_id = add_spirit(keeper, SpiritDraft("Vodka", 40, 1000, 25.0, keeper.today))
    jar_id = filled(keeper, [SAGE], spirit(400, 40, spirit_id))
    take_from_cupboard(keeper, InputKind.SPIRIT, spirit_id, 50, SPILL, note="knocked over")
    count_in_cupboard(keeper, InputKind.SPIRIT, spirit_id, 500)
    top_up(keeper, jar_id, spirit(100, 40, spirit_id))
    return spirit_id


def left(keeper: Keeper) -> float:
    return spirits(keeper)[0].left_ml or 0.0


def missing(keeper: Keeper) -> list[float]:
    """What the counts found missing (−) or more (+)."""
    rows = keeper.rows("SELECT volume_ml FROM cupboard_movement WHERE kind = 'count'")
    return [volume_ml for (volume_ml,) in rows]


def vodka_with(keeper: Keeper, **texts: str) -> None:
    subject = subject_of_code(keeper, "Vodka")
    plan = plan_correction(keeper, subject, texts)
    assert correct(keeper, subject, texts) == plan


@pytest.mark.parametrize(
    ("texts", "left_ml", "missing_ml"),
    [
        ({"movement-1.volume": "80 ml"}, 400, -20),  # 1000 − 400 − 80 = 520
        ({"movement-1.volume": "0"}, 400, -100),
        ({"movement-2.seen": "530 ml"}, 430, -20),
        ({"movement-2.seen": "none"}, 450, None),  # 550 and 100 poured since
        ({"movement-2.seen": "550 ml"}, 450, None),  # just what was recorded
        ({"volume": "970 ml"}, 400, -20),
        ({"volume": "970 ml", "movement-1.volume": "20 ml"}, 400, -50),
    ],
)
def test_a_later_count_still_holds_after_a_correction(
    keeper: Keeper, vodka: int, texts: dict[str, str], left_ml: float, missing_ml: float | None
) -> None:
    vodka_with(keeper, **texts)
    assert left(keeper) == pytest.approx(left_ml)
    assert missing(keeper) == ([] if missing_ml is None else [pytest.approx(missing_ml)])
    assert check(keeper) == []
    undo(keeper)
    assert (left(keeper), missing(keeper)) == (pytest.approx(400), [pytest.approx(-50)])
    redo(keeper)
    assert left(keeper) == pytest.approx(left_ml)


def test_correcting_a_pour_before_a_count_leaves_the_count_and_one_after_it_changes_what_is_left(
    keeper: Keeper, vodka: int
) -> None:
    correct(keeper, subject_of_code(keeper, "26-001"), {"pour-1.volume": "420 ml"})
    assert (left(keeper), missing(keeper)) == (pytest.approx(400), [pytest.approx(-30)])
    correct(keeper, subject_of_code(keeper, "26-001"), {"pour-2.volume": "130 ml"})
    assert (left(keeper), missing(keeper)) == (pytest.approx(370), [pytest.approx(-30)])
    assert check(keeper) == []


def test_the_forms_of_a_jar_and_of_a_spirit_leave_a_later_count_as_it_is(
    keeper: Keeper, vodka: int
) -> None:
    pours = (spirit(410, 40, vodka), spirit(100, 40, vodka))
    ((jar_id,),) = keeper.rows("SELECT id FROM jar")
    amend_jar(keeper, jar_id, JarDraft((SAGE,), pours, keeper.today, keeper.today))
    assert (left(keeper), missing(keeper)) == (pytest.approx(400), [pytest.approx(-40)])
    change_spirit(keeper, vodka, SpiritDraft("Vodka", 40, 990, 25.0, keeper.today))
    assert (left(keeper), missing(keeper)) == (pytest.approx(400), [pytest.approx(-30)])
    pours = (spirit(1100, 40, vodka), spirit(100, 40, vodka))
    with pytest.raises(Refused, match="not that much"):
        amend_jar(keeper, jar_id, JarDraft((SAGE,), pours, keeper.today, keeper.today))
    with pytest.raises(Refused, match="used in jars"):
        remove_spirit(keeper, vodka)
    assert left(keeper) == pytest.approx(400)


@pytest.mark.parametrize(
    ("texts", "words"),
    [
        ({"movement-1.volume": "700 ml"}, "Vodka would be 100 mL short for the 700 mL (spill)"),
        ({"movement-1.day": "2026-01-02"}, "before it was bought"),
        ({"volume": "300 ml"}, "Vodka would be 100 mL short for the 400 mL (pour)"),
        ({"movement-2.seen": "60 ml"}, "Vodka would be 40 mL short for the 100 mL (pour)"),
    ],
)
def test_an_impossible_count_is_refused_with_a_way_out(
    keeper: Keeper, vodka: int, texts: dict[str, str], words: str
) -> None:
    plan = plan_correction(keeper, subject_of_code(keeper, "Vodka"), texts)
    assert words in " ".join(plan.obstacles)
    assert plan.ways_out
    with pytest.raises(Refused):
        vodka_with(keeper, **texts)
    assert (left(keeper), missing(keeper)) == (pytest.approx(400), [pytest.approx(-50)])


def test_the_ledger_line_of_a_spill_opens_its_correction_and_is_struck_through(
    keeper: Keeper, vodka: int
) -> None:
    (line,) = [each for each in events(keeper, "1") if each.kind == "spill"]
    assert of_entry(keeper, line) == (
        Subject(SubjectKind.SPIRIT, vodka), ("cupboard_movement", 1),
    )  # fmt: skip
    vodka_with(keeper, **{"movement-1.kind": "evaporated", "movement-1.note": "left open"})
    (line,) = [each for each in events(keeper, "1") if each.kind == "spill"]
    assert line.mark == "corrected"
    assert keeper.rows("SELECT kind, note FROM cupboard_movement WHERE id = 1") == [
        ("evaporated", "left open")
    ]


def test_honey_is_counted_and_a_correction_of_it_leaves_the_count(keeper: Keeper) -> None:
    """300 − 20 in a blend, 270 seen: 10 missing; 290 bought instead leave 270, none missing."""
    honey = add_liquid(keeper, LiquidDraft("Honey", OtherLiquidKind.HONEY, 1.42, bought_ml=300))
    sage = strained(keeper, filled(keeper, [SAGE], spirit(400), days=0), 300, measured_abv=40)
    bottled(keeper, sage, BottleDraft(100, 100))
    ((bottle_id,),) = keeper.rows("SELECT id FROM bottle")
    parts, others = (BlendPartDraft(bottle_id, 80),), (InputDraft(InputKind.LIQUID, 20, honey),)
    make_blend(keeper, BlendDraft("Sweet sage", parts, keeper.today, "", others))
    count_in_cupboard(keeper, InputKind.LIQUID, honey, 270)
    line = events(keeper, "1")[0]
    start = of_entry(keeper, line)
    assert start == (Subject(SubjectKind.LIQUID, honey), ("cupboard_movement", 1))
    fields = {fact.name: fact.shown for fact in facts_of(keeper, start[0])}
    assert fields["movement-1.seen"] == "270 mL"
    correct(keeper, start[0], {"volume": "295 ml"})
    assert (liquids(keeper)[0].left_ml, missing(keeper)) == (
        pytest.approx(270), [pytest.approx(-5)],
    )  # fmt: skip
    correct(keeper, subject_of_code(keeper, "26-002"), {"input-1.volume": "25 ml"})
    assert (liquids(keeper)[0].left_ml, missing(keeper)) == (pytest.approx(270), [])
    with pytest.raises(Refused, match="has been used"):
        remove_liquid(keeper, honey)
    assert check(keeper) == []


def test_a_liquid_that_was_counted_cannot_be_deleted(keeper: Keeper) -> None:
    spirit_id = add_spirit(keeper, SpiritDraft("Rum", 40, 700))
    liquid_id = add_liquid(keeper, LiquidDraft("Honey", OtherLiquidKind.HONEY, 1.42, bought_ml=300))
    count_in_cupboard(keeper, InputKind.SPIRIT, spirit_id, 650)
    count_in_cupboard(keeper, InputKind.LIQUID, liquid_id, 250)
    with pytest.raises(Refused, match="counted or taken from"):
        remove_spirit(keeper, spirit_id)
    with pytest.raises(Refused, match="counted or taken from"):
        remove_liquid(keeper, liquid_id)
