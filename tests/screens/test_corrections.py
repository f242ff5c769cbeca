"""A form of recorded facts that is saved unchanged writes nothing."""

import pytest

from stillroom.keeping.keeper import Keeper
from stillroom.screens.app import StillroomApp
from stillroom.screens.kit.dialog import Dialog

from .screen_text import screen_text


@pytest.mark.parametrize(
    ("keys", "typed"),
    [
        ("1 m", "right"),
        ("1 e", "1 space n o v"),
        ("1 enter c", "x"),
        ("2 down down m", "x"),
        ("2 down down k", "1 space n o v"),
        ("4 e", "x"),
        ("4 tab e", "x"),
        ("4 tab tab e", "x"),
        ("4 tab tab tab e", "7"),
        ("4 tab tab tab tab tab tab e", "right"),
    ],
)
async def test_saving_without_a_change_changes_nothing(
    keys: str, typed: str, sample: Keeper
) -> None:
    before = sample.rows("SELECT count(*), max(id) FROM action")
    app = StillroomApp(sample)
    async with app.run_test(size=(100, 40)) as pilot:
        await pilot.press(*keys.split())
        await pilot.pause()
        form = app.screen
        assert isinstance(form, Dialog), screen_text(app)
        await pilot.press("ctrl+s")
        await pilot.pause()
        assert app.screen is not form
        assert sample.rows("SELECT count(*), max(id) FROM action") == before
        await pilot.press(keys.split()[-1])
        await pilot.pause()
        await pilot.press("home", "shift+end", *typed.split(), "ctrl+s")
        await pilot.pause()
        assert sample.rows("SELECT count(*), max(id) FROM action") != before, screen_text(app)
