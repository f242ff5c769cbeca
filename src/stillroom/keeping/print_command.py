"""Papers sent to a printer by a command of the person's own, where nothing opens a PDF."""

import shlex
import subprocess
from pathlib import Path

from stillroom.errors import NeedsConfirmation, NotUnderstood, Refused
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.trusted import command_in_doubt, trust_command

FILE = "FILE"
"""The word in the command that is replaced by the file's name."""
PATIENCE_S = 60
"""How long the command may take; printing goes on in the background after it."""
_SAID = 200
"""Letters of what the command reported that are repeated."""


def print_words(command: str) -> list[str]:
    """The words of a print command; NotUnderstood where it can't be one. No shell reads it."""
    try:
        words = shlex.split(command)
    except ValueError as error:
        raise NotUnderstood("Print command: a quotation mark is missing.") from error
    if words and FILE not in words:
        raise NotUnderstood(
            f"Print command: write {FILE} where the file's name goes, such as lp -d labels {FILE}."
        )
    return words


def can_print(keeper: Keeper) -> bool:
    """Whether the shelf has a print command."""
    return bool(keeper.setting("print_command"))


def print_file(keeper: Keeper, file: Path, *, confirmed: bool = False) -> str:
    """Print a file by the shelf's print command, and return what to report.

    Raises NeedsConfirmation for a command that came with the file and was never confirmed here, and
    Refused with what the command reported where it failed.
    """
    command = keeper.setting("print_command") or ""
    if not command:
        raise Refused(
            f"There is no print command yet. Set one in Settings, such as lp -d labels {FILE}."
        )
    if command_in_doubt(keeper):
        if not confirmed:
            raise NeedsConfirmation(
                f"The print command {command} came with this shelf and was never confirmed on this "
                "computer. Run it?"
            )
        trust_command(command)
    words = [str(file) if word == FILE else word for word in print_words(command)]
    try:
        done = subprocess.run(
            words, stdin=subprocess.DEVNULL, capture_output=True, timeout=PATIENCE_S, check=False
        )
    except subprocess.TimeoutExpired as error:
        raise Refused(f"{words[0]} didn't finish within a minute and was stopped.") from error
    except OSError as error:
        raise Refused(f"{words[0]} can't be run: {error.strerror}.") from error
    if done.returncode:
        said = " ".join(done.stderr.decode(errors="replace").split())[:_SAID]
        raise Refused(f"{words[0]} failed: {said or f'it ended with {done.returncode}'}")
    return f"Sent to {words[0]}."
