"""What was withdrawn, and where every bottle of it is: given, used, destroyed or still here."""

import json
from dataclasses import dataclass
from datetime import date

from stillroom.keeping.bottles.tinctures import tincture_views
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.views import TinctureView
from stillroom.keeping.words import for_whom, in_a_row
from stillroom.reckoning.states import BatchStatus, MovementKind

_ACTS = f"""
    SELECT j.id, j.day, j.maker, j.title, j.why, e.tincture_id
    FROM standing e JOIN journal j ON j.id = e.journal_id
    JOIN tincture t ON t.id = e.tincture_id AND t.status = '{BatchStatus.WITHDRAWN}'
    WHERE e.kind = '{BatchStatus.WITHDRAWN}'
    ORDER BY j.id, e.id
"""
_MOVEMENTS = """
    SELECT b.tincture_id, b.id, b.code, b.place, m.kind, m.volume_ml, m.day, m.person, m.note
    FROM bottle b JOIN movement m ON m.bottle_id = b.id
    WHERE b.tincture_id IN (SELECT value FROM json_each(?)) ORDER BY b.id, m.id
"""


_RETURNS = """
    SELECT b.tincture_id, b.id, r.volume_ml, r.day, r.person, r.note
    FROM bottle b JOIN returned r ON r.bottle_id = b.id
    WHERE b.tincture_id IN (SELECT value FROM json_each(?)) ORDER BY b.id, r.id
"""


@dataclass(frozen=True)
class Out:
    """Liquid that left a bottle for somebody, or for good, or came back."""

    volume_ml: float
    day: date
    note: str
    """To or from whom, or why."""


@dataclass
class WithdrawnBottle:
    """A bottle of a batch that was withdrawn."""

    code: str
    place: str
    filled_ml: float = 0.0
    left_ml: float = 0.0
    given: tuple[Out, ...] = ()
    destroyed: tuple[Out, ...] = ()
    returned: tuple[Out, ...] = ()
    """What came back of what was drawn and given; it is in no bottle again."""
    blended_ml: float = 0.0
    """Into blends, which are withdrawn with it."""

    @property
    def used_ml(self) -> float:
        """Drawn, spilled, or found missing."""
        out = self.blended_ml + sum(each.volume_ml for each in (*self.given, *self.destroyed))
        return self.filled_ml - self.left_ml - out


@dataclass(frozen=True)
class WithdrawnBatch:
    """A batch of a withdrawn tree."""

    tincture: TinctureView
    bottles: tuple[WithdrawnBottle, ...]


@dataclass(frozen=True)
class Withdrawal:
    """One act that withdrew batches, with those that are still withdrawn."""

    line_id: int
    """Its line in the journal."""
    day: date
    maker: str
    title: str
    why: str
    batches: tuple[WithdrawnBatch, ...]


def withdrawals(keeper: Keeper) -> list[Withdrawal]:
    """Every act that withdrew batches, oldest first; a batch is listed with the last of them."""
    acts: dict[int, tuple[date, str, str, str]] = {}
    withdrawn_by: dict[int, int] = {}
    for line_id, day, maker, title, why, tincture_id in keeper.rows(_ACTS):
        acts[line_id] = (date.fromisoformat(day), maker, title, why)
        withdrawn_by[tincture_id] = line_id
    views = tincture_views(keeper, withdrawn_by)
    bottles = _bottles(keeper, list(withdrawn_by))
    found = []
    for line_id, act in acts.items():
        batches = tuple(
            WithdrawnBatch(views[tincture_id], tuple(bottles.get(tincture_id, {}).values()))
            for tincture_id, by in withdrawn_by.items()
            if by == line_id
        )
        if batches:
            found.append(Withdrawal(line_id, *act, batches))
    return found


def _bottles(keeper: Keeper, tincture_ids: list[int]) -> dict[int, dict[int, WithdrawnBottle]]:
    found: dict[int, dict[int, WithdrawnBottle]] = {}
    rows = keeper.rows(_MOVEMENTS, json.dumps(tincture_ids))
    for tincture_id, bottle_id, code, place, kind, volume_ml, day, person, note in rows:
        of_batch = found.setdefault(tincture_id, {})
        bottle = of_batch.setdefault(bottle_id, WithdrawnBottle(code, place))
        bottle.left_ml += volume_ml
        out = Out(-volume_ml, date.fromisoformat(day), for_whom(person, note))
        match kind:
            case MovementKind.FILL:
                bottle.filled_ml += volume_ml
            case MovementKind.GIVE:
                bottle.given += (out,)
            case MovementKind.DRAW if person:
                bottle.given += (out,)
            case MovementKind.DISCARD:
                bottle.destroyed += (out,)
            case MovementKind.BLEND:
                bottle.blended_ml -= volume_ml
    for tincture_id, bottle_id, volume_ml, day, person, note in keeper.rows(
        _RETURNS, json.dumps(tincture_ids)
    ):
        back = Out(volume_ml, date.fromisoformat(day), in_a_row(person, note))
        found[tincture_id][bottle_id].returned += (back,)
    return found
