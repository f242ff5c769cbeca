"""The documents agree with the program."""

import re
import shlex
import subprocess
from pathlib import Path

import pytest
from textual.binding import Binding, BindingType

from stillroom.__main__ import run
from stillroom.screens.app import StillroomApp
from stillroom.screens.shelves.board import Board
from stillroom.screens.shelves.page import ShelvesPage

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")


JOB = "This is the job from an empty cupboard"
"""Before the commands that are run in order, on a shelf of their own, by cli/test_main_job.py."""


def without_job(text: str) -> str:
    """The text without the block of commands below those words."""
    before, after = text.split(JOB)
    return before + re.sub(r"```sh\n.*?```", "", after, count=1, flags=re.DOTALL)


def fenced(text: str) -> list[str]:
    """The lines inside shell fences."""
    blocks = re.findall(r"```sh\n(.*?)```", text, re.DOTALL)
    return [line for block in blocks for line in block.splitlines() if line]


def test_ci_runs_exactly_the_test_command_of_the_readme() -> None:
    (command,) = [line for line in fenced(README) if line.endswith("pytest")]
    assert command in (ROOT / ".ci/run").read_text(encoding="utf-8").splitlines()


@pytest.mark.parametrize(
    "command", [line for line in fenced(without_job(README)) if line.startswith("stillroom ")]
)
def test_every_command_in_the_readme_runs_on_the_sample_shelf(
    command: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    _, *arguments = shlex.split(command)
    shelf = [] if arguments[0] == "calculate" else ["--sample"]
    assert run([*shelf, *arguments]) == 0


def of_class(page: type[ShelvesPage]) -> list[BindingType]:
    """The bindings a page declares and inherits from classes of ours."""
    ours = (each for each in page.__mro__ if each.__module__.startswith("stillroom"))
    return [binding for each in ours for binding in vars(each).get("BINDINGS", ())]


def keys_in_readme() -> set[str]:
    """The keys named in the first column of the table of the shelves' keys."""
    table = README.split("On the shelves:")[1].split("In a form")[0]
    rows = [line.split("|")[1] for line in table.splitlines() if line.startswith("| `")]
    return {key for row in rows for key in re.findall(r"`([^`]+)`", row)}


def test_every_key_in_the_readme_is_bound_on_the_shelves() -> None:
    names = {"/": "slash", "?": "question_mark", "=": "equals_sign"}
    declared = [*of_class(ShelvesPage), *Board.BINDINGS, *StillroomApp.BINDINGS]
    bound = {key for b in declared if isinstance(b, Binding) for key in b.key.split(",")} | {
        StillroomApp.COMMAND_PALETTE_BINDING
    }
    assert {names.get(key, key) for key in keys_in_readme()} <= bound


def test_every_key_shown_on_the_shelves_is_in_the_readme() -> None:
    names = {"slash": "/", "question_mark": "?"}
    bindings = (b for b in of_class(ShelvesPage) if isinstance(b, Binding) and b.show)
    shown = {names.get(key, key) for b in bindings for key in b.key.split(",")}
    assert shown <= keys_in_readme()


def test_pictures_in_the_readme_exist_and_need_nothing_from_the_web() -> None:
    for picture in re.findall(r"!\[[^]]*]\(([^)]+)\)", README):
        svg = (ROOT / picture).read_text(encoding="utf-8")
        assert "@font-face" not in svg
        assert "Stillroom" in svg


def test_the_top_level_holds_exactly_what_belongs_there() -> None:
    listed = subprocess.run(
        ["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True
    ).stdout.split()
    top = {name.split("/")[0] for name in listed if not name.startswith(".")}
    assert top == {"DEVELOPERS.md", "README.md", "pyproject.toml", "sample_shelf", "src", "tests"}
