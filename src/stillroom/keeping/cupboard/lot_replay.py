"""Work out again what lots of herb held, from their first weight; what was seen stays."""

import json
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import NamedTuple

from stillroom.errors import Refused
from stillroom.keeping.cupboard.lot_reading import entries_of
from stillroom.keeping.cupboard.lot_views import LotEntry
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.tolerances import EMPTY_G
from stillroom.keeping.wording import wording
from stillroom.reckoning.states import HERB_DISCARDS, HerbMovementKind


@dataclass(frozen=True)
class LotAnchors:
    """What stays as it was seen, whatever changes before it."""

    seen_g: Mapping[int, float] = field(default_factory=dict)
    """By weighings: what the lot weighed."""
    ended: frozenset[int] = frozenset()
    """Movements that took all that was left, by which the lot ended."""
    held_g: Mapping[int, float] = field(default_factory=dict)
    """By lots that were laid out complete: what they held then by the record."""
    dry_g: Mapping[int, float] = field(default_factory=dict)
    """By lots that were weighed fresh and dry: the dry weight."""
    laid_out_g: Mapping[int, float] = field(default_factory=dict)
    """By lots that are a laid out part of another, where it was corrected."""


class _Lot(NamedTuple):
    """The columns of a lot that follow from its ledger, or have to agree with it."""

    lot_id: int
    code: str
    mass_g: float | None
    used_up_on: str | None
    laid_out_on: str | None
    laid_out_g: float | None
    laid_out_at: str
    dry_on: str | None
    dry_g: float | None
    is_part: bool


def _lots(keeper: Keeper, lot_ids: Collection[int]) -> list[_Lot]:
    rows = keeper.rows(
        """SELECT l.id, l.code, l.mass_g, l.used_up_on, l.laid_out_on, l.laid_out_g,
                  coalesce((SELECT min(at) FROM standing e WHERE e.lot_id = l.id
                            AND e.kind = 'laid out'), '9999'),
                  l.dry_on, l.dry_g, l.from_lot_id IS NOT NULL
           FROM herb_lot l WHERE l.id IN (SELECT value FROM json_each(?))""",
        json.dumps(list(lot_ids)),
    )
    return [_Lot(*row) for row in rows]


def lot_anchors(keeper: Keeper, lot_ids: Collection[int]) -> LotAnchors:
    """What is to stay as it was seen of these lots."""
    seen_g: dict[int, float] = {}
    ended: set[int] = set()
    held_g: dict[int, float] = {}
    dry_g: dict[int, float] = {}
    ledgers = entries_of(keeper, lot_ids)
    for lot in _lots(keeper, lot_ids):
        entries = ledgers[lot.lot_id]
        for entry in entries:
            if entry.kind == HerbMovementKind.WEIGH_IN and entry.movement_id is not None:
                seen_g[entry.movement_id] = entry.left_g or 0.0
        if lot.used_up_on is not None:
            ended.update(_ending(entries))
        if lot.laid_out_on is not None and not lot.is_part:
            held = _held_when_laid_out(lot, entries)
            if held is not None:
                held_g[lot.lot_id] = held
        if lot.dry_g is not None and _is_dried_by_weight(entries):
            dry_g[lot.lot_id] = lot.dry_g
    return LotAnchors(seen_g, frozenset(ended), held_g, dry_g)


def _ending(entries: Sequence[LotEntry]) -> list[int]:
    """The entry that took what was left, if there is one."""
    taken = [each for each in entries if each.movement_id is not None]
    if not taken or taken[-1].kind not in (HerbMovementKind.USED_UP, *HERB_DISCARDS):
        return []
    left_g, movement_id = taken[-1].left_g, taken[-1].movement_id
    assert movement_id is not None
    return [movement_id] if left_g is None or left_g <= EMPTY_G else []


def _is_dried_by_weight(entries: Sequence[LotEntry]) -> bool:
    return any(entry.kind == HerbMovementKind.DRIED for entry in entries)


def _held_when_laid_out(lot: _Lot, entries: Sequence[LotEntry]) -> float | None:
    """What it held by the record when it was laid out; None where it wasn't weighed by then."""
    assert lot.laid_out_on is not None
    on = date.fromisoformat(lot.laid_out_on)
    held = lot.mass_g
    for entry in entries:
        if entry.kind == HerbMovementKind.DRIED:
            break
        if entry.day < on or (entry.day == on and entry.at <= lot.laid_out_at):
            held = entry.left_g
    return held


