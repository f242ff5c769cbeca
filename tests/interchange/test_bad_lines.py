"""Every kind of bad line is reported with file, line and column, and nothing is imported."""

import json
import tracemalloc
from collections.abc import Callable
from pathlib import Path

import pytest

from stillroom.keeping.interchange.reading import import_folder
from stillroom.keeping.interchange.report import BadLine, ImportReport
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.undo import undoable

from .conftest import Folder, NewShelf

Contents = Callable[[Keeper], list[object]]


@pytest.fixture
def take_in(
    folder: Folder, new_shelf: NewShelf, contents: Contents
) -> Callable[..., tuple[BadLine, ...]]:
    """Try to import the spoiled folder into an empty shelf, which must stay empty."""

    def attempt() -> tuple[BadLine, ...]:
        other = new_shelf("other")
        before = contents(other)
        report = import_folder(other, folder.path)
        assert not report.is_done
        assert contents(other) == before
        assert undoable(other) is None
        return report.bad

    return attempt


TakeIn = Callable[[], tuple[BadLine, ...]]


def in_file(file: str, line: int) -> int:
    """The line as an editor counts it: the notes of the first two jars have two lines each."""
    return line + 2 if (file, line) == ("jars.csv", 4) else line


CELLS = [
    # file, line, column, what is written there, what the report says
    ("formulas.csv", 2, "name", "", "can't be blank"),
    ("gathering_windows.csv", 2, "first_day", "08-32", "month-day"),
    ("gathering_windows.csv", 2, "last_day", "8-1", "month-day"),
    ("gathering_windows.csv", 2, "herb", "Nobody", "herbs.csv"),
    ("herbs.csv", 2, "months_in_hand", "0", "above 0"),
    ("formulas.csv", 2, "name", "x" * 201, "at most 200"),
    ("herbs.csv", 2, "note", "bell\a", "can't be shown"),
    ("herbs.csv", 3, "name", "FENNEL", "already in use"),
    ("settings.csv", 3, "value", "x" * 2001, "at most 2000"),
    ("shelves.csv", 2, "position", "0", "whole number from 1"),
    ("shelves.csv", 2, "position", "1.5", "whole number from 1"),
    ("spirits.csv", 2, "strength_abv", "0", "above 0 to 100"),
    ("spirits.csv", 2, "strength_abv", "40 %", "without a unit"),
    ("spirits.csv", 2, "strength_abv", "nan", "Enter a number above 0 to 100, without a unit"),
    ("spirits.csv", 2, "price", "60,5", "with a point, not a comma"),
    ("spirits.csv", 2, "bought_on", "26.11.2026", "such as 2026-11-26"),
    ("spirits.csv", 3, "number", "1", "appears twice"),
    ("spirits.csv", 2, "bought_ml", "700", "isn't that much of this spirit"),
    ("bottle_sizes.csv", 2, "size_ml", "1000001", "Out of range"),
    ("bottle_sizes.csv", 2, "empties", "-1", "whole number from 0"),
    ("jars.csv", 2, "shelf", "Attic", "There is no Attic in shelves.csv"),
    ("jars.csv", 2, "simmered", "true", "yes or no"),
    ("jars.csv", 2, "filled_on", "2026-02-30", "Enter a date"),
    ("jars.csv", 2, "filled_on", "20261126", "Enter a date"),
    ("jars.csv", 2, "filled_on", "2027-11-26", "future"),
    ("jars.csv", 2, "strain_on", "2026-11-01", "before the filling date"),
    ("jars.csv", 2, "shakes_per_day", "10", "from 0 to 9"),
    ("jars.csv", 2, "state", "brewing", "steeping, drained, strained or discarded"),
    ("jars.csv", 2, "ended_on", "", "a strained or discarded jar must"),
    ("jars.csv", 2, "ended_on", "2026-11-01", "before the filling date"),
    ("jars.csv", 2, "state", "discarded", "can't be strained"),
    ("jars.csv", 4, "ended_on", "2026-12-24", "A steeping or drained jar must not have"),
    ("herbs_in_jars.csv", 2, "herb", "Sage", "There is no Sage in herbs.csv"),
    ("herbs_in_jars.csv", 2, "number", "2", "The next number here is 1"),
    ("herbs_in_jars.csv", 2, "part", "leaves", "leaf, aerial parts"),
    ("herbs_in_jars.csv", 2, "condition", "frozen", "fresh, dried or condition not known"),
    ("herbs_in_jars.csv", 2, "mass_g", "0", "above 0"),
    ("herbs_in_jars.csv", 2, "water_fraction", "8.5", "from 0 to 0.999999"),
    ("pours.csv", 2, "spirit_number", "9", "There is no 9 in spirits.csv"),
    ("pours.csv", 2, "strength_abv", "0", "Spirit needs a strength above 0"),
    ("pours.csv", 3, "spirit_number", "1", "Only a pour of spirit"),
    ("pours.csv", 2, "volume_ml", "5001", "isn't that much of this spirit"),
    ("shakes.csv", 2, "turn", "0", "from 1 to 9"),
    ("shakes.csv", 2, "at", "2026-11-26 at nine", "Enter a time"),
    ("shakes.csv", 2, "at", "2026-11-26T09:15:00", "Enter a time"),
    ("strainings.csv", 2, "pressing", "wrung", "drained, squeezed, pressed or pressing not known"),
    ("strainings.csv", 2, "confirmed", "", "can't be blank"),
    ("tinctures.csv", 2, "strength_by", "unknown", "unknown where strength_abv is blank"),
    ("tinctures.csv", 2, "lost_ml", "500", "More can't be lost"),
    ("tinctures.csv", 2, "volume_ml", "411", "more than the yield"),
    ("tinctures.csv", 2, "volume_ml", "150", "isn't that much of this tincture left"),
    ("bottles.csv", 2, "tincture", "25-001", "There is no 25-001 in tinctures.csv"),
    ("bottles.csv", 2, "size_ml", "99", "more than its size"),
    ("movements.csv", 2, "kind", "drunk", "Enter fill, draw"),
    ("movements.csv", 2, "volume_ml", "-100", "adds liquid"),
    ("movements.csv", 2, "volume_ml", "0", "must not be zero"),
    ("movements.csv", 2, "volume_ml", "101", "more than its size"),
    ("movements.csv", 4, "volume_ml", "12.5", "takes liquid out"),
    ("movements.csv", 4, "volume_ml", "-100.01", "can't be negative"),
    ("batch_inputs.csv", 2, "movement", "7", "There is no 7 in movements.csv"),
    ("batch_inputs.csv", 2, "movement", "", "Give the movement of what came from a bottle"),
    ("batch_inputs.csv", 2, "volume_ml", "5", "Give the volume, unless it came from a bottle"),
    ("batch_inputs.csv", 2, "strength_abv", "40", "Give the strength of a spirit"),
    ("batch_inputs.csv", 2, "spirit_number", "1", "Only a spirit has a number"),
    ("batch_inputs.csv", 2, "from_batch", "26-001", "Give the code of a batch"),
    ("losses.csv", 2, "kind", "drunk", "Enter filtered off"),
    ("losses.csv", 2, "volume_ml", "0", "above 0"),
    ("formula_parts.csv", 2, "share", "0", "above 0"),
    ("formula_parts.csv", 2, "name", "Evening", "not both"),
    ("formula_parts.csv", 3, "part", "root", "Only a herb has a part"),
    ("formula_parts.csv", 3, "condition", "fresh", "Only a herb is fresh or dried"),
    ("events.csv", 2, "kind", "x" * 41, "at most 40"),
    ("events.csv", 4, "spirit_number", "0", "whole number from 1"),
]


