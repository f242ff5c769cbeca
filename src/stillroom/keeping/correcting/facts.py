"""The facts that can be corrected, each with its name, its present value and where it is stored."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import Any

from stillroom.dates import day_or_none
from stillroom.errors import Refused
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.tolerances import EMPTY_ML
from stillroom.keeping.trace.ancestry import find_code
from stillroom.keeping.wording import Wording, wording
from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.kinds import Kind
from stillroom.reckoning.states import BY_HAND, JarState, LiquidKind, MovementKind
from stillroom.reckoning.yields import Pressing


class SubjectKind(StrEnum):
    """What a correction begins with; a jar takes in its straining, tincture and bottles."""

    JAR = "jar"
    BLEND = "blend"
    BOTTLE = "bottle"
    SPIRIT = "spirit"
    HERB = "herb"


@dataclass(frozen=True)
class Subject:
    """What is corrected. Of a blend, `row_id` is its tincture's."""

    kind: SubjectKind
    row_id: int


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
    MONEY = "money"
    COUNT = "count"
    DAY = "day"
    CHOICE = "choice"
    """The value is one of the keys of `choices`."""
    TEXT = "text"
    YES_NO = "yes/no"


Value = float | str | date | bool | None


@dataclass(frozen=True)
class Cell:
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
    cell: Cell
    group: str = ""
    """The heading it is listed under."""
    choices: tuple[tuple[str, str], ...] = ()
    """Keys and labels of what can be chosen."""
    can_be_blank: bool = False
    is_one_more: bool = False
    """Whether it belongs to a row that isn't there yet, such as a pour that was forgotten."""
    hint: str = ""
    """What else can be typed."""


_NOT_THERE = "It no longer exists."
_REMOVES = "0 removes it"
_PARTS = tuple((str(part), str(part)) for part in Part)
_CONDITIONS = tuple((str(condition), str(condition)) for condition in Condition)
_PRESSINGS = tuple((str(pressing), str(pressing)) for pressing in Pressing)
_LIQUIDS = tuple((str(kind), str(kind)) for kind in LiquidKind)
_OUT = tuple((str(kind), str(kind)) for kind in BY_HAND)
YES_NO = (("yes", "yes"), ("no", "no"))

HELD_WHEN_SEEN = "seen"
"""Column of a movement that isn't stored: what the bottle held when it was counted or weighed."""
SHAKES_OF_DAYS = "shakes"


@dataclass(frozen=True)
class _Column:
    """A column that can be corrected, with the name and label of its fact."""

    column: str
    name: str
    label: str
    kind: FactKind
    can_be_blank: bool = False
    choices: tuple[tuple[str, str], ...] = ()
    hint: str = ""


