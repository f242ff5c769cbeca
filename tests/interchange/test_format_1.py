"""Folders that the first release wrote are read for good."""

import csv
import io
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from stillroom.keeping.interchange.reading import import_folder
from stillroom.keeping.interchange.writing import export_folder
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.shelf_file.check import check

from .conftest import Folder

RELEASED = Path(__file__).parent / "released" / "format_1.zip"
"""The sample shelf as the first release wrote it."""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    with zipfile.ZipFile(RELEASED) as file:
        file.extractall(tmp_path / "old")
    return tmp_path / "old"


def lines(name: str) -> Iterator[dict[str, str]]:
    """The lines of a file of the folder, read without the program."""
    with zipfile.ZipFile(RELEASED) as file:
        yield from csv.DictReader(io.StringIO(file.read(f"{name}.csv").decode()))


def test_every_line_of_the_old_format_is_imported_in_order(keeper: Keeper, folder: Path) -> None:
    report = import_folder(keeper, folder)
    assert report.bad == ()
    for name, table in {"jars": "jar", "shakes": "shake", "movements": "movement"}.items():
        assert keeper.rows(f"SELECT count(*) FROM {table}") == [(len(list(lines(name))),)]
    assert check(keeper) == []


def test_the_note_of_a_gift_becomes_the_name_of_who_got_it(keeper: Keeper, folder: Path) -> None:
    import_folder(keeper, folder)
    sql = """SELECT b.code, m.kind, m.volume_ml, m.person, m.note FROM movement m
             JOIN bottle b ON b.id = m.bottle_id ORDER BY b.id, m.id"""
    gifts = 0
    for row, was in zip(keeper.rows(sql), lines("movements"), strict=True):
        code, kind, volume_ml, person, note = row
        assert (code, kind, volume_ml) == (was["bottle"], was["kind"], float(was["volume_ml"]))
        assert (person, note) == ((was["note"], "") if kind == "give" else ("", was["note"]))
        gifts += bool(person)
    assert gifts > 5


def test_an_import_of_the_old_format_is_exported_and_imported_unchanged(
    keeper: Keeper, folder: Path, tmp_path: Path
) -> None:
    import_folder(keeper, folder)
    export_folder(keeper, tmp_path / "new")
    report = import_folder(keeper, tmp_path / "new")
    assert (report.bad, sum(report.added.values())) == ((), 0)
    export_folder(keeper, tmp_path / "again")
    assert Folder(tmp_path / "again").bytes() == Folder(tmp_path / "new").bytes()


def test_a_second_import_of_the_old_format_adds_nothing(keeper: Keeper, folder: Path) -> None:
    import_folder(keeper, folder)
    report = import_folder(keeper, folder)
    assert (report.bad, sum(report.added.values())) == ((), 0)
