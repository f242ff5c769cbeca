"""An export checked against the schema beside it by an independent validator."""

import json
from pathlib import Path

import pytest

from .conftest import Folder

pytestmark = pytest.mark.filterwarnings("ignore")


def faults(folder: Path) -> list[tuple[str, str]]:
    """What Frictionless finds wrong: the file and the kind of fault."""
    from frictionless import Package

    report = Package(str(folder / "datapackage.json")).validate()
    return [(str(task.place), error.type) for task in report.tasks for error in task.errors] + [
        ("datapackage.json", error.type) for error in report.errors
    ]


def test_an_independent_validator_accepts_an_export(folder: Folder) -> None:
    assert faults(folder.path) == []
    described = json.loads((folder.path / "datapackage.json").read_text(encoding="utf-8"))
    paths = {resource["path"] for resource in described["resources"]}
    assert paths == {file.name for file in folder.path.glob("*.csv")}


@pytest.mark.parametrize(
    ("file", "column", "cell", "fault"),
    [
        ("jars.csv", "filled_on", "last week", "type-error"),
        ("jars.csv", "code", "", "constraint-error"),
        ("herbs_in_jars.csv", "part", "stalk", "constraint-error"),
        ("herbs_in_jars.csv", "mass_g", "-5", "constraint-error"),
        ("strainings.csv", "teaches", "perhaps", "type-error"),
        ("movements.csv", "at", "yesterday", "constraint-error"),
    ],
)
def test_the_validator_notices_a_wrong_export(
    file: str, column: str, cell: str, fault: str, folder: Folder
) -> None:
    folder.set(file, 2, column, cell)
    assert (file, fault) in faults(folder.path)
