"""The herb of a jar corrected to another lot, against the same entered right."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from stillroom.clock import SetClock
from stillroom.errors import Refused
from stillroom.keeping.correcting.correct import correct, plan_correction
from stillroom.keeping.correcting.facts import facts_of
from stillroom.keeping.correcting.kinds import Fact, Subject, SubjectKind
from stillroom.keeping.cupboard.lot_reading import entries_of, herb_lot, herb_lots
from stillroom.keeping.cupboard.lot_views import HerbLotView
from stillroom.keeping.cupboard.lots import discard_herb, dry, give_herb, lay_out, use_up, weigh_lot
from stillroom.keeping.cupboard.taking import charge_of_lot
from stillroom.keeping.drafts import AgainDraft, BottleDraft, ChargeDraft
from stillroom.keeping.jars.jar_view import jar_view
from stillroom.keeping.jars.marc import pour_again
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import settings_of
from stillroom.keeping.shelf_file.check import check
from stillroom.keeping.trace.ancestry import trace
from stillroom.keeping.trace.batch_history import batch_history
from stillroom.keeping.trace.recall import recall_lot
from stillroom.keeping.undo import redo, undo
from stillroom.keeping.views import ChargeView
from stillroom.keeping.year.costs import cost_of_batch
from stillroom.paper.batch_record import batch_record
from stillroom.paper.document import as_text
from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.states import HerbCame, HerbMovementKind

from ..builders import LOT_CAME_ON, bottled, filled, gathered, spirit, strained
from ..conftest import keeper_of_copy
from .histories import differences, told_by
from .sweep import rows

FILLED_ON = date(2026, 11, 15)


@contextmanager
def shelf(path: Path, empty: Path, at: SetClock) -> Iterator[Keeper]:
    with keeper_of_copy(empty, path, SetClock(at.now())) as keeper:
        yield keeper


def lots_of_yarrow(keeper: Keeper) -> list[HerbLotView]:
    return [
        gathered(keeper, water_fraction=0.8, price=18.0),
        gathered(keeper, 250.0, came=HerbCame.BOUGHT, got_on=date(2026, 11, 12), origin="the fair",
                 seller_lot="Y-9", water_fraction=0.7, price=20.0),
        gathered(keeper, 400.0, origin="the hill"),
    ]  # fmt: skip


def jar(jar_id: int) -> Subject:
    return Subject(SubjectKind.JAR, jar_id)


def line(keeper: Keeper, jar_id: int, number: int = 1) -> ChargeView:
    return jar_view(keeper, jar_id).charges[number - 1]


def fact(keeper: Keeper, jar_id: int, name: str = "lot") -> Fact:
    return next(each for each in facts_of(keeper, jar(jar_id)) if each.name == name)


def lived(keeper: Keeper, number: int | None) -> list[int]:
    """Fill from the lot of this number or from none, strain, bottle, pour again on the marc."""
    lots = lots_of_yarrow(keeper)
    charge = ChargeDraft("Yarrow", Part.FLOWER, Condition.FRESH, 120.0)
    if number is not None:
        charge = charge_of_lot(lots[number], 120.0)
    jar_id = filled(keeper, [charge], spirit(500, 60), on=FILLED_ON)
    made = strained(keeper, jar_id, 430, on=date(2026, 11, 20), confirmed=True)
    bottled(keeper, made, BottleDraft(250, 250), BottleDraft(100, 100))
    again = AgainDraft(jar_id, (spirit(200, 40),), keeper.today, date(2026, 12, 10))
    second_id = pour_again(keeper, again).jar_id
    give_herb(keeper, lots[0].lot_id, 40.0, person="Ada")
    weigh_lot(keeper, lots[1].lot_id, 100.0)
    lay_out(keeper, lots[2].lot_id)
    dry(keeper, lots[2].lot_id, 60.0)
    use_up(keeper, lots[2].lot_id)
    return [jar_id, second_id]


def shown(keeper: Keeper) -> dict[str, Any]:
    """All that a shelf holds and shows of lots and of what was made with them."""
    held = told_by(keeper)
    lots = herb_lots(keeper)
    held["views"] = lots
    held["ledgers"] = entries_of(keeper, [lot.lot_id for lot in lots])
    held["recalls"] = [recall_lot(keeper, lot.lot_id) for lot in lots]
    for tincture_id, code in keeper.rows("SELECT id, code FROM tincture"):
        held[f"trace {code}"] = trace(keeper, code)
        held[f"cost {code}"] = cost_of_batch(keeper, tincture_id)
        record = batch_record(
            batch_history(keeper, tincture_id), settings_of(keeper), keeper.clock.now()
        )
        lines = [one for one in as_text(record).splitlines() if "H-26" in one]
        held[f"lots in record {code}"] = [
            one for one in lines if "→" not in one and "struck out" not in one
        ]
    return held


@pytest.mark.parametrize(("wrong", "right"), [(0, 1), (1, 0), (0, None), (None, 1), (2, 1)])
def test_a_jar_moved_to_another_lot_equals_one_filled_from_it(
    tmp_path: Path, empty_shelf: Path, clock: SetClock, wrong: int | None, right: int | None
) -> None:
    with shelf(tmp_path / "right.stillroom", empty_shelf, clock) as keeper:
        lived(keeper, right)
        expected = shown(keeper)
    with shelf(tmp_path / "wrong.stillroom", empty_shelf, clock) as keeper:
        jar_id, _ = lived(keeper, wrong)
        before = rows(keeper)
        code = "" if right is None else f"H-26-00{right + 1}"
        plan = plan_correction(keeper, jar(jar_id), {"lot": code})
        assert correct(keeper, jar(jar_id), {"lot": code}) == plan
        assert list(differences(expected, shown(keeper))) == []
        assert check(keeper) == []
        after = rows(keeper)
        undo(keeper)
        assert rows(keeper) == before
        redo(keeper)
        assert rows(keeper) == after


def test_the_journal_has_both_lots(keeper: Keeper, clock: SetClock) -> None:
    lots = lots_of_yarrow(keeper)
    jar_id = filled(keeper, [charge_of_lot(lots[0], 120.0)], spirit(500, 60), on=FILLED_ON)
    clock.advance(minutes=1)
    assert [code for code, _ in fact(keeper, jar_id).choices] == [
        "H-26-002", "H-26-003", "H-26-001",
    ]  # fmt: skip
    plan = correct(keeper, jar(jar_id), {"lot": "h-26-002"}, why="The bags stood side by side")
    words = "Lot H-26-001 (fresh, 10 Nov 2026) → H-26-002 (fresh, 12 Nov 2026)"
    assert plan.effects[:3] == (
        "26-001 gathered on 10 Nov 2026 → blank",
        "26-001 origin the lower bed → the fair, lot Y-9",
        "26-001 water measured 80 → 70 %",
    )
    # Less water in the herb makes the liquid in the jar stronger.
    assert plan.effects[3].startswith("26-001 liquid ")
    noted = keeper.rows(
        """SELECT e.jar_id, e.lot_id, e.text, j.why FROM event e
           JOIN journal j ON j.id = e.journal_id WHERE e.kind = 'corrected' ORDER BY e.id"""
    )
    why = "The bags stood side by side"
    first, second = lots[0].lot_id, lots[1].lot_id
    assert noted == [
        (jar_id, None, words, why),
        (None, first, f"From Yarrow 26-001: {words}", why),
        (None, second, f"From Yarrow 26-001: {words}", why),
    ]


def test_facts_typed_with_the_lot_or_entered_for_the_jar_itself_are_kept(keeper: Keeper) -> None:
    first, second, _ = lots_of_yarrow(keeper)
    own = replace(charge_of_lot(first, 50.0), origin="the far corner", water_fraction=0.75)
    jar_id = filled(keeper, [own], spirit(300), on=FILLED_ON)
    correct(keeper, jar(jar_id), {"lot": second.code, "gathered": "11 Nov 2026"})
    found = line(keeper, jar_id)
    assert (found.origin, found.water_fraction, found.gathered_on) == (
        "the far corner", 0.75, date(2026, 11, 11),
    )  # fmt: skip


def test_two_lines_of_a_jar_swap_their_lots(keeper: Keeper) -> None:
    """Of two lots that hold nothing any more, each gives back what the other line takes."""
    first = gathered(keeper, 50.0, origin="the wall")
    second = gathered(keeper, 50.0, origin="the hill")
    charges = [charge_of_lot(first, 50.0), charge_of_lot(second, 50.0)]
    jar_id = filled(keeper, charges, spirit(300), on=FILLED_ON)
    correct(keeper, jar(jar_id), {"lot": second.code, "lot-2": first.code})
    assert [line(keeper, jar_id, n).origin for n in (1, 2)] == ["the hill", "the wall"]
    assert [lot.left_g for lot in herb_lots(keeper)] == [0, 0]
    assert check(keeper) == []


def test_a_forgotten_herb_is_added_with_its_lot(keeper: Keeper) -> None:
    lot = gathered(keeper, 100.0)
    jar_id = filled(keeper, [SAGE], spirit(300), on=FILLED_ON)
    correct(keeper, jar(jar_id), {"lot-2": lot.code, "weight-2": "60 g"})
    found = line(keeper, jar_id, 2)
    assert (found.herb, found.part, found.condition, found.origin, found.gathered_on) == (
        "Yarrow", Part.FLOWER, Condition.FRESH, "the lower bed", LOT_CAME_ON,
    )  # fmt: skip
    assert herb_lot(keeper, lot.lot_id).left_g == 40
    undo(keeper)
    with pytest.raises(Refused, match="H-26-001 is Yarrow, flower"):
        correct(keeper, jar(jar_id), {"lot-2": lot.code, "herb-2": "Sage", "weight-2": "60 g"})


SAGE = ChargeDraft("Sage", Part.LEAF, Condition.DRIED, 30.0)


def test_a_lot_that_cannot_be_the_source_is_refused_with_a_way_out(keeper: Keeper) -> None:
    lot = gathered(keeper)
    jar_id = filled(keeper, [charge_of_lot(lot, 120.0), SAGE], spirit(500, 60), on=FILLED_ON)
    small = gathered(keeper, 80.0)
    late = gathered(keeper, got_on=date(2026, 11, 18))
    gone = gathered(keeper, 300.0)
    use_up(keeper, gone.lot_id, day=date(2026, 11, 12))
    root = gathered(keeper, part=Part.ROOT)
    sage = gathered(keeper, herb="Sage", part=Part.LEAF)
    weighed = gathered(keeper, 90.0)
    weigh_lot(keeper, weighed.lot_id, 85.0)
    refusals = {
        (
            "lot",
            small.code,
        ): r"Lot H-26-002 is 40(\.0)? g short for this\. If it holds more, weigh it",
        ("lot", late.code): r"H-26-003 was gathered on 18 Nov 2026, after the jar was filled\. "
        r"Correct one of these days too: filled=… or H-26-003:got=…",
        ("lot", gone.code): r"H-26-004 was used up on 12 Nov 2026, before the jar was filled\. "
        r"Correct one of these days too: filled=… or H-26-004:used-up=…",
        ("lot", root.code): r"H-26-005 is Yarrow, root\. Correct the herb or its part too: "
        r"herb=… or part=…",
        ("lot-2", lot.code): r"H-26-001 is Yarrow, flower\..*herb-2=… or part-2=…",
        ("lot-2", sage.code): r"H-26-006 is still fresh\. Correct the condition too: "
        r"condition-2=fresh",
        ("lot", weighed.code): r"H-26-007 held 90(\.0)? g when the jar was filled, and this takes "
        r"120 g\. Correct the weight too: weight=…",
        ("lot", "H-26-099"): "No lot has the code H-26-099",
    }
    before = rows(keeper)
    for (name, code), words in refusals.items():
        with pytest.raises(Refused, match=words):
            correct(keeper, jar(jar_id), {name: code})
        assert rows(keeper) == before
    assert [code for code, _ in fact(keeper, jar_id).choices] == [
        "H-26-007",
        "H-26-002",
        "H-26-001",
    ]
    ways_out = (
        {"lot": small.code, "weight": "70 g"},
        {"lot": late.code, "filled": "19 Nov 2026"},
        {"lot": gone.code, "H-26-004:used-up": "25 Nov 2026"},
        {"lot": root.code, "part": "root"},
        {"lot-2": sage.code, "condition-2": "fresh"},
        {"lot": weighed.code, "weight": "70 g"},
    )
    for texts in ways_out:
        correct(keeper, jar(jar_id), texts, confirmed=True)
        assert check(keeper) == []
        undo(keeper)


def test_the_end_of_a_used_up_lot_follows_what_jars_took(keeper: Keeper) -> None:
    lot, other, _ = lots_of_yarrow(keeper)
    jar_id = filled(keeper, [charge_of_lot(lot, 120.0)], spirit(500, 60), on=FILLED_ON)
    discard_herb(keeper, other.lot_id, None, kind=HerbMovementKind.SPOILED)
    correct(keeper, jar(jar_id), {"lot": other.code})
    spoiled = keeper.rows("SELECT mass_g FROM herb_movement WHERE kind = 'spoiled'")
    assert spoiled == [(-130.0,)]
    assert [herb_lot(keeper, each.lot_id).left_g for each in (lot, other)] == [900, 0]


def test_the_marc_of_a_jar_follows_its_lot(keeper: Keeper) -> None:
    jar_id, second_id = lived(keeper, 0)
    names = {each.name for each in facts_of(keeper, jar(second_id))}
    assert "origin" in names
    assert "lot" not in names
    correct(keeper, jar(jar_id), {"lot": "H-26-002"})
    assert line(keeper, second_id).origin == "the fair, lot Y-9"
    assert "26-002" not in str(recall_lot(keeper, 1))
    assert "26-002" in str(recall_lot(keeper, 2))