_JAR = (
    _Column("filled_on", "filled", "Filled on", FactKind.DAY),
    _Column("strain_on", "strain", "Strain on", FactKind.DAY),
    _Column("shakes_per_day", "shakes-per-day", "Shakes a day", FactKind.COUNT),
    _Column("capacity_ml", "capacity", "Jar size", FactKind.VOLUME, can_be_blank=True),
    _Column("simmered", "simmered", "Simmered", FactKind.YES_NO, choices=YES_NO),
    _Column("note", "note", "Note", FactKind.TEXT, can_be_blank=True),
)
_DISCARDED = _Column("ended_on", "discarded", "Discarded on", FactKind.DAY)
_HERB_IN_JAR = (
    _Column("herb_id", "herb", "Herb", FactKind.TEXT),
    _Column("part", "part", "Part", FactKind.CHOICE, choices=_PARTS),
    _Column("condition", "condition", "Condition", FactKind.CHOICE, choices=_CONDITIONS),
    _Column("mass_g", "weight", "Weight", FactKind.MASS, can_be_blank=True),
    _Column("water_fraction", "water", "Water measured", FactKind.PERCENT, can_be_blank=True),
    _Column("gathered_on", "gathered", "Gathered on", FactKind.DAY, can_be_blank=True),
    _Column("origin", "origin", "Origin, lot", FactKind.TEXT, can_be_blank=True),
)
_POUR = (
    _Column("volume_ml", "volume", "Volume", FactKind.VOLUME, hint=_REMOVES),
    _Column("strength_abv", "strength", "Strength", FactKind.STRENGTH),
    _Column("kind", "kind", "Liquid", FactKind.CHOICE, choices=_LIQUIDS),
    _Column("spirit_id", "spirit", "Spirit", FactKind.CHOICE, can_be_blank=True),
    _Column("poured_on", "day", "Poured on", FactKind.DAY),
)
_STRAINING = (
    _Column("yield_ml", "yield", "Yield", FactKind.VOLUME),
    _Column("strained_on", "strained", "Strained on", FactKind.DAY),
    _Column("pressing", "pressing", "Pressing", FactKind.CHOICE, choices=_PRESSINGS),
    _Column("marc_g", "marc", "Marc", FactKind.MASS, can_be_blank=True),
    _Column("measured_abv", "measured", "Measured strength", FactKind.STRENGTH, can_be_blank=True),
    _Column("teaches", "teaches", "Teaches the forecast", FactKind.YES_NO, choices=YES_NO),
    _Column("note", "straining-note", "Note on the straining", FactKind.TEXT, can_be_blank=True),
    _Column("jar_id", "jar", "Strained from jar", FactKind.TEXT),
)
_TINCTURE = (
    _Column("name", "name", "Name", FactKind.TEXT, can_be_blank=True),
    _Column("lost_ml", "lost", "Written off", FactKind.VOLUME),
)
_BLEND = (
    _Column("name", "name", "Name", FactKind.TEXT),
    _Column("made_on", "made", "Blended on", FactKind.DAY),
    _Column("note", "note", "Note", FactKind.TEXT, can_be_blank=True),
    _Column("lost_ml", "lost", "Written off", FactKind.VOLUME),
)
_BOTTLE = (
    _Column("size_ml", "size", "Size", FactKind.VOLUME),
    _Column("place", "place", "Place", FactKind.TEXT, can_be_blank=True),
    _Column("filled_on", "day", "Filled on", FactKind.DAY),
)
_SPIRIT = (
    _Column("name", "name", "Name", FactKind.TEXT),
    _Column("strength_abv", "strength", "Strength", FactKind.STRENGTH),
    _Column("bought_ml", "volume", "Bought", FactKind.VOLUME, can_be_blank=True),
    _Column("price", "price", "Price", FactKind.MONEY, can_be_blank=True),
    _Column("bought_on", "bought", "Bought on", FactKind.DAY, can_be_blank=True),
    _Column("origin", "origin", "Origin, lot", FactKind.TEXT, can_be_blank=True),
    _Column("note", "note", "Note", FactKind.TEXT, can_be_blank=True),
)
EVERYTHING, FROM_NOW_ON = "everything", "from now on"
_FOR = (
    (EVERYTHING, "everything it went into"),
    (FROM_NOW_ON, "from now on"),
)
_HERB = (
    _Column("name", "name", "Name", FactKind.TEXT),
    _Column("botanical", "botanical", "Botanical name", FactKind.TEXT, can_be_blank=True),
    _Column("cautions", "cautions", "Cautions", FactKind.TEXT, can_be_blank=True),
    _Column("note", "note", "Note", FactKind.TEXT, can_be_blank=True),
)

_NUMBERS = {
    FactKind.VOLUME: Kind.VOLUME,
    FactKind.MASS: Kind.MASS,
    FactKind.STRENGTH: Kind.STRENGTH,
    FactKind.PERCENT: Kind.PERCENT,
    FactKind.MONEY: Kind.MONEY,
    FactKind.COUNT: Kind.COUNT,
}


