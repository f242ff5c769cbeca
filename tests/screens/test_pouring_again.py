"""By keys at 80×24: drain, press next day, pour again, and pour a bottle on fresh herb."""

from datetime import timedelta

import pytest

from stillroom.clock import SetClock
from stillroom.keeping.bottles.bottle_views import bottle_rows
from stillroom.keeping.jars.jar_view import jar_view
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.shelf_file.check import check
from stillroom.reckoning.states import JarState, LiquidKind
from stillroom.screens.app import StillroomApp
from stillroom.screens.jar.again import AgainDialog
from stillroom.screens.jar.fill import FillDialog
from stillroom.screens.jar.liquid_fields import LiquidFields

from .hands import type_in
from .screen_text import screen_text
from .stocked import fill


async def test_a_jar_is_drained_pressed_and_poured_again_and_a_bottle_poured_on_new_herb(
    keeper: Keeper, clock: SetClock
) -> None:
    """100 g of sage in 500 mL of 40 % are 509.9 mL; 300 and 110 came: 99.9 stay, of 39.2 %."""
    fill(keeper, "Sage", ago=15)
    async with StillroomApp(keeper).run_test(size=(80, 24)) as pilot:
        await pilot.press("s")
        await pilot.pause()
        await type_in(pilot, "300 ml")
        pilot.app.screen.query_one("#more Choice").focus()
        await pilot.press("right", "ctrl+s")
        await pilot.pause()
        assert "TO PRESS" in screen_text(pilot.app)
        clock.moment += timedelta(days=1)
        await pilot.press("s")
        await pilot.pause()
        await type_in(pilot, "110 ml", "ctrl+s")
        await pilot.pause()
        await type_in(pilot, "ctrl+s")  # the bottles proposed
        await pilot.pause()
        (first, *_) = bottle_rows(keeper)
        assert sum(row.left_ml for row in bottle_rows(keeper)) == pytest.approx(410)

        # The jar is bottled, so it is off the board: it is opened from its history.
        app = pilot.app
        assert isinstance(app, StillroomApp)
        card = jar_view(keeper, 1).card
        app.push_screen(AgainDialog(keeper, card))
        await pilot.pause()
        said = " ".join(screen_text(app).replace("│", "").split())
        assert "The marc holds back 99.9 mL at 39.2 %" in said, said
        app.screen.query(LiquidFields).first().volume.field.focus()
        await type_in(pilot, "300 ml")
        app.screen.query(LiquidFields).first().strength.field.focus()
        await type_in(pilot, "60%", "ctrl+s")
        await pilot.pause()
        again = jar_view(keeper, 2)
        assert (again.marc_of, again.state) == (card.code, JarState.STEEPING)
        assert [(p.kind, round(p.volume_ml, 1)) for p in again.pours] == [
            ("held back", 99.9), ("spirit", 300.0)
        ]  # fmt: skip

        await pilot.press("n")
        await pilot.pause()
        assert isinstance(app.screen, FillDialog)
        await type_in(pilot, "Thyme")
        fields = app.screen.query(LiquidFields).first()
        fields.liquid.choice.value = LiquidKind.TINCTURE.value
        await pilot.pause()
        fields.volume.field.focus()
        await type_in(pilot, "100 ml")
        fields.code.field.focus()
        await type_in(pilot, first.code, "ctrl+s")
        await pilot.pause()
    third = jar_view(keeper, 3)
    assert [(p.kind, p.source) for p in third.pours] == [("tincture", first.code)]
    (now,) = [row for row in bottle_rows(keeper, empties=True) if row.code == first.code]
    assert now.left_ml == pytest.approx(first.left_ml - 100)
    assert check(keeper) == []


async def test_p_on_a_strained_jar_opens_the_second_pour(keeper: Keeper) -> None:
    fill(keeper, "Sage", ago=15)
    async with StillroomApp(keeper).run_test(size=(80, 24)) as pilot:
        await pilot.press("p")
        await pilot.pause()
        assert not isinstance(pilot.app.screen, AgainDialog)
        await pilot.press("s")
        await pilot.pause()
        await type_in(pilot, "330 ml", "ctrl+s")
        await pilot.pause()
        await pilot.press("escape")
        await pilot.pause()
        await pilot.press("p")
        await pilot.pause()
        assert isinstance(pilot.app.screen, AgainDialog)
        said = " ".join(screen_text(pilot.app).replace("│", "").split())
        assert "The marc holds back" in said
