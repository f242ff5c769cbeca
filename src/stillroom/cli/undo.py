"""`undo` and `redo`."""

from argparse import ArgumentParser
from collections.abc import Callable

from stillroom.cli.call import Call, Command, json_option, yes_option
from stillroom.cli.output import put, put_json
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.undo import NOTHING_TO_REDO, nothing_to_undo, redo, redoable, undo, undoable


def _arguments(parser: ArgumentParser) -> None:
    parser.add_argument(
        "--dry-run", action="store_true", help="change nothing; show what would be done"
    )
    json_option(parser)
    yes_option(parser)


def _undo(call: Call) -> int:
    if call.asked.dry_run:
        return _would(call, "undo", undoable(call.keeper), nothing_to_undo)
    return _did(call, "Undone", undo(call.keeper_to_change()))


def _redo(call: Call) -> int:
    if call.asked.dry_run:
        return _would(call, "redo", redoable(call.keeper), lambda _: NOTHING_TO_REDO)
    return _did(call, "Redone", redo(call.keeper_to_change()))


def _would(call: Call, verb: str, title: str | None, nothing: Callable[[Keeper], str]) -> int:
    if call.asked.json:
        put_json(call, {"title": title}, is_done=False)
    else:
        put(f"Would {verb}: {title}." if title else nothing(call.keeper))
    return 0


def _did(call: Call, done: str, title: str) -> int:
    call.is_done = True
    if call.asked.json:
        put_json(call, {"title": title}, is_done=True)
    else:
        put(f"{done}: {title}.")
    return 0


COMMANDS = {
    "undo": Command(_arguments, _undo),
    "redo": Command(_arguments, _redo),
}
