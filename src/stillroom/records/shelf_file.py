"""The shelf as a file: checking it without changing it, naming it, copying all of it."""

import os
import sqlite3
import stat
import struct
from contextlib import closing
from pathlib import Path

from stillroom.errors import Planted, StoreError
from stillroom.files import (
    LOG_ENDINGS,
    draft_folder,
    free_name,
    has_room,
    is_in_use,
    put_in_place,
    sync_file,
)
from stillroom.records.connecting import can_write, connect, uri
from stillroom.records.disk import error_code
from stillroom.records.file_state import (
    APPLICATION_ID,
    LISTS_OF_WORDS,
    begin_state,
    read_state,
)
from stillroom.records.logs import (
    has_journal,
    has_log,
    read_log,
    refuse_strange_log,
    set_logs_aside,
    settle_journal,
)
from stillroom.records.schema import READ_SCHEMA, differences, is_as_made, parts

_INDEX_BYTES = 32_768
"""The least size of a log's index, https://www.sqlite.org/walformat.html."""
_HEADER = b"SQLite format 3\x00"


def is_there(path: Path) -> bool:
    """Whether there is anything at a path; StoreError where that cannot be seen."""
    try:
        path.stat()
    except (FileNotFoundError, NotADirectoryError):
        return False
    except OSError as error:
        raise StoreError(f"The shelf {path} can't be read: {error.strerror}.") from error
    except ValueError as error:
        raise StoreError(f"{str(path)!r} is not a valid file name.") from error
    return True


def behind_link(path: Path) -> Path:
    """The file that a path means, links followed; StoreError where a link leads nowhere.

    That is most often a stick which is not plugged in: nothing may be made in its place.
    """
    try:
        target = path.resolve()
    except (OSError, RuntimeError) as error:  # a loop
        raise StoreError(f"{path} is a link that leads back to itself.") from error
    if path.is_symlink() and not is_there(path):
        raise StoreError(
            f"{path} is a link to {target}, which is missing. "
            "Is its disk or memory stick plugged in?"
        )
    return target


def keep_private(path: Path) -> None:
    """Take from everybody else what rights they have to a shelf of ours, and to its log.

    The file of another user is left as it is, as are folders: a person may keep a shelf anywhere.
    """
    for suffix in ("", *LOG_ENDINGS):
        file = Path(f"{path.resolve()}{suffix}")
        try:
            found = file.stat()
            if found.st_uid == os.geteuid() and found.st_mode & 0o077:
                file.chmod(stat.S_IMODE(found.st_mode) & 0o700)
        except OSError:  # not there, or on a file system without such rights
            pass


def looking_mode(path: Path) -> str:
    """The mode that reads a shelf and, where nobody has it open, leaves nothing beside it.

    Reading a log takes an index of it, in a file; where the disk has no room for that one, it is
    held in memory instead, for which SQLite must have the file to itself. It then folds the log in
    when it closes the file, as after every unclean end, and that makes room.
    """
    if has_journal(path):
        return "mode=ro"
    if not has_log(path):
        return "mode=ro&immutable=1"
    folder = path.resolve().parent
    if not _has_index(path) and not has_room(folder, try_it=True):
        return "mode=rw&vfs=unix-excl"
    return "mode=ro"


def _has_index(path: Path) -> bool:
    try:
        return Path(f"{path.resolve()}-shm").stat().st_size >= _INDEX_BYTES
    except OSError:
        return False


def refuse_what_is_not_a_shelf(path: Path, newest: int) -> int:
    """Judge a file from its first bytes and a read-only look, so that nothing can change it.

    Returns its schema version; StoreError where it is no whole shelf of a version up to `newest`,
    Planted where its schema is not the one that our migrations make.
    """
    _refuse_by_kind(path)
    if not is_in_use(path):  # or our own locks on it would be lost
        _refuse_by_header(path, newest)
        if has_journal(path):
            settle_journal(path)
    refuse_strange_log(path)
    had_log = has_log(path)
    verdict, version = _examine(path)
    if verdict != "ok" and not had_log and has_log(path):
        # Somebody began to write while it was read without a lock.
        verdict, version = _examine(path)
    if verdict == "ok" and version < 1:
        verdict = "it does not state which schema it has"
    if verdict != "ok":
        raise StoreError(
            f"The shelf {path} is damaged ({verdict}). Restore a backup, or copy it before repair."
        )
    _refuse_newer(path, version, newest)  # the header may lag behind the write-ahead log
    return version


