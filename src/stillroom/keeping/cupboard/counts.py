"""What was seen when a spirit or other liquid was counted stays, whatever changes before it."""

import json
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import NamedTuple

from stillroom.errors import Refused
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.tolerances import EMPTY_ML
from stillroom.reckoning.states import CupboardMovementKind, InputKind, in_sql

Owner = tuple[str, int]
"""`spirit` or `liquid`, and its id."""
Moment = tuple[str, int]
"""When something was written down, and the line of the ledger that was written with it."""


class CupboardEntry(NamedTuple):
    """What a spirit or liquid gained or lost, and what it held after it by the record."""

    kind: str
    """Of a movement; `pour` or `input` of what went into a jar or batch."""
    row_id: int
    day: str
    volume_ml: float
    left_ml: float | None
    """None where it isn't counted."""

    @property
    def is_movement(self) -> bool:
        """Whether it was counted or taken, and not poured."""
        return self.kind not in (_POUR, _INPUT)


_POUR, _INPUT = "pour", "input"


@dataclass(frozen=True)
class SeenInCupboard:
    """What the counts saw, and in which order everything was written down."""

    seen_ml: Mapping[int, float] = field(default_factory=dict)
    """By counts, which are movements."""
    moments: Mapping[tuple[str, int], Moment] = field(default_factory=dict)
    """By table and id of what was gained, lost or poured."""


_OWNERS = (str(InputKind.SPIRIT), str(InputKind.LIQUID))


def seen_in_cupboard(keeper: Keeper) -> SeenInCupboard:
    """What every count saw that is still recorded."""
    owners = _counted(keeper)
    if not owners:
        return SeenInCupboard()
    moments = moments_of(keeper, owners)
    seen = {
        entry.row_id: entry.left_ml
        for owner in owners
        for entry in cupboard_entries(keeper, owner, moments)
        if entry.kind == CupboardMovementKind.COUNT and entry.left_ml is not None
    }
    return SeenInCupboard(seen, moments)


def keep_what_was_seen(keeper: Keeper, seen: SeenInCupboard) -> None:
    """Let each count agree with what changed before it, in a running act.

    A count of which nothing is left goes.
    """
    owners = _counted(keeper) if seen.seen_ml else []
    moments = (moments_of(keeper, owners) if owners else {}) | dict(seen.moments)
    for owner in owners:
        held: float | None = None
        for entry in cupboard_entries(keeper, owner, moments):
            if entry.left_ml is None:
                break
            before = entry.left_ml - entry.volume_ml if held is None else held
            held = before + entry.volume_ml
            if entry.kind == CupboardMovementKind.COUNT and entry.row_id in seen.seen_ml:
                held = seen.seen_ml[entry.row_id]
                _write(keeper, entry, held - before)


@contextmanager
def counts_kept(keeper: Keeper) -> Iterator[None]:
    """Whatever is changed inside, what later counts saw stays; for use in a running act.

    Refused where more would have been used before a count than there was.
    """
    seen = seen_in_cupboard(keeper)
    yield
    keep_what_was_seen(keeper, seen)
    owners = _counted(keeper) if seen.seen_ml else []
    if not owners:
        return
    moments = moments_of(keeper, owners)
    if any(lacking(cupboard_entries(keeper, owner, moments)) for owner in owners):
        raise Refused("There is not that much of this spirit left in the cupboard.")


def _write(keeper: Keeper, entry: CupboardEntry, new_ml: float) -> None:
    if abs(new_ml - entry.volume_ml) < _SAME_ML:
        return
    if abs(new_ml) <= EMPTY_ML:
        keeper.store.db.execute_sql("DELETE FROM cupboard_movement WHERE id = ?", (entry.row_id,))
    else:
        keeper.store.db.execute_sql(
            "UPDATE cupboard_movement SET volume_ml = ? WHERE id = ?", (new_ml, entry.row_id)
        )


_SAME_ML = 1e-9
"""Sums of the same volumes in another order differ by less."""


