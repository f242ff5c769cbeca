"""Tries whether the tests notice small faults in the arithmetic: mutation testing.

    python tests/mutations.py --mutants 500 --seed 1

Draws mutants (a number, operator, comparison, sign, order, term or result changed), runs the tests
that reach each, the quickest first, until one fails, and prints those that no test noticed. Text,
types and docstrings are left alone, and so is what compiles to the same bytecode.

No file is changed. The tests are collected once; a mutant is the code of a function replaced in a
forked process. Where the changed line runs at import, that process imports the tests again.
"""

import argparse
import ast
import gc
import os
import pickle
import resource
import signal
import sys
import time
from collections import Counter, defaultdict
from collections.abc import Iterator
from copy import deepcopy
from dataclasses import dataclass
from functools import _lru_cache_wrapper
from importlib.machinery import ModuleSpec, SourceFileLoader
from importlib.util import spec_from_file_location
from pathlib import Path
from random import Random
from types import CodeType, FunctionType

import pytest

ROOT = Path(__file__).parents[1]
SRC = ROOT / "src"
KEEPING = [
    "contents", "jars/straining", "jars/jar_view", "bottles/blends", "bottles/bottling",
    "bottles/stock", "bottles/stock_outlook", "trace/recall", "trace/batch_history",
]  # fmt: skip
"""The modules of `keeping` that reckon."""
SOURCES = [
    *sorted((SRC / "stillroom/reckoning").rglob("*.py")),
    *(SRC / f"stillroom/keeping/{name}.py" for name in KEEPING),
]
TESTS = [
    "tests/reckoning", "tests/quantities/test_printing.py", "tests/keeping",
    "tests/cli/test_at_most.py",
    "tests/cli/test_calculate.py", "tests/paper/test_label.py", "tests/paper/test_batch_record.py",
    "tests/interchange/test_notebook.py", "src/stillroom/reckoning", "src/stillroom/keeping",
]  # fmt: skip
OPTIONS = [
    "-q", "-s", "--doctest-modules", "--import-mode=importlib", "--hypothesis-profile=quick",
    "--override-ini=addopts=", "-p", "no:cacheprovider", "-p", "no:xdist",
]  # fmt: skip
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
LONG_S = 1.0
"""CPU time after which a test is left out, as it would be run thousands of times."""
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


def changes(node: ast.AST) -> list[ast.AST]:
    """What may stand in the place of a node."""
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
            swaps = [([new(), two]) for new in SWAPPED[type(one)]]
            swaps += [([one, new()]) for new in SWAPPED[type(two)]]
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


def _is_none(node: ast.AST) -> bool:
    return isinstance(node, ast.Constant) and node.value is None


def _is_text(node: ast.AST) -> bool:
    is_text = isinstance(node, ast.Constant) and isinstance(node.value, str)
    return is_text or isinstance(node, ast.JoinedStr)


def _can_swap(*arguments: ast.expr) -> bool:
    return not any(isinstance(each, ast.Starred) or _is_text(each) for each in arguments)


def _typing(tree: ast.Module) -> set[ast.AST]:
    """Nodes of types and decorators, which are no arithmetic, and of `assert`, for the checker."""
    roots: list[ast.AST | None] = []
    for node in ast.walk(tree):
        match node:
            case ast.FunctionDef() | ast.ClassDef():
                roots += node.decorator_list
                roots += [node.returns] if isinstance(node, ast.FunctionDef) else []
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


def mutants_of(path: Path) -> Iterator[Mutant]:
    """Every mutant of a module."""
    tree = ast.parse(path.read_text())
    typing, functions = _typing(tree), _functions(tree)
    for place, node in enumerate(ast.walk(tree)):
        if node in typing:
            continue
        for change, new in enumerate(changes(node)):
            function = functions.get(node, AT_IMPORT)
            words = (ast.unparse(node), ast.unparse(ast.fix_missing_locations(deepcopy(new))))
            yield Mutant(path, node.lineno, function, place, change, *words)  # type: ignore[attr-defined]


def draw(mutants: list[Mutant], count: int, seed: int) -> list[Mutant]:
    """Some of them by chance, without those that compile to the same bytecode."""
    drawn = []
    original = {path: compile(path.read_text(), str(path), "exec") for path in SOURCES}
    for mutant in Random(seed).sample(mutants, len(mutants)):
        if len(drawn) == count:
            break
        if compiled(mutant) != original[mutant.path]:
            drawn.append(mutant)
    return drawn


def compiled(mutant: Mutant) -> CodeType:
    """The module with the change in it."""
    tree = ast.parse(mutant.path.read_text())
    for place, node in enumerate(ast.walk(tree)):
        if place == mutant.place:
            new = ast.copy_location(changes(node)[mutant.change], node)
            node_class, fields = type(new), dict(ast.iter_fields(new))
            break
    node.__class__ = node_class
    node._fields = node_class._fields
    for name, value in fields.items():
        setattr(node, name, value)
    return compile(ast.fix_missing_locations(tree), str(mutant.path), "exec")


