"""How the source is laid out: each thing once, and files that can be read at one sitting."""

import ast
import re
from collections import Counter, defaultdict
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

import stillroom

SOURCE = Path(next(iter(stillroom.__path__)))
WRITTEN_ONCE = {"Jar", "ChargeLine", "Pour", "Straining", "Bottle"}
"""The rows that filling, straining and bottling make, whether from a form, a list or a command."""


@cache
def modules() -> tuple[tuple[str, ast.Module], ...]:
    return tuple(
        (path.relative_to(SOURCE).as_posix(), ast.parse(path.read_text(encoding="utf-8")))
        for path in sorted(SOURCE.rglob("*.py"))
    )


def inserts(tree: ast.AST) -> Iterator[str]:
    """The records that a module makes."""
    for node in ast.walk(tree):
        match node:
            case ast.Call(func=ast.Attribute(value=ast.Name(id=record), attr="insert" | "create")):
                yield record


def test_the_rows_of_filling_straining_and_bottling_are_written_in_one_place() -> None:
    made: dict[str, list[str]] = defaultdict(list)
    for name, tree in modules():
        for record in inserts(tree):
            made[record].append(name)
    assert {record: len(made[record]) for record in WRITTEN_ONCE} == dict.fromkeys(WRITTEN_ONCE, 1)


def asked_in_sql(tree: ast.AST) -> Iterator[int]:
    """Lines with words of SQL in them."""
    words = r"\bSELECT\b.+\bFROM\b|\bINSERT INTO\b|\bDELETE FROM\b|\bUPDATE\b.+\bSET\b"
    for node in ast.walk(tree):
        match node:
            case ast.Constant(value=str(text)) if re.search(words, text, re.DOTALL):
                yield node.lineno


def test_screens_commands_and_papers_contain_no_sql() -> None:
    """What they show comes from `keeping`, which the import rules can't see."""
    found = {
        name: lines
        for name, tree in modules()
        if name.startswith(("screens/", "cli/", "paper/")) and (lines := list(asked_in_sql(tree)))
    }
    assert found == {}


def test_sql_in_a_page_would_be_found() -> None:
    planted = 'rows = keeper.rows("SELECT name\\nFROM herb")\nabout = "SELECTED FROM all"'
    assert list(asked_in_sql(ast.parse(planted))) == [1]


def past_the_one_way(tree: ast.AST) -> Iterator[int]:
    """Lines where what was caught is shown other than by `refuse` or in the form it is about."""
    for handler in (node for node in ast.walk(tree) if isinstance(node, ast.ExceptHandler)):
        for node in ast.walk(handler):
            match node:
                case ast.Call(func=ast.Attribute(attr="notify" | "complain")):
                    yield node.lineno


def test_a_refusal_becomes_a_message_in_one_way_only() -> None:
    found = {
        name: lines
        for name, tree in modules()
        if name.startswith("screens/") and (lines := list(past_the_one_way(tree)))
    }
    assert found == {}


def test_a_refusal_shown_in_another_way_is_found() -> None:
    planted = "try:\n    do()\nexcept StillroomError as error:\n    self.notify(str(error))"
    assert list(past_the_one_way(ast.parse(planted))) == [4]


def notified(tree: ast.AST) -> list[int]:
    """Lines that show a message past `say`, `complain` and `refuse` of the app."""
    return [
        node.lineno
        for node in ast.walk(tree)
        if isinstance(node, ast.Call)
        and isinstance(node.func, ast.Attribute)
        and node.func.attr == "notify"
    ]


def test_only_the_app_shows_messages() -> None:
    assert [name for name, tree in modules() if notified(tree)] == ["screens/messages.py"]


def test_a_message_past_the_app_is_found() -> None:
    assert notified(ast.parse('self.app.notify("Done.")')) == [1]


def classes(node: ast.AST, outer: str = "") -> Iterator[str]:
    """The classes of a module; one within another by the names of both, as it is written."""
    for child in ast.iter_child_nodes(node):
        if isinstance(child, ast.ClassDef):
            name = outer + child.name.lstrip("_")
            yield name
            yield from classes(child, f"{name}.")
        else:
            yield from classes(child, outer)


def test_each_class_name_is_used_once() -> None:
    used: dict[str, list[str]] = defaultdict(list)
    for name, tree in modules():
        for each in classes(tree):
            used[each].append(name)
    assert {each: where for each, where in used.items() if len(where) > 1} == {}


def test_classes_are_listed_with_what_encloses_them() -> None:
    source = "class _Cell:\n    class Wrong: pass\ndef made():\n    class Cell: pass"
    assert list(classes(ast.parse(source))) == ["Cell", "Cell.Wrong", "Cell"]


AT_ONE_SITTING = 400
"""Lines of a file; a longer one gives its reason in its first line: `in one file, as …`."""


def test_a_file_is_short_or_gives_the_reason_in_its_first_line() -> None:
    long = {
        path.relative_to(SOURCE).as_posix()
        for path in SOURCE.rglob("*.py")
        if len(lines := path.read_text(encoding="utf-8").splitlines()) > AT_ONE_SITTING
        and "in one file, as" not in lines[0]
    }
    assert long == set()