@pytest.mark.parametrize(("file", "line", "column", "cell", "said"), CELLS)
def test_a_bad_cell_is_reported_with_file_line_and_column(
    file: str, line: int, column: str, cell: str, said: str, folder: Folder, take_in: TakeIn
) -> None:
    folder.set(file, line, column, cell)
    (bad, *more) = take_in()
    assert said in bad.message
    # What the shelf's own rules refuse shows at the line that comes after, in its own file.
    if "much" not in said and "size" not in said and "can't be strained" not in said:
        assert (bad.file, bad.line, bad.column) == (file, in_file(file, line), column)
    assert len(more) <= 2, more


def test_a_missing_reference_is_reported_once_with_the_number_of_lines(
    folder: Folder, take_in: TakeIn
) -> None:
    head, first, *_ = folder.rows("shakes.csv")
    for count, more in ((2, "1 more line refers to it."), (4, "3 more lines refer to it.")):
        folder.write("shakes.csv", [head, *[["99-001", *first[1:]]] * count])
        (bad,) = take_in()
        said = f"shakes.csv line 2, jar: There is no 99-001 in jars.csv. {more}"
        assert str(bad) == said


@pytest.mark.parametrize("wrong", [["units", "furlongs"], ["alcoholometer", "70f"]])
def test_a_setting_that_could_not_be_used_is_refused(
    folder: Folder, take_in: TakeIn, wrong: list[str]
) -> None:
    rows = folder.rows("settings.csv")
    folder.write("settings.csv", [*rows, wrong, ["shakes_per_day", "2"]])
    (bad,) = take_in()
    assert (bad.file, bad.line, bad.column) == ("settings.csv", len(rows) + 1, "value")


