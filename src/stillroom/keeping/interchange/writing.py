"""From the shelf to a folder of CSV files, or to JSON."""

import csv
import io
import json
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from stillroom.errors import Refused, StoreError
from stillroom.files import (
    draft_folder,
    make_folder,
    new_file,
    refuse_name_of_log,
    refuse_shelf,
    sync_folder,
    write_new,
)
from stillroom.keeping.interchange.cells import CellKind
from stillroom.keeping.interchange.columns import (
    FORMAT,
    FORMAT_VERSION,
    MANIFEST,
    FileTable,
    Remembered,
)
from stillroom.keeping.interchange.package import PACKAGE, data_package
from stillroom.keeping.interchange.tables import TABLES
from stillroom.keeping.keeper import Keeper
from stillroom.paths import refuse_unusable
from stillroom.records.disk import lenient_text

AT_ONCE = 200
"""Lines that are made before they are written."""
DESCRIPTION = "COLUMNS.md"
FILES = (*(table.file for table in TABLES), DESCRIPTION, PACKAGE, MANIFEST)
"""Every file an export writes; the manifest last, as a folder without one is incomplete."""


def export_folder(
    keeper: Keeper, folder: Path, *, overwrite: bool = False, shared: bool = False
) -> dict[str, int]:
    """Write the complete shelf into a folder; returns the number of lines by kind of record.

    Its files are readable by their owner alone unless `shared`. Raises Refused where a file of
    these names is there already and `overwrite` is not set, or where it is a shelf or a part of
    one; StillroomError where the folder cannot be.
    """
    refuse_unusable(folder)
    folder = folder.resolve()
    _refuse_taken(folder, overwrite)
    try:
        if folder.exists():
            with draft_folder(folder) as draft:
                counts = _write_all(keeper, draft, shared=shared)
                _replace_files(draft, folder)
        else:
            make_folder(folder.parent)
            with draft_folder(folder.parent) as draft:
                fresh = draft / "draft"
                make_folder(fresh, shared=shared)
                counts = _write_all(keeper, fresh, shared=shared)
                sync_folder(fresh)
                fresh.rename(folder)
                sync_folder(folder.parent)
    except OSError as error:
        raise StoreError(f"{folder} can't be written: {error.strerror or error}.") from error
    return counts


def export_json(keeper: Keeper) -> str:
    """The shelf as one JSON text, with the same names as the CSV files and typed values."""
    with keeper.store.db.atomic():
        shelf = {table.name: list(_plain(keeper, table)) for table in TABLES}
        return json.dumps(_header(keeper) | shelf, ensure_ascii=False, indent=1)


def _plain(keeper: Keeper, table: FileTable) -> Iterator[dict[str, Any]]:
    for values in keeper.store.db.execute_sql(table.select):
        yield {
            column.name: None if value is None else column.cell.plain(value)
            for column, value in zip(table.columns, values, strict=True)
        }


def _header(keeper: Keeper) -> dict[str, Any]:
    return {
        "format": FORMAT,
        "format_version": FORMAT_VERSION,
        "schema_version": keeper.store.schema_version,
        "written_on": keeper.today.isoformat(),
    }


def _refuse_taken(folder: Path, overwrite: bool) -> None:
    if folder == folder.parent:
        raise Refused(f"{folder} is the whole computer. Enter a folder in it.")
    if folder.exists() and not folder.is_dir():
        raise Refused(f"{folder} is a file. Enter a folder.")
    refuse_name_of_log(folder)
    for name in FILES:
        target = folder / name
        refuse_shelf(target.resolve())
        if target.is_dir():
            raise Refused(f"{target} is a folder, so no file can be written there.")
    taken = [name for name in FILES if (folder / name).exists()]
    if taken and not overwrite:
        raise Refused(f"{folder} already holds {taken[0]}. Nothing was replaced.")


def _write_all(keeper: Keeper, folder: Path, *, shared: bool) -> dict[str, int]:
    with keeper.store.db.atomic():  # one moment of the shelf, whatever another program writes
        counts = {table.name: _write_table(keeper, table, folder, shared) for table in TABLES}
        header = _header(keeper)
    write_new(folder / DESCRIPTION, description().encode(), shared=shared)
    write_new(folder / PACKAGE, data_package().encode(), shared=shared)
    manifest = json.dumps(header | {"lines": counts}, indent=2) + "\n"
    write_new(folder / MANIFEST, manifest.encode(), shared=shared)
    return counts


def _write_table(keeper: Keeper, table: FileTable, folder: Path, shared: bool) -> int:
    count = 0
    cells = [Remembered(_writer(column.cell)) for column in table.columns]
    with new_file(folder / table.file, shared=shared) as file, keeper.store.db.text_as_bytes():
        text = io.TextIOWrapper(file, "utf-8", newline="")
        lines = csv.writer(text, lineterminator="\r\n")
        lines.writerow([column.name for column in table.columns])
        found = keeper.store.db.execute_sql(table.select)
        while rows := found.fetchmany(AT_ONCE):
            columns = zip(*rows, strict=True)
            written = [map(c.__getitem__, values) for c, values in zip(cells, columns, strict=True)]
            lines.writerows(zip(*written, strict=True))
            count += len(rows)
        text.detach()
    return count


def _writer(kind: CellKind) -> Callable[[Any], str]:
    """Makes the cells of a column. The tables are STRICT: no value equals one of another type."""

    def write(value: Any) -> str:
        if value is None:
            return ""
        return kind.write(lenient_text(value) if isinstance(value, bytes) else value)

    return write


def _replace_files(draft: Path, folder: Path) -> None:
    """Move finished files into a folder that was there.

    The manifest goes first and comes last, each on the disk before the next step: a power cut
    leaves all of the old, all of the new, or a folder without a manifest.
    """
    (folder / MANIFEST).unlink(missing_ok=True)
    sync_folder(folder)
    for name in FILES:
        if name == MANIFEST:
            sync_folder(folder)
        (draft / name).replace(folder / name)
    sync_folder(folder)


def description() -> str:
    """What every file and column holds, as Markdown."""
    parts = [_PREFACE]
    for table in TABLES:
        parts.append(f"\n## {table.file}\n\n{table.about}\n\n| column | holds | what it is |\n")
        parts.append("|---|---|---|\n")
        for column in table.columns:
            may = "" if column.required else ", or blank"
            parts.append(f"| `{column.name}` | {column.cell.expects}{may} | {column.about} |\n")
    return "".join(parts)


_PREFACE = f"""# A shelf in files

One CSV file for each kind of record (RFC 4180: commas, double quotes, CRLF; UTF-8), and
`{MANIFEST}` with the format's version, the day it was written and the number of lines in each file.
`{PACKAGE}` has the same in the form of a Frictionless Data Package, for other programs.
`stillroom export` writes such a folder and `stillroom import` reads it. If any line is wrong,
nothing is imported.

- The first line names the columns, in any order. A column that may be blank may be left out.
- A name ends in its unit: `_ml` millilitres at 20 °C, `_g` grams, `_abv` per cent ethanol by volume
  at 20 °C. `_on` and `day` are local days (2026-11-26); `at` is a moment in UTC.
- Numbers have a decimal point and no unit. A blank cell means not known, or none.
- Text that a spreadsheet would read as a formula (it starts with `=`, `+`, `-`, `@` or the like) is
  written with an apostrophe in front, which is removed when read.
- If you change a file by hand, correct the numbers under `lines` in `{MANIFEST}`, or remove
  `lines`. In a spreadsheet, open every column as text.
"""
