"""Makes the shelf file that a released schema leaves for every later version to open.

    python tests/make_released_schema.py [--folder FOLDER]

Writes schema_N.stillroom.gz, N being the newest schema, with a shelf that has a past: jars strained
and steeping, a blend, something to undo and something to redo. Run it once, on the version that is
released; a file that is there already is never written again, as no later version may make it.
"""

import argparse
import gzip
import sys
import tempfile
from datetime import UTC, datetime
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from tests.paper.conftest import work

from stillroom.clock import SetClock
from stillroom.errors import StillroomError
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import remember
from stillroom.keeping.undo import undo
from stillroom.records.schema import newest_schema
from stillroom.records.store import Store

RELEASED = Path(__file__).parent / "records" / "released"
RELEASED_SCHEMA = 1
"""The newest schema that a released version writes; later ones may still change."""


def make(folder: Path) -> Path:
    """Write the newest schema's file into a folder; FileExistsError where there is one."""
    made = folder / f"schema_{newest_schema()}.stillroom.gz"
    clock = SetClock(datetime(2026, 11, 26, 9, 15, tzinfo=UTC))
    with tempfile.TemporaryDirectory() as scratch:
        shelf = Path(scratch) / "shelf.stillroom"
        keeper = Keeper(Store.open(shelf, create=True), clock)
        try:
            remember(keeper, "cautions_read", "2026-11-26")
            work(keeper, clock)
            undo(keeper)  # so that there is something to redo
        finally:
            keeper.store.close()
        with made.open("xb") as file:
            file.write(gzip.compress(shelf.read_bytes(), mtime=0))
    return made


def main() -> None:
    """Make it."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--folder", type=Path, default=RELEASED)
    try:
        print(make(parser.parse_args().folder))
    except (OSError, StillroomError) as error:
        sys.exit(str(error))


if __name__ == "__main__":
    main()
