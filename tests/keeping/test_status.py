"""Batches wait, are released, rejected or withdrawn, and what may not be used isn't."""

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta

import pytest

from stillroom.clock import SetClock
from stillroom.errors import NeedsConfirmation, Refused
from stillroom.keeping.bottles.blends import make_blend, plan_blend
from stillroom.keeping.bottles.bottle_views import bottle_rows
from stillroom.keeping.bottles.labels import labels_for
from stillroom.keeping.bottles.print_log import old_labels, record_printed
from stillroom.keeping.bottles.status import made_with, reject, release, withdraw
from stillroom.keeping.bottles.stock import discard_bottle, set_keep_until, take_out
from stillroom.keeping.bottles.tinctures import tincture_view
from stillroom.keeping.drafts import BlendDraft, BlendPartDraft, BottleDraft, ChargeDraft
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import save_settings, settings_of
from stillroom.keeping.trace.recall import recall_words
from stillroom.keeping.trace.withdrawals import withdrawals
from stillroom.keeping.undo import undo
from stillroom.keeping.views import BottleRow, TinctureView
from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.states import BatchStatus, MovementKind

from ..builders import bottled, filled, spirit, strained


def turn_on(keeper: Keeper, *, releases: bool = True, maker: str = "AL") -> None:
    save_settings(keeper, replace(settings_of(keeper), releases=releases, maker=maker))


def made(keeper: Keeper, herb: str) -> TinctureView:
    """A batch of 200 mL in two bottles, made today."""
    charge = ChargeDraft(herb, Part.LEAF, Condition.DRIED, 50, origin="South bed, lot 3")
    batch = strained(keeper, filled(keeper, [charge], spirit(300, 45)), 220)
    return bottled(keeper, batch, BottleDraft(100, 100), BottleDraft(100, 100))


def rows_of(keeper: Keeper, batch: TinctureView) -> list[BottleRow]:
    return [r for r in bottle_rows(keeper, empties=True) if r.tincture_id == batch.tincture_id]


def blended(keeper: Keeper, *batches: TinctureView) -> TinctureView:
    parts = [BlendPartDraft(rows_of(keeper, batch)[0].bottle_id, 20) for batch in batches]
    blend = make_blend(keeper, BlendDraft("Evening", tuple(parts), keeper.today))
    return bottled(keeper, blend, BottleDraft(40, 20))


def statuses(keeper: Keeper) -> list[BatchStatus | None]:
    ids = [row_id for (row_id,) in keeper.rows("SELECT id FROM tincture ORDER BY id")]
    return [tincture_view(keeper, row_id).status for row_id in ids]


def test_without_the_setting_batches_have_no_status(keeper: Keeper) -> None:
    batch = made(keeper, "Sage")
    assert batch.status is None
    take_out(keeper, rows_of(keeper, batch)[0].bottle_id, 10)


def test_with_the_setting_a_new_batch_waits_and_using_it_is_questioned_until_its_release(
    keeper: Keeper,
) -> None:
    before = made(keeper, "Sage")
    turn_on(keeper)
    batch = made(keeper, "Thyme")
    assert statuses(keeper) == [None, BatchStatus.WAITING]
    take_out(keeper, rows_of(keeper, before)[0].bottle_id, 10)
    bottle_id = rows_of(keeper, batch)[0].bottle_id
    with pytest.raises(NeedsConfirmation, match=r"26-002 isn't released yet\. Draw anyway"):
        take_out(keeper, bottle_id, 10)
    with pytest.raises(NeedsConfirmation, match="Blend anyway"):
        blended(keeper, before, batch)
    assert labels_for(keeper, [bottle_id])  # a label is needed while it waits
    release(keeper, batch.tincture_id, "tastes right")
    take_out(keeper, bottle_id, 10)
    assert blended(keeper, before, batch).status is BatchStatus.WAITING
    with pytest.raises(Refused, match="already released"):
        release(keeper, batch.tincture_id)


def test_with_the_setting_off_again_nothing_waits(keeper: Keeper) -> None:
    turn_on(keeper)
    batch = made(keeper, "Sage")
    turn_on(keeper, releases=False)
    take_out(keeper, rows_of(keeper, batch)[0].bottle_id, 10)


