"""Spirits and other liquids of the cupboard counted, given away, spilled: what is left adds up."""

from datetime import timedelta

import pytest
from tests.builders import filled, spirit

from stillroom.errors import NotUnderstood, Refused
from stillroom.keeping.cupboard.counting import (
    count_in_cupboard,
    in_cupboard,
    take_from_cupboard,
)
from stillroom.keeping.cupboard.cupboard import add_spirit, spirits
from stillroom.keeping.cupboard.liquids import add_liquid, liquids
from stillroom.keeping.drafts import ALL, ChargeDraft, JarDraft, LiquidDraft, SpiritDraft
from stillroom.keeping.jars.amending import amend_jar
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.ledger import events
from stillroom.keeping.shelf_file.check import check
from stillroom.keeping.undo import redo, undo
from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.states import CupboardMovementKind, InputKind, OtherLiquidKind

SPILL, GIVE = CupboardMovementKind.SPILL, CupboardMovementKind.GIVE


def vodka(keeper: Keeper, bought_ml: float | None = 1000) -> int:
    return add_spirit(keeper, SpiritDraft("Vodka", 40, bought_ml, 25.0, keeper.today))


def test_what_is_left_is_bought_less_poured_and_taken_or_as_counted(keeper: Keeper) -> None:
    """1000 − 400 poured − 50 spilled − 30 given is 520; 500 are seen, and 20 were missing."""
    spirit_id = vodka(keeper)
    sage = ChargeDraft("Sage", Part.LEAF, Condition.DRIED, 80)
    filled(keeper, [sage], spirit(400, 40, spirit_id))
    take_from_cupboard(keeper, InputKind.SPIRIT, spirit_id, 50, SPILL, note="knocked over")
    take_from_cupboard(keeper, InputKind.SPIRIT, spirit_id, 30, GIVE, person="Ada")
    assert spirits(keeper)[0].left_ml == pytest.approx(520)
    count_in_cupboard(keeper, InputKind.SPIRIT, spirit_id, 500)
    assert spirits(keeper)[0].left_ml == pytest.approx(500)
    moved = keeper.rows("SELECT kind, volume_ml, person FROM cupboard_movement ORDER BY id")
    assert moved == [("spill", -50, ""), ("give", -30, "Ada"), ("count", pytest.approx(-20), "")]
    assert "(520 mL recorded)" in events(keeper, "1")[0].text
    undo(keeper)
    assert spirits(keeper)[0].left_ml == pytest.approx(520)
    redo(keeper)
    take_from_cupboard(keeper, InputKind.SPIRIT, spirit_id, ALL, CupboardMovementKind.DISCARD)
    assert spirits(keeper)[0].left_ml == pytest.approx(0)
    assert check(keeper) == []


def test_a_corrected_jar_takes_no_more_than_is_left_after_a_spill(keeper: Keeper) -> None:
    """1000 − 950 spilled leaves 50, so 95 mL can't have come from that bottle."""
    other, spirit_id = vodka(keeper), vodka(keeper)
    sage = ChargeDraft("Sage", Part.LEAF, Condition.DRIED, 80)
    jar_id = filled(keeper, [sage], spirit(95, 40, other))
    take_from_cupboard(keeper, InputKind.SPIRIT, spirit_id, 950, SPILL)
    draft = JarDraft((sage,), (spirit(95, 40, spirit_id),), keeper.today, keeper.today)
    with pytest.raises(Refused, match="not that much"):
        amend_jar(keeper, jar_id, draft)
    assert check(keeper) == []


def test_a_liquid_other_than_spirit_is_counted_and_taken_too(keeper: Keeper) -> None:
    honey = LiquidDraft("Honey", OtherLiquidKind.HONEY, 1.42, bought_ml=300)
    liquid_id = add_liquid(keeper, honey)
    count_in_cupboard(keeper, InputKind.LIQUID, liquid_id, 310, note="the jar was fuller")
    take_from_cupboard(keeper, InputKind.LIQUID, liquid_id, 10, CupboardMovementKind.SPOILED)
    assert liquids(keeper)[0].left_ml == pytest.approx(300)
    assert [line.text for line in events(keeper, "1")][:2] == [
        "Honey: −10 mL", "Honey: 310 mL (300 mL recorded) · the jar was fuller",
    ]  # fmt: skip


def test_an_impossible_count_or_amount_is_refused_in_words(keeper: Keeper) -> None:
    spirit_id = vodka(keeper)
    for act, error, match in (
        (lambda: take_from_cupboard(keeper, InputKind.SPIRIT, spirit_id, 1200, SPILL),
         Refused, "Vodka holds 1 L, and this takes 1.2 L"),
        (lambda: take_from_cupboard(keeper, InputKind.SPIRIT, spirit_id, 0, SPILL),
         Refused, "greater than zero"),
        (lambda: take_from_cupboard(keeper, InputKind.SPIRIT, spirit_id, 10,
                                    CupboardMovementKind.COUNT), Refused, "what became of it"),
        (lambda: take_from_cupboard(keeper, InputKind.SPIRIT, spirit_id, 10, SPILL,
                                    day=keeper.today - timedelta(days=1)),
         Refused, "wasn't bought by then"),
        (lambda: count_in_cupboard(keeper, InputKind.SPIRIT, spirit_id, -1),
         NotUnderstood, "can't be negative"),
        (lambda: count_in_cupboard(keeper, InputKind.SPIRIT, spirit_id, 1000),
         Refused, "1 L already"),
        (lambda: count_in_cupboard(keeper, InputKind.SPIRIT, vodka(keeper, None), 10),
         Refused, "isn't counted"),
    ):  # fmt: skip
        with pytest.raises(error, match=match):
            act()
    assert keeper.rows("SELECT count(*) FROM cupboard_movement") == [(0,)]


def test_random_counts_and_takings_add_up(keeper: Keeper) -> None:
    """Against a sum made here of what was asked and allowed."""
    import random

    rng, left = random.Random(5), 1000.0
    spirit_id = vodka(keeper)
    for _ in range(40):
        volume = rng.uniform(0, 400)
        try:
            if rng.random() < 0.3:
                count_in_cupboard(keeper, InputKind.SPIRIT, spirit_id, volume)
                left = volume
            else:
                kind = rng.choice((SPILL, GIVE))
                take_from_cupboard(keeper, InputKind.SPIRIT, spirit_id, volume, kind)
                left -= volume
        except Refused:
            assert volume > left - 0.6
        found = in_cupboard(keeper, InputKind.SPIRIT, spirit_id).left_ml
        assert found == pytest.approx(left, abs=0.51)
        left = found or 0.0
    assert check(keeper) == []
