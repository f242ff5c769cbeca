"""What the second schema makes of a shelf of the first."""

import gzip
import sqlite3
import sys
from contextlib import closing
from pathlib import Path

import pytest

from stillroom.errors import NotUnderstood
from stillroom.keeping.words import clean_name, name_in_note
from stillroom.records.store import Store

RELEASED = Path(__file__).parent / "released"
SPACES = [c for c in map(chr, range(1, sys.maxunicode + 1)) if c.isspace()]


@pytest.fixture
def first(shelf_file: Path) -> Path:
    """A shelf of schema 1."""
    shelf_file.write_bytes(gzip.decompress((RELEASED / "schema_1.stillroom.gz").read_bytes()))
    return shelf_file


def given_before(shelf: Path, notes: list[str], kind: str) -> None:
    """Give a drop away for each note, as schema 1 wrote it."""
    with closing(sqlite3.connect(shelf, isolation_level=None)) as db:
        db.executemany(
            """INSERT INTO movement (bottle_id, volume_ml, kind, at, day, note)
               SELECT bottle_id, -0.01, ?, at, day, ? FROM movement WHERE kind = 'fill' LIMIT 1""",
            [(kind, note) for note in notes],
        )


def moved(shelf: Path, kind: str) -> list[tuple[str, str]]:
    """Person and note of each movement of a kind, after the migration."""
    Store.open(shelf).close()
    sql = "SELECT person, note FROM movement WHERE kind = ? AND volume_ml = -0.01 ORDER BY id"
    with closing(sqlite3.connect(shelf)) as db:
        return db.execute(sql, (kind,)).fetchall()


def is_a_name(note: str) -> bool:
    """Whether the program would write down a text as a name, letter for letter."""
    try:
        return clean_name(note, "The name", required=False) == note
    except NotUnderstood:
        return False


NOTES = [
    "",
    "Ada",
    "Élodie & Sam, next door",
    "x" * 200,
    "x" * 201,
    "two\nlines",
    "two  spaces",
    " before",
    "after ",
    "日本",
    *(f"a{space}b" for space in SPACES),
]


def test_the_note_of_a_gift_becomes_a_name_where_possible(first: Path) -> None:
    """The rule, in SQL, agrees with the program's own for names, over every kind of space."""
    given_before(first, NOTES, "give")
    wanted = [(note, "") if is_a_name(note) else ("", note) for note in NOTES]
    assert moved(first, "give") == wanted
    assert sum(bool(person) for person, _ in wanted) == 5


def test_an_import_of_the_old_format_reads_notes_by_the_same_rule() -> None:
    assert [name_in_note(note) for note in NOTES] == [is_a_name(note) for note in NOTES]


@pytest.mark.parametrize("kind", ["draw", "spill"])
def test_other_notes_are_not_changed(first: Path, kind: str) -> None:
    given_before(first, ["Ada", "for a cough"], kind)
    assert moved(first, kind) == [("", "Ada"), ("", "for a cough")]
