"""What a calculator is: its fields, its working, and what comes out, without any screen."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TypeAlias

from stillroom.errors import StillroomError
from stillroom.reckoning import kinds
from stillroom.reckoning.filling import FillPlan
from stillroom.reckoning.kinds import Addend, Figure, Kind, Sum
from stillroom.reckoning.limits import OutOfRange

Scalar: TypeAlias = float | str | None
Value: TypeAlias = Scalar | Sequence[Mapping[str, Scalar]]
"""A number in the inner unit of its kind, the key of a choice, words, blank, or a list of rows."""


@dataclass(frozen=True)
class Sentence:
    """Words with figures in them, `{0}` for the first: filled in the user's units when shown."""

    text: str
    figures: tuple[Figure, ...] = ()
    sum: Sum | None = None
    """The sum it sets out, where it sets one out."""

    def plain(self) -> str:
        """The sentence in metric units.

        >>> Sentence("{0} at {1}", (ml(600), abv(40))).plain()
        '600 mL at 40 % vol'
        """
        return self.text.format(*(_plain(figure) for figure in self.figures))


class Unworkable(StillroomError, ValueError):
    """The values don't go together; `str()` gives the reason in metric, `sentence` in any units."""

    def __init__(self, sentence: Sentence | str, field: str | None = None) -> None:
        self.sentence = Sentence(sentence) if isinstance(sentence, str) else sentence
        self.field = field
        """Key of the field it belongs to; in a list of rows `key.row.column`, rows from 0."""
        super().__init__(self.sentence.plain())


@dataclass(frozen=True)
class Field:
    """One thing a calculator asks for."""

    key: str
    label: str
    kind: Kind
    default: Scalar = None
    help: str = ""
    required: bool = True
    choices: tuple[tuple[str, str], ...] = ()
    """Key and label of each option, for `Kind.CHOICE`."""
    columns: tuple["Field", ...] = ()
    """When there are any, the value is a list of rows with these columns."""
    instrument: tuple[str, str] | None = None
    """For an instrument's reading, the keys of the choices for its scale and for the temperature at
    which that is true: how the reading is written decides where they are `AS_WRITTEN`."""


@dataclass(frozen=True)
class Result:
    """One thing a calculator finds."""

    key: str
    label: Sentence
    """Usually plain words; with a figure in it where two labels would read the same."""
    value: Figure | Sentence


@dataclass(frozen=True)
class Outcome:
    """Everything a calculator has to say."""

    results: tuple[Result, ...]
    """The main one first."""
    working: tuple[Sentence, ...] = ()
    """The sum in words, to be checked by hand."""
    assumptions: tuple[Sentence, ...] = ()
    sources: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    warnings: tuple[Sentence, ...] = ()
    """What is wrong with this case in particular."""
    plan: FillPlan | None = None
    """For a jar that can be filled as calculated."""


@dataclass(frozen=True)
class Given:
    """The values of a calculator, or of one row, with their types known."""

    values: Mapping[str, Value]
    rows_of: Mapping[str, tuple["Given", ...]] = field(default_factory=dict)

    def number(self, key: str) -> float:
        value = self.values[key]
        assert isinstance(value, int | float)
        return float(value)

    def maybe(self, key: str) -> float | None:
        return None if self.values[key] is None else self.number(key)

    def words(self, key: str) -> str:
        return str(self.values[key] or "")

    def rows(self, key: str) -> tuple["Given", ...]:
        return self.rows_of[key]


@dataclass(frozen=True)
class Calculator:
    """One entry of the registry."""

    name: str
    """As typed on the command line."""
    title: str
    summary: str
    fields: tuple[Field, ...]
    work: Callable[[Given], Outcome]

    def reckon(self, values: Mapping[str, Value]) -> Outcome:
        """Returns the outcome for some values.

        A field left out takes its default; one given as None is blank. What is missing or out of
        range raises `Unworkable` with the field it belongs to.
        """
        known = {f.key for f in self.fields}
        for key in values:
            if key not in known:
                raise Unworkable(f"{self.title} has no such field.", key)
        try:
            return self.work(_given(self.fields, values, ""))
        except OutOfRange as error:
            raise Unworkable(Sentence(error.text, error.figures)) from error


