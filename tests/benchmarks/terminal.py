"""The real program in a real pseudo-terminal: start it, press keys, wait for what it shows."""

import fcntl
import os
import pty
import re
import select
import signal
import struct
import termios
import time
from collections import deque
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

from picture import Picture

_ESCAPES = re.compile(
    rb"\x1b\[[0-9;:?<>=]*[ -/]*[@-~]|\x1b\][^\x07\x1b]*(?:\x07|\x1b\\)|\x1b[()][0-9A-Z]|\x1b."
)
_ASKS_TO_HOLD, HOLDS_FRAMES = b"\x1b[?2026$p", b"\x1b[?2026;2$y"
"""Whether the terminal shows whole frames only, and that it does, as terminals of today do."""
PATIENCE_S = 1200.0
"""A busy machine is slow, never wrong: this only ends a wait for what will never come."""


def _window_size(columns: int, rows: int) -> bytes:
    return struct.pack("HHHH", rows, columns, 0, 0)


class Terminal:
    """One program on one pseudo-terminal."""

    def __init__(
        self,
        command: Sequence[str],
        *,
        columns: int = 120,
        rows: int = 40,
        environment: Mapping[str, str] | None = None,
        folder: Path | None = None,
    ) -> None:
        self.started = time.perf_counter()
        self.pid, self.descriptor = pty.fork()
        if self.pid == 0:
            # Before the program looks: until it has a size, a terminal counts as one of 80×24.
            fcntl.ioctl(0, termios.TIOCSWINSZ, _window_size(columns, rows))
            for name in ("COLUMNS", "LINES"):
                os.environ.pop(name, None)
            os.environ.update({"TERM": "xterm-256color", "COLORTERM": "truecolor"})
            os.environ.update(environment or {})
            os.chdir(folder or ".")
            # Not with the environment of C, in which readline may have set the size of another.
            os.execvpe(command[0], list(command), os.environ)
        self._picture = Picture(columns, rows)
        self._not_drawn: deque[bytes] = deque()
        self._exit: int | None = None

    def resize(self, columns: int, rows: int) -> None:
        """Give the terminal another size; no signal is sent where it is the same."""
        if (columns, rows) == (self.picture.columns, self.picture.rows):
            return
        fcntl.ioctl(self.descriptor, termios.TIOCSWINSZ, _window_size(columns, rows))
        self.picture.resize(columns, rows)

    @property
    def picture(self) -> Picture:
        """What it shows by all that was read so far."""
        # Drawn only when looked at, so that it isn't part of a measured time.
        while self._not_drawn:
            self._picture.feed(self._not_drawn.popleft())
        return self._picture

    def send(self, keys: bytes) -> None:
        """Press keys."""
        os.write(self.descriptor, keys)

    def read(self, seconds: float) -> bytes:
        """What the program writes within a time; at most one piece of it."""
        if self.descriptor < 0:
            time.sleep(seconds)
            return b""
        ready, _, _ = select.select([self.descriptor], [], [], seconds)
        if not ready:
            return b""
        try:
            piece = os.read(self.descriptor, 65536)
        except OSError:  # the program has gone and taken its side of the terminal with it
            piece = b""
        if _ASKS_TO_HOLD in piece:
            self.send(HOLDS_FRAMES)
        self._not_drawn.append(piece)
        return piece

    def wait_for(self, text: str, seconds: float = PATIENCE_S) -> float:
        """Wait until something is written that holds `text`; returns when, on `perf_counter`.

        Looks at what is written from now on. Raises TimeoutError with the last of it.
        """
        wanted, fresh = text.encode(), b""
        limit = time.perf_counter() + seconds
        while time.perf_counter() < limit:
            fresh += self.read(max(0.0, limit - time.perf_counter()))
            if wanted in _ESCAPES.sub(b"", fresh):
                return time.perf_counter()
            if self.ended is not None:
                break
        tail = _ESCAPES.sub(b"", fresh)[-2000:].decode(errors="replace")
        raise TimeoutError(f"{text!r} did not come. Last: {tail}")

    def wait_until(
        self, shows: Callable[[Picture], object], seconds: float = PATIENCE_S
    ) -> Picture:
        """Wait until the picture shows something; raises TimeoutError with the picture."""
        limit = time.perf_counter() + seconds
        while not shows(self.picture):
            left = limit - time.perf_counter()
            if left <= 0 or (not self.read(min(left, 0.2)) and self.ended is not None):
                raise TimeoutError(f"It did not come. Last:\n{self.picture.text}")
        return self.picture

    def fill_up(self, keys: bytes) -> None:
        """Press keys without reading, until the program can write no more."""
        unread, same = -1, 0
        while same < 20:
            self.send(keys)
            while not self._sleeps():
                time.sleep(0.001)
            waiting = struct.unpack("i", fcntl.ioctl(self.descriptor, termios.FIONREAD, bytes(4)))
            same = same + 1 if unread == waiting[0] else 0
            unread = waiting[0]

    def settle(self, quiet: float = 0.15, seconds: float = 5.0) -> None:
        """Read until nothing has been written for a while."""
        limit = time.perf_counter() + seconds
        while time.perf_counter() < limit and self.read(quiet):
            pass

    def calm(self, seconds: float = PATIENCE_S) -> None:
        """Read until the program waits: it has nothing to write and all its threads sleep."""
        limit = time.perf_counter() + seconds
        while self.ended is None:
            # Longer than a frame: what has changed is drawn 60 times a second.
            if not self.read(0.022) and self._sleeps():
                return
            if time.perf_counter() > limit:
                raise TimeoutError(f"It does not come to rest. Last:\n{self.picture.text}")

    def _sleeps(self) -> bool:
        # Looked at twice: while one thread is looked at, another may wake it and fall asleep.
        first = self._threads()
        return bool(first) and first == self._threads()

    def _threads(self) -> list[tuple[str, int]]:
        """Each thread with how often it has slept; none where one is awake.

        A thread that a key has woken counts as running before it gets a processor.
        """
        found = []
        try:
            for thread in Path(f"/proc/{self.pid}/task").iterdir():
                status = (thread / "status").read_text()
                state = status.partition("State:")[2].split()[0]
                if state != "S":
                    return []
                slept = status.partition("\nvoluntary_ctxt_switches:")[2].split()[0]
                found.append((thread.name, int(slept)))
        except OSError:  # a thread, or all of it, has just ended
            return []
        return sorted(found)

    @property
    def ended(self) -> int | None:
        """The wait status once the program has ended."""
        if self._exit is None:
            pid, status = os.waitpid(self.pid, os.WNOHANG)
            if pid:
                self._exit = status
        return self._exit

    def wait_end(self, seconds: float = PATIENCE_S, *, reads: bool = True) -> int:
        """Wait for the program to end without a signal; returns the wait status."""
        limit = time.perf_counter() + seconds
        while time.perf_counter() < limit:
            if reads:
                self.read(0.02)
            else:
                time.sleep(0.02)
            if self.ended is not None:
                return self.ended
        raise TimeoutError("The program has not ended.")

    def kill(self, number: int = signal.SIGKILL) -> None:
        """Send a signal."""
        if self.ended is None:
            os.kill(self.pid, number)

    @property
    def is_sane(self) -> bool:
        """Whether it is as it was before the program: modes, main screen, cursor, echo."""
        flags = termios.tcgetattr(self.descriptor)[3]
        return self.picture.is_untouched and bool(flags & termios.ECHO and flags & termios.ICANON)

    def hang_up(self) -> None:
        """Take the terminal away, as closing its window does."""
        if self.descriptor >= 0:
            os.close(self.descriptor)
            self.descriptor = -1

    def close(self) -> None:
        """End the program in any state, and close the terminal."""
        if self.ended is None:
            os.kill(self.pid, signal.SIGKILL)
            _, self._exit = os.waitpid(self.pid, 0)
        self.hang_up()

    def __enter__(self) -> "Terminal":
        return self

    def __exit__(self, *_: object) -> None:
        self.close()
