"""What a person answers where a sheet is silent, for a column or for one herb in it."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

from stillroom.errors import NotUnderstood, Refused
from stillroom.keeping.interchange.cells import one_of
from stillroom.keeping.interchange.entry import Reader
from stillroom.keeping.interchange.herb_cells import chosen
from stillroom.keeping.interchange.layout import LEFT_OUT, TO_NOTE
from stillroom.keeping.interchange.loose import Within, is_unknown
from stillroom.keeping.interchange.vocabulary import columns, fold, plain_words
from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.yields import Pressing

NOT_KNOWN = "not known"
UNKNOWN_HERB = "Herb not known"
SAME_DAY = "date"
"""The answer that the date of each row is the day it was strained."""
ABOVE = "above"
"""The answer that a blank cell means the same as the cell above it."""
DAY_FIRST, MONTH_FIRST = "dmy", "mdy"
COMMA, POINT = "comma", "point"

CHOICES: dict[str, tuple[str, ...]] = {
    "part": tuple(Part),
    "condition": tuple(Condition),
    "pressing": tuple(Pressing),
    "strained": (SAME_DAY, "DAY"),
    "herb": (ABOVE, "HERB", "unknown"),
    "day": (ABOVE, "DAY"),
    "ranges": tuple(Within),
    "dates": (DAY_FIRST, MONTH_FIRST),
    "decimal": (COMMA, POINT),
}
"""What may be asked, each with its answers; a word in capitals is for the person to fill in."""


def needed_columns(is_strained: bool) -> tuple[str, ...]:
    """The facts of a jar that are asked about where a sheet leaves them out."""
    return ("part", "condition", *(("pressing", "strained") if is_strained else ()))


@dataclass(frozen=True)
class SheetWishes:
    """All that a person says of a sheet beside what is in it."""

    answers: tuple[str, ...] = ()
    """`key=value`, or `key:herb=value` for one herb."""
    columns: tuple[str, ...] = ()
    """`heading=column`, where `note` keeps a column in the note and `nothing` leaves it out."""
    sheet: str = ""
    """The name of the table in a file of several."""
    left_out: frozenset[int] = frozenset()
    """Rows to leave out."""
    accept_unknown: bool = False
    """Whether everything that isn't answered is not known."""
    saved_columns: tuple[str, ...] = field(default=(), compare=False)
    """Those of `columns` that were saved of another sheet: this one may lack them."""

    def with_more(self, later: "SheetWishes") -> "SheetWishes":
        """These, with what is said now; what is said now of the same thing replaces them."""
        answered = {answer.partition("=")[0].strip().casefold() for answer in later.answers}
        named = {plain_words(pair.rpartition("=")[0]) for pair in later.columns}
        old = [a for a in self.answers if a.partition("=")[0].strip().casefold() not in answered]
        columns = [c for c in self.columns if plain_words(c.rpartition("=")[0]) not in named]
        return SheetWishes(
            (*old, *later.answers),
            (*columns, *later.columns),
            later.sheet or self.sheet,
            later.left_out,
            later.accept_unknown,
            tuple(column for column in columns if column in self.saved_columns),
        )


@dataclass
class Answers:
    """Answers that have been read."""

    accept_unknown: bool = False
    given: dict[tuple[str, str], Any] = field(default_factory=dict)
    """By key and folded herb; a blank herb is for all."""

    def of(self, key: str, herb: str = "") -> Any:
        """The answer for a herb, or for all; None where there is none."""
        return self.given.get((key, fold(herb)), self.given.get((key, "")))

    def __contains__(self, key: str) -> bool:
        return (key, "") in self.given


def given_answers(wishes: SheetWishes, reader: Reader) -> Answers:
    """A person's answers; Refused if one isn't an answer."""
    answers = Answers(wishes.accept_unknown)
    for pair in wishes.answers:
        place, equals, text = (piece.strip() for piece in pair.partition("="))
        key, _, herb = (piece.strip() for piece in place.partition(":"))
        key = key.casefold()
        if not equals or key not in CHOICES:
            raise Refused(
                f'There is no --set "{pair}". Write KEY=VALUE, such as part=leaf; '
                f"KEY is {one_of(CHOICES)}."
            )
        try:
            value = _ANSWERED[key](reader, text)
        except NotUnderstood as error:
            raise Refused(f'--set "{pair}" is not clear. {error}') from error
        if answers.given.setdefault((key, fold(herb)), value) != value:
            raise Refused(f"--set {place} appears twice with different values. Leave one out.")
    return answers


def given_columns(pairs: Sequence[str]) -> dict[str, str]:
    """What a person said of headings, by the heading in plain words; Refused if it isn't clear."""
    said: dict[str, str] = {}
    for pair in pairs:
        heading, equals, column = (piece.strip() for piece in pair.rpartition("="))
        column = COLUMN_NAMES.get(fold(column), fold(column).replace(" ", "_"))
        if not equals or column not in (*columns(), TO_NOTE, LEFT_OUT):
            raise Refused(
                f'There is no --map "{pair}". Write HEADING=COLUMN, such as "Qty=mass"; '
                f"COLUMN is {one_of([*sorted(map(column_name, columns())), LEFT_OUT])}."
            )
        said[plain_words(heading)] = column
    return said


COLUMN_NAMES = {
    "date": "day", "weight": "mass", "spirit": "liquid", "yield": "yielded",
    "strain on": "strain_on",
    "steeping time": "steep",
    "keep until": "keep_until", "jar size": "capacity", "botanical name": "botanical",
    "fresh or dried": "condition", "bottle": "size", "abv": "strength", "filled on": "day",
}  # fmt: skip
"""What a person calls a column, where its own name differs."""


def column_name(column: str) -> str:
    """What a person calls a column."""
    names = {own: name for name, own in reversed(COLUMN_NAMES.items())}
    return names.get(column, column.replace("_", " "))


def _choice(options: Any) -> Callable[[Reader, str], Any]:
    def read(_: Reader, text: str) -> Any:
        if is_unknown(text):
            return options.NOT_KNOWN
        return chosen(options, text)

    return read


def _strained(reader: Reader, text: str) -> Any:
    if is_unknown(text):
        return NOT_KNOWN
    return SAME_DAY if text.casefold() == SAME_DAY else reader.past_day(text)


def _herb(_: Reader, text: str) -> str:
    if not text:
        raise NotUnderstood("Use above, or the herb's name.")
    if is_unknown(text):
        return UNKNOWN_HERB
    return ABOVE if text.casefold() == ABOVE else text


def _day(reader: Reader, text: str) -> Any:
    return ABOVE if text.casefold() == ABOVE else reader.past_day(text)


def _word_of(key: str) -> Callable[[Reader, str], str]:
    def read(_: Reader, text: str) -> str:
        word = text.casefold()
        if key == "ranges" and is_unknown(text):
            word = NOT_KNOWN
        if word not in CHOICES[key]:
            raise NotUnderstood(f"Use {one_of(CHOICES[key])}.")
        return Within(word) if key == "ranges" else word

    return read


_ANSWERED: dict[str, Callable[[Reader, str], Any]] = {
    "part": _choice(Part),
    "condition": _choice(Condition),
    "pressing": _choice(Pressing),
    "strained": _strained,
    "herb": _herb,
    "day": _day,
    "ranges": _word_of("ranges"),
    "dates": _word_of("dates"),
    "decimal": _word_of("decimal"),
}
