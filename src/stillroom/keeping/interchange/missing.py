"""Rows that somebody deleted in a spreadsheet: as corrections, or out of the cupboard's lists."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from stillroom.errors import Refused
from stillroom.keeping.correcting.columns import (
    BLANK_REMOVES,
    NONE_REMOVES,
    REMOVES,
    SHAKES_OF_DAYS,
)
from stillroom.keeping.correcting.facts import facts_of
from stillroom.keeping.correcting.kinds import Fact, NewValue, Subject, Value
from stillroom.keeping.interchange.columns import FileTable
from stillroom.keeping.interchange.reading import FolderReading
from stillroom.keeping.interchange.report import BadLine
from stillroom.keeping.interchange.row_subjects import subjects_of_row
from stillroom.keeping.keeper import Act, Keeper
from stillroom.quantities import how_many
from stillroom.records.failures import plain_failures

_REMOVING: dict[str, Value] = {REMOVES: 0.0, BLANK_REMOVES: "", NONE_REMOVES: None}
"""By the hint at a fact, the value that deletes its row."""
_ALONE = {
    "herb": "herb",
    "gathering_window": "herb",
    "shelf": "shelf",
    "spirit": "spirit",
    "liquid": "liquid",
    "herb_lot": "deleted",
    "bottle_size": "bottle sizes",
    "formula": "formula",
    "formula_part": "formula",
}
"""Tables whose rows are deleted alone, while nothing refers to them, and the ledger's word."""


@dataclass(frozen=True)
class MissingRow:
    """A row of the shelf that the file no longer has."""

    table: FileTable
    row_id: int
    name: str

    @property
    def place(self) -> tuple[str, int]:
        """Its table and id."""
        return self.table.record, self.row_id


def missing_rows(
    keeper: Keeper, reading: FolderReading, tables: Sequence[FileTable]
) -> list[MissingRow]:
    """The rows of the shelf that are missing in the sheets or files that are there."""
    return [
        MissingRow(table, row_id, ", ".join(str(key) for key in keys if key not in (None, "")))
        for table in tables
        for row_id, *keys in keeper.rows(_keys(table))
        if row_id not in reading.found.get(table.name, ())
    ]


def left_alone(gone: Sequence[MissingRow]) -> tuple[str, ...]:
    """What is said of missing rows that stay, by their sheet."""
    count = Counter(row.table.name for row in gone)
    return tuple(
        f"{name}: {how_many(many, 'row')}, left as {'it is' if many == 1 else 'they are'}."
        for name, many in count.items()
    )


def _keys(table: FileTable) -> str:
    """SQL for the ids of a table with what its rows are called."""
    sources = {c.name: c.source or f"{table.record}.{c.stored_in}" for c in table.columns}
    names = ("name",) if table.key == ("number",) else table.key
    columns = ", ".join([f"{table.record}.id", *(sources[name] for name in names)])
    where = table.only or "1"
    return f"SELECT {columns} FROM {table.record} WHERE {where} ORDER BY {table.order}"


