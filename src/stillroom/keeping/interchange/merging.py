"""Two shelves made one: codes that both have get new ones, and stay known by the old."""

import csv
import json
import re
from collections.abc import Iterable, Sequence
from pathlib import Path
from tempfile import TemporaryDirectory

from stillroom.errors import Refused
from stillroom.files import open_ordinary
from stillroom.keeping.codes import next_batch_code
from stillroom.keeping.interchange.cells import Link
from stillroom.keeping.interchange.columns import MANIFEST, FileColumn, FileTable
from stillroom.keeping.interchange.lines import MOST_BYTES
from stillroom.keeping.interchange.reading import FolderReading, TakenBack
from stillroom.keeping.interchange.report import BadLine, ImportReport, row_ranges
from stillroom.keeping.interchange.tables import CODE_ALIASES, OLDER_TABLES, SETTINGS, TABLES
from stillroom.keeping.keeper import Keeper
from stillroom.quantities import how_many
from stillroom.reckoning.states import LineKind
from stillroom.records.tables import CodeAlias

_CODED = ("jar", "tincture", "bottle", "herb_lot")
_FILES = {"jar": "jars", "tincture": "tinctures", "bottle": "bottles", "herb_lot": "herb_lots"}
_NAMED = frozenset(("herbs.csv", "shelves.csv", "formulas.csv"))
"""Files whose lines are linked by a name, and not by a code."""
MOST_CODES_SHOWN = 10
"""Codes named in the refusal of a merge; a shelf may have hundreds."""
Rows = list[list[str]]


def merge_folder(
    keeper: Keeper, folder: Path, *, renumber: bool = False, dry_run: bool = False
) -> ImportReport:
    """Take the shelf that another person exported into this one, in one undoable act.

    Codes that both have are refused, each with what it is on either shelf, unless `renumber`: then
    both get a new one, and the old stay as aliases. What both have under one name, such as herbs,
    stays as it is here, and so do the settings. With a bad line or in a dry run nothing is changed.
    """
    files = _read(folder)
    aliases = "SELECT code, new_code FROM code_alias WHERE shelf = ?"
    known = dict(keeper.rows(aliases, folder.name))
    ours_clash, theirs_clash = _clashing(keeper, files, known)
    clashing = list(dict.fromkeys([*theirs_clash, *ours_clash]))
    if clashing and not renumber:
        bad = BadLine(folder.name, None, "", _codes_of_both(clashing))
        return ImportReport(bad=(bad,), dry_run=dry_run)
    here = keeper.path.stem
    ours, theirs = _new_codes(keeper, files, ours_clash, theirs_clash, known)
    formulas = {
        name: f"{name} ({folder.name})" for (name,) in keeper.rows("SELECT name FROM formula")
    }
    with TemporaryDirectory(prefix="stillroom-") as place:
        _write(Path(place), folder, files, theirs, formulas)
        reading = FolderReading(keeper, Path(place))
        reading.keeps_ours = True
        try:
            with keeper.act(f"Merged {folder.name}", kind=LineKind.IMPORT) as act:
                _rename(keeper, ours)
                reading.run()
                for codes, shelf in ((ours, here), (theirs, folder.name)):
                    for old, new in codes.items():
                        if codes is ours or old not in known:
                            CodeAlias.insert(code=old, new_code=new, shelf=shelf).execute()
                if reading.bad or dry_run:
                    raise TakenBack
                count = sum(reading.added.values())
                act.title = f"Merged {how_many(count, 'line')} from {folder.name}"
        except TakenBack:
            pass
        finally:
            keeper.forget_settings()
    renumbered = [
        f"{old} is {' and '.join(now)}."
        for old in dict.fromkeys([*ours, *(code for code in theirs if code not in known)])
        if (now := _now(old, ours, theirs, folder.name))
    ]
    kept = [
        f"Left as it is here: {file}, {'line' if len(lines) == 1 else 'lines'} {row_ranges(lines)}."
        for file, lines in reading.differing.items()
    ]
    return ImportReport(
        bad=tuple(reading.bad),
        added=reading.added,
        unchanged=reading.unchanged,
        assumed=(*renumbered, *kept),
        dry_run=dry_run,
    )


def _codes_of_both(codes: Sequence[str]) -> str:
    shown = ", ".join(codes[:MOST_CODES_SHOWN])
    if len(codes) > MOST_CODES_SHOWN:
        shown += " and more"
    return (
        f"Both shelves use {how_many(len(codes), 'code')}: {shown}. "
        "Add --renumber to give each a new one."
    )


