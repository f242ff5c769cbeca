"""What happens when something happens that should not: a log, one sentence, nothing lost."""

import platform
import sys
import traceback
from datetime import datetime
from pathlib import Path

from stillroom.cli.exit_codes import ExitCode
from stillroom.printable import printable


def leave_log(told: str, folder: Path, moment: datetime) -> str:
    """Log a crash in a file readable by the user alone; returns the sentence to show."""
    from stillroom import __version__

    text = (
        f"Stillroom {__version__}, Python {platform.python_version()}, {platform.platform()}\n"
        f"{moment.isoformat()}\n\n{told}\n"
    )
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        path = folder / f"crash-{moment:%Y%m%d-%H%M%S-%f}.log"
        path.touch(mode=0o600, exist_ok=False)
        path.write_text(text, encoding="utf-8", errors="backslashreplace")
    except OSError as error:
        last = told.rstrip().rpartition("\n")[2]
        return (
            f"Stillroom has failed ({last}), and no log could be written in {folder}: "
            f"{error.strerror}. What was saved before is safe."
        )
    return f"Stillroom has failed; what was saved before is safe. The traceback is in {path}."


def told_by(error: BaseException) -> str:
    """An exception with its traceback and its causes."""
    return "".join(traceback.format_exception(error))


def report(told: str, folder: Path, moment: datetime) -> int:
    """Leave a log and say where; returns the exit code."""
    said = leave_log(told, folder, moment)
    try:
        print(printable(said), file=sys.stderr)
    except OSError:
        pass  # the terminal is gone; the log is there
    return ExitCode.FAULT
