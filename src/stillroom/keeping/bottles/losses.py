"""Liquid of a batch that was lost before it was bottled: how much, how and when."""

import json
from collections import defaultdict
from collections.abc import Iterable
from datetime import date

from stillroom.errors import Refused
from stillroom.keeping.bottles.tinctures import tincture_view
from stillroom.keeping.drafts import ALL, ToTake
from stillroom.keeping.keeper import Act, Keeper
from stillroom.keeping.tolerances import EMPTY_ML
from stillroom.keeping.views import TinctureView
from stillroom.keeping.wording import wording
from stillroom.keeping.words import clean_note
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


def lose(
    keeper: Keeper,
    tincture_id: int,
    kind: LossKind,
    to_lose: ToTake,
    *,
    day: date | None = None,
    note: str = "",
) -> TinctureView:
    """Record a loss of what is still to be bottled, today unless a day is given.

    ALL is all of it. Refused where there isn't that much, or before the batch was made.
    """
    said = wording(keeper)
    with keeper.act("Recorded a loss") as act:
        tincture = tincture_view(keeper, tincture_id)
        day = day or act.day
        if not tincture.made_on <= day <= act.day:
            raise Refused(
                f"{tincture.code} was made on {said.day(tincture.made_on)}: enter a date from "
                "then until today."
            )
        if tincture.loose_ml <= EMPTY_ML:
            raise Refused(f"Nothing of {tincture.code} is left to bottle.")
        volume_ml = tincture.loose_ml if to_lose is ALL else to_lose
        if not volume_ml > EMPTY_ML:
            raise Refused("The volume must be greater than zero.")
        if volume_ml > tincture.loose_ml + EMPTY_ML:
            raise Refused(
                f"Only {said.volume(tincture.loose_ml)} of {tincture.code} is left to bottle, "
                f"not {said.volume(volume_ml)}."
            )
        volume_ml = min(volume_ml, tincture.loose_ml)
        write_loss(act, tincture_id, kind, volume_ml, day, clean_note(note, limit=2000))
        act.title = f"Lost {said.volume(volume_ml)} of {tincture.code}: {kind}"
        act.note(
            "lost",
            " · ".join(filter(None, (f"{said.volume(volume_ml)} {kind}", note.strip()))),
            jar_id=tincture.jar_id,
            tincture_id=tincture_id,
        )
        return tincture_view(keeper, tincture_id)


def losses_of(keeper: Keeper, tincture_id: int) -> dict[LossKind, float]:
    """mL lost of a batch before it was bottled, by kind, in the order they came about."""
    return losses_of_each(keeper, [tincture_id]).get(tincture_id, {})


def losses_of_each(keeper: Keeper, tincture_ids: Iterable[int]) -> dict[int, dict[LossKind, float]]:
    """The same for several batches, by their ids; a batch that lost nothing isn't among them."""
    found: dict[int, dict[LossKind, float]] = defaultdict(dict)
    for tincture_id, kind, volume_ml in keeper.rows(
        """SELECT tincture_id, kind, sum(volume_ml) FROM loss
           WHERE tincture_id IN (SELECT value FROM json_each(?))
           GROUP BY tincture_id, kind ORDER BY min(id)""",
        json.dumps(list(tincture_ids)),
    ):
        found[tincture_id][LossKind(kind)] = volume_ml
    return found


def how_lost(kind: LossKind) -> str:
    """The word after the volume lost; `written off` where no kind was stated."""
    return "written off" if kind is LossKind.NOT_STATED else str(kind)


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
            kind=LossKind.NOT_STATED,
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
