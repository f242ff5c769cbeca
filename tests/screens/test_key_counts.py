"""How many keys the ten commonest acts take: a change that adds one shows here."""

from collections.abc import Callable

import pytest

from stillroom.keeping.keeper import Keeper
from stillroom.screens.app import StillroomApp

from .hands import type_in
from .stocked import fill


def count_of(table: str, condition: str = "1") -> Callable[[Keeper], int]:
    """How many rows there are."""
    return lambda keeper: keeper.rows(f"SELECT count(*) FROM {table} WHERE {condition}")[0][0]


ACTS = {
    "shake": (["space"], count_of("shake"), 1),
    "shake all": (["a"], count_of("shake"), 2),
    "round of two jars": (["r", "space", "space"], count_of("shake"), 2),
    "fill": (["n", "text:Fennel", *["tab"] * 9, "text:200", "ctrl+s"], count_of("jar"), 1),
    "top up": (["t", "tab", "text:60 ml", "ctrl+s"], count_of("pour"), 1),
    "note": (["w", "text:smells of hay", "ctrl+s"], count_of("event", "kind = 'note'"), 1),
    "strain and bottle": (
        ["s", "text:210", "ctrl+s", "ctrl+s"], count_of("bottle"), 1,
    ),
    "draw": (["2", "down", "d", "text:30", "ctrl+s"], count_of("movement", "kind = 'draw'"), 1),
    "count a bottle": (
        ["2", "down", "c", "text:90", "ctrl+s"], count_of("movement", "kind = 'count'"), 1,
    ),
    "undo": (["u"], count_of("jar"), -1),
}  # fmt: skip
"""Keys, what they write, and how many rows more there are then.

The program of the 118th commit took the same keys: none of these acts has become longer since.
"""


@pytest.mark.parametrize("act", ACTS)
async def test_each_act_takes_these_keys_and_no_more(act: str, stocked: Keeper) -> None:
    keys, rows, more = ACTS[act]
    fill(stocked, "Yarrow")
    fill(stocked, "Mugwort")
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24)) as pilot:
        # The tincture that waits to be bottled is first on the shelf; the jars come after it.
        await type_in(pilot, *([] if keys[0] in {"2", "n", "a", "r", "u"} else ["right"]))
        before = rows(stocked)
        await type_in(pilot, *(key.removeprefix("text:") for key in keys))
        assert rows(stocked) - before == more
