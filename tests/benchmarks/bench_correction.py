"""How long a correction at the root of a five-deep blend takes, beside a shake.

    python tests/benchmarks/bench_correction.py [FILE] [--times 15]

On the shelf of ten years, which tests/make_big_shelf.py makes (FILE, made if it isn't there).
Prints the median of each in milliseconds, and the ratio; the goal is at most 10. Each correction
gives the root another volume of spirit, so that every figure down the tree changes. Nothing is
asserted: times differ from run to run.
"""

import argparse
import shutil
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from statistics import median

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.make_big_shelf import make_big_shelf

from stillroom.clock import SetClock
from stillroom.keeping.correcting.correct import correct
from stillroom.keeping.correcting.subjects import subject_of_code
from stillroom.keeping.graph import downstream
from stillroom.keeping.jars.jar import shake
from stillroom.keeping.keeper import Keeper
from stillroom.records.store import Store

_ROOTS = """
    WITH RECURSIVE above (blend_id, tincture_id, depth) AS (
        SELECT id, id, 0 FROM tincture WHERE straining_id IS NULL UNION
        SELECT blend_id, b.tincture_id, depth + 1 FROM above
        JOIN batch_input p ON p.tincture_id = above.tincture_id
        JOIN movement m ON m.id = p.movement_id JOIN bottle b ON b.id = m.bottle_id)
    SELECT t.code, t.id, max(depth) FROM above JOIN tincture t ON t.id = above.tincture_id
    WHERE t.straining_id IS NOT NULL GROUP BY t.id ORDER BY 3 DESC, t.id DESC LIMIT 1
"""


def timed(work: Callable[[], object]) -> float:
    """Milliseconds."""
    start = time.perf_counter()
    work()
    return (time.perf_counter() - start) * 1000


def main() -> None:
    """Measure both in turn, so that whatever else the machine does falls on both."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("file", nargs="?", type=Path)
    parser.add_argument("--times", type=int, default=15)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        made = asked.file or Path(scratch) / "made.stillroom"
        if not made.exists():
            make_big_shelf(made)
        shelf = Path(scratch) / "shelf.stillroom"
        shutil.copyfile(made, shelf)
        clock = SetClock(datetime(2026, 11, 26, 9, 15, tzinfo=UTC))
        keeper = Keeper(Store.open(shelf), clock)
        keeper.trust_date()
        code, tincture_id, depth = keeper.rows(_ROOTS)[0]
        root = subject_of_code(keeper, code)
        jars = [row[0] for row in keeper.rows("SELECT id FROM jar WHERE state = 'steeping'")]
        corrections, shakes = [], []
        for turn in range(asked.times):
            facts = {"pour-1.volume": f"{1201 + turn} ml"}
            clock.advance(days=1)
            jar_id = jars[turn % len(jars)]
            corrections.append(timed(partial(correct, keeper, root, facts, confirmed=True)))
            shakes.append(timed(partial(shake, keeper, jar_id)))
        reached = len(downstream(keeper, [tincture_id]))
        keeper.store.close()
    print(f"correction of {code}, which went into {reached - 1} blends, {depth} deep:")
    print(f"{median(corrections):.1f} ms")
    print(f"shake: {median(shakes):.1f} ms")
    print(f"ratio: {median(corrections) / median(shakes):.1f}")


if __name__ == "__main__":
    main()
