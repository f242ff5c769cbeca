"""The tables of a spreadsheet file, .xlsx, .ods or text, as rows of plain cells."""

import csv
import io
import re
import xml.etree.ElementTree as ET
import zipfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import date, datetime, time
from pathlib import Path
from typing import Any

from stillroom.errors import Refused
from stillroom.files import open_ordinary
from stillroom.keeping.interchange.decoding import SEPARATORS, cells_of, decoded

MOST_BYTES = 20_000_000
_MOST_UNPACKED = 200_000_000
_MOST_CELLS = 2_000_000
_MOST_COLUMNS = 500
_OLD_EXCEL = b"\xd0\xcf\x11\xe0"
_ZIP = b"PK\x03\x04"
NO_RESULT = "(formula without a result)"
"""Stands for a formula whose result isn't in the file."""

_OFFICE = "{urn:oasis:names:tc:opendocument:xmlns:office:1.0}"
_TABLE = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}"
_TEXT = "{urn:oasis:names:tc:opendocument:xmlns:text:1.0}"


@dataclass(frozen=True)
class BookTable:
    """One table: dates as ISO 8601, numbers with a decimal point, percentages with their sign."""

    name: str
    rows: list[list[str]]
    """From the first row on, so that a row's number is its place plus one."""
    merged: frozenset[tuple[int, int]] = frozenset()
    """Row number and place of cells that are one with the cell above."""


@dataclass(frozen=True)
class Book:
    """A file of tables."""

    tables: list[BookTable]
    is_text: bool
    """Whether it was CSV, in which only the form of a cell shows what it is."""
    read_as: str
    """Its format or encoding, for a person."""
    hints: list[str] = field(default_factory=list)
    """What a person should know of how it was read."""


def read_book(path: Path, merit: Callable[[list[list[str]]], float]) -> Book:
    """Read a file; Refused, with the reason, where it can't be.

    `merit` is how much some rows look like a list of jars, which finds the separator of a text.
    """
    try:
        with open_ordinary(path, MOST_BYTES) as file:
            raw = file.read(MOST_BYTES)
    except OSError as error:
        raise Refused(f"The file can't be read: {error.strerror}.") from error
    if raw.startswith(_OLD_EXCEL):
        raise Refused("This is an old Excel file. Save it as .xlsx or CSV.")
    if raw.startswith(_ZIP):
        return _read_zip(raw)
    text = decoded(raw)
    if "\0" in text.text:
        raise Refused("This is not a spreadsheet. Save it as .xlsx, .ods or CSV.")
    try:
        rows = cells_of(text.text, SEPARATORS, merit)
    except csv.Error as error:
        raise Refused(f"The file is not CSV ({error}).") from error
    rows = [[cell.strip() for cell in row] for row in rows]
    return Book([BookTable(path.stem, rows)], is_text=True, read_as=f"CSV in {text.encoding}")


def _read_zip(raw: bytes) -> Book:
    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as archive:
            if sum(each.file_size for each in archive.infolist()) > _MOST_UNPACKED:
                raise Refused("The file is too large once it is unpacked.")
            names = set(archive.namelist())
            if "content.xml" in names:
                content = archive.read("content.xml")
                return Book(list(_ods_tables(content)), is_text=False, read_as="OpenDocument")
    except Refused:
        raise
    except Exception as error:  # whatever a damaged file sets off: zlib's errors, words for numbers
        raise Refused(f"The file is damaged: {error}.") from error
    if "xl/workbook.xml" not in names:
        raise Refused("This is not a spreadsheet. Save it as .xlsx, .ods or CSV.")
    return _read_xlsx(raw)


def _read_xlsx(raw: bytes) -> Book:
    import openpyxl

    try:
        book = openpyxl.load_workbook(io.BytesIO(raw), data_only=True)
        formulas = openpyxl.load_workbook(io.BytesIO(raw))
        tables = [_xlsx_table(sheet, formulas[sheet.title]) for sheet in book.worksheets]
    except Refused:
        raise
    except Exception as error:  # whatever a damaged file sets off in the library
        raise Refused(f"The file is damaged: {error}.") from error
    return Book(tables, is_text=False, read_as="Excel")


