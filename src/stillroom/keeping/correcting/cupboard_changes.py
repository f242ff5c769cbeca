"""Corrections of spirits and herbs."""

from collections.abc import Sequence

from stillroom.errors import Refused
from stillroom.keeping.correcting.columns import FROM_NOW_ON
from stillroom.keeping.correcting.kinds import NewValue, Value
from stillroom.keeping.correcting.rows import Row, RowWriter
from stillroom.reckoning.cautions import FOOD_GRADE, is_unfit


def spirit_strength(w: RowWriter, spirit_id: int, value: Value, asked: Sequence[NewValue]) -> None:
    """Correct a strength, of what was poured as well unless from now on."""
    w.set("spirit", spirit_id, strength_abv=value)
    if not is_from_now_on(asked, spirit_id):
        w.execute("UPDATE pour SET strength_abv = ? WHERE spirit_id = ?", value, spirit_id)


def spirit_for(w: RowWriter, spirit_id: int, value: Value, asked: Sequence[NewValue]) -> None:
    """Which pours a change holds for is read where the change is written."""
    if value != FROM_NOW_ON:
        return
    own = {
        each.fact.cell.column
        for each in asked
        if each.fact.cell.record == "spirit" and each.fact.cell.row_id == spirit_id
    }
    if own & {"bought_ml", "price", "origin", "bought_on"}:
        raise Refused(
            "What was poured already came from this purchase. Correct it for everything it "
            "went into, or add the other purchase to the cupboard as a spirit of its own."
        )


def herb_name(w: RowWriter, herb_id: int, value: Value, asked: Sequence[NewValue]) -> None:
    """Which pours a change holds for is read where the change is written."""
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
    for part_id, formula_id, part, share in w.keeper.rows(
        "SELECT id, formula_id, part, share FROM formula_part WHERE herb_id = ?", herb_id
    ):
        same = w.keeper.rows(
            "SELECT id FROM formula_part WHERE formula_id = ? AND herb_id = ? AND part = ?",
            formula_id, to_id, part,
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


def spirit_words(w: RowWriter, spirit_id: int, columns: Row) -> None:
    """Refuse a spirit that must never be drunk."""
    row = w.one("SELECT name, note, origin FROM spirit WHERE id = ?", spirit_id)
    said = dict(zip(("name", "note", "origin"), row, strict=True)) | columns
    if is_unfit(said["name"], said["note"], said["origin"]):
        raise Refused(f"{said['name']} must never be drunk. {FOOD_GRADE}")
