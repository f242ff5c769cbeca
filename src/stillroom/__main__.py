"""The composition root: arguments, then the shelf, then a command or the screen."""

import errno
import gc
import io
import os
import sys
from argparse import Namespace
from collections.abc import Callable, Sequence
from contextlib import ExitStack
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, TextIO

from stillroom.cli import Call, crash, parse
from stillroom.cli.exit_codes import ExitCode
from stillroom.clock import Clock, SystemClock
from stillroom.errors import NeedsConfirmation, Refused, StillroomError, StoreError
from stillroom.paths import default_shelf, log_folder
from stillroom.printable import printable

# What is imported further down is not needed by every command, or only once the screen is sure.
if TYPE_CHECKING:
    from stillroom.cli.call import OpenShelf
    from stillroom.keeping.keeper import Keeper


MADE_BETWEEN_LOOKS = 20_000
"""Objects made before Python looks through those made since the last look."""


def main() -> None:
    """Run Stillroom; the exit code is 0, or says why not."""
    _open_what_is_closed()
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
        _complain(f"{question} Add --yes to go ahead.")
        return ExitCode.NOT_DONE
    except StillroomError as error:
        _complain(str(error))
        return ExitCode.NOT_DONE
    except KeyboardInterrupt:
        return ExitCode.STOPPED
    except Exception as error:
        return _told_in_words(error) or crash.report(
            crash.told_by(error), log_folder(), clock.now()
        )


def _complain(sentence: str) -> None:
    try:
        print(printable(" ".join(sentence.split())), file=sys.stderr)
    except OSError:
        pass  # the exit code has to do


class _Closed(io.TextIOBase):
    """A standard output that was closed before we began."""

    encoding = "utf-8"

    def write(self, text: str) -> int:
        """Fail, as writing to it does."""
        raise OSError(errno.EBADF, os.strerror(errno.EBADF))


def _open_what_is_closed() -> None:
    """Keep the numbers of the standard streams from going to files that we open."""
    for number in range(3):
        try:
            os.fstat(number)
        except OSError:
            os.open(os.devnull, os.O_RDWR)  # takes the lowest number that is free
    if sys.stdout is None:
        sys.stdout = _Closed()
    if sys.stderr is None:
        sys.stderr = open(os.devnull, "w")  # noqa: PTH123, SIM115  open until the end


class _Held(io.StringIO):
    """What a command prints, held until it has done its work: a full disk cannot stop it halfway.

    Otherwise it looks like the real output.
    """

    def __init__(self, real: TextIO) -> None:
        super().__init__()
        self._real = real

    @property
    def encoding(self) -> str:  # type: ignore[override]
        """What the real output can show."""
        return self._real.encoding or ""

    def isatty(self) -> bool:
        """Whether the real output is a terminal."""
        return self._real.isatty()


def _work(call: Call, work: Callable[[Call], int]) -> int:
    """Do what a command asks for and then print its report; returns the exit code."""
    real, held = sys.stdout, _Held(sys.stdout)
    sys.stdout = held
    code: int = ExitCode.NOT_DONE
    try:
        code = work(call)
    except (ValueError, TypeError, ArithmeticError, LookupError) as error:
        if isinstance(error, StillroomError) or not (told := call.broken_values()):
            raise
        raise StoreError(told) from error
    finally:
        sys.stdout = real
        is_written = _write_report(held.getvalue(), call.content)
    if is_written and call.after_report:
        call.after_report()
    if call.warning:
        _complain(call.warning)
    trouble = call.trouble if code != ExitCode.NOT_DONE else ""
    if trouble and trouble not in call.warning:
        _complain(trouble)
    if is_written or code == ExitCode.NOT_DONE:
        return code
    return ExitCode.UNREPORTED if call.is_done else ExitCode.NOT_DONE


def _write_report(report: str, content: bytes) -> bool:
    """Print it, and then what isn't text; where that fails, say so and return False."""
    try:
        sys.stdout.write(printable(report))
        sys.stdout.flush()
        if content:
            sys.stdout.buffer.write(content)
            sys.stdout.buffer.flush()
    except BrokenPipeError:  # whoever read has seen enough
        _let_go_of_output()
    except (OSError, ValueError) as error:
        _let_go_of_output()
        why = error.strerror if isinstance(error, OSError) else error
        _complain(f"The report couldn't be written: {why}.")
        return False
    return True


def _let_go_of_output() -> None:
    """What is still buffered must not fail a second time when Python ends."""
    try:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    except (OSError, ValueError):  # it has no file
        pass


def _told_in_words(error: Exception) -> int:
    """Say in a sentence what a failing disk or a damaged file did; 0 where it is neither."""
    import sqlite3

    from stillroom.records.disk import disk_failure, error_code

    if error_code(error) in (sqlite3.SQLITE_OK, sqlite3.SQLITE_CONSTRAINT):
        return 0
    _complain(disk_failure(error, writing=False))
    return ExitCode.NOT_DONE


