"""The open store: its connection, its schema, its migrations, its copies."""

import sqlite3
import stat
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from pathlib import Path

import pytest
from peewee import BooleanField, ForeignKeyField

from stillroom.clock import SetClock
from stillroom.errors import Refused, StoreError
from stillroom.keeping.cupboard.cupboard import add_shelf, shelf_rows
from stillroom.keeping.drafts import ShelfDraft
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.undo import undo
from stillroom.records import store as store_file
from stillroom.records.base import Record
from stillroom.records.file_state import APPLICATION_ID, LISTS_OF_WORDS
from stillroom.records.schema import migrations, newest_schema
from stillroom.records.store import Store
from stillroom.records.tables import UNDOABLE

PRAGMAS = {"journal_mode": "wal", "synchronous": 2, "foreign_keys": 1, "busy_timeout": 250}

SECOND = """
CREATE TABLE note (id INTEGER PRIMARY KEY, text TEXT NOT NULL) STRICT;
ALTER TABLE herb ADD COLUMN taste TEXT NOT NULL DEFAULT '';
"""


def names_in(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()}


def mode_of(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


def pragmas_of(store: Store) -> dict[str, object]:
    return {name: store.db.pragma(name) for name in PRAGMAS}


def test_every_connection_has_the_safe_settings(keeper: Keeper) -> None:
    """Also the second of a thread, and the one made again after closing."""
    assert pragmas_of(keeper.store) == PRAGMAS

    def in_a_thread() -> dict[str, object]:
        with keeper.store.db.connection_context():
            return pragmas_of(keeper.store)

    with ThreadPoolExecutor(1) as pool:
        assert pool.submit(in_a_thread).result() == PRAGMAS
    keeper.store.close()
    keeper.store.db.connect()
    assert pragmas_of(keeper.store) == PRAGMAS


def test_the_file_has_the_schema_version_and_the_application_id(
    keeper: Keeper, shelf_file: Path
) -> None:
    assert keeper.store.schema_version == newest_schema() == len(migrations())
    head = shelf_file.read_bytes()[:100]
    assert int.from_bytes(head[60:64], "big") == newest_schema()
    assert int.from_bytes(head[68:72], "big") == APPLICATION_ID


def test_every_table_is_strict(keeper: Keeper) -> None:
    tables = keeper.rows("SELECT name, strict FROM pragma_table_list WHERE schema = 'main'")
    assert {name for name, strict in tables if not strict} == {
        "sqlite_schema",
        "flow",
        "forgetting",
        "holding",
        "in_store",
        "liquid_left",
        "spirit_left",
        "unbottled",
        "undone",
        "standing",
        "waiting",
    }


def test_changes_of_every_record_can_be_undone(keeper: Keeper) -> None:
    tables = {r._meta.table_name for r in UNDOABLE}
    kept = keeper.rows("SELECT name FROM sqlite_schema WHERE name LIKE 'undo!_%!_%' ESCAPE '!'")
    triggers = {name for (name,) in kept}
    assert {f"undo_{t}_{verb}" for t in tables for verb in ("insert", "update", "delete")} <= (
        triggers
    )
    all_tables = {t for t in keeper.store.db.get_tables() if not t.startswith("sqlite_")}
    grows = {"journal", "journal_change", "event", "corrected", "print_log"}
    follows = {"in_stock", "to_bottle"}  # by triggers, from what is undone
    undo = {"action", "undo_step", "undo_state"}
    assert all_tables - tables == {*undo, *LISTS_OF_WORDS} | grows | follows


@pytest.mark.parametrize("model", Record.__subclasses__(), ids=lambda model: model.__name__)
def test_the_model_and_the_schema_agree(keeper: Keeper, model: type[Record]) -> None:
    """Column by column: name, type, whether it may be null, and where it points."""
    types = {"AUTO": "INTEGER", "INT": "INTEGER", "FLOAT": "REAL", "TEXT": "TEXT", "DATE": "TEXT"}
    table = model._meta.table_name
    told = {}
    for field in model._meta.sorted_fields:
        if isinstance(field, ForeignKeyField | BooleanField):
            kind = "INTEGER"
        else:
            kind = types[field.field_type]
        told[field.column_name] = (kind, field.null or field.primary_key)
    found = {
        name: (kind, not not_null)
        for name, kind, not_null in keeper.rows(
            "SELECT name, type, [notnull] FROM pragma_table_info(?)", table
        )
    }
    assert told == found
    points = {
        field.column_name: field.rel_model._meta.table_name
        for field in model._meta.sorted_fields
        if isinstance(field, ForeignKeyField)
    }
    there = dict(keeper.rows("SELECT [from], [table] FROM pragma_foreign_key_list(?)", table))
    if table not in ("undo_state", "event"):  # their pointers are plain numbers to us
        # A pour's too, where they lead to tables that are declared after it.
        plain = {("pour", "movement_id"), ("pour", "source_id")}
        assert points == {
            column: parent
            for column, parent in there.items()
            if parent not in LISTS_OF_WORDS and (table, column) not in plain
        }
    unique = {f.column_name for f in model._meta.sorted_fields if f.unique}
    single = keeper.rows(
        """SELECT min(c.name) FROM pragma_index_list(?) l, pragma_index_info(l.name) c
           WHERE l.[unique] GROUP BY l.name HAVING count(*) = 1""",
        table,
    )
    assert unique == {name for (name,) in single}


def test_the_model_layer_loads_nothing_of_the_screen() -> None:
    walk = """
import importlib, pkgutil, sys
import stillroom.keeping, stillroom.records
seen = 0
for package in (stillroom.records, stillroom.keeping):
    for module in pkgutil.walk_packages(package.__path__, package.__name__ + "."):
        importlib.import_module(module.name)
        seen += 1
assert seen > 20, seen
print([name for name in ("textual", "rich") if name in sys.modules])
"""
    ran = subprocess.run([sys.executable, "-c", walk], capture_output=True, text=True, check=True)
    assert ran.stdout.strip() == "[]"


def test_the_files_of_a_shelf_are_private(tmp_path: Path, clock: SetClock) -> None:
    path = tmp_path / "new" / "folder" / "shelf"
    keeper = Keeper(Store.open(path, create=True), clock)
    add_shelf(keeper, ShelfDraft("Larder"))
    assert {name: mode_of(path.parent / name) for name in names_in(path.parent)} == {
        "shelf": 0o600,
        "shelf-wal": 0o600,
        "shelf-shm": 0o600,
    }
    assert mode_of(path.parent) == 0o700
    keeper.store.copy_to(path.with_name("copy"))
    assert mode_of(path.with_name("copy")) == 0o600
    keeper.store.close()


def test_permissions_given_to_others_are_removed(tmp_path: Path) -> None:
    path = tmp_path / "shelf"
    Store.open(path, create=True).close()
    tmp_path.chmod(0o755)
    path.chmod(0o664)
    link = tmp_path / "link"
    link.symlink_to(path)
    store = Store.open(link)
    assert mode_of(path) == mode_of(tmp_path / "shelf-wal") == 0o600
    assert mode_of(tmp_path) == 0o755
    store.close()


def test_closing_leaves_a_single_file(keeper: Keeper, shelf_file: Path) -> None:
    add_shelf(keeper, ShelfDraft("Larder"))
    with pytest.raises(Refused):
        add_shelf(keeper, ShelfDraft("larder"))
    keeper.store.close()
    assert [p.name for p in shelf_file.parent.glob("shelf*")] == ["shelf.stillroom"]
    with closing(sqlite3.connect(shelf_file)) as db:
        assert db.execute("SELECT name FROM shelf").fetchall() == [("Larder",)]


@pytest.mark.parametrize("name", ["a b.shelf", "50% ?#&.shelf", "é–カ.shelf", "x" * 200, "'\";--"])
def test_a_shelf_can_have_any_file_name(tmp_path: Path, clock: SetClock, name: str) -> None:
    keeper = Keeper(Store.open(tmp_path / name, create=True), clock)
    add_shelf(keeper, ShelfDraft("Larder"))
    keeper.store.copy_to(tmp_path / "copy")
    keeper.store.close()
    assert {name, "copy"} <= names_in(tmp_path) <= {name, "copy", "home"}


def test_a_shelf_is_found_through_a_link(keeper: Keeper, tmp_path: Path, clock: SetClock) -> None:
    add_shelf(keeper, ShelfDraft("Larder"))
    (tmp_path / "links").mkdir()
    link = tmp_path / "links" / "mine"
    link.symlink_to(keeper.store.path)
    second = Keeper(Store.open(link), clock)
    assert [row.name for row in shelf_rows(second)] == ["Larder"]
    second.store.close()
    assert names_in(link.parent) == {"mine"}


def test_an_open_shelf_is_not_harmed_by_a_failed_attempt_at_another(
    keeper: Keeper, tmp_path: Path
) -> None:
    (tmp_path / "other").write_text("not a shelf")
    with pytest.raises(StoreError):
        Store.open(tmp_path / "other")
    with pytest.raises(StoreError):
        Store.open(tmp_path / "nowhere")
    add_shelf(keeper, ShelfDraft("Larder"))
    assert [row.name for row in shelf_rows(keeper)] == ["Larder"]


def test_two_programs_may_create_the_same_shelf(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The slower one opens what the faster one made."""
    path = tmp_path / "shelf"
    real = vars(store_file)["put_in_place"]

    def overtaken(draft: Path, target: Path) -> bool:
        monkeypatch.setattr(store_file, "put_in_place", real)
        faster = Store.open(path, create=True)
        faster.db.execute_sql("INSERT INTO shelf (name, position) VALUES ('Faster', 1)")
        faster.close()
        return real(draft, target)

    monkeypatch.setattr(store_file, "put_in_place", overtaken)
    store = Store.open(path, create=True)
    assert store.db.execute_sql("SELECT name FROM shelf").fetchall() == [("Faster",)]
    store.close()
    assert names_in(tmp_path) == {"shelf"}


def test_a_shelf_is_created_where_there_are_no_hard_links(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def no_links(*_: object) -> None:
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr("os.link", no_links)
    store = Store.open(tmp_path / "shelf", create=True)
    store.close()
    assert names_in(tmp_path) == {"shelf"}
    with pytest.raises(StoreError, match="A file already exists at"):
        store.copy_to(tmp_path / "shelf")


def test_a_copy_never_replaces_a_file(keeper: Keeper, tmp_path: Path) -> None:
    taken = tmp_path / "letter.txt"
    taken.write_text("Dear Ann")
    with pytest.raises(StoreError, match="A file already exists at"):
        keeper.store.copy_to(taken)
    assert taken.read_text() == "Dear Ann"
    assert not list(tmp_path.glob(".letter*"))


def test_a_shelf_cannot_be_made_in_a_folder_that_is_a_file(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    with pytest.raises(StoreError, match="No shelf can be made at"):
        Store.open(tmp_path / "file" / "shelf", create=True)


def second_schema(monkeypatch: pytest.MonkeyPatch, script: str = SECOND) -> None:
    versions = [*migrations(), (newest_schema() + 1, script)]
    monkeypatch.setattr(store_file, "migrations", lambda: versions)


def test_an_older_shelf_is_copied_and_then_brought_up_to_date(
    keeper: Keeper, shelf_file: Path, clock: SetClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    add_shelf(keeper, ShelfDraft("Larder"))
    keeper.store.close()
    before = newest_schema()
    second_schema(monkeypatch)
    again = Keeper(Store.open(shelf_file), clock)
    assert again.store.schema_version == before + 1
    assert undo(again) == "Added the shelf Larder"
    again.store.close()

    copy = shelf_file.with_name(f"{shelf_file.name}.before-schema-{before + 1}")
    with closing(sqlite3.connect(copy)) as db:
        assert db.execute("PRAGMA user_version").fetchone() == (before,)
        assert db.execute("SELECT name FROM shelf").fetchall() == [("Larder",)]


def test_progress_is_reported_while_an_older_shelf_is_brought_up_to_date(
    keeper: Keeper, shelf_file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    keeper.store.close()
    done: list[float] = []
    Store.open(shelf_file, on_update=done.append).close()
    assert done == []  # nothing to bring up to date
    second_schema(monkeypatch)
    Store.open(shelf_file, on_update=done.append).close()
    assert (done[0], done[-1]) == (0, 1)
    assert len(done) > 2
    assert done == sorted(done)


def test_undo_triggers_follow_the_columns_of_a_new_schema(
    keeper: Keeper, monkeypatch: pytest.MonkeyPatch
) -> None:
    keeper.store.close()
    second_schema(monkeypatch)
    store = Store.open(keeper.store.path)
    again = Keeper(store, keeper.clock)
    with again.act("Tasted"):
        store.db.execute_sql("INSERT INTO herb (name, taste) VALUES ('Fennel', 'sweet')")
    with again.act("Tasted again"):
        store.db.execute_sql("UPDATE herb SET taste = 'bitter'")
    undo(again)
    assert again.rows("SELECT taste FROM herb") == [("sweet",)]
    store.close()


def test_an_open_shelf_is_not_changed_once_a_newer_program_has_updated_it(
    keeper: Keeper, monkeypatch: pytest.MonkeyPatch
) -> None:
    second_schema(monkeypatch)
    Store.open(keeper.store.path).close()
    with pytest.raises(StoreError, match="newer Stillroom has changed this shelf"):
        add_shelf(keeper, ShelfDraft("Larder"))


def test_a_migration_that_fails_leaves_the_shelf_as_it_was(
    keeper: Keeper, shelf_file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    keeper.store.close()
    before = shelf_file.read_bytes()
    with monkeypatch.context() as patch:
        second_schema(patch, f"{SECOND} CREATE TABLE herb (id INTEGER);")
        with pytest.raises(StoreError, match="can't be brought up to date"):
            Store.open(shelf_file)
    assert shelf_file.read_bytes() == before
    assert [path.name for path in shelf_file.parent.glob("*shelf*")] == [shelf_file.name]
    Store.open(shelf_file).close()


def test_a_migration_that_is_interrupted_leaves_the_shelf_as_it_was(
    keeper: Keeper, shelf_file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    keeper.store.close()
    before = shelf_file.read_bytes()

    def interrupt(done: float) -> None:
        if done:
            raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        second_schema(patch)
        with pytest.raises(KeyboardInterrupt):
            Store.open(shelf_file, on_update=interrupt)
    assert shelf_file.read_bytes() == before
    assert [path.name for path in shelf_file.parent.glob("*shelf*")] == [shelf_file.name]
    Store.open(shelf_file).close()


def test_a_migration_that_ends_inside_a_statement_raises_an_error(
    keeper: Keeper, monkeypatch: pytest.MonkeyPatch
) -> None:
    keeper.store.close()
    second_schema(monkeypatch, "CREATE TABLE note (id INTEGER)")
    with pytest.raises(ValueError, match="ends inside a statement"):
        Store.open(keeper.store.path)


def test_the_data_version_shows_only_changes_by_others(keeper: Keeper) -> None:
    seen = keeper.store.data_version
    add_shelf(keeper, ShelfDraft("Larder"))
    assert keeper.store.data_version == seen
    with closing(sqlite3.connect(keeper.store.path)) as other:
        other.execute("UPDATE shelf SET note = 'dry'")
        other.commit()
    assert keeper.store.data_version != seen


@pytest.mark.parametrize("sector", [512, 4096])
def test_an_act_survives_a_card_that_spoils_the_sector_where_the_next_begins(
    keeper: Keeper, tmp_path: Path, sector: int
) -> None:
    log = Path(f"{keeper.store.path}-wal")
    for number in range(8):
        add_shelf(keeper, ShelfDraft(f"Larder {number}"))
        copy = tmp_path / f"{number}.stillroom"
        copy.write_bytes(keeper.store.path.read_bytes())
        left = log.read_bytes()
        in_sector = len(left) % sector  # the next act is written right after these
        left = left[: len(left) - in_sector] + b"\xa5" * in_sector
        Path(f"{copy}-wal").write_bytes(left)
        with closing(sqlite3.connect(copy)) as found:
            last = found.execute("SELECT name FROM shelf ORDER BY id DESC").fetchone()
        assert last == (f"Larder {number}",)
