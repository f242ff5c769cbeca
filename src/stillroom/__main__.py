"""The composition root: arguments, then the shelf, then a command or the screen."""

import errno
import gc
import io
import os
import sys
from argparse import Namespace
from collections.abc import Sequence
from contextlib import ExitStack
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from .cli import Call, crash, parse
from .clock import Clock, SystemClock
from .errors import NeedsConfirmation, StillroomError, StoreError
from .paths import default_shelf, log_folder

# What is imported further down is not needed by every command, or only once the screen is sure.
if TYPE_CHECKING:
    from .cli.call import OpenShelf
    from .keeping.keeper import Keeper

OUTPUT_FAILS = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EIO}
"""What a standard output says that is full or failing; files are named, and told of elsewhere."""

INTERRUPTED = 130
"""The exit code of a program that was stopped with Ctrl+C."""


def main() -> None:
    """Run Stillroom; the exit code is 0, or says why not."""
    if isinstance(sys.stdout, io.TextIOWrapper):
        # A terminal may not know every letter of a herb's name.
        sys.stdout.reconfigure(errors="backslashreplace")
    code = run(sys.argv[1:])
    gc.freeze()  # Python's last look through memory takes three times as long as all else at an end
    sys.exit(code)


def run(arguments: Sequence[str], clock: Clock | None = None) -> int:
    """Do what the arguments say; returns the exit code, and leaves a log where it crashes."""
    clock = clock or SystemClock()
    try:
        return _run(arguments, clock)
    except NeedsConfirmation as question:
        print(f"{' '.join(str(question).split())} To say yes, add --yes.", file=sys.stderr)
        return 2
    except StillroomError as error:
        print(" ".join(str(error).split()), file=sys.stderr)
        return 2
    except KeyboardInterrupt:
        return INTERRUPTED
    except BrokenPipeError:  # whoever read has seen enough
        _let_go_of_output()
        return 0
    except Exception as error:
        if isinstance(error, OSError) and error.errno in OUTPUT_FAILS and not error.filename:
            _let_go_of_output()
            print(f"The output could not be written: {error.strerror}.", file=sys.stderr)
            return 2
        return _told_in_words(error) or crash.report(
            crash.told_by(error), log_folder(), clock.now()
        )


def _let_go_of_output() -> None:
    """What is still buffered must not fail once more when Python ends."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _told_in_words(error: Exception) -> int:
    """Say in a sentence what a failing disk or a damaged file did; 0 where it is neither."""
    import sqlite3

    from .records.disk import disk_failure, error_code

    if error_code(error) in (sqlite3.SQLITE_OK, sqlite3.SQLITE_CONSTRAINT):
        return 0
    print(disk_failure(error, writing=False), file=sys.stderr)
    return 2


def _run(arguments: Sequence[str], clock: Clock) -> int:
    try:
        asked = parse(arguments)
    except SystemExit as end:  # argparse has printed help, or what is wrong
        return int(end.code or 0)
    path = asked.shelf or default_shelf()
    with ExitStack() as ends:
        open_shelf = partial(_open_shelf, asked, path, clock, ends)
        if asked.work:
            code = int(asked.work(Call(asked, path, clock, open_shelf)))
        else:
            code = _show_screen(open_shelf, clock, is_sample=asked.sample)
        sys.stdout.flush()
    return code


def _open_shelf(
    asked: Namespace, path: Path, clock: Clock, ends: ExitStack, *, create: bool = False
) -> "Keeper":
    """The shelf that was asked for; it is closed, and a sample removed, at the end.

    `create` makes the default shelf where there is none yet; any other is made by --new alone.
    """
    if asked.sample:
        keeper = _open_sample(clock, ends)
    else:
        keeper = _open_file(asked, path, clock, create=create)
    ends.callback(keeper.store.close)
    return keeper


def _open_sample(clock: Clock, ends: ExitStack) -> "Keeper":
    from tempfile import TemporaryDirectory

    from .keeping.sample import open_sample

    return open_sample(clock, Path(ends.enter_context(TemporaryDirectory(prefix="stillroom-"))))


def _open_file(asked: Namespace, path: Path, clock: Clock, *, create: bool) -> "Keeper":
    from .keeping.keeper import Keeper
    from .records.shelf_file import is_there
    from .records.store import Store

    if is_there(path):
        if asked.new:
            raise StoreError(f"There is something at {path} already; leave out --new to open it.")
    elif not (asked.new or (create and asked.shelf is None)):
        raise StoreError(f"There is no shelf at {path}. To make one there, add --new.")
    return Keeper(Store.open(path, create=True), clock)


def _show_screen(open_shelf: "OpenShelf", clock: Clock, *, is_sample: bool) -> int:
    _refuse_without_screen()
    keeper = open_shelf(create=True)
    if os.environ.get("NO_COLOR") or os.environ.get("TERM") == "linux":
        # Textual reads this when it is imported; on its own it would only turn colours to greys.
        os.environ.setdefault("TEXTUAL_THEME", "ansi-dark")
    gc.disable()  # what the imports make is there to stay, and looking through it takes time
    from rich.console import Console

    from .screens.app import StillroomApp

    app = StillroomApp(keeper, is_sample=is_sample)
    gc.freeze()
    gc.enable()
    said_at_end = io.StringIO()
    app.error_console = Console(file=said_at_end, color_system=None)
    app.run()
    if app.return_code:
        return crash.report(said_at_end.getvalue(), log_folder(), clock.now())
    if said := said_at_end.getvalue():  # where the terminal has gone, nothing can be said
        sys.stderr.write(said)
    return 0


def _refuse_without_screen() -> None:
    streams = (sys.__stdin__, sys.__stdout__, sys.__stderr__)
    if not all(stream and stream.isatty() for stream in streams):
        raise StillroomError(
            "The screen needs a terminal to itself. See stillroom --help for commands without it."
        )
    if os.environ.get("TERM") == "dumb":
        raise StillroomError(
            "This terminal (TERM=dumb) cannot show a screen. See stillroom --help for commands "
            "without it."
        )


if __name__ == "__main__":
    main()
