"""The lots of herb as they are: what each holds, its ledger and its price."""

import json
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date
from typing import Any

from stillroom.dates import day_or_none
from stillroom.errors import Refused
from stillroom.keeping.cupboard.lot_views import HerbLotView, LotEntry
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.tolerances import MEASURE_G
from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.drying import Shrinkage, learned_shrinkage
from stillroom.reckoning.states import HerbCame, HerbMovementKind

GONE = "That lot is no longer in the cupboard."
IN_A_JAR = "in a jar"
LAID_OUT = "laid out"
"""With `IN_A_JAR`, entries of a lot's ledger that are no movements."""

_LOTS = """
    SELECT l.id, l.code, l.herb_id, h.name, h.botanical, l.part, l.condition, l.came, l.got_on,
           l.origin, l.seller_lot, l.mass_g, l.price, l.water_fraction, l.laid_out_on,
           l.laid_out_g, l.dry_on, l.dry_g, l.from_lot_id,
           coalesce((SELECT code FROM herb_lot f WHERE f.id = l.from_lot_id), ''),
           l.used_up_on, l.note, s.left_g,
           EXISTS (SELECT 1 FROM charge_line c JOIN jar j ON j.id = c.jar_id
                   WHERE c.lot_id = l.id AND c.mass_g IS NULL AND j.marc_of_id IS NULL)
           OR EXISTS (SELECT 1 FROM herb_movement m WHERE m.lot_id = l.id AND m.mass_g IS NULL),
           (SELECT count(DISTINCT c.jar_id) FROM charge_line c WHERE c.lot_id = l.id)
    FROM herb_lot l JOIN herb h ON h.id = l.herb_id JOIN in_store s ON s.lot_id = l.id
"""
_IN_ORDER = "ORDER BY h.name, l.got_on DESC, l.id DESC"

_ENTRIES = """
    WITH wanted (id) AS (SELECT value FROM json_each(?))
    SELECT m.lot_id, m.day, m.at, m.kind, m.mass_g, m.maker, m.person, m.note, m.id, NULL, NULL, ''
    FROM herb_movement m WHERE m.lot_id IN (SELECT id FROM wanted)
    UNION ALL
    SELECT c.lot_id, j.filled_on,
           coalesce((SELECT min(at) FROM standing e
                     WHERE e.jar_id = j.id AND e.kind = 'filled' AND e.day = j.filled_on), ''),
           'in a jar', -c.mass_g, '', '', '', NULL, j.id, NULL, j.code
    FROM charge_line c JOIN jar j ON j.id = c.jar_id AND j.marc_of_id IS NULL
    WHERE c.lot_id IN (SELECT id FROM wanted)
    UNION ALL
    SELECT p.from_lot_id, p.laid_out_on,
           coalesce((SELECT min(at) FROM standing e
                     WHERE e.lot_id = p.id AND e.day = p.laid_out_on), ''),
           'laid out', -p.mass_g, '', '', '', NULL, NULL, p.id, p.code
    FROM herb_lot p WHERE p.from_lot_id IN (SELECT id FROM wanted)
"""


def herb_lots(keeper: Keeper, *, with_empty: bool = True) -> list[HerbLotView]:
    """The lots by herb, newest first; those that are used up only where asked for."""
    found = _read(keeper, "1")
    return [lot for lot in found if with_empty or lot.is_in_store]


def herb_lot(keeper: Keeper, lot_id: int) -> HerbLotView:
    """A lot by id; Refused where it is no longer there."""
    found = _read(keeper, "l.id = ?", lot_id)
    if not found:
        raise Refused(GONE)
    return found[0]


def herb_lot_of_code(keeper: Keeper, text: str) -> HerbLotView:
    """The lot that a code refers to, in any case; Refused where there is none."""
    wanted = text.strip().casefold()
    found = _read(keeper, "lower(l.code) = ?", wanted)
    if not found:
        old = keeper.rows(
            """SELECT a.new_code, a.shelf FROM code_alias a JOIN herb_lot l ON l.code = a.new_code
               WHERE lower(a.code) = ? ORDER BY a.id""",
            wanted,
        )
        if len(old) > 1:
            both = " or ".join(f"{new} ({shelf})" for new, shelf in old)
            raise Refused(f"{text.strip()} was the code of two lots: {both}. Use the new code.")
        found = [lot for new, _ in old for lot in _read(keeper, "l.code = ?", new)]
    if not found:
        raise Refused(f"No lot has the code {' '.join(text.split())[:40]}.")
    return found[0]


def _read(keeper: Keeper, condition: str, *values: object) -> list[HerbLotView]:
    lots = [_view(row) for row in keeper.rows(f"{_LOTS} WHERE {condition} {_IN_ORDER}", *values)]
    by_eye = [lot.lot_id for lot in lots if lot.is_at_most]
    ledgers = entries_of(keeper, by_eye) if by_eye else {}
    return [
        replace(lot, is_at_most=_is_at_most(ledgers[lot.lot_id])) if lot.is_at_most else lot
        for lot in lots
    ]


