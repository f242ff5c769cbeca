"""What a correction affects: jars, tinctures, and everything made with them."""

import json
from collections.abc import Sequence

from stillroom.keeping.correcting.columns import FROM_NOW_ON
from stillroom.keeping.correcting.kinds import NewValue, Subject, SubjectKind
from stillroom.keeping.correcting.lot_changes import FAMILY
from stillroom.keeping.keeper import Keeper

_NO_FIGURES = {
    "note", "person", "place", "name", "origin", "gathered_on", "marc_g", "teaches", "capacity_ml",
    "strain_on", "shakes_per_day", "shakes", "poured_on", "botanical", "cautions", "merge",
    "bought_ml", "price", "bought_on", "for", "size_ml", "day", "filled_on",
    "ended_on", "bottle_lot", "cap_lot", "got_on", "came", "seller_lot", "laid_out_on",
    "laid_out_g", "dry_on", "dry_g", "used_up_on", "density_source", "lot", "code",
}  # fmt: skip
"""Columns from which no stored figure follows."""


def matters(asked: NewValue) -> bool:
    """Whether stored figures may follow from a fact."""
    return asked.fact.is_one_more or asked.fact.cell.column not in _NO_FIGURES


def touched(keeper: Keeper, asked: Sequence[NewValue]) -> tuple[list[int], list[int], list[int]]:
    """Ids of the jars whose facts change, of the tinctures to calculate and judge with all that
    was made with them, and of those whose figures or labels may be shown otherwise."""
    jars: set[int] = set()
    roots: set[int] = set()
    shown: set[int] = set()
    for each in asked:
        kind, row_id = each.subject.kind, each.subject.row_id
        if kind is SubjectKind.JAR:
            jars.add(row_id)
            # What was poured on is of other tinctures, of which more or less is left then.
            roots.update(_ids(keeper, _POURED_ON, row_id))
            if each.fact.cell.column == "jar_id":
                jars.update(
                    _ids(
                        keeper,
                        "SELECT id FROM jar WHERE lower(code) = ?",
                        str(each.value).casefold(),
                    )
                )
        elif kind is SubjectKind.BLEND:
            roots.add(row_id)
            # A part's bottle is of another tincture, which holds more or less then.
            roots.update(_ids(keeper, _PART_SOURCES, row_id))
        elif kind is SubjectKind.BOTTLE:
            roots.update(_ids(keeper, "SELECT tincture_id FROM bottle WHERE id = ?", row_id))
            if each.fact.cell.record == "movement":  # a part that is removed leads to no blend
                sql = "SELECT tincture_id FROM batch_input WHERE movement_id = ?"
                roots.update(_ids(keeper, sql, each.fact.cell.row_id))
        elif kind is SubjectKind.SPIRIT:
            if each.fact.cell.column == "strength_abv" and not _is_from_now_on(asked, each.subject):
                jars.update(_ids(keeper, "SELECT jar_id FROM pour WHERE spirit_id = ?", row_id))
        elif kind is SubjectKind.LOT:
            found = set(_ids(keeper, _JARS_OF_LOT, row_id))
            if each.fact.cell.column in _OF_HERB_LINES:
                jars.update(found)
            shown.update(_ids(keeper, _OF_JARS, json.dumps(list(found))))
        elif kind is SubjectKind.LIQUID:
            jars.update(_ids(keeper, "SELECT jar_id FROM pour WHERE liquid_id = ?", row_id))
            sql = "SELECT tincture_id FROM batch_input WHERE liquid_id = ?"
            roots.update(_ids(keeper, sql, row_id))
        else:
            shown.update(_ids(keeper, _OF_HERB, row_id))
        if each.fact.cell.column == "bottle_id":
            sql = "SELECT tincture_id FROM bottle WHERE lower(code) = ?"
            roots.update(_ids(keeper, sql, str(each.value).casefold()))
    roots.update(_ids(keeper, _OF_JARS, json.dumps(list(jars))))
    return sorted(jars), sorted(roots), sorted(roots | shown)


def lots_reached(keeper: Keeper, asked: Sequence[NewValue]) -> list[int]:
    """Ids of the lots of herb of which more or less may be left then."""
    found: dict[int, None] = {}
    for each in asked:
        if each.subject.kind in (SubjectKind.LOT, SubjectKind.JAR):
            sql = _LOTS_OF_JAR if each.subject.kind is SubjectKind.JAR else _LOT_AND_ITS_SOURCE
            found |= dict.fromkeys(_ids(keeper, sql, each.subject.row_id))
        if each.fact.cell.column == "lot_id" and each.value:
            sql = "SELECT id FROM herb_lot WHERE code = ?"
            found |= dict.fromkeys(_ids(keeper, sql, each.value))
    return list(found)


def _is_from_now_on(asked: Sequence[NewValue], subject: Subject) -> bool:
    return any(a.subject == subject and a.value == FROM_NOW_ON for a in asked)


_PART_SOURCES = """
    SELECT coalesce(p.source_id, b.tincture_id) FROM batch_input p
    LEFT JOIN movement m ON m.id = p.movement_id LEFT JOIN bottle b ON b.id = m.bottle_id
    WHERE p.tincture_id = ? AND p.kind IN ('bottle', 'batch')
"""
_POURED_ON = """
    SELECT coalesce(p.source_id, b.tincture_id) FROM pour p
    LEFT JOIN movement m ON m.id = p.movement_id LEFT JOIN bottle b ON b.id = m.bottle_id
    WHERE p.kind = 'tincture' AND p.jar_id = ?
"""
_OF_HERB = """
    SELECT t.id FROM tincture t JOIN straining s ON s.id = t.straining_id
    JOIN charge_line l ON l.jar_id = s.jar_id WHERE l.herb_id = ?
"""
_OF_HERB_LINES = {"herb_id", "part", "condition", "water_fraction"}
"""What of a lot the figures of jars follow from."""
_JARS_OF_LOT = f"SELECT jar_id FROM charge_line WHERE lot_id IN ({FAMILY})"
_LOTS_OF_JAR = "SELECT lot_id FROM charge_line WHERE lot_id IS NOT NULL AND jar_id = ?"
_LOT_AND_ITS_SOURCE = """
    SELECT found FROM (SELECT id, from_lot_id, id AS found FROM herb_lot UNION ALL
                       SELECT id, NULL, from_lot_id FROM herb_lot)
    WHERE found IS NOT NULL AND id = ?
"""
_OF_JARS = """
    SELECT t.id FROM tincture t JOIN straining s ON s.id = t.straining_id
    WHERE s.jar_id IN (SELECT value FROM json_each(?))
"""


def _ids(keeper: Keeper, sql: str, value: object) -> list[int]:
    return [found for (found,) in keeper.rows(sql, value)]
