"""A log or journal beside a shelf is applied only where it continues that file."""

import gzip
import os
import shutil
import sqlite3
import struct
import subprocess
import sys
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from random import Random

import pytest

from stillroom.clock import SetClock
from stillroom.errors import Refused, StoreError
from stillroom.keeping.cupboard.cupboard import add_shelf, shelf_rows
from stillroom.keeping.drafts import ShelfDraft
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import remember
from stillroom.keeping.shelf_file.backups import backup_to
from stillroom.keeping.shelf_file.check import check
from stillroom.keeping.shelf_file.restoring import restore_from
from stillroom.keeping.undo import redo, undo, undoable
from stillroom.records.base import database
from stillroom.records.file_state import OWN_SETTINGS, FileState, next_state, read_state
from stillroom.records.logs import refuse_strange_log
from stillroom.records.schema import newest_schema
from stillroom.records.shelf_file import copy_shelf, refuse_what_is_not_a_shelf
from stillroom.records.store import Store

from ..examples import examples

HELD_BACK = "-wal", "-journal"


def planks(keeper: Keeper) -> list[str]:
    return [row.name for row in shelf_rows(keeper)]


def put_up(keeper: Keeper, *names: str) -> None:
    """Acts of different sizes, some of which make the file grow."""
    for name in names:
        add_shelf(keeper, ShelfDraft(name, "x" * (len(name) * 401 % 6000)))


def state(keeper: Keeper) -> FileState:
    found = read_state(keeper.store.db.execute_sql)
    assert found is not None
    return found


RELEASED_SHELF = Path(__file__).parent / "released" / "schema_1.stillroom.gz"


def leave(shelf: Path, target: Path) -> Path:
    """The files as a program leaves them that is killed now."""
    for suffix in ("", *HELD_BACK):
        source = Path(f"{shelf}{suffix}")
        if source.exists():
            shutil.copyfile(source, f"{target}{suffix}")
    return target


def look(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file()}


