"""A name is removed for good, from everywhere, and only that act rewrites the journal."""

import json
import re
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stillroom.clock import SetClock
from stillroom.errors import NeedsConfirmation, Refused, StoreError
from stillroom.keeping.bottles.bottle_views import bottle_rows, bottle_view
from stillroom.keeping.bottles.stock import put_right, take_out
from stillroom.keeping.cupboard.cupboard import add_herb
from stillroom.keeping.drafts import BottleDraft, ChargeDraft, HerbDraft
from stillroom.keeping.jars.jar import note_jar
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.shelf_file.backups import backup_folder, backup_if_due
from stillroom.keeping.shelf_file.check import check
from stillroom.keeping.shelf_file.forgetting import forget, plan_forgetting
from stillroom.keeping.undo import redo, redoable, undo, undoable
from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.states import LineKind, MovementKind
from stillroom.records.journal import is_fixed
from stillroom.records.whole_words import WholeWords

from ..builders import bottled, filled, spirit, strained
from ..interchange.conftest import stock
from ..spoiling import without_rules

NAME = "Quillon Zephyrine"
TEXTS = "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite%'"


@pytest.fixture
def used(keeper: Keeper) -> Keeper:
    """A shelf on which somebody was given something."""
    jar = filled(keeper, [ChargeDraft("Sage", Part.LEAF, Condition.DRIED, 30)], spirit(300))
    note_jar(keeper, jar, f"picked with {NAME}")
    made = strained(keeper, jar, 250, on=keeper.today)
    bottled(keeper, made, BottleDraft(100, 100), BottleDraft(100, 100))
    bottle = bottle_rows(keeper)[0]
    take_out(keeper, bottle.bottle_id, 10, kind=MovementKind.GIVE, person=NAME, note="a cough")
    take_out(keeper, bottle.bottle_id, 5, note=f"tried by {NAME.upper()}'s mother")
    put_right(keeper, bottle.bottle_id, 70, note=f"{NAME} counted")
    undo(keeper)  # there is something to redo
    return keeper


def bytes_with(folder: Path, name: str) -> list[str]:
    """The files of a folder that have a name in them, in any case or spelling."""
    word = re.compile(re.escape(name.split()[0].encode()), re.IGNORECASE)
    return sorted(
        str(path.relative_to(folder))
        for path in folder.rglob("*")
        if path.is_file() and word.search(path.read_bytes())
    )


def everything(keeper: Keeper) -> Iterator[str]:
    """Every text on the shelf, as it is stored."""
    with closing(sqlite3.connect(keeper.path)) as db:
        yield from db.iterdump()


def test_a_removed_name_is_not_in_the_file_its_log_or_its_free_pages(used: Keeper) -> None:
    folder = used.path.parent
    assert bytes_with(folder, NAME)
    forget(used, NAME, None, confirmed=True)
    assert bytes_with(folder, NAME) == []  # while the file is open
    assert not any(NAME.casefold() in line.casefold() for line in everything(used))
    assert check(used) == []
    used.store.close()
    assert bytes_with(folder, NAME) == []


def test_undo_and_redo_go_on_without_the_name(used: Keeper) -> None:
    forget(used, NAME, None, confirmed=True)
    assert redoable(used)
    redo(used)
    while undoable(used):
        undo(used)
    while redoable(used):
        redo(used)
    assert bytes_with(used.path.parent, NAME) == []
    moves = bottle_view(used, bottle_rows(used)[0].bottle_id).movements
    assert [(m.person, m.note) for m in moves][1:] == [
        ("(name removed)", "a cough"),
        ("", "tried by (name removed)'s mother"),
        ("", "(name removed) counted"),
    ]


def test_removing_a_name_is_one_line_of_the_journal_without_the_name(used: Keeper) -> None:
    before = used.rows("SELECT id, at, day, kind, of_id FROM journal")
    forget(used, NAME, None, confirmed=True)
    *rest, last = used.rows("SELECT id, at, day, kind, of_id FROM journal")
    assert rest == before
    assert last[3] == LineKind.NAME_REMOVED
    assert used.rows("SELECT title FROM journal ORDER BY id DESC LIMIT 1") == [
        ("Removed a person's name",)
    ]
    assert used.rows("SELECT journal_id FROM undo_state") == [(None,)]


