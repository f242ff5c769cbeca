"""The program in a terminal of its own, driven by keys."""

import fcntl
import os
import pty
import struct
import sys
import termios
from typing import NamedTuple


class Seen(NamedTuple):
    """What a program did to its terminal."""

    code: int
    """The exit code; negative where a signal ended it."""
    out: str
    is_restored: bool
    """Whether lines are edited and echoed again, on the main screen, with the cursor shown."""


PROGRAM = ("-m", "stillroom")


def _started(words: tuple[str, ...], environment: dict[str, str]) -> tuple[int, int]:
    """A Python program in a new terminal; its process and our end of the terminal."""
    process, terminal = pty.fork()
    if process == 0:
        fcntl.ioctl(0, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
        environ = os.environ | {"TERM": "xterm-256color"} | environment
        os.execve(sys.executable, [sys.executable, *words], environ)
    return process, terminal


def in_terminal(
    *words: str,
    keys: bytes = b"",
    once: str = "",
    program: tuple[str, ...] = (),
    **environment: str,
) -> Seen:
    """Run it at 80×24, press keys once a text is on screen, and wait for the end."""
    process, terminal = _started((*(program or PROGRAM), *words), environment)
    out, pressed = b"", not keys
    while True:
        if not pressed and once.encode() in out:
            os.write(terminal, keys)
            pressed = True
        try:
            out += os.read(terminal, 65536)
        except OSError:  # the program has let go of it
            break
    code = os.waitstatus_to_exitcode(os.waitpid(process, 0)[1])
    modes = termios.tcgetattr(terminal)[3]
    os.close(terminal)
    text = out.decode(errors="replace")
    is_restored = (
        bool(modes & termios.ECHO and modes & termios.ICANON)
        and text.rfind("\x1b[?1049l") >= text.rfind("\x1b[?1049h")
        and text.rfind("\x1b[?25h") >= text.rfind("\x1b[?25l")
    )
    return Seen(code, text, is_restored)


def until_hung_up(*words: str, once: str, **environment: str) -> int:
    """Run it, take its terminal away once a text is on screen, and give the exit code."""
    process, terminal = _started((*PROGRAM, *words), environment)
    out = b""
    while once.encode() not in out:
        out += os.read(terminal, 65536)
    os.close(terminal)
    return os.waitstatus_to_exitcode(os.waitpid(process, 0)[1])
