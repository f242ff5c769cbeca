"""Corrections of the lot that the herb of a jar was taken from."""

from collections.abc import Iterator, Sequence
from datetime import date
from typing import Any

from stillroom.dates import day_or_none
from stillroom.keeping.correcting.kinds import NewValue, Obstacle, Value
from stillroom.keeping.correcting.rows import Row, RowWriter
from stillroom.keeping.cupboard.lot_reading import entries_of, herb_lot, herb_lot_of_code
from stillroom.keeping.cupboard.lot_views import HerbLotView
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.tolerances import EMPTY_G
from stillroom.keeping.wording import wording
from stillroom.keeping.words import arrow
from stillroom.reckoning.charge import Condition

_COLUMNS = (
    "jar_id", "lot_id", "herb_id", "part", "condition", "water_fraction", "gathered_on", "origin",
)  # fmt: skip
_LINE = f"SELECT {', '.join(_COLUMNS)} FROM charge_line WHERE id = ?"


def line_lot(w: RowWriter, line_id: int, value: Value) -> None:
    """Correct which lot the herb was taken from."""
    w.set("charge_line", line_id, lot_id=_lot_id(w.keeper, value))


def _lot_id(keeper: Keeper, code: Value) -> int | None:
    return None if code in (None, "") else herb_lot_of_code(keeper, str(code)).lot_id


def agree_with_lot(w: RowWriter, line_id: int, columns: Row) -> None:
    """Copy what is known of a lot to a line of herb taken from it, and to the marc of that herb.

    Herb that is of another herb or part than its lot wasn't taken from it. A lot that it can't
    have been taken from is an obstacle, and is not written.
    """
    rows = w.keeper.rows(_LINE, line_id)
    if not rows:  # it was removed
        columns.clear()
        return
    before = dict(zip(_COLUMNS, rows[0], strict=True))
    old = None if before["lot_id"] is None else herb_lot(w.keeper, before["lot_id"])
    if "lot_id" not in columns:
        if old is not None and _other_herb(old, before | columns):
            columns["lot_id"] = None
        return
    new = None if columns["lot_id"] is None else herb_lot(w.keeper, columns["lot_id"])
    if new is not None:
        found = list(_obstacles(w, new, before | columns, _suffix(w, before["jar_id"], line_id)))
        if found:
            w.obstacles += found
            del columns["lot_id"]
            return
    was = _known_of(old, before["condition"])
    now = _known_of(new, columns.get("condition", before["condition"]))
    for column, value in now.items():
        if column not in columns and before[column] in (was[column], None, ""):
            columns[column] = value
            if value != before[column]:
                w.followed.append(_in_words(w, before, column, value))
    _marc_follows(w, line_id, before, {n: columns[n] for n in _OF_MARC if n in columns})


def take_from_lot(w: RowWriter, typed: Row) -> None:
    """Fill in what wasn't typed of a forgotten line of herb from its lot."""
    lot_id = _lot_id(w.keeper, typed.get("lot_id"))
    if lot_id is None:
        return
    lot = herb_lot(w.keeper, lot_id)
    facts = {"herb_id": lot.herb, "part": str(lot.part), "condition": str(lot.condition)}
    typed |= {"lot_id": lot_id} | {n: v for n, v in facts.items() if not typed.get(n)}
    known = _known_of(lot, typed["condition"])
    typed |= {n: v for n, v in known.items() if typed.get(n) in (None, "")}


def refuse_lot_of_added(w: RowWriter, jar_id: int, columns: Row) -> None:
    """Note why a herb line to be added can't have been taken from its lot."""
    if columns.get("lot_id") is not None:
        lot = herb_lot(w.keeper, columns["lot_id"])
        (lines,) = w.one("SELECT count(*) FROM charge_line WHERE jar_id = ?", jar_id)
        suffix = f"-{lines + 1}" if lines else ""
        w.obstacles += _obstacles(w, lot, columns | {"jar_id": jar_id}, suffix)


_OF_MARC = ("lot_id", "gathered_on", "origin")
"""Columns that the herb of a marc copies from its first jar; the water in it isn't known."""


def _known_of(lot: HerbLotView | None, condition: str) -> dict[str, Any]:
    """The columns that a line of herb copies from its lot, as they are stored."""
    if lot is None:
        return {"gathered_on": None, "origin": "", "water_fraction": None}
    return {
        "gathered_on": lot.gathered_on and lot.gathered_on.isoformat(),
        "origin": lot.where_from,
        "water_fraction": lot.water_fraction if condition == lot.condition else None,
    }


def _in_words(w: RowWriter, before: Row, column: str, value: Any) -> str:
    """What follows from another lot, old → new."""
    (code,) = w.one("SELECT code FROM jar WHERE id = ?", before["jar_id"])
    said = wording(w.keeper)
    was, now = before[column], value
    if column == "gathered_on":
        was, now = (said.day(day_or_none(day)) for day in (was, now))
    elif column == "water_fraction":
        was, now = ("" if each is None else said.percent(100 * each) for each in (was, now))
    return f"{code} {_CALLED[column]} {arrow(was or 'blank', now or 'blank')}"


