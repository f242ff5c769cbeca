"""The bottles as they are: the stock by herb, and one with its ledger."""

import json
from collections.abc import Iterable, Mapping
from datetime import date
from itertools import groupby
from operator import attrgetter, itemgetter
from sys import intern
from typing import Any

from stillroom.dates import day_or_none
from stillroom.errors import Refused
from stillroom.keeping.bottles.tinctures import tincture_view
from stillroom.keeping.contents import blend_ratios
from stillroom.keeping.graph import SOURCES, sources_from
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.tolerances import EMPTY_ML
from stillroom.keeping.views import BottleRow, BottleView, MovementView, water_is_hidden
from stillroom.keeping.words import listed
from stillroom.reckoning.charge import Condition, Part, charge_as_recorded, most_abv
from stillroom.reckoning.states import BatchStatus, DayBy, MovementKind, StrengthBy

# One row for each bottle and herb; a blend lists the herbs of all its parts, in order.
_BOTTLES = """
    SELECT b.id, b.code, t.id, t.code, t.name, t.straining_id IS NULL,
           t.strength_abv, t.ratio, t.made_on, t.keep_until, b.size_ml,
           (SELECT sum(volume_ml) FROM movement WHERE bottle_id = b.id), b.place,
           t.strength_by, h.name, h.botanical, l.part, l.condition, l.mass_g, l.water_fraction,
           j.simmered, EXISTS (SELECT 1 FROM pour WHERE pour.jar_id = l.jar_id),
           s.measured_abv IS NOT NULL,
           (SELECT sum(volume_ml * strength_abv) / 100 FROM pour WHERE pour.jar_id = l.jar_id),
           s.yield_ml, t.status,
           (SELECT sum(volume_ml) FROM movement WHERE bottle_id = b.id AND kind = 'fill'),
           made.id = t.id, s.day_by
    FROM bottle b
    JOIN tincture t ON t.id = b.tincture_id
    JOIN source ON source.tincture_id = t.id
    JOIN tincture made ON made.id = source.from_id
    JOIN straining s ON s.id = made.straining_id
    JOIN charge_line l ON l.jar_id = s.jar_id
    JOIN herb h ON h.id = l.herb_id
    JOIN jar j ON j.id = l.jar_id
"""
_IN_ORDER = "ORDER BY b.id, made.id, l.id"
_WANTED = "(SELECT value FROM json_each(?))"
_IN_STOCK = "(SELECT bottle_id FROM in_stock)"
_SOURCES_OF_STOCK = sources_from(
    f"SELECT tincture_id, tincture_id FROM bottle WHERE id IN {_IN_STOCK}"
)
_SOURCES_OF_BOTTLES = sources_from(
    f"SELECT tincture_id, tincture_id FROM bottle WHERE id IN {_WANTED}"
)


def bottle_rows(keeper: Keeper, *, empties: bool = False) -> list[BottleRow]:
    """The bottles grouped by herb, oldest lot first; without the empty ones unless asked for."""
    if empties:
        found = _rows(keeper, f"{SOURCES} {_BOTTLES} {_IN_ORDER}")
    else:
        in_stock = f"{_BOTTLES} WHERE b.id IN {_IN_STOCK} {_IN_ORDER}"
        found = _rows(keeper, f"{_SOURCES_OF_STOCK} {in_stock}")
    kept = [row for row in found if empties or row.left_ml > EMPTY_ML]
    return sorted(kept, key=in_list_order)


def in_list_order(row: BottleRow) -> tuple[str, date, str, int]:
    """What sorts bottles as they are listed: by herb, oldest lot first."""
    return row.herb.casefold(), row.made_on, row.batch, row.bottle_id


def bottles_by_id(keeper: Keeper, bottle_ids: Iterable[int]) -> dict[int, BottleRow]:
    """These bottles; one that is no longer there is left out."""
    wanted = json.dumps(list(bottle_ids))
    sql = f"{_SOURCES_OF_BOTTLES} {_BOTTLES} WHERE b.id IN {_WANTED} {_IN_ORDER}"
    return {row.bottle_id: row for row in _rows(keeper, sql, wanted, wanted)}


