"""The words of the schema's columns are in one place, and nowhere else in the program."""

import ast
import re
from collections.abc import Iterable, Iterator
from enum import StrEnum
from pathlib import Path

import pytest

import stillroom
from stillroom.keeping.keeper import Keeper
from stillroom.reckoning.charge import KNOWN_CONDITIONS, KNOWN_PARTS, Condition, Part
from stillroom.reckoning.states import (
    BY_HAND,
    CORRECTIONS,
    LOSSES,
    BatchStatus,
    CupboardMovementKind,
    DayBy,
    HerbCame,
    HerbMovementKind,
    InputKind,
    JarState,
    LineKind,
    LiquidKind,
    LossKind,
    MovementKind,
    OtherLiquidKind,
    PrintKind,
    StrengthBy,
)
from stillroom.reckoning.yields import Pressing
from stillroom.records.file_state import LISTS_OF_WORDS

SOURCE = Path(next(iter(stillroom.__path__)))
COLUMNS: dict[tuple[str, str], Iterable[StrEnum]] = {
    ("charge_line", "part"): Part,
    ("charge_line", "condition"): Condition,
    ("straining", "pressing"): Pressing,
    ("straining_go", "pressing"): Pressing,
    ("formula_part", "part"): KNOWN_PARTS,
    ("formula_part", "condition"): KNOWN_CONDITIONS,
    ("herb_lot", "part"): KNOWN_PARTS,
    ("gathering_window", "part"): KNOWN_PARTS,
    ("herb_lot", "condition"): KNOWN_CONDITIONS,
    ("herb_lot", "came"): HerbCame,
    ("straining", "day_by"): DayBy,
}
"""Every column of the schema that may hold only certain words, by a CHECK."""
LISTED: dict[tuple[str, str], tuple[str, type[StrEnum]]] = {
    ("jar", "state"): ("jar_state", JarState),
    ("pour", "kind"): ("liquid_kind", LiquidKind),
    ("tincture", "strength_by"): ("known_kind", StrengthBy),
    ("tincture", "status"): ("batch_status", BatchStatus),
    ("movement", "kind"): ("movement_kind", MovementKind),
    ("batch_input", "kind"): ("input_kind", InputKind),
    ("loss", "kind"): ("loss_kind", LossKind),
    ("liquid", "kind"): ("other_liquid_kind", OtherLiquidKind),
    ("cupboard_movement", "kind"): ("cupboard_movement_kind", CupboardMovementKind),
    ("herb_movement", "kind"): ("herb_movement_kind", HerbMovementKind),
    ("journal", "kind"): ("journal_kind", LineKind),
    ("print_log", "kind"): ("print_kind", PrintKind),
}
"""Those that may hold only the words in the rows of a table."""


def words_allowed(keeper: Keeper) -> dict[tuple[str, str], list[set[str]]]:
    """By table and column, the lists of words in the CHECKs of its own line."""
    found: dict[tuple[str, str], list[set[str]]] = {}
    for table, sql in keeper.rows("SELECT name, sql FROM sqlite_schema WHERE type = 'table'"):
        for column, words in re.findall(r"CHECK \((\w+) IN \(('[^()]*')\)\)", sql):
            found.setdefault((table, column), []).append(set(re.findall(r"'([^']*)'", words)))
    return found


def test_the_schema_allows_exactly_the_words_of_the_enums(keeper: Keeper) -> None:
    allowed = words_allowed(keeper)
    assert allowed.keys() == COLUMNS.keys()
    for column, lists in allowed.items():
        for words in lists:
            assert words - {""} == set(COLUMNS[column]), column


def test_every_table_of_words_has_those_of_an_enum(keeper: Keeper) -> None:
    """And it is the one that the column refers to."""
    assert {table for table, _ in LISTED.values()} == set(LISTS_OF_WORDS)
    for table, words in LISTED.values():
        assert {name for (name,) in keeper.rows(f"SELECT name FROM {table}")} == set(words)
    referring = {
        (table, column): parent
        for (table,) in keeper.rows("SELECT name FROM sqlite_schema WHERE type = 'table'")
        for _, _, parent, column, *_ in keeper.rows(f"PRAGMA foreign_key_list({table})")
        if parent in LISTS_OF_WORDS
    }
    assert referring == {column: table for column, (table, _) in LISTED.items()}


def test_the_kinds_of_herb_movement_are_those_of_the_enum(keeper: Keeper) -> None:
    kinds = dict(keeper.rows("SELECT name, takes FROM herb_movement_kind"))
    assert kinds == {kind: int(kind.takes_out) for kind in HerbMovementKind}


@pytest.mark.parametrize(
    ("table", "words"),
    [("movement_kind", MovementKind), ("cupboard_movement_kind", CupboardMovementKind)],
)
def test_schema_and_enum_agree_on_which_kinds_only_take_liquid_out(
    keeper: Keeper, table: str, words: type[MovementKind | CupboardMovementKind]
) -> None:
    takes = {name for (name,) in keeper.rows(f"SELECT name FROM {table} WHERE takes")}
    assert takes == {kind for kind in words if kind.takes_out}


