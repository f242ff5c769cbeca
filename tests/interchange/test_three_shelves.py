"""A shelf merged from two is merged with a third: no code is lost or silently resolved."""

from pathlib import Path

import pytest

from stillroom.keeping.interchange.merging import merge_folder
from stillroom.keeping.interchange.writing import export_folder
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.shelf_file.check import check
from stillroom.keeping.trace.ancestry import AmbiguousCode

from .conftest import NewShelf
from .test_merging import herb_of, live


def meant(keeper: Keeper, code: str) -> set[str]:
    """The herbs that a code finds, or lists where it means several."""
    try:
        return {herb_of(keeper, code)}
    except AmbiguousCode as refused:
        said = str(refused)
        assert "Use the new code." in said
        rows = keeper.rows("SELECT name FROM herb")
        return {name for (name,) in rows if f" {name} (" in said}


@pytest.fixture
def folders(new_shelf: NewShelf, tmp_path: Path) -> dict[str, Path]:
    """Exports of two people's shelves; each code is on both."""
    found = {}
    for name, herbs in {"bea": ("Sage", "Rue"), "cyd": ("Dill", "Avens", "Betony")}.items():
        other = new_shelf(name)
        live(other, *herbs)
        export_folder(other, tmp_path / name)
        found[name] = tmp_path / name
    return found


def test_a_third_shelf_with_the_same_codes_can_be_merged(
    folders: dict[str, Path], new_shelf: NewShelf
) -> None:
    own = new_shelf("ada")
    live(own, "Mullein", "Hyssop")
    for name in ("bea", "cyd"):
        report = merge_folder(own, folders[name], renumber=True)
        assert report.bad == ()
        assert report.is_done
    assert check(own) == []
    assert meant(own, "26-001") == {"Mullein", "Sage", "Dill"}
    assert meant(own, "26-002") == {"Hyssop", "Rue", "Avens"}
    jars = own.rows("SELECT code FROM jar")
    assert len({herb_of(own, code) for (code,) in jars}) == 7
    again = merge_folder(own, folders["cyd"], renumber=True)
    assert again.bad == ()
    assert own.rows("SELECT code FROM jar") == jars


def test_a_merged_shelf_brings_its_old_codes_along(
    folders: dict[str, Path], new_shelf: NewShelf, tmp_path: Path
) -> None:
    middle = new_shelf("middle")
    live(middle, "Mullein", "Hyssop")
    assert merge_folder(middle, folders["bea"], renumber=True).is_done
    export_folder(middle, tmp_path / "both")
    was = {code: herb_of(middle, code) for (code,) in middle.rows("SELECT code FROM jar")}
    own = new_shelf("own")
    live(own, "Dill", "Avens", "Betony", "Yarrow")
    report = merge_folder(own, tmp_path / "both", renumber=True)
    assert report.bad == ()
    assert report.is_done
    assert check(own) == []
    for code, herb in was.items():  # what is written on the jars of the other shelf
        assert herb in meant(own, code)
    assert meant(own, "26-001") == {"Mullein", "Sage", "Dill"}
