"""A tincture poured on herb: out of a bottle, or out of what waits to be bottled."""

from datetime import date

from stillroom.errors import Refused
from stillroom.keeping.bottles.bottle_views import bottle_row
from stillroom.keeping.bottles.status import UNUSABLE, check_usable
from stillroom.keeping.bottles.stock import all_if_it_reads_so, not_enough, record_movement
from stillroom.keeping.bottles.tinctures import tincture_view
from stillroom.keeping.drafts import PourDraft
from stillroom.keeping.jars.rows import insert_pour
from stillroom.keeping.keeper import Act, Keeper
from stillroom.keeping.tolerances import EMPTY_ML
from stillroom.keeping.wording import wording
from stillroom.reckoning.states import LiquidKind, MovementKind
from stillroom.records.tables import Jar


def pour_tincture(keeper: Keeper, act: Act, jar_id: int, pour: PourDraft, day: date) -> None:
    """Pour a tincture on the herb of a jar, inside a running act.

    Refused where there is not that much of it, where it was made later, or may not be used.
    """
    columns = (
        _out_of_bottle(keeper, act, jar_id, pour, day)
        if pour.bottle_id is not None
        else _out_of_what_waits(keeper, pour, day)
    )
    insert_pour(jar_id, day, columns | {"kind": LiquidKind.TINCTURE})


def _out_of_bottle(
    keeper: Keeper, act: Act, jar_id: int, pour: PourDraft, day: date
) -> dict[str, object]:
    assert pour.bottle_id is not None
    row = bottle_row(keeper, pour.bottle_id)
    said = wording(keeper)
    check_usable(keeper, row, "Pour on", is_late=day < act.day, confirmed=True)
    volume_ml = all_if_it_reads_so(row, pour.volume_ml, said)
    if volume_ml > row.left_ml + EMPTY_ML or row.left_ml <= EMPTY_ML:
        raise Refused(not_enough(row, volume_ml, said))
    if row.made_on > day:
        raise Refused(f"{row.code} was made after that day.")
    code = Jar.get_by_id(jar_id).code
    movement_id = record_movement(
        keeper, act, row, -min(volume_ml, row.left_ml), MovementKind.POUR_ON, f"onto {code}",
        day=day,
    )  # fmt: skip
    return {
        "movement": movement_id,
        "volume_ml": min(volume_ml, row.left_ml),
        "strength_abv": row.strength_abv,
    }


def _out_of_what_waits(keeper: Keeper, pour: PourDraft, day: date) -> dict[str, object]:
    assert pour.source_id is not None
    view, said = tincture_view(keeper, pour.source_id), wording(keeper)
    volume_ml = pour.volume_ml
    if said.volume(volume_ml) == said.volume(view.loose_ml):
        volume_ml = view.loose_ml
    if volume_ml > view.loose_ml + EMPTY_ML:
        raise Refused(
            f"Only {said.volume(view.loose_ml)} of {view.code} is left to bottle, not "
            f"{said.volume(volume_ml)}."
        )
    if view.status in UNUSABLE:
        raise Refused(f"Batch {view.code} was {view.status}.")
    if view.made_on > day:
        raise Refused(f"{view.code} was made after that day.")
    return {
        "source": view.tincture_id,
        "volume_ml": volume_ml,
        "strength_abv": view.strength_abv,
    }
