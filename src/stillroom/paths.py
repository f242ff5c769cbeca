"""Where files are on this computer."""

from pathlib import Path

import platformdirs

from stillroom.errors import StillroomError

APP = "stillroom"


def default_shelf() -> Path:
    """The shelf that opens when none is named."""
    return Path(platformdirs.user_data_dir(APP)) / "shelf.stillroom"


def log_folder() -> Path:
    """Where a crash leaves its traceback."""
    return Path(platformdirs.user_state_dir(APP))


def trusted_folders_file() -> Path:
    """Where it is noted which backup folders a person has confirmed on this computer."""
    return Path(platformdirs.user_state_dir(APP)) / "backup-folders.json"


def trusted_commands_file() -> Path:
    """Where it is noted which print commands a person has confirmed on this computer."""
    return Path(platformdirs.user_state_dir(APP)) / "print-commands.json"


def typed_path(text: str) -> Path:
    """A path as a person types it, ~ read where somebody of that name has a home here."""
    try:
        return Path(text).expanduser()
    except RuntimeError:
        return Path(text)


def refuse_unusable(path: Path) -> None:
    """Raise StillroomError where nothing can have that name, or nobody may look there."""
    try:
        path.stat()
    except (FileNotFoundError, NotADirectoryError):
        pass
    except OSError as error:
        raise StillroomError(f"{path} can't be used: {error.strerror}.") from error
    except ValueError as error:
        raise StillroomError(f"{str(path)!r} is not a valid file name.") from error
