"""What comes back of liquid that was drawn or given: recorded, and in no bottle again."""

from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import pytest

from stillroom.clock import SetClock
from stillroom.errors import Refused
from stillroom.keeping.bottles.returns import record_return, still_out_ml
from stillroom.keeping.bottles.status import withdraw
from stillroom.keeping.bottles.stock import take_out
from stillroom.keeping.correcting.correct import correct, plan_correction
from stillroom.keeping.correcting.subjects import subject_of_code
from stillroom.keeping.drafts import ALL
from stillroom.keeping.interchange.reading import import_folder
from stillroom.keeping.interchange.writing import export_folder
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.ledger import LedgerFilter, ledger
from stillroom.keeping.settings import come_to_shelf, settings_of
from stillroom.keeping.shelf_file.check import check
from stillroom.keeping.shelf_file.forgetting import forget
from stillroom.keeping.trace.withdrawals import withdrawals
from stillroom.keeping.undo import redo, undo
from stillroom.keeping.views import BottleRow
from stillroom.paper.document import as_text
from stillroom.paper.withdrawal_sheet import withdrawal_sheet
from stillroom.reckoning.states import MovementKind
from stillroom.records.store import Store

Bottled = Callable[..., list[BottleRow]]


@pytest.fixture
def sage(keeper: Keeper, bottled: Bottled) -> BottleRow:
    """A bottle of 100 mL, of which 30 mL were given to J., 20 mL drawn and 10 mL spilled."""
    come_to_shelf(keeper, "AL")
    (row,) = bottled("Sage")
    take_out(keeper, row.bottle_id, 30, kind=MovementKind.GIVE, person="J.")
    take_out(keeper, row.bottle_id, 20)
    return take_out(keeper, row.bottle_id, 10, kind=MovementKind.SPILL)


def returned_rows(keeper: Keeper) -> list[tuple[object, ...]]:
    return keeper.rows("SELECT bottle_id, volume_ml, day, maker, person, note FROM returned")


def test_what_came_back_is_recorded_and_not_put_into_the_bottle(
    keeper: Keeper, sage: BottleRow
) -> None:
    after = record_return(keeper, sage.bottle_id, 25, person="J.", note="unopened")
    assert after.left_ml == sage.left_ml == pytest.approx(40)
    assert still_out_ml(keeper, sage.bottle_id) == pytest.approx(30 + 20 - 25)
    day = keeper.today.isoformat()
    assert returned_rows(keeper) == [(sage.bottle_id, 25, day, "AL", "J.", "unopened")]
    (line,) = ledger(keeper, LedgerFilter(kind="returned"), limit=-1)
    assert (line.text, line.subject, line.maker) == ("25 mL from J. · unopened", sage.code, "AL")
    record_return(keeper, sage.bottle_id, ALL)
    assert still_out_ml(keeper, sage.bottle_id) == 0
    assert check(keeper) == []


def test_a_return_is_undone_and_redone(keeper: Keeper, sage: BottleRow) -> None:
    record_return(keeper, sage.bottle_id, 25)
    before = returned_rows(keeper)
    assert undo(keeper) == f"25 mL of {sage.code} returned"
    assert returned_rows(keeper) == []
    redo(keeper)
    assert returned_rows(keeper) == before


def test_no_more_comes_back_than_was_drawn_and_given(keeper: Keeper, sage: BottleRow) -> None:
    """What was spilled can't."""
    for volume_ml, said in ((51, "Only 50 mL"), (0, "greater than zero"), (-1, "greater than")):
        with pytest.raises(Refused, match=said):
            record_return(keeper, sage.bottle_id, volume_ml)
    with pytest.raises(Refused, match="enter a date from then until today"):
        record_return(keeper, sage.bottle_id, 5, day=keeper.today + timedelta(days=1))
    record_return(keeper, sage.bottle_id, ALL)
    with pytest.raises(Refused, match="Nothing that was drawn or given"):
        record_return(keeper, sage.bottle_id, 1)


def test_the_sheet_of_a_recall_lists_a_return(keeper: Keeper, sage: BottleRow) -> None:
    withdraw(keeper, {sage.tincture_id}, "batch", "wrong leaf")
    record_return(keeper, sage.bottle_id, 25, person="J.", note="unopened")
    ((batch,),) = [each.batches for each in withdrawals(keeper)]
    ((back,),) = [each.returned for each in batch.bottles]
    assert (back.volume_ml, back.day, back.note) == (25, keeper.today, "J., unopened")
    sheet = withdrawal_sheet(withdrawals(keeper), settings_of(keeper), keeper.today)
    assert "25 mL" in as_text(sheet, 132)


def test_a_return_can_be_corrected_but_never_to_more_than_was_out(
    keeper: Keeper, sage: BottleRow
) -> None:
    record_return(keeper, sage.bottle_id, 25, person="J.")
    subject = subject_of_code(keeper, sage.code)
    correct(keeper, subject, {"returned-1.volume": "28 ml", "returned-1.from": "K."})
    assert [row[1:5:3] for row in returned_rows(keeper)] == [(28, "K.")]
    for texts in ({"returned-1.volume": "51 ml"}, {"movement-1.volume": "5 ml"}):
        plan = plan_correction(keeper, subject, texts)
        assert "came back, but only" in plan.obstacles[0]
        assert [fact.name for fact in plan.ways_out] == ["returned-1.volume"]
    correct(keeper, subject, {"movement-1.volume": "5 ml", "returned-1.volume": "20 ml"})
    correct(keeper, subject, {"returned-1.volume": "0"})
    assert returned_rows(keeper) == []
    assert check(keeper) == []


def test_a_return_is_exported_and_imported(
    keeper: Keeper, sage: BottleRow, tmp_path: Path, clock: SetClock
) -> None:
    record_return(keeper, sage.bottle_id, 25, person="J.", note="unopened")
    export_folder(keeper, tmp_path / "out")
    other = Keeper(Store.open(tmp_path / "other.stillroom", create=True), clock)
    assert import_folder(other, tmp_path / "out").is_clean
    assert [row[1:] for row in returned_rows(other)] == [row[1:] for row in returned_rows(keeper)]
    other.store.close()


def test_the_name_of_who_returned_it_can_be_removed(keeper: Keeper, sage: BottleRow) -> None:
    record_return(keeper, sage.bottle_id, 25, person="Quillon")
    forget(keeper, "Quillon", None, confirmed=True)
    assert [row[4] for row in returned_rows(keeper)] == ["(name removed)"]