def facts_of(keeper: Keeper, subject: Subject) -> tuple[Fact, ...]:
    """What can be corrected of a jar, blend, bottle, spirit or herb, in order.

    Refused where it is no longer there.
    """
    said = wording(keeper)
    return tuple(_FACTS[subject.kind](_Reader(keeper, said), subject.row_id))


def title_of(keeper: Keeper, subject: Subject) -> str:
    """Its name and code, for a title."""
    rows = keeper.rows(_TITLES[subject.kind], subject.row_id)
    if not rows:
        raise Refused(_NOT_THERE)
    return str(rows[0][0])


def code_of(keeper: Keeper, subject: Subject) -> str:
    """Its code, or the name of what has none."""
    rows = keeper.rows(_CODES[subject.kind], subject.row_id)
    if not rows:
        raise Refused(_NOT_THERE)
    return str(rows[0][0])


def subject_of_code(keeper: Keeper, text: str) -> Subject:
    """The jar, blend, bottle, spirit or herb that a code or name refers to.

    A strained jar and its tincture are one. Refused where there is none, or several.
    """
    try:
        found = find_code(keeper, text)
    except Refused:
        named = _named(keeper, text)
        if named is None:
            raise
        return named
    if found.bottle_id is not None:
        return Subject(SubjectKind.BOTTLE, found.bottle_id)
    if found.jar_id is not None:
        return Subject(SubjectKind.JAR, found.jar_id)
    assert found.tincture_id is not None
    return Subject(SubjectKind.BLEND, found.tincture_id)


def subject_of_tincture(keeper: Keeper, tincture_id: int) -> Subject:
    """The jar that a tincture was strained from, or the blend that it is."""
    rows = keeper.rows(
        """SELECT s.jar_id FROM tincture t LEFT JOIN straining s ON s.id = t.straining_id
           WHERE t.id = ?""",
        tincture_id,
    )
    if not rows:
        raise Refused(_NOT_THERE)
    ((jar_id,),) = rows
    if jar_id is None:
        return Subject(SubjectKind.BLEND, tincture_id)
    return Subject(SubjectKind.JAR, jar_id)


def subjects_of_event(keeper: Keeper, event_id: int) -> tuple[Subject, ...]:
    """What a line of the ledger is about, as far as it is still there; the nearest first."""
    rows = keeper.rows(
        """SELECT (SELECT id FROM bottle WHERE id = e.bottle_id),
                  (SELECT id FROM jar WHERE id = e.jar_id),
                  (SELECT id FROM tincture WHERE id = e.tincture_id),
                  (SELECT id FROM spirit WHERE id = e.spirit_id),
                  (SELECT id FROM herb WHERE id = e.herb_id)
           FROM event e WHERE e.id = ?""",
        event_id,
    )
    if not rows:
        raise Refused("That entry no longer exists.")
    bottle_id, jar_id, tincture_id, spirit_id, herb_id = rows[0]
    found = [
        Subject(kind, row_id)
        for kind, row_id in (
            (SubjectKind.BOTTLE, bottle_id),
            (SubjectKind.JAR, jar_id),
            (SubjectKind.SPIRIT, spirit_id),
            (SubjectKind.HERB, herb_id),
        )
        if row_id is not None
    ]
    if tincture_id is not None:
        found.append(subject_of_tincture(keeper, tincture_id))
    return tuple(dict.fromkeys(found))


def _named(keeper: Keeper, text: str) -> Subject | None:
    wanted = " ".join(text.split()).casefold()
    found = [
        Subject(SubjectKind(kind), row_id)
        for kind, row_id, name, day in keeper.rows(
            """SELECT 'spirit', id, name, coalesce(bought_on, '') FROM spirit
               UNION ALL SELECT 'herb', id, name, '' FROM herb"""
        )
        if wanted in (name.casefold(), f"{name} {day}".strip().casefold())
    ]
    if len(found) > 1:
        raise Refused(
            f"Several entries of the cupboard are called {text.strip()}. Add the day of purchase, "
            "such as 2026-11-26."
        )
    return found[0] if found else None