def _given(fields: Iterable[Field], values: Mapping[str, Value], place: str) -> Given:
    scalars: dict[str, Value] = {}
    rows: dict[str, tuple[Given, ...]] = {}
    for f in fields:
        if f.columns:
            rows[f.key] = _rows(f, values, place)
        else:
            scalars[f.key] = _scalar(f, values.get(f.key, f.default), place + f.key)
    return Given(scalars, rows)


def _rows(f: Field, values: Mapping[str, Value], place: str) -> tuple[Given, ...]:
    """The rows that have anything in them; one row of defaults when the field is left out."""
    given = values.get(f.key, ({},) if f.required else ())
    if isinstance(given, str | int | float):
        raise Unworkable(f"{f.label} must be a list.", place + f.key)
    rows = []
    for i, row in enumerate(given or ()):
        if row and all(value is None for value in row.values()):
            continue
        rows.append(_given(f.columns, row, f"{place}{f.key}.{i}."))
    if f.required and not rows:
        raise Unworkable(f"{f.label}: at least one is needed.", place + f.key)
    return tuple(rows)


def _scalar(f: Field, value: Value, place: str) -> Scalar:
    if value is None or value == "":
        if f.required:
            raise Unworkable(f"{f.label} is needed.", place)
        return None
    if f.kind in (Kind.CHOICE, Kind.TEXT):
        if f.choices and value not in dict(f.choices):
            raise Unworkable(f"{f.label} must be one of: {_or(f.choices)}.", place)
        return str(value)
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise Unworkable(f"{f.label} must be a number.", place)
    low, high = LIMITS.get(f.kind, (0.0, TOO_MUCH))
    if not low <= value <= high:
        raise Unworkable(_limit_sentence(f, value, low, high), place)
    return 0.0 if abs(value) < NOTHING else float(value)


LIMITS = {
    Kind.STRENGTH: (0.0, 100.0),
    Kind.PERCENT: (0.0, 100.0),
    Kind.TEMPERATURE: (-20.0, 40.0),
}
"""Every other kind of number is zero or more."""

TOO_MUCH = 1e9
"""A thousand tonnes, or a thousand cubic metres."""
FINER = 50.0
"""A fiftieth of a value between 50 and 5000 mL or g has one decimal more than the value has."""
NOTHING = 1e-6
"""A nanolitre, or a microgram, is none."""


def _limit_sentence(f: Field, value: float, low: float, high: float) -> Sentence:
    if high == TOO_MUCH:
        fault = "is too large" if value > high else "must be zero or more"
        return Sentence(f"{f.label} {fault}.")
    ends = (Figure(f.kind, low), Figure(f.kind, high))
    return Sentence(f"{f.label} must be from {{0}} to {{1}}.", ends)


def _or(choices: tuple[tuple[str, str], ...]) -> str:
    return ", ".join(key for key, _ in choices)


def result(key: str, label: str, value: Figure | Sentence | str, *in_label: Figure) -> Result:
    shown = Sentence(value) if isinstance(value, str) else value
    return Result(key, Sentence(label, in_label), shown)


def span(low: Figure, high: Figure) -> Sentence:
    """A range, where a single number would pretend."""
    return Sentence("{0} to {1}", (low, high))


def say(text: str, *figures: Figure) -> Sentence:
    return Sentence(text, figures)


def difference(text: str, *figures: Figure) -> Sentence:
    """A sentence that takes its second figure from its first and arrives at its third."""
    return Sentence(text, figures, Sum(2, kinds.difference, is_exact=True))


def total(text: str, *figures: Figure) -> Sentence:
    """A sentence whose last figure is all the others added up."""
    return Sentence(text, figures, Sum(len(figures) - 1, kinds.total, is_exact=True))


def product(text: str, *figures: Figure) -> Sentence:
    """A sentence whose third figure is its first times its second."""
    return Sentence(text, figures, Sum(2, kinds.product))


