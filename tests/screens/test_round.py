"""The round and the page of one jar."""

from collections.abc import AsyncIterator

import pytest
from textual.pilot import Pilot

from stillroom.keeping.interchange.writing import export_json
from stillroom.keeping.jars.jar_view import jar_view
from stillroom.keeping.jars.shelves import shelves_view
from stillroom.keeping.keeper import Keeper
from stillroom.screens.app import StillroomApp
from stillroom.screens.help import HelpScreen
from stillroom.screens.jar.page import JarPage
from stillroom.screens.shelves.round import RoundScreen

from .driving import flat, press
from .hands import type_in
from .screen_text import screen_text
from .stocked import fill


@pytest.fixture
async def pilot(keeper: Keeper) -> AsyncIterator[Pilot[None]]:
    """The program on three jars."""
    for herb in ("Yarrow", "Mugwort", "Sage"):
        fill(keeper, herb, ago=3)
    async with StillroomApp(keeper).run_test(size=(80, 24)) as running:
        yield running


async def test_one_key_per_jar_shakes_every_jar_of_the_shelf(
    pilot: Pilot[None], keeper: Keeper
) -> None:
    await pilot.press("r")
    await pilot.pause()
    assert "Round: jar 1 of 3" in screen_text(pilot.app)
    await pilot.press("space", "space")
    assert "Round: jar 3 of 3" in screen_text(pilot.app)
    await pilot.press("space")
    await pilot.pause()
    assert shelves_view(keeper).to_shake == ()


async def test_the_round_shows_that_it_is_done_and_stays_open_until_escape(
    pilot: Pilot[None], keeper: Keeper
) -> None:
    await press(pilot, "r", "space", "right", "space")
    assert "The round is done: 2 shakes recorded." in flat(pilot.app)
    assert "Still to shake: Mugwort 26-002." in flat(pilot.app)
    before = export_json(keeper)
    await press(pilot, "space", "enter", "space")  # a pedal goes on being pressed
    assert isinstance(pilot.app.screen, RoundScreen)
    assert export_json(keeper) == before
    await press(pilot, "left", "left", "space")
    assert shelves_view(keeper).to_shake == ()
    await press(pilot, "escape")
    assert not isinstance(pilot.app.screen, RoundScreen)


async def test_a_jar_shaken_twice_a_day_comes_up_again(keeper: Keeper) -> None:
    """Each round is a walk along every shake that is left, whatever it was begun with."""
    for herb, shakes in (("Yarrow", 2), ("Mugwort", 1), ("Sage", 3)):
        fill(keeper, herb, shakes=shakes)
    async with StillroomApp(keeper).run_test(size=(80, 24)) as pilot:
        await press(pilot, "r")
        for at, code in enumerate(("001", "002", "003", "001", "003", "003")):
            assert f"26-{code} · " in flat(pilot.app)
            assert f"jar {at + 1} of 6" in flat(pilot.app)
            await press(pilot, "space")
        assert "The round is done: 6 shakes recorded." in flat(pilot.app)
    assert {jar.herb: jar.shaken for jar in shelves_view(keeper).jars} == {
        "Yarrow": 2, "Mugwort": 1, "Sage": 3,
    }  # fmt: skip


async def test_a_jar_is_skipped_and_the_round_ended_without_losing_a_shake(
    pilot: Pilot[None], keeper: Keeper
) -> None:
    await pilot.press("r")
    await pilot.pause()
    await pilot.press("right", "space", "escape")
    await pilot.pause()
    assert [jar.shaken for jar in shelves_view(keeper).jars] == [0, 1, 0]
    assert "2 of 3 to shake" in screen_text(pilot.app)


async def test_the_help_of_the_round_lists_each_key_once(pilot: Pilot[None]) -> None:
    await pilot.press("r", "question_mark")
    await pilot.pause()
    assert isinstance(pilot.app.screen, HelpScreen)
    lines = [f"{act.shown_key} {act.words}" for act in pilot.app.screen.acts]
    assert len(lines) == len(set(lines))
    assert any("space" in line for line in lines)


