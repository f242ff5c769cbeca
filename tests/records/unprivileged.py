"""Runs a script as somebody whom permission bits bind, even where the tests are run by root."""

import ctypes
import os
import subprocess
import sys

_PR_CAPBSET_DROP = 24
_CAPABILITIES = 41


def _without_powers() -> None:
    """Give up, for the program about to start, what lets root pass permission bits."""
    prctl = ctypes.CDLL(None).prctl
    for capability in range(_CAPABILITIES):
        prctl(_PR_CAPBSET_DROP, capability, 0, 0, 0)


def run(script: str, *arguments: str) -> str:
    """What a Python script prints when run so."""
    drop = _without_powers if os.geteuid() == 0 else None
    ran = subprocess.run(
        [sys.executable, "-c", script, *arguments],
        capture_output=True,
        text=True,
        preexec_fn=drop,
    )
    assert ran.returncode == 0, ran.stderr
    return ran.stdout
