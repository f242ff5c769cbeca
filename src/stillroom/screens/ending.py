"""Signals from outside to end or to stop for a while, and how the program obeys them."""

import asyncio
import os
import select
import signal

from textual.app import App

END_WITHIN_S = 5
"""When the kernel ends a program that hasn't ended: no output gets past a stuck terminal."""
STDIN = 0


def heed_signals_to_end(app: App[None]) -> None:
    """End cleanly at SIGTERM and SIGHUP, from before the terminal is taken over."""
    loop = asyncio.get_running_loop()

    def end(*_: object) -> None:
        signal.alarm(END_WITHIN_S)
        if not loop.is_closed():
            loop.call_soon_threadsafe(app.call_later, app.exit)

    for number in (signal.SIGTERM, signal.SIGHUP):
        # Not as the loop's own handlers: a stuck terminal holds the loop up, too.
        signal.signal(number, end)


def heed_signals_to_wait(app: App[None]) -> None:
    """Leave the terminal to the shell at SIGTSTP, and take it over again once continued.

    Textual's own handlers would take it over a second time at a SIGCONT that follows no SIGTSTP.
    """

    def wait() -> None:
        with app.suspend():
            os.kill(os.getpid(), signal.SIGSTOP)

    loop = asyncio.get_running_loop()
    loop.add_signal_handler(signal.SIGTSTP, app.call_later, wait)
    signal.signal(signal.SIGCONT, signal.SIG_DFL)


def end_without_terminal(app: App[None]) -> None:
    """End if the terminal has gone; only the leader of a session gets a signal for that."""
    if not app.is_headless and _has_hung_up(STDIN):
        signal.alarm(END_WITHIN_S)
        app.exit()


def _has_hung_up(descriptor: int) -> bool:
    poll = select.poll()
    poll.register(descriptor, 0)
    return bool(poll.poll(0))