@dataclass(frozen=True)
class _Reader:
    """Reads the rows of a shelf as facts."""

    keeper: Keeper
    said: Wording

    def row(
        self,
        record: str,
        row_id: int | None,
        columns: Sequence[_Column],
        *,
        group: str = "",
        prefix: str = "",
        suffix: str = "",
    ) -> Iterator[Fact]:
        """The facts of one row; blank ones for a row that isn't there yet."""
        values: Sequence[Any] = [None] * len(columns)
        if row_id is not None:
            wanted = ", ".join(each.column for each in columns)
            rows = self.keeper.rows(f"SELECT {wanted} FROM {record} WHERE id = ?", row_id)
            if not rows:
                raise Refused(_NOT_THERE)
            values = rows[0]
        for each, stored in zip(columns, values, strict=True):
            yield self.fact(
                each,
                stored,
                Cell(record, row_id, each.column),
                name=f"{prefix}{each.name}{suffix}",
                group=group,
            )

    def fact(self, column: _Column, stored: Any, cell: Cell, *, name: str, group: str) -> Fact:
        value, choices = stored, column.choices
        if column.kind is FactKind.DAY:
            value = day_or_none(stored)
        elif column.kind is FactKind.YES_NO and stored is not None:
            value = bool(stored)
        elif column.column in _POINTERS and stored is not None:
            value = self._pointed_at(column.column, stored)
        if column.column == "spirit_id":
            choices = self._spirits()
        is_more = cell.row_id is None
        return Fact(
            name=name,
            label=column.label,
            kind=column.kind,
            value=value,
            shown=show_value(column.kind, value, choices, self.said),
            cell=cell,
            group=group,
            choices=choices,
            can_be_blank=column.can_be_blank or is_more,
            is_one_more=is_more,
            hint="" if is_more else column.hint,
        )

    def _pointed_at(self, column: str, row_id: int) -> str:
        ((name,),) = self.keeper.rows(_POINTERS[column], row_id)
        return str(name)

    def _spirits(self) -> tuple[tuple[str, str], ...]:
        rows = self.keeper.rows(
            """SELECT id, name, strength_abv, bought_on FROM spirit
               ORDER BY bought_on IS NULL, bought_on DESC, id DESC"""
        )
        return tuple(
            (
                str(spirit_id),
                f"{name} {self.said.of(Kind.STRENGTH, strength)} "
                f"{self.said.day(day_or_none(day))}".strip(),
            )
            for spirit_id, name, strength, day in rows
        )

    def ids(self, sql: str, row_id: int) -> list[int]:
        return [found for (found,) in self.keeper.rows(sql, row_id)]


_POINTERS = {
    "herb_id": "SELECT name FROM herb WHERE id = ?",
    "jar_id": "SELECT code FROM jar WHERE id = ?",
    "bottle_id": "SELECT code FROM bottle WHERE id = ?",
    "spirit_id": "SELECT id FROM spirit WHERE id = ?",
}


def show_value(
    kind: FactKind, value: Value, choices: Sequence[tuple[str, str]], said: Wording
) -> str:
    """A value in the units of the shelf; blank where it isn't known."""
    if value is None:
        return ""
    if kind is FactKind.YES_NO:
        return "yes" if value else "no"
    if isinstance(value, date):
        return said.day(value)
    if kind is FactKind.CHOICE:
        return dict(choices).get(str(value), str(value))
    if kind in _NUMBERS and isinstance(value, int | float):
        return said.of(_NUMBERS[kind], 100 * value if kind is FactKind.PERCENT else value)
    return str(value)