async def test_a_shake_in_the_round_is_undone(pilot: Pilot[None], keeper: Keeper) -> None:
    await pilot.press("r")
    await pilot.pause()
    await pilot.press("space", "u")
    assert shelves_view(keeper).jars[0].shaken == 0
    assert "Round: jar 1 of 3" in screen_text(pilot.app)


async def test_herb_above_the_liquid_is_recorded_in_the_round(
    pilot: Pilot[None], keeper: Keeper
) -> None:
    await pilot.press("r")
    await pilot.pause()
    await pilot.press("o")
    assert not shelves_view(keeper).jars[0].covered


async def test_a_round_with_nothing_to_shake_shows_that(pilot: Pilot[None]) -> None:
    await pilot.press("a", "r")
    await pilot.pause()
    assert not isinstance(pilot.app.screen, RoundScreen)


async def test_enter_opens_a_jar_with_contents_strength_and_history(pilot: Pilot[None]) -> None:
    await pilot.press("enter")
    await pilot.pause()
    said = screen_text(pilot.app)
    for words in (
        "Yarrow 26-001",
        "100 g Yarrow, leaf, dried",
        "1:5 herb to liquid poured",
        "39.",
        "filled",
    ):
        assert words in said
    await pilot.press("escape")
    await pilot.pause()
    assert not isinstance(pilot.app.screen, JarPage)


async def test_a_note_is_added_to_the_history(pilot: Pilot[None], keeper: Keeper) -> None:
    await pilot.press("enter")
    await pilot.pause()
    await pilot.press("w")
    await pilot.pause()
    await type_in(pilot, "smells of [hay]", "ctrl+s")
    await pilot.pause()
    assert "smells of [hay]" in screen_text(pilot.app)
    assert jar_view(keeper, 1).events[0].text == "smells of [hay]"


async def test_a_wrong_weight_is_corrected_and_the_ratio_follows(
    pilot: Pilot[None], keeper: Keeper
) -> None:
    await pilot.press("enter")
    await pilot.pause()
    await pilot.press("c", "tab", "tab", "tab", "tab")
    await pilot.pause()
    await type_in(pilot, "125 g", "ctrl+s")
    await pilot.pause()
    jar = jar_view(keeper, 1)
    assert jar.charges[0].mass_g == 125
    assert jar.outlook.ratio == pytest.approx(4)
    assert (jar.card.code, jar.card.filled_on) == ("26-001", shelves_view(keeper).jars[0].filled_on)


async def test_a_discarded_jar_leaves_the_shelf_and_undo_restores_it(
    pilot: Pilot[None], keeper: Keeper
) -> None:
    await pilot.press("enter")
    await pilot.pause()
    await pilot.press("x")
    await pilot.pause()
    await type_in(pilot, "mould", "ctrl+s")
    await pilot.pause()
    assert len(shelves_view(keeper).jars) == 2
    assert "discarded" in screen_text(pilot.app)
    await pilot.press("u")
    await pilot.pause()
    assert len(shelves_view(keeper).jars) == 3


async def test_undoing_the_filling_of_the_open_jar_returns_to_the_shelves(
    keeper: Keeper,
) -> None:
    fill(keeper, "Yarrow")
    async with StillroomApp(keeper).run_test(size=(80, 24)) as pilot:
        await pilot.press("enter")
        await pilot.pause()
        await pilot.press("u")
        await pilot.pause()
        assert not isinstance(pilot.app.screen, JarPage)
        assert shelves_view(keeper).jars == ()


async def test_the_open_jar_is_taken_to_the_calculator_to_try_a_top_up(pilot: Pilot[None]) -> None:
    await pilot.press("enter")
    await pilot.pause()
    await pilot.press("equals_sign")
    await pilot.pause()
    said = screen_text(pilot.app)
    assert "Strength in the jar" in said
    # 500 mL of 40 % hold 200 mL of ethanol.
    assert "500 mL" in said
    assert "200 mL" in said
