"""The journal as it is read: each act, correction, undo and redo, and the rows it changed."""

import json
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from stillroom.keeping.keeper import Keeper


@dataclass(frozen=True)
class RowChange:
    """A row that an act changed, with its columns as they are stored."""

    record: str
    """Its table."""
    row_id: int
    before: Any
    """Values by column; in a damaged file whatever is there."""
    after: Any
    """None where the act took the row away."""


@dataclass(frozen=True)
class JournalLine:
    """A line of the journal."""

    line_id: int
    at: str
    day: str
    maker: str
    kind: str
    """A `LineKind`."""
    title: str
    why: str
    of_id: int | None
    """Of an undo or redo, the line that was undone or redone."""
    changes: tuple[RowChange, ...]


def journal_lines(keeper: Keeper, line_ids: Iterable[int]) -> list[JournalLine]:
    """These lines in order, each with the rows it changed."""
    wanted = json.dumps(sorted(set(line_ids)))
    changes: dict[int, list[RowChange]] = {}
    for line_id, record, row_id, before, after in keeper.rows(
        """SELECT journal_id, record, row_id, before, after FROM journal_change
           WHERE journal_id IN (SELECT value FROM json_each(?)) ORDER BY id""",
        wanted,
    ):
        change = RowChange(record, row_id, _row(before), _row(after))
        changes.setdefault(line_id, []).append(change)
    return [
        JournalLine(
            line_id, at, day, maker, kind, title, why, of_id,
            tuple(changes.get(line_id, ())),
        )
        for line_id, at, day, maker, kind, title, why, of_id in keeper.rows(
            """SELECT id, at, day, maker, kind, title, why, of_id FROM journal
               WHERE id IN (SELECT value FROM json_each(?)) ORDER BY id""",
            wanted,
        )
    ]  # fmt: skip


def _row(text: str | None) -> Any:
    try:
        return text and json.loads(text)
    except ValueError:
        return text
