"""The ledger: everything that happened, newest first."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from stillroom.keeping.keeper import Keeper
from stillroom.keeping.ledger_views import EventView, Later, Mark
from stillroom.keeping.words import folded
from stillroom.reckoning.states import LineKind

_EVENTS = """
    SELECT e.id, e.at, e.day, e.maker, e.kind, e.text,
           coalesce(
               nullif(e.subject, ''),
               j.code || ' ' || (SELECT h.name FROM charge_line l JOIN herb h ON h.id = l.herb_id
                                 WHERE l.jar_id = j.id ORDER BY l.id LIMIT 1),
               b.code, t.code, s.name, p.name, ''),
           e.jar_id, e.tincture_id, e.bottle_id, e.journal_id,
           later.kind, later.id, later.day, later.maker, later.title, later.why
    FROM event e
    LEFT JOIN jar j ON j.id = e.jar_id
    LEFT JOIN bottle b ON b.id = e.bottle_id
    LEFT JOIN tincture t ON t.id = e.tincture_id
    LEFT JOIN spirit s ON s.id = e.spirit_id
    LEFT JOIN herb p ON p.id = e.herb_id
    LEFT JOIN journal later ON later.id = coalesce(
        (SELECT by_id FROM undone WHERE undone.journal_id = e.journal_id),
        (SELECT max(c.journal_id) FROM corrected c WHERE c.event_id = e.id
         AND c.journal_id NOT IN (SELECT journal_id FROM undone)))
"""


@dataclass(frozen=True)
class LedgerFilter:
    """Which lines of the ledger to show."""

    text: str = ""
    """Words that kind, text, maker, subject, mark or reason must hold, all of them."""
    kind: str = ""
    """One kind of event only."""
    since: date | None = None
    until: date | None = None


def events(keeper: Keeper, condition: str, *values: object, limit: int = -1) -> list[EventView]:
    """Ledger lines under an SQL condition on `e`, newest first."""
    rows = keeper.rows(f"{_EVENTS} WHERE {condition} ORDER BY e.id DESC LIMIT ?", *values, limit)
    return [_event(row) for row in rows]


def _event(row: tuple[Any, ...]) -> EventView:
    event_id, at, day, *facts = row[:11]
    event = EventView(event_id, at, date.fromisoformat(day), *facts)
    kind, later_id, later_day, *words = row[11:]
    if later_id is None:
        return event
    mark = Mark.UNDONE if kind == LineKind.UNDO else Mark.CORRECTED
    return replace(event, mark=mark, later=Later(later_id, date.fromisoformat(later_day), *words))


def history(
    keeper: Keeper, about: str, row_id: int | None, begins: Iterable[str]
) -> list[EventView]:
    """Ledger lines of one thing, newest first, undone and corrected ones among them.

    `about` is the column of `event` that names it; `begins` the kinds of line that it may begin
    with: its id may have been that of something undone, so what is older is of something else.
    """
    kinds = ", ".join(f"'{kind}'" for kind in begins)
    born = f"SELECT max(id) FROM standing WHERE {about} = ? AND kind IN ({kinds})"
    return events(keeper, f"e.{about} = ? AND e.id >= coalesce(({born}), 0)", row_id, row_id)


def jar_history(keeper: Keeper, jar_id: int) -> list[EventView]:
    """Ledger lines of a jar, newest first."""
    return history(keeper, "jar_id", jar_id, ("filled", "imported"))


def struck_from_bottle(keeper: Keeper, bottle_id: int) -> list[EventView]:
    """What was entered of a bottle and then undone or corrected, newest first."""
    return [line for line in history(keeper, "bottle_id", bottle_id, ("fill",)) if line.mark]


def tincture_history(keeper: Keeper, tincture_id: int) -> list[EventView]:
    """Ledger lines of a tincture and not of a bottle, newest first."""
    lines = history(keeper, "tincture_id", tincture_id, ("strained", "blended", "imported"))
    return [line for line in lines if line.bottle_id is None]


def ledger(keeper: Keeper, wanted: LedgerFilter, *, limit: int = 500) -> list[EventView]:
    """Lines that pass the filter, newest first, at most `limit`."""
    conditions, values = ["1"], []
    if wanted.kind:
        conditions.append("e.kind = ?")
        values.append(wanted.kind)
    if wanted.since:
        conditions.append("e.day >= ?")
        values.append(wanted.since.isoformat())
    if wanted.until:
        conditions.append("e.day <= ?")
        values.append(wanted.until.isoformat())
    # SQLite's own lower() knows no letters but those of English.
    connection = keeper.store.db.connection()  # type: ignore[no-untyped-call]
    connection.create_function("folded", 1, folded, deterministic=True)
    for word in folded(wanted.text).split():
        conditions.append(
            "instr(folded(e.kind || ' ' || e.text || ' ' || e.maker || ' ' || "
            "coalesce(j.code, '') || ' ' || coalesce(b.code, '') || ' ' || coalesce(t.code, '') "
            "|| ' ' || e.subject || ' ' || coalesce(s.name, '') || ' ' || coalesce(p.name, '') "
            "|| ' ' || coalesce(later.maker || ' ' || later.why || ' ' || "
            f"iif(later.kind = '{LineKind.UNDO}', '{Mark.UNDONE}', '{Mark.CORRECTED}'), '') "
            "|| ' ' || coalesce((SELECT group_concat(h.name, ' ') FROM charge_line l "
            "JOIN herb h ON h.id = l.herb_id WHERE l.jar_id = j.id), '')), ?) > 0"
        )
        values.append(word)
    return events(keeper, " AND ".join(conditions), *values, limit=limit)


def event_kinds(keeper: Keeper) -> list[str]:
    """The kinds of event there are so far."""
    return [kind for (kind,) in keeper.rows("SELECT DISTINCT kind FROM event ORDER BY kind")]
