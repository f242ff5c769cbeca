"""`undo` and `redo`."""

from argparse import ArgumentParser

from stillroom.cli.call import Call, Command, yes_option
from stillroom.cli.output import put
from stillroom.keeping.undo import NOTHING_TO_REDO, nothing_to_undo, redo, redoable, undo, undoable


def _turn_arguments(parser: ArgumentParser) -> None:
    parser.add_argument("--dry-run", action="store_true", help="change nothing; show what would be")
    yes_option(parser)


def _undo(call: Call) -> int:

    if call.asked.dry_run:
        title = undoable(call.keeper)
        put(f"Would undo: {title}." if title else nothing_to_undo(call.keeper))
    else:
        title = undo(call.keeper_to_change())
        call.is_done = True
        put(f"Undone: {title}.")
    return 0


def _redo(call: Call) -> int:
    if call.asked.dry_run:
        title = redoable(call.keeper)
        put(f"Would redo: {title}." if title else NOTHING_TO_REDO)
    else:
        title = redo(call.keeper_to_change())
        call.is_done = True
        put(f"Redone: {title}.")
    return 0


COMMANDS = {
    "undo": Command(_turn_arguments, _undo),
    "redo": Command(_turn_arguments, _redo),
}