def test_the_question_lists_the_backups_that_still_have_the_name(used: Keeper) -> None:
    made = backup_if_due(used, backup_folder(used)).path
    assert made is not None
    plan = plan_forgetting(used, NAME)
    assert plan.backups == (made,)
    with pytest.raises(NeedsConfirmation) as question:
        forget(used, NAME, None)
    for words in ("Undo can't", "law", str(made)):
        assert words in str(question.value)
    forget(used, NAME, None, confirmed=True)
    assert bytes_with(used.path.parent, NAME) == [str(made.relative_to(used.path.parent))]


def test_a_backup_without_the_name_is_not_listed(keeper: Keeper, used: Keeper) -> None:
    add_herb(used, HerbDraft("Rosemary"))
    backup_if_due(used, backup_folder(used))
    assert plan_forgetting(used, "Rosemary").backups
    take_out(used, bottle_rows(used)[0].bottle_id, 1, person="Wilhelmina")
    assert plan_forgetting(used, "Wilhelmina").backups == ()


def test_the_texts_to_change_are_chosen_one_by_one(used: Keeper) -> None:
    add_herb(used, HerbDraft("Rosemary", note="from Rosemary"))
    take_out(used, bottle_rows(used)[0].bottle_id, 1, person="rosemary", note="Rosemary oil too")
    plan = plan_forgetting(used, "Rosemary")
    assert plan.movements == 1
    assert {(m.key.table, m.key.column, m.text) for m in plan.matches} == {
        ("herb", "name", "Rosemary"),
        ("herb", "note", "from Rosemary"),
        ("event", "subject", "Rosemary"),
        ("journal", "title", "Added Rosemary"),
        ("event", "text", "−1 mL for rosemary · Rosemary oil too"),
        ("movement", "note", "Rosemary oil too"),
    }
    assert [m.number for m in plan.matches] == list(range(1, 7))
    chosen = {m.key for m in plan.matches if m.key.table != "herb" and m.text != "Rosemary"}
    forget(used, "Rosemary", chosen, confirmed=True)
    assert used.rows("SELECT name, note FROM herb WHERE name = 'Rosemary'") == [
        ("Rosemary", "from Rosemary")
    ]
    assert used.rows("SELECT person, note FROM movement ORDER BY id DESC LIMIT 1") == [
        ("(name removed)", "(name removed) oil too")
    ]


def test_an_unknown_name_is_refused_and_changes_nothing(used: Keeper) -> None:
    before = sorted(everything(used))
    with pytest.raises(Refused, match="isn't on this shelf"):
        forget(used, "Nobody", None, confirmed=True)
    assert sorted(everything(used)) == before


def test_where_names_must_differ_the_mark_is_numbered(keeper: Keeper) -> None:
    for herb in ("Ada's mint", "ADA's mint two", "Ada"):
        add_herb(keeper, HerbDraft(herb))
    forget(keeper, "Ada", None, confirmed=True)
    add_herb(keeper, HerbDraft("Bo"))
    forget(keeper, "Bo", None, confirmed=True)
    assert keeper.rows("SELECT name FROM herb ORDER BY id") == [
        ("(name removed)'s mint",),
        ("(name removed)'s mint two",),
        ("(name removed)",),
        ("(name removed) 2",),
    ]


def test_where_the_mark_does_not_fit_a_dash_replaces_each_word(used: Keeper) -> None:
    long = " ".join(["Bo"] * 66)
    add_herb(used, HerbDraft(long))
    forget(used, "Bo", None, confirmed=True)
    assert used.rows("SELECT name FROM herb ORDER BY id DESC LIMIT 1") == [(" ".join("–" * 66),)]


