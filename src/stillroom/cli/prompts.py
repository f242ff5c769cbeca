"""Questions on a terminal, one line each: nothing moves, so a screen reader can follow.

They go to the standard error, so that the output of a command can still be sent to a file.
"""

import sys
from collections.abc import Sequence

from stillroom.errors import Refused
from stillroom.printable import printable

STOPPED = "Stopped. Nothing was saved."


def can_ask() -> bool:
    """Whether somebody is there to answer."""
    return sys.stdin is not None and sys.stdin.isatty()


def ask(question: str) -> str | None:
    """What is typed in answer; None for Ctrl-D."""
    print(printable(f"{question}: "), end="", file=sys.stderr, flush=True)
    try:
        line = sys.stdin.readline()
    except UnicodeDecodeError:
        report("That can't be read as text.")
        return ask(question)
    except OSError as error:  # the terminal has gone
        raise Refused(STOPPED) from error
    if not line:
        report("")  # Ctrl-D leaves the cursor behind the question
        return None
    return line.strip()


def report(sentence: str) -> None:
    """Print a sentence between two questions."""
    print(printable(sentence), file=sys.stderr, flush=True)


def ask_yes(question: str) -> bool:
    """Whether the answer is yes; Ctrl-D is no."""
    while True:
        answer = ask(f"{question} yes or no")
        if answer is None or answer.casefold() in ("n", "no"):
            return False
        if answer.casefold() in ("y", "yes"):
            return True
        report("Answer yes or no.")


def listed_choices(choices: Sequence[str]) -> str:
    """Choices as a question lists them."""
    return ", ".join(choices)
