"""Backup folders that a person has confirmed on this computer.

A shelf names its backup folder itself, and a shelf may come from anyone: a copy of all that is
written into it would go there. Nothing is noted in the shelf, where the sender could have noted it.
"""

import json
from pathlib import Path

from stillroom.errors import StoreError
from stillroom.files import make_folder, write_file
from stillroom.keeping.keeper import Keeper
from stillroom.paths import trusted_folders_file, typed_path


def folder_in_doubt(keeper: Keeper) -> Path | None:
    """The backup folder that the shelf names, where nobody has confirmed it on this computer."""
    chosen = keeper.setting("backup_folder")
    if not chosen or _written(typed_path(chosen)) in _trusted():
        return None
    return typed_path(chosen)


def trust_folder(folder: Path) -> None:
    """Note that a person wants backups in a folder; StoreError where that cannot be written."""
    file, trusted = trusted_folders_file(), _trusted()
    if _written(folder) in trusted:
        return
    try:
        make_folder(file.parent)
    except OSError as error:
        raise StoreError(f"{file} can't be written: {error.strerror}.") from error
    write_file(file, json.dumps([*trusted, _written(folder)]).encode(), overwrite=True)


def _trusted() -> list[str]:
    try:
        found = json.loads(trusted_folders_file().read_bytes())
    except (OSError, ValueError, RecursionError):
        return []
    return [name for name in found if isinstance(name, str)] if isinstance(found, list) else []


def _written(folder: Path) -> str:
    return str(folder.absolute())
