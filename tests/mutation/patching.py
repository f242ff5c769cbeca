"""Puts a mutant into the running process, in place of the function or module on disk."""

import gc
from collections import defaultdict
from functools import _lru_cache_wrapper
from importlib.machinery import ModuleSpec, SourceFileLoader
from importlib.util import spec_from_file_location
from types import CodeType, FunctionType

from mutants import Mutant, compiled


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
        functions = self.functions[code.co_filename, code.co_qualname]
        if not functions:
            raise LookupError(f"{mutant}: this function was not imported")
        for function in functions:
            function.__code__ = code
        self.forget()

    def forget(self) -> None:
        """Empty the caches, so that what is cached is calculated again."""
        for cache in self.caches:
            cache.cache_clear()


def code_of(module: CodeType, function: str) -> CodeType:
    """The code of a function or method of a module."""
    for code in module.co_consts:
        if isinstance(code, CodeType):
            if code.co_qualname == function:
                return code
            if function.startswith(f"{code.co_name}."):
                return code_of(code, function)
    raise LookupError(function)


class ChangedModule(SourceFileLoader):
    """Finds and loads the changed module in place of the one on disk."""

    def __init__(self, mutant: Mutant) -> None:
        super().__init__(mutant.module, str(mutant.path))
        self.code = compiled(mutant)

    def find_spec(self, name: str, *_: object) -> ModuleSpec | None:
        return spec_from_file_location(name, self.path, loader=self) if name == self.name else None

    def get_code(self, _: str) -> CodeType:
        return self.code
