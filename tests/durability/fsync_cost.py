"""What it costs that every action is on the disk before it is shown.

    python tests/durability/fsync_cost.py [--folder DIR] [--times 200]

Shakes a jar again and again on a disk, once for each of SQLite's grades of care, and prints the
median and slowest action and how each compares with the program's own grade, FULL. The folder
should lie on the disk that is in question, such as a memory card.
"""

import argparse
import statistics
import tempfile
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

from stillroom.clock import SetClock
from stillroom.keeping.drafts import ChargeDraft, JarDraft, PourDraft
from stillroom.keeping.jars.jar import fill_jar, shake
from stillroom.keeping.keeper import Keeper
from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.states import LiquidKind
from stillroom.records.store import Store

GRADES = {
    "FULL": "nothing shown is lost in a power cut",
    "NORMAL": "the latest actions may be lost in a power cut",
    "OFF": "the file may be damaged in a power cut",
}


def actions_ms(path: Path, grade: str, times: int) -> list[float]:
    """How long each of so many shakes takes, ms."""
    clock = SetClock(datetime(2026, 11, 26, 9, 15, tzinfo=UTC))
    store = Store.open(path, create=True)
    store.db.pragma("synchronous", grade)
    keeper = Keeper(store, clock)
    charges = (ChargeDraft("Calendula", Part.FLOWER, Condition.DRIED, 120),)
    day = keeper.today
    pours = (PourDraft(LiquidKind.SPIRIT, 600, 40),)
    jar = fill_jar(keeper, JarDraft(charges, pours, day, day + timedelta(days=14)))
    took = []
    for _ in range(times):
        began = time.perf_counter()
        shake(keeper, jar.jar_id)
        took.append(1000 * (time.perf_counter() - began))
        clock.advance(days=1)
    store.close()
    return took


def compare(folder: Path, times: int) -> None:
    """Time each grade and print the table."""
    measured = {grade: actions_ms(folder / grade, grade, times) for grade in GRADES}
    full = statistics.median(measured["FULL"])
    print(f"{times} shakes each, in {folder}")
    print("grade   median ms  slowest ms  of FULL  what it means")
    for grade, meaning in GRADES.items():
        median, slowest = statistics.median(measured[grade]), max(measured[grade])
        print(f"{grade:7} {median:9.2f} {slowest:11.2f} {median / full:8.2f}  {meaning}")


def main() -> None:
    """Read the arguments and measure."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--times", type=int, default=200)
    parser.add_argument("--folder", type=Path, default=Path(tempfile.gettempdir()))
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory(dir=asked.folder) as folder:
        compare(Path(folder), asked.times)


if __name__ == "__main__":
    main()
