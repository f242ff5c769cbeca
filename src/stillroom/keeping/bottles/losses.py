"""Liquid of a batch that was lost before it was bottled: how much, how and when."""

import json
from collections.abc import Iterable
from datetime import date

from stillroom.keeping.keeper import Act, Keeper
from stillroom.reckoning.states import LossKind
from stillroom.records.tables import Loss, Tincture


def write_loss(
    act: Act, tincture_id: int, kind: LossKind, volume_ml: float, day: date, note: str = ""
) -> None:
    """Write a loss inside a running act, its figures checked."""
    Loss.insert(
        tincture=tincture_id,
        kind=kind,
        volume_ml=volume_ml,
        at=act.at,
        day=day,
        maker=act.maker,
        note=note,
    ).execute()
    Tincture.update(lost_ml=Tincture.lost_ml + volume_ml).where(
        Tincture.id == tincture_id
    ).execute()


def let_losses_follow(keeper: Keeper, act: Act, tincture_ids: Iterable[int]) -> None:
    """Let the losses of these tinctures total what was corrected to be lost, inside an act.

    The latest loss takes up the difference, and the one before it what is left of that.
    """
    rows = keeper.rows(
        """SELECT t.id, t.lost_ml - coalesce((SELECT sum(volume_ml) FROM loss
                                              WHERE tincture_id = t.id), 0)
           FROM tincture t WHERE t.id IN (SELECT value FROM json_each(?))""",
        json.dumps(list(tincture_ids)),
    )
    for tincture_id, more_ml in rows:
        if more_ml:
            _take_up(keeper, act, tincture_id, more_ml)


def _take_up(keeper: Keeper, act: Act, tincture_id: int, more_ml: float) -> None:
    losses = keeper.rows(
        "SELECT id, volume_ml FROM loss WHERE tincture_id = ? ORDER BY id DESC", tincture_id
    )
    if more_ml > 0 and not losses:
        Loss.insert(
            tincture=tincture_id,
            kind=LossKind.NOT_SAID,
            volume_ml=more_ml,
            at=act.at,
            day=act.day,
            maker=act.maker,
        ).execute()
    for loss_id, volume_ml in losses:
        left_ml = volume_ml + more_ml
        if left_ml > 0:
            Loss.update(volume_ml=left_ml).where(Loss.id == loss_id).execute()
            return
        Loss.delete().where(Loss.id == loss_id).execute()
        more_ml = left_ml
