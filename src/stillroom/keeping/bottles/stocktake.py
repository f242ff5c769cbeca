"""The stock-take: the bottles of one place are checked and the record is corrected in one act."""

from collections.abc import Mapping

from stillroom.errors import Refused
from stillroom.keeping.bottles.bottle_views import bottle_rows
from stillroom.keeping.bottles.stock import record_movement
from stillroom.keeping.bottles.stock_views import CountDifference, PlaceView, StocktakeSummary
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.tolerances import EMPTY_ML
from stillroom.keeping.views import BottleRow
from stillroom.keeping.wording import Wording, wording
from stillroom.quantities import how_many
from stillroom.reckoning.states import MovementKind

_PLACES = """
    SELECT b.place, count(*)
    FROM bottle b
    WHERE (SELECT sum(volume_ml) FROM movement WHERE bottle_id = b.id) > ?
    GROUP BY b.place ORDER BY b.place = '', b.place COLLATE NOCASE
"""


def places(keeper: Keeper) -> list[PlaceView]:
    """The places of bottles that hold something, by name."""
    return [PlaceView(*row) for row in keeper.rows(_PLACES, EMPTY_ML)]


def stocktake_rows(keeper: Keeper, place: str) -> list[BottleRow]:
    """The bottles to look at in one place: those that hold something by the record."""
    return [row for row in bottle_rows(keeper) if row.place == place]


def settle_stocktake(
    keeper: Keeper,
    place: str,
    seen_ml: Mapping[int, float],
    recorded_ml: Mapping[int, float] | None = None,
) -> StocktakeSummary:
    """Put the record right with what each bottle was seen to hold, as one act.

    Bottles that were not counted stay as they are. Refused, with nothing written, where a bottle
    is elsewhere or cannot hold that much, or where the record of one is no longer as it was.
    """
    if not seen_ml:
        raise Refused("Enter what at least one bottle holds.")
    said = wording(keeper)
    with keeper.act("Stock-take") as act:
        here = [row for row in bottle_rows(keeper, empties=True) if row.place == place]
        counted = [row for row in here if row.bottle_id in seen_ml]
        if len(counted) < len(seen_ml):
            raise Refused(f"One of these bottles is not in {_named(place)}.")
        for row in counted:
            refuse_impossible(row, seen_ml[row.bottle_id], said)
            if recorded_ml and abs(recorded_ml[row.bottle_id] - row.left_ml) > EMPTY_ML:
                raise Refused(
                    f"Bottle {row.code} was changed in another window: it now holds "
                    f"{said.volume(row.left_ml)} on record. Check it again."
                )
        differing = [row for row in counted if abs(seen_ml[row.bottle_id] - row.left_ml) > EMPTY_ML]
        for row in differing:
            record_movement(
                keeper,
                act,
                row,
                seen_ml[row.bottle_id] - row.left_ml,
                MovementKind.COUNT,
                "stock-take",
            )
        differences = tuple(
            CountDifference(row.code, row.left_ml, seen_ml[row.bottle_id]) for row in differing
        )
        left_out = [row for row in here if row.bottle_id not in seen_ml and row.left_ml > EMPTY_ML]
        text = _summary(len(counted), differences, len(left_out), said)
        act.title = f"Stock-take of {_named(place)}"
        act.note("stock-take", f"{_named(place)}: {text}")
        return StocktakeSummary(
            place, len(counted), differences, tuple(row.code for row in left_out), text
        )


def refuse_impossible(row: BottleRow, seen_ml: float, said: Wording) -> None:
    """Raise Refused where a bottle cannot hold that much."""
    if not seen_ml >= 0:
        raise Refused(f"Bottle {row.code} can't hold a negative volume.")
    if seen_ml > row.size_ml + EMPTY_ML:
        raise Refused(f"Bottle {row.code} holds at most {said.volume(row.size_ml)}.")


def _summary(
    counted: int, differences: tuple[CountDifference, ...], left_out: int, said: Wording
) -> str:
    parts = [f"{how_many(counted, 'bottle')} counted"]
    if not differences:
        parts.append("all as recorded")
    else:
        less = sum(max(0.0, d.recorded_ml - d.seen_ml) for d in differences)
        more = sum(max(0.0, d.seen_ml - d.recorded_ml) for d in differences)
        amounts = [f"{said.volume(less)} less"] if less else []
        amounts += [f"{said.volume(more)} more"] if more else []
        parts.append(f"{len(differences)} corrected, {' and '.join(amounts)} than recorded")
    if left_out:
        parts.append(f"{how_many(left_out, 'bottle')} not counted")
    return "; ".join(parts)


def _named(place: str) -> str:
    return place or "no place"
