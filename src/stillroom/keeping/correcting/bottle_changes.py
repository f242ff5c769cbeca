"""Corrections of tinctures, bottles and what left them."""

from dataclasses import replace

from stillroom.errors import Refused
from stillroom.keeping.bottles.bottling import take_empty
from stillroom.keeping.correcting.columns import USUAL
from stillroom.keeping.correcting.kinds import Obstacle, Value
from stillroom.keeping.correcting.rows import Row, RowWriter, stored
from stillroom.keeping.graph import downstream
from stillroom.keeping.tolerances import EMPTY_ML
from stillroom.keeping.wording import wording
from stillroom.reckoning.states import MovementKind


def lost(w: RowWriter, tincture_id: int, value: Value) -> None:
    """Correct how much was written off."""
    w.set("tincture", tincture_id, lost_ml=value)
    w.lost_by_hand.add(tincture_id)


def loss_volume(w: RowWriter, loss_id: int, value: Value) -> None:
    """Correct how much was lost once, and with it the total; or remove the entry."""
    tincture_id, before_ml, total_ml = w.one(
        """SELECT t.id, l.volume_ml, t.lost_ml FROM loss l JOIN tincture t ON t.id = l.tincture_id
           WHERE l.id = ?""",
        loss_id,
    )
    assert isinstance(value, float | int)
    total_ml = w.rows["tincture", tincture_id].get("lost_ml", total_ml)
    lost(w, tincture_id, max(0.0, total_ml + value - before_ml))
    if value:
        w.set("loss", loss_id, volume_ml=value)
    else:
        w.execute("DELETE FROM loss WHERE id = ?", loss_id)
        w.rows.pop(("loss", loss_id), None)


def input_volume(w: RowWriter, input_id: int, value: Value) -> None:
    """Correct how much of something went into a batch, or remove it."""
    if value:
        w.set("batch_input", input_id, volume_ml=value)
    else:
        w.execute("DELETE FROM batch_input WHERE id = ?", input_id)
        w.rows.pop(("batch_input", input_id), None)


def returned_volume(w: RowWriter, return_id: int, value: Value) -> None:
    """Correct how much came back, or remove the entry."""
    if value:
        w.set("returned", return_id, volume_ml=value)
    else:
        w.execute("DELETE FROM returned WHERE id = ?", return_id)
        w.rows.pop(("returned", return_id), None)


def blended_on(w: RowWriter, tincture_id: int, value: Value) -> None:
    """Move a blend, and what was drawn for it, to another day."""
    w.set("tincture", tincture_id, made_on=stored(value))
    for (movement_id,) in w.keeper.rows(
        "SELECT movement_id FROM batch_input WHERE tincture_id = ? AND movement_id IS NOT NULL",
        tincture_id,
    ):
        w.set("movement", movement_id, day=stored(value))


def bottled_on(w: RowWriter, bottle_id: int, value: Value) -> None:
    """Move the filling of a bottle to another day."""
    w.set("bottle", bottle_id, filled_on=stored(value))
    (fill_id,) = w.one("SELECT id FROM movement WHERE bottle_id = ? AND kind = 'fill'", bottle_id)
    w.set("movement", fill_id, day=stored(value))


def size(w: RowWriter, bottle_id: int, value: Value) -> None:
    """Correct the size of a bottle, and the counts of empty ones."""
    (before_ml,) = w.one("SELECT size_ml FROM bottle WHERE id = ?", bottle_id)
    assert isinstance(value, float | int)
    w.set("bottle", bottle_id, size_ml=value)
    if counts_empties_of(w, bottle_id):
        give_back_empty(w, before_ml)
        take_empty(value)


def counts_empties_of(w: RowWriter, bottle_id: int) -> bool:
    """Whether nobody has counted the empty bottles again since this one was filled."""
    return not w.keeper.rows(
        """SELECT 1 FROM standing e JOIN movement m ON m.bottle_id = ? AND m.kind = 'fill'
           WHERE e.kind = 'bottle sizes' AND e.at > m.at LIMIT 1""",
        bottle_id,
    )


