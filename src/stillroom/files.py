"""Files written complete or not at all, and never over a shelf, a backup or a log of either."""

import errno
import fcntl
import os
import shutil
import stat
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO

from stillroom.errors import NeedsConfirmation, Refused, StillroomError
from stillroom.paths import typed_path

SHELF_ENDING = ".stillroom"
"""How the names of shelves and backups end."""
LOG_ENDINGS = ("-wal", "-shm", "-journal")
"""What SQLite keeps beside a database, https://www.sqlite.org/tempfiles.html."""

_DRAFT, _DRAFT_ENDING = ".stillroom-", ".part"
_LONGEST_NAME = 255
"""Bytes; what ext4, APFS, exFAT and most others take."""
_ROOM_FOR_COUNT_AND_LOG = 20
_DATABASE_STARTS = (
    b"SQLite format 3\x00",
    # The logs: https://www.sqlite.org/fileformat2.html (journal, WAL) and
    # https://www.sqlite.org/walformat.html (the index, a 3007000 in the machine's own order).
    b"\xd9\xd5\x05\xf9\x20\xa1\x63\xd7",
    b"\x37\x7f\x06\x82",
    b"\x37\x7f\x06\x83",
    b"\x18\xe2\x2d\x00",
    b"\x00\x2d\xe2\x18",
)
_FULL = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG}
_LITTLE_ROOM, _MUCH_ROOM = 65_536, 4_194_304
"""Bytes: what the index of a log takes (32 KiB at first) and a few pages; and well above that."""
_in_use: list[Path] = []
_CANNOT_SYNC = {errno.EINVAL, errno.ENOTSUP, errno.ENOSYS, errno.EACCES, errno.EPERM}
"""What a file system answers that has no way to sync a folder."""


def write_file(
    path: str | Path, content: bytes, *, overwrite: bool = False, shared: bool = False
) -> Path:
    """Write a file and return its path, links followed.

    It is readable by its owner alone (mode 600) unless `shared`, which leaves it to the umask.
    Raises NeedsConfirmation when there is one already, Refused where it is a shelf or the like,
    StillroomError when it cannot be written; what was there before is then as it was.
    """
    target = _target(path)
    refuse_shelf(target)
    if target.exists() and not overwrite:
        raise _already(target)
    try:
        with draft_folder(target.parent) as folder:
            draft = folder / "draft"
            write_new(draft, content, shared=shared)
            if overwrite:
                draft.replace(target)
                sync_folder(target.parent)
            elif not put_in_place(draft, target):
                raise _already(target)
    except OSError as error:
        raise StillroomError(f"{target} can't be written: {error.strerror}.") from error
    return target


def open_ordinary(path: Path, most_bytes: int) -> BinaryIO:
    """Open a file to be read, where it is an ordinary one of at most so many bytes.

    Raises Refused, with what it is, and OSError. A pipe would make us wait for ever, a device has
    no end, and a shelf in use must not be opened like this.
    """
    _refuse_odd(path, path.stat(), most_bytes)
    if is_in_use(path):
        raise Refused("This is the open shelf itself.")
    file = os.fdopen(os.open(path, os.O_RDONLY | os.O_NONBLOCK), "rb")
    try:
        _refuse_odd(path, os.fstat(file.fileno()), most_bytes)  # it may have been replaced
    except Refused:
        file.close()
        raise
    return file


def _refuse_odd(path: Path, found: os.stat_result, most_bytes: int) -> None:
    if stat.S_ISDIR(found.st_mode):
        raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR), str(path))
    if not stat.S_ISREG(found.st_mode):
        raise Refused("This is a pipe or a device, not an ordinary file.")
    if found.st_size > most_bytes:
        raise Refused(f"The file is too large: more than {most_bytes // 1_000_000} MB.")


def refuse_shelf(target: Path) -> None:
    """Raise Refused where writing a file there could harm a shelf, a backup or a log of either.

    `target` is a path with its links followed. A hard link has another name than the shelf, and a
    damaged shelf another content, so both are looked at.
    """
    try:
        harms = _belongs_to_shelf(target)
    except OSError as error:
        raise StillroomError(f"{target} can't be read: {error.strerror}.") from error
    if harms:
        raise Refused(f"{target} is a shelf, a backup or part of one. Choose another name.")


