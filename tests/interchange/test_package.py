"""An export checked against the schema beside it by an independent validator."""

import json
from pathlib import Path

import pytest

from .conftest import Folder

pytestmark = pytest.mark.filterwarnings("ignore")


def faults(folder: Path) -> list[tuple[str, str, str]]:
    """What Frictionless finds wrong: the file, the column and the kind of fault."""
    from frictionless import Package

    report = Package(str(folder / "datapackage.json")).validate()
    found = [(task.place, error) for task in report.tasks for error in task.errors]
    found += [("datapackage.json", error) for error in report.errors]
    return [(place, getattr(error, "field_name", ""), error.type) for place, error in found]


def test_an_independent_validator_accepts_an_export(folder: Folder) -> None:
    assert faults(folder.path) == []
    described = json.loads((folder.path / "datapackage.json").read_text(encoding="utf-8"))
    paths = {resource["path"] for resource in described["resources"]}
    assert paths == {file.name for file in folder.path.glob("*.csv")}


WRONG = {
    ("jars.csv", "filled_on", "type-error"): "last week",
    ("jars.csv", "code", "constraint-error"): "",
    ("herbs_in_jars.csv", "part", "constraint-error"): "stalk",
    ("herbs_in_jars.csv", "mass_g", "constraint-error"): "-5",
    ("strainings.csv", "teaches", "type-error"): "perhaps",
    ("movements.csv", "at", "constraint-error"): "yesterday",
}
"""What is written where, and the fault that comes of it."""


def test_the_validator_notices_a_wrong_export(folder: Folder) -> None:
    for (file, column, _), cell in WRONG.items():
        folder.set(file, 2, column, cell)
    assert WRONG.keys() - set(faults(folder.path)) == set()