def _jar_facts(read: _Reader, jar_id: int) -> Iterator[Fact]:
    ((state,),) = read.keeper.rows("SELECT state FROM jar WHERE id = ?", jar_id) or [(None,)]
    columns = (*_JAR, _DISCARDED) if state == JarState.DISCARDED else _JAR
    yield from read.row("jar", jar_id, columns, group="Jar")
    yield Fact(
        name="shakes",
        label="Shakes of a day",
        kind=FactKind.TEXT,
        value="",
        shown="",
        cell=Cell("shake", jar_id, SHAKES_OF_DAYS),
        group="Jar",
        can_be_blank=True,
        hint="day: number, such as 3 Oct: 2",
    )
    herbs = read.ids("SELECT id FROM charge_line WHERE jar_id = ? ORDER BY id", jar_id)
    for number, row_id in enumerate([*herbs, None], start=1):
        suffix = f"-{number}" if number > 1 else ""
        group = f"Herb {number}" if number > 1 or len(herbs) > 1 else "Herb"
        yield from read.row("charge_line", row_id, _HERB_IN_JAR, group=group, suffix=suffix)
    pours = read.ids("SELECT id FROM pour WHERE jar_id = ? ORDER BY id", jar_id)
    for number, row_id in enumerate([*pours, None], start=1):
        yield from read.row(
            "pour", row_id, _POUR, group=f"Liquid {number}", prefix=f"pour-{number}."
        )
    for straining_id in read.ids("SELECT id FROM straining WHERE jar_id = ? ORDER BY id", jar_id):
        yield from read.row("straining", straining_id, _STRAINING, group="Straining")
        for tincture_id in read.ids("SELECT id FROM tincture WHERE straining_id = ?", straining_id):
            yield from read.row("tincture", tincture_id, _TINCTURE, group="Tincture")
            yield from _bottlings(read, tincture_id)


def _blend_facts(read: _Reader, tincture_id: int) -> Iterator[Fact]:
    yield from read.row("tincture", tincture_id, _BLEND, group="Blend")
    parts = read.ids(
        "SELECT movement_id FROM blend_part WHERE tincture_id = ? ORDER BY id", tincture_id
    )
    for number, movement_id in enumerate([*parts, None], start=1):
        group, prefix = f"Part {number}", f"part-{number}."
        yield from read.row("movement", movement_id, (_FROM_BOTTLE,), group=group, prefix=prefix)
        yield _moved(read, movement_id, group=group, name=f"{prefix}volume", sign=-1)
    yield from _bottlings(read, tincture_id)


_FROM_BOTTLE = _Column("bottle_id", "bottle", "From bottle", FactKind.TEXT)


def _moved(read: _Reader, movement_id: int | None, *, group: str, name: str, sign: int) -> Fact:
    """The volume of a movement, whichever way it went."""
    stored = None
    if movement_id is not None:
        ((stored,),) = read.keeper.rows(
            "SELECT volume_ml * ? FROM movement WHERE id = ?", sign, movement_id
        )
    column = _Column("volume_ml", "volume", "Volume", FactKind.VOLUME, hint=_REMOVES)
    return read.fact(
        column, stored, Cell("movement", movement_id, "volume_ml"), name=name, group=group
    )


def _bottlings(read: _Reader, tincture_id: int) -> Iterator[Fact]:
    bottles = read.ids("SELECT id FROM bottle WHERE tincture_id = ? ORDER BY id", tincture_id)
    for number, bottle_id in enumerate([*bottles, None], start=1):
        yield from _filling(read, bottle_id, f"Bottle {number}", f"bottle-{number}.")


def _filling(read: _Reader, bottle_id: int | None, group: str, prefix: str) -> Iterator[Fact]:
    fills = []
    if bottle_id is not None:
        fills = read.ids("SELECT id FROM movement WHERE bottle_id = ? AND kind = 'fill'", bottle_id)
    yield _moved(read, fills[0] if fills else None, group=group, name=f"{prefix}volume", sign=1)
    yield from read.row("bottle", bottle_id, _BOTTLE, group=group, prefix=prefix)


