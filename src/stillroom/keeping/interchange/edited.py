"""A shelf out to a spreadsheet and in again: changed cells are corrections, added rows entries."""

import csv
import json
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date
from io import BytesIO
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from stillroom.errors import Refused
from stillroom.keeping.correcting.correct import carry_out_values
from stillroom.keeping.correcting.facts import facts_of
from stillroom.keeping.correcting.kinds import Fact, FactKind, NewValue, Subject
from stillroom.keeping.interchange.books import read_book
from stillroom.keeping.interchange.cells import Link
from stillroom.keeping.interchange.columns import FORMAT, FORMAT_VERSION, MANIFEST, FileTable
from stillroom.keeping.interchange.missing import (
    Deletions,
    MissingRow,
    left_alone,
    missing_rows,
)
from stillroom.keeping.interchange.reading import Edit, FolderReading, TakenBack
from stillroom.keeping.interchange.report import BadLine, ImportReport
from stillroom.keeping.interchange.row_subjects import subjects_of_row
from stillroom.keeping.interchange.tables import (
    CLOSINGS,
    CODE_ALIASES,
    CORRECTED,
    EVENTS,
    JOURNAL,
    JOURNAL_CHANGES,
    PRINT_LOG,
    SETTINGS,
    TABLES,
)
from stillroom.keeping.keeper import Keeper
from stillroom.quantities import how_many
from stillroom.reckoning.states import LineKind

WHY = "edited in a spreadsheet"
_HISTORY = (
    SETTINGS, CODE_ALIASES, CLOSINGS, PRINT_LOG, JOURNAL, JOURNAL_CHANGES, EVENTS, CORRECTED,
)  # fmt: skip
EDITABLE: tuple[FileTable, ...] = tuple(table for table in TABLES if table not in _HISTORY)
"""What goes out to be edited: what is recorded, without its history and the settings."""


def export_workbook(keeper: Keeper) -> bytes:
    """What is recorded as an Excel workbook, a sheet for each file, every cell as text.

    So no spreadsheet takes a code for a date or a decimal point for a thousand.
    """
    import openpyxl

    book = openpyxl.Workbook(write_only=True)
    with keeper.store.db.atomic():
        for table in EDITABLE:
            sheet = book.create_sheet(table.name)
            sheet.freeze_panes = "A2"
            sheet.append([column.name for column in table.columns])
            for values in keeper.store.db.execute_sql(table.select):
                pairs = zip(table.columns, values, strict=True)
                sheet.append(["" if v is None else _as_text(c.cell.write(v)) for c, v in pairs])
    content = BytesIO()
    book.save(content)
    return content.getvalue()


def _as_text(cell: str) -> str:
    """A cell without characters that a workbook can't hold."""
    return "".join(c for c in cell if c >= " " or c in "\n\t")


def import_edited(
    keeper: Keeper,
    path: Path,
    *,
    delete_missing: bool = False,
    dry_run: bool = False,
    confirmed: bool = False,
) -> ImportReport:
    """Bring back a workbook or folder that was edited, in one undoable act.

    A changed cell is a correction, an added row an entry; a row that is missing stays, or with
    `delete_missing` is deleted, where its sheet or file is there. The preview of the report names
    each. Nothing is changed unless `confirmed`, and with a bad line. Raises
    ReasonNeeded where a closed month or record would change.
    """
    with TemporaryDirectory(prefix="stillroom-") as place:
        tables = _write(Path(place), path)
        reading = FolderReading(keeper, Path(place))
        reading.edits = []
        preview: list[str] = []
        gone: list[MissingRow] = []
        kind = LineKind.CORRECTION
        try:
            with keeper.act("Edited in a spreadsheet", kind=kind) as act:
                db = keeper.store.db
                db.execute_sql("UPDATE undo_state SET correcting = 0")  # added rows obey every rule
                reading.run(tables)
                db.execute_sql("UPDATE undo_state SET correcting = 1")
                preview = [f"{table}: {how_many(count, 'row')} added"
                           for table, count in reading.added.items() if count]  # fmt: skip
                asked = list(_asked(keeper, reading, preview))
                gone = [] if reading.bad else missing_rows(keeper, reading, tables)
                deletions = Deletions(keeper, reading, gone) if delete_missing else None
                if deletions:
                    asked += deletions.corrections
                    preview += deletions.preview
                if asked and not reading.bad:
                    try:
                        preview += carry_out_values(keeper, act, asked).effects
                    except Refused as error:
                        reading.bad.append(BadLine(path.name, None, "", str(error)))
                if deletions and not reading.bad:
                    deletions.delete_others(act)
                if reading.bad or dry_run or not confirmed or not preview:
                    raise TakenBack
                act.title = f"Edited {path.name} in a spreadsheet"
                if act.why:  # a closed record asks for a person's own
                    act.why = f"{WHY}: {act.why}"
        except TakenBack:
            pass
        finally:
            keeper.forget_settings()
    named = {table.file: table.name for table in tables}
    return ImportReport(
        bad=tuple(
            replace(
                bad, file=bad.file if path.is_dir() else named.get(bad.file, bad.file), is_row=True
            )
            for bad in reading.bad
        ),
        added={name: count for name, count in reading.added.items() if count},
        unchanged=reading.unchanged,
        assumed=() if delete_missing else left_alone(gone),
        preview=tuple(preview),
        dry_run=dry_run or not confirmed,
    )