def replay_lots(keeper: Keeper, lot_ids: Collection[int], seen: LotAnchors) -> None:
    """Let weighings, drying and endings agree with what changed before them, in a running act.

    Refused where a lot would weigh no less dry than fresh.
    """
    for lot in _lots(keeper, lot_ids):
        laid_g = seen.laid_out_g.get(lot.lot_id)
        if laid_g is not None:
            _refuse_heavier_dry(keeper, lot, laid_g, seen.dry_g.get(lot.lot_id))
            # Its dry weight waits until it is known that the two agree.
            keeper.store.db.execute_sql(
                "UPDATE herb_lot SET mass_g = ?, laid_out_g = ?, dry_g = NULL WHERE id = ?",
                (laid_g, laid_g, lot.lot_id),
            )
            lot = lot._replace(mass_g=laid_g, laid_out_g=laid_g)
        _follow(keeper, lot, entries_of(keeper, [lot.lot_id])[lot.lot_id], seen)
        _agree_on_drying(keeper, lot, seen)


def _follow(keeper: Keeper, lot: _Lot, entries: Sequence[LotEntry], seen: LotAnchors) -> None:
    held = lot.mass_g
    taken_g = 0.0
    for entry in entries:
        new_g = entry.mass_g
        if entry.movement_id in seen.seen_g:
            assert entry.movement_id is not None
            # One never weighed before held what was taken of it, too.
            new_g = seen.seen_g[entry.movement_id] - (taken_g if held is None else held)
            held = seen.seen_g[entry.movement_id]
        elif entry.kind == HerbMovementKind.DRIED and lot.lot_id in seen.dry_g:
            if held is None:
                raise Refused(f"{lot.code} was weighed dry, so its fresh weight is needed.")
            dry_g = seen.dry_g[lot.lot_id]
            if dry_g >= held - EMPTY_G:
                said = wording(keeper)
                raise Refused(
                    f"{lot.code} would hold {said.mass(max(0.0, held))} fresh and "
                    f"{said.mass(dry_g)} dry. Correct its dry weight too: dry-weight=…"
                )
            new_g, held = dry_g - held, dry_g
        elif entry.movement_id in seen.ended and held is not None:
            new_g, held = -max(0.0, held), 0.0
        elif held is not None:
            held += entry.mass_g or 0.0
        taken_g += new_g or 0.0
        if entry.movement_id is not None:
            _write(keeper, entry, new_g)
    if lot.used_up_on is not None and held is not None and held > EMPTY_G:
        keeper.store.db.execute_sql(
            "INSERT INTO herb_movement (lot_id, mass_g, kind, at, day) VALUES (?, ?, ?, ?, ?)",
            (lot.lot_id, -held, str(HerbMovementKind.USED_UP),
             f"{lot.used_up_on}T12:00:00.000000+00:00", lot.used_up_on),
        )  # fmt: skip


def _write(keeper: Keeper, entry: LotEntry, new_g: float | None) -> None:
    if new_g is None or (entry.mass_g is not None and abs(new_g - entry.mass_g) < _SAME_G):
        return
    if abs(new_g) <= EMPTY_G and entry.kind != HerbMovementKind.WEIGH_IN:
        keeper.store.db.execute_sql("DELETE FROM herb_movement WHERE id = ?", (entry.movement_id,))
    else:
        keeper.store.db.execute_sql(
            "UPDATE herb_movement SET mass_g = ? WHERE id = ?", (new_g, entry.movement_id)
        )


def _agree_on_drying(keeper: Keeper, lot: _Lot, seen: LotAnchors) -> None:
    """Write the fresh and dry weight of a lot that was laid out, as its ledger has them."""
    if lot.laid_out_on is None:
        return
    entries = entries_of(keeper, [lot.lot_id])[lot.lot_id]
    laid_g, dry_g = lot.laid_out_g, seen.dry_g.get(lot.lot_id)
    held = None if lot.is_part else _held_when_laid_out(lot, entries)
    if held is not None and laid_g is not None and lot.lot_id in seen.held_g:
        laid_g += held - seen.held_g[lot.lot_id]
    if dry_g is None and lot.dry_on is not None and lot.dry_g is not None:
        on = date.fromisoformat(lot.dry_on)
        weighed = [e.left_g for e in entries if e.kind == HerbMovementKind.WEIGH_IN and e.day == on]
        dry_g = weighed[0] if weighed else None
    if laid_g is not None:
        _refuse_heavier_dry(keeper, lot, laid_g, dry_g)
    keeper.store.db.execute_sql(
        "UPDATE herb_lot SET laid_out_g = ?, dry_g = ? WHERE id = ? "
        "AND (laid_out_g, dry_g) IS NOT (?, ?)",
        (laid_g, dry_g, lot.lot_id, laid_g, dry_g),
    )


def _refuse_heavier_dry(keeper: Keeper, lot: _Lot, laid_g: float, dry_g: float | None) -> None:
    said = wording(keeper)
    if laid_g <= EMPTY_G:
        raise Refused(f"{lot.code} would have weighed nothing when it was laid out.")
    if dry_g is not None and dry_g >= laid_g:
        raise Refused(
            f"{lot.code} would be {said.mass(laid_g)} when it was laid out and "
            f"{said.mass(dry_g)} dry. Correct its dry weight too: dry-weight=…"
        )


_SAME_G = 1e-9
"""Sums of the same weights in another order differ by less."""