def give_back_empty(w: RowWriter, size_ml: float) -> None:
    w.execute("UPDATE bottle_size SET empties = empties + 1 WHERE size_ml = ?", size_ml)


def moved_volume(w: RowWriter, movement_id: int, value: Value) -> None:
    """Correct how much went in or out of a bottle, or remove the entry."""
    before_ml, kind, bottle_id = w.one(
        "SELECT volume_ml, kind, bottle_id FROM movement WHERE id = ?", movement_id
    )
    assert isinstance(value, float | int)
    if kind == MovementKind.FILL and not value:
        w.bottles_to_remove.append(bottle_id)
        return
    for each_id in (movement_id, *other_end(w, movement_id)):
        # It is as much as is said here, whatever was in the bottle.
        kept = {giver: taker for giver, taker in w.seen.into.items() if each_id != giver}
        w.seen = replace(w.seen, emptied=w.seen.emptied - {each_id}, into=kept)
        if not value:
            w.execute("DELETE FROM batch_input WHERE movement_id = ?", each_id)
            w.execute("DELETE FROM pour WHERE movement_id = ?", each_id)
            w.execute("DELETE FROM movement WHERE id = ?", each_id)
            continue
        goes_in = before_ml > 0 if each_id == movement_id else before_ml < 0
        w.set("movement", each_id, volume_ml=value if goes_in else -value)


def other_end(w: RowWriter, movement_id: int) -> list[int]:
    """The entry of the other bottle, where one was poured into another."""
    rows = w.keeper.rows(
        """SELECT o.id FROM movement m JOIN movement o
           ON o.at = m.at AND o.kind = m.kind AND o.volume_ml = -m.volume_ml
           WHERE m.id = ? AND m.kind = ? ORDER BY abs(o.id - m.id) LIMIT 1""",
        movement_id,
        MovementKind.POUR_TOGETHER,
    )
    return [found for (found,) in rows]


def moved_on(w: RowWriter, movement_id: int, value: Value) -> None:
    """Correct the day of an entry; both ends of a pouring are of one day."""
    for each_id in (movement_id, *other_end(w, movement_id)):
        w.set("movement", each_id, day=stored(value))


def seen(w: RowWriter, movement_id: int, value: Value) -> None:
    """Correct what a bottle held when it was seen, or remove the entry."""
    if value is None:
        w.execute("DELETE FROM movement WHERE id = ?", movement_id)
        return
    assert isinstance(value, float | int)
    w.seen = replace(w.seen, seen_ml={**w.seen.seen_ml, movement_id: value})


def kept_until(w: RowWriter, tincture_id: int, value: Value) -> None:
    """Set a keep-until date by hand, or have it calculated again."""
    if value == USUAL:
        w.set("tincture", tincture_id, keep_until_by_hand=0)
    else:
        w.set("tincture", tincture_id, keep_until=stored(value), keep_until_by_hand=1)


def from_bottle(w: RowWriter, movement_id: int, value: Value) -> None:
    """Correct from which bottle something was drawn."""
    bottle_id, tincture_id = bottle(w, str(value))
    for (blend_id,) in w.keeper.rows(
        "SELECT tincture_id FROM batch_input WHERE movement_id = ?", movement_id
    ):
        refuse_circle(w, blend_id, tincture_id, str(value))
    for other_id in other_end(w, movement_id):
        _refuse_another_batch(w, other_id, bottle_id, tincture_id)
    fills = w.keeper.rows(
        "SELECT id FROM movement WHERE bottle_id = ? AND kind = 'fill'", bottle_id
    )
    if not fills or fills[0][0] < movement_id:
        w.set("movement", movement_id, bottle_id=bottle_id)
    else:
        _enter_again(w, movement_id, bottle_id)


