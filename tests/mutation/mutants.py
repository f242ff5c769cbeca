"""What a mutant is: one small fault in the arithmetic, drawn by chance.

A number, operator, comparison, sign, order, term or result is changed. Text, types, decorators and
assertions are left alone.
"""

import ast
from collections.abc import Iterator
from copy import deepcopy
from dataclasses import dataclass
from pathlib import Path
from types import CodeType

ROOT = Path(__file__).parents[2]
SRC = ROOT / "src"
KEEPING = [
    "contents", "jars/straining", "jars/expecting", "jars/liquid", "jars/jar_view",
    "bottles/blends", "bottles/bottling", "bottles/bottle_views",
    "bottles/formulas", "bottles/stock", "bottles/stock_outlook", "bottles/stocktake",
    "trace/recall", "trace/future", "trace/batch_history",
]  # fmt: skip
"""The modules of `keeping` that calculate."""
SOURCES = [
    *sorted((SRC / "stillroom/reckoning").rglob("*.py")),
    *(SRC / f"stillroom/keeping/{name}.py" for name in KEEPING),
]
AT_IMPORT = ""
"""The function of what runs when a module is imported."""
SWAPPED: dict[type, tuple[type, ...]] = {
    ast.Add: (ast.Sub,), ast.Sub: (ast.Add,), ast.Mult: (ast.Div,), ast.Div: (ast.Mult,),
    ast.FloorDiv: (ast.Mult,), ast.Mod: (ast.Mult,), ast.Pow: (ast.Mult,),
    ast.Lt: (ast.LtE, ast.Gt), ast.LtE: (ast.Lt, ast.GtE), ast.Gt: (ast.GtE, ast.Lt),
    ast.GtE: (ast.Gt, ast.LtE), ast.Eq: (ast.NotEq,), ast.NotEq: (ast.Eq,), ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,), ast.In: (ast.NotIn,), ast.NotIn: (ast.In,), ast.And: (ast.Or,),
    ast.Or: (ast.And,),
}  # fmt: skip
OTHER_NAME = {"min": "max", "max": "min", "any": "all", "all": "any", "floor": "ceil"}


@dataclass(frozen=True)
class Mutant:
    """One change of one place."""

    path: Path
    line: int
    function: str
    """The outermost function or method around it; AT_IMPORT elsewhere."""
    place: int
    """Which node, as `ast.walk` counts them."""
    change: int
    """Which of the changes of that node."""
    before: str
    after: str

    @property
    def module(self) -> str:
        return ".".join(self.path.relative_to(SRC).with_suffix("").parts)

    def __str__(self) -> str:
        where = f"{self.path.relative_to(SRC / 'stillroom')}:{self.line}"
        return f"{where} {self.function or '(at import)'}: {self.before}  ->  {self.after}"


def mutants_of(path: Path) -> Iterator[Mutant]:
    """Every mutant of a module."""
    tree = ast.parse(path.read_text())
    no_arithmetic, functions = _no_arithmetic(tree), _functions(tree)
    for place, node in enumerate(ast.walk(tree)):
        if node in no_arithmetic:
            continue
        for change, new in enumerate(changes(node)):
            before, after = _text(node), _text(new)
            if before != after:
                function = functions.get(node, AT_IMPORT)
                line: int = node.lineno  # type: ignore[attr-defined]
                yield Mutant(path, line, function, place, change, before, after)


def compiled(mutant: Mutant) -> CodeType:
    """The module with the change in it."""
    tree = ast.parse(mutant.path.read_text())
    node = next(node for place, node in enumerate(ast.walk(tree)) if place == mutant.place)
    new = ast.copy_location(changes(node)[mutant.change], node)
    fields = dict(ast.iter_fields(new))
    node.__class__ = type(new)
    for name, value in fields.items():
        setattr(node, name, value)
    return compile(ast.fix_missing_locations(tree), str(mutant.path), "exec")


