"""What the terminal can show, judged before the screen is made.

Nothing of Textual is imported here: it reads the environment when it is imported.
"""

import os
from collections.abc import Mapping

PLAIN_TERMINALS = ("linux", "vt", "ansi", "cons", "pcvt", "sun", "wsvt", "unknown")
"""What the names of terminals begin with whose fonts hold little more than ASCII and boxes."""


WITHOUT_COLOURS = ("vt", "dumb", "unknown")
"""What the names of terminals without colours begin with; others end in `-m` or `-mono`."""


def shows_no_colours(environ: Mapping[str, str] = os.environ) -> bool:
    """Whether no colours are to be sent: none are wanted, or the terminal has none by its name."""
    if environ.get("NO_COLOR"):
        return True
    name = environ.get("TERM", "")
    if environ.get("COLORTERM") or "color" in name:
        return False
    return not name or name.startswith(WITHOUT_COLOURS) or name.endswith(("-m", "-mono"))


def is_plain(encoding: str | None, environ: Mapping[str, str] = os.environ) -> bool:
    """Whether only the plainest glyphs can be relied on."""
    name = environ.get("TERM", "")
    return not name or name.startswith(PLAIN_TERMINALS) or not is_unicode(encoding)


def is_unicode(encoding: str | None) -> bool:
    """Whether what is written can hold any letter."""
    return (encoding or "utf-8").lower().replace("-", "").replace("_", "").startswith("utf")


def has_few_colours(color_system: str | None, environ: Mapping[str, str] = os.environ) -> bool:
    """Whether colours are rounded to sixteen or fewer, on their way or by the terminal."""
    return color_system in (None, "standard") or environ.get("TERM") == "linux"