def _refuse_another_batch(w: RowWriter, other_id: int, bottle_id: int, tincture_id: int) -> None:
    """Refuse to pour together what isn't of one batch, or a bottle into itself."""
    code, other_bottle, other_batch = w.one(
        """SELECT b.code, b.id, b.tincture_id FROM movement m JOIN bottle b ON b.id = m.bottle_id
           WHERE m.id = ?""",
        other_id,
    )
    if other_bottle == bottle_id:
        raise Refused(f"{code} is the other bottle of this entry.")
    if other_batch != tincture_id:
        raise Refused(f"Only bottles of one batch are poured together, and the other is {code}.")


def _enter_again(w: RowWriter, movement_id: int, bottle_id: int) -> None:
    """Move an entry that is numbered before the filling of its bottle, as after an import."""
    row = w.one(
        "SELECT volume_ml, kind, at, day, maker, note, person FROM movement WHERE id = ?",
        movement_id,
    )
    names = ("volume_ml", "kind", "at", "day", "maker", "note", "person")
    columns = dict(zip(names, row, strict=True)) | w.rows.pop(("movement", movement_id), {})
    again = w.insert("movement", columns | {"bottle_id": bottle_id})
    w.execute("UPDATE batch_input SET movement_id = ? WHERE movement_id = ?", again, movement_id)
    w.execute("DELETE FROM movement WHERE id = ?", movement_id)


def bottle(w: RowWriter, code: str) -> tuple[int, int]:
    """Ids of the bottle of a code and of its tincture."""
    rows = w.keeper.rows(
        "SELECT id, tincture_id FROM bottle WHERE lower(code) = ?", code.casefold()
    )
    if not rows:
        raise Refused(f"No bottle has the code {code}.")
    return rows[0][0], rows[0][1]


def refuse_circle(w: RowWriter, blend_id: int, tincture_id: int, code: str) -> None:
    """Refuse a part of a blend that was itself made with it."""
    if tincture_id in downstream(w.keeper, [blend_id]):
        raise Refused(f"{code} was itself made with this blend, so it can't be part of it.")


def remove_bottle(w: RowWriter, bottle_id: int) -> None:
    """Remove a bottle that was never filled."""
    code, size_ml = w.one("SELECT code, size_ml FROM bottle WHERE id = ?", bottle_id)
    ((others,),) = w.keeper.rows(
        "SELECT count(*) FROM movement WHERE bottle_id = ? AND kind <> 'fill'", bottle_id
    )
    if others:
        names = tuple(f"{code}:movement-{n}.volume" for n in range(1, others + 1))
        w.obstacles.append(
            Obstacle(
                f"Bottle {code} has other entries; remove them too, or move them to another "
                f"bottle: {names[0]}=0 or {code}:movement-1.bottle=…",
                names,
            )
        )
        return
    returns = w.keeper.rows("SELECT 1 FROM returned WHERE bottle_id = ?", bottle_id)
    if returns:
        names = tuple(f"{code}:returned-{n}.volume" for n in range(1, len(returns) + 1))
        w.obstacles.append(
            Obstacle(f"Some of bottle {code} came back; remove that entry too: {names[0]}=0", names)
        )
        return
    if counts_empties_of(w, bottle_id):
        give_back_empty(w, size_ml)
    w.execute("DELETE FROM movement WHERE bottle_id = ?", bottle_id)
    w.execute("DELETE FROM bottle WHERE id = ?", bottle_id)


def lose_no_more_than_was_there(w: RowWriter, tincture_id: int, columns: Row) -> None:
    """Refuse, as an obstacle, to write off more than there was."""
    volume_ml, lost_ml = w.one("SELECT volume_ml, lost_ml FROM tincture WHERE id = ?", tincture_id)
    volume_ml, lost_ml = columns.get("volume_ml", volume_ml), columns.get("lost_ml", lost_ml)
    if lost_ml > volume_ml + EMPTY_ML:
        said = wording(w.keeper)
        text = f"{said.volume(lost_ml)} would be written off, of only {said.volume(volume_ml)}."
        w.obstacles.append(Obstacle(text, ("lost",)))
        columns.pop("lost_ml", None)
