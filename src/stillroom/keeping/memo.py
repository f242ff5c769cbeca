"""Results that are long in the making, held until somebody acts on the shelf."""

from collections.abc import Callable, Hashable
from typing import TypeVar, cast

from stillroom.keeping.keeper import Keeper
from stillroom.records.file_state import STATE

T = TypeVar("T")


def remembered(keeper: Keeper, name: str, asked: Hashable, make: Callable[[], T]) -> T:
    """What `make` returns, made again only after an act, on another day or if `asked` differs.

    One result is held for each name. Every act of any program gives the file a new mark; of a file
    that has none yet, what this connection and others have written is counted.
    """
    store = keeper.store
    if store.db.in_transaction():
        return make()
    marks = keeper.rows("SELECT value FROM setting WHERE name = ?", STATE)
    key = (tuple(marks), store.data_version, store.own_changes, keeper.today, asked)
    held = keeper.remembered.get(name)
    if held is None or held[0] != key:
        keeper.remembered[name] = held = key, make()
    return cast("T", held[1])
