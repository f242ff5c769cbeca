"""Where a person's own sheet has its headings, and which of its rows hold jars and bottles."""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from stillroom.keeping.interchange.books import BookTable
from stillroom.keeping.interchange.vocabulary import (
    fold,
    headings,
    in_our_units,
    meanings,
    meanings_within,
    plain_words,
)

_HEADINGS_WITHIN = 60
"""Rows from the top in which the headings are looked for."""
_BARE_NUMBER = re.compile(r"[\d.,\s½¼¾/]*[\d½¼¾][\d.,\s]*")
_DATE_FORM = re.compile(r"[dtjgm]{1,2}([./-])[dtjgm]{1,3}\1(?:y|j|a){2,4}")
"""Such as dd/mm/yyyy."""
_DAY = re.compile(r"\d{1,4}([./-])\d{1,2}(?:\1\d{2,4}|\.)?(?: .*)?")
_OF_UNIT = {"%": "strength", "proof": "strength"} | dict.fromkeys(("g", "kg", "oz", "lb"), "mass")
_OF_UNIT |= dict.fromkeys(("ml", "cl", "dl", "l", "fl oz"), "volume")
_MEASURED_IN = {"mass": "mass", "strength": "strength"} | dict.fromkeys(
    ("volume", "yielded", "size", "left", "capacity", "bottles"), "volume"
)
TO_NOTE, LEFT_OUT = "note", "nothing"
"""What a person may want of a column that has no meaning here."""


@dataclass(frozen=True)
class Skipped:
    """A row that holds no jar and no bottle."""

    number: int
    why: str
    text: str

    def __str__(self) -> str:
        return f"row {self.number}, {self.why}" + (f": {self.text}" if self.text else "")


@dataclass(frozen=True)
class SheetRow:
    """A row that holds something, as it is."""

    number: int
    """As the spreadsheet shows it."""
    cells: dict[str, str]
    """By column."""
    others: dict[str, str]
    """By heading, of the columns without a meaning."""
    shelf: str
    """Of the row above it that names a shelf."""
    merged: frozenset[str]
    """Columns whose blank cell is one with the cell above."""


@dataclass(frozen=True)
class _HeadCell:
    """A heading and what it may stand for."""

    text: str
    unit: str = ""
    columns: tuple[str, ...] = ()


@dataclass
class SheetLayout:
    """What the headings of a table mean."""

    columns: dict[str, int] = field(default_factory=dict)
    """The position of each column."""
    headings: dict[str, str] = field(default_factory=dict)
    """What each column is called here."""
    units: dict[str, str] = field(default_factory=dict)
    others: dict[str, int] = field(default_factory=dict)
    """Positions of the columns whose headings mean nothing here."""
    open: dict[str, tuple[str, ...]] = field(default_factory=dict)
    """Headings that may mean several things, and nothing in their cells decides."""


