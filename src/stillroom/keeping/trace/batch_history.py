"""How a tincture came to be: components, steps, shakes and bottles, for its batch record."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta

from stillroom.keeping.bottles.blend_views import BlendPartView, InputView
from stillroom.keeping.bottles.blends import blend_parts
from stillroom.keeping.bottles.inputs import batch_inputs
from stillroom.keeping.bottles.losses import losses_of
from stillroom.keeping.bottles.print_log import PrintedLabel, printed_labels
from stillroom.keeping.bottles.tinctures import tincture_view
from stillroom.keeping.closing import ClosingView, closing_of
from stillroom.keeping.jars.jar_view import jar_view, was_imported
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.ledger import jar_history, tincture_history
from stillroom.keeping.ledger_views import EventView, Mark
from stillroom.keeping.views import JarView, TinctureView
from stillroom.reckoning.states import LineKind, LossKind, MovementKind


@dataclass(frozen=True)
class FilledBottle:
    """A bottle as it was filled."""

    bottle_id: int
    code: str
    size_ml: float
    filled_ml: float
    filled_on: date
    place: str
    maker: str
    bottle_lot: str = ""
    """Lot of the empty bottle."""
    cap_lot: str = ""


@dataclass(frozen=True)
class ShakeRecord:
    """How the daily round went for one jar."""

    per_day: int
    recorded_from: date | None
    """The first day on record, None where none is: what a spreadsheet leaves out isn't missed."""
    not_recorded: int
    """Days of steeping before that."""
    planned: int
    """Shakes wanted from the first day on record to the day before straining."""
    done: int
    missed_on: tuple[date, ...]
    """Days with fewer ticks than were wanted."""
    makers: tuple[str, ...]
    """Initials of who ticked them off."""


@dataclass(frozen=True)
class RecordCorrection:
    """A correction of something in the record, or its undo or redo."""

    line_id: int
    """Its line in the journal."""
    at: str
    maker: str
    kind: str
    """Such as `corrected` or `undone`."""
    text: str
    """What was corrected, old and new in words."""
    why: str


@dataclass(frozen=True)
class BatchHistory:
    """Everything the shelf knows of how a tincture was made."""

    tincture: TinctureView
    jar: JarView | None
    """None for a blend."""
    parts: tuple[BlendPartView, ...]
    """What went into a blend."""
    shakes: ShakeRecord | None
    """None for a blend."""
    bottles: tuple[FilledBottle, ...]
    events: tuple[EventView, ...]
    """Oldest first, without shakes and without what happened to its bottles later."""
    corrections: tuple[RecordCorrection, ...] = ()
    """Oldest first."""
    labels: tuple[PrintedLabel, ...] = ()
    """Labels printed for its bottles, oldest first."""
    closing: ClosingView | None = None
    """None while the record is open."""
    losses: Mapping[LossKind, float] = field(default_factory=dict)
    """mL lost before it was bottled, by kind."""
    inputs: tuple[InputView, ...] = ()
    """What went into it from elsewhere than bottles, where it was made of others."""

    @property
    def revision(self) -> int:
        """1 for a record that was never corrected."""
        return 1 + len({each.line_id for each in self.corrections})

    @property
    def bottled_ml(self) -> float:
        """Filled into bottles, all together."""
        return sum(bottle.filled_ml for bottle in self.bottles)

    def maker_of(self, kind: str) -> str:
        """Initials of who wrote down the first event of a kind; who imported it did not make it."""
        made = (
            event
            for event in self.events
            if event.kind == kind and event.mark is not Mark.UNDONE and not was_imported(event)
        )
        return next((event.maker for event in made), "")


def batch_history(keeper: Keeper, tincture_id: int) -> BatchHistory:
    """How a tincture was made; Refused where it is no longer there."""
    tincture = tincture_view(keeper, tincture_id)
    jar = jar_view(keeper, tincture.jar_id) if tincture.jar_id is not None else None
    lines = tincture_history(keeper, tincture_id)
    if tincture.jar_id is not None:
        lines += jar_history(keeper, tincture.jar_id)
    told = {line.event_id: line for line in lines if line.kind != "shaken" and not line.bottle_id}
    bottles = _bottles(keeper, tincture_id)
    events = tuple(told[event_id] for event_id in sorted(told))
    return BatchHistory(
        corrections=_corrections(keeper, tincture_id, events),
        labels=tuple(printed_labels(keeper, [bottle.code for bottle in bottles])),
        closing=closing_of(keeper, tincture.code),
        tincture=tincture,
        jar=jar,
        parts=blend_parts(keeper, tincture_id),
        losses=losses_of(keeper, tincture_id),
        inputs=batch_inputs(keeper, tincture_id),
        shakes=_shakes(keeper, jar, tincture.made_on) if jar else None,
        bottles=bottles,
        events=events,
    )


# A draw corrected later is no part of how a batch was made; how a bottle was filled is.
_CORRECTIONS = f"""
    SELECT j.id, e.at, e.maker, e.kind, e.text, j.why
    FROM event e JOIN journal j ON j.id = e.journal_id LEFT JOIN journal o ON o.id = j.of_id
    WHERE '{LineKind.CORRECTION}' IN (j.kind, o.kind) AND (
        e.id IN (SELECT value FROM json_each(?))
        OR (e.bottle_id IN (SELECT id FROM bottle WHERE tincture_id = ?)
            AND EXISTS (SELECT 1 FROM journal_change c WHERE c.journal_id IN (j.id, o.id)
                        AND (c.record = 'bottle' OR (c.record = 'movement'
                             AND c.before ->> '$.kind' = '{MovementKind.FILL}')))))
    ORDER BY e.id
"""


def _corrections(
    keeper: Keeper, tincture_id: int, events: Sequence[EventView]
) -> tuple[RecordCorrection, ...]:
    ids = json.dumps([event.event_id for event in events])
    return tuple(RecordCorrection(*row) for row in keeper.rows(_CORRECTIONS, ids, tincture_id))


def _bottles(keeper: Keeper, tincture_id: int) -> tuple[FilledBottle, ...]:
    rows = keeper.rows(
        """SELECT b.id, b.code, b.size_ml, sum(m.volume_ml), b.filled_on, b.place, min(m.maker),
                  b.bottle_lot, b.cap_lot
           FROM bottle b JOIN movement m ON m.bottle_id = b.id AND m.kind = 'fill'
           WHERE b.tincture_id = ? GROUP BY b.id ORDER BY b.id""",
        tincture_id,
    )
    return tuple(
        FilledBottle(
            bottle_id, code, size_ml, filled_ml, date.fromisoformat(filled_on), place, maker, *lots
        )
        for bottle_id, code, size_ml, filled_ml, filled_on, place, maker, *lots in rows
    )


def _shakes(keeper: Keeper, jar: JarView, strained_on: date) -> ShakeRecord:
    per_day = jar.card.shakes_per_day
    steeped = [
        jar.card.filled_on + timedelta(days=n)
        for n in range((strained_on - jar.card.filled_on).days)
    ]
    start = jar.shakes_recorded_from
    days = [day for day in steeped if start is not None and day >= start]
    makers = keeper.rows(
        "SELECT DISTINCT maker FROM shake WHERE jar_id = ? AND maker <> '' ORDER BY maker",
        jar.card.jar_id,
    )
    return ShakeRecord(
        per_day=per_day,
        recorded_from=start,
        not_recorded=len(steeped) - len(days),
        planned=per_day * len(days),
        done=sum(jar.days_shaken.values()),
        missed_on=tuple(day for day in days if jar.days_shaken.get(day, 0) < per_day),
        makers=tuple(maker for (maker,) in makers),
    )