def _read(folder: Path) -> dict[str, Rows]:
    """The rows of each file of a folder, its headings first; Refused where one can't be read."""
    found: dict[str, Rows] = {}
    for table in (*TABLES, *OLDER_TABLES):
        path = folder / table.file
        if path.is_file():
            try:
                with open_ordinary(path, MOST_BYTES) as file:
                    text = file.read(MOST_BYTES).decode("utf-8-sig", errors="surrogateescape")
                found[table.name] = list(csv.reader(text.splitlines(keepends=True)))
            except (OSError, csv.Error) as error:
                raise Refused(f"{path} can't be read: {error}.") from error
    if not found:
        raise Refused(f"{folder} is not a complete export folder.")
    return found


def _column(rows: Rows, name: str) -> list[str]:
    if not rows or name not in rows[0]:
        return []
    place = rows[0].index(name)
    return [row[place] for row in rows[1:] if place < len(row)]


def _theirs(files: dict[str, Rows], record: str) -> list[str]:
    return _column(files.get(_FILES[record], []), "code")


def _own(keeper: Keeper, record: str) -> list[str]:
    return [code for (code,) in keeper.rows(f"SELECT code FROM {record}")]


def _now(old: str, ours: dict[str, str], theirs: dict[str, str], other: str) -> list[str]:
    """What a code has become, on either shelf that had it."""
    here = [f"{ours[old]} here"] if old in ours else []
    return here + ([f"{theirs[old]} from {other}"] if old in theirs else [])


def _clashing(
    keeper: Keeper, files: dict[str, Rows], known: dict[str, str]
) -> tuple[list[str], list[str]]:
    """Codes of batches, lots and bottles, ours and theirs, that mean something else there too.

    A code that one shelf has now and the other had before it was merged is one of them; those that
    came from the other shelf before, `known` with their new code, are not.
    """
    same = _same_jars(keeper, files) | _same_lots(keeper, files)
    old_here = {code for (code,) in keeper.rows("SELECT code FROM code_alias")}
    old_there = set(_column(files.get("code_aliases", []), "code"))
    ours: dict[str, None] = {}
    theirs: dict[str, None] = {}
    for records in (("jar", "tincture"), ("herb_lot",), ("bottle",)):
        own = {code for record in records for code in _own(keeper, record)}
        come = dict.fromkeys(code for record in records for code in _theirs(files, record))
        for code in come:
            is_same = any(code == jar or code.startswith(f"{jar}.") for jar in same)
            if is_same or code in known or code.rpartition(".")[0] in known:
                continue
            if code in own:
                ours[code] = None
            if code in own or code in old_here:
                theirs[code] = None
        came_before = set(known.values())
        for code in sorted(own & old_there - came_before):
            if not any(code == jar or code.startswith(f"{jar}.") for jar in same):
                ours[code] = None
    return list(ours), list(theirs)


def _same_jars(keeper: Keeper, files: dict[str, Rows]) -> set[str]:
    """Jars that are one and the same on both: of one code, day and herbs."""
    herbs: dict[str, set[str]] = {}
    in_jars = files.get("herbs_in_jars", [])
    for jar, herb in zip(_column(in_jars, "jar"), _column(in_jars, "herb"), strict=True):
        herbs.setdefault(jar, set()).add(herb)
    jars = files.get("jars", [])
    days = dict(zip(_column(jars, "code"), _column(jars, "filled_on"), strict=True))
    own: dict[tuple[str, str], set[str]] = {}
    for code, day, herb in keeper.rows(
        """SELECT j.code, j.filled_on, h.name FROM jar j JOIN charge_line l ON l.jar_id = j.id
           JOIN herb h ON h.id = l.herb_id"""
    ):
        own.setdefault((code, day), set()).add(herb)
    return {code for code, day in days.items() if own.get((code, day)) == herbs.get(code, set())}


def _same_lots(keeper: Keeper, files: dict[str, Rows]) -> set[str]:
    """Lots of herb that are one and the same on both: of one code, day, herb, part and origin."""
    rows = files.get("herb_lots", [])
    columns = (_column(rows, name) for name in ("code", "got_on", "herb", "part", "origin"))
    own = keeper.rows(
        """SELECT l.code, l.got_on, h.name, l.part, l.origin
           FROM herb_lot l JOIN herb h ON h.id = l.herb_id"""
    )
    return {each[0] for each in set(own).intersection(zip(*columns, strict=True))}


