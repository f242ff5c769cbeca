"""However the program is ended, nothing is left running and the terminal is as it was."""

import os
import random
import signal
import sys
from pathlib import Path
from time import perf_counter

import pytest

from .program import READY, Place

IGNORING = ("sh", "-c", "trap '' HUP TERM; exec \"$@\"", "sh")
"""Starts the program with signals ignored, as some launchers do."""
UNDER_A_DEAF_SHELL = ("sh", "-c", "trap '' HUP; \"$@\"; :", "sh")
"""A shell that keeps to itself that the terminal has gone, and waits for the program."""
QUIT = b"\x11"


@pytest.mark.parametrize(
    ("number", "before"),
    [(signal.SIGTERM, IGNORING), (signal.SIGHUP, ()), (signal.SIGHUP, IGNORING)],
    ids=["SIGTERM, ignored by the parent", "SIGHUP", "SIGHUP, ignored by the parent"],
)
def test_signals_end_the_program_cleanly(
    place: Place, number: signal.Signals, before: tuple[str, ...]
) -> None:
    with place.started(*before) as terminal:
        assert not terminal.is_sane  # or the check below could not fail
        terminal.kill(number)
        assert terminal.wait_end() == 0
        assert terminal.is_sane
    assert place.wrong() == []


def test_signals_at_any_moment_of_the_start_restore_the_terminal(place: Place) -> None:
    chance = random.Random(3)
    for _ in range(5):
        with place.start() as terminal:
            while perf_counter() - terminal.started < chance.uniform(0.1, 0.4):
                terminal.read(0.005)
            terminal.kill(signal.SIGTERM)
            assert terminal.wait_end() in (0, signal.SIGTERM)
            assert terminal.is_sane
    assert place.wrong() == []


@pytest.mark.parametrize(
    "before", [(), IGNORING, UNDER_A_DEAF_SHELL], ids=["plain", "ignored", "under a deaf shell"]
)
def test_nothing_keeps_running_once_its_terminal_is_closed(
    place: Place, before: tuple[str, ...]
) -> None:
    with place.started(*before) as terminal:
        assert place.processes()
        terminal.hang_up()
        assert terminal.wait_end() == 0
    assert not place.processes()
    assert place.wrong() == []


def test_it_ends_even_if_the_terminal_accepts_no_more_output(place: Place) -> None:
    with place.started() as terminal:
        terminal.fill_up(b"12")
        terminal.kill(signal.SIGTERM)
        # By the alarm, as it could not tell its terminal that it ends.
        assert terminal.wait_end(reads=False) == signal.SIGALRM
    assert place.wrong() == []


@pytest.mark.parametrize("keys", [b"\r" + QUIT, b"nSage" + 2 * QUIT, b"2" + QUIT], ids=repr)
def test_ctrl_q_quits_even_at_once_after_other_keys(place: Place, keys: bytes) -> None:
    with place.started() as terminal:
        terminal.send(keys)
        assert terminal.wait_end() == 0
        assert terminal.is_sane
    assert place.wrong() == []


def test_ctrl_c_shows_how_to_quit(place: Place) -> None:
    with place.started() as terminal:
        terminal.send(b"\x03")
        terminal.wait_until(lambda picture: "Press q to quit" in picture.flat)
        assert terminal.ended is None
        terminal.send(b"q")
        assert terminal.wait_end() == 0
        assert terminal.is_sane
    assert place.wrong() == []


def is_stopped(pid: int) -> bool:
    """Whether a process has been stopped, by the kernel's word."""
    state = Path(f"/proc/{pid}/stat").read_text(encoding="utf-8").rsplit(")", 1)[1].split()[0]
    return state == "T"


def test_stopping_restores_the_terminal_and_continuing_redraws_it(place: Place) -> None:
    with place.started() as terminal:
        terminal.kill(signal.SIGTSTP)
        terminal.wait_until(lambda picture: picture.is_untouched)
        assert terminal.is_sane
        # It gives the terminal back first and stops after; called on before, it would never wake.
        terminal.wait_until(lambda _: is_stopped(terminal.pid))
        terminal.kill(signal.SIGCONT)
        terminal.wait_until(lambda picture: " to shake" in picture.flat)
        terminal.send(b"2")
        terminal.wait_until(lambda picture: "bottles" in picture.lines[0])
        # A stop that it doesn't notice must not have it take the terminal over a second time.
        terminal.kill(signal.SIGSTOP)
        terminal.kill(signal.SIGCONT)
        terminal.send(b"1")
        terminal.wait_until(lambda picture: " to shake" in picture.lines[0])
        assert terminal.picture.keyboards == 1
        terminal.kill(signal.SIGTERM)
        assert terminal.wait_end() == 0
        assert terminal.is_sane
    assert place.wrong() == []


FAILING = """
from stillroom.screens.{module} import {owner}

def fail(*_, **__):
    raise RuntimeError("the lid is stuck")

{owner}.{method} = fail
from stillroom.__main__ import main
main()
"""


@pytest.mark.parametrize(
    ("module", "owner", "method", "key"),
    [
        ("shelves.board", "Board", "action_go", b"\x1b[C"),
        ("shelves.board", "Board", "_cell", b" "),
        ("shelves.page", "ShelvesPage", "chosen_jar", b"t"),
        ("jar.fill", "FillDialog", "_compose_jar", b"n"),
        ("bottles.page", "BottlesPage", "read", b"2"),
    ],
    ids=["an action", "drawing", "a worker", "a form", "a page"],
)
def test_a_crash_restores_the_terminal_and_loses_nothing(
    place: Place, module: str, owner: str, method: str, key: bytes
) -> None:
    script = FAILING.format(module=module, owner=owner, method=method)
    with place.start(program=(sys.executable, "-c", script)) as terminal:
        if method != "_cell":
            terminal.wait_until(lambda picture: READY in picture.text)
            terminal.send(b"a" + key)
        assert os.waitstatus_to_exitcode(terminal.wait_end()) == 70
        assert terminal.is_sane
        assert "Stillroom has failed; what was saved before is safe." in terminal.picture.flat
    assert "RuntimeError: the lid is stuck" in place.crash_log()
    assert place.wrong() == []
    assert place.last_action == ("" if method == "_cell" else "Shook 14 jars")
