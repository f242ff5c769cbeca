"""The command line: the same use cases without the screen, and the way to the screen."""

import argparse
import sys
from pathlib import Path

from .clock import SystemClock
from .errors import StillroomError
from .keeping.keeper import Keeper
from .paths import default_shelf
from .records.store import Store


def run(arguments: list[str]) -> int:
    """Do what the arguments say; returns the exit code."""
    parser = argparse.ArgumentParser("stillroom")
    parser.add_argument("--shelf", type=Path)
    wanted = parser.parse_args(arguments)
    try:
        path = wanted.shelf or default_shelf()
        keeper = Keeper(Store.open(path, create=True), SystemClock())
    except StillroomError as error:
        print(error, file=sys.stderr)
        return 2
    from .screens.app import StillroomApp

    StillroomApp(keeper).run()
    return 0