def test_a_rejected_batch_is_refused_until_it_is_deliberately_released(keeper: Keeper) -> None:
    turn_on(keeper)
    batch = made(keeper, "Sage")
    reject(keeper, batch.tincture_id, "mould")
    row = rows_of(keeper, batch)[0]
    with pytest.raises(Refused, match="Batch 26-001 was rejected"):
        take_out(keeper, row.bottle_id, 10, confirmed=True)
    with pytest.raises(NeedsConfirmation, match="Release it anyway"):
        release(keeper, batch.tincture_id)
    release(keeper, batch.tincture_id, confirmed=True)
    take_out(keeper, row.bottle_id, 10)


def test_a_release_needs_initials_and_its_reason_is_in_ledger_and_journal(keeper: Keeper) -> None:
    batch = made(keeper, "Sage")
    with pytest.raises(Refused, match="Set your initials first"):
        release(keeper, batch.tincture_id)
    turn_on(keeper)
    release(keeper, batch.tincture_id, "clear, no sediment")
    assert keeper.rows(
        "SELECT e.kind, e.text, e.maker, j.why, j.title FROM event e"
        " JOIN journal j ON j.id = e.journal_id ORDER BY e.id DESC LIMIT 1"
    ) == [("released", "clear, no sediment", "AL", "clear, no sediment", "Released batch 26-001")]


def test_one_act_withdraws_the_tree_and_one_undo_restores_it(keeper: Keeper) -> None:
    """Two blends deep, and a batch of something else that stays."""
    turn_on(keeper, releases=False)
    sage, thyme, mint = (made(keeper, herb) for herb in ("Sage", "Thyme", "Spearmint"))
    first = blended(keeper, sage, thyme)
    second = blended(keeper, first, mint)
    (tree,) = recall_words(keeper, "sage lot 3")
    ids = {node.tincture_id for node in tree.walk() if node.tincture_id}
    done = withdraw(keeper, ids, "Sage, lot 3", "wrong plant")
    assert [batch.code for batch in done] == [sage.code, first.code, second.code]
    gone = BatchStatus.WITHDRAWN
    assert statuses(keeper) == [gone, None, None, gone, gone]
    with pytest.raises(Refused, match="no batch to withdraw"):
        withdraw(keeper, ids, "Sage, lot 3")
    assert undo(keeper) == "Withdrew 3 batches: Sage, lot 3"
    assert statuses(keeper) == [None] * 5


def test_withdrawing_a_batch_withdraws_only_the_blends_made_with_it(keeper: Keeper) -> None:
    sage, thyme = made(keeper, "Sage"), made(keeper, "Thyme")
    blend = blended(keeper, sage, thyme)
    assert [b.code for b in made_with(keeper, [thyme.tincture_id])] == [thyme.code, blend.code]
    assert [b.code for b in made_with(keeper, [blend.tincture_id])] == [blend.code]


@pytest.fixture
def withdrawn(keeper: Keeper) -> TinctureView:
    turn_on(keeper, releases=False)
    batch, other = made(keeper, "Sage"), made(keeper, "Thyme")
    assert other.status is None
    take_out(keeper, rows_of(keeper, batch)[0].bottle_id, 30, kind=MovementKind.GIVE,
             person="J. at the market", note="for the stall")  # fmt: skip
    withdraw(keeper, [batch.tincture_id], "batch 26-001", "wrong plant")
    return batch


def test_a_withdrawn_bottle_is_not_drawn_or_blended_and_its_label_shows_why(
    keeper: Keeper, withdrawn: TinctureView
) -> None:
    row, other = rows_of(keeper, withdrawn)[0], bottle_rows(keeper)[-1]
    for kind in (MovementKind.DRAW, MovementKind.GIVE):
        with pytest.raises(Refused, match="Batch 26-001 was withdrawn"):
            take_out(keeper, row.bottle_id, 10, kind=kind, confirmed=True)
    parts = (BlendPartDraft(row.bottle_id, 10), BlendPartDraft(other.bottle_id, 10))
    draft = BlendDraft("Evening", parts, keeper.today)
    assert plan_blend(keeper, draft).obstacles == ("Batch 26-001 was withdrawn.",)
    with pytest.raises(Refused, match="was withdrawn"):
        make_blend(keeper, draft, confirmed=True)
    fine, marked = labels_for(keeper, [other.bottle_id, row.bottle_id])
    assert (fine.status, marked.status) == ("", "WITHDRAWN: do not use")
    reject(keeper, withdrawn.tincture_id)
    with pytest.raises(Refused, match="No labels can be printed"):
        labels_for(keeper, [other.bottle_id, row.bottle_id])


