"""Whether a batch may be used: it waits, is released or rejected, or was withdrawn."""

from collections.abc import Iterable, Sequence

from stillroom.errors import NeedsConfirmation, Refused
from stillroom.keeping.bottles.tinctures import tincture_view, tincture_views
from stillroom.keeping.graph import downstream
from stillroom.keeping.keeper import Act, Keeper
from stillroom.keeping.settings import settings_of
from stillroom.keeping.views import BottleRow, TinctureView
from stillroom.keeping.words import UNSIGNED, clean_note
from stillroom.reckoning.states import BatchStatus
from stillroom.records.tables import Tincture

UNUSABLE = (BatchStatus.REJECTED, BatchStatus.WITHDRAWN)


def how_many_batches(count: int) -> str:
    """A number of batches in words."""
    return "1 batch" if count == 1 else f"{count} batches"


def first_status(keeper: Keeper) -> BatchStatus | None:
    """What a batch begins with: it waits where the settings say that batches are released."""
    return BatchStatus.WAITING if settings_of(keeper).releases else None


def why_not_to_use(row: BottleRow) -> str:
    """Why a bottle's batch may not be used, in a sentence; blank where it may."""
    return f"Batch {row.batch} was {row.status}." if row.status in UNUSABLE else ""


def waits(keeper: Keeper, row: BottleRow) -> bool:
    """Whether a bottle's batch isn't released yet, where the settings say that it has to be."""
    return row.status is BatchStatus.WAITING and settings_of(keeper).releases


def check_usable(
    keeper: Keeper, row: BottleRow, act: str, *, is_late: bool, confirmed: bool
) -> None:
    """Raise Refused where a bottle's batch may not be used, NeedsConfirmation where it waits.

    What happened on an earlier day and is noted late is only asked about: it did happen.
    """
    why = why_not_to_use(row)
    if why and not is_late:
        raise Refused(f"{why} Discard the bottle, or record what was spilled.")
    if why and not confirmed:
        raise NeedsConfirmation(f"{why} {act} anyway?")
    if waits(keeper, row) and not confirmed:
        raise NeedsConfirmation(f"Batch {row.batch} isn't released yet. {act} anyway?")


def release(keeper: Keeper, tincture_id: int, why: str = "", *, confirmed: bool = False) -> None:
    """Release a batch for use.

    Raises NeedsConfirmation where it was rejected or withdrawn.
    """
    why = _signed(keeper, why)
    with keeper.act("Released a batch", why=why) as act:
        tincture = tincture_view(keeper, tincture_id)
        if tincture.status in UNUSABLE and not confirmed:
            raise NeedsConfirmation(
                f"Batch {tincture.code} was {tincture.status}. Release it anyway?"
            )
        _set_status(act, tincture, BatchStatus.RELEASED)


def reject(keeper: Keeper, tincture_id: int, why: str = "") -> None:
    """Reject a batch: it may not be drawn, blended or labelled."""
    why = _signed(keeper, why)
    with keeper.act("Rejected a batch", why=why) as act:
        _set_status(act, tincture_view(keeper, tincture_id), BatchStatus.REJECTED)


def _set_status(act: Act, tincture: TinctureView, status: BatchStatus) -> None:
    if tincture.status is status:
        raise Refused(f"Batch {tincture.code} is already {status}.")
    Tincture.update(status=status).where(Tincture.id == tincture.tincture_id).execute()
    act.title = f"{status.capitalize()} batch {tincture.code}"
    act.note(status, act.why, tincture_id=tincture.tincture_id)


def made_with(keeper: Keeper, tincture_ids: Iterable[int]) -> tuple[TinctureView, ...]:
    """These batches and every blend that any of them went into, in the order they were made."""
    ids = sorted(downstream(keeper, tincture_ids))
    views = tincture_views(keeper, ids)
    return tuple(views[tincture_id] for tincture_id in ids)


def withdraw(
    keeper: Keeper, tincture_ids: Iterable[int], what: str, why: str = ""
) -> tuple[TinctureView, ...]:
    """Withdraw these batches and every blend made with them, in one act.

    `what` names the cause in the title, such as a spirit and its lot. Returns the batches that
    were not withdrawn already; Refused where there are none.
    """
    why = _signed(keeper, why)
    meant: Sequence[TinctureView] = [
        batch
        for batch in made_with(keeper, tincture_ids)
        if batch.status is not BatchStatus.WITHDRAWN
    ]
    if not meant:
        raise Refused("There is no batch to withdraw.")
    title = f"Withdrew {how_many_batches(len(meant))}: {what}"[:2000]
    with keeper.act(title, why=why) as act:
        for batch in meant:
            Tincture.update(status=BatchStatus.WITHDRAWN).where(
                Tincture.id == batch.tincture_id
            ).execute()
            text = f"{what}: {why}" if why else what
            act.note(BatchStatus.WITHDRAWN, text, tincture_id=batch.tincture_id)
    return tuple(meant)


def _signed(keeper: Keeper, why: str) -> str:
    """The reason, once it is sure who gives it."""
    if not keeper.maker:
        raise Refused(UNSIGNED)
    return clean_note(why, "The reason", limit=2000)
