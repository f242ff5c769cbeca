"""Undo steps that somebody else wrote are refused in one sentence, and nothing changes."""

import sqlite3
from contextlib import closing
from pathlib import Path
from shutil import copyfile

import pytest

from stillroom.clock import SetClock
from stillroom.errors import Refused
from stillroom.keeping.cupboard.cupboard import add_shelf
from stillroom.keeping.drafts import ShelfDraft
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.undo import redo, undo
from stillroom.records.store import Store
from stillroom.screens.app import StillroomApp

from ..conftest import NOW, keeper_of_copy
from ..screens.driving import flat, press

ENDLESS = "(WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n) SELECT max(i) FROM n)"
STEPS = [
    "UPDATE shelf SET note='x' WHERE id=1; DELETE FROM event",
    "UPDATE shelf SET note='x' WHERE id=1\0",
    "UPDATE shelf SET note=? WHERE id=1",
    "UPDATE shelf SET note=:x WHERE id=1",
    "COMMIT",
    "END",
    "ROLLBACK",
    "SAVEPOINT a",
    f"UPDATE shelf SET note={ENDLESS} WHERE id=1",
    f"WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n) {ENDLESS[1:-1]}",
    "ATTACH 'evil.db' AS evil",
    "DETACH main",
    "VACUUM INTO 'evil.db'",
    "PRAGMA query_only=1",
    "PRAGMA writable_schema=1",
    "DROP TABLE event",
    "DROP TRIGGER movement_stays",
    "CREATE TRIGGER steal AFTER INSERT ON event BEGIN DELETE FROM event; END",
    "CREATE TEMP TRIGGER steal AFTER INSERT ON event BEGIN DELETE FROM event; END",
    "UPDATE sqlite_schema SET sql='' WHERE name='jar'",
    "UPDATE action SET title='mine' WHERE id=1",
    "DELETE FROM undo_step WHERE id=1",
    "UPDATE undo_state SET rewinding=0 WHERE id=1",
    "INSERT OR REPLACE INTO shelf (id,name) VALUES (1,'x')",
    "REPLACE INTO shelf (id,name) VALUES (1,'x')",
    "UPDATE OR ROLLBACK shelf SET name='Larder' WHERE id=2",
    "UPDATE setting SET value='x' WHERE name='file_identity'",
    "DELETE FROM setting WHERE name='file_state'",
    "INSERT INTO setting (name,value) VALUES ('x',load_extension('evil.so'))",
    "INSERT INTO shelf (name) VALUES (hex(randomblob(900)))",
    "UPDATE shelf SET note=zeroblob(900000000) WHERE id=1",
    "UPDATE shelf SET note='x'",
    "SELECT 1",
    "",
    "-- nothing",
    "nonsense",
]


@pytest.fixture(scope="module")
def shelf_once(empty_shelf: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The file that `shelf` copies."""
    path = tmp_path_factory.mktemp("planks") / "shelf.stillroom"
    with keeper_of_copy(empty_shelf, path, SetClock(NOW)) as keeper:
        add_shelf(keeper, ShelfDraft("Larder"))
        add_shelf(keeper, ShelfDraft("Cellar"))
    return path


@pytest.fixture
def shelf(shelf_once: Path, shelf_file: Path) -> Path:
    """A shelf with two planks, closed."""
    return copyfile(shelf_once, shelf_file)


def content(shelf: Path) -> list[str]:
    with closing(sqlite3.connect(shelf)) as db:
        return list(db.iterdump())


def plant(shelf: Path, step: str) -> None:
    """Let a step of the last action be run before the real ones."""
    with closing(sqlite3.connect(shelf)) as db, db:
        db.execute(
            "INSERT INTO undo_step (action_id, sql) SELECT max(id), CAST(? AS TEXT) FROM action",
            (step,),
        )


@pytest.mark.parametrize("step", STEPS, ids=range(len(STEPS)))
def test_an_undo_step_that_is_not_a_change_of_a_row_is_refused_and_nothing_changes(
    shelf: Path, clock: SetClock, step: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    (tmp_path / "here").mkdir()
    monkeypatch.chdir(tmp_path / "here")
    plant(shelf, step)
    keeper = Keeper(Store.open(shelf), clock)
    before = content(shelf)
    with pytest.raises(Refused, match=r"Nothing was changed|can't be undone|already in use"):
        undo(keeper)
    assert content(shelf) == before
    assert list(Path().iterdir()) == []
    in_an_action = keeper.rows("SELECT action_id, rewinding FROM undo_state")  # as `check` asks
    assert in_an_action == [(None, 0)]
    add_shelf(keeper, ShelfDraft("Attic"))  # the shelf can be worked at, and undo goes on from here
    assert undo(keeper) == "Added the shelf Attic"
    assert redo(keeper) == "Added the shelf Attic"
    keeper.store.close()


def test_a_trigger_planted_while_the_shelf_is_open_cannot_block_undo_for_ever(
    shelf: Path, clock: SetClock
) -> None:
    keeper = Keeper(Store.open(shelf), clock)
    with closing(sqlite3.connect(shelf, isolation_level=None)) as db:
        db.execute(f"CREATE TRIGGER hold AFTER DELETE ON shelf BEGIN SELECT {ENDLESS}; END")
    before = content(shelf)
    with pytest.raises(Refused, match="Nothing was changed"):
        undo(keeper)
    assert content(shelf) == before
    keeper.store.close()


def test_a_long_calculation_in_an_undo_step_is_stopped(shelf: Path, clock: SetClock) -> None:
    """No recursion, so the authorizer lets it pass in a trigger; it would take hours."""
    keeper = Keeper(Store.open(shelf), clock)
    many = ", ".join(f"sqlite_schema s{number}" for number in range(6))
    with closing(sqlite3.connect(shelf, isolation_level=None)) as db:
        db.execute(
            f"CREATE TRIGGER hold AFTER DELETE ON shelf BEGIN SELECT count(*) FROM {many}"
            " WHERE s1.name < s0.name; END"
        )
    before = content(shelf)
    with pytest.raises(Refused, match="Nothing was changed"):
        undo(keeper)
    assert content(shelf) == before
    keeper.store.close()


@pytest.mark.parametrize("step", [STEPS[0], "COMMIT", "ATTACH 'evil.db' AS evil"])
async def test_the_screen_reports_a_planted_step_and_stays_open(
    shelf: Path, clock: SetClock, step: str
) -> None:
    plant(shelf, step)
    keeper = Keeper(Store.open(shelf), clock)
    before = content(shelf)
    app = StillroomApp(keeper)
    async with app.run_test(notifications=True) as pilot:
        await press(pilot, "4", "u")
        assert "Nothing was changed" in flat(app)
        assert app.is_running
    assert content(shelf) == before
    keeper.store.close()
