"""What a correction begins with, from a line of the ledger or of a trace."""

from stillroom.errors import Refused
from stillroom.keeping.correcting.kinds import Start, Subject, SubjectKind
from stillroom.keeping.correcting.subjects import subject_of_tincture, subjects_of_event
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.ledger_views import EventView, Mark
from stillroom.keeping.trace.views import Node
from stillroom.keeping.views import BottleRow, TinctureView

NOT_A_FACT = (
    "This entry isn't about a jar, bottle, spirit or herb that is still there. Shelves, sizes and "
    "settings are changed in the cupboard (key 4)."
)
_ROWS = {
    "filled": "'charge_line', min(r.id) FROM e JOIN charge_line r ON r.jar_id = e.jar_id",
    "topped up": """'pour', max(r.id) FROM e JOIN pour r
                    ON r.jar_id = e.jar_id AND r.poured_on <= e.day""",
    "strained": "'straining', min(r.id) FROM e JOIN straining r ON r.jar_id = e.jar_id",
    "bottled": "'bottle', min(r.id) FROM e JOIN bottle r ON r.tincture_id = e.tincture_id",
}
"""The row that a kind of entry wrote, in SQL."""
_MOVEMENT = """'movement', max(r.id) FROM e JOIN movement r
               ON r.bottle_id = e.bottle_id AND r.at = e.at AND r.kind = e.kind"""

_LOT_MOVEMENT = """'herb_movement', max(r.id) FROM e JOIN herb_movement r
                   ON r.lot_id = e.lot_id AND r.at = e.at AND r.kind = e.kind"""


_CUPBOARD_MOVEMENT = """'cupboard_movement', max(r.id) FROM e JOIN cupboard_movement r
                        ON r.spirit_id = e.spirit_id AND r.at = e.at AND r.kind = e.kind"""


def of_entry(keeper: Keeper, entry: EventView) -> Start:
    """What a line of the ledger is about, and the row of it that the line wrote, where known.

    Refused where nothing of it can be corrected.
    """
    if entry.mark is Mark.UNDONE:
        raise Refused("This entry was undone, so there is nothing left of it to correct.")
    subjects = subjects_of_event(keeper, entry.event_id)
    if not subjects and (found := _of_liquid(keeper, entry)):
        return found
    if not subjects:
        raise Refused(NOT_A_FACT)
    if entry.bottle_id is not None:
        sql: str | None = _MOVEMENT
    elif subjects[0].kind is SubjectKind.LOT:
        sql = _LOT_MOVEMENT
    elif subjects[0].kind is SubjectKind.SPIRIT:
        sql = _CUPBOARD_MOVEMENT
    else:
        sql = _ROWS.get(entry.kind)
    if sql is None:
        return subjects[0], None
    ((record, row_id),) = keeper.rows(
        f"WITH e AS (SELECT * FROM event WHERE id = ?) SELECT {sql}", entry.event_id
    )
    return subjects[0], None if row_id is None else (record, row_id)


def _of_liquid(keeper: Keeper, entry: EventView) -> Start | None:
    """The movement of another liquid that a line is about, which holds no number of it."""
    rows = keeper.rows(
        """SELECT r.liquid_id, r.id FROM event e JOIN cupboard_movement r
           ON r.at = e.at AND r.kind = e.kind AND r.liquid_id IS NOT NULL
           WHERE e.id = ? ORDER BY r.id DESC LIMIT 1""",
        entry.event_id,
    )
    for liquid_id, movement_id in rows:
        return Subject(SubjectKind.LIQUID, liquid_id), ("cupboard_movement", movement_id)
    return None


def of_stock(keeper: Keeper, row: BottleRow | TinctureView) -> Start:
    """A bottle, or what a tincture still to be bottled was made from."""
    if isinstance(row, TinctureView):
        return subject_of_tincture(keeper, row.tincture_id), None
    return Subject(SubjectKind.BOTTLE, row.bottle_id), None


def of_node(keeper: Keeper, node: Node) -> Subject:
    """What a thing in a tree is; Refused where it can't be corrected."""
    if node.bottle_id is not None:
        return Subject(SubjectKind.BOTTLE, node.bottle_id)
    if node.jar_id is not None:
        return Subject(SubjectKind.JAR, node.jar_id)
    if node.tincture_id is not None:
        return subject_of_tincture(keeper, node.tincture_id)
    if node.spirit_id is not None:
        return Subject(SubjectKind.SPIRIT, node.spirit_id)
    if node.lot_id is not None:
        return Subject(SubjectKind.LOT, node.lot_id)
    if node.liquid_id is not None:
        return Subject(SubjectKind.LIQUID, node.liquid_id)
    if node.herb_id is not None:
        return Subject(SubjectKind.HERB, node.herb_id)
    raise Refused(f"The {node.kind} is corrected with its jar: choose the jar, and press C.")