def code_of(module: CodeType, function: str) -> CodeType:
    """The code of a function or method of a module."""
    for code in module.co_consts:
        if isinstance(code, CodeType):
            if code.co_qualname == function:
                return code
            if function.startswith(f"{code.co_name}."):
                return code_of(code, function)
    raise LookupError(function)


class Imported:
    """The functions and caches of everything that is imported, found once."""

    def __init__(self) -> None:
        self.functions: dict[tuple[str, str], list[FunctionType]] = defaultdict(list)
        things = gc.get_objects()
        for thing in things:
            if isinstance(thing, FunctionType):
                code = thing.__code__
                self.functions[code.co_filename, code.co_qualname].append(thing)
        self.caches = [thing for thing in things if isinstance(thing, _lru_cache_wrapper)]

    def patch(self, mutant: Mutant) -> None:
        """Give a function the changed code."""
        code = code_of(compiled(mutant), mutant.function)
        for function in self.functions[code.co_filename, code.co_qualname]:
            function.__code__ = code
        self.forget()

    def forget(self) -> None:
        """Empty the caches, so that what is cached is reckoned again."""
        for cache in self.caches:
            cache.cache_clear()


class ChangedModule(SourceFileLoader):
    """Finds and loads the changed module in place of the one on disk."""

    def __init__(self, mutant: Mutant) -> None:
        super().__init__(mutant.module, str(mutant.path))
        self.code = compiled(mutant)

    def find_spec(self, name: str, *_: object) -> ModuleSpec | None:
        return spec_from_file_location(name, self.path, loader=self) if name == self.name else None

    def get_code(self, _: str) -> CodeType:
        return self.code


class Chosen:
    """A pytest plugin that runs the chosen tests alone, in their order."""

    def __init__(self, names: list[str]) -> None:
        self.rank = {name: i for i, name in enumerate(names)}

    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        items[:] = sorted(
            (item for item in items if item.nodeid in self.rank),
            key=lambda item: self.rank[item.nodeid],
        )


def run_anew(mutant: Mutant, names: list[str]) -> bool:
    """Whether a test fails once everything is imported again, the changed module with it."""
    for name in list(sys.modules):
        if name.partition(".")[0] in {"stillroom", "tests"}:
            del sys.modules[name]
    sys.meta_path.insert(0, ChangedModule(mutant))
    files = list(dict.fromkeys(name.partition("::")[0] for name in names))
    for some in (files[:4], files[4:]):
        if some and pytest.main([*OPTIONS, "-x", *some], [Chosen(names)]) not in (0, 5):
            return True
    return False


@dataclass
class Reach:
    """What the tests take and reach."""

    seconds: dict[str, float]
    functions: dict[str, set[tuple[str, str]]]
    """The path and name of each function that a test calls."""


def measure(items: list[pytest.Item], imported: Imported) -> Reach:
    """Run every test once, noting the functions it calls; those that take long are left out."""
    signal.signal(signal.SIGPROF, _too_long)
    wanted = {str(path) for path in SOURCES}
    reach = Reach({}, {})
    for item in items:
        calls: set[CodeType] = set()

        def note(frame, *_, calls=calls):  # type: ignore[no-untyped-def]
            calls.add(frame.f_code)

        imported.forget()
        started = time.process_time()
        signal.setitimer(signal.ITIMER_PROF, LONG_S)
        sys.settrace(note)
        failed = fails(item)
        sys.settrace(None)
        signal.setitimer(signal.ITIMER_PROF, 0)
        if failed:
            continue
        reach.seconds[item.nodeid] = time.process_time() - started
        reach.functions[item.nodeid] = {
            (code.co_filename, code.co_qualname.partition(".<locals>")[0])
            for code in calls
            if code.co_filename in wanted
        }
    return reach


def _too_long(*_: object) -> None:
    sys.settrace(None)
    pytest.fail("takes too long to be run for every mutant")


def fails(item: pytest.Item) -> bool:
    before = item.session.testsfailed
    try:
        item.config.hook.pytest_runtest_protocol(item=item, nextitem=None)
    except BaseException:  # the time was up outside the test
        return True
    return item.session.testsfailed > before


def in_child(work, limit_s: float) -> int:  # type: ignore[no-untyped-def]
    """Start a process with a limit of CPU time; it ends with what `work` returns."""
    sys.stdout.flush()
    child = os.fork()
    if child:
        return child
    code = 70
    try:
        silent = os.open(os.devnull, os.O_WRONLY)
        os.dup2(silent, 1)
        os.dup2(silent, 2)
        used = resource.getrusage(resource.RUSAGE_SELF)
        limit = int(used.ru_utime + used.ru_stime + limit_s) + 1
        resource.setrlimit(resource.RLIMIT_CPU, (limit, limit + 5))
        code = int(work())
    finally:
        os._exit(code)


