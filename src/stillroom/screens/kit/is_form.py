"""Whether a screen is a form, without importing forms where there can be none yet."""

import sys
from typing import TYPE_CHECKING, Any

from textual.screen import Screen

if TYPE_CHECKING:
    from stillroom.screens.kit.dialog import Dialog


def form_of(screen: Screen[Any]) -> "Dialog[Any] | None":
    """The screen, if it is a form."""
    module = sys.modules.get("stillroom.screens.kit.dialog")
    return screen if module is not None and isinstance(screen, module.Dialog) else None
