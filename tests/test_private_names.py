"""Private names of libraries: where they are used, and that they still work."""

import ast
import inspect
import pkgutil
from collections.abc import Iterator
from functools import cache
from importlib import import_module
from pathlib import Path

import pytest
from textual.app import App, ComposeResult
from textual.message_pump import MessagePump
from textual.widgets import Input, Static

import stillroom
from stillroom.keeping.keeper import Keeper
from stillroom.records.tables import RECORDS
from stillroom.screens.kit import leaving
from stillroom.screens.kit.leaving import forget_drawn

SOURCE = Path(next(iter(stillroom.__path__)))
ALLOWED = {
    "screens/kit/leaving.py": {"_styles_cache"},
    "records/base.py": {"_meta"},
    "paper/pdf.py": {"_pagesize", "_startPage"},
}
"""The files that may use private names of a library, and give the reasons."""
DOCUMENTED = {"_replace", "_asdict", "_fields", "_make"}
"""What a named tuple has: public in spite of the underscore."""


def is_private(name: str) -> bool:
    return len(name) > 1 and name.startswith("_") and not name.startswith("__")


def made_here(tree: ast.AST) -> Iterator[str]:
    """The private names that a module itself makes."""
    for node in ast.walk(tree):
        match node:
            case ast.FunctionDef(name=name) | ast.AsyncFunctionDef(name=name):
                yield name
            case ast.ClassDef(name=name) | ast.arg(arg=name):
                yield name
            case ast.Name(id=name, ctx=ast.Store()):
                yield name
            case ast.Attribute(value=ast.Name(id="self"), attr=name, ctx=ast.Store()):
                yield name


def used_here(tree: ast.AST) -> Iterator[str]:
    """The private names that a module uses of anything, or imports."""
    for node in ast.walk(tree):
        match node:
            case ast.Attribute(attr=name) if is_private(name):
                yield name
            case ast.ImportFrom(module=str(module), names=names):
                parts = [*module.split("."), *(alias.name for alias in names)]
                yield from filter(is_private, parts)
            case ast.Import(names=names):
                for alias in names:
                    yield from filter(is_private, alias.name.split("."))


@cache
def made_and_used(text: str) -> tuple[set[str], set[str]]:
    """The names that a file makes, and the private ones that it uses."""
    tree = ast.parse(text)
    return set(made_here(tree)), set(used_here(tree))


def foreign_names(sources: dict[str, str]) -> dict[str, set[str]]:
    """By file, the private names in use that no file of the program makes."""
    ours = DOCUMENTED.union(*(made_and_used(text)[0] for text in sources.values()))
    used = {name: made_and_used(text)[1] - ours for name, text in sources.items()}
    return {name: found for name, found in used.items() if found}


@cache
def read_sources() -> dict[str, str]:
    return {p.relative_to(SOURCE).as_posix(): p.read_text() for p in SOURCE.rglob("*.py")}


def test_private_names_of_libraries_are_only_in_the_file_with_the_reasons() -> None:
    assert foreign_names(read_sources()) == ALLOWED


@pytest.mark.parametrize(
    ("line", "name"),
    [
        ("from textual._compositor import Compositor", "_compositor"),
        ("import textual._xterm_parser", "_xterm_parser"),
        ("print(self.screen._compositor)", "_compositor"),
        ("class A(Input):\n    def f(self): super()._on_paste(None)", "_on_paste"),
    ],
)
def test_a_private_name_planted_in_a_page_is_found(line: str, name: str) -> None:
    found = foreign_names({**read_sources(), "screens/planted.py": line})
    assert found["screens/planted.py"] == {name}


def modules() -> Iterator[str]:
    for found in pkgutil.walk_packages([str(SOURCE / "screens")], "stillroom.screens."):
        yield found.name


@cache
def classes_of(module: str) -> dict[str, set[str]]:
    """By class, the private names that its own source makes."""
    tree = ast.parse(Path(str(import_module(module).__file__)).read_text())
    classes = (node for node in ast.walk(tree) if isinstance(node, ast.ClassDef))
    return {node.name: set(filter(is_private, made_here(node))) for node in classes}


def private_names(kind: type) -> set[str]:
    """What a class itself defines or sets on its objects."""
    return classes_of(kind.__module__).get(kind.__name__, set())


def test_no_widget_of_ours_overrides_a_private_name_of_textual() -> None:
    """A name that both use would be overwritten unseen."""
    ours = [
        kind
        for name in modules()
        for kind in vars(import_module(name)).values()
        if inspect.isclass(kind) and kind.__module__ == name and issubclass(kind, MessagePump)
    ]
    assert len(ours) > 40
    taken = {}
    for kind in ours:
        for base in (each for each in kind.__mro__ if each.__module__.startswith("textual.")):
            if both := private_names(kind) & private_names(base):
                taken[kind.__name__, base.__name__] = both
    assert len(private_names(MessagePump)) > 20
    assert taken == {}


class Something(App[None]):
    def compose(self) -> ComposeResult:
        yield Static("drawn")
        yield Input()


async def test_what_textual_has_drawn_can_be_released() -> None:
    cache = vars(leaving)["StylesCache"].get_inner_outer
    async with Something().run_test() as pilot:
        await pilot.pause()
        assert cache.cache_info().currsize > 0
        forget_drawn()
        assert cache.cache_info().currsize == 0


def test_each_record_names_its_table(keeper: Keeper) -> None:
    tables = {
        name for (name,) in keeper.rows("SELECT name FROM sqlite_schema WHERE type = 'table'")
    }
    assert {record.table() for record in RECORDS} <= tables
