"""Exported and imported again: the same shelf, and the same bytes."""

import csv
import io
import json
import re
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from stillroom.clock import SetClock
from stillroom.errors import Refused, StillroomError, StoreError
from stillroom.keeping.bottles.bottle_views import bottle_rows
from stillroom.keeping.cupboard.cupboard import add_herb
from stillroom.keeping.drafts import ChargeDraft, HerbDraft, JarDraft, PourDraft
from stillroom.keeping.interchange.cells import guarded, unguarded
from stillroom.keeping.interchange.reading import import_folder
from stillroom.keeping.interchange.tables import (
    CORRECTED,
    EVENTS,
    JOURNAL,
    JOURNAL_CHANGES,
    PRINT_LOG,
    TABLES,
)
from stillroom.keeping.interchange.writing import export_folder, export_json
from stillroom.keeping.jars.jar import fill_jar
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import settings_of
from stillroom.keeping.undo import undo
from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.states import LiquidKind
from stillroom.records.file_state import OWN_SETTINGS
from stillroom.records.store import Store
from stillroom.records.tables import RECORDS

from ..conftest import open_copy
from ..examples import examples
from .conftest import Folder, NewShelf


def test_every_column_of_every_record_is_exported() -> None:
    """A column added to the schema must be added to the files, or exports would lose it."""
    written = {
        table.record: {column.stored_in for column in table.columns} - {None} for table in TABLES
    }
    kept = {
        record._meta.table_name: {f.column_name for f in record._meta.sorted_fields} - {"id"}
        for record in RECORDS
    }
    written_by_triggers = {"journal", "journal_change", "corrected"}
    assert {name: written[name] for name in written.keys() - written_by_triggers} == kept


def test_every_column_of_the_journal_is_exported(keeper: Keeper) -> None:
    for table in (JOURNAL, JOURNAL_CHANGES, CORRECTED):
        stored = keeper.rows(f"SELECT name FROM pragma_table_info('{table.record}')")
        written = {column.stored_in for column in table.columns} - {None}
        assert written == {name for (name,) in stored} - {"id"}


def test_the_test_shelf_has_a_line_of_every_kind(stocked: Keeper, tmp_path: Path) -> None:
    counts = export_folder(stocked, tmp_path / "out")
    assert {name for name, count in counts.items() if not count} == {
        "code_aliases",
        "corrected",
        "returns",
        "liquids",
        "cupboard_movements",
    }
    assert len(counts) == len(TABLES)


@pytest.mark.parametrize("shared", [False, True])
def test_an_export_is_private_unless_shared_is_set(
    stocked: Keeper, tmp_path: Path, shared: bool
) -> None:
    """It names people. Written again, it gets the rights that are asked for now."""
    folder = tmp_path / "out"
    export_folder(stocked, folder, shared=not shared)
    export_folder(stocked, folder, overwrite=True, shared=shared)
    (plain := tmp_path / "plain").touch()
    mode = plain.stat().st_mode & 0o777 if shared else 0o600
    assert {path.stat().st_mode & 0o777 for path in folder.iterdir()} == {mode}


def test_an_exported_and_imported_shelf_is_exported_to_the_same_bytes(
    folder: Folder, new_shelf: NewShelf, tmp_path: Path
) -> None:
    other = new_shelf("other")
    report = import_folder(other, folder.path)
    assert report.bad == ()
    assert report.is_done
    export_folder(other, tmp_path / "again")
    assert Folder(tmp_path / "again").bytes() == folder.bytes()


def test_an_imported_shelf_has_the_same_views_as_the_first(
    stocked: Keeper, folder: Folder, new_shelf: NewShelf
) -> None:
    before = bottle_rows(stocked, empties=True)  # first, as the last shelf opened answers
    other = new_shelf("other")
    import_folder(other, folder.path)
    assert bottle_rows(other, empties=True) == before


def test_an_import_is_one_act_and_one_undo_removes_all_of_it(
    folder: Folder, new_shelf: NewShelf, tmp_path: Path
) -> None:
    """The journal and the ledger stay, and the next import finds them there."""
    other = new_shelf("other")
    import_folder(other, folder.path)
    assert undo(other).startswith("Imported ")
    grows = (JOURNAL, JOURNAL_CHANGES, EVENTS, CORRECTED, PRINT_LOG)
    for table in set(TABLES) - set(grows):
        assert other.rows(table.select) == []
    import_folder(other, folder.path)
    export_folder(other, tmp_path / "again")
    assert Folder(tmp_path / "again").bytes() == folder.bytes()
    undo(other)
    with pytest.raises(Refused, match="Nothing to undo"):
        undo(other)


