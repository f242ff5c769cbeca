"""A value that the rules forbid gets a sentence and never causes a crash."""

import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from stillroom.__main__ import run
from stillroom.clock import SetClock

from ..cli.terminal import in_terminal
from ..examples import IS_LONG, SHORT
from ..spoiling import without_rules

EVERY = 1 if IS_LONG else SHORT
"""Which columns are tried: one in so many, each with the next value."""
VALUES = ("", "0001-01-01", "never", "-1", -1, 1e308, float("inf"), None, b"\xff\x00")


def test_no_value_in_any_column_causes_a_crash(
    stocked: Path,
    clock: SetClock,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    with closing(sqlite3.connect(stocked)) as db:
        columns = db.execute(
            """SELECT m.name, c.name FROM sqlite_schema m, pragma_table_info(m.name) c
               WHERE m.type = 'table' AND c.name <> 'id'
                 AND m.name NOT LIKE 'sqlite!_%' ESCAPE '!' ORDER BY 1, 2"""
        ).fetchall()
    crashed = []
    spoiled = tmp_path / "spoiled.stillroom"
    for number, (table, column) in list(enumerate(columns))[::EVERY]:
        value = VALUES[number % len(VALUES)]
        shutil.copy(stocked, spoiled)
        with without_rules(spoiled) as db:
            try:
                db.execute(f'UPDATE "{table}" SET "{column}" = ?', (value,))
            except sqlite3.DatabaseError:  # a rule of another kind holds
                continue
        for words in (["today"], ["bottles"], ["export", "--json", "-"], ["check"]):
            if run([*words, "--shelf", str(spoiled)], clock) == 70:
                crashed.append((table, column, value, words[0]))
        capsys.readouterr()
    assert not crashed, "; ".join(map(str, crashed))


def test_the_screen_closes_with_a_sentence(stocked: Path) -> None:
    with without_rules(stocked) as db:
        db.execute("UPDATE jar SET filled_on = 'http://127.0.0.1/x'")
    seen = in_terminal("--shelf", str(stocked))
    assert "holds an impossible value, in jar" in " ".join(seen.out.split())
    assert (seen.code, seen.is_restored) == (2, True)


def test_an_index_with_the_page_of_another_is_reported(
    sample_shelf: Path, shelf_file: Path, clock: SetClock, capsys: pytest.CaptureFixture[str]
) -> None:
    shutil.copy(sample_shelf, shelf_file)
    names = "batch_input_by_source", "sqlite_autoindex_cupboard_movement_kind_1"
    with closing(sqlite3.connect(shelf_file)) as db:
        root = "SELECT (rootpage - 1) * page_size FROM sqlite_schema, pragma_page_size WHERE name=?"
        to, of = (db.execute(root, (name,)).fetchone()[0] for name in names)
        (size,) = db.execute("PRAGMA page_size").fetchone()
    data = bytearray(shelf_file.read_bytes())
    data[to : to + size] = data[of : of + size]
    shelf_file.write_bytes(data)
    assert run(["today", "--shelf", str(shelf_file)], clock) == 2
    said = capsys.readouterr().err
    assert "is damaged: row 7 missing from index batch_input_by_source. Restore a backup." in said
    assert len(said.splitlines()) == 1
