"""A shelf from someone else: what was planted in it is named and never executed."""

import gzip
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from stillroom.clock import SetClock
from stillroom.errors import Planted
from stillroom.keeping.cupboard.cupboard import add_shelf
from stillroom.keeping.drafts import ShelfDraft
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.shelf_file.check import check
from stillroom.keeping.shelf_file.restoring import restore_plan
from stillroom.records.schema import (
    DIGESTS,
    READ_SCHEMA,
    digest,
    migrations,
    parts,
    parts_as_made,
)
from stillroom.records.store import Store

from ..make_released_schema import RELEASED_SCHEMA

RELEASED = Path(__file__).parent / "released"
RESHAPED = """
    PRAGMA writable_schema = 1;
    UPDATE sqlite_schema SET {} ;
    PRAGMA writable_schema = 0;"""
PLANTS = {
    "trigger": (
        "CREATE TRIGGER steal AFTER INSERT ON event BEGIN DELETE FROM event; END",
        "The trigger steal on event isn't part of a shelf.",
    ),
    "view": ("CREATE VIEW lure AS SELECT * FROM jar", "The view lure isn't part of a shelf."),
    "table": ("CREATE TABLE theirs (id)", "The table theirs isn't part of a shelf."),
    "index": (
        "CREATE INDEX slow ON jar (abs(id))",
        "The index slow on jar isn't part of a shelf.",
    ),
    "virtual table": (
        "CREATE VIRTUAL TABLE words USING fts5(text)",
        "The table words isn't part of a shelf.",
    ),
    "column": (
        "ALTER TABLE herb ADD COLUMN taste TEXT",
        "The table herb was changed by another program.",
    ),
    "generated column": (
        "ALTER TABLE herb ADD COLUMN big BLOB AS (zeroblob(900000000)) VIRTUAL",
        "The table herb was changed by another program.",
    ),
    "weaker rule": (
        RESHAPED.format(
            "sql = replace(sql, 'turn BETWEEN', '1 OR turn BETWEEN') WHERE name = 'shake'"
        ),
        "The table shake was changed by another program.",
    ),
    "missing trigger": ("DROP TRIGGER fill_is_there", "The trigger fill_is_there is missing."),
    "trigger in our name": (
        """DROP TRIGGER fill_is_there;
           CREATE TRIGGER fill_is_there AFTER INSERT ON jar BEGIN DELETE FROM event; END;""",
        "The trigger fill_is_there was changed by another program.",
    ),
    "trigger moved behind the end of another one's text": (
        RESHAPED.format(
            """sql = sql || char(0) || (
                   SELECT type || char(0) || name || char(0) || tbl_name || char(0) || sql
                   FROM sqlite_schema WHERE name = 'fill_is_there')
               WHERE name = (SELECT max(name) FROM sqlite_schema
                             WHERE type = 'trigger' AND name < 'fill_is_there');
               DELETE FROM sqlite_schema WHERE name = 'fill_is_there'"""
        ),
        "The trigger fill_is_there is missing.",
    ),
    "name that SQLite keeps for its own": (
        "CREATE TRIGGER steal AFTER INSERT ON event BEGIN DELETE FROM event; END;"
        + RESHAPED.format(
            "name = 'sqlite_steal', sql = replace(sql, 'steal', 'sqlite_steal')"
            " WHERE name = 'steal'"
        ),
        "The trigger sqlite_steal on event isn't part of a shelf.",
    ),
}  # fmt: skip


@pytest.fixture
def shelf(keeper: Keeper) -> Path:
    """A sound shelf, closed."""
    add_shelf(keeper, ShelfDraft("Larder"))
    keeper.store.close()
    return keeper.store.path


@pytest.fixture(params=list(PLANTS.values()), ids=list(PLANTS))
def planted(shelf: Path, request: pytest.FixtureRequest) -> tuple[Path, str]:
    """A shelf with something in it that is not ours, and what is said of that."""
    script, said = request.param
    with closing(sqlite3.connect(shelf, isolation_level=None)) as db:
        db.executescript(script)
        db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    return shelf, said


def test_planted_parts_of_a_schema_are_named_and_nothing_is_opened(
    planted: tuple[Path, str],
) -> None:
    shelf, said = planted
    before = shelf.read_bytes()
    with pytest.raises(Planted) as refusal:
        Store.open(shelf)
    assert said in refusal.value.parts
    assert all(part in str(refusal.value) for part in refusal.value.parts[: Planted.NAMED])
    with pytest.raises(Planted):
        restore_plan(shelf, shelf.with_name("other"))
    assert shelf.read_bytes() == before
    assert {path.name for path in shelf.parent.glob("shelf*")} <= {shelf.name}


def test_statistics_of_sqlite_do_not_count_as_planted(shelf: Path, clock: SetClock) -> None:
    with closing(sqlite3.connect(shelf, isolation_level=None)) as db:
        db.execute("ANALYZE")
    keeper = Keeper(Store.open(shelf), clock)
    assert check(keeper) == []
    keeper.store.close()


def test_the_digest_of_each_schema_is_that_of_its_migrations() -> None:
    made = {number: digest(parts_as_made(number)) for number, _ in migrations()}
    assert made == DIGESTS


@pytest.mark.parametrize("version", range(1, RELEASED_SCHEMA + 1))
def test_the_digest_of_a_released_schema_is_that_of_its_release(
    version: int, tmp_path: Path
) -> None:
    released = tmp_path / "released"
    packed = RELEASED / f"schema_{version}.stillroom.gz"
    released.write_bytes(gzip.decompress(packed.read_bytes()))
    with closing(sqlite3.connect(released)) as db:
        assert digest(parts(db.execute(READ_SCHEMA))) == DIGESTS[version]
