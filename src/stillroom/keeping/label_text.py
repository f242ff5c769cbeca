"""What every label is made of: lines of text, each with its role, and the text of its QR code."""

import re
import unicodedata
from dataclasses import dataclass
from enum import StrEnum
from typing import Protocol

SCAN_TEXT_LENGTH = 80
"""The most letters after the code in what a scanner reads."""


class Role(StrEnum):
    """What a line of a label is about; also how to name it when it doesn't fit."""

    STATUS = "status"
    NAME = "name"
    WORD = "product"
    BOTANICAL = "botanical name"
    HERB = "herb"
    RATIO = "ratio"
    SOLVENT = "solvent"
    STRENGTH = "strength"
    VOLUME = "volume"
    FACT = "liquid"
    PERSON = "person"
    DIRECTIONS = "directions"
    DATE = "dates"
    CODE = "code"
    ORIGIN = "origin"
    MAKER = "maker"
    SHAKES = "boxes for shakes"
    CAUTION = "cautions"


@dataclass(frozen=True)
class LabelLine:
    """One line of a label, in reading order."""

    role: Role
    text: str


class AnyLabel(Protocol):
    """What is printed on one label, whatever it is stuck on."""

    def __hash__(self) -> int: ...
    @property
    def name(self) -> str: ...
    @property
    def code(self) -> str: ...
    @property
    def lines(self) -> tuple[LabelLine, ...]: ...
    @property
    def scan_text(self) -> str:
        """What a scanner reads: the code, and where it isn't the code alone, what the thing is."""


@dataclass(frozen=True)
class PlainLabel:
    """A label of a jar, spirit or herb, or for a person."""

    name: str
    code: str
    lines: tuple[LabelLine, ...]
    scan_text: str


def lines_of(*pairs: tuple[Role, str]) -> tuple[LabelLine, ...]:
    """Lines without those that are blank."""
    return tuple(LabelLine(role, text) for role, text in pairs if text)


def scanned(code: str, name: str, *facts: str) -> str:
    """What a scanner reads: the code, then in plain letters what the thing is, on one line.

    A scanner types it, so it holds only what every keyboard has; and nothing that a phone could
    open. A long name is shortened, so that the facts are complete.
    """
    rest = ", ".join(filter(None, map(_plainly, facts)))
    name = _plainly(name)[: max(0, SCAN_TEXT_LENGTH - len(rest) - 2)].strip(" ,.-")
    return f"{code} {', '.join(filter(None, (name, rest)))[:SCAN_TEXT_LENGTH]}".strip()


def _plainly(text: str) -> str:
    """Letters, figures and a few signs that every keyboard has; dots only within a number.

    >>> _plainly("Émile's  oxeye: example.org, 38.2 %")
    'Emiles oxeye example org, 38.2 %'
    """
    bare = unicodedata.normalize("NFKD", text.replace("\N{NO-BREAK SPACE}", " "))
    bare = re.sub(r"(?<!\d)\.|\.(?!\d)|[/\\:@;]", " ", bare)
    return " ".join(re.sub(r"[^A-Za-z0-9 ,.%-]", "", bare).split())