def changes(node: ast.AST) -> list[ast.AST]:
    """What may be in the place of a node."""
    match node:
        case ast.Constant(bool() as value):
            return [ast.Constant(not value)]
        case ast.Constant(int() as value):
            return [ast.Constant(value + 1), *([ast.Constant(value - 1)] if value else [])]
        case ast.Constant(float() as value):
            return [ast.Constant(value * 1.1 or 1.0), ast.Constant(-value or -1.0)]
        case ast.BinOp(left, op, right) if not any(map(_is_text, (left, right))):
            ordered = isinstance(op, ast.Sub | ast.Div | ast.Pow | ast.FloorDiv | ast.Mod)
            others = [ast.BinOp(left, new(), right) for new in SWAPPED.get(type(op), ())]
            return [*others, left, right, *([ast.BinOp(right, op, left)] if ordered else [])]
        case ast.Compare(left, [op], rest):
            return [ast.Compare(left, [new()], rest) for new in SWAPPED.get(type(op), ())]
        case ast.Compare(left, [one, two], rest):
            swaps = [[new(), two] for new in SWAPPED[type(one)]]
            swaps += [[one, new()] for new in SWAPPED[type(two)]]
            return [ast.Compare(left, ops, rest) for ops in swaps]
        case ast.BoolOp(op, values):
            fewer = [values[:i] + values[i + 1 :] for i in range(len(values))]
            less = [ast.BoolOp(op, some) if some[1:] else some[0] for some in fewer]
            return [ast.BoolOp(SWAPPED[type(op)][0](), values), *less]
        case ast.UnaryOp(ast.USub() | ast.Not(), operand):
            return [operand]
        case ast.IfExp(test, body, orelse):
            return [body, orelse, ast.IfExp(test, orelse, body)]
        case ast.Return(ast.expr() as value) if not _is_none(value):
            return [ast.Return(ast.Constant(None))]
        case ast.Call(ast.Name(name), args, keywords) if name in OTHER_NAME:
            return [ast.Call(ast.Name(OTHER_NAME[name], ast.Load()), args, keywords)]
        case ast.Call(func, [one, two, *rest], keywords) if _can_swap(one, two):
            return [ast.Call(func, [two, one, *rest], keywords)]
        case _:
            return []


def _text(node: ast.AST) -> str:
    return ast.unparse(ast.fix_missing_locations(deepcopy(node)))


def _is_none(node: ast.AST) -> bool:
    return isinstance(node, ast.Constant) and node.value is None


def _is_text(node: ast.AST) -> bool:
    is_text = isinstance(node, ast.Constant) and isinstance(node.value, str)
    return is_text or isinstance(node, ast.JoinedStr)


def _can_swap(*arguments: ast.expr) -> bool:
    return not any(isinstance(each, ast.Starred) or _is_text(each) for each in arguments)


def _no_arithmetic(tree: ast.Module) -> set[ast.AST]:
    """Nodes of text, types and decorators, and of `assert`, which is for the type checker."""
    roots: list[ast.AST | None] = []
    for node in ast.walk(tree):
        match node:
            case ast.FunctionDef() | ast.ClassDef():
                roots += node.decorator_list
                roots += [node.returns] if isinstance(node, ast.FunctionDef) else []
            case ast.AnnAssign(annotation=ast.Name("TypeAlias")):
                roots.append(node)
            case ast.AnnAssign() | ast.arg():
                roots.append(node.annotation)
            case ast.Assert() | ast.JoinedStr() | ast.keyword("strict"):
                roots.append(node)
    return {inner for root in roots if root is not None for inner in ast.walk(root)}


def _functions(tree: ast.Module) -> dict[ast.AST, str]:
    """The outermost function of each node that runs when it is called."""
    found: dict[ast.AST, str] = {}

    def look(body: list[ast.stmt], prefix: str) -> None:
        for statement in body:
            if isinstance(statement, ast.ClassDef):
                look(statement.body, f"{prefix}{statement.name}.")
            elif isinstance(statement, ast.FunctionDef):
                for inner in statement.body:
                    found.update(dict.fromkeys(ast.walk(inner), f"{prefix}{statement.name}"))

    look(tree.body, "")
    return found
