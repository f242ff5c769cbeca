"""Corrections of lots of herb, and of what jars and parts of a lot have from them."""

from dataclasses import replace
from datetime import date

from stillroom.errors import Refused
from stillroom.keeping.correcting.kinds import Value
from stillroom.keeping.correcting.rows import Row, RowWriter, stored
from stillroom.keeping.cupboard.herb_names import herb_named
from stillroom.keeping.cupboard.lot_reading import herb_lot
from stillroom.keeping.cupboard.lot_views import HerbLotView, origin_words
from stillroom.keeping.wording import wording
from stillroom.reckoning.states import HerbCame, HerbMovementKind

FAMILY = """
    WITH RECURSIVE family (id) AS (
        SELECT ? UNION SELECT l.id FROM herb_lot l JOIN family f ON l.from_lot_id = f.id)
    SELECT id FROM family
"""
"""A lot and the parts of it that were laid out."""


def lot_herb(w: RowWriter, lot_id: int, value: Value) -> None:
    """Correct which herb it is."""
    w.set("herb_lot", lot_id, herb_id=herb_named(str(value)))


def dry_weight(w: RowWriter, lot_id: int, value: Value) -> None:
    """Correct what it weighed dry."""
    assert isinstance(value, float | int)
    w.lots = replace(w.lots, dry_g={**w.lots.dry_g, lot_id: value})


def laid_out_weight(w: RowWriter, lot_id: int, value: Value) -> None:
    """Correct how much of another lot was laid out."""
    assert isinstance(value, float | int)
    w.lots = replace(w.lots, laid_out_g={**w.lots.laid_out_g, lot_id: value})


def used_up(w: RowWriter, lot_id: int, value: Value) -> None:
    """Move the day on which a lot ended, or let it not have ended."""
    w.set("herb_lot", lot_id, used_up_on=stored(value))
    for movement_id, kind in w.keeper.rows(
        "SELECT id, kind FROM herb_movement WHERE lot_id = ? ORDER BY id", lot_id
    ):
        if movement_id not in w.lots.ended:
            continue
        if value is not None:
            w.rows["herb_movement", movement_id].setdefault("day", stored(value))
            continue
        w.lots = replace(w.lots, ended=w.lots.ended - {movement_id})
        if kind == HerbMovementKind.USED_UP:
            _remove(w, movement_id)


def taken(w: RowWriter, movement_id: int, value: Value) -> None:
    """Correct how much was taken out of a lot, or remove the entry."""
    if not value:
        _remove(w, movement_id)
        return
    assert isinstance(value, float | int)
    w.set("herb_movement", movement_id, mass_g=-value)


def weighed(w: RowWriter, movement_id: int, value: Value) -> None:
    """Correct what a lot weighed when it was seen, or remove the entry."""
    if value is None:
        _remove(w, movement_id)
        return
    assert isinstance(value, float | int)
    w.lots = replace(w.lots, seen_g={**w.lots.seen_g, movement_id: value})


def _remove(w: RowWriter, movement_id: int) -> None:
    w.execute("DELETE FROM herb_movement WHERE id = ?", movement_id)
    w.rows.pop(("herb_movement", movement_id), None)


def correct_lot(w: RowWriter, lot_id: int, columns: Row) -> None:
    """Let the parts of a lot and the jars that took from it have its corrected facts.

    Refused where its days would not be in order.
    """
    before = herb_lot(w.keeper, lot_id)
    _refuse_days(w, lot_id, columns)
    _refuse_early_end(w, lot_id, columns)
    _move_drying(w, before, columns)
    family = [found for (found,) in w.keeper.rows(FAMILY, lot_id)]
    copied = {name: columns[name] for name in _COPIED if name in columns}
    for part_id in family[1:]:
        if copied:
            _refuse_days(w, part_id, copied)
            w.update("herb_lot", part_id, copied)
    came = HerbCame(columns.get("came", before.came))
    got_on = columns.get("got_on", before.got_on.isoformat())
    gathered_on = got_on if came is HerbCame.GATHERED else None
    origin = origin_words(
        columns.get("origin", before.origin), columns.get("seller_lot", before.seller_lot)
    )
    changes = (
        ("gathered_on", before.gathered_on and before.gathered_on.isoformat(), gathered_on),
        ("origin", before.where_from, origin),
    )
    for each in family:
        for column in ("herb_id", "part"):
            if column in columns:
                _update_lines(w, each, column, columns[column])
        for column, was, now in changes:
            if was != now:
                _update_lines(w, each, column, now, f"{column} IS ?", was)
    for column, as_it_was in (
        ("water_fraction", before.water_fraction),
        ("condition", str(before.condition)),
    ):
        if column in columns:
            same = f"condition = ? AND {column} IS ? AND {_NO_MARC}"
            values = str(before.condition), as_it_was
            _update_lines(w, lot_id, column, columns[column], same, *values)