def names_in(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def opened_planks(path: Path, clock: SetClock) -> list[str]:
    keeper = Keeper(Store.open(path), clock)
    found = planks(keeper)
    assert check(keeper) == []
    keeper.store.close()
    return found


def by_sqlite(path: Path, folder: Path) -> list[str]:
    """What SQLite itself makes of the files, in a copy."""
    copy = leave(path, folder / "by-sqlite")
    with closing(sqlite3.connect(copy)) as db:
        return [name for (name,) in db.execute("SELECT name FROM shelf ORDER BY position")]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    made = tmp_path / "folder"
    made.mkdir()
    return made


@pytest.fixture
def killed(keeper: Keeper, folder: Path) -> Path:
    """A shelf with one plank in the file and two more in the log."""
    put_up(keeper, "Larder")
    assert keeper.store.fold_log()
    put_up(keeper, "Window", "Cellar")
    return leave(keeper.store.path, folder / "shelf")


def frames(log: bytes) -> list[tuple[int, int, bytes]]:
    """Page number, pages of the file after an act (or 0), and content of each frame of a log.

    By https://www.sqlite.org/fileformat2.html#wal_file_format, apart from the program's reading.
    """
    (size,) = struct.unpack(">I", log[8:12])
    found = []
    for at in range(32, len(log), 24 + size):
        page, after = struct.unpack(">II", log[at : at + 8])
        if log[at + 8 : at + 16] != log[16:24]:
            break
        found.append((page, after, log[at + 24 : at + 24 + size]))
    return found


def test_a_log_of_its_own_is_applied(killed: Path, clock: SetClock) -> None:
    assert opened_planks(killed, clock) == ["Larder", "Window", "Cellar"]
    assert not Path(f"{killed}-wal").exists()


def test_a_log_folded_in_halfway_is_applied(keeper: Keeper, folder: Path, clock: SetClock) -> None:
    """Any pages of the log may have reached the file, as they were after any act, some torn."""
    put_up(keeper, "Larder")
    assert keeper.store.fold_log()
    names = [f"Plank {number}" * (number % 4 + 1) for number in range(12)]
    put_up(keeper, *names)
    source = leave(keeper.store.path, folder / "source")
    main, log = source.read_bytes(), Path(f"{source}-wal").read_bytes()
    ends = [n for n, (_, after, _) in enumerate(frames(log)) if after]
    assert len(ends) >= len(names)  # the last frame of an act may be there more than once
    for seed in range(examples(60)):
        random = Random(seed)
        shelf = folder / f"shelf-{seed}"
        file = bytearray(main)
        last = {page: data for page, _, data in frames(log)[: random.choice(ends) + 1]}
        for page, data in last.items():
            if random.random() < 0.5:
                if random.random() < 0.3:  # the sector in work at a power cut
                    at = random.randrange(0, len(data), 512)
                    data = data[:at] + random.randbytes(512) + data[at + 512 :]
                end = page * len(data)
                file.extend(bytes(max(0, end - len(file))))
                file[end - len(data) : end] = data
        shelf.write_bytes(file)
        Path(f"{shelf}-wal").write_bytes(log)
        assert opened_planks(shelf, clock) == ["Larder", *names], seed


def test_settings_folded_in_halfway_do_not_make_a_log_foreign(
    keeper: Keeper, folder: Path, clock: SetClock
) -> None:
    """Where they fill several pages, the page with the mark may be the one that was not written."""
    for number in range(12):
        remember(keeper, f"long-{number}", "x" * 1500)
    assert keeper.store.fold_log()
    for number in range(4):
        remember(keeper, f"more-{number}", "y" * 1900)
        remember(keeper, f"long-{number}", "z" * 10)
    put_up(keeper, "Larder")
    source = leave(keeper.store.path, folder / "source")
    main, log = source.read_bytes(), Path(f"{source}-wal").read_bytes()
    last = {page: data for page, _, data in frames(log)}
    random = Random(5)
    for number in range(examples(40)):
        file = bytearray(main)
        for page, data in last.items():
            if random.random() < 0.5:
                end = page * len(data)
                file.extend(bytes(max(0, end - len(file))))
                file[end - len(data) : end] = data
        shelf = folder / f"shelf-{number}"
        shelf.write_bytes(file)
        Path(f"{shelf}-wal").write_bytes(log)
        assert opened_planks(shelf, clock) == ["Larder"], number


def test_a_garbled_first_page_is_read_from_the_log(killed: Path, clock: SetClock) -> None:
    log = Path(f"{killed}-wal").read_bytes()
    assert 1 in [page for page, _, _ in frames(log)]
    with killed.open("r+b") as file:
        file.write(Random(1).randbytes(512))
    assert opened_planks(killed, clock) == ["Larder", "Window", "Cellar"]
    assert names_in(killed.parent) == ["shelf"]  # folded in, not set aside as another file's
    assert opened_planks(killed, clock) == ["Larder", "Window", "Cellar"]


@pytest.mark.parametrize("is_read", [False, True])
def test_a_shelf_with_a_garbled_first_page_can_be_used_and_closed(
    killed: Path, clock: SetClock, is_read: bool
) -> None:
    """Also where another program reads, so that its log can't be folded in."""
    with killed.open("r+b") as file:
        file.write(Random(1).randbytes(512))
    keeper = Keeper(Store.open(killed), clock)
    put_up(keeper, "Door")
    with closing(sqlite3.connect(killed, isolation_level=None)) as reader:
        if is_read:
            reader.execute("BEGIN")
            reader.execute("SELECT count(*) FROM shelf").fetchone()
        keeper.store.close()
    assert opened_planks(killed, clock) == ["Larder", "Window", "Cellar", "Door"]
    assert names_in(killed.parent) == ["shelf"]


def test_a_garbled_first_page_that_the_log_lacks_is_refused(killed: Path, folder: Path) -> None:
    Path(f"{killed}-wal").unlink()
    with killed.open("r+b") as file:
        file.write(Random(1).randbytes(512))
    before = look(folder)
    with pytest.raises(StoreError, match="is not a shelf file"):
        Store.open(killed)
    assert look(folder) == before


def test_a_log_cut_short_anywhere_holds_its_complete_acts(
    killed: Path, folder: Path, tmp_path: Path, clock: SetClock
) -> None:
    main, log = killed.read_bytes(), Path(f"{killed}-wal").read_bytes()
    random = Random(3)
    seen = set()
    places = random.sample(range(len(log)), examples(60))
    for at in sorted({0, 1, 31, 32, 56, len(log) - 1, *places}):
        shelf = folder / f"shelf-{at}"
        shelf.write_bytes(main)
        Path(f"{shelf}-wal").write_bytes(log[:at])
        expected = by_sqlite(shelf, tmp_path)
        assert opened_planks(shelf, clock) == expected, at
        seen.add(len(expected))
    assert seen >= {1, 2}


def test_a_torn_first_act_does_not_make_a_log_foreign(killed: Path, clock: SetClock) -> None:
    """SQLite passes over a log whose first act fails its checksum, whatever it holds."""
    log = Path(f"{killed}-wal")
    data = bytearray(log.read_bytes())
    data[32 + 24 + 100] ^= 1
    log.write_bytes(bytes(data).replace(data_of(killed), b"0" * 16))
    assert opened_planks(killed, clock) == ["Larder"]


def data_of(path: Path) -> bytes:
    """The mark of a main file alone."""
    with closing(sqlite3.connect(f"file:{path}?immutable=1", uri=True)) as db:
        found = read_state(db.execute)
    assert found is not None
    return found.mark.encode()


def unmarked(path: Path) -> None:
    """Make a shelf one of the released version, which has no marks."""
    with closing(sqlite3.connect(path)) as db:
        db.execute(f"DELETE FROM setting WHERE name IN {OWN_SETTINGS}")
        db.commit()


def released_log(path: Path, target: Path) -> Path:
    """What the released version leaves when it is killed: a log without marks."""
    with closing(sqlite3.connect(path)) as db:
        db.execute("INSERT INTO shelf (name, position) VALUES ('Attic', 9)")
        db.commit()
        return leave(path, target)


@pytest.mark.parametrize("is_marked", [True, False])
def test_a_log_of_the_released_version_is_applied_to_its_own_shelf(
    keeper: Keeper, folder: Path, clock: SetClock, is_marked: bool
) -> None:
    put_up(keeper, "Larder")
    keeper.store.close()
    if not is_marked:
        unmarked(keeper.store.path)
    shelf = released_log(keeper.store.path, folder / "shelf")
    again = Keeper(Store.open(shelf), clock)
    assert planks(again) == ["Larder", "Attic"]
    put_up(again, "Window")
    assert undo(again) == "Added the shelf Window"
    assert (state(again).number > 2) is is_marked
    again.store.close()


def test_the_first_marks_of_a_released_shelf_may_be_only_in_its_log(
    keeper: Keeper, folder: Path, clock: SetClock
) -> None:
    put_up(keeper, "Larder")
    keeper.store.close()
    unmarked(keeper.store.path)
    again = Keeper(Store.open(keeper.store.path), clock)
    put_up(again, "Window", "Cellar")
    shelf = leave(again.store.path, folder / "shelf")
    again.store.close()
    assert opened_planks(shelf, clock) == ["Larder", "Window", "Cellar"]


CONTRADICTIONS = {
    "spirit": "UPDATE pour SET volume_ml = 100000",
    "jar": "UPDATE jar SET state = 'steeping', ended_on = NULL WHERE state = 'strained'",
    "bottle": "UPDATE movement SET volume_ml = -200 WHERE kind = 'draw'",
    "tincture": "UPDATE tincture SET lost_ml = volume_ml",
    "blend": "DELETE FROM blend_part",
}
"""What no act leaves behind, though SQLite finds nothing wrong with it."""


def released_shelf(folder: Path, in_file: str = "", *in_log: str) -> Path:
    """The released version's shelf, after changes to the file and others only in its log."""
    path = folder / "shelf.stillroom"
    path.write_bytes(gzip.decompress(RELEASED_SHELF.read_bytes()))
    with closing(sqlite3.connect(path, isolation_level=None)) as db:
        db.execute("UPDATE undo_state SET action_id = (SELECT min(id) FROM action), rewinding = 1")
        if in_file:
            assert db.execute(in_file).rowcount > 0
        db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        for statement in in_log:
            assert db.execute(statement).rowcount > 0
        db.execute("UPDATE undo_state SET action_id = NULL, rewinding = 0")
        (folder / "left").mkdir()
        return leave(path, folder / "left" / "shelf.stillroom")


@pytest.mark.parametrize("kind", CONTRADICTIONS)
def test_a_log_of_the_released_version_that_breaks_the_ledger_is_refused(
    tmp_path: Path, kind: str
) -> None:
    assert_refused(released_shelf(tmp_path, "", CONTRADICTIONS[kind]))


@pytest.mark.parametrize("kind", [kind for kind in CONTRADICTIONS if kind != "spirit"])
def test_a_log_that_breaks_the_ledger_is_refused_even_if_it_mends_another_part(
    tmp_path: Path, kind: str
) -> None:
    mended = "UPDATE pour SET volume_ml = 1"
    assert_refused(released_shelf(tmp_path, CONTRADICTIONS["spirit"], mended, CONTRADICTIONS[kind]))


def assert_refused(shelf: Path) -> None:
    stored = shelf.read_bytes()
    with pytest.raises(StoreError, match="doesn't belong to that file"):
        Store.open(shelf)
    assert shelf.read_bytes() == stored


@pytest.mark.parametrize("contradiction", CONTRADICTIONS.values(), ids=CONTRADICTIONS.keys())
def test_a_log_is_not_blamed_for_an_older_fault(tmp_path: Path, contradiction: str) -> None:
    Store.open(released_shelf(tmp_path, in_file=contradiction)).close()


def a_backup(keeper: Keeper, folder: Path) -> Path:
    return backup_to(keeper, folder / "backup")


def an_older_copy(keeper: Keeper, folder: Path) -> Path:
    """A plain copy, which has the name and the marks of the open shelf itself."""
    keeper.store.fold_log()
    copy = Path(shutil.copyfile(keeper.store.path, folder / "copy"))
    put_up(keeper, "Later")
    keeper.store.fold_log()
    return copy


def a_released_backup(keeper: Keeper, folder: Path) -> Path:
    copy = backup_to(keeper, folder / "backup")
    unmarked(copy)
    return copy


def another_shelf(keeper: Keeper, folder: Path) -> Path:
    Store.open(folder / "another", create=True).close()
    database.initialize(keeper.store.db)  # the last shelf opened answers
    return folder / "another"


STRANGERS = [a_backup, an_older_copy, a_released_backup, another_shelf]


@pytest.mark.parametrize("stranger", STRANGERS)
@pytest.mark.parametrize("put", [shutil.copyfile, shutil.move])
def test_a_log_beside_a_file_put_there_from_elsewhere_is_not_applied(
    keeper: Keeper,
    folder: Path,
    tmp_path: Path,
    clock: SetClock,
    stranger: Callable[[Keeper, Path], Path],
    put: Callable[[Path, Path], object],
) -> None:
    put_up(keeper, "Larder")
    other = stranger(keeper, tmp_path)
    content = other.read_bytes()
    put_up(keeper, "Window", "Cellar")
    shelf = leave(keeper.store.path, folder / "shelf")
    put(other, shelf)
    before = look(folder)
    for look_at in (Store.open, lambda path: backup_to_of(path, tmp_path)):
        with pytest.raises(StoreError, match=r"shelf-wal, beside .* doesn't belong") as refusal:
            look_at(shelf)
        assert "\n" not in str(refusal.value)
        assert look(folder) == before
    # What the sentence proposes works.
    Path(f"{shelf}-wal").rename(folder / "aside")
    assert shelf.read_bytes() == content
    opened_planks(shelf, clock)


def backup_to_of(path: Path, folder: Path) -> None:
    copy_shelf(path, folder / "of-a-stranger")


def test_a_log_belongs_to_its_file_between_its_first_act_and_its_last(
    keeper: Keeper, folder: Path
) -> None:
    """Every state of the main file beside every log of its life, judged by counting acts."""
    acts = 0
    mains: list[tuple[int, bytes]] = []
    logs: list[tuple[int, int, bytes]] = []
    path, log = keeper.store.path, Path(f"{keeper.store.path}-wal")
    random = Random(8)
    for _ in range(6):
        keeper.store.fold_log()
        mains.append((acts, path.read_bytes()))
        first = acts
        for _ in range(random.randint(1, 4)):
            put_up(keeper, f"Plank {acts}")
            acts += 1
            logs.append((first, acts, log.read_bytes()))
    judged = {True: 0, False: 0}
    for at, main in mains:
        for first, last, data in logs:
            shelf = folder / "shelf"
            shelf.write_bytes(main)
            Path(f"{shelf}-wal").write_bytes(data)
            try:
                refuse_strange_log(shelf)
            except StoreError:
                belongs = False
            else:
                belongs = True
            assert belongs == (first <= at <= last), (at, first, last)
            judged[belongs] += 1
    assert judged[True] > 10
    assert judged[False] > 30


WORK = """
import sys
from datetime import UTC, datetime
from pathlib import Path
from stillroom.clock import SetClock
from stillroom.keeping.cupboard.cupboard import add_shelf
from stillroom.keeping.drafts import ShelfDraft
from stillroom.keeping.keeper import Keeper
from stillroom.records.shelf_file import copy_shelf, refuse_what_is_not_a_shelf
from stillroom.records.store import Store
keeper = Keeper(Store.open(Path(sys.argv[1])), SetClock(datetime(2026, 11, 26, tzinfo=UTC)))
for number in range(60):
    add_shelf(keeper, ShelfDraft(f"Plank {number}"))
    if number % 7 == 0:
        keeper.store.fold_log()
print("done")
"""


def test_a_log_that_another_program_is_writing_is_read(keeper: Keeper, clock: SetClock) -> None:
    keeper.store.close()
    with subprocess.Popen(
        [sys.executable, "-c", WORK, str(keeper.store.path)], stdout=subprocess.PIPE, text=True
    ) as other:
        looks = 0
        while other.poll() is None:
            refuse_strange_log(keeper.store.path)
            looks += 1
        assert other.stdout is not None
        assert other.stdout.read() == "done\n"
    assert looks > 1
    assert len(opened_planks(keeper.store.path, clock)) == 60


def test_restore_works_where_the_file_is_gone_and_its_log_is_left(
    keeper: Keeper, killed: Path, folder: Path, tmp_path: Path, clock: SetClock
) -> None:
    copy = backup_to(keeper, tmp_path / "copy")
    log = Path(f"{killed}-wal").read_bytes()
    killed.rename(folder / "broken")
    kept = restore_from(copy, killed)
    assert kept is not None
    assert kept.read_bytes() == log
    assert opened_planks(killed, clock) == ["Larder", "Window", "Cellar"]


def test_a_new_shelf_beside_the_log_of_a_deleted_one_is_empty(
    killed: Path, folder: Path, clock: SetClock
) -> None:
    log = Path(f"{killed}-wal").read_bytes()
    killed.unlink()
    store = Store.open(killed, create=True)
    assert planks(Keeper(store, clock)) == []
    assert check(Keeper(store, clock)) == []
    store.close()
    assert (folder / "shelf.before-new-wal").read_bytes() == log


def test_the_folder_is_synced_before_the_new_file_gets_its_name(
    keeper: Keeper, killed: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """On a disk that keeps no order, the old log could come back beside the new shelf."""
    copy = backup_to(keeper, tmp_path / "copy")
    killed.write_bytes(b"\xff" * 9000)
    order: list[str] = []
    real_replace, real_sync = Path.replace, os.fsync

    def replaced(self: Path, target: Path | str) -> Path:
        order.append(f"{target}")
        return real_replace(self, target)

    def synced(handle: int) -> None:
        if Path(f"/proc/self/fd/{handle}").readlink() == killed.parent:
            order.append("synced")
        real_sync(handle)

    monkeypatch.setattr(Path, "replace", replaced)
    monkeypatch.setattr(os, "fsync", synced)
    kept = restore_from(copy, killed)
    log, new = order.index(f"{kept}-wal"), order.index(f"{killed}")
    assert "synced" in order[log:new]
    assert "synced" in order[new:]


def cut_short(keeper: Keeper, target: Path, *, changes: int = 40) -> Path:
    """The files as a program leaves them that is killed while it writes in rollback mode."""
    put_up(keeper, *(f"Plank {number}" for number in range(changes)))
    keeper.store.close()
    with closing(sqlite3.connect(keeper.store.path, isolation_level=None)) as db:
        db.execute("PRAGMA journal_mode = delete")
        db.execute("PRAGMA cache_size = 1")
        db.execute("BEGIN IMMEDIATE")
        next_state(db.execute, read_state(db.execute))  # as every act of the program begins
        db.execute("UPDATE shelf SET note = 'half done' || hex(randomblob(800))")
        db.execute("CREATE TABLE half_done (x)")
        db.execute("INSERT INTO half_done SELECT randomblob(4000) FROM shelf")
        leave(keeper.store.path, target)
        db.execute("ROLLBACK")
    assert Path(f"{target}-journal").stat().st_size > 4096
    assert b"half done" in target.read_bytes()
    return target


@pytest.mark.parametrize("torn_at", [None, 0, 3584])
def test_an_interrupted_change_is_rolled_back_before_the_shelf_is_judged(
    keeper: Keeper, folder: Path, clock: SetClock, torn_at: int | None
) -> None:
    shelf = cut_short(keeper, folder / "shelf")
    if torn_at is not None:
        with shelf.open("r+b") as file:
            file.seek(torn_at)
            file.write(Random(2).randbytes(512))
    assert opened_planks(shelf, clock) == [f"Plank {number}" for number in range(40)]
    assert b"half done" not in shelf.read_bytes()
    assert not Path(f"{shelf}-journal").exists()


def test_restore_works_over_an_interrupted_change(
    keeper: Keeper, folder: Path, tmp_path: Path, clock: SetClock
) -> None:
    put_up(keeper, "Larder")
    copy = backup_to(keeper, tmp_path / "copy")
    shelf = cut_short(keeper, folder / "shelf", changes=30)
    with shelf.open("r+b") as file:
        file.seek(3584)
        file.write(Random(2).randbytes(512))
    kept = restore_from(copy, shelf)
    assert kept is not None
    assert opened_planks(shelf, clock) == ["Larder"]
    assert len(opened_planks(kept, clock)) == 31


@pytest.mark.parametrize(
    ("is_gone", "is_rewritten"), [(True, False), (False, False), (False, True)]
)
def test_the_hot_journal_of_another_file_is_not_applied(
    keeper: Keeper,
    folder: Path,
    tmp_path: Path,
    clock: SetClock,
    is_gone: bool,
    is_rewritten: bool,
) -> None:
    """Nor in a shelf rewritten whole, as after forgetting a name: there the pages agree."""
    if is_rewritten:
        keeper.store.db.execute_sql("VACUUM")
    put_up(keeper, "Larder")
    copy = backup_to(keeper, tmp_path / "copy")
    if is_rewritten:
        with closing(sqlite3.connect(copy)) as db:
            db.execute("VACUUM")
    shelf = cut_short(keeper, folder / "shelf")
    journal = Path(f"{shelf}-journal").read_bytes()
    if is_gone:
        shelf.unlink()
        assert restore_from(copy, shelf) is not None
    else:
        shutil.copyfile(copy, shelf)
        before = look(folder)
        with pytest.raises(StoreError, match=r"shelf-journal, beside .* doesn't belong"):
            Store.open(shelf)
        assert look(folder) == before
        restore_from(copy, shelf)
    assert opened_planks(shelf, clock) == ["Larder"]
    assert journal in look(folder).values()


def test_restore_leaves_no_hot_journal_if_it_is_interrupted(keeper: Keeper, tmp_path: Path) -> None:
    """It makes the old shelf one file without writing to its first page."""
    copy = backup_to(keeper, tmp_path / "copy")
    put_up(keeper, "Larder")
    keeper.store.close()
    before = keeper.store.path.read_bytes()
    kept = restore_from(copy, keeper.store.path)
    assert kept is not None
    assert kept.read_bytes() == before


def test_a_copy_beside_the_log_of_an_earlier_file_can_be_opened(
    keeper: Keeper, killed: Path, folder: Path, clock: SetClock
) -> None:
    log = Path(f"{killed}-wal").read_bytes()
    killed.unlink()
    copy_shelf(keeper.store.path, killed)
    assert opened_planks(killed, clock) == ["Larder", "Window", "Cellar"]
    assert (folder / "shelf.left-over-wal").read_bytes() == log


@pytest.mark.parametrize("is_at_rest", [True, False])
@pytest.mark.parametrize("stranger", STRANGERS)
def test_a_file_written_over_while_it_is_open_is_noticed_and_not_changed(
    keeper: Keeper,
    tmp_path: Path,
    clock: SetClock,
    stranger: Callable[[Keeper, Path], Path],
    is_at_rest: bool,
) -> None:
    put_up(keeper, "Larder")
    other = stranger(keeper, tmp_path)
    put_up(keeper, "Window", "Cellar")
    if is_at_rest:
        assert keeper.store.fold_log()
    shelf = keeper.store.path
    shutil.copyfile(other, shelf)
    for act in (lambda: put_up(keeper, "Attic"), lambda: undo(keeper), lambda: redo(keeper)):
        with pytest.raises(StoreError, match="Another file was written over"):
            act()
    assert keeper.store.fold_log() is is_at_rest  # there is no log then
    keeper.store.close()
    assert shelf.read_bytes() == other.read_bytes()
    assert opened_planks(shelf, clock) == opened_planks(other, clock)
    kept_apart = Path(f"{shelf}.left-over-wal")
    assert kept_apart.exists() is not is_at_rest
    assert is_at_rest or kept_apart.stat().st_mode & 0o777 == 0o600


def test_acts_of_other_programs_do_not_make_a_log_foreign(keeper: Keeper, clock: SetClock) -> None:
    """Whether or not they have folded in the log, over any order of acts, folds and restarts."""
    random = Random(11)
    keepers = [keeper, Keeper(Store.open(keeper.store.path), clock)]
    for number in range(80):
        one = random.choice(keepers)
        if random.random() < 0.25:
            one.store.fold_log()
        elif random.random() < 0.1 and one is keepers[1]:
            one.store.close()
            keepers[1] = Keeper(Store.open(keeper.store.path), clock)
        else:
            with one.act("Added the shelf a plank"):
                one.store.db.execute_sql(
                    "INSERT INTO shelf (name, position) VALUES (?, ?)", (f"{number}", number + 1)
                )
    assert check(keeper) == []
    keepers[1].store.close()


def test_every_act_raises_the_act_number_and_none_lowers_it(keeper: Keeper) -> None:
    seen = [state(keeper)]

    def after(do: Callable[[], object]) -> None:
        do()
        seen.append(state(keeper))

    after(lambda: put_up(keeper, "Larder"))
    after(lambda: put_up(keeper, "Window"))
    after(lambda: undo(keeper))
    after(lambda: undo(keeper))
    after(lambda: redo(keeper))
    after(lambda: remember(keeper, "last_sheet", "a4"))
    assert [each.number - seen[0].number for each in seen] == list(range(len(seen)))
    assert [each.before for each in seen[1:]] == [each.mark for each in seen[:-1]]
    assert len({each.mark for each in seen}) == len(seen)
    assert len({each.identity for each in seen}) == 1
    with pytest.raises(Refused):
        put_up(keeper, "Larder")  # there is one
    assert state(keeper) == seen[-1]


def test_an_act_that_changes_nothing_leaves_nothing_to_undo(keeper: Keeper) -> None:
    put_up(keeper, "Larder")
    with keeper.act("Looked on"):
        pass
    assert undoable(keeper) == "Added the shelf Larder"
    assert keeper.rows("SELECT 1 FROM undo_step WHERE sql LIKE '%file\\_%' ESCAPE '\\'") == []


def test_every_copy_has_an_identity_of_its_own(
    keeper: Keeper, tmp_path: Path, clock: SetClock
) -> None:
    put_up(keeper, "Larder")
    found = [state(keeper)]
    for name in ("one", "two"):
        copy = Keeper(Store.open(backup_to(keeper, tmp_path / name)), clock)
        found.append(state(copy))
        copy.store.close()
    restore_from(tmp_path / "one", tmp_path / "three")
    copy = Keeper(Store.open(tmp_path / "three"), clock)
    found.append(state(copy))
    copy.store.close()
    assert len({each.identity for each in found}) == len(found)
    assert len({each.mark for each in found}) == len(found)
    assert {each.number for each in found} == {found[0].number}


def test_opening_a_shelf_read_only_never_marks_it(keeper: Keeper, clock: SetClock) -> None:
    keeper.store.close()
    unmarked(keeper.store.path)
    before = keeper.store.path.read_bytes()
    opened_planks(keeper.store.path, clock)
    assert keeper.store.path.read_bytes() == before


def test_judging_a_shelf_does_not_release_the_locks_of_the_program(keeper: Keeper) -> None:
    """Or another program that ends would think it was the last, and remove the log."""
    put_up(keeper, "Larder")
    refuse_what_is_not_a_shelf(keeper.store.path, newest_schema())
    other = (
        "import sqlite3, sys; db = sqlite3.connect(sys.argv[1]); db.execute('SELECT 1 FROM jar')"
    )
    subprocess.run([sys.executable, "-c", other, str(keeper.store.path)], check=True)
    put_up(keeper, "Window")
    with closing(sqlite3.connect(keeper.store.path)) as db:
        assert db.execute("SELECT count(*) FROM shelf").fetchone() == (2,)
