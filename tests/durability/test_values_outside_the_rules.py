"""A value that the rules forbid gets a sentence and never causes a crash."""

import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from stillroom.__main__ import run
from stillroom.clock import SetClock

from ..cli.terminal import in_terminal
from ..examples import IS_LONG
from ..spoiling import without_rules

EVERY = 1 if IS_LONG else 10
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