def is_empty_shelf(path: Path, newest: int) -> bool:
    """Whether a file is a shelf of the newest schema on which nothing was ever done."""
    try:
        if refuse_what_is_not_a_shelf(path, newest) != newest:
            return False
        with closing(connect(path, looking_mode(path))) as shelf:
            tables = shelf.execute(
                """SELECT name FROM sqlite_schema WHERE type = 'table'
                   AND name NOT LIKE 'sqlite!_%' ESCAPE '!'"""
            ).fetchall()
            return not any(
                shelf.execute(f'SELECT 1 FROM "{name}" LIMIT 1').fetchone()
                for (name,) in tables
                if name not in ("setting", "undo_state", *LISTS_OF_WORDS)
            )
    except (StoreError, sqlite3.Error):
        return False


def tables_with_broken_rules(path: Path) -> list[str]:
    """The tables with a row that breaks a CHECK of theirs, or has a word that no list has.

    SQLite's integrity_check overlooks some (3.40.1 does), so every row of a copy in memory is
    written again as it is, which tries them all.
    """
    found = []
    with closing(connect(path, looking_mode(path))) as shelf, closing(_in_memory(shelf)) as copy:
        for kind, name in copy.execute(
            "SELECT type, name FROM sqlite_schema WHERE type IN ('trigger', 'index') AND sql <> ''"
        ).fetchall():
            copy.execute(f'DROP {kind} "{name}"')
        tables = copy.execute(
            "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite!_%' "
            "ESCAPE '!' ORDER BY name"
        ).fetchall()
        for (table,) in tables:
            columns = [row[1] for row in copy.execute(f'PRAGMA table_info("{table}")')]
            same = ", ".join(f'"{column}" = "{column}"' for column in columns)
            try:
                copy.execute(f'UPDATE "{table}" SET {same}')
            except sqlite3.IntegrityError:
                found.append(table)
        for (table,) in copy.execute(
            f"""SELECT DISTINCT "table" FROM pragma_foreign_key_check
                WHERE parent IN ({", ".join("?" * len(LISTS_OF_WORDS))})""",
            LISTS_OF_WORDS,
        ).fetchall():
            if table not in found:
                found.append(table)
    return found


def _in_memory(shelf: sqlite3.Connection) -> sqlite3.Connection:
    copy = sqlite3.connect(":memory:", isolation_level=None)
    shelf.backup(copy)
    return copy


def copy_shelf(source: Path, target: Path) -> None:
    """Write a complete, checked, single-file copy of a shelf to a path that doesn't exist yet.

    It is written under another name first, so `target` is never half made. Raises
    StoreError. Uses a connection of its own, so it may run in a thread.
    """
    refuse_strange_log(source)
    try:
        with draft_folder(target.parent) as folder:
            draft = folder / "draft"
            draft.touch(mode=0o600)
            is_free = can_write(source) and has_room(source.resolve().parent)
            mode = "mode=rw" if is_free else looking_mode(source)
            with closing(connect(source, mode)) as shelf:
                shelf.execute("VACUUM INTO ?", (uri(draft, "mode=rw"),))
            with closing(connect(draft, "mode=rw")) as copy:
                copy.execute("PRAGMA journal_mode = wal")  # as whoever opens it would have to
                _make_its_own(copy)
            sync_file(draft)
            verdict, _ = _examine(draft)
            if verdict != "ok":
                raise StoreError(f"The copy for {target} can't be read back ({verdict}).")
            if not target.exists():  # or the log of a file that was there would be the copy's
                set_logs_aside(target, free_name(target, ".left-over"))
            if not put_in_place(draft, target):
                raise StoreError(f"A file already exists at {target}.")
    except OSError as error:
        raise StoreError(f"{target} can't be written: {error.strerror}.") from error
    except sqlite3.Error as error:
        raise StoreError(f"{target} can't be written: {error}.") from error