class Sheet:
    """A table of which each row has been judged."""

    def __init__(
        self, table: BookTable, given: Mapping[str, str], left_out: frozenset[int]
    ) -> None:
        """Judge a table; `given` is what a person said of headings, in plain words."""
        self.skipped: list[Skipped] = []
        self.rows: list[SheetRow] = []
        self._table = table
        self._given = given
        self._left_out = left_out
        start = heading_place(table.rows, given)
        self.is_found = start is not None
        """Whether there is a row of headings."""
        self.layout = SheetLayout()
        self.names: list[str] = []
        """What its columns are called; those without a heading by their letter."""
        if start is not None:
            self._judge(start)

    @property
    def blank(self) -> list[int]:
        """Numbers of the rows between others that hold nothing."""
        filled = [place for place, row in enumerate(self._table.rows, 1) if any(row)]
        return sorted({*range(1, max(filled, default=0))} - {*filled})

    def _judge(self, start: int) -> None:
        shelf = ""
        rows = self._table.rows
        for place, row in enumerate(rows[:start]):
            if any(row):
                shelf = self._shelf_named(row) or shelf
                self._skip(place, "a shelf" if self._shelf_named(row) else "a title", row)
        self.layout = self._laid_out(rows[start], rows[start + 1 :])
        heading = rows[start]
        self._last_heading = start
        for place, row in enumerate(rows[start + 1 :], start + 1):
            if not any(row):
                continue
            if place + 1 in self._left_out:
                self._skip(place, "left out as you asked", row)
            elif named := self._shelf_named(row):
                shelf = named
                self._skip(place, "a shelf", row)
            elif self._is_title(place, heading):
                self._skip(place, "a title", row)
            elif _is_units(row) and place == self._last_heading + 1:
                self._skip(place, "units", row)
                for column, at in self.layout.columns.items():
                    unit = meanings("unit").get(fold(_at(at, row)).strip("()[]"))
                    if unit and not self.layout.units.get(column):
                        self.layout.units[column] = unit[0]
            elif self._is_heading(row, heading):
                self._last_heading = place
                self._skip(place, "headings again", row)
                if not _is_repeated(row, heading):
                    heading, self.layout = row, self._laid_out(row, rows[place + 1 :])
            elif _is_total(row) or self._is_sum(place, row):
                self._skip(place, "a total", row)
            elif self._is_remark(row):
                self._skip(place, "a note", row)
            else:
                self.rows.append(self._row(place, row, shelf))

    def _is_heading(self, row: Sequence[str], heading: Sequence[str]) -> bool:
        return _is_repeated(row, heading) or heading_place([row], self._given) == 0

    def _is_title(self, place: int, heading: Sequence[str]) -> bool:
        """Whether a row of one cell is above headings."""
        rows = self._table.rows
        below = next((row for row in rows[place + 1 :] if any(row)), [])
        return sum(map(bool, rows[place])) == 1 and self._is_heading(below, heading)

    def _skip(self, place: int, why: str, row: Sequence[str]) -> None:
        self.skipped.append(Skipped(place + 1, why, " · ".join(filter(None, row))))

    @staticmethod
    def _shelf_named(row: Sequence[str]) -> str:
        """The shelf that a row of one cell names, such as `SHELF A`."""
        filled = [cell for cell in row if cell]
        if len(filled) != 1 or len(filled[0]) > 60:
            return ""
        words = plain_words(filled[0]).split()
        is_shelf = len(words) > 1 and {words[0], words[-1]} & {*meanings("shelf")}
        if not is_shelf:
            return ""
        text = filled[0].strip(" :")
        found = re.fullmatch(r"(?i)(?P<word>\w+)\s*[:\s]\s*(?P<name>.+)", text)
        named = found is not None and fold(found["word"]) in meanings("shelf")
        return f"{found['word'].capitalize()} {found['name']}" if found and named else text

    def _is_remark(self, row: Sequence[str]) -> bool:
        """Whether a row is one cell of words, and no herb whose date was forgotten."""
        filled = [(place, cell) for place, cell in enumerate(row) if cell]
        if len(filled) != 1 or len(self.layout.columns) < 2:
            return False
        ((place, text),) = filled
        is_name = len(text.split()) <= 3 and not re.search(r"[\d:!?.*]", text)
        return not (place == self.layout.columns.get("herb") and is_name)

    def _is_sum(self, place: int, row: Sequence[str]) -> bool:
        """Whether each cell of a row without herb or date is the sum of those above it."""
        figures = {at: _number(cell) for at, cell in enumerate(row) if cell}
        own = {self.layout.columns.get(column) for column in ("herb", "day")}
        if not figures or own & {*figures} or None in figures.values():
            return False
        above = [other for other in self.rows if other.number <= place]
        for at, figure in figures.items():
            cells = [self._table.rows[other.number - 1] for other in above]
            column = [_number(cells[at]) for cells in cells if at < len(cells)]
            total = sum(value for value in column if value is not None)
            if figure is None or len(above) < 2 or abs(total - figure) > 0.005:
                return False
        return True

    def _row(self, place: int, row: Sequence[str], shelf: str) -> SheetRow:
        layout = self.layout
        cells = {}
        for column, at in layout.columns.items():
            text, unit = _at(at, row), layout.units.get(column, "")
            cells[column] = f"{text} {unit}" if unit and _BARE_NUMBER.fullmatch(text) else text
        others = {name: text for name, at in layout.others.items() if (text := _at(at, row))}
        merged = frozenset(
            column
            for column, at in layout.columns.items()
            if (place + 1, at) in self._table.merged and not cells[column]
        )
        return SheetRow(place + 1, cells, others, shelf, merged)

    def _laid_out(self, heading: Sequence[str], below: Sequence[Sequence[str]]) -> SheetLayout:
        """What each heading means: what was said, then what is clear, then what its cells show."""
        layout = SheetLayout()
        width = max([len(heading), *(len(row) for row in below)])
        found = [_heading(_at(place, heading), self._given) for place in range(width)]
        cells = [[_at(place, row) for row in below] for place in range(width)]
        names = [each.text or f"Column {_letters(place)}" for place, each in enumerate(found)]
        said = [self._given.get(plain_words(name)) for name in names]
        for place, column in enumerate(said):
            if column and column not in (TO_NOTE, LEFT_OUT) and column not in layout.columns:
                self._take(layout, column, place, replace(found[place], text=names[place]))
        for is_clear in (True, False):
            for place, each in enumerate(found):
                free = [column for column in each.columns if column not in layout.columns]
                if said[place] or not free or (is_clear and len(each.columns) > 1):
                    continue
                if place in layout.columns.values():
                    continue
                scores = {column: _likeness(column, cells[place]) for column in free}
                best = max(free, key=lambda column: scores[column])
                if len(free) > 1 and not scores[best] and any(map(_number, cells[place])):
                    layout.open[each.text] = tuple(free)
                self._take(layout, best, place, each)
        for place, each in enumerate(found):
            is_taken = place in layout.columns.values() or said[place] == LEFT_OUT
            if not is_taken and (each.text or any(cells[place])):
                layout.others.setdefault(names[place], place)
            if each.text or any(cells[place]):
                self.names.append(names[place])
        return layout

    @staticmethod
    def _take(layout: SheetLayout, column: str, place: int, heading: _HeadCell) -> None:
        layout.columns[column] = place
        layout.headings[column] = heading.text
        is_liquid = heading.unit == "oz" and _MEASURED_IN.get(column) == "volume"
        layout.units[column] = "fl oz" if is_liquid else heading.unit