def _new_codes(
    keeper: Keeper,
    files: dict[str, Rows],
    ours_clash: Iterable[str],
    theirs_clash: Iterable[str],
    known: dict[str, str],
) -> tuple[dict[str, str], dict[str, str]]:
    """New codes of what is here, and of what comes, by the old; a bottle's follows its batch's."""
    taken = {code for record in _CODED for code in (*_own(keeper, record), *_theirs(files, record))}
    taken |= {code for (code,) in keeper.rows("SELECT code FROM code_alias")}
    taken |= set(_column(files.get("code_aliases", []), "code"))
    ours: dict[str, str] = {}
    theirs = dict(known)
    sides = (
        (ours, list(ours_clash), _own(keeper, "bottle")),
        (theirs, list(theirs_clash), _theirs(files, "bottle")),
    )
    for of_bottles in (False, True):  # a batch first, whose bottles follow it
        for codes, clashing, bottles in sides:
            for code in clashing:
                if (code in bottles) == of_bottles and code not in codes:
                    codes[code] = _next(keeper, code, taken)
            for bottle in bottles:
                batch, dot, number = bottle.rpartition(".")
                if dot and batch in codes:
                    codes.setdefault(bottle, f"{codes[batch]}.{number}")
    return ours, theirs


def _next(keeper: Keeper, code: str, taken: set[str]) -> str:
    """The next code of a series that neither shelf has."""
    series = re.match(r"(?:H-)?\d\d-(?=\d)", code)
    start = series[0] if series else next_batch_code(keeper, keeper.today)[:3]
    numbers = (each.removeprefix(start) for each in taken if each.startswith(start))
    highest = max((int(n) for n in numbers if n.isdecimal()), default=0)
    new = f"{start}{highest + 1:03d}"
    taken.add(new)
    return new


def _rename(keeper: Keeper, codes: dict[str, str]) -> None:
    for record in _CODED:
        for old, new in codes.items():
            keeper.store.db.execute_sql(f"UPDATE {record} SET code = ? WHERE code = ?", (new, old))
    for old, new in codes.items():
        sql = "UPDATE code_alias SET new_code = ? WHERE new_code = ?"
        keeper.store.db.execute_sql(sql, (new, old))


def _write(
    place: Path,
    folder: Path,
    files: dict[str, Rows],
    codes: dict[str, str],
    formulas: dict[str, str],
) -> None:
    """Write the folder again with the new codes."""
    for table in (*TABLES, *OLDER_TABLES):
        if table.name not in files:
            continue
        by_name = {column.name: column for column in table.columns}
        heading, *rows = files[table.name] or [[]]
        if table is SETTINGS:  # they are those of the other person
            rows = []
        new_rows = [
            [
                _reworded(table, by_name.get(name), cell, codes, formulas)
                for name, cell in zip(heading, row, strict=False)
            ]
            for row in rows
        ]
        with (place / table.file).open(
            "w", encoding="utf-8", errors="surrogateescape", newline=""
        ) as file:
            csv.writer(file, lineterminator="\r\n").writerows([heading, *new_rows])
    try:
        manifest = json.loads((folder / MANIFEST).read_text(encoding="utf-8-sig"))
    except (OSError, ValueError) as error:
        raise Refused(f"{folder} is not a complete export folder.") from error
    if isinstance(manifest, dict) and isinstance(manifest.get("lines"), dict):
        manifest["lines"] |= {SETTINGS.name: 0}
    (place / MANIFEST).write_text(json.dumps(manifest), encoding="utf-8")


def _reworded(
    table: FileTable,
    column: FileColumn | None,
    cell: str,
    codes: dict[str, str],
    formulas: dict[str, str],
) -> str:
    """A cell with the new code or name of what it is about."""
    if column is None or not cell:
        return cell
    link = column.cell.file if isinstance(column.cell, Link) else ""
    if link == "formulas.csv" or (table.name == "formulas" and column.name == "name"):
        return formulas.get(cell, cell)
    if column.name == "subject":
        code, space, rest = cell.partition(" ")
        return f"{codes.get(code, code)}{space}{rest}"
    if table is CODE_ALIASES:  # the old code stays what it was
        return codes.get(cell, cell) if column.name == "new_code" else cell
    is_code = column.name == "code" or (table.name, column.name) == ("print_log", "bottle")
    return codes.get(cell, cell) if is_code or (link and link not in _NAMED) else cell