def refuse_name_of_log(target: Path) -> None:
    """Raise Refused where SQLite would take a file of that name for the log of another, or take
    a log that is there for the new file's own."""
    if _is_log_by_name(target) or _has_log_beside(target):
        raise Refused(f"{target} is, or has beside it, the log of a shelf. Choose another name.")


def mark_in_use(shelf: Path) -> None:
    """Remember that this process has a shelf open."""
    _in_use.append(shelf)


def mark_closed(shelf: Path) -> None:
    """Forget what `mark_in_use` remembered."""
    if shelf in _in_use:
        _in_use.remove(shelf)


def is_in_use(path: Path) -> bool:
    """Whether a file is a shelf that this process has open, or a log of one.

    Such a file must not be opened by any other way than SQLite's: closing it again would give up
    all of our own locks on it, https://www.sqlite.org/howtocorrupt.html, 2.2.
    """
    found = identity(path)
    return found is not None and any(found in _identities(shelf) for shelf in _in_use)


def _identities(shelf: Path) -> Iterator[tuple[int, int] | None]:
    place = shelf.resolve()
    return (identity(Path(f"{place}{ending}")) for ending in ("", *LOG_ENDINGS))


def identity(path: Path) -> tuple[int, int] | None:
    """Device and inode of a file: the same as long as it is the same file. None when gone."""
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_dev, found.st_ino


def _belongs_to_shelf(target: Path) -> bool:
    return (
        is_in_use(target)  # first of all: what follows may open it
        or target.name.endswith(SHELF_ENDING)
        or f"{SHELF_ENDING}.before-" in target.name
        or _is_log_by_name(target)
        or _has_log_beside(target)  # its first page may be garbled
        or _is_database(target)
    )


def _is_log_by_name(target: Path) -> bool:
    for ending in LOG_ENDINGS:
        base = target.name.removesuffix(ending)
        if base in ("", target.name):
            continue
        if base.endswith(SHELF_ENDING) or _is_database(target.with_name(base)):
            return True
    return False


def _has_log_beside(target: Path) -> bool:
    return any(target.with_name(f"{target.name}{ending}").exists() for ending in LOG_ENDINGS)


def _is_database(path: Path) -> bool:
    if is_in_use(path):
        return True
    if not path.is_file():
        return False
    with path.open("rb") as file:
        return file.read(16).startswith(_DATABASE_STARTS)


def write_new(path: Path, content: bytes, *, shared: bool = False) -> None:
    """Write a file that is not there yet, and make its content survive a power cut."""
    with new_file(path, shared=shared) as file:
        file.write(content)


@contextmanager
def new_file(path: Path, *, shared: bool = False) -> Iterator[BinaryIO]:
    """Open a file that is not there yet for writing; what was written survives a power cut."""
    rights = 0o666 if shared else 0o600
    descriptor = os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, rights)
    with open(descriptor, "wb") as file:  # noqa: PTH123  the rights are set when it is made
        yield file
        file.flush()
        os.fsync(file.fileno())


@contextmanager
def draft_folder(folder: Path) -> Iterator[Path]:
    """A new folder within `folder`, the user's alone, for what is not finished; gone at the end.

    What a killed program left there is cleared first. Raises OSError.
    """
    clear_drafts(folder)
    draft, lock = _locked_draft(folder)
    try:
        yield draft
    finally:
        shutil.rmtree(draft, ignore_errors=True)
        os.close(lock)


def clear_drafts(folder: Path) -> None:
    """Remove the drafts in a folder that no program is working at any more."""
    try:
        left = [path for path in folder.iterdir() if _is_draft(path)]
    except OSError:
        return
    for draft in left:
        try:
            lock = os.open(draft, os.O_RDONLY)
        except OSError:
            continue
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            pass  # somebody is at work, or the file system knows no locks
        else:
            shutil.rmtree(draft, ignore_errors=True)
        finally:
            os.close(lock)


