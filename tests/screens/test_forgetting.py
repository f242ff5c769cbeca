"""Removing a person's name, by keys."""

from stillroom.keeping.bottles.bottle_views import bottle_rows, bottle_view
from stillroom.keeping.bottles.stock import take_out
from stillroom.keeping.keeper import Keeper
from stillroom.screens.app import StillroomApp
from stillroom.screens.ledger.page import LedgerPage

from .driving import flat, press, turn_to


async def test_a_name_is_removed_from_the_entries_you_confirm(stocked: Keeper) -> None:
    bottle_id = bottle_rows(stocked)[0].bottle_id
    take_out(stocked, bottle_id, 5, person="Quillon", note="a cough")
    take_out(stocked, bottle_id, 6, note="Quillon leaf")
    take_out(stocked, bottle_id, 7, note="for Quillon's tea")
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24)) as pilot:
        await turn_to(app, pilot, "5", LedgerPage)
        await press(pilot, "N", *"nobody", "ctrl+s")
        assert "nobody isn't on this shelf" in flat(app)
        await press(pilot, *["backspace"] * 6, *"quillon", "ctrl+s")
        assert "For quillon: 1 place" in flat(app)
        await press(pilot, "tab", "tab", "tab", "n")  # the note on the leaf
        text = flat(app)
        assert "Quillon leaf" in text
        await press(pilot, "ctrl+s")
        assert "Undo can't bring the name back" in flat(app)
        assert "law" in flat(app)
        await press(pilot, "ctrl+s")
        assert isinstance(app.screen, LedgerPage)
    moves = bottle_view(stocked, bottle_id).movements[-3:]
    assert [(m.person, m.note) for m in moves] == [
        ("(name removed)", "a cough"),
        ("", "Quillon leaf"),
        ("", "for (name removed)'s tea"),
    ]


async def test_removing_a_name_is_in_the_palette_of_every_page(stocked: Keeper) -> None:
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "1")
        assert "Remove a person's name" in [c.title for c in app.get_system_commands(app.screen)]