def _rows(keeper: Keeper, sql: str, *values: object) -> list[BottleRow]:
    rows, blends = [], []
    for _, found in groupby(keeper.each_row(sql, *values), key=itemgetter(0)):
        lines = list(found)
        if lines[0][5]:
            blends.append(lines)
        else:
            rows.append(_row(lines, {}))
    ratios = blend_ratios(keeper, {lines[0][2] for lines in blends})
    rows += [_row(lines, ratios) for lines in blends]
    return sorted(rows, key=attrgetter("bottle_id"))


def _row(lines: list[tuple[Any, ...]], of_blends: Mapping[int, float | None]) -> BottleRow:
    bottle_id, code, tincture_id, batch, name, is_blend, strength, ratio = lines[0][:8]
    made_on, keep_until, size_ml, left_ml, place, strength_by = lines[0][8:14]
    herbs = listed(line[14] for line in lines)
    is_at_most = strength_by == StrengthBy.ESTIMATED and any(map(_hides_water, lines))
    # The first lines may be of another jar, whose marc or tincture this one was made with.
    own = next((line for line in lines if line[27]), lines[0])
    ethanol_ml, yield_ml, status, filled_ml = own[23:27]
    if is_at_most and not is_blend and strength is not None and ethanol_ml is not None:
        strength = most_abv(strength, ethanol_ml, yield_ml)
    # Of what thousands of bottles have in common, one text is held in memory.
    return BottleRow(
        bottle_id=bottle_id,
        code=code,
        tincture_id=tincture_id,
        batch=intern(batch),
        herb=intern((name or "Blends") if is_blend else herbs),
        name=intern(name or herbs),
        botanical="" if len(lines) > 1 else intern(lines[0][15]),
        part=intern(listed(line[16] for line in lines)),
        condition=intern(listed(line[17] for line in lines)),
        strength_abv=strength,
        ratio=of_blends.get(tincture_id) if is_blend else ratio,
        made_on=date.fromisoformat(made_on),
        keep_until=day_or_none(keep_until),
        size_ml=size_ml,
        left_ml=max(0.0, left_ml or 0.0),
        place=intern(place),
        strength_by=StrengthBy(strength_by),
        strength_at_most=is_at_most,
        status=status and BatchStatus(status),
        filled_ml=filled_ml or 0.0,
        made_by=DayBy.STATED if is_blend else DayBy(own[28]),
    )


def _hides_water(line: tuple[Any, ...]) -> bool:
    part, condition, mass_g, water, simmered, is_poured, is_measured = line[16:23]
    charge = charge_as_recorded(
        mass_g, Part(part), Condition(condition), water, is_simmered=bool(simmered)
    )
    return water_is_hidden(charge, is_poured=bool(is_poured), is_measured=bool(is_measured))


def bottle_row(keeper: Keeper, bottle_id: int) -> BottleRow:
    """One bottle; Refused where it is no longer there."""
    found = bottles_by_id(keeper, [bottle_id])
    if not found:
        raise Refused("That bottle no longer exists.")
    return found[bottle_id]


def bottle_view(keeper: Keeper, bottle_id: int) -> BottleView:
    """A bottle with its tincture and its ledger, oldest movement first."""
    row = bottle_row(keeper, bottle_id)
    lines = keeper.rows(
        """SELECT day, id, at, maker, kind, volume_ml, sum(volume_ml) OVER (ORDER BY id),
                  note, person
           FROM movement WHERE bottle_id = ? ORDER BY id""",
        bottle_id,
    )
    return BottleView(
        row=row,
        tincture=tincture_view(keeper, row.tincture_id),
        filled_on=filling_day(keeper, bottle_id),
        movements=tuple(
            MovementView(
                movement_id=movement_id,
                at=at,
                day=date.fromisoformat(day),
                maker=maker,
                kind=MovementKind(kind),
                volume_ml=volume,
                left_ml=max(0.0, left),
                note=note,
                person=person,
            )
            for day, movement_id, at, maker, kind, volume, left, note, person in lines
        ),
    )


def filling_day(keeper: Keeper, bottle_id: int) -> date:
    """The day on which a bottle was filled."""
    ((filled_on,),) = keeper.rows("SELECT filled_on FROM bottle WHERE id = ?", bottle_id)
    return date.fromisoformat(filled_on)
