"""What a correction of a row of a table begins with."""

from collections.abc import Iterator

from stillroom.keeping.correcting.kinds import Subject, SubjectKind
from stillroom.keeping.correcting.subjects import subject_of_tincture
from stillroom.keeping.keeper import Keeper

_OF_JAR = {
    "jar": "SELECT id FROM jar WHERE id = ?",
    "charge_line": "SELECT jar_id FROM charge_line WHERE id = ?",
    "pour": "SELECT jar_id FROM pour WHERE id = ?",
    "straining": "SELECT jar_id FROM straining WHERE id = ?",
    "straining_go": """SELECT jar_id FROM straining s JOIN straining_go g ON g.straining_id = s.id
                       WHERE g.id = ?""",
    "shake": "SELECT jar_id FROM shake WHERE id = ?",
}
_OF_TINCTURE = {
    "tincture": "SELECT id FROM tincture WHERE id = ?",
    "loss": "SELECT tincture_id FROM loss WHERE id = ?",
    "bottle": "SELECT tincture_id FROM bottle WHERE id = ?",
    "movement": """SELECT tincture_id FROM bottle b JOIN movement m ON m.bottle_id = b.id
                   WHERE m.id = ?""",
    "batch_input": "SELECT tincture_id FROM batch_input WHERE id = ?",
}
_OF_BOTTLE = {
    "bottle": "SELECT id FROM bottle WHERE id = ?",
    "movement": "SELECT bottle_id FROM movement WHERE id = ?",
    "returned": "SELECT bottle_id FROM returned WHERE id = ?",
}
_ALONE = {
    "herb": SubjectKind.HERB,
    "spirit": SubjectKind.SPIRIT,
    "liquid": SubjectKind.LIQUID,
    "herb_lot": SubjectKind.LOT,
}


def subjects_of_row(keeper: Keeper, record: str, row_id: int) -> Iterator[Subject]:
    """What a correction of a row may begin with."""
    if record in _OF_BOTTLE:
        for (bottle_id,) in keeper.rows(_OF_BOTTLE[record], row_id):
            yield Subject(SubjectKind.BOTTLE, bottle_id)
    if record in _OF_JAR:
        for (jar_id,) in keeper.rows(_OF_JAR[record], row_id):
            yield Subject(SubjectKind.JAR, jar_id)
    if record in _OF_TINCTURE:
        for (tincture_id,) in keeper.rows(_OF_TINCTURE[record], row_id):
            yield subject_of_tincture(keeper, tincture_id)
    if record == "herb_movement":
        for (lot_id,) in keeper.rows("SELECT lot_id FROM herb_movement WHERE id = ?", row_id):
            yield Subject(SubjectKind.LOT, lot_id)
    if record in _ALONE:
        yield Subject(_ALONE[record], row_id)
