"""Text that may come from anyone, made safe for a terminal."""

import re

_STEERING = re.compile(r"[\x00-\x09\x0b\x0c\x0e-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]|\r(?!\n)")
"""What makes a terminal do something, or turns the order of what follows.

Left are the ends of lines: LF, and CR before it, as calendar files have.
"""
_CONTROLS = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f]")
"""Control characters that no text of a person holds: tabs and ends of lines are left out."""
_PICTURES = 0x2400
"""Where Unicode begins its pictures of the first 32 control characters."""


def printable(text: str) -> str:
    """The text as a terminal may be given it: what would steer one is shown as a picture.

    >>> printable("Mugwort\\x1b[2J\\x9b\\u202e")
    'Mugwort␛[2J��'
    """
    return text if text.isprintable() else _STEERING.sub(_shown, text)


def without_controls(text: str) -> str:
    """The text with pictures for control characters, and everything else as it is.

    >>> without_controls("Mugwort\\x1b[2J, dried\\n")
    'Mugwort␛[2J, dried\\n'
    """
    return text if text.isprintable() else _CONTROLS.sub(_shown, text)


def has_controls(text: str) -> bool:
    """Whether there is a control character that no text of a person holds."""
    return _CONTROLS.search(text) is not None


def escaped(json_text: str) -> str:
    """JSON without characters that steer a terminal, and with the same meaning.

    >>> escaped('"Mugwort \\x9b"')
    '"Mugwort \\\\u009b"'
    """
    return _STEERING.sub(lambda found: f"\\u{ord(found[0]):04x}", json_text)


def _shown(found: re.Match[str]) -> str:
    code = ord(found[0])
    if code == ord("\t"):
        return " "
    if code < ord(" "):
        return chr(_PICTURES + code)
    return "\u2421" if code == 0x7F else "\ufffd"
