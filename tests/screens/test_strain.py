"""Straining and bottling on screen."""

from collections.abc import AsyncIterator

import pytest
from textual.pilot import Pilot

from stillroom.keeping.bottles.bottle_views import bottle_rows
from stillroom.keeping.jars.jar_view import jar_view
from stillroom.keeping.jars.shelves import shelves_view
from stillroom.keeping.keeper import Keeper
from stillroom.screens.app import StillroomApp
from stillroom.screens.bottles.bottling import BottlingDialog
from stillroom.screens.jar.strain import StrainDialog
from stillroom.screens.kit.fields import Entry

from .hands import type_in
from .screen_text import screen_text
from .stocked import fill


@pytest.fixture
async def pilot(keeper: Keeper) -> AsyncIterator[Pilot[None]]:
    """The program with the straining form of a jar of 100 g in 500 mL open."""
    fill(keeper, "Sage", ago=15)
    async with StillroomApp(keeper).run_test(size=(80, 40)) as running:
        await running.press("s")
        await running.pause()
        yield running


async def strained(pilot: Pilot[None], text: str) -> None:
    await type_in(pilot, text, "ctrl+s")


async def test_the_expected_yield_and_the_share_of_the_liquid_are_shown_beside_the_yield(
    pilot: Pilot[None],
) -> None:
    await type_in(pilot, "330 ml")
    await pilot.pause()
    said = " ".join(screen_text(pilot.app).replace("│", "").split())
    # 500 mL at 40 % and 10 g of plant water are about 510 mL; 330 of it is 65 %.
    assert "That is 65 % of the 510 mL in the jar" in said
    # Squeezed, 1.7 mL of what was poured and 0.1 of its own water stay in a gram: 180 mL.
    assert "Expect 330 mL" in said
    assert "from published figures; none of your own" in said


async def test_straining_leads_to_bottles_that_add_up_and_to_labels(
    pilot: Pilot[None], keeper: Keeper
) -> None:
    await strained(pilot, "330 ml")
    assert isinstance(pilot.app.screen, BottlingDialog)
    said = screen_text(pilot.app)
    for words in ("Sage", "leaf, dried", "1:5 w/v", "% v/v", "26-001.1", "Made 26 Nov 2026",
                  "Keep until 26 Nov 2031"):  # fmt: skip
        assert words in said
    await pilot.press("ctrl+s")
    await pilot.pause()
    rows = bottle_rows(keeper)
    assert sum(row.left_ml for row in rows) == pytest.approx(330)
    assert shelves_view(keeper).jars == ()


async def test_the_next_step_shows_herb_date_and_condition_for_the_label(
    pilot: Pilot[None],
) -> None:
    """Common practice, no source: finished tinctures cannot be told apart by eye."""
    await strained(pilot, "330 ml")
    said = screen_text(pilot.app)
    assert "Sage" in said
    assert "26 Nov 2026" in said
    assert "dried" in said


async def test_more_liquid_than_possible_is_saved_only_when_confirmed(
    pilot: Pilot[None], keeper: Keeper
) -> None:
    await strained(pilot, "700 ml")
    assert "more than" in screen_text(pilot.app)
    assert isinstance(pilot.app.screen, StrainDialog)
    await pilot.press("ctrl+s")
    await pilot.pause()
    assert isinstance(pilot.app.screen, BottlingDialog)
    straining = jar_view(keeper, 1).straining
    assert straining is not None
    assert straining.confirmed


async def test_a_yield_changed_after_the_question_is_questioned_again(
    pilot: Pilot[None],
) -> None:
    await strained(pilot, "700 ml")
    await pilot.press("home", "shift+end")
    await type_in(pilot, "900 ml", "ctrl+s")
    await pilot.pause()
    assert isinstance(pilot.app.screen, StrainDialog)


async def test_a_yield_by_weight_is_converted_with_its_density(
    pilot: Pilot[None], keeper: Keeper
) -> None:
    """At 39 % v/v and 20 °C the density is 0.950 g/mL (OIML R 22): 313 g are 330 mL."""
    await strained(pilot, "313.5 g")
    straining = jar_view(keeper, 1).straining
    assert straining is not None
    assert straining.yield_ml == pytest.approx(330, abs=0.5)


async def test_the_weight_of_the_empty_vessel_needs_the_full_weight(
    pilot: Pilot[None], keeper: Keeper
) -> None:
    await type_in(pilot, "330 ml")
    pilot.app.screen.query_one("#tare Input").focus()
    await strained(pilot, "240 g")
    assert "Leave this blank unless the yield is a weight" in screen_text(pilot.app)
    assert jar_view(keeper, 1).straining is None


