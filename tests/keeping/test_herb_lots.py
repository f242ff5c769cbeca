"""Herbs in store: gathered, laid out, dried, weighed, given, discarded and put into jars."""

from dataclasses import replace
from datetime import date

import pytest
from tests.builders import LOT_CAME_ON, filled, gathered, spirit

from stillroom.errors import Refused
from stillroom.keeping.correcting.correct import correct
from stillroom.keeping.correcting.facts import facts_of
from stillroom.keeping.correcting.kinds import Subject, SubjectKind
from stillroom.keeping.cupboard.lot_reading import (
    entries_of,
    herb_lot,
    herb_lots,
    own_shrinkage,
    price_of_lot,
)
from stillroom.keeping.cupboard.lot_views import HerbLotView
from stillroom.keeping.cupboard.lots import (
    add_lot,
    discard_herb,
    dry,
    give_herb,
    lay_out,
    remove_lot,
    use_up,
    weigh_lot,
)
from stillroom.keeping.cupboard.taking import charge_of_lot
from stillroom.keeping.drafts import ChargeDraft, HerbLotDraft, JarDraft
from stillroom.keeping.jars.amending import amend_jar
from stillroom.keeping.jars.jar_view import jar_view
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.shelf_file.check import check
from stillroom.keeping.trace.ancestry import trace
from stillroom.keeping.trace.recall import recall_words
from stillroom.keeping.undo import redo, undo
from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.states import HerbCame, HerbMovementKind


def bought(keeper: Keeper, mass_g: float | None = 250.0, **more: object) -> HerbLotView:
    """Dried root of a seller."""
    facts: dict = {
        "herb": "Elecampane",
        "part": Part.ROOT,
        "condition": Condition.DRIED,
        "came": HerbCame.BOUGHT,
        "origin": "Corner shop",
        "seller_lot": "77-B",
        "price": 12.5,
    }
    return gathered(keeper, mass_g, **facts | more)


def left(keeper: Keeper, lot: HerbLotView) -> float | None:
    return herb_lot(keeper, lot.lot_id).left_g


def test_a_lot_laid_out_whole_has_its_dry_weight(keeper: Keeper) -> None:
    lot = gathered(keeper)
    assert lot.code == "H-26-001"
    assert lay_out(keeper, lot.lot_id).is_drying
    dried = dry(keeper, lot.lot_id, 160.0)
    assert (dried.left_g, dried.condition, dried.laid_out_g) == (160.0, Condition.DRIED, 900.0)
    assert check(keeper) == []


def test_a_part_that_is_laid_out_is_a_lot_of_its_own(keeper: Keeper) -> None:
    lot = gathered(keeper)
    part = lay_out(keeper, lot.lot_id, 600.0)
    assert (part.code, part.from_lot, part.left_g) == ("H-26-002", "H-26-001", 600.0)
    assert (left(keeper, lot), herb_lot(keeper, lot.lot_id).is_drying) == (300.0, False)
    with pytest.raises(Refused, match="must weigh less"):
        dry(keeper, part.lot_id, 600.0)
    assert dry(keeper, part.lot_id, 110.0).left_g == 110.0
    assert left(keeper, lot) == 300.0


def test_a_jar_takes_herb_from_a_lot_by_weight_or_by_eye(keeper: Keeper) -> None:
    lot = bought(keeper)
    filled(keeper, [charge_of_lot(lot, 100.0)], spirit(500))
    assert left(keeper, lot) == 150.0
    filled(keeper, [charge_of_lot(lot, None)], spirit(500))
    after = herb_lot(keeper, lot.lot_id)
    assert (after.left_g, after.is_at_most, after.jars) == (150.0, True, 2)
    weighed = weigh_lot(keeper, lot.lot_id, 120.0)
    assert (weighed.left_g, weighed.is_at_most) == (120.0, False)