def cupboard_entries(
    keeper: Keeper, owner: Owner, moments: Mapping[tuple[str, int], Moment] | None = None
) -> list[CupboardEntry]:
    """What a spirit or liquid gained and lost since it was bought, in the order of writing down.

    That isn't the order of days: a count saw what was left after what had been recorded by then.
    """
    if moments is None:
        moments = moments_of(keeper, [owner])
    kind, row_id = owner
    ((bought_ml,),) = keeper.rows(f"SELECT bought_ml FROM {kind} WHERE id = ?", row_id)
    rows = [
        (moments.get((record, entry_id), (at, line)), entry_id, what, day, volume_ml)
        for record, entry_id, what, day, at, line, volume_ml in keeper.rows(
            f"""SELECT 'cupboard_movement', id, kind, day, at, 0, volume_ml FROM cupboard_movement
                WHERE {kind}_id = ?
                UNION ALL
                SELECT 'pour', id, 'pour', poured_on, poured_on, 0, -volume_ml FROM pour
                WHERE {kind}_id = ?
                UNION ALL
                SELECT 'batch_input', i.id, 'input', t.made_on, t.made_on, 0, -i.volume_ml
                FROM batch_input i JOIN tincture t ON t.id = i.tincture_id
                WHERE i.{kind}_id = ?""",
            row_id,
            row_id,
            row_id,
        )
    ]
    found = []
    left_ml = bought_ml
    for _, entry_id, what, day, volume_ml in sorted(rows):
        if left_ml is not None:
            left_ml += volume_ml
        found.append(CupboardEntry(what, entry_id, day, volume_ml, left_ml))
    return found


def lacking(entries: Iterable[CupboardEntry]) -> CupboardEntry | None:
    """The first entry for which there wasn't enough; None where there always was."""
    return next((e for e in entries if e.left_ml is not None and e.left_ml < -EMPTY_ML), None)


def _counted(keeper: Keeper) -> list[Owner]:
    """The spirits and liquids that were counted once at least."""
    return [
        (kind, row_id)
        for kind in _OWNERS
        for (row_id,) in keeper.rows(
            f"""SELECT DISTINCT {kind}_id FROM cupboard_movement
                WHERE kind = 'count' AND {kind}_id IS NOT NULL"""
        )
    ]


def moments_of(keeper: Keeper, owners: Collection[Owner]) -> dict[tuple[str, int], Moment]:
    """When what was poured, put into a batch, counted or taken was written down, where known.

    Of the rest the day alone is known, which is before all that was done that day.
    """
    moments: dict[tuple[str, int], Moment] = {
        ("cupboard_movement", movement_id): (at, line)
        for movement_id, at, line in keeper.rows(
            f"""SELECT m.id, m.at, max(e.id) FROM standing e JOIN cupboard_movement m
                ON m.at = e.at AND m.kind = e.kind AND m.spirit_id IS e.spirit_id
                WHERE e.kind IN {in_sql(tuple(CupboardMovementKind))} GROUP BY m.id"""
        )
    }
    for kind in _OWNERS:
        ids = json.dumps([row_id for owner, row_id in owners if owner == kind])
        moments |= _of_pours(keeper, kind, ids)
        moments |= {
            ("batch_input", input_id): (at, line)
            for input_id, at, line in keeper.rows(
                f"""SELECT i.id, min(e.at), min(e.id) FROM batch_input i
                    JOIN standing e ON e.tincture_id = i.tincture_id AND e.kind = 'blended'
                    WHERE i.{kind}_id IN (SELECT value FROM json_each(?)) GROUP BY i.id""",
                ids,
            )
        }
    return moments


def _of_pours(keeper: Keeper, kind: str, ids: str) -> dict[tuple[str, int], Moment]:
    """A line of a top-up belongs to the last pour of its day, the line of the filling to those of
    that day that are left."""
    jars = f"SELECT jar_id FROM pour WHERE {kind}_id IN (SELECT value FROM json_each(?))"
    pours: dict[int, list[tuple[int, str]]] = defaultdict(list)
    filled: dict[int, str] = {}
    for jar_id, filled_on, pour_id, poured_on in keeper.rows(
        f"""SELECT j.id, j.filled_on, p.id, p.poured_on FROM pour p JOIN jar j ON j.id = p.jar_id
            WHERE j.id IN ({jars}) ORDER BY p.id""",
        ids,
    ):
        pours[jar_id].append((pour_id, poured_on))
        filled[jar_id] = filled_on
    moments: dict[tuple[str, int], Moment] = {}
    for jar_id, what, day, *moment in keeper.rows(
        f"""SELECT jar_id, kind, day, at, id FROM standing
            WHERE kind IN ('filled', 'imported', 'topped up') AND jar_id IN ({jars})
            ORDER BY kind = 'topped up' DESC, id DESC""",
        ids,
    ):
        of_day = [each for each in pours[jar_id] if each[1] == day]
        if what == "topped up":
            of_day = of_day[-1:] or pours[jar_id][-1:]  # its day may have been corrected
        else:
            of_day = [each for each in pours[jar_id] if each[1] == filled[jar_id]]
        for each in of_day:
            moments["pour", each[0]] = moment[0], moment[1]
            pours[jar_id].remove(each)
    return moments