def _bottle_facts(read: _Reader, bottle_id: int) -> Iterator[Fact]:
    if not read.ids("SELECT id FROM bottle WHERE id = ?", bottle_id):
        raise Refused(_NOT_THERE)
    yield from _filling(read, bottle_id, "Bottle", "")
    movements = read.keeper.rows(
        """SELECT id, kind, sum(volume_ml) OVER (ORDER BY id) FROM movement
           WHERE bottle_id = ? ORDER BY id""",
        bottle_id,
    )
    number = 0
    for movement_id, kind, held_ml in movements:
        if kind == MovementKind.FILL:
            continue
        number += 1
        yield from _movement(read, movement_id, MovementKind(kind), held_ml, number)


def _movement(
    read: _Reader, movement_id: int, kind: MovementKind, held_ml: float, number: int
) -> Iterator[Fact]:
    group, prefix = f"Movement {number}: {kind}", f"movement-{number}."
    if kind.corrects:
        seen = _Column(HELD_WHEN_SEEN, "seen", "Held when seen", FactKind.VOLUME)
        held_ml = 0.0 if held_ml < EMPTY_ML else held_ml
        cell = Cell("movement", movement_id, HELD_WHEN_SEEN)
        yield read.fact(seen, held_ml, cell, name=f"{prefix}seen", group=group)
    elif kind in BY_HAND:
        yield _moved(read, movement_id, group=group, name=f"{prefix}volume", sign=-1)
    columns = []
    if kind in BY_HAND:
        columns.append(_Column("kind", "kind", "Kind", FactKind.CHOICE, choices=_OUT))
        columns.append(_Column("bottle_id", "bottle", "Bottle", FactKind.TEXT))
    if kind not in (MovementKind.BLEND, MovementKind.POUR_TOGETHER):
        columns.append(_Column("day", "day", "Day", FactKind.DAY))
        columns.append(_Column("note", "note", "Note", FactKind.TEXT, can_be_blank=True))
    if columns:
        yield from read.row("movement", movement_id, columns, group=group, prefix=prefix)


def _spirit_facts(read: _Reader, spirit_id: int) -> Iterator[Fact]:
    yield from read.row("spirit", spirit_id, _SPIRIT, group="Spirit")
    applies = _Column("for", "for", "The new strength holds for", FactKind.CHOICE, choices=_FOR)
    cell = Cell("spirit", spirit_id, "for")
    yield read.fact(applies, EVERYTHING, cell, name="for", group="Spirit")


def _herb_facts(read: _Reader, herb_id: int) -> Iterator[Fact]:
    yield from read.row("herb", herb_id, _HERB, group="Herb")
    merge = _Column("merge", "merge", "Same herb as", FactKind.TEXT, can_be_blank=True)
    yield read.fact(merge, None, Cell("herb", herb_id, "merge"), name="merge", group="Herb")


_FACTS = {
    SubjectKind.JAR: _jar_facts,
    SubjectKind.BLEND: _blend_facts,
    SubjectKind.BOTTLE: _bottle_facts,
    SubjectKind.SPIRIT: _spirit_facts,
    SubjectKind.HERB: _herb_facts,
}
_TITLES = {
    SubjectKind.JAR: """SELECT (SELECT h.name FROM charge_line l JOIN herb h ON h.id = l.herb_id
                                WHERE l.jar_id = j.id ORDER BY l.id LIMIT 1) || ' ' || j.code
                        FROM jar j WHERE j.id = ?""",
    SubjectKind.BLEND: "SELECT name || ' ' || code FROM tincture WHERE id = ?",
    SubjectKind.BOTTLE: "SELECT code FROM bottle WHERE id = ?",
    SubjectKind.SPIRIT: "SELECT name FROM spirit WHERE id = ?",
    SubjectKind.HERB: "SELECT name FROM herb WHERE id = ?",
}
_CODES = _TITLES | {
    SubjectKind.JAR: "SELECT code FROM jar WHERE id = ?",
    SubjectKind.BLEND: "SELECT code FROM tincture WHERE id = ?",
}
