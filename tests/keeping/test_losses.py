"""Liquid lost of a batch: how much, how, and where it is counted."""

from collections.abc import Callable

import pytest

from stillroom.errors import Refused
from stillroom.keeping.bottles.bottle_views import bottle_row
from stillroom.keeping.bottles.bottling import bottle_up
from stillroom.keeping.bottles.losses import lose, losses_of
from stillroom.keeping.bottles.stock import take_out
from stillroom.keeping.bottles.tinctures import tincture_view
from stillroom.keeping.correcting.correct import correct
from stillroom.keeping.correcting.subjects import subject_of_code
from stillroom.keeping.drafts import ALL, BottlingDraft
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import settings_of
from stillroom.keeping.shelf_file.check import check
from stillroom.keeping.trace.batch_history import batch_history
from stillroom.keeping.trace.recall import recall_words
from stillroom.keeping.undo import redo, undo
from stillroom.keeping.views import BottleRow
from stillroom.paper.batch_record import batch_record
from stillroom.reckoning.states import LOSSES, LossKind, MovementKind

Bottled = Callable[..., list[BottleRow]]


def test_losses_of_each_kind_are_counted_and_undone(keeper: Keeper, bottled: Bottled) -> None:
    """Of 150 mL, 100 mL are in a bottle."""
    (sage,) = bottled("Sage", write_off_rest=False)
    lose(keeper, sage.tincture_id, LossKind.FILTERED_OFF, 10)
    lose(keeper, sage.tincture_id, LossKind.DREGS, 5, note="after a day")
    lose(keeper, sage.tincture_id, LossKind.DREGS, 2)
    view = tincture_view(keeper, sage.tincture_id)
    assert (view.lost_ml, view.loose_ml) == (pytest.approx(17), pytest.approx(33))
    assert losses_of(keeper, sage.tincture_id) == {
        LossKind.FILTERED_OFF: pytest.approx(10),
        LossKind.DREGS: pytest.approx(7),
    }
    lose(keeper, sage.tincture_id, LossKind.SPOILED, ALL)
    assert tincture_view(keeper, sage.tincture_id).loose_ml == 0
    assert check(keeper) == []
    undo(keeper)
    assert tincture_view(keeper, sage.tincture_id).loose_ml == pytest.approx(33)
    redo(keeper)
    assert check(keeper) == []


@pytest.mark.parametrize("volume_ml", [51, 0, -1])
def test_no_more_is_lost_than_is_left_to_bottle(
    keeper: Keeper, bottled: Bottled, volume_ml: float
) -> None:
    (sage,) = bottled("Sage", write_off_rest=False)
    with pytest.raises(Refused, match=r"not 51 mL|greater than zero"):
        lose(keeper, sage.tincture_id, LossKind.DREGS, volume_ml)


def test_what_is_left_over_at_bottling_can_be_a_loss_of_any_kind(
    keeper: Keeper, bottled: Bottled
) -> None:
    (sage,) = bottled("Sage", write_off_rest=False)
    bottle_up(
        keeper,
        BottlingDraft(sage.tincture_id, (), keeper.today, True, LossKind.EVAPORATED),
    )
    assert losses_of(keeper, sage.tincture_id) == {LossKind.EVAPORATED: pytest.approx(50)}
    history = batch_history(keeper, sage.tincture_id)
    record = str(batch_record(history, settings_of(keeper), keeper.clock.now()))
    # 40 g of dried seed brought 4 g of water to 200 mL of spirit: 50 of 204 mL.
    assert "50 mL evaporated (24.5 %)" in record


@pytest.mark.parametrize("kind", LOSSES)
def test_a_loss_from_a_bottle_is_not_use_of_it_and_recall_lists_it(
    keeper: Keeper, bottled: Bottled, kind: MovementKind
) -> None:
    (sage,) = bottled("Sage")
    take_out(keeper, sage.bottle_id, 7, kind=kind)
    assert bottle_row(keeper, sage.bottle_id).left_ml == pytest.approx(93)
    (root,) = recall_words(keeper, "Sage")
    bottle = next(node for node in root.walk() if node.bottle_id == sage.bottle_id)
    assert f"7 mL {kind}" in bottle.detail
    assert check(keeper) == []


def test_recall_names_what_was_lost_before_bottling(keeper: Keeper, bottled: Bottled) -> None:
    (sage,) = bottled("Sage", write_off_rest=False)
    lose(keeper, sage.tincture_id, LossKind.FILTERED_OFF, 10)
    lose(keeper, sage.tincture_id, LossKind.DREGS, 5)
    lose(keeper, sage.tincture_id, LossKind.FILTERED_OFF, 2)
    (root,) = recall_words(keeper, "Sage")
    (tincture,) = (node for node in root.walk() if node.kind == "tincture")
    assert tincture.detail.endswith(", 12 mL filtered off, 5 mL dregs")


def test_a_correction_of_the_total_changes_the_latest_loss_first(
    keeper: Keeper, bottled: Bottled
) -> None:
    (sage,) = bottled("Sage", write_off_rest=False)
    lose(keeper, sage.tincture_id, LossKind.FILTERED_OFF, 10)
    lose(keeper, sage.tincture_id, LossKind.DREGS, 5)
    subject = subject_of_code(keeper, "26-001")
    correct(keeper, subject, {"lost": "12 ml"})
    assert losses_of(keeper, sage.tincture_id) == {
        LossKind.FILTERED_OFF: pytest.approx(10),
        LossKind.DREGS: pytest.approx(2),
    }
    correct(keeper, subject, {"lost": "4 ml"})
    assert losses_of(keeper, sage.tincture_id) == {LossKind.FILTERED_OFF: pytest.approx(4)}
    assert check(keeper) == []


def test_each_loss_can_be_corrected(keeper: Keeper, bottled: Bottled) -> None:
    (sage,) = bottled("Sage", write_off_rest=False)
    lose(keeper, sage.tincture_id, LossKind.FILTERED_OFF, 10)
    lose(keeper, sage.tincture_id, LossKind.DREGS, 5)
    subject = subject_of_code(keeper, "26-001")
    correct(keeper, subject, {"loss-1.volume": "20 ml", "loss-1.kind": "sample"})
    assert losses_of(keeper, sage.tincture_id) == {
        LossKind.SAMPLE: pytest.approx(20),
        LossKind.DREGS: pytest.approx(5),
    }
    assert tincture_view(keeper, sage.tincture_id).lost_ml == pytest.approx(25)
    correct(keeper, subject, {"loss-2.volume": "0"})
    assert tincture_view(keeper, sage.tincture_id).lost_ml == pytest.approx(20)
    assert check(keeper) == []
    undo(keeper)
    assert tincture_view(keeper, sage.tincture_id).lost_ml == pytest.approx(25)
    with pytest.raises(Refused, match=r"would be written off|was bottled"):
        correct(keeper, subject, {"loss-1.volume": "60 ml"})