class Trial:
    """A pytest plugin: when the tests are collected, tries the mutants on them."""

    def __init__(self, asked: argparse.Namespace) -> None:
        self.asked = asked
        self.is_enough = True

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        self.items = session.items
        self.imported = Imported()
        self.reach = self._reach()
        everything = [m for path in SOURCES for m in mutants_of(path)]
        if self.asked.only:
            everything = [m for m in everything if self.asked.only in str(m)]
        drawn = draw(everything, self.asked.mutants, self.asked.seed)
        print(f"{len(everything)} mutants, {len(drawn)} drawn with seed {self.asked.seed}")
        self._try(drawn)
        return True

    def _reach(self) -> Reach:
        """Measured by as many processes as may run, or read from where it was noted."""
        parts = [Path(f"{self.asked.reach}.{i}") for i in range(self.asked.processes)]
        if not all(part.exists() for part in parts):
            for i, part in enumerate(parts):

                def work(i: int = i, part: Path = part) -> int:
                    part.write_bytes(
                        pickle.dumps(measure(self.items[i :: len(parts)], self.imported))
                    )
                    return 0

                in_child(work, 3600)
            for _ in parts:
                os.wait()
        reach = Reach({}, {})
        for part in parts:
            found = pickle.loads(part.read_bytes())
            reach.seconds |= found.seconds
            reach.functions |= found.functions
        print(
            f"{len(reach.seconds)} of {len(self.items)} tests, {sum(reach.seconds.values()):.0f} s"
        )
        return reach

    def _names(self, mutant: Mutant) -> list[str]:
        """The tests that reach a mutant, the quickest first, up to the time that it is worth."""
        path = str(mutant.path)
        names = [
            name
            for name, calls in self.reach.functions.items()
            if ((path, mutant.function) in calls if mutant.function else path in dict(calls))
        ]
        if mutant.function == AT_IMPORT and not names:
            names = [n for n in self.reach.seconds if n.startswith(("tests/reck", "tests/quan"))]
        names.sort(key=self.reach.seconds.__getitem__)
        if mutant.function == AT_IMPORT:  # few files are imported again: those with most tests
            many = Counter(name.partition("::")[0] for name in names)
            names.sort(key=lambda name: -many[name.partition("::")[0]])
        kept, seconds = [], 0.0
        for name in names:
            seconds += self.reach.seconds[name]
            if seconds > self.asked.seconds and kept:
                break
            kept.append(name)
        return kept

    def _run(self, mutant: Mutant, names: list[str]) -> bool:
        if mutant.function == AT_IMPORT:
            return run_anew(mutant, names)
        self.imported.patch(mutant)
        by_name = {item.nodeid: item for item in self.items}
        return any(fails(by_name[name]) for name in names)

    def _try(self, drawn: list[Mutant]) -> None:
        waiting, running = list(reversed(drawn)), {}
        came_to: dict[str, list[Mutant]] = defaultdict(list)
        while waiting or running:
            while waiting and len(running) < self.asked.processes:
                mutant = waiting.pop()
                names = self._names(mutant)
                limit_s = 10 + 4 * sum(self.reach.seconds[name] for name in names)
                child = in_child(lambda m=mutant, n=names: self._run(m, n), limit_s)  # type: ignore[misc]
                running[child] = mutant
            child, status = os.wait()
            mutant = running.pop(child)
            code = os.waitstatus_to_exitcode(status)
            end = {0: "survived", 1: "killed", -signal.SIGXCPU: "out of time"}.get(code, "killed")
            came_to[end].append(mutant)
            if end == "survived":
                print(f"survived  {mutant}", flush=True)
        killed = len(drawn) - len(came_to["survived"])
        print(f"{killed} of {len(drawn)} killed, {100 * killed / len(drawn):.1f} %;", end=" ")
        print(f"{len(came_to['out of time'])} of them by taking too long")
        self.is_enough = killed >= 0.95 * len(drawn)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--mutants", type=int, default=500)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", default="", help="part of a mutant's line, as it is printed")
    parser.add_argument("--seconds", type=float, default=15, help="of tests for each mutant")
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--reach", default="", help="file that holds what the tests reach")
    asked = parser.parse_args()
    asked.reach = asked.reach or f"/tmp/stillroom-reach-{os.getpid()}"
    os.chdir(ROOT)
    sys.path.insert(0, str(SRC))
    trial = Trial(asked)
    pytest.main([*OPTIONS, *TESTS], [trial])
    return 0 if trial.is_enough else 1


if __name__ == "__main__":
    sys.exit(main())
