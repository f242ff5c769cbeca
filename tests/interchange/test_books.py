"""Spreadsheet files as tables of plain cells, and files that are none."""

import io
import random
import zipfile
from contextlib import suppress
from datetime import date, datetime
from pathlib import Path

import openpyxl
import pytest

from stillroom.errors import Refused
from stillroom.keeping.interchange import books
from stillroom.keeping.interchange.books import NO_RESULT, Book, read_book

from ..examples import examples

NAMES = "".join(
    f' xmlns:{short}="urn:oasis:names:tc:opendocument:xmlns:{short}:1.0"'
    for short in ("office", "table", "text")
)


def open_document(rows: str) -> bytes:
    """A spreadsheet in OpenDocument with one table, written here by hand from the standard."""
    content = (
        f"<office:document-content{NAMES}><office:body><office:spreadsheet>"
        f'<table:table table:name="Jars">{rows}</table:table>'
        "</office:spreadsheet></office:body></office:document-content>"
    )
    return zipped({"content.xml": content})


def zipped(files: dict[str, str]) -> bytes:
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, text in files.items():
            archive.writestr(name, text)
    return file.getvalue()


def workbook() -> bytes:
    """An Excel file with a cell of each kind."""
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.append(["Herb", True, datetime(2026, 11, 2), datetime(2026, 11, 2, 7, 30), 0.4, 120.5])
    sheet.append(["=1+1", None, date(2026, 11, 2), 602.5, 12])
    sheet["E1"].number_format = "0%"
    sheet["F1"].number_format = '0.0" g"'
    sheet["D2"].number_format = "0.0\\ g"
    sheet.merge_cells("A2:A3")
    file = io.BytesIO()
    book.save(file)
    return file.getvalue()


def read(raw: bytes, folder: Path) -> Book:
    path = folder / "sheet.ods"
    path.write_bytes(raw)
    return read_book(path, lambda rows: float(len(rows)))


@pytest.mark.parametrize(
    ("cell", "text"),
    [
        ('office:value-type="float" office:value="602.5"', "602.5"),
        ('office:value-type="percentage" office:value="0.4"', "40 %"),
        ('office:value-type="boolean" office:boolean-value="true"', "yes"),
        ('office:value-type="boolean" office:boolean-value="false"', "no"),
        ('office:value-type="date" office:date-value="2026-11-02"', "2026-11-02"),
        ('office:value-type="date" office:date-value="2026-11-02T00:00:00"', "2026-11-02"),
        ('office:value-type="date" office:date-value="2026-11-02T07:30:00"', "2026-11-02 07:30:00"),
    ],
)
def test_a_typed_cell_of_opendocument_is_read_by_its_value(
    cell: str, text: str, tmp_path: Path
) -> None:
    row = f"<table:table-row><table:table-cell {cell}/></table:table-row>"
    assert read(open_document(row), tmp_path).tables[0].rows == [[text]]


def test_runs_of_space_and_breaks_in_opendocument_are_text_and_comments_are_not(
    tmp_path: Path,
) -> None:
    cell = (
        '<table:table-cell office:value-type="string"><text:p>Sage<text:s text:c="2"/>of the'
        "<text:line-break/>hill<office:annotation><text:p>mine</text:p></office:annotation>"
        "<text:span>side</text:span></text:p><text:p>dry</text:p></table:table-cell>"
    )
    row = f"<table:table-row>{cell}</table:table-row>"
    assert read(open_document(row), tmp_path).tables[0].rows == [["Sage  of the hillside\ndry"]]


def test_repeated_rows_and_cells_are_written_out_and_what_fills_the_sheet_is_not(
    tmp_path: Path,
) -> None:
    cell = (
        '<table:table-cell table:number-columns-repeated="2"><text:p>x</text:p></table:table-cell>'
    )
    rows = (
        f'<table:table-row table:number-rows-repeated="2">{cell}</table:table-row>'
        '<table:table-row table:number-rows-repeated="1048000"><table:table-cell/>'
        "</table:table-row>"
    )
    assert read(open_document(rows), tmp_path).tables[0].rows == [["x", "x"], ["x", "x"]]