def quotient(text: str, *figures: Figure) -> Sentence:
    """A sentence whose third figure is its first over its second."""
    return Sentence(text, figures, Sum(2, kinds.quotient))


def share(text: str, *figures: Figure) -> Sentence:
    """A sentence whose third figure is its first at the percentage that is its second."""
    return Sentence(text, figures, Sum(2, kinds.share))


def ml(value: float) -> Figure:
    return Figure(Kind.VOLUME, value)


def grams(value: float) -> Figure:
    return Figure(Kind.MASS, value)


def finely(figure: Figure) -> Figure:
    """With a digit more than usual, so that a sum made of it can be checked."""
    return replace(figure, fine_as=abs(figure.value) / FINER)


def adding_up(
    kind: Kind, *sums: Sequence[float], for_checking: bool = False
) -> tuple[Figure, list[tuple[Figure, ...]]]:
    """Returns the figure of a total, and those of each of the sums that come to it.

    All are printed to the same decimals and add up as printed: enough decimals for the smallest of
    them, yet no more than one beyond what the total would have; that one in any case where more is
    to be checked with them.

    >>> total, [(big, small)] = adding_up(Kind.VOLUME, (451.7, 28.3))
    >>> total.value, small.fine_as
    (480.0, 28.3)
    """
    total = sum(sums[0])
    sizes = [abs(part) for parts in sums for part in parts if abs(part) > NOTHING]
    finest = abs(total) / FINER
    fine_as = finest if for_checking else max(min(sizes, default=0.0), finest)
    figures = [
        tuple(
            Figure(kind, part, fine_as=fine_as, addend=Addend(tuple(parts), total, place))
            for place, part in enumerate(parts)
        )
        for parts in sums
    ]
    return Figure(kind, total, fine_as=fine_as), figures


def abv(value: float) -> Figure:
    return Figure(Kind.STRENGTH, value)


def one_to(n: float) -> Figure:
    return Figure(Kind.RATIO, n)


def percent(value: float) -> Figure:
    return Figure(Kind.PERCENT, value)


def celsius(value: float) -> Figure:
    return Figure(Kind.TEMPERATURE, value)


def count(value: float) -> Figure:
    return Figure(Kind.COUNT, value)


def number(value: float) -> Figure:
    return Figure(Kind.NUMBER, value)


def ml_per_g(value: float) -> Figure:
    return Figure(Kind.RETENTION, value)


def g_per_ml(value: float) -> Figure:
    return Figure(Kind.CONCENTRATION, value)


def density_of(value: float) -> Figure:
    return Figure(Kind.DENSITY, value)


def drops_per_ml_of(value: float) -> Figure:
    return Figure(Kind.DROPS, value)


def money(value: float) -> Figure:
    return Figure(Kind.MONEY, value)


_PLAIN_UNIT = {
    Kind.VOLUME: "{} mL",
    Kind.MASS: "{} g",
    Kind.STRENGTH: "{} % vol",
    Kind.US_PROOF: "{} proof",
    Kind.UK_PROOF: "{} UK proof",
    Kind.RATIO: "1:{}",
    Kind.PERCENT: "{} %",
    Kind.TEMPERATURE: "{} °C",
    Kind.DENSITY: "{} g/mL",
    Kind.RETENTION: "{} mL/g",
    Kind.CONCENTRATION: "{} g/mL",
    Kind.DROPS: "{} drops/mL",
    Kind.MONEY_PER_ML: "{} per mL",
    Kind.MONEY_PER_G: "{} per g",
    Kind.DAYS: "{} days",
}


def _plain(figure: Figure) -> str:
    """A figure in metric units, to three or four digits."""
    size = abs(figure.value)
    places = 0 if size >= 1000 else 1 if size >= 10 else 2 if size >= 1 else 3
    if figure.kind is Kind.DENSITY:
        places = 4
    text = f"{figure.value:.{places}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return _PLAIN_UNIT.get(figure.kind, "{}").format(text)
