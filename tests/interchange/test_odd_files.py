"""What can't be read as a file, or not to its end, is refused at once in one sentence."""

import os
import shutil
from pathlib import Path

import pytest

from stillroom.errors import StillroomError
from stillroom.keeping.interchange.columns import MANIFEST
from stillroom.keeping.interchange.notebook import import_notebook
from stillroom.keeping.interchange.reading import import_folder
from stillroom.keeping.interchange.writing import export_folder
from stillroom.keeping.keeper import Keeper

from ..durability.driver import content
from .conftest import NewShelf

ODD = ("a pipe", "a device without end", "a folder", "2 GB", "the open shelf itself", "deep JSON")


def put(kind: str, path: Path, keeper: Keeper) -> None:
    if kind == "a pipe":
        os.mkfifo(path)
    elif kind == "a device without end":
        path.symlink_to("/dev/zero")
    elif kind == "a folder":
        path.mkdir()
    elif kind == "2 GB":
        with path.open("wb") as file:
            file.truncate(2 * 1024**3)  # takes no room on the disk
    elif kind == "the open shelf itself":
        path.symlink_to(keeper.store.path)
    else:
        path.write_text("[" * 100_000)


@pytest.mark.parametrize("kind", ODD)
def test_a_list_that_is_not_an_ordinary_file_is_refused(
    new_shelf: NewShelf, tmp_path: Path, kind: str
) -> None:
    keeper = new_shelf("b")
    before = content(keeper)
    put(kind, tmp_path / "list.csv", keeper)
    report = import_notebook(keeper, tmp_path / "list.csv")
    assert len(report.bad) == 1
    assert len(str(report.bad[0])) < 200
    assert content(keeper) == before


@pytest.mark.parametrize("kind", ODD)
@pytest.mark.parametrize("name", ["settings.csv", "movements.csv", MANIFEST])
def test_a_folder_with_something_other_than_ordinary_files_is_refused(
    stocked: Keeper, new_shelf: NewShelf, tmp_path: Path, kind: str, name: str
) -> None:
    folder = tmp_path / "out"
    export_folder(stocked, folder)
    (folder / name).unlink()
    keeper = new_shelf("b")
    before = content(keeper)
    put(kind, folder / name, keeper)
    report = import_folder(keeper, folder)
    assert report.bad
    assert any(bad.file == name for bad in report.bad)
    assert content(keeper) == before


def test_a_pipe_in_place_of_a_folder_is_refused(new_shelf: NewShelf, tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "out")
    assert import_folder(new_shelf("b"), tmp_path / "out").bad


@pytest.mark.parametrize("name", ["jars.csv", MANIFEST])
def test_an_export_to_the_name_of_a_file_changes_nothing(
    stocked: Keeper, tmp_path: Path, name: str
) -> None:
    folder = tmp_path / "out"
    export_folder(stocked, folder)
    (folder / name).unlink()
    (folder / name).mkdir()
    before = {path: path.read_bytes() for path in folder.iterdir() if path.is_file()}
    with pytest.raises(StillroomError, match="is a folder"):
        export_folder(stocked, folder, overwrite=True)
    assert {path: path.read_bytes() for path in folder.iterdir() if path.is_file()} == before
    shutil.rmtree(folder / name)
    export_folder(stocked, folder, overwrite=True)
