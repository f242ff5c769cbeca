"""What is signed for at the end of a period: the spirit account and the losses."""

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date

from stillroom.dates import day_or_none
from stillroom.errors import Refused
from stillroom.keeping.keeper import Keeper
from stillroom.reckoning.states import CupboardMovementKind, InputKind, LiquidKind, MovementKind

_SPIRITS = "SELECT id, name, strength_abv, bought_ml, bought_on FROM spirit ORDER BY id"
_USED = f"""
    SELECT spirit_id, poured_on, volume_ml FROM pour
    WHERE kind = '{LiquidKind.SPIRIT}' AND spirit_id IS NOT NULL
    UNION ALL
    SELECT i.spirit_id, t.made_on, i.volume_ml FROM batch_input i
    JOIN tincture t ON t.id = i.tincture_id WHERE i.kind = '{InputKind.SPIRIT}'
"""
_MOVED = """
    SELECT spirit_id, day, kind, volume_ml FROM cupboard_movement WHERE spirit_id IS NOT NULL
"""
_LOST_KINDS = (
    MovementKind.SPILL, MovementKind.SPOILED, MovementKind.DISCARD, MovementKind.FILTERED_OFF,
    MovementKind.DREGS, MovementKind.EVAPORATED, MovementKind.SAMPLE,
)  # fmt: skip
_LOSSES = f"""
    SELECT l.day, t.code, l.kind, l.volume_ml, l.maker, l.note
    FROM loss l JOIN tincture t ON t.id = l.tincture_id
    UNION ALL
    SELECT m.day, b.code, m.kind, -m.volume_ml, m.maker, m.note
    FROM movement m JOIN bottle b ON b.id = m.bottle_id
    WHERE m.kind IN ({", ".join(f"'{kind}'" for kind in _LOST_KINDS)})
    ORDER BY 1, 2
"""


@dataclass
class SpiritAccount:
    """One purchase of spirit over a period, mL."""

    name: str
    strength_abv: float
    is_counted: bool
    """Whether its volume was given: otherwise only what was used is known."""
    before_ml: float = 0.0
    bought_ml: float = 0.0
    used_ml: float = 0.0
    """Poured on herb, and into batches."""
    given_ml: float = 0.0
    lost_ml: float = 0.0
    """Spilled, evaporated, spoiled and discarded."""
    counted_ml: float = 0.0
    """Found (+) or found missing (-) when it was counted."""

    @property
    def left_ml(self) -> float:
        """At the end of the period."""
        there = self.before_ml + self.bought_ml + self.counted_ml
        return there - self.used_ml - self.given_ml - self.lost_ml

    @property
    def is_empty(self) -> bool:
        """Whether there was none, and nothing happened."""
        amounts = self.before_ml, self.bought_ml, self.used_ml, self.given_ml, self.lost_ml
        return not any(amounts) and not self.counted_ml

    def ethanol_ml(self, volume_ml: float) -> float:
        """Pure ethanol in some of it, mL."""
        return volume_ml * self.strength_abv / 100.0


@dataclass(frozen=True)
class SpiritPeriod:
    """The spirit account of a period."""

    since: date
    until: date
    lines: tuple[SpiritAccount, ...]
    without_day: tuple[str, ...] = field(default=())
    """Purchases without a day: they count as there before."""


@dataclass(frozen=True)
class LossSeen:
    """Something that was of no use."""

    day: date
    code: str
    kind: str
    volume_ml: float
    maker: str
    note: str


def spirit_period(keeper: Keeper, since: date, until: date) -> SpiritPeriod:
    """What was bought, used, lost and left of each purchase of spirit, both days included."""
    _refuse_backwards(since, until)
    accounts: dict[int, SpiritAccount] = {}
    without_day = []
    for spirit_id, name, strength_abv, bought_ml, day in keeper.rows(_SPIRITS):
        line = accounts[spirit_id] = SpiritAccount(name, strength_abv, bought_ml is not None)
        bought_on = day_or_none(day)
        if bought_ml is None:
            continue
        if bought_on is None:
            without_day.append(name)
        if bought_on is None or bought_on < since:
            line.before_ml += bought_ml
        elif bought_on <= until:
            line.bought_ml += bought_ml
    for spirit_id, on, change, volume_ml in _changes(keeper):
        line = accounts[spirit_id]
        if on < since:
            if line.is_counted:
                line.before_ml += volume_ml if change == "counted_ml" else -volume_ml
        elif on <= until:
            setattr(line, change, getattr(line, change) + volume_ml)
    lines = tuple(line for line in accounts.values() if not line.is_empty)
    return SpiritPeriod(since, until, lines, tuple(dict.fromkeys(without_day)))


def _changes(keeper: Keeper) -> Iterator[tuple[int, date, str, float]]:
    """Each change of a spirit with its day, the column it belongs to, and mL."""
    columns = defaultdict(
        lambda: "lost_ml",
        {str(CupboardMovementKind.COUNT): "counted_ml", str(CupboardMovementKind.GIVE): "given_ml"},
    )
    for spirit_id, day, volume_ml in keeper.rows(_USED):
        yield spirit_id, date.fromisoformat(day), "used_ml", volume_ml
    for spirit_id, day, kind, volume_ml in keeper.rows(_MOVED):
        column = columns[kind]
        amount = volume_ml if column == "counted_ml" else -volume_ml
        yield spirit_id, date.fromisoformat(day), column, amount


def losses_of(keeper: Keeper, since: date, until: date) -> list[LossSeen]:
    """What was lost of tinctures in a period, by day."""
    _refuse_backwards(since, until)
    return [
        LossSeen(date.fromisoformat(day), code, kind, volume_ml, maker, note)
        for day, code, kind, volume_ml, maker, note in keeper.rows(_LOSSES)
        if since.isoformat() <= day <= until.isoformat()
    ]


def _refuse_backwards(since: date, until: date) -> None:
    if until < since:
        raise Refused("The last day is before the first.")
