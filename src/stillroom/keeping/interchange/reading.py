"""From a folder of CSV files into a shelf: all of it or nothing, with every bad line reported."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta
from pathlib import Path
from typing import Any

from stillroom.errors import NotUnderstood, Refused
from stillroom.keeping.interchange.at_once import TakingAtOnce
from stillroom.keeping.interchange.cells import Day, Link, unguarded
from stillroom.keeping.interchange.columns import (
    FORMAT_VERSION,
    MANIFEST,
    FileColumn,
    FileTable,
    Remembered,
    Row,
)
from stillroom.keeping.interchange.format_1 import complete_format_1
from stillroom.keeping.interchange.known import KnownRows
from stillroom.keeping.interchange.lines import FileLines, Lines
from stillroom.keeping.interchange.links import NoSuchRow, links_of
from stillroom.keeping.interchange.manifest import read_manifest
from stillroom.keeping.interchange.report import BadLine, ImportReport, conflict
from stillroom.keeping.interchange.tables import OLDER_TABLES, TABLES
from stillroom.keeping.interchange.whole import CHECKED, incomplete_lines
from stillroom.keeping.keeper import Keeper
from stillroom.reckoning.states import LineKind
from stillroom.records.failures import runner

Reword = Callable[[str, str], str]
"""A change made to every cell before it is read; it is given the cell and its column's name."""
ZONE_SLACK = timedelta(days=1)
"""A shelf written down east of here may be a day ahead."""

# Where the rows of a line ended up, for the checks across files, which must name the line.
_CAME = """
    CREATE TEMP TABLE came (file TEXT, id INTEGER, line INTEGER, is_new INTEGER)
"""

OURS = frozenset({"herbs", "shelves", "bottle_sizes", "gathering_windows"})
"""Files of what two shelves may both have, each in its own way."""


class TakenBack(Exception):
    """Ends an act that must leave nothing behind."""


def import_folder(keeper: Keeper, folder: Path, *, dry_run: bool = False) -> ImportReport:
    """Take an exported folder into the shelf in one undoable act.

    A line the shelf has already is left; one that says otherwise than the shelf is a bad line.
    With any bad line in the report, or in a dry run, nothing is changed.
    """
    reading = FolderReading(keeper, folder)
    try:
        with keeper.act("Imported a shelf", kind=LineKind.IMPORT) as act:
            reading.run()
            if reading.bad or dry_run:
                raise TakenBack
            act.title = f"Imported {sum(reading.added.values())} lines from {folder.name}"
    except TakenBack:
        pass
    finally:
        keeper.forget_settings()
    return ImportReport(
        bad=tuple(reading.bad),
        added=reading.added,
        unchanged=reading.unchanged,
        dry_run=dry_run,
    )


@dataclass(frozen=True)
class Edit:
    """A cell that somebody changed."""

    table: FileTable
    line: int
    column: FileColumn
    row_id: int
    before: Any
    """As it is stored."""
    after: Any
    """As it was read, of a link the key."""


class FolderReading:
    """One pass over a folder, inside a transaction that its caller commits or rolls back."""

    def __init__(self, keeper: Keeper, folder: Path, reword: Reword | None = None) -> None:
        """Prepare to read."""
        self.keeper = keeper
        self.sql: Any = keeper.store.db.execute_sql
        self.folder = folder
        self.reword = reword
        self.version = FORMAT_VERSION
        """Of the folder's format."""
        self.bad: list[BadLine] = []
        self.added: dict[str, int] = {}
        self.unchanged: dict[str, int] = {}
        self.latest = (keeper.today + ZONE_SLACK).isoformat()
        """The last day that is not in the future."""
        self.failed: set[tuple[str, str | None]] = set()
        """File and key of bad lines, no key for a file: what refers to them isn't reported."""
        self.came: dict[tuple[str, object], int] = {}
        """Ids of the rows of lines by file and key, where others name them by number."""
        self.edits: list[Edit] | None = None
        """Cells that differ from the shelf's, where they are taken for corrections."""
        self.found: dict[str, set[int]] = {}
        """Ids of the rows that lines are of, by file."""
        self.keeps_ours = False
        """Whether a line of another shelf that differs in what both have gives way to ours."""
        self.differing: dict[str, list[int]] = {}
        """Lines that gave way, by file."""
        self.missing: dict[tuple[str, ...], list[int]] = {}
        """File and key of what is named but nowhere: the bad line that reports it, and how many
        more name it."""

    def run(self, tables: Sequence[FileTable] = (*TABLES, *OLDER_TABLES)) -> None:
        """Read every file."""
        found = read_manifest(self.folder)
        if isinstance(found, BadLine):
            self.bad.append(found)
            return
        self.version = found.version
        self.sql(_CAME)
        for table in tables:
            if table.since <= self.version <= table.until:
                _FileReading(self, table).run(found.lines.get(table.name))
        for told, more in self.missing.values():
            if more:
                lines = "1 more line refers to" if more == 1 else f"{more} more lines refer to"
                message = f"{self.bad[told].message} {lines} it."
                self.bad[told] = replace(self.bad[told], message=message)
        if self.version == 1:
            complete_format_1(self.sql)
        if not self.bad:
            self.bad.extend(incomplete_lines(self.keeper, self.version))
        self.sql("DROP TABLE temp.came")


