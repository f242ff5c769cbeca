"""Undo and redo as a person meets them."""

from collections.abc import Callable

import pytest

from stillroom.clock import SetClock
from stillroom.errors import Refused
from stillroom.keeping import keeper as keeper_file
from stillroom.keeping.bottles.stock import take_out
from stillroom.keeping.cupboard.cupboard import add_herb, add_shelf, herbs, shelf_rows
from stillroom.keeping.drafts import HerbDraft, ShelfDraft
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.ledger import LedgerFilter, ledger
from stillroom.keeping.settings import Settings, save_settings, settings_of
from stillroom.keeping.undo import redo, undo, undoable
from stillroom.keeping.views import BottleRow
from stillroom.records.store import Store


def shelves(keeper: Keeper) -> list[str]:
    return [row.name for row in shelf_rows(keeper)]


def test_undo_and_redo_name_the_act(keeper: Keeper) -> None:
    add_shelf(keeper, ShelfDraft("Larder"))
    add_shelf(keeper, ShelfDraft("Window"))
    assert undoable(keeper) == "Added the shelf Window"
    assert [undo(keeper), undo(keeper)] == ["Added the shelf Window", "Added the shelf Larder"]
    assert shelves(keeper) == []
    assert [redo(keeper), redo(keeper)] == ["Added the shelf Larder", "Added the shelf Window"]
    assert shelves(keeper) == ["Larder", "Window"]


def test_undo_and_redo_are_refused_when_there_is_nothing_to_undo_or_redo(keeper: Keeper) -> None:
    with pytest.raises(Refused, match="Nothing to undo"):
        undo(keeper)
    with pytest.raises(Refused, match="Nothing to redo"):
        redo(keeper)


def test_a_new_act_ends_redo(keeper: Keeper) -> None:
    add_shelf(keeper, ShelfDraft("Larder"))
    undo(keeper)
    add_shelf(keeper, ShelfDraft("Window"))
    with pytest.raises(Refused):
        redo(keeper)
    assert shelves(keeper) == ["Window"]


def test_undo_adds_a_line_to_the_ledger_and_removes_none(keeper: Keeper) -> None:
    add_shelf(keeper, ShelfDraft("Larder"))
    before = ledger(keeper, LedgerFilter())
    undo(keeper)
    redo(keeper)
    lines = ledger(keeper, LedgerFilter())
    assert [line.kind for line in lines[: -len(before)]] == ["redone", "undone"]
    assert lines[-len(before) :] == before


def test_undo_works_after_a_restart(keeper: Keeper, clock: SetClock) -> None:
    add_herb(keeper, HerbDraft("Fennel", note="it's ‘sweet’\nand green"))
    keeper.store.close()
    again = Keeper(Store.open(keeper.store.path), clock)
    before = herbs(again)
    assert undo(again) == "Added Fennel"
    assert herbs(again) == []
    redo(again)
    assert herbs(again) == before
    again.store.close()


def test_an_act_that_changes_nothing_leaves_nothing_to_undo(keeper: Keeper) -> None:
    save_settings(keeper, settings_of(keeper))
    assert undoable(keeper) is None


def test_a_setting_that_is_undone_applies_at_once(keeper: Keeper) -> None:
    save_settings(keeper, Settings(maker="AB"))
    undo(keeper)
    assert keeper.maker == ""
    redo(keeper)
    assert keeper.maker == "AB"


def test_a_refused_act_leaves_nothing(keeper: Keeper) -> None:
    def give_up_half_way() -> None:
        with keeper.act("Half done") as act:
            keeper.store.db.execute_sql("INSERT INTO shelf (name, position) VALUES ('Larder', 1)")
            act.note("shelf", "Added the shelf Larder")
            raise Refused("No.")

    with pytest.raises(Refused):
        give_up_half_way()
    assert shelves(keeper) == []
    assert undoable(keeper) is None
    assert ledger(keeper, LedgerFilter()) == []


def test_an_act_inside_another_raises_an_error(keeper: Keeper) -> None:
    with pytest.raises(RuntimeError, match="inside another"), keeper.act("Outer"):
        add_shelf(keeper, ShelfDraft("Larder"))
    assert shelves(keeper) == []


def test_the_number_of_acts_that_can_be_undone_is_limited(
    keeper: Keeper, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(keeper_file, "UNDO_DEPTH", 3)
    for name in "ABCDE":
        add_shelf(keeper, ShelfDraft(name))
    for _ in range(3):
        undo(keeper)
    with pytest.raises(Refused, match="Nothing to undo"):
        undo(keeper)
    assert shelves(keeper) == ["A", "B"]
    assert keeper.rows("SELECT count(*) FROM undo_step WHERE action_id < 3") == [(0,)]


def test_undo_is_refused_when_the_rows_were_changed_by_other_means(keeper: Keeper) -> None:
    add_shelf(keeper, ShelfDraft("Larder"))
    keeper.store.db.execute_sql("DELETE FROM shelf")
    with pytest.raises(Refused, match="changed again since"):
        undo(keeper)
    assert undoable(keeper) == "Added the shelf Larder"


def test_undo_keeps_every_digit_of_a_volume(
    keeper: Keeper, bottled: Callable[..., list[BottleRow]]
) -> None:
    (bottle,) = bottled("Fennel")
    before = keeper.rows("SELECT volume_ml FROM movement ORDER BY id")
    take_out(keeper, bottle.bottle_id, 0.1 + 0.2)
    drawn = keeper.rows("SELECT volume_ml FROM movement ORDER BY id")
    undo(keeper)
    assert keeper.rows("SELECT volume_ml FROM movement ORDER BY id") == before
    redo(keeper)
    assert keeper.rows("SELECT volume_ml FROM movement ORDER BY id") == drawn
    assert drawn[-1] == (-(0.1 + 0.2),)
