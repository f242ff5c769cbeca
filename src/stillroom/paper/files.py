"""Putting a finished document into a file: whole or not at all, and never over another unasked."""

import os
import secrets
from pathlib import Path

from ..errors import NeedsConfirmation, StillroomError
from ..paths import typed_path


def write_file(path: str | Path, content: bytes, *, overwrite: bool = False) -> Path:
    """Write a file and return where it lies.

    Raises NeedsConfirmation when there is one already, StillroomError when it cannot be written;
    what was there before is then as it was.
    """
    target = _target(path)
    if target.exists() and not overwrite:
        raise _already(target)
    draft = target.with_name(f".stillroom-{secrets.token_hex(4)}.part")
    try:
        _write_through(draft, content)
        _put_in_place(draft, target, overwrite=overwrite)
        _settle(target.parent)
    except OSError as error:
        raise StillroomError(f"{target} cannot be written: {error.strerror}.") from error
    finally:
        _forget(draft)
    return target


def _target(path: str | Path) -> Path:
    """The file meant, links followed: writing over a link would cut it off from its file."""
    try:
        target = typed_path(str(path)).resolve()
        if not target.parent.is_dir():
            raise StillroomError(f"There is no folder {target.parent}.")
        if target.is_dir():
            raise StillroomError(f"{target} is a folder: add a name for the file.")
        if target.exists() and not target.is_file():
            raise StillroomError(f"{target} is not an ordinary file.")
    except (OSError, RuntimeError, ValueError) as error:
        raise StillroomError(f"{path} cannot be the name of a file: {error}.") from error
    return target


def _already(target: Path) -> NeedsConfirmation:
    return NeedsConfirmation(f"{target} is there already. Write over it?")


def _write_through(draft: Path, content: bytes) -> None:
    with draft.open("xb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())


def _put_in_place(draft: Path, target: Path, *, overwrite: bool) -> None:
    if not overwrite:
        try:
            os.link(draft, target)  # unlike a rename, never replaces what another program just made
            return
        except FileExistsError as error:
            raise _already(target) from error
        except OSError:
            # A file system without links, such as a memory stick's.
            if target.exists():
                raise _already(target) from None
    if target.exists():
        draft.chmod(target.stat().st_mode & 0o777)
    draft.replace(target)


def _settle(folder: Path) -> None:
    """Make the name itself survive a power cut."""
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    except OSError:
        pass  # some file systems cannot, and the content is safe already
    finally:
        os.close(descriptor)


def _forget(draft: Path) -> None:
    try:
        draft.unlink(missing_ok=True)
    except OSError:
        pass
