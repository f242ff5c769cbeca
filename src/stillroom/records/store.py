"""The shelf file opened: its connection, its schema brought up to date, its copies."""

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from peewee import DatabaseError

from stillroom.errors import StoreError
from stillroom.files import (
    draft_folder,
    free_name,
    has_room,
    identity,
    make_folder,
    mark_closed,
    mark_in_use,
    put_in_place,
    sync_folder,
)
from stillroom.records.base import database
from stillroom.records.connecting import BUSY_TIMEOUT_MS, can_write, connect
from stillroom.records.disk import ShelfDatabase
from stillroom.records.file_state import FileState, begin_state, next_state, read_state
from stillroom.records.logs import (
    has_log,
    is_continued,
    is_written_over,
    keep_log_apart,
    left_beside,
    log_of,
    set_logs_aside,
    stamp,
)
from stillroom.records.schema import migrate, migrations, newest_schema
from stillroom.records.shelf_connection import open_database
from stillroom.records.shelf_file import (
    behind_link,
    copy_shelf,
    is_there,
    keep_private,
    refuse_what_is_not_a_shelf,
    remove_with_log,
)

FULL = (
    "The disk is full: this shelf can be read, but nothing can be saved. Make room and restart "
    "Stillroom."
)
_WRITTEN_OVER = (
    "Another file was written over {} while it was open here. Nothing was saved. Restart Stillroom."
)