def test_a_herb_taken_from_a_lot_has_the_facts_of_the_lot(keeper: Keeper) -> None:
    root = bought(keeper, water_fraction=0.07)
    flower = gathered(keeper)
    jar_id = filled(
        keeper,
        [charge_of_lot(root, 50.0), charge_of_lot(flower, 100.0)],
        spirit(800),
        on=LOT_CAME_ON,
    )
    one, other = jar_view(keeper, jar_id).charges
    assert (one.origin, one.gathered_on, one.lot) == ("Corner shop, lot 77-B", None, "H-26-001")
    assert (one.water_fraction, one.water_is_measured) == (0.07, True)
    assert (other.origin, other.gathered_on, other.condition) == (
        "the lower bed", LOT_CAME_ON, Condition.FRESH,
    )  # fmt: skip


def test_taking_more_than_is_left_is_refused_with_both_amounts(keeper: Keeper) -> None:
    lot = bought(keeper, 160.0)
    with pytest.raises(Refused, match=r"H-26-001 holds 160 g, and this takes 200 g"):
        filled(keeper, [charge_of_lot(lot, 200.0)], spirit(500))
    with pytest.raises(Refused, match=r"holds 60(\.0)? g, and this takes 80"):
        filled(keeper, [charge_of_lot(lot, 100.0), charge_of_lot(lot, 80.0)], spirit(500))
    with pytest.raises(Refused, match="holds 160 g, and this takes 161 g"):
        give_herb(keeper, lot.lot_id, 161.0)
    assert left(keeper, lot) == 160.0
    filled(keeper, [charge_of_lot(lot, 160.04)], spirit(500))
    assert left(keeper, lot) == pytest.approx(0.0, abs=1e-9)
    assert not herb_lot(keeper, lot.lot_id).is_in_store


def test_a_jar_cannot_take_dried_herb_from_a_fresh_lot_or_another_herb(keeper: Keeper) -> None:
    from dataclasses import replace

    lot = gathered(keeper)
    charge = charge_of_lot(lot, 50.0)
    with pytest.raises(Refused, match="H-26-001 is still fresh"):
        filled(keeper, [replace(charge, condition=Condition.DRIED)], spirit(500))
    with pytest.raises(Refused, match="H-26-001 is Yarrow, flower"):
        filled(keeper, [replace(charge, herb="Fennel")], spirit(500))
    with pytest.raises(Refused, match="after the jar was filled"):
        filled(keeper, [charge], spirit(500), on=date(2026, 11, 1))


def test_giving_discarding_and_using_up_have_their_own_kinds(keeper: Keeper) -> None:
    lot = bought(keeper)
    give_herb(keeper, lot.lot_id, 30.0, person="Ada", note="for tea")
    discard_herb(keeper, lot.lot_id, 20.0, kind=HerbMovementKind.SPOILED, note="mould")
    ended = use_up(keeper, lot.lot_id)
    assert (ended.left_g, ended.used_up_on, ended.is_in_store) == (0.0, keeper.today, False)
    told = [
        (e.kind, e.mass_g, e.left_g, e.person) for e in entries_of(keeper, [lot.lot_id])[lot.lot_id]
    ]
    assert told == [
        ("give", -30.0, 220.0, "Ada"),
        ("spoiled", -20.0, 200.0, ""),
        ("used up", -200.0, 0.0, ""),
    ]
    with pytest.raises(Refused, match="was used up"):
        give_herb(keeper, lot.lot_id, 1.0)
    assert weigh_lot(keeper, lot.lot_id, 12.0).is_in_store


def test_a_lot_that_nobody_weighed_has_the_weight_of_its_first_weighing(keeper: Keeper) -> None:
    lot = bought(keeper, None)
    filled(keeper, [charge_of_lot(lot, 80.0)], spirit(500))
    assert left(keeper, lot) is None
    assert weigh_lot(keeper, lot.lot_id, 120.0).left_g == 120.0
    give_herb(keeper, lot.lot_id, 20.0)
    assert left(keeper, lot) == 100.0
    assert [e.left_g for e in entries_of(keeper, [lot.lot_id])[lot.lot_id]] == [None, 120.0, 100.0]


