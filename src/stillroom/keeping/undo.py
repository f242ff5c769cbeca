"""Taking back, in reverse order, and doing again."""

from ..errors import Refused
from ..records.undo import mark, rewind
from .keeper import Keeper

_NEXT_BACK = "SELECT id, title FROM action WHERE NOT undone ORDER BY id DESC LIMIT 1"
_NEXT_FORWARD = "SELECT id, title FROM action WHERE undone ORDER BY id LIMIT 1"

NOTHING_TO_UNDO, NOTHING_TO_REDO = "Nothing to undo.", "There is nothing to do again."


def undoable(keeper: Keeper) -> str | None:
    """The title of what undo would take back."""
    return _next(keeper, forward=False)[1]


def redoable(keeper: Keeper) -> str | None:
    """The title of what redo would do again."""
    return _next(keeper, forward=True)[1]


def undo(keeper: Keeper) -> str:
    """Take the last action back; returns its title."""
    return _turn(keeper, forward=False)


def redo(keeper: Keeper) -> str:
    """Do again what was taken back last; returns its title."""
    return _turn(keeper, forward=True)


def _next(keeper: Keeper, *, forward: bool) -> tuple[int, str] | tuple[None, None]:
    """Id and title of the action whose turn it is, if there is one."""
    for action_id, title in keeper.rows(_NEXT_FORWARD if forward else _NEXT_BACK):
        return action_id, title
    return None, None


def _turn(keeper: Keeper, *, forward: bool) -> str:
    with keeper.writing():
        keeper.refuse_doubtful_date()
        action_id, title = _next(keeper, forward=forward)
        if action_id is None:
            raise Refused(NOTHING_TO_REDO if forward else NOTHING_TO_UNDO)
        rewind(keeper.store.db, action_id)
        mark(keeper.store.db, action_id, undone=not forward)
    return str(title)
