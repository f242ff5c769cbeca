"""Backup folders and print commands that a person has confirmed on this computer.

A shelf names both itself, and a shelf may come from anyone: a copy of all that is written into it
would go to that folder, and the command would be run. Nothing is noted in the shelf, where the
sender could have noted it.
"""

import json
from pathlib import Path

from stillroom.errors import StoreError
from stillroom.files import make_folder, write_file
from stillroom.keeping.keeper import Keeper
from stillroom.paths import trusted_commands_file, trusted_folders_file, typed_path


def folder_in_doubt(keeper: Keeper) -> Path | None:
    """The backup folder that the shelf names, where nobody has confirmed it on this computer."""
    chosen = keeper.setting("backup_folder")
    if not chosen or _written(typed_path(chosen)) in _trusted(trusted_folders_file()):
        return None
    return typed_path(chosen)


def trust_folder(folder: Path) -> None:
    """Note that a person wants backups in a folder; StoreError where that cannot be written."""
    _trust(trusted_folders_file(), _written(folder))


def command_in_doubt(keeper: Keeper) -> str:
    """The print command that the shelf names, where nobody has confirmed it here; else blank."""
    command = keeper.setting("print_command") or ""
    return "" if command in _trusted(trusted_commands_file()) else command


def trust_command(command: str) -> None:
    """Note that a person wants papers printed so; StoreError where that cannot be written."""
    _trust(trusted_commands_file(), command)


def _trust(file: Path, name: str) -> None:
    trusted = _trusted(file)
    if name in trusted:
        return
    try:
        make_folder(file.parent)
    except OSError as error:
        raise StoreError(f"{file} can't be written: {error.strerror}.") from error
    write_file(file, json.dumps([*trusted, name]).encode(), overwrite=True)


def _trusted(file: Path) -> list[str]:
    try:
        found = json.loads(file.read_bytes())
    except (OSError, ValueError, RecursionError):
        return []
    return [name for name in found if isinstance(name, str)] if isinstance(found, list) else []


def _written(folder: Path) -> str:
    return str(folder.absolute())
