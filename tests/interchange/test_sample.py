"""The sample shelf has something of everything on any day, and is made again the same."""

import re
import tomllib
import unicodedata
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from datetime import UTC, date, datetime, timedelta
from functools import cache
from pathlib import Path
from shutil import copyfile

import pytest

from stillroom.clock import SetClock
from stillroom.keeping.bottles.blends import blend_parts
from stillroom.keeping.bottles.bottle_views import bottle_rows
from stillroom.keeping.cupboard.cupboard import herbs, spirits
from stillroom.keeping.day import day_view
from stillroom.keeping.interchange.writing import FILES, export_folder
from stillroom.keeping.jars.jar import shake
from stillroom.keeping.jars.shelves import shelves_view
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.shelf_file.check import check
from stillroom.keeping.shelf_file.sample import SAMPLE_FOLDER, open_sample
from stillroom.keeping.undo import undo, undoable

from ..conftest import open_copy
from ..make_sample_shelf import TODAY, make_sample_shelf
from .conftest import Folder

SampleOn = Callable[[date], Keeper]

DAYS = [
    TODAY,
    date(2027, 1, 1),
    date(2028, 2, 29),
    date(2029, 3, 1),
    date(2026, 12, 31),
    date(2025, 6, 15),
    date(2100, 2, 28),
]


def opened_on(day: date, new: Path, folder: Path, hour: int = 5) -> Keeper:
    """The sample, opened early on a day, in a copy of a new shelf."""
    copyfile(new, folder / "sample.stillroom")
    return open_sample(SetClock(datetime(day.year, day.month, day.day, hour, tzinfo=UTC)), folder)


@pytest.fixture(scope="module")
def sample_of(
    new_shelf_file: Path, tmp_path_factory: pytest.TempPathFactory
) -> Callable[[date], Path]:
    """The file of the sample as it is opened on a day, read in once for each."""

    @cache
    def make(day: date) -> Path:
        keeper = opened_on(day, new_shelf_file, tmp_path_factory.mktemp("sample"))
        keeper.store.close()
        return keeper.store.path

    return make


@pytest.fixture
def sample_on(sample_of: Callable[[date], Path], shelf_file: Path) -> Iterator[SampleOn]:
    """Opens a copy of the sample early on a day."""
    with ExitStack() as opened:

        def open_on(day: date) -> Keeper:
            store = open_copy(sample_of(day), shelf_file)
            opened.callback(store.close)
            return Keeper(store, SetClock(datetime(day.year, day.month, day.day, 5, tzinfo=UTC)))

        yield open_on


@pytest.mark.parametrize("day", DAYS, ids=str)
def test_every_kind_of_task_is_due_on_any_day(day: date, sample_on: SampleOn) -> None:
    keeper = sample_on(day)
    today = day_view(keeper)
    shelves = shelves_view(keeper)
    assert len(today.to_shake) >= 3
    assert len(shelves.jars) - len(today.to_shake) >= 3  # some are shaken already
    assert today.due
    assert today.over
    assert today.uncovered
    assert len(today.to_bottle) >= 2
    assert any(bottle.is_past(day) for bottle in today.passing)
    assert not all(bottle.is_past(day) for bottle in today.passing)


@pytest.mark.parametrize("day", DAYS, ids=str)
def test_nothing_has_happened_in_the_future(day: date, sample_on: SampleOn) -> None:
    keeper = sample_on(day)
    now = f"{day}T05:00:00.000000+00:00"
    for table, columns in {
        "jar": ("filled_on", "ended_on"),
        "pour": ("poured_on",),
        "straining": ("strained_on",),
        "tincture": ("made_on",),
        "bottle": ("filled_on",),
        "movement": ("day", "at"),
        "shake": ("day", "at"),
        "event": ("day", "at"),
        "charge_line": ("gathered_on",),
        "spirit": ("bought_on",),
    }.items():
        for column in columns:
            ((latest,),) = keeper.rows(f"SELECT max({column}) FROM {table}")
            assert latest <= now


@pytest.mark.parametrize("day", DAYS, ids=str)
def test_every_figure_agrees_with_its_facts_on_any_day(day: date, sample_on: SampleOn) -> None:
    assert check(sample_on(day)) == []


@pytest.mark.parametrize("days", [0, 1, 30, 150])
def test_a_batch_keeps_its_code_through_the_year(days: int, sample_on: SampleOn) -> None:
    """The documents name some: the calendula strained in July is 26-005 into the next year."""
    keeper = sample_on(TODAY + timedelta(days=days))
    rows = keeper.rows("SELECT yield_ml FROM straining s JOIN jar j ON j.id = s.jar_id"
                       " WHERE j.code = '26-005'")  # fmt: skip
    assert rows == [(560,)]


@pytest.mark.parametrize("day", DAYS, ids=str)
def test_batch_codes_have_the_year_the_batch_was_made(day: date, sample_on: SampleOn) -> None:
    keeper = sample_on(day)
    made = keeper.rows(
        "SELECT code, filled_on FROM jar"
        " UNION SELECT code, made_on FROM tincture WHERE straining_id IS NULL"
    )
    assert all(code[:2] == made_on[2:4] for code, made_on in made)
    bottles = keeper.rows(
        "SELECT b.code, t.code FROM bottle b JOIN tincture t ON t.id = tincture_id"
    )
    assert all(bottle.startswith(f"{batch}.") for bottle, batch in bottles)
    lots = keeper.rows("SELECT code, got_on FROM herb_lot")
    assert all(code[:5] == f"H-{got_on[2:4]}-" for code, got_on in lots)
    codes = {code for code, _ in (*made, *lots)}
    for (said,) in keeper.rows("SELECT text FROM event UNION SELECT note FROM movement"):
        assert set(re.findall(r"\b(?:H-)?\d\d-\d{3}\b", said)) <= codes