def test_a_lot_that_nobody_weighed_can_be_dried_with_or_without_a_weight(keeper: Keeper) -> None:
    one, other, third = (gathered(keeper, None) for _ in range(3))
    for lot in (one, other):
        lay_out(keeper, lot.lot_id)
    assert dry(keeper, one.lot_id, None).left_g is None
    assert dry(keeper, other.lot_id, 90.0).left_g == 90.0
    assert lay_out(keeper, third.lot_id, 500.0).laid_out_g == 500.0
    assert dry(keeper, third.lot_id, 95.0).left_g == 95.0
    assert check(keeper) == []


def test_a_lot_that_was_used_cannot_be_deleted(keeper: Keeper) -> None:
    lot, spare = gathered(keeper), bought(keeper)
    part = lay_out(keeper, lot.lot_id, 100.0)
    give_herb(keeper, part.lot_id, 10.0)
    for used in (lot, part):
        with pytest.raises(Refused, match="has been used"):
            remove_lot(keeper, used.lot_id)
    remove_lot(keeper, spare.lot_id)
    assert {each.code for each in herb_lots(keeper)} == {lot.code, part.code}


def test_each_act_on_a_lot_is_undone_and_redone(keeper: Keeper) -> None:
    lot = gathered(keeper)
    part = lay_out(keeper, lot.lot_id, 600.0)
    dry(keeper, part.lot_id, 100.0)
    give_herb(keeper, part.lot_id, 10.0)
    discard_herb(keeper, lot.lot_id)
    after = herb_lots(keeper)
    for _ in range(4):
        undo(keeper)
    assert [(each.code, each.left_g) for each in herb_lots(keeper)] == [("H-26-001", 900.0)]
    for _ in range(4):
        redo(keeper)
    assert herb_lots(keeper) == after


def test_weighings_of_this_shelf_show_what_a_herb_loses_in_drying(keeper: Keeper) -> None:
    for fresh_g, dry_g in ((900.0, 160.0), (500.0, 100.0)):
        lot = gathered(keeper, fresh_g)
        lay_out(keeper, lot.lot_id)
        dry(keeper, lot.lot_id, dry_g)
    taken = gathered(keeper, 400.0)
    lay_out(keeper, taken.lot_id)
    give_herb(keeper, taken.lot_id, 200.0)  # of what dries: its weights show nothing
    dry(keeper, taken.lot_id, 40.0)
    learned = own_shrinkage(keeper, taken.herb_id, Part.FLOWER)
    assert learned is not None
    assert (learned.count, learned.low, learned.high) == (2, 160 / 900, 0.2)
    assert learned.share == pytest.approx((160 / 900 + 0.2) / 2)
    assert own_shrinkage(keeper, taken.herb_id, Part.LEAF) is None


def test_a_part_laid_out_costs_its_share_by_fresh_weight(keeper: Keeper) -> None:
    """12 for 600 g fresh; 400 g of it dried to 80 g: 8 for 80 g."""
    lot = gathered(keeper, 600.0, came=HerbCame.BOUGHT, price=12.0)
    part = lay_out(keeper, lot.lot_id, 400.0)
    dry(keeper, part.lot_id, 80.0)
    assert price_of_lot(keeper, lot.lot_id, Condition.FRESH) == (600.0, 12.0)
    assert price_of_lot(keeper, part.lot_id, Condition.DRIED) == (80.0, pytest.approx(8.0))
    assert price_of_lot(keeper, gathered(keeper).lot_id, Condition.FRESH) == (None, None)


def corrected(keeper: Keeper, jar_id: int, name: str, text: str) -> None:
    subject = Subject(SubjectKind.JAR, jar_id)
    fact = next(fact for fact in facts_of(keeper, subject) if fact.name == name)
    correct(keeper, subject, {fact.name: text}, confirmed=True)


