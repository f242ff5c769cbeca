"""A sheet opened: which table it is, what its headings mean, and how its figures are written."""

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path

from stillroom.errors import Refused
from stillroom.keeping.interchange.answers import (
    COMMA,
    DAY_FIRST,
    Answers,
    SheetWishes,
    column_name,
    given_columns,
)
from stillroom.keeping.interchange.books import BookTable, read_book
from stillroom.keeping.interchange.days import day_order
from stillroom.keeping.interchange.entry import DAYS, FIGURES, NEEDED, PAST_DAYS, Reader
from stillroom.keeping.interchange.layout import TO_NOTE, Sheet, merit
from stillroom.keeping.interchange.loose import decimal_mark
from stillroom.keeping.interchange.report import Question
from stillroom.keeping.interchange.vocabulary import fold, in_our_units, plain_words

_DITTO = frozenset(('"', "”", "“", "''", "〃", "ditto", "dito", "do", "do.", "idem", "id.", "dto."))


@dataclass
class Opened:
    """A sheet, how it is to be read, and what must be asked of it as a whole."""

    sheet: Sheet
    reader: Reader
    read_as: str
    questions: list[Question] = field(default_factory=list)
    said: list[str] = field(default_factory=list)
    """What was found out of how it is written, for a person."""
    not_read: tuple[str, ...] = ()
    """Names of other tables in the file."""


def open_sheet(path: Path, wishes: SheetWishes, answers: Answers, reader: Reader) -> Opened:
    """Open a file; Refused, with the reason, where it can't be read at all."""
    given = given_columns(wishes.columns)
    book = read_book(path, partial(merit, given))
    table, asked = _table(book.tables, wishes)
    sheet = Sheet(table, given, wishes.left_out)
    others = tuple(each.name for each in book.tables if each is not table and any(each.rows))
    opened = Opened(sheet, reader, book.read_as, not_read=others)
    if asked:
        opened.questions.append(asked)
    if not sheet.is_found:
        raise Refused(
            "The list needs a column called herb and one called date. If they have other names, "
            'add --map "HEADING=herb" --map "HEADING=date".'
        )
    _refuse_unknown_headings(sheet, set(wishes.columns) - set(wishes.saved_columns))
    _ask_of_columns(opened, given)
    _conventions(opened, answers)
    return opened


def _refuse_unknown_headings(sheet: Sheet, pairs: Iterable[str]) -> None:
    """Raise Refused where a meaning was given to a heading that the sheet doesn't have."""
    known = {plain_words(name) for name in sheet.names}
    for pair in sorted(pairs):
        heading = pair.rpartition("=")[0].strip()
        if plain_words(heading) not in known:
            there = ", ".join(sheet.names)
            raise Refused(f"There is no column {heading}. The columns are {there}.")


def _table(tables: list[BookTable], wishes: SheetWishes) -> tuple[BookTable, Question | None]:
    """The table to read, and the question which where nobody said so."""
    filled = [table for table in tables if any(map(any, table.rows))] or tables[:1]
    if not filled:
        raise Refused("The file has no sheets.")
    names = tuple(table.name for table in filled)
    if wishes.sheet:
        for table in filled:
            if fold(table.name) == fold(wishes.sheet):
                return table, None
        raise Refused(f"There is no sheet {wishes.sheet}. The file has {', '.join(names)}.")
    given = given_columns(wishes.columns)
    likely = max(filled, key=lambda table: merit(given, table.rows))
    if len(filled) == 1 or wishes.accept_unknown:
        return likely, None
    return likely, Question("sheet", (), (), names)


def _ask_of_columns(opened: Opened, given: dict[str, str]) -> None:
    layout = opened.sheet.layout
    for column, name in NEEDED.items():
        if column not in layout.columns:
            free = tuple(f"{heading}={name}" for heading in layout.others)
            opened.questions.append(Question("column", (), (name,), free))
    for heading, columns in layout.open.items():
        if plain_words(heading) not in given:
            answers = tuple(f"{heading}={column_name(each)}" for each in (*columns, TO_NOTE))
            opened.questions.append(Question("meaning", (), (heading,), answers))


def _conventions(opened: Opened, answers: Answers) -> None:
    """How the dates and figures of a sheet are written, from all of them together."""
    rows = opened.sheet.rows

    def texts(columns: Iterable[str]) -> dict[str, list[str]]:
        return {c: [row.cells[c] for row in rows if row.cells.get(c)] for c in columns}

    reader = opened.reader
    order = day_order(texts(DAYS), PAST_DAYS, reader.today)
    day_first = reader.day_first
    if "dates" in answers:
        day_first = answers.of("dates") == DAY_FIRST
    elif day_first is None and order.day_first is not None:
        day_first = order.day_first
        opened.said.append(f"Dates are read as {order.why}")
    elif day_first is None and order.is_in_doubt:
        opened.questions.append(Question("dates", (), (), (DAY_FIRST, "mdy")))
        day_first = True  # so that the other faults are found
    figures = [text for column in texts(FIGURES).values() for text in column]
    mark, is_in_doubt = decimal_mark(figures)
    if "decimal" in answers:
        mark = "," if answers.of("decimal") == COMMA else "."
    elif is_in_doubt and not mark:
        opened.questions.append(Question("decimal", (), (), (COMMA, "point")))
        mark = "."
    elif is_in_doubt:
        shown = "comma" if mark == "," else "point"
        opened.said.append(f"Figures are read with a decimal {shown}, as others in the list show")
    bare = [
        float(text.replace(",", ".")) for text in texts(["strength"])["strength"] if _bare(text)
    ]
    shares = bool(bare) and max(bare) <= 1
    if shares and max(bare) > 0:
        heading = opened.sheet.layout.headings["strength"]
        share, percent = (reader.notation.percent(each * max(bare)) for each in (1, 100))
        said = f"Strengths under {heading} are read as shares of 1: {share.removesuffix(' %')} is "
        opened.said.append(f"{said}{percent}")
    units = opened.sheet.layout.units
    unit = units.get("bottles") or units.get("yielded") or units.get("volume")
    unit = unit or _unit_of(texts(("yielded", "volume", "left")))
    opened.reader = replace(
        reader, day_first=day_first, decimal_mark=mark, bare_shares=shares, bottle_unit=unit
    )


def _unit_of(cells: dict[str, list[str]]) -> str:
    """The unit that all of some volumes carry, for bottles whose sizes have none."""
    texts = [in_our_units(text) for column in cells.values() for text in column]
    found = {unit for unit in ("ml", "fl oz") for text in texts if text.endswith(f" {unit}")}
    return found.pop() if len(found) == 1 else ""


def _bare(text: str) -> bool:
    return text.replace(",", ".", 1).replace(".", "", 1).isdigit() and text.strip(".,") == text


def is_ditto(text: str) -> bool:
    """Whether a cell is there to say the same as the one above."""
    return text.casefold() in _DITTO