def test_a_withdrawn_bottle_can_be_spilled_and_discarded(
    keeper: Keeper, withdrawn: TinctureView
) -> None:
    one, other = rows_of(keeper, withdrawn)
    take_out(keeper, one.bottle_id, 10, kind=MovementKind.SPILL)
    discard_bottle(keeper, other.bottle_id, "recall")


def test_a_draw_from_before_the_recall_can_still_be_entered(
    keeper: Keeper, clock: SetClock, withdrawn: TinctureView
) -> None:
    clock.advance(days=1)
    yesterday = keeper.today - timedelta(days=1)
    row = rows_of(keeper, withdrawn)[0]
    with pytest.raises(NeedsConfirmation, match=r"was withdrawn\. Draw anyway"):
        take_out(keeper, row.bottle_id, 10, day=yesterday)
    assert take_out(keeper, row.bottle_id, 10, day=yesterday, confirmed=True).left_ml == 60


def test_the_old_label_of_a_withdrawn_bottle_is_not_listed(keeper: Keeper, clock: SetClock) -> None:
    turn_on(keeper, releases=False)
    batch = made(keeper, "Sage")
    record_printed(keeper, labels_for(keeper, [row.bottle_id for row in rows_of(keeper, batch)]))
    clock.advance(minutes=1)
    set_keep_until(keeper, batch.tincture_id, keeper.today + timedelta(days=90))
    assert len(old_labels(keeper)) == 2
    withdraw(keeper, [batch.tincture_id], "batch 26-001")
    assert old_labels(keeper) == []


def test_the_sheet_finds_every_millilitre_of_what_was_withdrawn(
    keeper: Keeper, withdrawn: TinctureView
) -> None:
    """Filled is given, used, blended, destroyed and still here: counted from the movements."""
    one, other = rows_of(keeper, withdrawn)
    take_out(keeper, one.bottle_id, 12, kind=MovementKind.SPILL)
    discard_bottle(keeper, other.bottle_id, "burnt")
    ((withdrawal,),) = [withdrawals(keeper)]
    assert (withdrawal.day, withdrawal.maker, withdrawal.why) == (keeper.today, "AL", "wrong plant")
    ((batch,),) = [withdrawal.batches]
    first, second = batch.bottles
    assert [(out.volume_ml, out.note) for out in first.given] == [
        (30, "for J. at the market · for the stall")
    ]
    assert (first.filled_ml, first.left_ml, first.used_ml) == (100, 58, 12)
    assert [(out.volume_ml, out.note) for out in second.destroyed] == [(100, "burnt")]
    assert (second.left_ml, second.used_ml) == (0, 0)
    release(keeper, withdrawn.tincture_id, "it was sage after all", confirmed=True)
    assert withdrawals(keeper) == []


@pytest.mark.parametrize("stop", [reject, lambda k, t: withdraw(k, [t], "lot 3")])
def test_a_batch_that_may_not_be_used_is_written_off_and_not_bottled(
    keeper: Keeper, clock: SetClock, stop: Callable[[Keeper, int], object]
) -> None:
    turn_on(keeper)
    batch = made(keeper, "Sage")
    assert batch.loose_ml == pytest.approx(20)
    clock.advance(days=1)
    stop(keeper, batch.tincture_id)
    with pytest.raises(Refused, match=r"26-001 was .*, so it isn't bottled"):
        bottled(keeper, batch, BottleDraft(10, 10))
    # What was bottled yesterday and is noted today did happen.
    bottled(keeper, batch, BottleDraft(10, 10), on=batch.made_on)
    after = bottled(keeper, batch, write_off_rest=True)
    assert (after.bottles, after.loose_ml) == (3, 0)
