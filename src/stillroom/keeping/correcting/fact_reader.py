"""Read the rows of a shelf as facts that can be corrected."""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from stillroom.dates import day_or_none
from stillroom.errors import Refused
from stillroom.keeping.correcting.columns import NUMBERS, FactColumn
from stillroom.keeping.correcting.kinds import NOT_THERE, Fact, FactKind, StoredAt, Value
from stillroom.keeping.cupboard.liquids import liquids
from stillroom.keeping.cupboard.twins import liquid_words
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.wording import Wording
from stillroom.reckoning.kinds import Kind


@dataclass(frozen=True)
class FactReader:
    """Reads the rows of a shelf as facts."""

    keeper: Keeper
    said: Wording

    def row(
        self,
        record: str,
        row_id: int | None,
        columns: Sequence[FactColumn],
        *,
        group: str = "",
        prefix: str = "",
        suffix: str = "",
    ) -> Iterator[Fact]:
        """The facts of one row; blank ones for a row that isn't there yet."""
        values: Sequence[Any] = [None] * len(columns)
        if row_id is not None:
            wanted = ", ".join(each.column for each in columns)
            rows = self.keeper.rows(f"SELECT {wanted} FROM {record} WHERE id = ?", row_id)
            if not rows:
                raise Refused(NOT_THERE)
            values = rows[0]
        for each, stored in zip(columns, values, strict=True):
            yield self.fact(
                each,
                stored,
                StoredAt(record, row_id, each.column),
                name=f"{prefix}{each.name}{suffix}",
                group=group,
            )

    def fact(
        self, column: FactColumn, stored: Any, cell: StoredAt, *, name: str, group: str
    ) -> Fact:
        value, choices = stored, column.choices
        if column.kind is FactKind.DAY:
            value = day_or_none(stored)
        elif column.kind is FactKind.YES_NO and stored is not None:
            value = bool(stored)
        elif column.column in _POINTERS and stored is not None:
            value = self._pointed_at(column.column, stored)
        if column.column == "spirit_id":
            choices = self._spirits()
        elif column.column == "liquid_id":
            choices = self._liquids()
        elif column.column == "lot_id":
            choices = self._lots(cell.row_id)
        is_more = cell.row_id is None
        return Fact(
            name=name,
            label=column.label,
            kind=column.kind,
            value=value,
            shown=show_value(column.kind, value, choices, self.said),
            cell=cell,
            group=group,
            choices=choices,
            can_be_blank=column.can_be_blank or is_more,
            is_one_more=is_more,
            hint="" if is_more else column.hint,
        )

    def _pointed_at(self, column: str, row_id: int) -> str:
        ((name,),) = self.keeper.rows(_POINTERS[column], row_id)
        return str(name)

    def _spirits(self) -> tuple[tuple[str, str], ...]:
        rows = self.keeper.rows(
            """SELECT id, name, strength_abv, bought_on, coalesce(code, lot) FROM spirit
               ORDER BY bought_on IS NULL, bought_on DESC, id DESC"""
        )
        labels = {
            spirit_id: f"{name} {self.said.of(Kind.STRENGTH, strength)} "
            f"{self.said.day(day_or_none(day))} {mark}".strip()
            for spirit_id, name, strength, day, mark in rows
        }
        times = Counter(labels.values())
        return tuple(
            (str(spirit_id), label if times[label] == 1 else f"{label}, number {spirit_id}")
            for spirit_id, label in labels.items()
        )

    def _liquids(self) -> tuple[tuple[str, str], ...]:
        kept = liquids(self.keeper)
        return tuple((str(e.liquid_id), liquid_words(e, kept, self.said)) for e in kept)

    def _lots(self, line_id: int | None) -> tuple[tuple[str, str], ...]:
        """The lots that a herb line can be of by its day, and the one it is recorded of.

        Of a line that isn't there yet, all that are in store.
        """
        if line_id is None:
            rows = self.keeper.rows(_ALL_LOTS)
        else:
            rows = self.keeper.rows(_LOTS_OF_LINE, line_id)
        return tuple(
            (code, f"{code} ({condition}, {self.said.day(day_or_none(got_on))})")
            for code, condition, got_on in rows
        )

    def ids(self, sql: str, row_id: int) -> list[int]:
        return [found for (found,) in self.keeper.rows(sql, row_id)]


_POINTERS = {
    "herb_id": "SELECT name FROM herb WHERE id = ?",
    "jar_id": "SELECT code FROM jar WHERE id = ?",
    "bottle_id": "SELECT code FROM bottle WHERE id = ?",
    "spirit_id": "SELECT id FROM spirit WHERE id = ?",
    "liquid_id": "SELECT id FROM liquid WHERE id = ?",
    "lot_id": "SELECT code FROM herb_lot WHERE id = ?",
}
_LOTS_OF_LINE = """
    SELECT l.code, l.condition, l.got_on FROM charge_line c JOIN jar j ON j.id = c.jar_id
    JOIN herb_lot l ON l.id = c.lot_id OR (
        l.herb_id = c.herb_id AND l.part = c.part AND l.got_on <= j.filled_on
        AND coalesce(l.used_up_on >= j.filled_on, 1))
    WHERE c.id = ? ORDER BY l.got_on DESC, l.id DESC
"""
_ALL_LOTS = """
    SELECT code, condition, got_on FROM herb_lot WHERE used_up_on IS NULL
    ORDER BY got_on DESC, id DESC
"""


def show_value(
    kind: FactKind, value: Value, choices: Sequence[tuple[str, str]], said: Wording
) -> str:
    """A value in the units of the shelf; blank where it isn't known."""
    if value is None:
        return ""
    if kind is FactKind.YES_NO:
        return "yes" if value else "no"
    if isinstance(value, date):
        return said.day(value)
    if kind is FactKind.CHOICE:
        return dict(choices).get(str(value), str(value))
    if kind in NUMBERS and isinstance(value, int | float):
        return said.of(NUMBERS[kind], 100 * value if kind is FactKind.PERCENT else value)
    return str(value)
