"""Change rows in place, inside an act."""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from stillroom.errors import NotUnderstood, Refused
from stillroom.keeping.correcting.kinds import NOT_THERE, Obstacle, Value
from stillroom.keeping.correcting.replay import Anchors
from stillroom.keeping.cupboard.counts import SeenInCupboard
from stillroom.keeping.cupboard.lot_replay import LotAnchors
from stillroom.keeping.keeper import Act, Keeper

Row = dict[str, Any]


@dataclass
class RowWriter:
    """Collects what rows become, and writes each with one statement."""

    keeper: Keeper
    act: Act
    seen: Anchors
    obstacles: list[Obstacle] = field(default_factory=list)
    lost_by_hand: set[int] = field(default_factory=set)
    """Tinctures of which the amount written off was corrected."""
    rows: dict[tuple[str, int], Row] = field(default_factory=lambda: defaultdict(dict))
    followed: list[str] = field(default_factory=list)
    """Facts that changed with another, such as `26-011 origin Own garden → The fair`."""
    bottles_to_remove: list[int] = field(default_factory=list)
    lots: LotAnchors = field(default_factory=LotAnchors)
    cupboard: SeenInCupboard = field(default_factory=SeenInCupboard)

    def set(self, record: str, row_id: int, **columns: Any) -> None:
        """Note values for a row, to be written with all its others."""
        self.rows[record, row_id] |= columns

    def update(self, record: str, row_id: int, columns: Row) -> None:
        assignments = ", ".join(f"{column} = ?" for column in columns)
        self.execute(f"UPDATE {record} SET {assignments} WHERE id = ?", *columns.values(), row_id)

    def execute(self, sql: str, *values: object) -> int:
        return int(self.keeper.store.db.execute_sql(sql, values).rowcount)

    def one(self, sql: str, *values: object) -> tuple[Any, ...]:
        rows = self.keeper.rows(sql, *values)
        if not rows:
            raise Refused(NOT_THERE)
        return rows[0]

    def insert(self, record: str, columns: Mapping[str, Any]) -> int:
        places = ", ".join("?" for _ in columns)
        cursor = self.keeper.store.db.execute_sql(
            f"INSERT INTO {record} ({', '.join(columns)}) VALUES ({places})",
            tuple(columns.values()),
        )
        return int(cursor.lastrowid)


def stored(value: Value) -> Any:
    """A value as it is stored."""
    if isinstance(value, date):
        return value.isoformat()
    return int(value) if isinstance(value, bool) else value


def need(typed: Row, group: str, **names: str) -> None:
    for column, name in names.items():
        if not typed.get(column):
            raise NotUnderstood(f"{group}: {name} is needed.")