def test_a_cell_that_another_covers_is_known_as_one_with_it(tmp_path: Path) -> None:
    rows = (
        "<table:table-row><table:table-cell><text:p>A</text:p></table:table-cell></table:table-row>"
        "<table:table-row><table:covered-table-cell/></table:table-row>"
    )
    assert read(open_document(rows), tmp_path).tables[0].merged == {(2, 0)}


def test_a_typed_cell_of_excel_is_read_by_its_value_and_its_format(tmp_path: Path) -> None:
    book = read(workbook(), tmp_path)
    assert book.tables[0].rows[:2] == [
        ["Herb", "yes", "2026-11-02", "2026-11-02 07:30:00", "40 %", "120.5 g"],
        [NO_RESULT, "", "2026-11-02", "602.5 g", "12", ""],
    ]
    assert book.tables[0].merged == {(3, 0)}


@pytest.mark.parametrize(
    ("raw", "said"),
    [
        (zipped({"word/document.xml": "<a/>"}), "not a spreadsheet"),
        (zipped({"content.xml": "<a"}), "damaged"),
        (b"PK\x03\x04 and no more", "damaged"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "old Excel file"),
        (b"a\0b\n", "not a spreadsheet"),
    ],
)
def test_a_file_that_is_no_table_is_refused_with_the_reason(
    raw: bytes, said: str, tmp_path: Path
) -> None:
    with pytest.raises(Refused, match=said):
        read(raw, tmp_path)


def test_a_table_too_large_for_any_shelf_is_refused_before_it_is_written_out(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    row = (
        '<table:table-row table:number-rows-repeated="900"><table:table-cell>'
        "<text:p>x</text:p></table:table-cell></table:table-row>"
    )
    monkeypatch.setattr(books, "_MOST_CELLS", 500)
    with pytest.raises(Refused, match="too large"):
        read(open_document(row), tmp_path)
    monkeypatch.setattr(books, "_MOST_CELLS", 5)
    with pytest.raises(Refused, match="too large"):
        read(workbook(), tmp_path)
    monkeypatch.setattr(books, "_MOST_UNPACKED", 50)
    with pytest.raises(Refused, match="too large once it is unpacked"):
        read(open_document(row), tmp_path)


@pytest.mark.parametrize("kind", ["ods", "xlsx"])
def test_a_damaged_spreadsheet_is_read_or_refused(kind: str, tmp_path: Path) -> None:
    row = (
        '<table:table-row><table:table-cell office:value-type="float" office:value="602.5"'
        ' table:number-columns-repeated="2"/><table:table-cell office:value-type="percentage"'
        ' office:value="0.4"/></table:table-row>'
    )
    whole = open_document(row) if kind == "ods" else workbook()
    chance = random.Random(1)
    for _ in range(examples(500)):
        spoiled = bytearray(whole)
        for _ in range(chance.randint(1, 4)):
            spoiled[chance.randrange(4, len(spoiled))] = chance.randrange(256)
        with suppress(Refused):
            read(
                bytes(spoiled[: chance.choice([None, chance.randrange(4, len(spoiled))])]), tmp_path
            )


@pytest.mark.parametrize(
    "cell",
    [
        'office:value-type="float"',
        'office:value-type="float" office:value="much"',
        'office:value-type="percentage" office:value=""',
        'table:number-columns-repeated="two"',
    ],
)
def test_an_opendocument_cell_that_says_no_number_where_one_belongs_is_refused(
    cell: str, tmp_path: Path
) -> None:
    cells = f"<table:table-cell {cell}><text:p>x</text:p></table:table-cell>"
    row = f"<table:table-row>{cells}</table:table-row>"
    with pytest.raises(Refused, match="damaged"):
        read(open_document(row), tmp_path)