@dataclass
class Store:
    """An open shelf file."""

    path: Path
    db: ShelfDatabase
    read_only: bool = False
    """Whether the file or its folder can't be written: the shelf is read-only."""
    trouble: str = ""
    """Why it cannot be written, in a sentence, where that may be cured."""
    is_new: bool = False
    """Whether it was made just now."""
    _file: tuple[int, int] | None = field(init=False)
    """Which file it is, should another one take its name."""
    _found_wrong: bool = field(init=False, default=False)
    _is_wal: bool = field(init=False, default=False)
    """Whether the file is known to be in WAL mode."""
    _schema: int = field(init=False, default=0)
    """Its schema when it was opened, should a newer program change it."""
    _stamp: tuple[int, int] | None = field(init=False, default=None)
    """How the main file was when it was last found to be ours."""
    _seen: tuple[int, FileState | None, FileState] | None = field(init=False, default=None)
    """The data version at our last act, and the states before and after it."""

    def __post_init__(self) -> None:
        self._file = identity(self.path)
        mark_in_use(self.path)
        self.db.refuse_to_connect = self._refuse_moved

    @classmethod
    def open(
        cls,
        path: Path,
        *,
        create: bool = False,
        on_update: Callable[[float], None] = lambda done: None,
    ) -> "Store":
        """Open a shelf, making an empty one where `create` allows it.

        While an older one is brought up to date, `on_update` is called with the share done, from 0
        to 1.

        Raises StoreError, in one sentence and with the file untouched, for anything that is not a
        whole shelf this version can read.
        """
        is_new = not is_there(path)
        if is_new:
            behind_link(path)
            if not create:
                raise StoreError(f"There is no shelf at {path}.")
            _make_new(path)
        judged = stamp(path)
        version = refuse_what_is_not_a_shelf(path, newest_schema())
        trouble = "" if has_room(path.resolve().parent) else FULL
        read_only = bool(trouble) or not can_write(path)
        if read_only and version < newest_schema():
            raise StoreError(
                f"{path} was written by an older Stillroom and can only be read once it has been "
                f"brought up to date, but it can't be written here. {trouble}".rstrip()
            )
        try:
            db = open_database(path, read_only=read_only)
        except StoreError:
            if read_only or has_room(path.resolve().parent, try_it=True):
                raise
            trouble, read_only = FULL, True
            db = open_database(path, read_only=True)
        store = cls(path, db, read_only, trouble=trouble, is_new=is_new)
        is_as_judged = stamp(path) == judged
        if not read_only:
            keep_private(path)
        if is_as_judged:
            # It may be a file that can't be judged again: one whose first page is in its log.
            store._stamp = stamp(path)
        if not read_only:
            store._bring_up_to_date(on_update)
        store._schema = store.schema_version
        # Only now: an attempt that failed leaves the shelf that is open as it is.
        database.initialize(store.db)
        return store

    def close(self) -> None:
        """Close the file, leaving one complete file unless another program has it open."""
        if not self.db.is_closed():
            self._leave_at_rest()
        if self._is_suspect and has_log(self.path):
            self._close_unchanged()
        self.db.close()
        mark_closed(self.path)

    def leave_as_is(self) -> None:
        """Let closing change nothing: something is wrong with the file, and its log may be needed
        as it is to repair it."""
        self._found_wrong = True

    @property
    def _is_suspect(self) -> bool:
        return self._found_wrong or (isinstance(self.db, ShelfDatabase) and self.db.has_failed)

    def _close_unchanged(self) -> None:
        """Close without SQLite's folding in the log, as it does for the last one that closes.

        One that can only read is no use for that, and while it has the file open nobody else is
        the last.
        """
        try:
            with closing(connect(self.path, "mode=ro")) as reader:
                try:
                    reader.execute("SELECT 1 FROM sqlite_schema LIMIT 1")
                except sqlite3.DatabaseError:
                    pass  # it took its lock anyway
                self.db.close()
        except sqlite3.Error:
            pass

    def fold_log(self) -> bool:
        """Fold the log into the file and empty it, so that the file alone is the shelf.

        False where that must be tried again later. May run in a thread, on its own connection.
        """
        if self.read_only or self._is_suspect or not has_log(self.path):
            return True
        try:
            with self.db.atomic("IMMEDIATE"):
                self._refuse_another_file(read_state(self.db.execute_sql))
            # The first does the work while others may write; the second needs them to wait.
            for mode in ("PASSIVE", "TRUNCATE"):
                checkpoint = self.db.execute_sql(f"PRAGMA wal_checkpoint({mode})")
                (is_busy, *_) = checkpoint.fetchone()
        except (StoreError, DatabaseError, sqlite3.Error):
            return False
        return not is_busy

    def _leave_at_rest(self) -> None:
        if self.fold_log() or identity(self.path) != self._file:
            return
        if stamp(self.path) != self._stamp and is_written_over(self.path):
            # SQLite would apply it to the file that was written over ours.
            keep_log_apart(self.path, free_name(self.path, ".left-over"))

    @contextmanager
    def leaving_no_trace(self) -> Iterator[None]:
        """Overwrite what is replaced or deleted inside, and rewrite the file without it.

        Raises StoreError where that has to be repeated, as while another program has the shelf
        open; what was written stays written.
        """
        self.db.execute_sql("PRAGMA secure_delete = ON")
        yield
        try:
            self.db.execute_sql("VACUUM")
            is_done = self.fold_log()
        except (StoreError, DatabaseError):
            is_done = False
        if not is_done:
            raise StoreError(
                "The name was removed, but its bytes may still be in the file, because another "
                "program has it open or the disk is full. Close other windows and remove it again."
            )

    def take_away(self) -> None:
        """Close the file and delete it: it was made for something that came to nothing."""
        self.close()
        remove_with_log(self.path)
        self.is_new = False

    @property
    def schema_version(self) -> int:
        """The number of the last migration the file has had."""
        return int(self.db.user_version)

    @property
    def log(self) -> tuple[int, int] | None:
        """What changes when the log is written to; None where there is no log."""
        return stamp(log_of(self.path)) if has_log(self.path) else None

    @contextmanager
    def waiting(self, seconds: float) -> Iterator[None]:
        """Wait for another program's lock no longer than this."""
        self.db.execute_sql(f"PRAGMA busy_timeout = {int(seconds * 1000)}")
        try:
            yield
        finally:
            self.db.execute_sql(f"PRAGMA busy_timeout = {BUSY_TIMEOUT_MS}")

    @property
    def own_changes(self) -> int:
        """How many rows this connection has written, rolled back or not."""
        connection: sqlite3.Connection = self.db.connection()  # type: ignore[no-untyped-call]
        return connection.total_changes

    @property
    def data_version(self) -> int:
        """A number that changes when another program writes to the file."""
        return int(self.db.data_version)

    def copy_to(self, target: Path) -> None:
        """Write a complete, single-file copy of the shelf to a path that doesn't exist yet."""
        copy_shelf(self.path, target)

    def begin_act(self) -> None:
        """Mark the file with one more act, at the beginning of its transaction.

        Raises StoreError where this is no longer the shelf that was opened. The system would let us
        go on writing to a file that was moved, deleted or replaced, and all of that would be lost;
        and a newer schema may ask for more than we know.
        """
        now = read_state(self.db.execute_sql)
        self._refuse_another_file(now)
        self._refuse_another_history(now)
        if self.schema_version != self._schema:
            raise StoreError(
                "A newer Stillroom has changed this shelf while it was open here. Nothing was "
                "saved. Close this one and start the newer version."
            )
        self._seen = self.data_version, now, next_state(self.db.execute_sql, now)

    def _refuse_moved(self) -> None:
        """Raise StoreError where the path has another file now, or none."""
        if identity(self.path) != self._file:
            raise StoreError(
                f"The shelf that was opened is no longer at {self.path}. Nothing was saved; put it "
                "back and try again, or restart Stillroom."
            )

    def _refuse_another_file(self, now: FileState | None) -> None:
        """Raise StoreError where the path has another file now, or ours was written over."""
        self._refuse_moved()
        # In WAL mode the main file changes only when the log is folded in.
        if (found := stamp(self.path)) != self._stamp:
            if not is_continued(self.path, now):
                raise StoreError(_WRITTEN_OVER.format(self.path))
            self._stamp = found

    def _refuse_another_history(self, now: FileState | None) -> None:
        """Raise StoreError where what SQLite reads does not follow from our last act."""
        if self._seen is None:
            return
        version, before, after = self._seen
        if version == self.data_version:  # nobody else has written
            is_ours = now in (before, after)
        else:
            is_ours = before is None or (
                now is not None and now.identity == before.identity and now.number >= before.number
            )
        if not is_ours:
            raise StoreError(_WRITTEN_OVER.format(self.path))

    def prepare_to_write(self) -> None:
        """Put the file in WAL mode, where another program has taken it out.

        Not when it is opened: that would change a file that is only looked at.
        """
        if not self._is_wal:
            self.db.execute_sql("PRAGMA journal_mode = wal")
            self._is_wal = True

    def _bring_up_to_date(self, on_update: Callable[[float], None] = lambda done: None) -> None:
        copy = None
        try:
            version = self.schema_version
            pending = [(number, sql) for number, sql in migrations() if number > version]
            if not pending:
                return
            on_update(0)
            self.prepare_to_write()
            if version:
                copy = free_name(self.path, f".before-schema-{pending[-1][0]}")
                self.copy_to(copy)
            for number, script in pending:
                is_last = number == pending[-1][0]
                migrate(
                    self.db,
                    number,
                    script,
                    with_triggers=bool(version) or is_last,
                    on_step=lambda done: on_update(min(done, 0.99)),
                )
            # The main file's header must hold the version, for a program that reads nothing else.
            self.db.execute_sql("PRAGMA wal_checkpoint(TRUNCATE)")
            on_update(1)
        except BaseException as error:  # ctrl+c as well: whoever asked has no shelf to close
            if copy and self.schema_version == version:
                copy.unlink(missing_ok=True)  # or each further attempt would leave one more
            self.close()
            if not isinstance(error, (DatabaseError, StoreError)):
                raise
            raise StoreError(
                f"The shelf {self.path} can't be brought up to date. {error}"
            ) from error


def _make_new(path: Path) -> None:
    """Make an empty shelf under another name first: `path` never holds a half-made file."""
    try:
        make_folder(path.parent)
        _set_aside_what_is_left(path)
        with draft_folder(path.parent) as folder:
            draft = folder / "draft"
            draft.touch(mode=0o600)
            store = Store(draft, open_database(draft, read_only=False))
            store._bring_up_to_date()
            with store.db.atomic("IMMEDIATE"):
                begin_state(store.db.execute_sql)
            store.close()
            put_in_place(draft, path)  # or another program was faster, and its shelf is as good
    except OSError as error:
        raise StoreError(f"No shelf can be made at {path}: {error.strerror}.") from error


def _set_aside_what_is_left(path: Path) -> None:
    """Keep the log of a shelf that is gone from being played into the new one."""
    if left_beside(path) and not is_there(path):
        set_logs_aside(path, free_name(path, ".before-new"))
        sync_folder(path.resolve().parent)
