"""Corrections of spirits and herbs, and of what was counted and taken in the cupboard."""

from collections.abc import Sequence
from dataclasses import replace

from stillroom.errors import Refused
from stillroom.keeping.codes import refuse_taken
from stillroom.keeping.correcting.columns import FROM_NOW_ON
from stillroom.keeping.correcting.kinds import NewValue, Value
from stillroom.keeping.correcting.rows import Row, RowWriter
from stillroom.keeping.cupboard.counts import cupboard_entries
from stillroom.keeping.cupboard.densities import refuse_density
from stillroom.keeping.tolerances import EMPTY_ML
from stillroom.keeping.wording import wording
from stillroom.reckoning.cautions import FOOD_GRADE, is_unfit


def spirit_strength(w: RowWriter, spirit_id: int, value: Value, asked: Sequence[NewValue]) -> None:
    """Correct a strength, of what was poured as well unless from now on."""
    if not value:
        raise Refused("A spirit's strength must be above 0 % and at most 100 %.")
    w.set("spirit", spirit_id, strength_abv=value)
    if not is_from_now_on(asked, spirit_id):
        w.execute("UPDATE pour SET strength_abv = ? WHERE spirit_id = ?", value, spirit_id)


def spirit_for(w: RowWriter, spirit_id: int, value: Value, asked: Sequence[NewValue]) -> None:
    """Which pours a change holds for is read where the change is written."""


def cupboard_taken(w: RowWriter, movement_id: int, value: Value, asked: Sequence[NewValue]) -> None:
    """Correct how much was taken but not poured, or remove the entry."""
    if not value:
        _remove_movement(w, movement_id)
        return
    assert isinstance(value, float | int)
    w.set("cupboard_movement", movement_id, volume_ml=-value)


def cupboard_seen(w: RowWriter, movement_id: int, value: Value, asked: Sequence[NewValue]) -> None:
    """Correct what was seen when it was counted, or remove the entry."""
    if value is None:
        _remove_movement(w, movement_id)
        return
    assert isinstance(value, float | int)
    w.cupboard = replace(w.cupboard, seen_ml={**w.cupboard.seen_ml, movement_id: value})


def _remove_movement(w: RowWriter, movement_id: int) -> None:
    w.execute("DELETE FROM cupboard_movement WHERE id = ?", movement_id)
    w.rows.pop(("cupboard_movement", movement_id), None)


def herb_name(w: RowWriter, herb_id: int, value: Value, asked: Sequence[NewValue]) -> None:
    """Rename a herb."""
    name = str(value)
    if w.keeper.rows("SELECT 1 FROM herb WHERE name = ? AND id <> ?", name, herb_id):
        raise Refused(
            f"There is a herb called {name} already. If they are the same, merge them: merge={name}"
        )
    w.set("herb", herb_id, name=name)


def merge(w: RowWriter, herb_id: int, value: Value, asked: Sequence[NewValue]) -> None:
    """Let one herb take the place of another, with its cautions."""
    name = str(value or "")
    rows = w.keeper.rows("SELECT id, botanical, cautions, note FROM herb WHERE name = ?", name)
    if not rows:
        raise Refused(f"There is no herb called {name}. To rename it, correct its name.")
    ((to_id, *kept),) = rows
    if to_id == herb_id:
        raise Refused("Choose another herb.")
    gone = w.one("SELECT botanical, cautions, note FROM herb WHERE id = ?", herb_id)
    botanical = kept[0] or gone[0]
    cautions, note = (
        "\n".join(dict.fromkeys(filter(None, (mine, other))))
        for mine, other in zip(kept[1:], gone[1:], strict=True)
    )
    w.update("herb", to_id, {"botanical": botanical, "cautions": cautions, "note": note})
    w.execute("UPDATE charge_line SET herb_id = ? WHERE herb_id = ?", to_id, herb_id)
    w.execute("UPDATE herb_lot SET herb_id = ? WHERE herb_id = ?", to_id, herb_id)
    for part_id, formula_id, part, condition, share in w.keeper.rows(
        "SELECT id, formula_id, part, condition, share FROM formula_part WHERE herb_id = ?",
        herb_id,
    ):
        same = w.keeper.rows(
            """SELECT id FROM formula_part
               WHERE formula_id = ? AND herb_id = ? AND part = ? AND condition = ?""",
            formula_id, to_id, part, condition,
        )  # fmt: skip
        if same:
            w.execute("DELETE FROM formula_part WHERE id = ?", part_id)
            w.execute("UPDATE formula_part SET share = share + ? WHERE id = ?", share, same[0][0])
        else:
            w.update("formula_part", part_id, {"herb_id": to_id})
    w.rows.pop(("herb", herb_id), None)
    w.execute("DELETE FROM herb WHERE id = ?", herb_id)


def is_from_now_on(asked: Sequence[NewValue], spirit_id: int) -> bool:
    return any(
        each.fact.cell.column == "for"
        and each.fact.cell.row_id == spirit_id
        and each.value == FROM_NOW_ON
        for each in asked
    )


def correct_spirit(w: RowWriter, spirit_id: int, columns: Row, asked: Sequence[NewValue]) -> None:
    """Refuse a spirit that must never be drunk; let what was poured keep its facts, if asked to."""
    if "code" in columns:
        columns["code"] = columns["code"] or None
        refuse_taken(w.keeper, columns["code"], "spirit", spirit_id)
    if columns.get("density_g_per_ml") is not None:
        refuse_density(wording(w.keeper), columns["density_g_per_ml"])
    names = (
        "name", "strength_abv", "bought_ml", "price", "bought_on", "origin", "lot",
        "density_g_per_ml", "note",
    )  # fmt: skip
    row = w.one(f"SELECT {', '.join(names)} FROM spirit WHERE id = ?", spirit_id)
    before = dict(zip(names, row, strict=True))
    said = before | columns
    if is_unfit(said["name"], said["note"], said["origin"]):
        raise Refused(f"{said['name']} must never be drunk. {FOOD_GRADE}")
    if is_from_now_on(asked, spirit_id) and _OF_A_PURCHASE & columns.keys():
        _divide(w, spirit_id, before, columns)


_OF_A_PURCHASE = {"bought_ml", "price", "bought_on", "origin", "lot"}


def _divide(w: RowWriter, spirit_id: int, before: Row, columns: Row) -> None:
    """Make an entry of its own of what was not poured yet; the other keeps the facts it had.

    Price and volume are divided by volume, where they are known.
    """
    poured_ml = -sum(e.volume_ml for e in cupboard_entries(w.keeper, ("spirit", spirit_id)))
    if poured_ml <= EMPTY_ML:
        return
    rest = before | columns
    if before["bought_ml"] is None or rest["bought_ml"] is None:
        columns.clear()
    else:
        left_ml = rest["bought_ml"] - poured_ml
        if left_ml <= EMPTY_ML:
            raise Refused("All of it was poured. Correct it for everything it went into.")
        kept = {"bought_ml": poured_ml}
        for entry, share in (
            (rest, left_ml / rest["bought_ml"]),
            (before, poured_ml / before["bought_ml"]),
        ):
            if entry["price"] is not None:
                entry["price"] = round(entry["price"] * share, 2)
        rest["bought_ml"] = left_ml
        columns.clear()
        columns |= kept | {"price": before["price"]}
    divided_id = w.insert("spirit", rest)
    left = wording(w.keeper).volume(rest["bought_ml"]) if rest["bought_ml"] else "What"
    w.act.note("spirit", f"{left} not poured yet is an entry of its own", spirit_id=divided_id)
