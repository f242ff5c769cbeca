"""Corrections of liquids of the cupboard that are no spirits."""

from stillroom.errors import Refused
from stillroom.keeping.codes import refuse_taken
from stillroom.keeping.correcting.rows import Row, RowWriter
from stillroom.keeping.cupboard.densities import refuse_density
from stillroom.keeping.cupboard.liquids import liquid_view
from stillroom.keeping.wording import wording
from stillroom.reckoning.cautions import FOOD_GRADE, is_unfit


def correct_liquid(w: RowWriter, liquid_id: int, columns: Row) -> None:
    """Refuse what can't be of a liquid; a density typed by hand is of no named source."""
    before = liquid_view(w.keeper, liquid_id)
    name = columns.get("name", before.name)
    if is_unfit(name, columns.get("note", before.note), columns.get("origin", before.origin)):
        raise Refused(f"{name} must never be drunk. {FOOD_GRADE}")
    if "code" in columns:
        columns["code"] = columns["code"] or None
        refuse_taken(w.keeper, columns["code"], "liquid", liquid_id)
    if "density_g_per_ml" in columns:
        refuse_density(wording(w.keeper), columns["density_g_per_ml"])
        columns.setdefault("density_source", "")
