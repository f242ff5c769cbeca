"""What the program costs while it is idle.

    python tests/trials/idle.py [--seconds 20]

Prints the share of a processor core it uses, on the shelves and with a field of a form in hand.
"""

import argparse
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from program import Place, Terminal, processor_seconds

BEGUN_AFTER_S = 5.0
"""By then what is imported in the background, and the backup of the day, are done."""


def main() -> None:
    """Measure both."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--seconds", type=float, default=20)
    seconds = parser.parse_args().seconds
    with tempfile.TemporaryDirectory() as folder:
        place = Place.with_sample(Path(folder))
        for name, keys in (("on the shelves", b""), ("in a form", b"n")):
            with place.started() as terminal:
                terminal.send(keys)
                _leave_alone(terminal, BEGUN_AFTER_S)
                before = processor_seconds(terminal.pid)
                _leave_alone(terminal, seconds)
                used = processor_seconds(terminal.pid) - before
                print(f"{name:15} {100 * used / seconds:5.2f} % of a core over {seconds:g} s")


def _leave_alone(terminal: Terminal, seconds: float) -> None:
    limit = time.perf_counter() + seconds
    while time.perf_counter() < limit:
        terminal.read(0.5)


if __name__ == "__main__":
    main()
