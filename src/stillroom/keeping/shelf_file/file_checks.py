"""Check the file itself: its structure, values, texts, pointers and schema."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from stillroom.keeping.keeper import Keeper
from stillroom.printable import has_controls
from stillroom.records.file_state import APPLICATION_ID
from stillroom.records.schema import READ_SCHEMA, differences, newest_schema, parts
from stillroom.records.shelf_file import tables_with_broken_rules

RESTORE = "Restore the last backup made before this happened."

PLANTED = "Do not work with this file: restore a backup, or ask for another copy."


@dataclass(frozen=True)
class Finding:
    """Something that is not as it must be."""

    what: str
    """What is wrong, in a sentence."""
    remedy: str
    """What to do about it, in a sentence."""


def _structure(keeper: Keeper) -> Iterator[Finding]:
    for (said,) in keeper.rows("PRAGMA integrity_check"):
        if said != "ok":
            yield Finding(f"The file is damaged: {said}.", RESTORE)


def _values(keeper: Keeper) -> Iterator[Finding]:
    broken = tables_with_broken_rules(keeper.store.path)
    said = {text for (text,) in keeper.rows("PRAGMA integrity_check")} if broken else ()
    for table in broken:
        if f"CHECK constraint failed in {table}" in said:
            continue
        yield Finding(f"The table {table} holds an impossible value.", RESTORE)


def _letters(keeper: Keeper) -> Iterator[Finding]:
    """SQLite does not look into texts; a flipped bit there can spoil a letter."""
    texts: dict[str, list[str]] = {}
    for table, column in keeper.rows(
        """SELECT m.name, c.name FROM sqlite_schema m, pragma_table_info(m.name) c
           WHERE m.type = 'table' AND c.type = 'TEXT'"""
    ):
        texts.setdefault(table, []).append(column)
    for table, columns in texts.items():
        yield from _letters_of(keeper, table, _columns_to_look_at(keeper, table, columns))


_ROWS_AT_ONCE = 1000


def _columns_to_look_at(keeper: Keeper, table: str, columns: Sequence[str]) -> Sequence[str]:
    """The columns with a text that may be spoilt: many rows are looked at as one text."""
    joined = ", ".join(
        f"CAST(group_concat(CAST({column} AS BLOB), char(10)) AS BLOB)" for column in columns
    )
    odd = set()
    for texts in keeper.rows(f"SELECT {joined} FROM {table} GROUP BY id / {_ROWS_AT_ONCE}"):
        odd |= {column for column, text in zip(columns, texts, strict=True) if _is_odd(text or b"")}
    return [column for column in columns if column in odd]


def _is_odd(text: bytes) -> bool:
    try:
        return has_controls(text.decode())
    except UnicodeDecodeError:
        return True


def _letters_of(keeper: Keeper, table: str, columns: Sequence[str]) -> Iterator[Finding]:
    for column in columns:
        for row_id, stored in keeper.rows(f"SELECT id, CAST({column} AS BLOB) FROM {table}"):
            try:
                text = (stored or b"").decode()
            except UnicodeDecodeError:
                yield Finding(
                    f"Some text in {column}, row {row_id} of {table}, is unreadable.", RESTORE
                )
                continue
            if has_controls(text):
                yield Finding(
                    f"The {column} in row {row_id} of {table} holds control characters, which are "
                    "shown as marks.",
                    "Type it again.",
                )


def _pointers(keeper: Keeper) -> Iterator[Finding]:
    for table, row_id, parent, _ in keeper.rows("PRAGMA foreign_key_check"):
        yield Finding(f"Row {row_id} of {table} points to a {parent} that doesn't exist.", RESTORE)


def _schema(keeper: Keeper) -> Iterator[Finding]:
    db = keeper.store.db
    if db.application_id != APPLICATION_ID or db.user_version != newest_schema():
        yield Finding("The file isn't marked as a shelf of this version.", RESTORE)
    for difference in differences(parts(keeper.rows(READ_SCHEMA)), newest_schema()):
        yield Finding(difference, RESTORE)


FILE_CHECKS: tuple[Callable[[Keeper], Iterator[Finding]], ...] = (
    _structure,
    _values,
    _letters,
    _pointers,
    _schema,
)