def test_each_kind_of_movement_has_one_meaning() -> None:
    assert all(kind.takes_out and kind.verb for kind in BY_HAND)
    assert not any(kind.takes_out for kind in CORRECTIONS)
    assert {kind for kind in MovementKind if not kind.is_use} == {
        MovementKind.FILL,
        MovementKind.POUR_TOGETHER,
        MovementKind.DISCARD,
        *LOSSES,
    }


ENUMS: list[Iterable[StrEnum]] = [*COLUMNS.values(), *(words for _, words in LISTED.values())]
FIELDS = {column for _, column in (*COLUMNS, *LISTED)}
WORDS = {word for words in ENUMS for word in words}
LEDGER_KINDS = {
    "bottle sizes",
    "laid out",
    "corrected",
    "dates",
    "closed",
    "filled",
    "topped up",
    "strained",
    "blended",
    "bottled",
    "imported",
    "shaken",
    "discarded",
    "keep until",
}
"""Kinds of ledger entries, which the schema leaves open."""


def field_of(node: ast.AST) -> str:
    """The last name of `jar.state`, `row["state"]` or `state`."""
    match node:
        case ast.Attribute(attr=name) | ast.Name(id=name):
            return name
        case ast.Subscript(slice=ast.Constant(value=str(name))):
            return name
        case _:
            return ""


def words_in(node: ast.AST | None) -> Iterator[str]:
    """The bare words in an expression, those of a list or of an if-else too."""
    match node:
        case ast.Constant(value=str(word)) if word in WORDS:
            yield word
        case ast.Tuple(elts=parts) | ast.List(elts=parts) | ast.Set(elts=parts):
            for part in parts:
                yield from words_in(part)
        case ast.IfExp(body=one, orelse=other):
            yield from (*words_in(one), *words_in(other))


HOLDERS = (ast.Compare, ast.keyword, ast.AnnAssign, ast.Assign, ast.arguments, ast.Call)
"""Where a field may meet a word."""


def bare_words(source: str) -> list[tuple[int, str]]:
    """Words of the enums written out where such a field is compared, given or has a default."""
    return bare_words_in(ast.walk(ast.parse(source)))


def bare_words_in(nodes: Iterable[ast.AST]) -> list[tuple[int, str]]:
    found = []
    for node in nodes:
        if not isinstance(node, HOLDERS):
            continue
        values: list[ast.AST | None] = []
        match node:
            case ast.Compare(left=left, comparators=others):
                if FIELDS & {field_of(each) for each in (left, *others)}:
                    values = [left, *others]
            case ast.keyword(arg=str(name), value=value) if name in FIELDS:
                values = [value]
            case ast.AnnAssign(target=ast.Name(id=name), value=value) if name in FIELDS:
                values = [value]
            case ast.Assign(targets=[ast.Name(id=name)], value=value) if name in FIELDS:
                values = [value]
            case ast.arguments():
                named = zip(node.kwonlyargs, node.kw_defaults, strict=True)
                values = [default for arg, default in named if arg.arg in FIELDS]
            case ast.Call(func=ast.Name(id="PourDraft" | "OneOf"), args=args):
                values = list(args)
        found += [(getattr(node, "lineno", 0), word) for v in values for word in words_in(v)]
    return found


IN_A_QUERY = re.compile(
    r"\b(?:state|kind|strength_by|pressing)\s*(?:=|<>|IN)\s*(\('[^)]*\)|'[^']*')"
)


def sql_words_in(nodes: Iterable[ast.AST]) -> set[str]:
    """Words that a query compares one of the columns with."""
    found = set()
    for node in nodes:
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            for words in IN_A_QUERY.findall(node.value):
                found |= set(re.findall(r"'([^']*)'", words))
    return found


def test_no_word_of_the_enums_is_a_bare_string_in_the_program() -> None:
    found = {}
    for path in SOURCE.rglob("*.py"):
        nodes = list(ast.walk(ast.parse(path.read_text())))
        if here := bare_words_in(nodes):
            found[path.relative_to(SOURCE).as_posix()] = here
        assert sql_words_in(nodes) <= WORDS | LEDGER_KINDS, path
    assert found == {}


@pytest.mark.parametrize(
    "line",
    [
        'jar.state == "steeping"',
        'row["kind"] in ("draw", "give")',
        'take_out(kind="spill")',
        'strength_by = "estimated" if fresh else "calculated"',
        'def f(*, kind: str = "draw"): ...',
        'PourDraft("water", 1.0)',
        'OneOf(("steeping", "strained"))',
    ],
)
def test_a_bare_string_in_the_program_is_found(line: str) -> None:
    assert bare_words(line)


def test_a_new_shelf_contains_only_lists_of_words(keeper: Keeper) -> None:
    """So a first import that was killed is known by its shelf, however many lists there are."""
    tables = keeper.rows(
        "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT GLOB 'sqlite_*'"
    )
    filled = {name for (name,) in tables if keeper.rows(f'SELECT 1 FROM "{name}" LIMIT 1')}
    assert filled - {"setting", "undo_state"} == set(LISTS_OF_WORDS)