NAMED_ELSEWHERE = {
    "SetClock",
    "advance",  # a clock for whoever runs the program at a chosen time: tests and scripts
    "Meta",
    "legacy_table_names",  # read by peewee
    "TITLE", "CSS_PATH", "ENABLE_COMMAND_PALETTE", "AUTO_FOCUS",  # read by Textual
    "get_default_screen", "discover",  # called by Textual
    "is_catching_up",  # asked by the tests' pilot, which waits as a person does
}  # fmt: skip
"""Public names that the program itself does not use, each with its reason."""
CALLED_BY_FRAMEWORKS = ("action_", "on_", "watch_", "compose", "render", "key_", "__")


def test_every_public_name_is_used_by_the_program() -> None:
    text = "\n".join(path.read_text(encoding="utf-8") for path in SOURCE.rglob("*.py"))
    used = Counter(re.findall(r"\w+", text))
    dead = set()
    for _, tree in modules():
        for node in ast.walk(tree):
            match node:
                case ast.FunctionDef(name=name) | ast.AsyncFunctionDef(name=name):
                    names = [] if node.decorator_list else [name]
                case ast.ClassDef(name=name) | ast.AnnAssign(target=ast.Name(id=name)):
                    names = [name]
                case ast.Assign(targets=targets):
                    names = [each.id for each in targets if isinstance(each, ast.Name)]
                case _:
                    names = []
            dead |= {
                name
                for name in names
                if used[name] == 1 and not name.startswith(("_", *CALLED_BY_FRAMEWORKS))
            }
    assert dead - NAMED_ELSEWHERE == set()


def numbered_placeholders(tree: ast.AST) -> Iterator[int]:
    """Lines of texts with `?1`, of which Python 3.12 warns where the values are a sequence."""
    for node in ast.walk(tree):
        match node:
            case ast.Constant(value=str(text)) if re.search(r"\?\d", text):
                yield node.lineno


def test_sql_has_no_numbered_placeholders() -> None:
    found = {
        name: lines for name, tree in modules() if (lines := list(numbered_placeholders(tree)))
    }
    assert found == {}


def test_a_numbered_placeholder_is_found() -> None:
    planted = 'db.execute("SELECT 1 WHERE ? < ?2")'
    assert list(numbered_placeholders(ast.parse(planted))) == [1]


def relative_imports(tree: ast.AST) -> list[int]:
    """Lines that import from where they are, such as `from ..keeping import wording`."""
    found = (node for node in ast.walk(tree) if isinstance(node, ast.ImportFrom))
    return [node.lineno for node in found if node.level]


def test_imports_are_absolute() -> None:
    found = {name: lines for name, tree in modules() if (lines := relative_imports(tree))}
    assert found == {}


def test_a_relative_import_is_found() -> None:
    assert relative_imports(ast.parse("import os\nfrom ..keeping import wording")) == [2]


def private_imports(tree: ast.AST) -> list[int]:
    """Lines that import a private name of another module of ours."""
    return [
        node.lineno
        for node in ast.walk(tree)
        if isinstance(node, ast.ImportFrom)
        and str(node.module).startswith("stillroom")
        and any(re.match("_[^_]", alias.name) for alias in node.names)
    ]


def test_no_private_name_is_imported() -> None:
    assert {name: lines for name, tree in modules() if (lines := private_imports(tree))} == {}


def test_an_import_of_a_private_name_is_found() -> None:
    assert private_imports(ast.parse("from stillroom.keeping.wording import _range")) == [1]


PRINTED_ELSEWHERE = {
    "__main__.py": "progress in whole percent, before there is a shelf to ask for its notation",
    "cli/calculate.py": "figures for programs, always with a decimal point",
    "keeping/interchange/books.py": "a cell's number as text, to be read like one that was typed",
    "keeping/interchange/entry.py": "the same",
    "keeping/wording.py": "densities, which are typed and printed in g/mL in any system of units",
    "paper/charts.py": "the figures of a scale, with the decimal mark of the shelf",
    "paper/label_face.py": "the size of a label, written as in the name of its sheet",
    "paper/sheets.py": "the same",
    "paper/year_csv.py": "a file for spreadsheets, always with a decimal point",
}
"""The only files beside `quantities` and `reckoning` that turn a figure into digits, and why."""


def figures_in_digits(tree: ast.AST) -> list[int]:
    """Lines of texts with a figure of so many decimals or digits, such as `{volume:.1f} mL`."""
    return [
        node.lineno
        for node in ast.walk(tree)
        if isinstance(node, ast.FormattedValue)
        and node.format_spec is not None
        and re.search(r"^f'[^%]*[efgn%]'$", ast.unparse(node.format_spec))
    ]


def test_figures_are_printed_by_the_one_printer() -> None:
    found = {
        name
        for name, tree in modules()
        if not name.startswith(("quantities/", "reckoning/")) and figures_in_digits(tree)
    }
    assert found == set(PRINTED_ELSEWHERE)


@pytest.mark.parametrize("line", ['f"{volume:.1f} mL"', 'f"{share:.0f} %"', 'f"{mass:g} g"'])
def test_a_figure_printed_by_hand_is_found(line: str) -> None:
    assert figures_in_digits(ast.parse(line)) == [1]
