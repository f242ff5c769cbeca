"""From a strained tincture into labelled bottles."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from stillroom.errors import Refused
from stillroom.keeping.bottles.losses import how_lost, write_loss
from stillroom.keeping.bottles.status import UNUSABLE
from stillroom.keeping.bottles.tinctures import tincture_view
from stillroom.keeping.codes import bottle_code
from stillroom.keeping.cupboard.cupboard import bottle_sizes
from stillroom.keeping.drafts import BottleDraft, BottlingDraft
from stillroom.keeping.keeper import Act, Keeper
from stillroom.keeping.tolerances import EMPTY_ML, LOOSE_ML
from stillroom.keeping.views import TinctureView
from stillroom.keeping.wording import Wording, wording
from stillroom.keeping.words import clean_name
from stillroom.quantities import how_many
from stillroom.reckoning.bottling import MOST_ML, Sharing, SizeToFill, share_into_bottles
from stillroom.reckoning.states import MovementKind
from stillroom.records.tables import Bottle, BottleSize, Movement

USUAL_SIZES_ML = (500.0, 250.0, 100.0, 50.0)
"""Offered until the user enters sizes. Common practice, no source."""


NEARLY_FULL = 0.9
"""A last bottle filled this far serves as a full one. Common practice, no source."""


def propose_bottles(keeper: Keeper, volume_ml: float) -> tuple[BottleDraft, ...]:
    """Bottles for a volume: full ones with least left over, or fewer of which one is nearly full.

    What remains beyond full bottles goes into one more, the smallest that holds it, unless it is
    next to nothing.
    """
    sizes = [SizeToFill(s.size_ml, s.empties) for s in bottle_sizes(keeper)]
    sizes = sizes or [SizeToFill(ml) for ml in USUAL_SIZES_ML]
    proposals = [_full_and_rest(volume_ml, sizes)]
    proposals += filter(None, (_with_one_short(volume_ml, sizes, size) for size in sizes))
    return min(proposals, key=len)


def _full_and_rest(volume_ml: float, sizes: Sequence[SizeToFill]) -> tuple[BottleDraft, ...]:
    sharing = share_into_bottles(volume_ml, sizes)
    full = _filled(sharing, sizes)
    spare = [
        size.size_ml
        for size, count in zip(sizes, sharing.counts, strict=True)
        if size.size_ml >= sharing.left_over_ml and (size.empties is None or size.empties > count)
    ]
    if sharing.left_over_ml > LOOSE_ML and spare:
        full.append(BottleDraft(min(spare), sharing.left_over_ml))
    return tuple(full)


def _with_one_short(
    volume_ml: float, sizes: Sequence[SizeToFill], short: SizeToFill
) -> tuple[BottleDraft, ...]:
    """Bottles of which the last, of one size, is nearly full; none where that does not come out."""
    room_ml = volume_ml + (1 - NEARLY_FULL) * short.size_ml
    if room_ml > MOST_ML:
        return ()
    sharing = share_into_bottles(room_ml, sizes)
    filled = _filled(sharing, sizes)
    too_much = sharing.bottled_ml - volume_ml
    last = BottleDraft(short.size_ml, short.size_ml)
    if too_much < 0 or last not in filled:
        return ()
    filled.remove(last)
    filled.append(BottleDraft(short.size_ml, short.size_ml - too_much))
    return tuple(sorted(filled, key=lambda bottle: -bottle.size_ml))


def _filled(sharing: Sharing, sizes: Sequence[SizeToFill]) -> list[BottleDraft]:
    return [
        BottleDraft(size.size_ml, size.size_ml)
        for size, count in zip(sizes, sharing.counts, strict=True)
        for _ in range(count)
    ]


def bottle_up(keeper: Keeper, draft: BottlingDraft) -> TinctureView:
    """Fill bottles from a tincture; what is left over stays, or is written off."""
    said = wording(keeper)
    with keeper.act("Bottled") as act:
        tincture = tincture_view(keeper, draft.tincture_id)
        if draft.bottles and draft.filled_on >= act.day and (why := not_to_bottle(tincture)):
            raise Refused(why)
        draft = replace(draft, bottles=as_they_read(draft.bottles, tincture.loose_ml, said))
        _check(tincture, draft, act.day, said)
        for each in draft.bottles:
            code = next_bottle_code(keeper, tincture.tincture_id, tincture.code)
            write_bottle(
                act,
                tincture.tincture_id,
                code,
                each,
                draft.filled_on,
                maker=act.maker,
                lots=(draft.bottle_lot, draft.cap_lot),
            )
            take_empty(each.size_ml)
        bottled = sum(bottle.volume_ml for bottle in draft.bottles)
        rest = max(0.0, tincture.loose_ml - bottled)
        done = f"{how_many(len(draft.bottles), 'bottle')}, {said.volume(bottled)}"
        if draft.write_off_rest and rest:
            write_loss(act, tincture.tincture_id, draft.lost_as, rest, draft.filled_on)
            done += f"; {said.volume(rest)} {how_lost(draft.lost_as)}"
        act.title = f"Bottled {tincture.name} {tincture.code}"
        act.note("bottled", done, jar_id=tincture.jar_id, tincture_id=tincture.tincture_id)
        return tincture_view(keeper, tincture.tincture_id)


def not_to_bottle(tincture: TinctureView) -> str:
    """Why a batch may not be bottled, with the way out; blank where it may.

    What was bottled on an earlier day and is noted late did happen.
    """
    if tincture.status not in UNUSABLE:
        return ""
    return (
        f"Batch {tincture.code} was {tincture.status}, so it isn't bottled. Leave out the bottles "
        "and write off what is left over."
    )


def as_they_read(
    bottles: Sequence[BottleDraft], loose_ml: float, said: Wording
) -> tuple[BottleDraft, ...]:
    """The bottles meant: all there is to bottle, if they are typed as that reads, rounded.

    Who reads 434.7 mL as 435 mL fills 250 and 185 mL; the last bottle is as much less.
    """
    over_ml = sum(bottle.volume_ml for bottle in bottles) - loose_ml
    if over_ml <= 0 or said.volume(loose_ml + over_ml) != said.volume(loose_ml):
        return tuple(bottles)
    *others, last = bottles
    if last.volume_ml <= over_ml:
        return tuple(bottles)
    return (*others, replace(last, volume_ml=last.volume_ml - over_ml))


def not_enough_for(bottled_ml: float, loose_ml: float, said: Wording) -> str:
    """That bottles take more than there is to bottle, with both amounts."""
    return (
        f"Not enough left: these bottles need {said.volume(bottled_ml)}, but only "
        f"{said.volume(loose_ml)} is left to bottle."
    )


def next_bottle_code(keeper: Keeper, tincture_id: int, batch: str) -> str:
    """The code of the next bottle of a batch: bottles may have been removed between others."""
    taken = {
        code
        for (code,) in keeper.rows("SELECT code FROM bottle WHERE tincture_id = ?", tincture_id)
    }
    numbers = (code.rpartition(".")[2] for code in taken)
    highest = max((int(n) for n in numbers if n.isdecimal()), default=0)
    return bottle_code(batch, max(highest, len(taken)) + 1)


def take_empty(size_ml: float) -> None:
    """Count one clean bottle of a size less, where they are counted."""
    BottleSize.update(empties=BottleSize.empties - 1).where(
        (BottleSize.size_ml == size_ml) & (BottleSize.empties > 0)
    ).execute()


def _check(tincture: TinctureView, draft: BottlingDraft, today: date, said: Wording) -> None:
    if not draft.bottles and not draft.write_off_rest:
        raise Refused("Enter at least one bottle.")
    if draft.filled_on > today:
        raise Refused("The bottling date is in the future.")
    if draft.filled_on < tincture.made_on:
        made = "blending" if tincture.is_blend else "straining"
        raise Refused(f"The bottling date is before the {made}.")
    bottled = 0.0
    for bottle in draft.bottles:
        if not 0 < bottle.volume_ml <= bottle.size_ml + EMPTY_ML:
            raise Refused(
                f"A bottle of {said.volume(bottle.size_ml)} can't hold "
                f"{said.volume(bottle.volume_ml)}."
            )
        bottled += bottle.volume_ml
    if bottled > tincture.loose_ml + EMPTY_ML:
        raise Refused(not_enough_for(bottled, tincture.loose_ml, said))


def write_bottle(
    act: Act,
    tincture_id: int,
    code: str,
    draft: BottleDraft,
    filled_on: date,
    *,
    maker: str,
    note: str = "",
    lots: tuple[str, str] = ("", ""),
) -> int:
    """Write the rows of a filled bottle inside a running act, its draft checked; returns its id.

    `lots` are those of the empty bottle and of its cap.
    """
    of_bottle, of_cap = lots
    bottle_id = Bottle.insert(
        code=code,
        tincture=tincture_id,
        size_ml=draft.size_ml,
        filled_on=filled_on,
        place=clean_name(draft.place, "The place", required=False),
        bottle_lot=clean_name(of_bottle, "The lot", required=False),
        cap_lot=clean_name(of_cap, "The lot", required=False),
    ).execute()
    Movement.insert(
        bottle=bottle_id,
        volume_ml=draft.volume_ml,
        kind=MovementKind.FILL,
        at=act.at,
        day=filled_on,
        maker=maker,
        note=note,
    ).execute()
    return int(bottle_id)
