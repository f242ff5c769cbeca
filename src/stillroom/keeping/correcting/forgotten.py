"""Rows that were forgotten: a herb, a pour, a bottle, a part of a blend."""

from collections.abc import Sequence
from datetime import date

from stillroom.errors import NotUnderstood
from stillroom.keeping.bottles.bottling import next_bottle_code, take_empty, write_bottle
from stillroom.keeping.correcting.bottle_changes import bottle, refuse_circle
from stillroom.keeping.correcting.jar_changes import agreed
from stillroom.keeping.correcting.kinds import NewValue, SubjectKind
from stillroom.keeping.correcting.line_lots import refuse_lot_of_added, take_from_lot
from stillroom.keeping.correcting.rows import Row, RowWriter, need, stored
from stillroom.keeping.cupboard.herb_names import herb_named
from stillroom.keeping.drafts import BottleDraft
from stillroom.reckoning.states import InputKind, LiquidKind, MovementKind


def add(w: RowWriter, group: str, facts: Sequence[NewValue]) -> None:
    """Add a row that was forgotten."""
    typed: Row = {each.fact.cell.column: stored(each.value) for each in facts}
    records = {each.fact.cell.record for each in facts}
    subject = facts[0].subject
    if "charge_line" in records:
        add_herb(w, subject.row_id, typed, group)
    elif "pour" in records:
        add_pour(w, subject.row_id, typed, group)
    elif "straining_go" in records:
        add_go(w, subject.row_id, typed, group)
    elif group.startswith("Part "):
        add_part(w, subject.row_id, typed, group)
    else:
        tincture_id = subject.row_id
        if subject.kind is SubjectKind.JAR:
            (tincture_id,) = w.one(
                """SELECT t.id FROM tincture t JOIN straining s ON s.id = t.straining_id
                   WHERE s.jar_id = ?""",
                subject.row_id,
            )
        add_bottle(w, tincture_id, typed, group)


def add_herb(w: RowWriter, jar_id: int, typed: Row, group: str) -> None:
    take_from_lot(w, typed)
    need(typed, group, herb_id="herb", part="part", condition="condition")
    columns = typed | {"jar_id": jar_id, "herb_id": herb_named(typed["herb_id"])}
    columns["origin"] = columns.get("origin") or ""
    refuse_lot_of_added(w, jar_id, columns)
    w.insert("charge_line", columns)


def add_pour(w: RowWriter, jar_id: int, typed: Row, group: str) -> None:
    need(typed, group, volume_ml="volume")
    (filled_on,) = w.one("SELECT filled_on FROM jar WHERE id = ?", jar_id)
    if "spirit_id" in typed:
        typed["spirit_id"] = int(typed["spirit_id"])
    kind = typed.get("kind") or str(LiquidKind.SPIRIT)
    if "liquid_id" in typed:
        typed["liquid_id"] = int(typed["liquid_id"])
    blank = {"kind": kind, "spirit_id": None, "strength_abv": 0.0, "liquid_id": None}
    day = typed.get("poured_on") or filled_on
    columns = agreed(w, blank, typed) | {"volume_ml": typed["volume_ml"], "poured_on": day}
    w.insert("pour", columns | {"jar_id": jar_id})


def add_go(w: RowWriter, jar_id: int, typed: Row, group: str) -> None:
    """Add a go; what was strained once becomes the first of two."""
    need(typed, group, yield_ml="yield", pressing="pressing")
    straining_id, day, pressing, yield_ml, note = w.one(
        "SELECT id, strained_on, pressing, yield_ml, note FROM straining WHERE jar_id = ?", jar_id
    )
    if not w.keeper.rows("SELECT 1 FROM straining_go WHERE straining_id = ?", straining_id):
        first = {"strained_on": day, "pressing": pressing, "yield_ml": yield_ml, "note": note}
        w.insert("straining_go", first | {"straining_id": straining_id})
        w.update("straining", straining_id, {"note": ""})
    columns = {"straining_id": straining_id, "strained_on": day, "maker": w.act.maker}
    w.insert("straining_go", columns | {k: v for k, v in typed.items() if v is not None})


def add_bottle(w: RowWriter, tincture_id: int, typed: Row, group: str) -> None:
    size_ml = typed.get("size_ml") or typed.get("volume_ml")
    if not size_ml:
        raise NotUnderstood(f"{group}: size is needed.")
    code, made_on = w.one("SELECT code, made_on FROM tincture WHERE id = ?", tincture_id)
    (last,) = w.one("SELECT max(filled_on) FROM bottle WHERE tincture_id = ?", tincture_id)
    draft = BottleDraft(size_ml, typed.get("volume_ml") or size_ml, typed.get("place") or "")
    write_bottle(
        w.act,
        tincture_id,
        next_bottle_code(w.keeper, tincture_id, code),
        draft,
        date.fromisoformat(typed.get("filled_on") or last or made_on),
        maker=w.act.maker,
        lots=(typed.get("bottle_lot") or "", typed.get("cap_lot") or ""),
    )
    take_empty(size_ml)


def add_part(w: RowWriter, blend_id: int, typed: Row, group: str) -> None:
    need(typed, group, bottle_id="bottle", volume_ml="volume")
    bottle_id, tincture_id = bottle(w, typed["bottle_id"])
    refuse_circle(w, blend_id, tincture_id, typed["bottle_id"])
    code, made_on = w.one("SELECT code, made_on FROM tincture WHERE id = ?", blend_id)
    movement_id = w.insert(
        "movement",
        {
            "bottle_id": bottle_id,
            "volume_ml": -typed["volume_ml"],
            "kind": str(MovementKind.BLEND),
            "at": w.act.at,
            "day": made_on,
            "maker": w.act.maker,
            "note": f"into {code}",
        },
    )
    w.insert(
        "batch_input",
        {"tincture_id": blend_id, "kind": str(InputKind.BOTTLE), "movement_id": movement_id},
    )