async def test_a_jar_can_be_bottled_on_another_day(pilot: Pilot[None], keeper: Keeper) -> None:
    await strained(pilot, "330 ml")
    await pilot.press("escape")
    await pilot.pause()
    assert "to bottle" in screen_text(pilot.app)
    await pilot.press("s")
    await pilot.pause()
    assert isinstance(pilot.app.screen, BottlingDialog)
    await pilot.press("ctrl+s")
    await pilot.pause()
    assert len(bottle_rows(keeper)) > 0


async def test_bottles_that_hold_more_than_there_is_are_refused(
    pilot: Pilot[None], keeper: Keeper
) -> None:
    await strained(pilot, "330 ml")
    await type_in(pilot, "500 ml", "tab", "500 ml")
    await pilot.pause()
    assert "Not enough left" in screen_text(pilot.app)
    await pilot.press("ctrl+s")
    await pilot.pause()
    assert bottle_rows(keeper) == []


async def test_lots_of_bottles_and_caps_are_entered_after_the_required_fields(
    pilot: Pilot[None], keeper: Keeper
) -> None:
    await strained(pilot, "330 ml")
    pilot.app.screen.query_one("#bottle-lot", Entry).field.focus()
    await type_in(pilot, "G-7", "tab", "C-3", "ctrl+s")
    assert set(keeper.rows("SELECT bottle_lot, cap_lot FROM bottle")) == {("G-7", "C-3")}


async def test_undo_removes_the_bottles_and_then_the_straining(
    pilot: Pilot[None], keeper: Keeper
) -> None:
    before = shelves_view(keeper)
    await strained(pilot, "330 ml")
    await pilot.press("ctrl+s")
    await pilot.pause()
    await pilot.press("u")
    assert bottle_rows(keeper) == []
    await pilot.press("u")
    assert shelves_view(keeper) == before


async def test_a_measured_strength_shows_that_an_alcoholometer_cannot_read_a_tincture(
    pilot: Pilot[None],
) -> None:
    await type_in(pilot, "tab", "tab", "tab", "tab", "38")
    await pilot.pause()
    assert "alcoholometer can't read a finished tincture" in screen_text(pilot.app)


async def drained_and_more(pilot: Pilot[None], text: str) -> None:
    """Type a yield and say that more is to come, which is the last field."""
    await type_in(pilot, text)
    pilot.app.screen.query_one("#more Choice").focus()
    await pilot.press("right", "ctrl+s")
    await pilot.pause()


async def test_a_jar_drained_today_waits_on_the_board_to_be_pressed(
    pilot: Pilot[None], keeper: Keeper
) -> None:
    """510 mL less the 0.78 + 0.1 mL that pressed marc keeps per gram: 121.5 mL after 300."""
    await drained_and_more(pilot, "300 ml")
    said = screen_text(pilot.app)
    for words in ("TO PRESS", "expect 122 mL", "drained", "1 to press"):
        assert words in said
    await pilot.press("s")
    await pilot.pause()
    assert isinstance(pilot.app.screen, StrainDialog)
    await type_in(pilot, "110 ml")
    await pilot.pause()
    said = " ".join(screen_text(pilot.app).replace("│", "").split())
    assert "300 mL so far" in said
    assert "Expect more: 122 mL" in said
    assert "With the 300 mL before, that is 80 % of the 510 mL in the jar" in said
    await pilot.press("ctrl+s")
    await pilot.pause()
    assert isinstance(pilot.app.screen, BottlingDialog)
    straining = jar_view(keeper, 1).straining
    assert straining is not None
    assert (straining.yield_ml, straining.pressing) == (410, "pressed")


async def test_an_ordinary_straining_takes_no_extra_key(pilot: Pilot[None], keeper: Keeper) -> None:
    """The yield and ctrl+s; or enter through every field, of which the note is the last."""
    await type_in(pilot, "330 ml", *["enter"] * 7)
    await pilot.pause()
    assert isinstance(pilot.app.screen, BottlingDialog)
    straining = jar_view(keeper, 1).straining
    assert straining is not None
    assert not straining.more


async def test_the_jar_page_shows_what_came_out_and_what_pressing_may_give(
    pilot: Pilot[None],
) -> None:
    await drained_and_more(pilot, "300 ml")
    await pilot.press("enter")
    await pilot.pause()
    said = " ".join(screen_text(pilot.app).split())
    assert "drained 26 Nov 2026, to be pressed" in said
    assert "300 mL so far; pressed, expect another 122 mL: press s" in said