LINES = [
    ("drop", "herbs_in_jars.csv", 4, "jars.csv", "The jar has no herb"),
    ("drop", "strainings.csv", 2, "tinctures.csv", "There is no 26-001 in strainings.csv"),
    ("drop", "tinctures.csv", 3, "bottles.csv", "There is no 26-002 in tinctures.csv"),
    ("drop", "movements.csv", 2, "bottles.csv", "never filled"),
    ("repeat", "jars.csv", 4, "jars.csv", "already in use"),
    ("repeat", "movements.csv", 2, "movements.csv", "The next number here is"),
    ("repeat", "shakes.csv", 2, "shakes.csv", "already in use"),
    ("repeat", "tinctures.csv", 2, "tinctures.csv", "already in use"),
    ("repeat", "batch_inputs.csv", 2, "batch_inputs.csv", "The next number here is"),
    ("drop", "losses.csv", 2, "tinctures.csv", "isn't the sum of its lines"),
]


@pytest.mark.parametrize(("deed", "file", "line", "blamed", "said"), LINES)
def test_a_row_with_too_many_or_too_few_cells_is_reported(
    deed: str, file: str, line: int, blamed: str, said: str, folder: Folder, take_in: TakeIn
) -> None:
    getattr(folder, deed)(file, line)
    bad = take_in()[0]
    assert bad.file == blamed
    assert bad.line is not None
    assert said in bad.message


def strain_in_name_only(folder: Folder) -> list[str]:
    """Let the list of jars call a steeping jar strained; returns its row."""
    jars = folder.rows("jars.csv")
    state, ended = jars[0].index("state"), jars[0].index("ended_on")
    (jar, *_) = (jar for jar in jars if jar[state] == "steeping")
    jar[state], jar[ended] = "strained", jar[jars[0].index("filled_on")]
    folder.write("jars.csv", jars)
    return jar


def test_a_strained_jar_needs_its_straining_and_tincture(folder: Folder, take_in: TakeIn) -> None:
    strain_in_name_only(folder)
    (bad,) = take_in()
    assert (bad.file, bad.column) == ("jars.csv", "state")
    assert bad.message.startswith("Only a strained jar has a line in strainings.csv")


def test_a_straining_needs_its_tincture(folder: Folder, take_in: TakeIn) -> None:
    jar = strain_in_name_only(folder)
    rows = folder.rows("strainings.csv")
    folder.write("strainings.csv", [*rows, [jar[0], jar[4], *rows[1][2:]]])
    (bad,) = take_in()
    assert (bad.file, bad.line) == ("strainings.csv", len(rows) + 1)
    assert bad.message.startswith("A straining must have a line in tinctures.csv")