def test_a_weight_corrected_in_a_jar_is_deducted_from_its_lot(keeper: Keeper) -> None:
    lot = bought(keeper, 160.0)
    jar_id = filled(keeper, [charge_of_lot(lot, 100.0)], spirit(500))
    weight = next(
        fact.name for fact in facts_of(keeper, Subject(SubjectKind.JAR, jar_id))
        if (fact.cell.record, fact.cell.column) == ("charge_line", "mass_g")
    )  # fmt: skip
    corrected(keeper, jar_id, weight, "120 g")
    assert left(keeper, lot) == 40.0
    with pytest.raises(Refused, match="H-26-001 is 40 g short"):
        corrected(keeper, jar_id, weight, "200 g")
    part = weight.replace("weight", "part")
    corrected(keeper, jar_id, part, "leaf")
    assert left(keeper, lot) == 160.0
    assert check(keeper) == []


def test_a_lot_is_recalled_with_all_that_was_laid_out_of_it(keeper: Keeper) -> None:
    lot = gathered(keeper)
    part = lay_out(keeper, lot.lot_id, 600.0)
    dry(keeper, part.lot_id, 110.0)
    give_herb(keeper, part.lot_id, 10.0, person="Ada")
    filled(keeper, [charge_of_lot(lot, 200.0)], spirit(400))
    dried = herb_lot(keeper, part.lot_id)
    filled(keeper, [charge_of_lot(dried, 100.0)], spirit(500))
    (tree,) = recall_words(keeper, "h-26-001")
    assert tree.label == "H-26-001 Yarrow"
    assert [node.label for node in tree.children] == ["H-26-002 Yarrow", "Jar 26-001", "Jar 26-002"]
    assert "10 g given" in tree.children[0].detail
    assert "for Ada" in tree.children[0].detail
    assert "100 g flower, dried of H-26-002" in tree.children[2].detail
    (of_part,) = recall_words(keeper, "H-26-002")
    assert [node.label for node in of_part.children] == ["Jar 26-002"]
    assert "H-26-002" in trace(keeper, "26-002").children[0].detail


def test_a_lot_that_was_bought_is_recalled_with_what_is_in_store(keeper: Keeper) -> None:
    """Two lots of one number, one of them untouched; a jar had some of it without its lot."""
    facts = ("Fennel", Part.SEED, Condition.DRIED, HerbCame.BOUGHT, keeper.today, "Mill", "F-77")
    used, untouched = (add_lot(keeper, HerbLotDraft(*facts, mass_g=g)) for g in (200, 150))
    by_lot = filled(keeper, [charge_of_lot(used, 60)], spirit(300))
    by_hand = ChargeDraft("Fennel", Part.SEED, Condition.DRIED, 20, origin="Mill, lot F-77")
    both = {by_lot, filled(keeper, [by_hand], spirit(99))}
    for words in ("f-77", "Fennel", "mill fennel"):
        found = recall_words(keeper, words)
        text = str(found)
        assert f"{used.code} Fennel" in text
        assert f"{untouched.code} Fennel" in text
        assert "150 g left" in text
        jars = [node.jar_id for tree in found for node in tree.walk() if node.jar_id]
        assert set(jars) == both


def test_a_weighing_of_a_lot_stands_when_a_jar_is_corrected(keeper: Keeper) -> None:
    """500 − 100 g weighed 380 g later; with 120 g in the jar, nothing had been missing."""
    lot = bought(keeper, 500)
    taken = charge_of_lot(lot, 100)
    jar_id = filled(keeper, [taken], spirit(500))
    weigh_lot(keeper, lot.lot_id, 380)
    draft = JarDraft((replace(taken, mass_g=120),), (spirit(500),), keeper.today, keeper.today)
    amend_jar(keeper, jar_id, draft)
    assert left(keeper, lot) == pytest.approx(380)
    assert check(keeper) == []
    undo(keeper)
    assert left(keeper, lot) == pytest.approx(380)
    assert check(keeper) == []
