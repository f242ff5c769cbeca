"""Tell a scanner's keys from a person's, by their pace and by what they begin with.

A scanner is a keyboard that types a code and Enter within a fraction of a second. Whether keys
come from one is only known at the Enter, so keys that could be the beginning of a scan are held
back until they go on, or a moment is over. Everything else goes through at once.
"""

from collections.abc import Callable
from typing import Generic, NamedTuple, TypeVar

T = TypeVar("T")

FEWEST = 4
"""Letters of a code: two or three, and Enter, may be a quick hand."""


class KeyTaken(NamedTuple, Generic[T]):
    """What a key has brought about."""

    released: tuple[T, ...] = ()
    """Keys that are no scan, in order: they are to be taken now."""
    scanned: str | None = None
    """What was scanned, where the key ended a scan."""
    keys: tuple[T, ...] = ()
    """The keys that it came in, the last one included."""
    has_prefix: bool = False
    """Whether it began with the scanner's prefix, which is left out of `scanned`."""


class Burst(Generic[T]):
    """Keys in quick succession that may be a scan."""

    def __init__(
        self,
        could_begin: Callable[[str], bool],
        is_code: Callable[[str], bool],
        longest: int,
    ) -> None:
        self._could_begin = could_begin
        self._is_code = is_code
        self._longest = longest
        self.gap_s = 0.0
        """At most so many seconds are between two keys of a scan; 0 takes nothing for one."""
        self.prefix = ""
        """Letters that a scanner was set to type before each code."""
        self.number = 0
        """Rises with each key, to know whether one has come since."""
        self._held: list[T] = []
        self._text = ""
        self._last_at = float("-inf")

    @property
    def is_holding(self) -> bool:
        """Whether keys are held back."""
        return bool(self._held)

    def take(self, key: T, character: str | None, at: float, *, ends: bool) -> KeyTaken[T]:
        """Take a key pressed at a time in seconds: hold it, release it, or end a scan with it.

        `character` is None for a key that types none; `ends` is whether it is Enter.
        """
        is_quick = abs(at - self._last_at) <= self.gap_s
        self._last_at = at
        self.number += 1
        released: tuple[T, ...] = () if is_quick else self.release()
        if ends and self._is_scan:
            scanned, has_prefix = self._text.removeprefix(self.prefix), self._has_prefix
            return KeyTaken(released, scanned, (*self.release(), key), has_prefix)
        begins = not is_quick and self.gap_s > 0
        text = self._text + (character or "")
        if character and not ends and (begins or self._held) and self._may_be_scan(text):
            self._held.append(key)
            self._text = text
            return KeyTaken(released)
        return KeyTaken((*released, *self.release(), key))

    def release(self) -> tuple[T, ...]:
        """Give up what is held: it was no scan."""
        held = tuple(self._held)
        self._held.clear()
        self._text = ""
        return held

    @property
    def _has_prefix(self) -> bool:
        return bool(self.prefix) and self._text.startswith(self.prefix)

    @property
    def _is_scan(self) -> bool:
        if self._has_prefix:
            return len(self._text) > len(self.prefix)
        return len(self._text) >= FEWEST and self._is_code(self._text)

    def _may_be_scan(self, text: str) -> bool:
        if len(text) > self._longest:
            return False
        if self.prefix and (text.startswith(self.prefix) or self.prefix.startswith(text)):
            return True
        return self._could_begin(text)
