"""The failures that are shown to a person, in plain words."""

from collections.abc import Iterable
from pathlib import Path


class StillroomError(Exception):
    """Something a person asked for cannot be done; `str()` is the sentence to show them."""


class Refused(StillroomError):
    """A use case was asked for something the shelf cannot hold true. Nothing was written."""


class NeedsConfirmation(Refused):
    """Unlikely but possible: ask once, then call again with the matching `confirmed` argument."""


class DateInDoubt(NeedsConfirmation):
    """This computer's date may be wrong: ask once, then `Keeper.trust_date` and call again."""


class ReasonNeeded(Refused):
    """It would change what is closed: ask why, then call again inside `Keeper.because`."""


class AnothersAct(NeedsConfirmation):
    """The act that undo would reverse was done by another program: ask once, then call again."""

    def __init__(self, question: str, act: tuple[int, str]) -> None:
        super().__init__(question)
        self.act = act
        """Which act is meant, for the second call."""


class NotUnderstood(StillroomError, ValueError):
    """What was typed couldn't be read as a quantity, date or name; the message gives what could."""


class StoreError(StillroomError):
    """The shelf file can't be opened or written. The file was left as it was."""


class Planted(StoreError):
    """A file has tables or rules that are not ours, or lacks some. None of them was executed."""

    NAMED = 3
    """How many are named in the sentence."""

    def __init__(self, path: Path, parts: tuple[str, ...]) -> None:
        self.parts = parts
        """What is not ours, or is missing, each in a sentence."""
        more = len(parts) - self.NAMED
        also = f" There are {more} more." if more > 0 else ""
        super().__init__(
            f"{path} was not opened, because Stillroom didn't make all of it. "
            f"{' '.join(parts[: self.NAMED])}{also} Restore a backup, or ask for another copy."
        )


MOST_LISTED = 30
"""More names than these aren't listed beside the one that was probably meant."""


def closest(typed: str, known: Iterable[str]) -> str:
    """The known name that a mistyped one is most like; blank where it is like none."""
    from difflib import get_close_matches  # only once something is wrong

    names = {name.casefold(): name for name in known}
    return next(
        (names[each] for each in get_close_matches(typed.casefold(), names, n=1, cutoff=0.7)), ""
    )


def choose_from(typed: str, known: Iterable[str]) -> str:
    """What was probably meant in place of a word, and what there is, in sentences."""
    names = list(dict.fromkeys(known))
    close = closest(typed, names)
    meant = f"Did you mean {close}? " if close else ""
    if meant and len(names) > MOST_LISTED:
        return meant.strip()
    return f"{meant}Choose from {', '.join(names)}." if names else ""
