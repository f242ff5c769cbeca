"""A shelf written by each released schema opens, complete, in this version."""

import gzip
from pathlib import Path

import pytest

from stillroom.clock import SetClock
from stillroom.errors import Refused
from stillroom.keeping.bottles.bottle_views import bottle_rows
from stillroom.keeping.jars.jar import shake_all
from stillroom.keeping.jars.shelves import shelves_view
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.shelf_file.check import check
from stillroom.keeping.trace.ancestry import trace
from stillroom.keeping.undo import redo, redoable, undo, undoable
from stillroom.records.schema import newest_schema
from stillroom.records.store import Store

from ..make_released_schema import RELEASED, RELEASED_SCHEMA, make


def files() -> list[Path]:
    return sorted(RELEASED.glob("schema_*.stillroom.gz"))


def test_every_released_schema_has_a_shelf_file() -> None:
    assert [path.name for path in files()] == [
        f"schema_{number}.stillroom.gz" for number in range(1, RELEASED_SCHEMA + 1)
    ]


def test_the_file_of_the_next_schema_is_made_only_once(
    tmp_path: Path, shelf_file: Path, clock: SetClock
) -> None:
    made = make(tmp_path)
    assert made.name == f"schema_{newest_schema()}.stillroom.gz"
    with pytest.raises(FileExistsError):
        make(tmp_path)
    shelf_file.write_bytes(gzip.decompress(made.read_bytes()))
    keeper = Keeper(Store.open(shelf_file), clock)
    assert check(keeper) == []
    assert [jar.code for jar in shelves_view(keeper).jars] == ["26-004", "26-005"]
    assert redo(keeper) is not None
    keeper.store.close()


@pytest.mark.parametrize("released", files(), ids=lambda path: path.name)
def test_a_released_shelf_opens_with_all_its_contents_and_can_be_used(
    released: Path, shelf_file: Path, clock: SetClock
) -> None:
    shelf_file.write_bytes(gzip.decompress(released.read_bytes()))
    keeper = Keeper(Store.open(shelf_file), clock)
    assert keeper.store.schema_version == newest_schema()
    assert check(keeper) == []
    # What was on it when it was written, by the account of that version.
    assert {row.code: round(row.left_ml, 2) for row in bottle_rows(keeper)} == {
        "26-001.1": 160,
        "26-001.2": 100,
        "26-001.3": 80,
        "26-002.1": 210,
        "26-003.1": 95,
    }
    assert [jar.code for jar in shelves_view(keeper).jars] == ["26-004", "26-005"]
    kinds = [node.kind for node in trace(keeper, "26-003.1").walk()]
    assert (kinds.count("jar"), kinds.count("herb"), kinds.count("spirit")) == (2, 2, 3)
    assert undoable(keeper) is redoable(keeper) is None  # its steps were for other tables
    with pytest.raises(Refused, match="can't be undone, but it can be corrected"):
        undo(keeper)
    assert shake_all(keeper) == 2
    assert undo(keeper) == "Shook 2 jars"
    assert redo(keeper) == "Shook 2 jars"
    assert check(keeper) == []
    keeper.store.close()