def _view(row: tuple[Any, ...]) -> HerbLotView:
    (
        lot_id, code, herb_id, herb, botanical, part, condition, came, got_on, origin, seller_lot,
        mass_g, price, water, laid_out_on, laid_out_g, dry_on, dry_g, from_id, from_code, used_up,
        note, left_g, by_eye, jars,
    ) = row  # fmt: skip
    return HerbLotView(
        lot_id=lot_id,
        code=code,
        herb_id=herb_id,
        herb=herb,
        botanical=botanical,
        part=Part(part),
        condition=Condition(condition),
        came=HerbCame(came),
        got_on=date.fromisoformat(got_on),
        origin=origin,
        seller_lot=seller_lot,
        mass_g=mass_g,
        price=price,
        water_fraction=water,
        laid_out_on=day_or_none(laid_out_on),
        laid_out_g=laid_out_g,
        dry_on=day_or_none(dry_on),
        dry_g=dry_g,
        from_lot_id=from_id,
        from_lot=from_code,
        used_up_on=day_or_none(used_up),
        note=note,
        left_g=None if left_g is None else max(0.0, left_g),
        is_at_most=bool(by_eye),
        jars=jars,
    )


def _is_at_most(entries: Sequence[LotEntry]) -> bool:
    """Whether some was taken by eye after the last weighing."""
    for entry in reversed(entries):
        if entry.kind in (HerbMovementKind.WEIGH_IN, HerbMovementKind.DRIED):
            return entry.mass_g is None
        if entry.mass_g is None:
            return True
    return False


def entries_of(keeper: Keeper, lot_ids: Iterable[int]) -> dict[int, list[LotEntry]]:
    """What each of these lots gained and lost, in order, with what it held after each."""
    wanted = list(lot_ids)
    text = json.dumps(wanted)
    rows: dict[int, list[tuple[Any, ...]]] = defaultdict(list)
    for lot_id, *row in keeper.rows(_ENTRIES, text):
        rows[lot_id].append(tuple(row))
    firsts = dict(
        keeper.rows(
            "SELECT id, mass_g FROM herb_lot WHERE id IN (SELECT value FROM json_each(?))", text
        )
    )
    return {each: _entries(firsts.get(each), rows[each]) for each in wanted}


def _entries(left_g: float | None, rows: list[tuple[Any, ...]]) -> list[LotEntry]:
    found: list[LotEntry] = []
    # What is known of a jar may be its day alone: it was filled before what was done that day.
    for day, at, kind, mass_g, maker, person, note, movement_id, jar_id, lot_id, code in sorted(
        rows, key=lambda row: (row[0], row[1], row[7] or 0)
    ):
        if left_g is None and kind == HerbMovementKind.WEIGH_IN:
            # Nobody knew its weight before: this is what it weighed, and what was taken from it.
            left_g = sum((entry.mass_g or 0.0 for entry in found), start=0.0)
        if left_g is not None:
            left_g += mass_g or 0.0
        found.append(
            LotEntry(
                day=date.fromisoformat(day),
                at=at,
                kind=kind,
                mass_g=mass_g,
                left_g=left_g,
                maker=maker,
                person=person,
                note=note,
                movement_id=movement_id,
                jar_id=jar_id,
                lot_id=lot_id,
                code=code,
            )
        )
    return found


def own_shrinkage(keeper: Keeper, herb_id: int, part: Part) -> Shrinkage | None:
    """What a herb's part weighed dried of what was laid out, from the lots of one's own.

    A lot from which something was taken while it dried shows nothing.
    """
    return learned_shrinkage(
        keeper.rows(
            """SELECT l.laid_out_g, l.dry_g FROM herb_lot l
               JOIN herb_movement m ON m.lot_id = l.id AND m.kind = 'dried'
               WHERE l.herb_id = ? AND l.part = ? AND l.dry_g IS NOT NULL
                     AND abs(l.laid_out_g + m.mass_g - l.dry_g) < ? ORDER BY l.id""",
            herb_id, part, MEASURE_G,
        )
    )  # fmt: skip


def price_of_lot(
    keeper: Keeper, lot_id: int, condition: Condition
) -> tuple[float | None, float | None]:
    """How many g of a lot, as they go into a jar, came at which price; None where not known.

    What was laid out cost its share of the fresh weight that was bought.
    """
    lot = herb_lot(keeper, lot_id)
    first = lot
    while first.from_lot_id is not None:
        first = herb_lot(keeper, first.from_lot_id)
    if first.price is None or first.mass_g is None:
        return None, None
    if lot.dry_on is None or condition is Condition.FRESH:
        return first.mass_g, first.price
    if lot.laid_out_g is None or lot.dry_g is None:
        return None, None
    return lot.dry_g, first.price * lot.laid_out_g / first.mass_g
