"""What was printed is on record, whatever happens later; labels that no longer fit are found."""

from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from stillroom.clock import SetClock
from stillroom.dates import DayForm
from stillroom.errors import Refused
from stillroom.keeping.bottles import print_log
from stillroom.keeping.bottles.labels import Label, label_lines, labels_for
from stillroom.keeping.bottles.print_log import (
    dismiss_labels,
    label_text,
    old_labels,
    printed_labels,
    record_printed,
)
from stillroom.keeping.bottles.stock import (
    discard_bottle,
    pour_together,
    put_right,
    set_keep_until,
    take_out,
)
from stillroom.keeping.correcting.correct import correct
from stillroom.keeping.correcting.subjects import subject_of_code
from stillroom.keeping.day import day_view
from stillroom.keeping.drafts import BottleDraft, ChargeDraft
from stillroom.keeping.keeper import Keeper, stamp
from stillroom.keeping.settings import save_settings, settings_of
from stillroom.keeping.shelf_file.check import check
from stillroom.keeping.shelf_file.sample import open_sample
from stillroom.keeping.undo import redo, undo
from stillroom.quantities import UnitSystem
from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.states import PrintKind

from ..builders import bottled, filled, spirit, strained


@pytest.fixture
def bottles(keeper: Keeper) -> list[int]:
    """Two bottles of 100 mL, made and filled today."""
    jar = filled(keeper, [ChargeDraft("Sage", Part.LEAF, Condition.DRIED, 50)], spirit(300, 45))
    made = strained(keeper, jar, 220)
    bottled(keeper, made, BottleDraft(100, 100), BottleDraft(100, 100))
    return [row_id for (row_id,) in keeper.rows("SELECT id FROM bottle ORDER BY id")]


def print_all(keeper: Keeper, clock: SetClock, bottles: list[int]) -> None:
    assert record_printed(keeper, labels_for(keeper, bottles)) == ""
    clock.advance(minutes=1)


def later(keeper: Keeper, days: int = 1000) -> None:
    (tincture_id,) = keeper.rows("SELECT id FROM tincture")[0]
    set_keep_until(keeper, tincture_id, keeper.today + timedelta(days=days))


def test_a_label_is_recorded_as_it_was_printed(
    keeper: Keeper, clock: SetClock, bottles: list[int]
) -> None:
    save_settings(keeper, replace(settings_of(keeper), maker="AL"))
    before = label_text(labels_for(keeper, bottles[:1])[0])
    moment = stamp(clock.now())
    assert record_printed(keeper, labels_for(keeper, bottles[:1]), copies=3) == ""
    later(keeper)
    (line,) = printed_labels(keeper, ["26-001.1"])
    assert (line.at, line.day, line.maker, line.copies) == (moment, keeper.today, "AL", 3)
    assert (line.kind, line.bottle, line.text) == (PrintKind.PRINTED, "26-001.1", before)
    assert "100 mL" in before.split("\n")


def test_undo_leaves_the_print_log_as_it_is(
    keeper: Keeper, clock: SetClock, bottles: list[int]
) -> None:
    """Not even where it undoes the bottle; the bottle filled again has the same code and label."""
    print_all(keeper, clock, bottles)
    assert undo(keeper).startswith("Bottled")
    assert keeper.rows("SELECT count(*) FROM bottle") == [(0,)]
    assert len(printed_labels(keeper, ["26-001.1", "26-001.2"])) == 2
    redo(keeper)
    assert len(printed_labels(keeper, ["26-001.1", "26-001.2"])) == 2


def test_a_changed_date_makes_labels_old_until_they_are_printed_again(
    keeper: Keeper, clock: SetClock, bottles: list[int]
) -> None:
    assert old_labels(keeper) == []  # never printed
    print_all(keeper, clock, bottles)
    assert old_labels(keeper) == []
    later(keeper)
    found = old_labels(keeper)
    assert [old.bottle.bottle_id for old in found] == bottles
    assert [(old.gone, old.new) for old in found] == [
        (("Keep until 26 Nov 2031",), ("Keep until 22 Aug 2029",))
    ] * 2
    assert [old.bottle.code for old in day_view(keeper).old_labels] == ["26-001.1", "26-001.2"]
    print_all(keeper, clock, bottles[:1])
    assert [old.bottle.bottle_id for old in old_labels(keeper)] == bottles[1:]
    undo(keeper)  # the date: what was printed last is wrong now, and what was printed first right
    assert [old.bottle.bottle_id for old in old_labels(keeper)] == bottles[:1]


def test_a_dismissed_label_is_old_again_only_when_its_text_changes(
    keeper: Keeper, clock: SetClock, bottles: list[int]
) -> None:
    print_all(keeper, clock, bottles)
    later(keeper)
    assert dismiss_labels(keeper, bottles) == 2
    assert old_labels(keeper) == []
    later(keeper, 900)
    assert [old.bottle.bottle_id for old in old_labels(keeper)] == bottles
    kinds = [line.kind for line in printed_labels(keeper, ["26-001.1"])]
    assert kinds == [PrintKind.PRINTED, PrintKind.DISMISSED]


