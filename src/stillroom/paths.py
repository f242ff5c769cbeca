"""Where things lie on this machine."""

from pathlib import Path

import platformdirs

APP = "stillroom"


def default_shelf() -> Path:
    """The shelf that opens when none is named."""
    return Path(platformdirs.user_data_dir(APP)) / "shelf.stillroom"


def log_folder() -> Path:
    """Where a crash leaves its traceback."""
    return Path(platformdirs.user_state_dir(APP))