def _asked(keeper: Keeper, reading: FolderReading, preview: list[str]) -> Iterator[NewValue]:
    """The facts that the changed cells are, with their new values."""
    for edit in reading.edits or ():
        found = _fact(keeper, edit)
        place = f"{edit.table.name} row {edit.line}, {edit.column.name}"
        if found is None:
            said = "That can't be changed in a spreadsheet. Correct it in the program."
            reading.bad.append(
                BadLine(edit.table.file, edit.line, edit.column.name, said, is_row=True)
            )
            continue
        subject, fact = found
        value = _value(fact, edit)
        shown = "blank" if value in ("", None) else edit.column.cell.write(edit.after)
        preview.append(f"{place}: {fact.shown or 'blank'} → {shown}")
        yield NewValue(subject, fact, value)


def _fact(keeper: Keeper, edit: Edit) -> tuple[Subject, Fact] | None:
    for subject in subjects_of_row(keeper, edit.table.record, edit.row_id):
        for fact in facts_of(keeper, subject):
            at = fact.cell.record, fact.cell.row_id, fact.cell.column
            if at == (edit.table.record, edit.row_id, edit.column.stored_in):
                return subject, fact
    return None


def _value(fact: Fact, edit: Edit) -> Any:
    """The value of a cell as a fact has it."""
    value = edit.after
    if value in ("", None):
        return None if not isinstance(fact.value, str) else ""
    if fact.kind is FactKind.DAY:
        return date.fromisoformat(str(value))
    if fact.kind is FactKind.YES_NO:
        return bool(value)
    if isinstance(edit.column.cell, Link):
        return str(value)
    is_figure = isinstance(value, float) and isinstance(edit.before, float)
    if is_figure and fact.value == -edit.before:  # a draw, shown as what was taken
        return -value
    return value


def _write(place: Path, path: Path) -> Sequence[FileTable]:
    """Write the tables of a workbook or folder as files that can be read; returns which."""
    found: list[FileTable] = []
    sheets = {table.name: table for table in EDITABLE}
    rows_of: dict[str, list[list[str]]] = {}
    if path.is_dir():
        for table in EDITABLE:
            if (path / table.file).is_file():
                names = {column.name for column in table.columns}
                merit = lambda rows, names=names: float(  # noqa: E731
                    len(names & {cell.strip() for cell in rows[0]}) if rows else 0
                )
                rows_of[table.name] = read_book(path / table.file, merit).tables[0].rows
    else:
        for each in read_book(path, lambda rows: 0.0).tables:
            if each.name in sheets:
                rows_of[each.name] = each.rows
    for name, rows in rows_of.items():
        rows = [row for row in rows if any(row)]
        if not rows:
            continue
        width = len([cell for cell in rows[0] if cell])
        full = [[*row[:width], *[""] * (width - len(row))] for row in rows]
        with (place / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
            csv.writer(file, lineterminator="\r\n").writerows(full)
        found.append(sheets[name])
    if not found:
        raise Refused(f"{path} has no sheet of an export.")
    manifest = {"format": FORMAT, "format_version": FORMAT_VERSION}
    (place / MANIFEST).write_text(json.dumps(manifest), encoding="utf-8")
    return [table for table in EDITABLE if table in found]