def _run(arguments: Sequence[str], clock: Clock) -> int:
    try:
        asked = parse(arguments)
    except SystemExit as end:  # argparse has printed help, or what is wrong
        return int(end.code or (0 if _write_report("", b"") else 2))
    path = asked.shelf or default_shelf()
    with ExitStack() as ends:
        open_shelf = partial(_open_shelf, asked, path, clock, ends)
        if asked.work:
            return _work(Call(asked, path, clock, open_shelf), asked.work)
        return _show_screen(open_shelf, clock, is_sample=asked.sample)


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

    def close(kind: type[BaseException] | None, *_: object) -> None:
        if kind is not None and keeper.store.is_new and asked.work and _is_untouched(keeper):
            keeper.store.take_away()  # created only for what was then refused
            return
        if kind is not None and not issubclass(kind, Refused | KeyboardInterrupt):
            keeper.store.leave_as_is()
        keeper.store.close()  # another one than now, once a backup is restored

    ends.push(close)
    if asked.initials is not None:
        from stillroom.keeping.settings import come_to_shelf

        come_to_shelf(keeper, asked.initials)
    return keeper


def _is_untouched(keeper: "Keeper") -> bool:
    """Whether nothing was recorded; a shelf that can't be read may hold something."""
    from stillroom.keeping.shelf_file.backups import is_bare

    try:
        return is_bare(keeper)
    except StillroomError:
        return False


def _open_sample(clock: Clock, ends: ExitStack) -> "Keeper":
    from tempfile import TemporaryDirectory

    from stillroom.keeping.shelf_file.sample import open_sample

    return open_sample(clock, Path(ends.enter_context(TemporaryDirectory(prefix="stillroom-"))))


def _open_file(asked: Namespace, path: Path, clock: Clock, *, create: bool) -> "Keeper":
    from stillroom.keeping.keeper import Keeper
    from stillroom.records.schema import newest_schema
    from stillroom.records.shelf_file import behind_link, is_empty_shelf, is_there
    from stillroom.records.store import Store

    if is_there(path):
        # A first import that was killed leaves an empty shelf: the same words again go on with it.
        if asked.new and not (asked.command == "import" and is_empty_shelf(path, newest_schema())):
            raise StoreError(f"{path} already exists. Leave out --new to open it.")
    elif path.is_symlink():
        behind_link(path)
    elif not (asked.new or (create and asked.shelf is None)):
        raise StoreError(f"There is no shelf at {path}. Add --new to create one.")
    return Keeper(Store.open(path, create=True, on_update=_show_update), clock)


def _show_update(done: float) -> None:
    """Show how far an older shelf is brought up to date; a large one takes some seconds."""
    line = f"Bringing the shelf up to date: {100 * done:.0f} %"
    if sys.stderr.isatty():
        print(f"\r{line}", end="\n" if done >= 1 else "", file=sys.stderr, flush=True)
    elif done in (0, 1):
        _complain(f"{line}.")


def _show_screen(open_shelf: "OpenShelf", clock: Clock, *, is_sample: bool) -> int:
    _refuse_without_screen()
    keeper = open_shelf(create=True)
    from stillroom.screens.terminal import shows_no_colours

    if shows_no_colours():
        # Textual reads these when it is imported; without the theme it would send greys.
        os.environ.setdefault("NO_COLOR", "1")
        os.environ.setdefault("TEXTUAL_THEME", "ansi-dark")
    gc.disable()  # what the imports make is there to stay, and looking through it takes time
    from rich.console import Console

    from stillroom.screens.app import StillroomApp

    app = StillroomApp(keeper, is_sample=is_sample, when_warm=_look_through_memory)
    said_at_end = io.StringIO()
    app.error_console = Console(file=said_at_end, color_system=None)
    app.run()
    app.at_rest.wait()  # a sample's folder is removed at the end
    if app.return_code:
        from stillroom.keeping.shelf_file.check import broken_values

        if problem := broken_values(app.keeper):
            raise StoreError(problem)
        return crash.report(said_at_end.getvalue(), log_folder(), clock.now())
    if said := said_at_end.getvalue():  # where the terminal has gone, nothing can be said
        sys.stderr.write(printable(said))
    return 0


def _look_through_memory() -> None:
    """Let Python look through memory from here on, seldom, and never at what is there by now.

    Otherwise a key in twenty would wait for it.
    """
    gc.freeze()
    gc.set_threshold(MADE_BETWEEN_LOOKS)
    gc.enable()


def _refuse_without_screen() -> None:
    if os.environ.get("TEXTUAL_DRIVER"):  # served to a browser, which is the screen
        return
    streams = (sys.__stdin__, sys.__stdout__, sys.__stderr__)
    if not all(stream and stream.isatty() for stream in streams):
        raise StillroomError(
            "The screen needs a terminal. See stillroom --help for commands that don't."
        )
    if os.environ.get("TERM") == "dumb":
        raise StillroomError(
            "This terminal (TERM=dumb) can't show the screen. See stillroom --help for commands "
            "that work here."
        )


if __name__ == "__main__":
    main()
