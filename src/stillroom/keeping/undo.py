"""Taking back, in reverse order, and doing again."""

from typing import NamedTuple

from stillroom.errors import AnothersAct, Refused
from stillroom.keeping.keeper import Keeper, stamp
from stillroom.keeping.trusted import folder_in_doubt
from stillroom.reckoning.states import LineKind, in_sql
from stillroom.records.closings import WhatIsClosed, what_is_closed
from stillroom.records.journal import begin_line, end_line, write_event
from stillroom.records.undo import mark, rewind

_NEXT_BACK = (
    "SELECT id, at, maker, title, journal_id FROM action WHERE NOT undone ORDER BY id DESC LIMIT 1"
)
_NEXT_FORWARD = (
    "SELECT id, at, maker, title, journal_id FROM action WHERE undone ORDER BY id LIMIT 1"
)

_OPENED = """
    SELECT count(*) FROM journal_change WHERE journal_id = ?
    HAVING count(*) > 0 AND min(record = 'closing')
"""
"""Whether nothing but a closing was undone."""
_LATER_ACTS = f"""
    SELECT 1 FROM journal WHERE id > ? AND kind NOT IN {in_sql((LineKind.UNDO, LineKind.REDO))}
"""

NOTHING_TO_UNDO, NOTHING_TO_REDO = "Nothing to undo.", "Nothing to redo."
_UPDATED = (
    "Nothing to undo. What was done before Stillroom was updated can't be undone, but it can be "
    "corrected."
)


def undoable(keeper: Keeper) -> str | None:
    """The title of the act that undo would reverse."""
    action = _next(keeper, forward=False)
    return action.title if action else None


def redoable(keeper: Keeper) -> str | None:
    """The title of what redo would do again."""
    action = _next(keeper, forward=True)
    return action.title if action else None


def nothing_to_undo(keeper: Keeper) -> str:
    """Why there is nothing to undo."""
    # Written out, as SQLite finds nothing by index for a value that it doesn't know yet.
    updated = keeper.rows(f"SELECT 1 FROM journal WHERE kind = '{LineKind.NEW_SCHEMA}' LIMIT 1")
    return _UPDATED if updated else NOTHING_TO_UNDO


def undo(keeper: Keeper, confirmed: tuple[int, str] | None = None) -> str:
    """Undo the last action; returns its title.

    Raises AnothersAct where another program has done it, unless it is the one that was confirmed.
    """
    return _turn(keeper, forward=False, confirmed=confirmed)


def redo(keeper: Keeper) -> str:
    """Redo what was undone last; returns its title."""
    return _turn(keeper, forward=True)


class _Action(NamedTuple):
    """An action whose turn it is."""

    id: int
    at: str
    maker: str
    title: str
    line_id: int
    """Its line in the journal."""


def _next(keeper: Keeper, *, forward: bool) -> _Action | None:
    for row in keeper.rows(_NEXT_FORWARD if forward else _NEXT_BACK):
        return _Action(*row)
    return None


def _turn(keeper: Keeper, *, forward: bool, confirmed: tuple[int, str] | None = None) -> str:
    with keeper.writing():
        keeper.refuse_doubtful_date()
        action = _next(keeper, forward=forward)
        if action is None:
            raise Refused(NOTHING_TO_REDO if forward else nothing_to_undo(keeper))
        if not forward and confirmed != action[:2] and keeper.is_anothers(*action[:2]):
            by = f" by {action.maker}" if action.maker else ""
            raise AnothersAct(
                f"“{action.title}” was done{by} in another window. Undo it anyway?", action[:2]
            )
        in_doubt = folder_in_doubt(keeper)
        db = keeper.store.db
        at, day = stamp(keeper.clock.now()), keeper.today.isoformat()
        kind, said = (LineKind.REDO, "redone") if forward else (LineKind.UNDO, "undone")
        line_id = begin_line(db, at, day, keeper.maker, kind, action.title, action.line_id)
        closed = what_is_closed(db)
        rewind(db, action.id)
        # What it has itself closed or opened doesn't count, as where an import is undone.
        closed = closed.and_still(what_is_closed(db))
        _refuse_what_is_closed(keeper, action, closed, line_id, forward=forward)
        keeper.forget_settings()
        folder = folder_in_doubt(keeper)
        if folder and folder != in_doubt:
            raise Refused(
                f"That would send backups to {folder}, which was never confirmed on this computer. "
                "Nothing was changed; choose the folder in the settings first."
            )
        mark(db, action.id, undone=not forward)
        write_event(db, at, day, keeper.maker, said, action.title, line_id, _about(keeper, action))
        end_line(db, line_id, action.title)
    return action.title


def _refuse_what_is_closed(
    keeper: Keeper, action: _Action, closed: WhatIsClosed, line_id: int, *, forward: bool
) -> None:
    """Raise Refused where that has changed what is closed, or opened it after later acts."""
    verb = "redone" if forward else "undone"
    keeper.refuse_to_change(
        closed,
        line_id,
        action.id,
        of_id=action.line_id,
        otherwise=f"“{action.title}” can't be {verb}. Correct it instead, and give a reason.",
    )
    if keeper.rows(_OPENED, line_id) and keeper.rows(_LATER_ACTS, action.line_id):
        raise Refused(f"“{action.title}” can't be undone: other things were done since.")


def _about(keeper: Keeper, action: _Action) -> dict[str, int | None]:
    """What the last line of an action in the ledger is about."""
    lines = keeper.rows(
        """SELECT jar_id, tincture_id, bottle_id, spirit_id, herb_id, lot_id FROM event
           WHERE journal_id = ? ORDER BY id DESC LIMIT 1""",
        action.line_id,
    )
    names = ("jar_id", "tincture_id", "bottle_id", "spirit_id", "herb_id", "lot_id")
    return dict(zip(names, lines[0], strict=True)) if lines else {}