_NO_MARC = "NOT EXISTS (SELECT 1 FROM jar j WHERE j.id = jar_id AND j.marc_of_id IS NOT NULL)"
_COPIED = ("herb_id", "part", "came", "got_on", "origin", "seller_lot")


def _update_lines(
    w: RowWriter, lot_id: int, column: str, value: object, also: str = "1", *values: object
) -> None:
    w.execute(
        f"UPDATE charge_line SET {column} = ? WHERE lot_id = ? AND {also}", value, lot_id, *values
    )


def _refuse_days(w: RowWriter, lot_id: int, columns: Row) -> None:
    """Refuse days of a lot that would not be in order, with the fields to correct."""
    names = ("code", "got_on", "laid_out_on", "dry_on", "used_up_on")
    row = w.one("SELECT code, got_on, laid_out_on, dry_on, used_up_on FROM herb_lot WHERE id = ?",
                lot_id)  # fmt: skip
    lot = dict(zip(names, row, strict=True)) | columns
    said = wording(w.keeper)
    for (earlier, did, field), (later, after, other) in _IN_ORDER:
        if lot[earlier] is None or lot[later] is None or lot[earlier] <= lot[later]:
            continue
        days = [said.day(date.fromisoformat(lot[each])) for each in (earlier, later)]
        raise Refused(
            f"{lot['code']} would be {did} on {days[0]}, after it was {after} on {days[1]}. "
            f"Correct that day too: {other if earlier in columns else field}=…"
        )


def _refuse_early_end(w: RowWriter, lot_id: int, columns: Row) -> None:
    """Refuse that a lot ended before something was done with it."""
    end = columns.get("used_up_on")
    if end is None:
        return
    others = w.keeper.rows(
        """SELECT id, day FROM herb_movement WHERE lot_id = ?
           UNION ALL SELECT NULL, j.filled_on FROM charge_line c JOIN jar j ON j.id = c.jar_id
                     WHERE c.lot_id = ? AND j.marc_of_id IS NULL
           UNION ALL SELECT NULL, laid_out_on FROM herb_lot WHERE from_lot_id = ?""",
        *[lot_id] * 3,
    )
    latest = max((day for found, day in others if found not in w.lots.ended), default=end)
    if latest > end:
        said = wording(w.keeper)
        raise Refused(
            f"There was still some on {said.day(date.fromisoformat(latest))}: a lot can't be used "
            "up before its other entries."
        )


def _move_drying(w: RowWriter, before: HerbLotView, columns: Row) -> None:
    """Move the entries of laying out and drying with their days."""
    for column, was in (("laid_out_on", before.laid_out_on), ("dry_on", before.dry_on)):
        if column not in columns or was is None:
            continue
        kinds = {str(HerbMovementKind.DRIED)} if column == "dry_on" else set()
        if before.mass_g is None:  # which was weighed then
            kinds.add(str(HerbMovementKind.WEIGH_IN))
        for movement_id, kind in w.keeper.rows(
            "SELECT id, kind FROM herb_movement WHERE lot_id = ? AND day = ?",
            before.lot_id, was.isoformat(),
        ):  # fmt: skip
            if kind in kinds:
                w.execute(
                    "UPDATE herb_movement SET day = ? WHERE id = ?", columns[column], movement_id
                )


_GOT = ("got_on", "gathered or bought", "got")
_LAID_OUT = ("laid_out_on", "laid out", "laid-out")
_DRY = ("dry_on", "dry", "dry")
_USED_UP = ("used_up_on", "used up", "used-up")
_IN_ORDER = ((_GOT, _LAID_OUT), (_GOT, _DRY), (_LAID_OUT, _DRY), (_GOT, _USED_UP))