def test_a_blend_needs_its_parts(folder: Folder, take_in: TakeIn) -> None:
    folder.write("batch_inputs.csv", folder.rows("batch_inputs.csv")[:1])
    (bad,) = take_in()
    assert (bad.file, bad.line) == ("tinctures.csv", 4)
    assert "or from lines in batch_inputs.csv" in bad.message


def test_a_blend_that_contains_itself_is_refused(folder: Folder, take_in: TakeIn) -> None:
    tinctures = folder.rows("tinctures.csv")
    circle = ["26-900", "Circle", "", *tinctures[3][3:]]
    circle[tinctures[0].index("lost_ml")] = "0"
    tinctures.append(circle)
    folder.write("tinctures.csv", tinctures)
    bottles, moves = folder.rows("bottles.csv"), folder.rows("movements.csv")
    blend_bottle, blend = bottles[-1][0], tinctures[3][0]
    folder.write(
        "bottles.csv", [*bottles, ["26-900.1", "26-900", "50", bottles[-1][3], "", "", ""]]
    )
    moment = moves[-1][4:7]
    moves += [
        [blend_bottle, "2", "blend", "-5", *moment, "", ""],
        ["26-900.1", "1", "fill", "45", *moment, "", ""],
        ["26-900.1", "2", "blend", "-5", *moment, "", ""],
    ]
    folder.write("movements.csv", moves)
    inputs = folder.rows("batch_inputs.csv")
    number = str(sum(row[0] == blend for row in inputs) + 1)
    inputs += [
        ["26-900", "1", "bottle", blend_bottle, "2", "", "", "", "", ""],
        [blend, number, "bottle", "26-900.1", "2", "", "", "", "", ""],
    ]
    folder.write("batch_inputs.csv", inputs)
    assert {(bad.line, bad.message) for bad in take_in()} == {
        (line, "The batch contains itself. Check its lines in batch_inputs.csv.") for line in (4, 5)
    }


def test_every_bad_line_is_reported_at_once(folder: Folder, take_in: TakeIn) -> None:
    folder.set("herbs.csv", 2, "name", "")
    folder.set("jars.csv", 4, "state", "brewing")
    folder.set("jars.csv", 4, "covered", "maybe")
    folder.set("events.csv", 5, "day", "yesterday")
    places = [(bad.file, bad.line, bad.column) for bad in take_in()]
    assert places[0] == ("herbs.csv", 2, "name")
    assert {("jars.csv", 6, "covered"), ("jars.csv", 6, "state"), ("events.csv", 5, "day")} <= set(
        places
    )


def test_what_depends_on_a_bad_line_is_not_reported_again(folder: Folder, take_in: TakeIn) -> None:
    folder.set("jars.csv", 2, "simmered", "perhaps")
    assert [(bad.file, bad.line) for bad in take_in()] == [("jars.csv", 2)]


FILES = [
    (b"", "name is missing"),
    (b"name,note\r\nSage,\r\n\xff\xfeMint,\r\n", "can't be shown"),
    (b"nome\r\nSage\r\n", "There is no column 'nome'"),
    (b"name,name\r\nSage,Sage\r\n", "appears twice"),
    (b"name;note\r\nSage;\r\n", "separated by semicolons"),
    (b"name,note\r\nSage\r\n", "It has 1 cells, but the heading has 2"),
    (b'name,note\r\nSage,"never closed\r\n', "double quote"),
    (b'name,note\r\nSage,"closed" early\r\n', "double quote"),
]


@pytest.mark.parametrize(("content", "said"), FILES)
def test_a_file_that_is_not_a_table_of_the_format_is_reported(
    content: bytes, said: str, folder: Folder, take_in: TakeIn
) -> None:
    (folder.path / "formulas.csv").write_bytes(content)
    folder.write("formula_parts.csv", folder.rows("formula_parts.csv")[:1])
    bad = take_in()[0]
    assert bad.file == "formulas.csv"
    assert said in bad.message


def test_a_missing_file_is_reported_once(folder: Folder, take_in: TakeIn) -> None:
    (folder.path / "jars.csv").unlink()
    (bad,) = take_in()
    assert bad.file == "jars.csv"
    assert "No such file" in bad.message