def heading_place(rows: Sequence[Sequence[str]], given: Mapping[str, str]) -> int | None:
    """The first row that has a herb and a date among its headings, or else most headings."""
    best: tuple[float, int] | None = None
    for place, row in enumerate(rows[:_HEADINGS_WITHIN]):
        filled = [cell for cell in row if cell]
        known = [found for cell in filled if (found := _heading(cell, given).columns)]
        columns = {column for found in known for column in found}
        if len(filled) < 2 and not given:
            continue
        if {"herb", "day"} <= columns and len(known) > 1:
            return place
        if len(rows) > 1 and len(known) * 2 >= len(filled) and columns & {"herb", "day"}:
            best = max(best or (0, 0), (len(known), -place))
    return -best[1] if best else None


def merit(given: Mapping[str, str], rows: Sequence[Sequence[str]]) -> float:
    """How much some rows look like a list of jars: headings known, then rows of one width."""
    known = max(
        (sum(bool(_heading(cell, given).columns) for cell in row if cell.strip())
         for row in rows[:_HEADINGS_WITHIN]),
        default=0,
    )  # fmt: skip
    widths = [len(row) for row in rows if any(row)]
    usual = max(set(widths), key=widths.count) if widths else 0
    return known + (0.5 * widths.count(usual) / len(widths) if usual > 1 else 0)


def _heading(text: str, given: Mapping[str, str]) -> _HeadCell:
    """What a heading may mean, from its words and the unit at its end."""
    text = " ".join(text.split())
    said = given.get(plain_words(text))
    if said in (TO_NOTE, LEFT_OUT):
        return _HeadCell(text)
    name, unit = _name_and_unit(text)
    if said:
        return _HeadCell(text, unit, (said,))
    measured = _OF_UNIT.get(unit, "")
    whole = headings().get(plain_words(text), ())
    columns = whole or headings().get(name, ())
    if columns == ("steep",) or (not columns and _span_and_name(text)[1]):
        unit, rest = _span_and_name(text)
        columns = columns or headings().get(rest, ())
        return _HeadCell(text, unit if columns == ("steep",) else "", columns)
    if not name and unit:
        columns = columns or (measured,)
    fitting = tuple(c for c in columns if not measured or _MEASURED_IN.get(c) == measured)
    if unit == "oz" and not fitting:
        fitting = tuple(c for c in columns if _MEASURED_IN.get(c) == "volume")
    return _HeadCell(text, unit, fitting or columns)


