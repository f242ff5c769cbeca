"""Every rule of the import contracts catches the import that it forbids."""

import ast
import shutil
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from graphlib import TopologicalSorter
from pathlib import Path
from typing import Any, NamedTuple

import grimp
import pytest
from importlinter.configuration import configure
from importlinter.contracts.forbidden import ForbiddenContract
from importlinter.contracts.layers import LayersContract
from importlinter.domain.contract import Contract

import stillroom

configure()
ROOT = Path(__file__).parents[1]
SOURCE = Path(next(iter(stillroom.__path__)))
RULES: dict[str, Any] = tomllib.loads((ROOT / "pyproject.toml").read_text())["tool"]["importlinter"]
KINDS: dict[str, type[Contract]] = {"layers": LayersContract, "forbidden": ForbiddenContract}


class Plant(NamedTuple):
    """An import that one contract must refuse."""

    contract: str
    importer: str
    imported: str


def contract_of(rule: dict[str, Any]) -> Contract:
    # The reader of the file hands truths on as words.
    options = {k: str(v) if isinstance(v, bool) else v for k, v in rule.items() if k != "type"}
    session = {"root_packages": [RULES["root_package"]], "include_external_packages": "true"}
    return KINDS[rule["type"]](rule["name"], session, options)


CONTRACTS = {rule["name"]: contract_of(rule) for rule in RULES["contracts"]}


def plants() -> Iterator[Plant]:
    """From each layer to the one above and to its neighbours; each forbidden library by each."""
    for rule in RULES["contracts"]:
        if rule["type"] == "forbidden":
            for importer in rule["source_modules"]:
                for imported in rule["forbidden_modules"]:
                    yield Plant(rule["name"], importer, imported)
            continue
        (container,) = rule["containers"]
        layers = [[f"{container}.{m.strip()}" for m in line.split("|")] for line in rule["layers"]]
        for above, layer in zip([[], *layers], layers, strict=False):
            for module in layer:
                for other in (*above, *layer):
                    if other != module:
                        yield Plant(rule["name"], module, other)


@pytest.fixture(scope="module")
def graph() -> grimp.ImportGraph:
    return grimp.build_graph("stillroom", include_external_packages=True, cache_dir=None)


@pytest.fixture
def bare_graph(graph: grimp.ImportGraph) -> grimp.ImportGraph:
    """Every module, none importing another: what is planted in it is all there is to find."""
    bare = grimp.ImportGraph()
    for module in graph.modules:
        bare.add_module(module, is_squashed=graph.is_module_squashed(module))
    return bare


def is_kept(contract: str, graph: grimp.ImportGraph) -> bool:
    return CONTRACTS[contract].check(graph, verbose=False).kept


def test_every_contract_is_kept(graph: grimp.ImportGraph) -> None:
    assert {name: is_kept(name, graph) for name in CONTRACTS} == dict.fromkeys(CONTRACTS, True)


def test_each_layer_is_refused_the_one_above(bare_graph: grimp.ImportGraph) -> None:
    missed = []
    planted = list(plants())
    for plant in planted:
        is_new = plant.imported not in bare_graph.modules
        if is_new:
            bare_graph.add_module(plant.imported, is_squashed=True)
        bare_graph.add_import(importer=plant.importer, imported=plant.imported)
        if is_kept(plant.contract, bare_graph):
            missed.append(plant)
        bare_graph.remove_import(importer=plant.importer, imported=plant.imported)
        if is_new:
            bare_graph.remove_module(plant.imported)
    assert missed == []
    assert {plant.contract for plant in planted} == set(CONTRACTS)
    assert {name: is_kept(name, bare_graph) for name in CONTRACTS} == dict.fromkeys(CONTRACTS, True)


def test_no_modules_import_each_other_in_a_circle(graph: grimp.ImportGraph) -> None:
    imports = {module: graph.find_modules_directly_imported_by(module) for module in graph.modules}
    assert len(list(TopologicalSorter(imports).static_order())) == len(imports)


@pytest.mark.parametrize("package", ["stillroom", "stillroom.screens", "stillroom.keeping"])
def test_a_module_without_a_layer_is_refused(graph: grimp.ImportGraph, package: str) -> None:
    (contract,) = (r["name"] for r in RULES["contracts"] if r.get("containers") == [package])
    graph.add_module(f"{package}.newcomer")
    try:
        assert not is_kept(contract, graph)
    finally:
        graph.remove_module(f"{package}.newcomer")


def test_the_import_checker_refuses_an_import_planted_in_a_file(tmp_path: Path) -> None:
    shutil.copytree(SOURCE, tmp_path / "stillroom", ignore=shutil.ignore_patterns("sample_shelf"))
    with (tmp_path / "stillroom/dates.py").open("a") as file:
        file.write("\nfrom stillroom.records.base import Record\n")
    command = (
        "import sys; from importlinter.cli import lint_imports_command; lint_imports_command()"
    )
    done = subprocess.run(
        [sys.executable, "-c", command, "--no-cache", str(ROOT / "pyproject.toml")],
        cwd=tmp_path,
        env={"PYTHONPATH": str(tmp_path), "COLUMNS": "200"},
        capture_output=True,
        text=True,
    )
    assert done.returncode == 1
    assert "stillroom.dates -> stillroom.records.base" in done.stdout


def test_nothing_in_screens_uses_the_store() -> None:
    found = {
        f"{path.relative_to(SOURCE)}:{node.lineno}"
        for path in (SOURCE / "screens").rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text()))
        if isinstance(node, ast.Attribute) and node.attr in {"store", "db"}
    }
    assert found == set()