def test_a_dry_run_reports_everything_and_changes_nothing(
    folder: Folder, new_shelf: NewShelf, contents: Callable[[Keeper], list[object]]
) -> None:
    other = new_shelf("other")
    before = contents(other)
    report = import_folder(other, folder.path, dry_run=True)
    assert report.is_clean
    assert not report.is_done
    assert report.added["bottles"] == 5
    assert contents(other) == before
    assert import_folder(other, folder.path).added == report.added


def test_a_second_import_adds_nothing(
    stocked: Keeper, folder: Folder, contents: Callable[[Keeper], list[object]]
) -> None:
    before = contents(stocked)
    report = import_folder(stocked, folder.path)
    assert report.bad == ()
    assert report.total_added == 0
    assert report.unchanged["movements"] == len(folder.rows("movements.csv")) - 1
    assert contents(stocked) == before


def test_the_marks_that_identify_a_file_are_not_exported(
    stocked: Keeper, folder: Folder, new_shelf: NewShelf
) -> None:
    """Nor is it taken in from an export of a version that wrote it."""
    assert not any(name in OWN_SETTINGS for name, *_ in folder.rows("settings.csv"))
    assert not any(name in export_json(stocked) for name in OWN_SETTINGS)
    lines = folder.rows("settings.csv")
    folder.write("settings.csv", [*lines, *([name, "strange"] for name in OWN_SETTINGS)])
    other = new_shelf("other")
    assert import_folder(other, folder.path).bad == ()
    assert other.rows("SELECT name FROM setting WHERE value = 'strange'") == []


def test_an_older_copy_of_a_shelf_is_brought_up_to_date_by_import(
    stocked: Keeper, folder: Folder, new_shelf: NewShelf, clock: SetClock, tmp_path: Path
) -> None:
    copy = new_shelf("copy")
    import_folder(copy, folder.path)
    add_herb(copy, HerbDraft("Sage"))
    fill_jar(copy, _jar(copy, "Sage", ""))
    export_folder(copy, tmp_path / "newer")
    copy.store.close()

    again = Keeper(Store.open(stocked.store.path), clock)
    report = import_folder(again, tmp_path / "newer")
    assert report.bad == ()
    added = {name: count for name, count in report.added.items() if count}
    assert added == {
        "herbs": 1,
        "jars": 1,
        "herbs_in_jars": 1,
        "pours": 1,
        "journal": 2,
        "events": 2,
    }
    export_folder(again, tmp_path / "merged")
    assert Folder(tmp_path / "merged").bytes() == Folder(tmp_path / "newer").bytes()
    again.store.close()


def test_an_import_leaves_settings_places_and_empties_as_they_are(
    folder: Folder, new_shelf: NewShelf
) -> None:
    other = new_shelf("other")
    import_folder(other, folder.path)
    other.store.db.execute_sql("UPDATE setting SET value = 'RM' WHERE name = 'maker'")
    other.store.db.execute_sql("INSERT INTO setting (name, value) VALUES ('alcoholometer', '15c')")
    other.store.db.execute_sql("UPDATE bottle_size SET empties = 3")
    other.store.db.execute_sql("UPDATE shelf SET position = 7")
    assert import_folder(other, folder.path).bad == ()
    other.forget_settings()
    assert other.maker == "RM"
    assert settings_of(other).alcoholometer == "15c"
    assert other.rows("SELECT empties FROM bottle_size") == [(3,)]


def _jar(keeper: Keeper, herb: str, note: str, volume_ml: float = 500) -> JarDraft:
    day = keeper.today
    charge = ChargeDraft(herb, Part.LEAF, Condition.DRIED, 100)
    return JarDraft((charge,), (PourDraft(LiquidKind.SPIRIT, volume_ml, 40),), day, day, note=note)


WORDS = st.text(
    st.one_of(
        st.sampled_from("=+-@'\",;\n＝ é中я"),
        st.characters(exclude_categories=("Cc", "Cs"), max_codepoint=0x2FFFF),
    ),
    max_size=30,
)


@given(st.text(max_size=20) | WORDS)
def test_text_guarded_against_formulas_is_imported_exactly(text: str) -> None:
    cell = guarded(text)
    assert unguarded(cell) == text
    assert not re.match(r"\s*[=+\-@\t\r\n＝＋－＠]", cell)


