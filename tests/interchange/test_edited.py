"""What was edited in a spreadsheet comes back as corrections and entries, or not at all."""

import csv
from collections.abc import Callable
from io import BytesIO
from pathlib import Path

import openpyxl
import pytest

from stillroom.errors import ReasonNeeded
from stillroom.keeping.interchange.edited import EDITABLE, export_workbook, import_edited
from stillroom.keeping.interchange.writing import export_folder
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.shelf_file.check import check
from stillroom.keeping.undo import undo

Contents = Callable[[Keeper], list[tuple[object, ...]]]


@pytest.fixture
def workbook(stocked: Keeper, tmp_path: Path):
    """The stocked shelf as a workbook, opened by a reader from elsewhere, and where to save it."""
    book = openpyxl.load_workbook(BytesIO(export_workbook(stocked)))
    return book, tmp_path / "shelf.xlsx"


def cell(sheet, row: int, heading: str):
    """The cell of a row under a heading."""
    headings = [each.value for each in sheet[1]]
    return sheet.cell(row, headings.index(heading) + 1)


def test_a_workbook_that_nobody_edited_changes_nothing(
    stocked: Keeper, workbook, contents: Contents
) -> None:
    book, path = workbook
    assert all(
        isinstance(each.value, str | None) for sheet in book for row in sheet for each in row
    )
    book.save(path)
    before = contents(stocked)
    report = import_edited(stocked, path, confirmed=True)
    assert (report.bad, report.preview, report.added) == ((), (), {})
    assert contents(stocked) == before


def test_changed_cells_become_corrections_and_added_rows_entries_in_one_act(
    stocked: Keeper, workbook, contents: Contents
) -> None:
    book, path = workbook
    jars, herbs = book["jars"], book["herbs_in_jars"]
    cell(jars, jars.max_row, "note").value = "by the east window"
    cell(herbs, herbs.max_row, "mass_g").value = 120  # a number, as a person types it
    moves = book["movements"]
    last = {each.value: moves.cell(moves.max_row, each.column).value for each in moves[1]}
    of_bottle = [row for row in moves.iter_rows(min_row=2, values_only=True)
                 if row[0] == last["bottle"]]  # fmt: skip
    new = last | {
        "number": str(len(of_bottle) + 1),
        "volume_ml": "-5",
        "kind": "draw",
        "note": "tea",
    }
    moves.append([new[each.value] for each in moves[1]])
    book["shakes"].delete_rows(2)  # a row that is missing stays on the shelf
    book.save(path)
    before = contents(stocked)
    shakes = stocked.rows("SELECT count(*) FROM shake")
    shown = import_edited(stocked, path)
    assert shown.bad == ()
    assert f"jars row {jars.max_row}, note: blank → by the east window" in shown.preview
    assert f"herbs_in_jars row {herbs.max_row}, mass_g: 100 g → 120" in shown.preview
    assert "movements: 1 row added" in shown.preview
    assert contents(stocked) == before
    report = import_edited(stocked, path, confirmed=True)
    assert report.is_done
    assert stocked.rows("SELECT note FROM jar ORDER BY id DESC LIMIT 1") == [
        ("by the east window",)
    ]
    assert stocked.rows("SELECT mass_g FROM charge_line ORDER BY id DESC LIMIT 1") == [(120,)]
    assert stocked.rows("SELECT volume_ml FROM movement WHERE note = 'tea'") == [(-5,)]
    assert stocked.rows("SELECT count(*) FROM shake") == shakes
    assert check(stocked) == []
    ((kind, title),) = stocked.rows("SELECT kind, title FROM journal ORDER BY id DESC LIMIT 1")
    assert (kind, title) == ("correction", "Edited shelf.xlsx in a spreadsheet")
    undo(stocked)
    assert stocked.rows("SELECT mass_g FROM charge_line ORDER BY id DESC LIMIT 1") == [(100,)]
    assert stocked.rows("SELECT count(*) FROM movement WHERE note = 'tea'") == [(0,)]


@pytest.mark.parametrize(
    ("sheet", "heading", "value", "said"),
    [
        ("jars", "filled_on", "soon", "Enter a date"),
        ("herbs_in_jars", "mass_g", "-3", "Out of range"),
        ("bottles", "code", "99-001.1", ""),
        ("spirits", "strength_abv", "41", "in the program alone"),
    ],
)
def test_an_impossible_edit_is_refused_with_its_row_and_nothing_changes(
    sheet: str, heading: str, value: str, said: str, stocked: Keeper, workbook, contents: Contents
) -> None:
    book, path = workbook
    cell(book[sheet], 2, heading).value = value
    cell(book["jars"], 3, "note").value = "good in itself"
    book.save(path)
    before = contents(stocked)
    report = import_edited(stocked, path, confirmed=True)
    assert report.bad
    assert any(said in bad.message for bad in report.bad)
    assert contents(stocked) == before


