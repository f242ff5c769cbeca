"""What bottles held, followed again from the filling: what was seen in them stays."""

import json
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import NamedTuple

from stillroom.keeping.keeper import Keeper
from stillroom.keeping.tolerances import EMPTY_ML
from stillroom.reckoning.states import CORRECTIONS, MovementKind


@dataclass(frozen=True)
class Anchors:
    """What was seen, and stays so whatever changes before it."""

    seen_ml: Mapping[int, float]
    """By counts and weighings: what the bottle held."""
    emptied: frozenset[int]
    """Ids of discards that emptied the bottle."""
    into: Mapping[int, int]
    """Movements that poured one bottle into another, as much as went: giver to taker."""


_MOVEMENTS = """
    SELECT m.id, m.bottle_id, m.kind, m.volume_ml, m.at, b.size_ml,
           sum(m.volume_ml) OVER (PARTITION BY m.bottle_id ORDER BY m.id)
    FROM bottle b JOIN movement m ON m.bottle_id = b.id
    WHERE b.tincture_id IN (SELECT value FROM json_each(?)) ORDER BY m.id
"""


class _BottleEntry(NamedTuple):
    """A movement of one of the bottles, and what the bottle held after it."""

    movement_id: int
    bottle_id: int
    kind: str
    volume_ml: float
    at: str
    size_ml: float
    held_ml: float


def _movements(keeper: Keeper, tincture_ids: Collection[int]) -> list[_BottleEntry]:
    """The movements of these tinctures' bottles as they came after each other.

    Of one bottle they are in the order of their ids; an import numbers them bottle by bottle, so
    those of two bottles are in the order of their moments. What is poured leaves before it comes.
    """
    latest: dict[int, str] = {}
    found = []
    for row in keeper.rows(_MOVEMENTS, json.dumps(list(tincture_ids))):
        line = _BottleEntry(*row)
        latest[line.bottle_id] = max(latest.get(line.bottle_id, ""), line.at)
        comes = line.kind == MovementKind.POUR_TOGETHER and line.volume_ml > 0
        found.append((latest[line.bottle_id], comes, line))
    return [line for *_, line in sorted(found)]


def anchors(keeper: Keeper, tincture_ids: Collection[int]) -> Anchors:
    """What is to stay as it was seen in the bottles of these tinctures."""
    seen_ml: dict[int, float] = {}
    emptied: set[int] = set()
    into: dict[int, int] = {}
    giver: _BottleEntry | None = None
    for line in _movements(keeper, tincture_ids):
        if line.kind in CORRECTIONS:
            seen_ml[line.movement_id] = line.held_ml
        elif line.kind == MovementKind.DISCARD and line.held_ml <= EMPTY_ML:
            emptied.add(line.movement_id)
        elif line.kind == MovementKind.POUR_TOGETHER and line.volume_ml < 0:
            giver = line
        elif line.kind == MovementKind.POUR_TOGETHER and giver and giver.at == line.at:
            if giver.held_ml <= EMPTY_ML or line.held_ml >= line.size_ml - EMPTY_ML:
                into[giver.movement_id] = line.movement_id
            giver = None
    return Anchors(seen_ml, frozenset(emptied), into)


def replay(keeper: Keeper, tincture_ids: Collection[int], seen: Anchors) -> None:
    """Let counts, discards and pourings agree with what changed before them, in a running act.

    A bottle held what was seen in it; what was missing then follows. An entry of which nothing is
    left goes.
    """
    held: dict[int, float] = {}
    takers = {taker: giver for giver, taker in seen.into.items()}
    given: dict[int, float] = {}
    lines = _movements(keeper, tincture_ids)
    by_id = {line.movement_id: line for line in lines}
    for line in lines:
        in_it = held.get(line.bottle_id, 0.0)
        new_ml = line.volume_ml
        if line.movement_id in seen.seen_ml:
            new_ml = seen.seen_ml[line.movement_id] - in_it
        elif line.movement_id in seen.emptied:
            new_ml = -max(0.0, in_it)
        elif taker := by_id.get(seen.into.get(line.movement_id, 0)):
            room_ml = taker.size_ml - held.get(taker.bottle_id, 0.0)
            given[line.movement_id] = max(0.0, min(in_it, room_ml))
            new_ml = -given[line.movement_id]
        elif takers.get(line.movement_id) in given:
            new_ml = given[takers[line.movement_id]]
        held[line.bottle_id] = in_it + new_ml
        if abs(new_ml - line.volume_ml) < _SAME_ML:
            continue
        if abs(new_ml) <= EMPTY_ML:
            keeper.store.db.execute_sql("DELETE FROM movement WHERE id = ?", (line.movement_id,))
        else:
            keeper.store.db.execute_sql(
                "UPDATE movement SET volume_ml = ? WHERE id = ?", (new_ml, line.movement_id)
            )


_SAME_ML = 1e-9
"""Sums of the same volumes in another order differ by less."""