def test_a_file_cut_short_is_reported(folder: Folder, take_in: TakeIn) -> None:
    whole = (folder.path / "events.csv").read_bytes()
    (folder.path / "events.csv").write_bytes(whole[: whole.rindex(b"\r\n", 0, -2) + 2])
    (bad,) = take_in()
    assert bad.file == "events.csv"
    assert "cut off" in bad.message


@pytest.mark.parametrize(
    ("manifest", "said"),
    [
        ("", "not a complete export folder"),
        ("[]", "not a complete export folder"),
        ('{"format": "another"}', "not a complete export folder"),
        ('{"format": "stillroom shelf", "format_version": 99}', "This is format 99"),
    ],
)
def test_a_folder_without_our_manifest_is_refused(
    manifest: str, said: str, folder: Folder, take_in: TakeIn
) -> None:
    (folder.path / "manifest.json").write_text(manifest, encoding="utf-8")
    (bad,) = take_in()
    assert bad.file == "manifest.json"
    assert said in bad.message


def test_a_folder_resaved_by_a_spreadsheet_is_accepted(folder: Folder, new_shelf: NewShelf) -> None:
    """A byte order mark, other line ends, columns in another order, blank ones left out."""
    rows = folder.rows("herbs.csv")
    text = "\n".join(f"{row[1]},{row[0]}" for row in rows if '"' not in row[0])
    (folder.path / "herbs.csv").write_text("\ufeff" + text + '\n,"Thyme, ""Silver"""\n', "utf-8")
    manifest = json.loads((folder.path / "manifest.json").read_text("utf-8"))
    del manifest["lines"]
    (folder.path / "manifest.json").write_text(json.dumps(manifest), "utf-8")
    assert import_folder(new_shelf("other"), folder.path).bad == ()


CONFLICTS = [
    ("herbs.csv", 2, "note", "Other words", "The shelf has nothing here"),
    ("jars.csv", 4, "shakes_per_day", "2", "The shelf has '1' here"),
    ("jars.csv", 4, "note", "Words", "The shelf has nothing here"),
    ("pours.csv", 3, "volume_ml", "33.4", "The shelf has '33.3' here"),
    ("pours.csv", 2, "spirit_number", "2", "The shelf has a different value here"),
    ("movements.csv", 2, "volume_ml", "99", "The shelf has '100' here"),
    ("spirits.csv", 2, "price", "", "The shelf has '60.5' here"),
]


@pytest.mark.parametrize(("file", "line", "column", "cell", "said"), CONFLICTS)
def test_a_line_that_contradicts_the_shelf_is_a_conflict(
    file: str, line: int, column: str, cell: str, said: str,
    folder: Folder, stocked: Keeper, contents: Contents,
) -> None:  # fmt: skip
    folder.set(file, line, column, cell)
    before = contents(stocked)
    (bad,) = import_folder(stocked, folder.path).bad
    assert (bad.file, bad.line, bad.column) == (file, in_file(file, line), column)
    assert said in bad.message
    assert contents(stocked) == before


def test_bad_lines_are_reported_as_sentences() -> None:
    assert str(BadLine("jars.csv", 3, "state", "Write steeping.")) == (
        "jars.csv line 3, state: Write steeping."
    )
    assert str(BadLine("jars.csv", None, "", "Gone.")) == "jars.csv: Gone."
    assert not ImportReport(bad=(BadLine("a", 1, "", ""),)).is_done


def test_memory_use_does_not_grow_with_the_length_of_the_files(
    folder: Folder, new_shelf: NewShelf, tmp_path: Path
) -> None:
    def most(events: int) -> int:
        heading, (_, *line) = folder.rows("events.csv")[:2]
        numbered = [[str(number), *line] for number in range(1, events + 1)]
        folder.write("events.csv", [heading, *numbered])
        other = new_shelf(f"with-{events}")
        tracemalloc.start()
        assert import_folder(other, folder.path).bad == ()
        peak = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        return peak

    most(10)  # whatever is loaded once
    assert most(2000) < most(200) + 200_000