def test_a_folder_saved_with_semicolons_and_a_byte_order_mark_is_read(
    stocked: Keeper, tmp_path: Path
) -> None:
    export_folder(stocked, tmp_path / "out")
    file = tmp_path / "out" / "herbs_in_jars.csv"
    rows = list(csv.reader(file.read_text(encoding="utf-8").splitlines(keepends=True)))
    rows[1][rows[0].index("mass_g")] = "120"
    with file.open("w", encoding="utf-8-sig", newline="") as out:
        csv.writer(out, delimiter=";").writerows(rows)
    with pytest.raises(ReasonNeeded, match="is closed"):
        import_edited(stocked, tmp_path / "out", confirmed=True)
    with stocked.because("the label said so"):
        assert import_edited(stocked, tmp_path / "out", confirmed=True).is_done
    ((why,),) = stocked.rows("SELECT why FROM journal ORDER BY id DESC LIMIT 1")
    assert why == "edited in a spreadsheet: the label said so"
    assert stocked.rows("SELECT mass_g FROM charge_line ORDER BY id LIMIT 1") == [(120,)]


def test_a_figure_can_be_entered_in_a_blank_cell(stocked: Keeper, workbook) -> None:
    book, path = workbook
    herbs = book["herbs_in_jars"]
    ((row,),) = [[n] for n in range(2, herbs.max_row + 1) if not cell(herbs, n, "mass_g").value]
    cell(herbs, row, "mass_g").value = "77.5"
    book.save(path)
    report = import_edited(stocked, path, confirmed=True)
    assert report.bad == ()
    assert stocked.rows("SELECT mass_g FROM charge_line WHERE lot_id IS NOT NULL") == [(77.5,)]


def without(content: bytes, path: Path, *gone: tuple[str, int]) -> None:
    """Save a workbook without these rows, the last of a sheet first."""
    book = openpyxl.load_workbook(BytesIO(content))
    for sheet, row in sorted(gone, key=lambda place: -place[1]):
        book[sheet].delete_rows(row)
    book.save(path)


def rows_of(content: bytes) -> dict[str, list[tuple[object, ...]]]:
    """The rows of each sheet, as another reader reads them."""
    book = openpyxl.load_workbook(BytesIO(content))
    return {sheet.title: list(sheet.iter_rows(values_only=True)) for sheet in book}


def test_missing_rows_are_deleted_only_on_request_and_in_one_act(
    stocked: Keeper, tmp_path: Path
) -> None:
    content, path = export_workbook(stocked), tmp_path / "shelf.xlsx"
    before = rows_of(content)
    given = next(n for n, row in enumerate(before["movements"], start=1) if "give" in row)
    gone = [("shakes", 2), ("movements", given), ("straining_goes", 3), ("bottle_sizes", 2)]
    gone += [("formula_parts", 2), ("formula_parts", 3), ("formulas", 2)]
    without(content, path, *gone)
    with stocked.because("a slip"):
        report = import_edited(stocked, path, confirmed=True)
        assert report.preview == ()
        assert "shakes: 1 row, left as it is." in report.assumed
        assert "formula_parts: 2 rows, left as they are." in report.assumed
        shown = import_edited(stocked, path, delete_missing=True)
        assert shown.bad == ()
        assert "shakes 26-001, 2026-11-26, 1: deleted" in shown.preview
        assert len([line for line in shown.preview if line.endswith(": deleted")]) == len(gone)
        assert rows_of(export_workbook(stocked)) == before
        assert import_edited(stocked, path, delete_missing=True, confirmed=True).is_done
    assert check(stocked) == []
    after = rows_of(export_workbook(stocked))
    for sheet, rows in before.items():
        assert len(after[sheet]) == len(rows) - sum(name == sheet for name, _ in gone)
    undo(stocked)
    assert rows_of(export_workbook(stocked)) == before


def test_deleting_a_row_of_any_file_is_refused_or_removes_it_from_the_shelf(
    stocked: Keeper, tmp_path: Path
) -> None:
    export_folder(stocked, tmp_path / "out")
    done = set()
    for table in EDITABLE:
        file = tmp_path / "out" / table.file
        with file.open(encoding="utf-8", newline="") as opened:
            rows = list(csv.reader(opened))
        if len(rows) == 1:
            continue
        content = file.read_bytes()
        with file.open("w", encoding="utf-8", newline="") as opened:
            csv.writer(opened).writerows(rows[:-1])
        with stocked.because("a slip"), stocked.rehearsal():
            report = import_edited(stocked, tmp_path / "out", delete_missing=True, confirmed=True)
            left = len(stocked.rows(table.select))
            problems = check(stocked)
        file.write_bytes(content)
        assert problems == []
        assert report.is_done != bool(report.bad)
        assert left == len(rows) - 1 - report.is_done
        done |= {table.name} if report.is_done else set()
    assert done >= {
        "spirits",
        "bottle_sizes",
        "gathering_windows",
        "shakes",
        "losses",
        "formula_parts",
    }