def test_every_text_column_is_searched(keeper: Keeper, clock: SetClock) -> None:
    """Each column, as the file itself lists them, has a name of its own planted in it."""
    stock(keeper, clock)
    columns, without_rows = [], set()
    with without_rules(keeper.path) as db:
        db.execute("PRAGMA foreign_keys = OFF")
        db.execute("INSERT INTO liquid (name, kind, density_g_per_ml) VALUES ('', 'honey', 1.42)")
        db.execute(
            "INSERT INTO cupboard_movement (liquid_id, volume_ml, kind, at, day) "
            "VALUES (1, -5, 'spill', '2026-11-20T08:00:00.000000+00:00', '2026-11-20')"
        )
        db.execute(
            "INSERT INTO returned (bottle_id, volume_ml, at, day) "
            "VALUES (1, 5, '2026-11-20T08:00:00.000000+00:00', '2026-11-20')"
        )
        db.execute("INSERT INTO code_alias (code, new_code, shelf) VALUES ('25-1', '25-2', 'A')")
        for (table,) in db.execute(TEXTS).fetchall():
            for _, column, kind, *_ in db.execute(f"PRAGMA table_info({table})").fetchall():
                if kind != "TEXT" or is_fixed(table, column):
                    continue
                if (table, column) in {("journal_change", "before"), ("journal_change", "after")}:
                    planted = json.dumps({"note": f'so "{NAME}" said\\', "volume_ml": 1.0})
                elif (table, column) == ("undo_step", "sql"):
                    planted = f"UPDATE jar SET code='x',note='It''s {NAME}',place=1 WHERE id=1"
                else:
                    planted = NAME
                # The first settings say which file it is; the first part of a formula is a herb.
                first = "max" if table in ("setting", "formula_part") else "min"
                row = db.execute(f"SELECT {first}(rowid) FROM {table}").fetchone()
                if row[0] is not None:
                    sql = f"UPDATE {table} SET {column} = ? WHERE rowid = ?"
                    db.execute(sql, (planted, row[0]))
                    columns.append((table, column))
                else:
                    without_rows.add(table)
    assert without_rows <= {"corrected", "closing"}
    assert len(columns) > 40
    forget(keeper, NAME, None, confirmed=True)
    with closing(sqlite3.connect(keeper.path)) as db:
        for table, column in columns:
            sql = f"SELECT 1 FROM {table} WHERE {column} LIKE '%(name removed)%'"
            assert db.execute(sql).fetchone(), (table, column)
    assert bytes_with(keeper.path.parent, NAME) == []


def test_columns_that_are_not_searched_cannot_hold_a_name(used: Keeper) -> None:
    refused = 0
    with closing(sqlite3.connect(used.path, isolation_level=None)) as db:
        db.execute("PRAGMA foreign_keys = ON")
        for (table,) in db.execute(TEXTS).fetchall():
            for _, column, kind, *_ in db.execute(f"PRAGMA table_info({table})").fetchall():
                if kind != "TEXT" or not is_fixed(table, column):
                    continue
                if table.endswith(("_kind", "_status")) or column in ("record", "name"):
                    continue  # lists of words that only a migration writes
                if not db.execute(f"SELECT 1 FROM {table}").fetchone():
                    continue
                if (table, column) == ("event", "kind"):
                    continue
                with pytest.raises(sqlite3.IntegrityError):
                    db.execute(f"UPDATE {table} SET {column} = ?", (NAME,))
                refused += 1
    assert refused > 20


REWRITES = [
    "UPDATE event SET text = 'other' WHERE id = 1",
    "UPDATE journal SET title = 'other' WHERE id = 1",
    "UPDATE journal_change SET before = '{}' WHERE id = (SELECT min(id) FROM journal_change)",
]


@pytest.mark.parametrize("sql", REWRITES)
@pytest.mark.parametrize("kind", [kind for kind in LineKind if kind != LineKind.NAME_REMOVED])
def test_no_other_act_can_change_a_line(used: Keeper, kind: LineKind, sql: str) -> None:
    of_id = "1" if kind in (LineKind.UNDO, LineKind.REDO) else "NULL"
    with closing(sqlite3.connect(used.path, isolation_level=None)) as db:
        db.execute("PRAGMA foreign_keys = ON")
        with pytest.raises(sqlite3.IntegrityError, match="only grows"):
            db.execute(sql)
        db.execute(
            f"""INSERT INTO journal (at, day, kind, title, of_id)
                SELECT at, day, '{kind}', 'x', {of_id} FROM journal LIMIT 1"""
        )
        db.execute("UPDATE undo_state SET journal_id = last_insert_rowid()")
        for flags in ("rewinding = 0, correcting = 1", "correcting = 1"):
            db.execute(f"UPDATE undo_state SET {flags}")
            with pytest.raises(sqlite3.IntegrityError, match="only grows"):
                db.execute(sql)
        with pytest.raises(sqlite3.IntegrityError, match="only grows"):
            db.execute(
                "UPDATE journal SET kind = 'name removed' WHERE id = (SELECT max(id) FROM journal)"
            )