_CALLED = {"gathered_on": "gathered on", "origin": "origin", "water_fraction": "water measured"}


def _other_herb(lot: HerbLotView, line: Row) -> bool:
    return (lot.herb_id, str(lot.part)) != (line["herb_id"], str(line["part"]))


def _suffix(w: RowWriter, jar_id: int, line_id: int) -> str:
    """The numbered suffix of the names of a herb line's facts, such as `-2`; none for the first."""
    (before,) = w.one(
        "SELECT count(*) FROM charge_line WHERE jar_id = ? AND id < ?", jar_id, line_id
    )
    return f"-{before + 1}" if before else ""


def _obstacles(w: RowWriter, lot: HerbLotView, line: Row, suffix: str) -> Iterator[Obstacle]:
    """Why the herb of a line can't be of this lot, with the way out."""
    said = wording(w.keeper)
    if _other_herb(lot, line):
        names = f"herb{suffix}", f"part{suffix}"
        yield Obstacle(
            f"{lot.code} is {lot.herb}, {lot.part}. Correct the herb or its part too: "
            f"{names[0]}=… or {names[1]}=…",
            names,
        )
    if line["condition"] == Condition.DRIED and lot.condition is Condition.FRESH:
        name = f"condition{suffix}"
        yield Obstacle(
            f"{lot.code} is still fresh. Correct the condition too: {name}=fresh", (name,)
        )
    (filled_on,) = w.one("SELECT filled_on FROM jar WHERE id = ?", line["jar_id"])
    filled_on = w.rows.get(("jar", line["jar_id"]), {}).get("filled_on", filled_on)
    typed = w.rows.get(("herb_lot", lot.lot_id), {})
    got_on = typed.get("got_on", lot.got_on.isoformat())
    used_up_on = typed.get("used_up_on", lot.used_up_on and lot.used_up_on.isoformat())
    found = []
    if filled_on < got_on:
        found.append((got_on, str(lot.came), "after", "got"))
    if used_up_on is not None and used_up_on < filled_on:
        found.append((used_up_on, "used up", "before", "used-up"))
    for day, did, when, field in found:
        days = "filled", f"{lot.code}:{field}"
        yield Obstacle(
            f"{lot.code} was {did} on {said.day(date.fromisoformat(day))}, {when} the jar was "
            f"filled. Correct one of these days too: {days[0]}=… or {days[1]}=…",
            days,
        )


def _marc_follows(w: RowWriter, line_id: int, before: Row, changes: Row) -> None:
    """Give marc that was poured on again the lot of its herb."""
    marc = w.keeper.rows(
        """SELECT m.id FROM charge_line m JOIN jar j ON j.id = m.jar_id
           WHERE j.marc_of_id = ? AND m.herb_id = ? AND m.part = ? AND m.lot_id IS ?
                 AND (SELECT count(*) FROM charge_line o WHERE o.jar_id = m.jar_id AND o.id < m.id)
                   = (SELECT count(*) FROM charge_line o WHERE o.jar_id = ? AND o.id < ?)""",
        before["jar_id"], before["herb_id"], before["part"], before["lot_id"],
        before["jar_id"], line_id,
    )  # fmt: skip
    for (marc_id,) in marc:
        row = dict(zip(_COLUMNS, w.one(_LINE, marc_id), strict=True))
        same = {n: v for n, v in changes.items() if n == "lot_id" or row[n] == before[n]}
        w.update("charge_line", marc_id, same)
        _marc_follows(w, marc_id, row, same)


def short_when_filled(keeper: Keeper, asked: Sequence[NewValue]) -> Iterator[Obstacle]:
    """Lots that a corrected jar takes more from than they held by then, though not in the end."""
    for each in asked:
        if each.fact.cell.column != "lot_id" or not each.value:
            continue
        lot = herb_lot_of_code(keeper, str(each.value))
        ((left_g,),) = keeper.rows("SELECT left_g FROM in_store WHERE lot_id = ?", lot.lot_id)
        if left_g is None or left_g < -EMPTY_G:  # which is judged with the cupboard
            continue
        said = wording(keeper)
        for entry in entries_of(keeper, [lot.lot_id])[lot.lot_id]:
            if entry.jar_id != each.subject.row_id or entry.mass_g is None:
                continue
            if entry.left_g is not None and entry.left_g < -EMPTY_G:
                suffix = each.fact.name.removeprefix("lot")
                name = f"weight{suffix}"
                yield Obstacle(
                    f"{lot.code} held {said.mass(max(0.0, entry.left_g - entry.mass_g))} when the "
                    f"jar was filled, and this takes {said.mass(-entry.mass_g)}. Correct the "
                    f"weight too: {name}=…",
                    (name,),
                )