@example(herb='=Sage, "grey"', note="'-1;\n＝é中", volume_ml=1000 / 3)
@given(herb=WORDS.filter(lambda w: w.strip()), note=WORDS, volume_ml=st.floats(1e-3, 9e5))
@settings(
    max_examples=examples(50),
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
def test_any_name_note_and_volume_is_imported_as_it_was_exported(
    herb: str,
    note: str,
    volume_ml: float,
    clock: SetClock,
    new_shelf_file: Path,
    tmp_path_factory: pytest.TempPathFactory,
) -> None:
    place = tmp_path_factory.mktemp("shelves")
    one = Keeper(open_copy(new_shelf_file, place / "one"), clock)
    try:
        fill_jar(one, _jar(one, herb, note, volume_ml))
    except StillroomError:
        one.store.close()
        return
    export_folder(one, place / "a")
    noted = one.rows("SELECT note FROM jar"), one.rows("SELECT name FROM herb")
    one.store.close()
    two = Keeper(open_copy(new_shelf_file, place / "two"), clock)
    report = import_folder(two, place / "a")
    assert report.bad == ()
    assert (two.rows("SELECT note FROM jar"), two.rows("SELECT name FROM herb")) == noted
    assert two.rows("SELECT volume_ml FROM pour") == [(volume_ml,)]
    export_folder(two, place / "b")
    two.store.close()
    assert Folder(place / "b").bytes() == Folder(place / "a").bytes()


def test_files_are_plain_rfc_4180_in_utf_8(folder: Folder) -> None:
    for name, content in folder.bytes().items():
        text = content.decode("utf-8")
        assert not text.startswith("\ufeff")
        if name.endswith(".csv"):
            assert text.endswith("\r\n")
            lines = list(csv.reader(io.StringIO(text, newline=""), strict=True))
            assert len({len(line) for line in lines}) == 1
            assert "\r\n".join([_joined(line) for line in lines]) + "\r\n" == text


def _joined(cells: list[str]) -> str:
    """A line as RFC 4180 section 2 has it: quotes doubled, and around what needs them."""
    return ",".join(
        '"' + cell.replace('"', '""') + '"' if re.search('[",\r\n]', cell) else cell
        for cell in cells
    )


def test_no_text_cell_begins_a_formula(folder: Folder) -> None:
    assert any(row[-1] == "'=for J." for row in folder.rows("movements.csv"))
    assert any(row[5] == "'@ the window" for row in folder.rows("events.csv"))


def test_the_manifest_has_format_schema_day_and_number_of_lines(
    stocked: Keeper, folder: Folder
) -> None:
    manifest = json.loads((folder.path / "manifest.json").read_text(encoding="utf-8"))
    assert manifest["format"] == "stillroom shelf"
    assert manifest["schema_version"] == stocked.store.schema_version
    assert manifest["written_on"] == stocked.today.isoformat()
    assert manifest["lines"] == {table.name: len(folder.rows(table.file)) - 1 for table in TABLES}


def test_the_description_names_every_file_and_column(folder: Folder) -> None:
    text = (folder.path / "COLUMNS.md").read_text(encoding="utf-8")
    for table in TABLES:
        section = text.split(f"## {table.file}\n")[1].split("\n## ")[0]
        assert re.findall(r"^\| `(\w+)`", section, re.M) == folder.rows(table.file)[0]


def test_json_has_the_same_shelf_with_typed_values(stocked: Keeper, folder: Folder) -> None:
    shelf = json.loads(export_json(stocked))
    assert {table.name: len(shelf[table.name]) for table in TABLES} == {
        table.name: len(folder.rows(table.file)) - 1 for table in TABLES
    }
    jar = shelf["jars"][0]
    assert jar["covered"] is True
    assert jar["note"] == "First line,\nsecond line"
    assert shelf["pours"][1]["volume_ml"] == 33.3
    assert shelf["pours"][1]["spirit_number"] is None
    assert shelf["movements"][2]["note"] in ("", "=for J.")


def test_an_export_replaces_files_only_on_request(stocked: Keeper, folder: Folder) -> None:
    (folder.path / "mine.txt").write_text("keep", encoding="utf-8")
    (folder.path / "herbs.csv").write_text("mine", encoding="utf-8")
    with pytest.raises(Refused, match="Nothing was replaced"):
        export_folder(stocked, folder.path)
    assert (folder.path / "herbs.csv").read_text(encoding="utf-8") == "mine"
    export_folder(stocked, folder.path, overwrite=True)
    assert folder.rows("herbs.csv")[1][0] == "Fennel"
    assert (folder.path / "mine.txt").read_text(encoding="utf-8") == "keep"


def test_an_export_that_fails_leaves_nothing_behind(
    stocked: Keeper, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def no_room(descriptor: int) -> None:
        raise OSError(28, "No space left on device")

    before = sorted(tmp_path.iterdir())
    monkeypatch.setattr("os.fsync", no_room)
    with pytest.raises(StoreError, match="No space left"):
        export_folder(stocked, tmp_path / "out")
    assert sorted(tmp_path.iterdir()) == before


def test_an_export_to_a_file_name_is_refused(stocked: Keeper, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("", encoding="utf-8")
    with pytest.raises(Refused, match="is a file"):
        export_folder(stocked, tmp_path / "file")