def _name_and_unit(text: str) -> tuple[str, str]:
    """A heading in plain words, and the unit at its end."""
    words = re.sub(r"[^\w%]+|_", " ", fold(text).replace("%", " % ")).split()
    for length in (2, 1):
        unit = meanings("unit").get(" ".join(words[-length:]))
        if len(words) >= length and unit:
            words = words[:-length]
            if words and words[-1] in ("in", "en"):
                words = words[:-1]
            return " ".join(words), unit[0]
    return " ".join(words).replace(" %", ""), "%" if "%" in words else ""


def _span_and_name(text: str) -> tuple[str, str]:
    """Days, weeks or months at the end of a heading, blank if there are none; and what is before.

    >>> _span_and_name("Steep (weeks)"), _span_and_name("Steeping time")
    (('week', 'steep'), ('', ''))
    """
    *before, last = plain_words(text).split() or [""]
    unit = meanings("span").get(last) if len(last) > 1 else None
    return (unit[0], " ".join(w for w in before if w not in ("in", "en"))) if unit else ("", "")


def _likeness(column: str, cells: Sequence[str]) -> float:
    """How many of some cells look like those of a column, a bare number counting little."""
    return sum(_looks_like(column, in_our_units(cell)) for cell in cells if cell)


_FIGURE = r"[\d½¼¾][\d.,/ ½¼¾]*"


def _looks_like(column: str, cell: str) -> float:
    has_volume = re.search(rf"{_FIGURE} ?(?:fl oz|[mcd]?l)\b", cell) is not None
    has_share = re.search(rf"{_FIGURE} ?(?:%|proof)", cell) is not None
    letters = re.search(r"[^\W\d_]", re.sub(r"\b(?:proof|fl oz|[mcd]?l|k?g|oz|lb)\b", "", cell))
    if column == "mass":
        return float(re.search(rf"{_FIGURE} ?(?:k?g|oz|lb)\b", cell) is not None)
    if column == "volume":
        return float(has_volume and not has_share)
    if column == "strength":
        bare = _number(cell)
        is_share = has_share and not has_volume and not letters
        return 1.0 if is_share else 0.5 * (bare is not None and bare <= 100)
    if column in ("strained", "bottles"):
        is_day = _DAY.fullmatch(cell) or meanings_within("month", cell)
        return float(bool(is_day) == (column == "strained"))
    if column == "pressing":
        return float(re.search(r"\d", cell) is None)
    if column == "liquid":
        return float(bool(letters) or (has_volume and has_share))
    return 1.0


def _is_repeated(row: Sequence[str], heading: Sequence[str]) -> bool:
    """Whether a row has the headings once more."""
    pairs = [(fold(_at(place, heading)), fold(cell)) for place, cell in enumerate(row) if cell]
    return len(pairs) > 1 and all(one == other for one, other in pairs)


def _is_units(row: Sequence[str]) -> bool:
    """Whether a row has nothing but units, as some sheets have under their headings."""
    cells = [fold(cell).strip("()[]") for cell in row if cell]
    return all(cell in meanings("unit") or _DATE_FORM.fullmatch(cell) for cell in cells)


def _is_total(row: Sequence[str]) -> bool:
    first = next(plain_words(cell) for cell in row if cell)
    totals = {plain_words(word) for word in meanings("total")}
    return first in totals or (first.split() or [""])[0] in totals - {"sum", "som"}


def _number(cell: str) -> float | None:
    found = re.fullmatch(r"\s*(\d+(?:[.,]\d+)?)\s*(?:[a-zA-Z%]{0,3})\s*", cell)
    return float(found[1].replace(",", ".")) if found else None


def _at(place: int, row: Sequence[str]) -> str:
    return row[place].strip() if place < len(row) else ""


def _letters(place: int) -> str:
    """The letters over a column.

    >>> _letters(0), _letters(27)
    ('A', 'AB')
    """

    def letters() -> Iterator[str]:
        number = place + 1
        while number:
            number, rest = divmod(number - 1, 26)
            yield chr(ord("A") + rest)

    return "".join(letters())[::-1]