def test_the_sample_shelf_has_a_jar_or_bottle_of_every_kind(sample_on: SampleOn) -> None:
    keeper = sample_on(TODAY)
    shelves = shelves_view(keeper)
    steeping = [jar for jar in shelves.jars if jar.is_steeping]
    assert len(steeping) >= 12
    assert sum(1 for shelf in shelves.shelves if shelf.jars) >= 3
    assert {jar.shakes_per_day for jar in steeping} == {0, 1, 2}
    assert any(jar.more_herbs >= 2 for jar in steeping)
    assert any(jar.progress(TODAY) == 0 for jar in steeping)
    assert any(jar.progress(TODAY) == 0.5 for jar in steeping)
    assert {"fresh", "dried"} == {jar.condition for jar in steeping}
    assert keeper.rows("SELECT count(*) > 1 FROM jar WHERE state = 'discarded'") == [(1,)]
    assert keeper.rows("SELECT 1 FROM jar WHERE simmered AND state = 'steeping'")
    assert keeper.rows("SELECT 1 FROM charge_line WHERE mass_g IS NULL")

    stock = bottle_rows(keeper)
    assert len(stock) >= 40
    assert len({row.tincture_id for row in stock}) >= 12
    assert len(bottle_rows(keeper, empties=True)) > len(stock)
    assert any(row.left_ml < row.size_ml for row in stock)
    kinds = {kind for (kind,) in keeper.rows("SELECT DISTINCT kind FROM movement")}
    assert {"draw", "give", "spill", "weigh in", "count", "pour together", "discard"} <= kinds
    assert len({s.strength_abv for s in spirits(keeper)}) >= 3
    assert len(keeper.rows("SELECT DISTINCT maker FROM shake")) == 2
    ((first,),) = keeper.rows("SELECT min(day) FROM event")
    assert TODAY - date.fromisoformat(first) >= timedelta(days=730)


def test_the_sample_shelf_has_a_blend_of_a_blend(sample_on: SampleOn) -> None:
    keeper = sample_on(TODAY)
    blends = [i for (i,) in keeper.rows("SELECT id FROM tincture WHERE straining_id IS NULL")]
    made_of = {part.bottle.tincture_id for blend in blends for part in blend_parts(keeper, blend)}
    assert made_of & set(blends)


def test_names_in_the_sample_shelf_have_several_scripts_signs_and_great_lengths(
    sample_on: SampleOn,
) -> None:
    keeper = sample_on(TODAY)
    names = [herb.name for herb in herbs(keeper)]
    names += [shelf.name for shelf in shelves_view(keeper).shelves]
    scripts = {unicodedata.name(letter).split()[0] for letter in "".join(names) if letter.isalpha()}
    assert {"LATIN", "GREEK", "CYRILLIC", "CJK"} <= scripts
    assert max(map(len, names)) > 80
    for sign in "é'[]":
        assert any(sign in name for name in names)


def test_undo_on_the_sample_shelf_reaches_only_what_was_done_since_it_opened(
    sample_on: SampleOn,
) -> None:
    keeper = sample_on(TODAY)
    assert undoable(keeper) is None
    jar = shelves_view(keeper).to_shake[0]
    shake(keeper, jar.jar_id)
    assert undo(keeper).startswith("Shook")
    assert undoable(keeper) is None


def test_the_sample_shelf_is_made_again_with_the_same_bytes(tmp_path: Path) -> None:
    make_sample_shelf(tmp_path / "made")
    for name, content in Folder(tmp_path / "made").bytes().items():
        assert (SAMPLE_FOLDER / name).read_bytes() == content, name


def test_the_sample_shelf_exports_its_own_bytes_on_its_own_day(
    new_shelf_file: Path, tmp_path: Path
) -> None:
    keeper = opened_on(TODAY, new_shelf_file, tmp_path, hour=20)
    export_folder(keeper, tmp_path / "out")
    keeper.store.close()
    for name, content in Folder(tmp_path / "out").bytes().items():
        assert (SAMPLE_FOLDER / name).read_bytes() == content, name


def test_the_installed_package_contains_the_sample_shelf() -> None:
    """The package's copy is the same to the byte, and is named as its data."""
    top = Path(__file__).parents[2]
    copy, shown = top / "src/stillroom/sample_shelf", top / "sample_shelf"
    assert Folder(copy).bytes() == Folder(shown).bytes()
    assert not copy.is_symlink()
    settings = tomllib.loads((top / "pyproject.toml").read_text(encoding="utf-8"))
    patterns = settings["tool"]["setuptools"]["package-data"]["stillroom"]
    package = top / "src/stillroom"
    brought = {path.name for pattern in patterns for path in package.glob(pattern)}
    assert set(FILES) <= brought


def test_the_package_has_its_licence_and_the_tree_has_no_links() -> None:
    top = Path(__file__).parents[2]
    project = tomllib.loads((top / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    (ours, *_) = project["license-files"]
    assert (top / ours).read_text(encoding="utf-8").startswith("MIT License\n")
    for folder in ("src", "tests", "sample_shelf"):
        assert not [path for path in (top / folder).rglob("*") if path.is_symlink()]
