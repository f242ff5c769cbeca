"""Taking back, in reverse order, and doing again."""

from ..errors import Refused
from ..records.undo import mark, rewind
from .keeper import Keeper

_NEXT_BACK = "SELECT id, title FROM action WHERE NOT undone ORDER BY id DESC LIMIT 1"
_NEXT_FORWARD = "SELECT id, title FROM action WHERE undone ORDER BY id LIMIT 1"

NOTHING_TO_UNDO, NOTHING_TO_REDO = "Nothing to undo.", "There is nothing to do again."


def undoable(keeper: Keeper) -> str | None:
    """The title of what undo would take back."""
    found = keeper.rows(_NEXT_BACK)
    return found[0][1] if found else None


def redoable(keeper: Keeper) -> str | None:
    """The title of what redo would do again."""
    found = keeper.rows(_NEXT_FORWARD)
    return found[0][1] if found else None


def undo(keeper: Keeper) -> str:
    """Take the last action back; returns its title."""
    return _turn(keeper, forward=False)


def redo(keeper: Keeper) -> str:
    """Do again what was taken back last; returns its title."""
    return _turn(keeper, forward=True)


def _turn(keeper: Keeper, *, forward: bool) -> str:
    with keeper.writing():
        found = keeper.rows(_NEXT_FORWARD if forward else _NEXT_BACK)
        if not found:
            raise Refused(NOTHING_TO_REDO if forward else NOTHING_TO_UNDO)
        action_id, title = found[0]
        rewind(keeper.store.db, action_id)
        mark(keeper.store.db, action_id, undone=not forward)
    return str(title)
