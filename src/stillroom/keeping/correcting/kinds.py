"""What can be corrected: subjects, facts, and where a fact is stored."""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

NOT_THERE = "It no longer exists."


class SubjectKind(StrEnum):
    """What a correction begins with; a jar takes in its straining, tincture and bottles."""

    JAR = "jar"
    BLEND = "blend"
    BOTTLE = "bottle"
    SPIRIT = "spirit"
    HERB = "herb"
    LOT = "lot"
    """Of herb."""
    LIQUID = "liquid"
    """In the cupboard, other than spirit."""


@dataclass(frozen=True)
class Subject:
    """What is corrected. Of a blend, `row_id` is its tincture's."""

    kind: SubjectKind
    row_id: int


Start = tuple[Subject, tuple[str, int] | None]
"""What is corrected, and the row to begin with: its table and id."""


class FactKind(StrEnum):
    """How a fact is typed and held."""

    VOLUME = "volume"
    """mL."""
    MASS = "mass"
    """g."""
    STRENGTH = "strength"
    """% v/v."""
    PERCENT = "percent"
    """Held as a fraction of 1, typed and shown in percent."""
    SHARE = "share"
    """In percent."""
    NUMBER = "number"
    MONEY = "money"
    COUNT = "count"
    DAY = "day"
    CHOICE = "choice"
    """The value is one of the keys of `choices`."""
    TEXT = "text"
    YES_NO = "yes/no"


Value = float | str | date | bool | None


@dataclass(frozen=True)
class StoredAt:
    """Where a fact is stored."""

    record: str
    """Its table."""
    row_id: int | None
    """None for a row that isn't there yet."""
    column: str


@dataclass(frozen=True)
class Fact:
    """One fact that can be corrected."""

    name: str
    """FIELD of the command and id of the form's field, such as `yield` or `bottle-1.volume`."""
    label: str
    kind: FactKind
    value: Value
    """In inner units; None where it isn't known."""
    shown: str
    """In the units of the shelf, as it could be typed; blank where it isn't known."""
    cell: StoredAt
    group: str = ""
    """The heading it is listed under."""
    choices: tuple[tuple[str, str], ...] = ()
    """Keys and labels of what can be chosen."""
    can_be_blank: bool = False
    is_one_more: bool = False
    """Whether it belongs to a row that isn't there yet, such as a pour that was forgotten."""
    hint: str = ""
    """What else can be typed."""


@dataclass(frozen=True)
class NewValue:
    """A fact with the value that it is to have."""

    subject: Subject
    fact: Fact
    value: Value


@dataclass(frozen=True)
class Obstacle:
    """Why something can't be, with the way out."""

    text: str
    names: tuple[str, ...] = ()
    """The facts to correct too, as they are named in the form or with `CODE:` before them."""
