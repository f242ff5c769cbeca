"""The program in a terminal of its own, driven by keys."""

import fcntl
import os
import pty
import select
import struct
import sys
import termios
import time
from typing import NamedTuple


class Seen(NamedTuple):
    """What a program did to its terminal."""

    code: int
    """The exit code; negative where a signal ended it."""
    out: str
    is_restored: bool
    """Whether lines are edited and echoed again, on the main screen, with the cursor shown."""


def in_terminal(
    *words: str,
    keys: bytes = b"",
    once: str = "",
    program: tuple[str, ...] = (),
    **environment: str,
) -> Seen:
    """Run it at 80×24, press keys once a text is on screen, and wait for the end."""
    program = program or ("-m", "stillroom")
    process, terminal = pty.fork()
    if process == 0:
        fcntl.ioctl(0, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
        environ = os.environ | {"TERM": "xterm-256color"} | environment
        os.execve(sys.executable, [sys.executable, *program, *words], environ)
    out, pressed, ends = b"", not keys, time.monotonic() + 20
    while time.monotonic() < ends:
        if not pressed and once.encode() in out:
            os.write(terminal, keys)
            pressed = True
        if not select.select([terminal], [], [], 0.05)[0]:
            continue
        try:
            out += os.read(terminal, 65536)
        except OSError:  # the program has let go of it
            break
    else:
        os.kill(process, 9)
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