@pytest.mark.parametrize(
    "sql",
    [
        "UPDATE event SET at = '2020-01-01T00:00:00.000000+00:00' WHERE id = 1",
        "UPDATE event SET bottle_id = 1, jar_id = NULL WHERE id = 1",
        "UPDATE journal SET day = '2020-01-01' WHERE id = 1",
        "UPDATE journal SET kind = 'import' WHERE id = 1",
        "UPDATE journal_change SET row_id = 77",
        "UPDATE journal_change SET after = NULL",
        "DELETE FROM event WHERE id = 1",
        "DELETE FROM journal WHERE id = (SELECT max(id) FROM journal)",
        "DELETE FROM journal_change",
    ],
)
def test_the_act_that_removes_a_name_changes_only_words(used: Keeper, sql: str) -> None:
    """It can't remove its own line either."""
    with closing(sqlite3.connect(used.path, isolation_level=None)) as db:
        db.execute("PRAGMA foreign_keys = ON")
        db.execute(
            """INSERT INTO journal (at, day, kind, title)
               SELECT at, day, 'name removed', 'x' FROM journal LIMIT 1"""
        )
        db.execute("UPDATE undo_state SET journal_id = last_insert_rowid()")
        db.execute("UPDATE event SET text = 'other' WHERE id = 1")
        with pytest.raises(sqlite3.IntegrityError, match="only grows"):
            db.execute(sql)


def test_facts_changed_in_that_act_are_still_journalled(used: Keeper) -> None:
    with closing(sqlite3.connect(used.path, isolation_level=None)) as db:
        db.execute(
            """INSERT INTO journal (at, day, kind, title)
               SELECT at, day, 'name removed', 'x' FROM journal LIMIT 1"""
        )
        db.execute("UPDATE undo_state SET journal_id = last_insert_rowid()")
        counted = "SELECT count(*) FROM journal_change"
        (before,) = db.execute(counted).fetchone()
        db.execute("UPDATE jar SET note = 'other'")
        assert db.execute(counted).fetchone() == (before,)
        db.execute("UPDATE jar SET place = 7, note = 'x'")
        assert db.execute(counted).fetchone() == (before + 1,)


def test_while_another_program_reads_it_asks_to_try_again(used: Keeper) -> None:
    with closing(sqlite3.connect(used.path, isolation_level=None)) as other:
        other.execute("BEGIN")
        other.execute("SELECT * FROM jar").fetchone()
        with pytest.raises(StoreError, match="Close other windows"):
            forget(used, NAME, None, confirmed=True)
        other.execute("COMMIT")
    with pytest.raises(Refused, match="isn't on this shelf"):
        forget(used, NAME, None, confirmed=True)
    assert bytes_with(used.path.parent, NAME) == []


WORDS = ("Ann", "ANN", "ann", "Anna", "Én", "E\u0301n", "énna", "x", "9", "Straße")
GAPS = (" ", ", ", "'s ", "-", "\n", "  ", "_", "(", "...")


def in_reference(text: str, name: str) -> int:
    """How often a name of one word is in a text: the words between all that is no letter."""
    import unicodedata

    def same(word: str) -> str:
        return unicodedata.normalize("NFC", word.casefold())

    words, word = [], ""
    for letter in unicodedata.normalize("NFC", text):
        if letter.isalnum():
            word += letter
        else:
            words.append(word)
            word = ""
    return [same(w) for w in [*words, word]].count(same(name))


@given(st.lists(st.tuples(st.sampled_from(WORDS), st.sampled_from(GAPS))), st.sampled_from(WORDS))
def test_only_whole_words_are_found(parts: list[tuple[str, str]], name: str) -> None:
    text = "".join(word + gap for word, gap in parts)
    words = WholeWords(name)
    assert len(words.found(text)) == in_reference(text, name)
    assert in_reference(words.replaced(text, "•"), name) == 0
    kept = [word + gap for word, gap in parts if not in_reference(word, name)]
    if len(kept) == len(parts):
        assert words.replaced(text, "•") == text


@pytest.mark.parametrize(
    ("name", "text", "rest"),
    [
        ("Ann Lee", "for ann\n  LEE, and Ann Leeds", "for •, and Ann Leeds"),
        ("O'Dea", "O'Dea's tea; o'dean", "•'s tea; o'dean"),
        ("Ann", "Ann-Marie, Annex, ann", "•-Marie, Annex, •"),
        ("Ann", "An\u0303n Ann\u0303", "An\u0303n Ann\u0303"),
        ("王", "王さんへ", "•さんへ"),
        ("Straße", "STRASSE", "•"),
        ("Ανδρέας", "ΑΝΔΡΈΑΣ!", "•!"),
    ],
)
def test_names_are_found_in_any_case_and_spelling(name: str, text: str, rest: str) -> None:
    assert WholeWords(name).replaced(text, "•") == rest