def _xlsx_table(sheet: Any, formulas: Any) -> BookTable:
    if sheet.max_row * min(sheet.max_column, _MOST_COLUMNS) > _MOST_CELLS:
        raise Refused(f"The sheet {sheet.title} is too large.")
    rows = []
    for cells in sheet.iter_rows(max_col=min(sheet.max_column, _MOST_COLUMNS)):
        row = []
        for cell in cells:
            text = _plain(cell.value, cell.number_format)
            if not text and str(_value_at(formulas, cell)).startswith("="):
                text = NO_RESULT
            row.append(text)
        rows.append(row)
    merged = set()
    for area in sheet.merged_cells.ranges:
        for number in range(area.min_row + 1, area.max_row + 1):
            merged.add((number, area.min_col - 1))
    return BookTable(sheet.title, rows, frozenset(merged))


def _value_at(sheet: Any, cell: Any) -> Any:
    return sheet.cell(cell.row, cell.column).value


def _plain(value: Any, shown_as: str = "") -> str:
    """A typed cell as text."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        return value.date().isoformat() if value.time() == time() else value.isoformat(" ")
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, int | float):
        return f"{_number(100 * value)} %" if "%" in shown_as else _number(value) + _unit(shown_as)
    return str(value).strip()


def _unit(shown_as: str) -> str:
    """The unit that a number's format prints after it, as in `0.0" ml"`."""
    found = re.search(r"\"\s*(?P<unit>[a-zA-Z ]+?)\s*\"$|\\ (?P<bare>[a-zA-Z]+)$", shown_as)
    return f" {found['unit'] or found['bare']}" if found else ""


def _number(value: float) -> str:
    """A number without the noise of binary fractions, which no reader takes for thousands."""
    text = f"{round(float(value), 9):.9f}".rstrip("0").rstrip(".")
    whole, point, part = text.partition(".")
    return f"{whole}.{part}0" if point and len(part) == 3 else text


def _ods_tables(content: bytes) -> Iterator[BookTable]:
    """The tables of an OpenDocument 1.3 spreadsheet (OASIS, part 3, section 9)."""
    for table in ET.fromstring(content).iter(f"{_TABLE}table"):
        rows: list[list[str]] = []
        merged: set[tuple[int, int]] = set()
        for element in table.iter(f"{_TABLE}table-row"):
            row, covered = _ods_row(element)
            times = int(element.get(f"{_TABLE}number-rows-repeated", "1"))
            if not any(row) and times > 1000:  # what fills the sheet to its end
                continue
            if (len(rows) + times) * max(1, len(row)) > _MOST_CELLS:
                raise Refused(f"The sheet {table.get(f'{_TABLE}name')} is too large.")
            for _ in range(times):
                rows.append(list(row))
                merged |= {(len(rows), place) for place in covered}
        yield BookTable(table.get(f"{_TABLE}name", ""), rows, frozenset(merged))


def _ods_row(element: ET.Element) -> tuple[list[str], list[int]]:
    """The cells of a row, and the places of those that another cell covers."""
    row: list[str] = []
    covered: list[int] = []
    for cell in element:
        is_covered = cell.tag == f"{_TABLE}covered-table-cell"
        if not is_covered and cell.tag != f"{_TABLE}table-cell":
            continue
        times = int(cell.get(f"{_TABLE}number-columns-repeated", "1"))
        text = _ods_cell(cell)
        for _ in range(min(times, _MOST_COLUMNS - len(row))):
            if is_covered:
                covered.append(len(row))
            row.append(text)
    while row and not row[-1]:
        row.pop()
    return row, covered


def _ods_cell(cell: ET.Element) -> str:
    kind = cell.get(f"{_OFFICE}value-type")
    value = cell.get(f"{_OFFICE}value", "")
    if kind == "date":
        day, _, rest = cell.get(f"{_OFFICE}date-value", "").partition("T")
        return day if rest.strip("0:.") == "" else f"{day} {rest}"
    if kind == "percentage":
        return f"{_number(100 * float(value))} %"
    if kind == "float":
        return _number(float(value))
    if kind == "boolean":
        return "yes" if cell.get(f"{_OFFICE}boolean-value") == "true" else "no"
    return "\n".join("".join(_ods_text(part)) for part in cell.findall(f"{_TEXT}p")).strip()


def _ods_text(element: ET.Element) -> Iterator[str]:
    """The text of a paragraph, in which runs of space and breaks are elements."""
    yield element.text or ""
    for part in element:
        if part.tag == f"{_TEXT}s":
            yield " " * int(part.get(f"{_TEXT}c", "1"))
        elif part.tag in (f"{_TEXT}tab", f"{_TEXT}line-break"):
            yield " "
        elif part.tag != f"{_OFFICE}annotation":
            yield from _ods_text(part)
        yield part.tail or ""