class Deletions:
    """Missing rows to delete, inside the act that reads their file."""

    def __init__(self, keeper: Keeper, reading: FolderReading, gone: list[MissingRow]) -> None:
        """Find what deletes each; what can't go is a bad line."""
        self._keeper = keeper
        self._reading = reading
        self._facts: dict[Subject, tuple[Fact, ...]] = {}
        self._gone = gone
        self._places = {row.place for row in self._gone}
        self.preview = [f"{row.table.name} {row.name}: deleted" for row in self._gone]
        self.corrections: list[NewValue] = []
        """What deletes the rows from which figures follow."""
        done: set[tuple[str, int]] = set()
        shakes: dict[Subject, dict[str, int]] = {}
        for row in self._gone:
            if row.table.record == "shake":
                self._count_shakes(row, shakes)
            elif row.table.record not in _ALONE and row.place not in done:
                found = self._removal(row)
                if isinstance(found, str):
                    self._blame(row, found)
                elif found:
                    done |= self._goes_with(found)
                    self.corrections.append(found)
        for subject, days in shakes.items():
            text = "; ".join(f"{day}: {count}" for day, count in days.items())
            (fact,) = (f for f in self._facts_of(subject) if f.cell.column == SHAKES_OF_DAYS)
            self.corrections.append(NewValue(subject, fact, text))

    def delete_others(self, act: Act) -> None:
        """Delete what no figure follows from, where nothing refers to it."""
        for row in reversed(self._gone):  # what is in something else goes before it
            if row.table.record not in _ALONE:
                continue
            try:
                with plain_failures():
                    act.db.execute_sql(
                        f"DELETE FROM {row.table.record} WHERE id = ?", (row.row_id,)
                    )
            except Refused:
                self._blame(row, "It has been used, so it can't be deleted.")
                return
            act.note(_ALONE[row.table.record], f"Deleted {row.name} from {row.table.name}")
        for (name,) in self._keeper.rows(
            "SELECT name FROM formula WHERE id NOT IN (SELECT formula_id FROM formula_part)"
        ):
            said = f"The formula {name} would have no parts. Delete its own row too."
            self._reading.bad.append(BadLine("formula_parts.csv", None, "", said))

    def _facts_of(self, subject: Subject) -> tuple[Fact, ...]:
        if subject not in self._facts:
            self._facts[subject] = facts_of(self._keeper, subject)
        return self._facts[subject]

    def _removal(self, row: MissingRow) -> NewValue | str | None:
        """What deletes a row; why it can't be; None where it goes with another."""
        record, row_id = row.place
        if record in ("bottle", "pour", "batch_input"):
            column = {"bottle": _FILL_OF}.get(record, f"SELECT movement_id FROM {record}")
            sql = f"{column} WHERE {'bottle_id' if record == 'bottle' else 'id'} = ?"
            for (movement_id,) in self._keeper.rows(sql, row_id):
                if movement_id is not None:
                    is_gone = ("movement", movement_id) in self._places
                    return None if is_gone else "Delete its row in movements too."
        if record == "movement" and (said := self._stays_with(row_id)):
            return said
        for subject in subjects_of_row(self._keeper, record, row_id):
            for fact in self._facts_of(subject):
                if (fact.cell.record, fact.cell.row_id) == row.place and fact.hint in _REMOVING:
                    return NewValue(subject, fact, _REMOVING[fact.hint])
        return "It can't be deleted in a spreadsheet. Put the row back."

    def _stays_with(self, movement_id: int) -> str:
        """What keeps an entry of a bottle: what else it is, and that wasn't deleted; else blank."""
        wanted = [("movement", other) for other in self._other_end(movement_id)]
        for record, sql in _WITH_MOVEMENT.items():
            wanted += [(record, row_id) for (row_id,) in self._keeper.rows(sql, movement_id)]
        for record, row_id in wanted:
            if (record, row_id) not in self._places:
                return f"Delete its row in {_SHEETS[record]} too."
        return ""

    def _other_end(self, movement_id: int) -> list[int]:
        """The entry of the other bottle, where one was poured into another."""
        return [row_id for (row_id,) in self._keeper.rows(_OTHER_END, movement_id)]

    def _goes_with(self, found: NewValue) -> set[tuple[str, int]]:
        """The places of the rows that a correction deletes."""
        cell = found.fact.cell
        assert cell.row_id is not None
        ends = self._other_end(cell.row_id) if cell.record == "movement" else []
        return {(cell.record, cell.row_id), *(("movement", end) for end in ends)}

    def _count_shakes(self, row: MissingRow, shakes: dict[Subject, dict[str, int]]) -> None:
        """Count how many shakes its day is left with."""
        ((jar_id, day),) = self._keeper.rows(
            "SELECT jar_id, day FROM shake WHERE id = ?", row.row_id
        )
        (subject,) = subjects_of_row(self._keeper, "jar", jar_id)
        left = self._keeper.rows("SELECT id FROM shake WHERE jar_id = ? AND day = ?", jar_id, day)
        count = sum(("shake", row_id) not in self._places for (row_id,) in left)
        shakes.setdefault(subject, {})[day] = count

    def _blame(self, row: MissingRow, why: str) -> None:
        said = f"{row.name} is missing. {why}"
        self._reading.bad.append(BadLine(row.table.file, None, "", said))


_FILL_OF = "SELECT id FROM (SELECT id, bottle_id FROM movement WHERE kind = 'fill')"
_WITH_MOVEMENT = {
    "bottle": "SELECT bottle_id FROM movement WHERE id = ? AND kind = 'fill'",
    "pour": "SELECT id FROM pour WHERE movement_id = ?",
    "batch_input": "SELECT id FROM batch_input WHERE movement_id = ?",
}
_SHEETS = {
    "movement": "movements",
    "bottle": "bottles",
    "pour": "pours",
    "batch_input": "batch_inputs",
}
_OTHER_END = """
    SELECT o.id FROM movement m JOIN movement o
        ON o.at = m.at AND o.kind = m.kind AND o.volume_ml = -m.volume_ml
    WHERE m.id = ? AND m.kind = 'pour together' ORDER BY abs(o.id - m.id) LIMIT 1
"""