def _make_its_own(copy: sqlite3.Connection) -> None:
    """Let no log of the file that was copied be taken for the copy's."""
    now = read_state(copy.execute)
    copy.execute("BEGIN IMMEDIATE")
    begin_state(copy.execute, now.number if now else 0)
    copy.execute("COMMIT")


def remove_with_log(path: Path) -> None:
    """Delete a database and what SQLite may have left beside it."""
    for suffix in ("", *LOG_ENDINGS):
        Path(f"{path}{suffix}").unlink(missing_ok=True)


def _refuse_by_kind(path: Path) -> None:
    if path.is_dir():
        raise StoreError(f"{path} is a folder, not a shelf file.")
    if not stat.S_ISREG(path.stat().st_mode):  # reading a pipe would wait for ever
        raise StoreError(f"{path} is not an ordinary file, so it can't be a shelf.")


def _refuse_by_header(path: Path, newest: int) -> None:
    try:
        with path.open("rb") as file:
            head = file.read(100)
    except OSError as error:
        raise StoreError(f"The shelf {path} can't be read: {error.strerror}.") from error
    if not head:
        raise StoreError(f"{path} is an empty file, not a shelf.")
    if len(head) < 100 or not head.startswith(_HEADER):
        log = read_log(path)
        if (log and log.holds_page(1)) or has_journal(path):
            return  # a write to it was cut short, and SQLite has the page elsewhere
        raise StoreError(f"{path} is not a shelf file.")
    (version,) = struct.unpack(">I", head[60:64])
    (application_id,) = struct.unpack(">I", head[68:72])
    if application_id != APPLICATION_ID:
        raise StoreError(f"{path} is a database of another program, not a shelf.")
    _refuse_newer(path, version, newest)


def _refuse_newer(path: Path, version: int, newest: int) -> None:
    if version > newest:
        raise StoreError(
            f"{path} was written by a newer Stillroom (schema {version}). "
            "This version would damage it."
        )


def _examine(path: Path) -> tuple[str, int]:
    """SQLite's verdict on a file's structure, and its schema version.

    Raises Planted where the schema is not the one that our migrations make.
    """
    try:
        with closing(connect(path, looking_mode(path))) as shelf:
            (version,) = shelf.execute("PRAGMA user_version").fetchone()
            # First of all: to look at the tables is to work out their rules, whoever made them.
            _refuse_planted(path, shelf, version)
            (verdict,) = shelf.execute("PRAGMA quick_check(1)").fetchone()
            (size,) = shelf.execute(
                "SELECT page_count * page_size FROM pragma_page_count, pragma_page_size"
            ).fetchone()
        if verdict == "ok" and path.stat().st_size < size and not has_log(path):
            verdict = "its end is missing"
        return " ".join(verdict.split()), int(version)
    except UnicodeDecodeError:  # SQLite cites a damaged schema in its own message
        return "its tables can't be read", 0
    except sqlite3.DatabaseError as error:
        code = error_code(error)
        if code == sqlite3.SQLITE_BUSY:
            raise StoreError(f"The shelf {path} is locked by another program.") from error
        if code in (sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_READONLY):
            raise StoreError(
                f"The shelf {path} was not closed, and its newest changes, in {path.name}-wal, "
                "can't be read where nothing can be written. Copy both to another folder."
            ) from error
        return str(error), 0


def _refuse_planted(path: Path, shelf: sqlite3.Connection, version: int) -> None:
    if is_as_made(shelf, version):
        return
    found = parts(shelf.execute(READ_SCHEMA))
    if any("\ufffd" in part.sql for part in found):
        raise StoreError(
            f"The shelf {path} is damaged (its rules can't be read). Restore a backup."
        )
    if planted := tuple(differences(found, version)):
        raise Planted(path, planted)