def test_later_draws_and_counts_make_no_label_old(
    keeper: Keeper, clock: SetClock, bottles: list[int]
) -> None:
    first, second = bottles
    print_all(keeper, clock, bottles)
    take_out(keeper, first, 30)
    put_right(keeper, first, 65)
    pour_together(keeper, second, first)
    assert old_labels(keeper) == []
    print_all(keeper, clock, [first])
    assert "100 mL" in printed_labels(keeper, ["26-001.1"])[-1].text
    assert old_labels(keeper) == []


def test_an_empty_bottle_needs_no_label(
    keeper: Keeper, clock: SetClock, bottles: list[int]
) -> None:
    print_all(keeper, clock, bottles)
    later(keeper)
    discard_bottle(keeper, bottles[0], "fell")
    assert [old.bottle.bottle_id for old in old_labels(keeper)] == bottles[1:]


@pytest.mark.parametrize(
    "notation",
    [
        {"units": UnitSystem.US},
        {"units": UnitSystem.IMPERIAL},
        {"decimal_comma": True},
        {"day_form": DayForm.ISO},
    ],
)
def test_other_units_make_no_label_old(
    keeper: Keeper, clock: SetClock, bottles: list[int], notation: dict[str, object]
) -> None:
    """The text is compared in the units it was printed in."""
    print_all(keeper, clock, bottles)
    printed = printed_labels(keeper, ["26-001.1"])[0].text
    save_settings(keeper, replace(settings_of(keeper), **notation))  # type: ignore[arg-type]
    assert label_text(labels_for(keeper, bottles[:1])[0]) != printed
    assert old_labels(keeper) == []
    later(keeper)
    assert [old.gone for old in old_labels(keeper)] == [("Keep until 26 Nov 2031",)] * 2


def test_a_shelf_that_cannot_be_written_reports_why_nothing_was_recorded(
    keeper: Keeper, bottles: list[int], monkeypatch: pytest.MonkeyPatch
) -> None:
    labels = labels_for(keeper, bottles)
    monkeypatch.setattr(keeper.store, "read_only", True)
    said = record_printed(keeper, labels)
    assert said.startswith("The printing wasn't recorded. This shelf is read-only")
    assert keeper.rows("SELECT count(*) FROM print_log") == [(0,)]
    with pytest.raises(Refused):
        dismiss_labels(keeper, bottles)


def test_a_bottle_with_a_new_code_needs_a_new_label(
    keeper: Keeper, clock: SetClock, bottles: list[int]
) -> None:
    """The straining was of another jar: the labels printed with the codes of the wrong one are old,
    and none of them is taken for that of a bottle which gets its code later."""
    sage = ChargeDraft("Sage", Part.LEAF, Condition.DRIED, 50)
    filled(keeper, [sage], spirit(300, 45))
    print_all(keeper, clock, bottles)
    assert old_labels(keeper) == []
    correct(keeper, subject_of_code(keeper, "26-001"), {"jar": "26-002"}, confirmed=True)
    clock.advance(minutes=1)
    assert [old.bottle.code for old in old_labels(keeper)] == ["26-002.1", "26-002.2"]
    assert [line.bottle for line in printed_labels(keeper, ["26-002.1"])] == ["26-001.1"]
    again = strained(keeper, 1, 220)
    bottled(keeper, again, BottleDraft(50, 50))
    clock.advance(minutes=1)
    assert [old.bottle.code for old in old_labels(keeper)] == ["26-002.1", "26-002.2"]
    assert printed_labels(keeper, ["26-001.1"]) == []
    record_printed(keeper, labels_for(keeper, [old.bottle.bottle_id for old in old_labels(keeper)]))
    assert old_labels(keeper) == []
    assert {line.bottle for line in printed_labels(keeper, ["26-002.1"])} == {
        "26-001.1",
        "26-002.1",
    }


def test_a_label_is_worked_out_again_only_where_something_of_it_changed(
    keeper: Keeper, clock: SetClock, bottles: list[int], monkeypatch: pytest.MonkeyPatch
) -> None:
    made: list[str] = []

    def counted(*facts: Any, code: str, **more: Any) -> Label:
        made.append(code)
        return label_lines(*facts, code=code, **more)

    monkeypatch.setattr(print_log, "label_lines", counted)
    assert (old_labels(keeper), made) == ([], [])
    print_all(keeper, clock, bottles)
    for _ in range(3):
        old_labels(keeper)
    assert made == ["26-001.1", "26-001.2"]
    take_out(keeper, bottles[0], 10)
    old_labels(keeper)
    assert len(made) == 2
    later(keeper)
    assert len(old_labels(keeper)) == 2
    assert len(made) == 4


@pytest.mark.parametrize("days", [0, 1, 40])
def test_labels_and_closed_month_of_the_sample_shelf_move_with_the_day_it_is_opened(
    tmp_path: Path, clock: SetClock, days: int
) -> None:
    clock.advance(days=days)
    keeper = open_sample(clock, tmp_path)
    assert keeper.rows("SELECT count(*) FROM print_log") != [(0,)]
    assert old_labels(keeper) == []
    assert check(keeper) == []
    ((month,),) = keeper.rows("SELECT month FROM closing WHERE month IS NOT NULL")
    ((first,),) = keeper.rows("SELECT min(day) FROM event")
    assert month <= first[:7]
    keeper.store.close()