class _FileReading:
    """One pass over one file."""

    def __init__(self, reading: FolderReading, table: FileTable) -> None:
        self._reading = reading
        self._table = table
        self._sql: Any = reading.sql
        # Asked once here: they would be asked again for every cell of every line.
        self._from_1 = table.from_1 if reading.version == 1 else None
        self._stored = [(c, c.stored_in) for c in table.columns if c.stored_in]
        self._insert = table.insert
        self._run = runner(reading.keeper.store.db)  # for what is asked for every line
        self._links = links_of(table, self._run, reading.came)
        self._meanings = [Remembered(self._reader(column)) for column in table.columns]
        """By column, what its cells mean."""
        self._numbers: dict[object, int] = {}
        """The last number of each owner whose lines are counted."""
        is_1 = reading.version == 1 and table.alike_in_1
        self._alike = table.alike_in_1 if is_1 else table.alike
        self._known = KnownRows(
            table,
            reading.sql,
            self._run,
            alike=self._alike,
            is_edited=reading.edits is not None,
        )
        self._came: list[tuple[object, ...]] = []  # goes into temp.came at the end
        self._at_once = TakingAtOnce(
            table,
            reading.keeper.store.db,
            meanings=self._meanings,
            linked=self._links,
            numbers=self._numbers,
            came=reading.came,
        )

    def run(self, expected: object) -> None:
        """Read the file to its end."""
        self._known.lay_out()
        outcomes = {True: 0, False: 0, None: 0}
        path = self._reading.folder / self._table.file
        by_rows = self._reading.edits is not None
        lines = FileLines(path, self._table.columns, by_rows=by_rows)
        for some in lines:
            taken = self._take_at_once(some)
            outcomes[True] += taken
            for line, cells in some.each(taken):
                outcomes[self._take(line, cells)] += 1
        for place, message in lines.problems:
            self._blame(place, "", message)
        if not lines.is_whole:
            self._reading.failed.add((self._table.file, None))
        elif expected not in (None, lines.count):
            said = (
                f"{MANIFEST} lists {expected} lines but the file has {lines.count}. Was it cut off?"
            )
            self._blame(None, "", said)
        connection: Any = self._reading.keeper.store.db.connection()  # type: ignore[no-untyped-call]
        connection.executemany("INSERT INTO temp.came VALUES (?, ?, ?, ?)", self._came)
        self._reading.added[self._table.name] = outcomes[True]
        self._reading.unchanged[self._table.name] = outcomes[False]
        self._known.clear_away()

    def _take_at_once(self, lines: Lines) -> int:
        """Take in the first of some lines together, where nothing speaks against it: how many."""
        is_plain = self._reading.version == FORMAT_VERSION and self._reading.edits is None
        is_alone = self._table.proof or self._table.own  # each setting is tried
        if self._known.last_id or not is_plain or is_alone:
            return 0
        ids = self._at_once.take(lines)
        self._note_came(zip(ids, lines.numbers, strict=False), is_new=True)
        return len(ids)

    def _take(self, line: int, cells: Sequence[str]) -> bool | None:
        """Take in one line: whether it is new to the shelf, None where it is bad."""
        row = self._read(line, cells)
        if row is not None and row[self._table.key[0]] in self._table.own:
            return False  # the file that it comes from is not this one
        if row is not None and self._link(line, row) and self._obeys_rules(line, row):
            known = self._known.id_of(row)
            good = self._agrees(line, row, known) if known else self._add(line, row)
            if good:
                return known is None
        self._reading.failed.add((self._table.file, unguarded(cells[0])))
        return None

    def _blame(self, line: int | None, column: str, message: str) -> None:
        self._reading.bad.append(BadLine(self._table.file, line, column, message))

    def _read(self, line: int, cells: Sequence[str]) -> Row | None:
        """The values of a line, each cell judged alone."""
        row: Row = {}
        is_good = True
        for column, cell, meanings in zip(self._table.columns, cells, self._meanings, strict=True):
            try:
                row[column.name] = meanings[cell]
            except NotUnderstood as error:
                self._blame(line, column.name, str(error))
                is_good = False
        if is_good and self._from_1:
            self._from_1(row)
        return row if is_good else None

    def _reader(self, column: FileColumn) -> Callable[[str], Any]:
        """What gives the value of a cell of a column, or raises NotUnderstood."""
        reword, latest = self._reading.reword, self._reading.latest
        kind, is_required = column.cell, column.required
        is_past = isinstance(kind, Day) and kind.past

        def value_of(cell: str) -> Any:
            if reword:
                cell = reword(cell, column.name)
            value = kind.read(cell) if cell else kind.blank
            if is_required and value in ("", None):
                raise NotUnderstood(f"This can't be blank. Enter {kind.expects}.")
            if is_past and value is not None and value > latest:
                raise NotUnderstood("That date is in the future.")
            return value

        return value_of

    def _link(self, line: int, row: Row) -> bool:
        """Find the rows that a line names."""
        is_good = True
        for column, field in self._stored:
            linked = self._links.get(column.name)
            try:
                row[field] = linked.of(row) if linked else row[column.name]
            except NoSuchRow as error:
                is_good = False
                row[field] = None
                self._blame_link(line, column.name, error.link, row)
        return is_good

    def _blame_link(self, line: int, name: str, link: Link, row: Row) -> None:
        reading, key = self._reading, str(row[link.key or name])
        if not reading.failed.isdisjoint({(link.file, key), (link.file, None)}):
            return
        wanted = (link.file, key, str(row[name]))
        if wanted in reading.missing:
            reading.missing[wanted][1] += 1
            return
        reading.missing[wanted] = [len(reading.bad), 0]
        self._blame(line, name, f"There is no {row[name]} in {link.file}.")

    def _obeys_rules(self, line: int, row: Row) -> bool:
        broken = [rule for rule in self._table.rules if not rule.holds(row)]
        for rule in broken:
            self._blame(line, rule.column, rule.message)
        return not broken

    def _agrees(self, line: int, row: Row, row_id: int) -> bool:
        """Hold a line against the shelf's own row."""
        fields = ", ".join(field for _, field in self._stored)
        sql = f"SELECT {fields} FROM {self._table.record} WHERE id = ?"
        for (column, field), own in zip(
            self._stored, self._sql(sql, (row_id,)).fetchone(), strict=True
        ):
            is_held = column.settled and column.name not in self._table.key
            if is_held and own != row[field] and self._reading.edits is not None:
                edit = Edit(self._table, line, column, row_id, own, row[column.name])
                self._reading.edits.append(edit)
                continue
            if is_held and own != row[field]:
                if self._reading.keeps_ours and self._table.name in OURS:
                    self._reading.differing.setdefault(self._table.file, []).append(line)
                    break
                self._blame(line, column.name, conflict(column, own))
                return False
        return self._follow(line, row, row_id, is_new=False)

    def _add(self, line: int, row: Row) -> bool:
        """Insert a line's row, unless the shelf's own rules refuse it."""
        if self._reading.edits is not None and self._alike:
            self._blame(line, "", "A line of this file is changed or added in the program alone.")
            return False
        if not self._is_next(line, row):
            return False
        try:
            values = [row[field] for _, field in self._stored]
            row_id = int(self._run(self._insert, values).lastrowid or 0)
        except Refused as error:
            if not self._is_after_bad(row):
                is_double = "UNIQUE" in str(error.__cause__)
                column = self._table.key[0] if is_double else self._table.blamed
                self._blame(line, column, str(error))
            return False
        if self._table.counted_by:
            self._numbers[row[self._table.counted_by]] = row["number"]
        return self._proves_good(line, row_id) and self._follow(line, row, row_id, is_new=True)

    def _is_next(self, line: int, row: Row) -> bool:
        """Whether a numbered line follows the one before it."""
        table = self._table
        if not table.counted_by:
            return True
        owner = row[table.counted_by]
        number = self._numbers.get(owner, 0) + 1
        if number == 1 or row["number"] != number:
            sql = f"SELECT count(*) + 1 FROM {table.record} WHERE {table.counted_by} = ?"
            (number,) = self._run(sql, (owner,)).fetchone()
        if row["number"] == number:
            return True
        if not self._is_after_bad(row):
            self._blame(line, "number", f"The next number here is {number}.")
        return False

    def _is_after_bad(self, row: Row) -> bool:
        """Whether an earlier line of the same owner was bad, so that this one may be right."""
        return (self._table.file, str(row[self._table.key[0]])) in self._reading.failed

    def _proves_good(self, line: int, row_id: int) -> bool:
        """Whether the shelf can still be used with the new row."""
        if self._table.proof is None:
            return True
        self._reading.keeper.forget_settings()
        try:
            self._table.proof(self._reading.keeper)
        except ValueError as error:
            self._blame(line, self._table.blamed, f"That value is not allowed: {error}.")
            self._sql(f"DELETE FROM {self._table.record} WHERE id = ?", (row_id,))
            return False
        return True

    def _follow(self, line: int, row: Row, row_id: int, *, is_new: bool) -> bool:
        if self._reading.edits is not None:
            self._reading.found.setdefault(self._table.name, set()).add(row_id)
        if not self._table.followed:
            return True
        key = row[self._table.key[0]]
        if key is None:  # format 1 doesn't number its ledger
            return True
        if (self._table.file, key) not in self._reading.came:
            self._reading.came[self._table.file, key] = row_id
            self._note_came([(row_id, line)], is_new=is_new)
            return True
        self._blame(line, self._table.key[0], f"{key} appears twice.")
        return False

    def _note_came(self, rows: Iterable[tuple[int, int]], *, is_new: bool) -> None:
        """Note where the rows came from, by id and line, for the checks across files."""
        if self._table.name in CHECKED:
            self._came += [(self._table.name, row_id, line, is_new) for row_id, line in rows]