def _is_draft(path: Path) -> bool:
    name = path.name
    return name.startswith(_DRAFT) and name.endswith(_DRAFT_ENDING) and path.is_dir()


def _locked_draft(folder: Path) -> tuple[Path, int]:
    """A new draft folder and the lock, released by the system when we end, that marks it in use."""
    while True:
        draft = Path(tempfile.mkdtemp(prefix=_DRAFT, suffix=_DRAFT_ENDING, dir=folder))
        try:
            lock = os.open(draft, os.O_RDONLY)
        except FileNotFoundError:  # cleared by another program before it was locked
            continue
        try:
            fcntl.flock(lock, fcntl.LOCK_EX)
        except OSError:
            pass  # no locks here: what a kill leaves has to stay
        if draft.is_dir():
            return draft, lock
        os.close(lock)


def put_in_place(draft: Path, path: Path) -> bool:
    """Give a finished file its name; False where something has that name already."""
    try:
        os.link(draft, path)  # unlike a rename, never replaces what another program just made
    except FileExistsError:
        return False
    except OSError:  # no hard links here, as on a memory card's FAT
        if path.exists() or path.is_symlink():
            return False
        draft.rename(path)
    sync_folder(path.parent)
    return True


def sync_file(path: Path) -> None:
    """Make the content of a file survive a power cut."""
    with path.open("rb+") as file:
        os.fsync(file.fileno())


def sync_folder(folder: Path) -> None:
    """Make names given or taken away in a folder survive a power cut, where that can be done."""
    try:
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
    except OSError as error:
        if error.errno not in _CANNOT_SYNC:
            raise


def has_room(folder: Path, *, try_it: bool = False) -> bool:
    """Whether a folder's disk has room for the little that SQLite needs to open a database.

    Where the disk says that there is much room it is believed, unless `try_it`: it knows nothing
    of quotas.
    """
    try:
        disk = os.statvfs(folder)
        if not try_it and disk.f_bavail * disk.f_frsize > _MUCH_ROOM:
            return True
        with tempfile.TemporaryFile(dir=folder, buffering=0) as file:
            file.write(bytes(_LITTLE_ROOM))
    except OSError as error:
        return error.errno not in _FULL
    return True


def make_folder(folder: Path, *, shared: bool = False) -> None:
    """Make a folder and those above it that are missing, each safe on the disk. Raises OSError."""
    missing = []
    while not folder.is_dir():
        missing.append(folder)
        folder = folder.parent
    for each in reversed(missing):
        each.mkdir(mode=0o777 if shared else 0o700, exist_ok=True)
        sync_folder(each.parent)


def free_name(path: Path, suffix: str) -> Path:
    """A name beside `path` that is not taken; a long name is cut to make room for the suffix."""
    stem = path.name
    while len(os.fsencode(stem + suffix)) > _LONGEST_NAME - _ROOM_FOR_COUNT_AND_LOG:
        stem = stem[:-1]
    candidate = path.with_name(stem + suffix)
    count = 1
    while any(os.path.lexists(f"{candidate}{ending}") for ending in ("", *LOG_ENDINGS)):
        count += 1
        candidate = path.with_name(f"{stem}{suffix}-{count}")
    return candidate


def _target(path: str | Path) -> Path:
    """The file meant, links followed: writing over a link would cut it off from its file."""
    try:
        target = typed_path(str(path)).resolve()
        if not target.parent.is_dir():
            raise StillroomError(f"There is no folder {target.parent}.")
        if target.is_dir():
            raise StillroomError(f"{target} is a folder. Add a file name.")
        if target.exists() and not target.is_file():
            raise StillroomError(f"{target} is not an ordinary file.")
    except OSError as error:
        raise StillroomError(f"{path} can't be used: {error.strerror}.") from error
    except RuntimeError as error:  # how Python before 3.13 reports a circle of links
        raise StillroomError(f"{path} is a link that leads back to itself.") from error
    except ValueError as error:
        raise StillroomError(f"{str(path)!r} is not a valid file name.") from error
    return target


def _already(target: Path) -> NeedsConfirmation:
    return NeedsConfirmation(f"{target} already exists. Replace it?")
