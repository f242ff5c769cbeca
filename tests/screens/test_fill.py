"""Filling a jar on screen."""

from collections.abc import AsyncIterator
from datetime import date

import pytest
from textual.events import Paste
from textual.pilot import Pilot
from textual.widgets import Input

from stillroom.keeping.cupboard.cupboard import add_spirit, spirits
from stillroom.keeping.drafts import SpiritDraft, StrainDraft
from stillroom.keeping.jars.jar_view import jar_view
from stillroom.keeping.jars.shelves import shelves_view
from stillroom.keeping.jars.straining import strain
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.views import JarView
from stillroom.reckoning.yields import Pressing
from stillroom.screens.app import StillroomApp
from stillroom.screens.jar.fill import FillDialog

from .driving import flat, until
from .hands import type_in
from .screen_text import screen_text


@pytest.fixture
async def pilot(keeper: Keeper) -> AsyncIterator[Pilot[None]]:
    """The program with the form open."""
    async with StillroomApp(keeper).run_test(size=(80, 24)) as running:
        await running.press("n")
        await running.pause()
        yield running


async def typed(pilot: Pilot[None], *fields: str) -> None:
    """Type into one field after another; a blank leaves the field as it is."""
    await type_in(pilot, *(key for text in fields for key in (text, "tab")))


def only_jar(keeper: Keeper) -> JarView:
    (card,) = shelves_view(keeper).jars
    return jar_view(keeper, card.jar_id)


async def keep(pilot: Pilot[None]) -> None:
    await pilot.press("ctrl+s")
    await pilot.pause()


async def test_a_jar_by_eye_needs_only_herb_part_condition_and_liquid(
    pilot: Pilot[None], keeper: Keeper
) -> None:
    await typed(pilot, "Valerian", "", "root", "f", "", "", "", "", "", "500 ml", "40")
    await keep(pilot)
    jar = only_jar(keeper)
    (charge,) = jar.charges
    assert (charge.herb, charge.part, charge.condition) == ("Valerian", "root", "fresh")
    assert charge.mass_g is None
    assert jar.outlook.ratio is None
    assert jar.outlook.is_partial


async def test_a_new_jar_steeps_for_a_fortnight_and_is_shaken_once_a_day(
    pilot: Pilot[None], keeper: Keeper
) -> None:
    """Common practice, no source: two weeks, a shake a day, spirit of about 40 %."""
    await typed(pilot, "Valerian", "", "", "", "", "", "", "", "", "500 ml", "40 %")
    await keep(pilot)
    card = only_jar(keeper).card
    assert (card.strain_on - card.filled_on).days == 14
    assert card.shakes_per_day == 1
    assert card.filled_on == date(2026, 11, 26)


async def test_ratio_strength_and_verdict_are_shown_while_typing(pilot: Pilot[None]) -> None:
    """100 g fresh at 80 % water in 200 mL of 40 % comes to 28.6 %: mass balance by OIML R 22."""
    await typed(pilot, "Sage", "", "leaf", "f", "100 g", "80", "", "", "", "200 ml", "40 %")
    said = screen_text(pilot.app)
    assert "1:2 herb to liquid poured" in said
    assert "28.6 %" in said
    assert "✓ Strong enough to keep (28.6 %)" in said


async def test_a_jar_too_weak_to_keep_gets_a_warning(pilot: Pilot[None]) -> None:
    await typed(pilot, "Sage", "", "leaf", "f", "300 g", "80", "", "", "", "200 ml", "40 %")
    assert "! Too weak to keep" in screen_text(pilot.app)


async def test_the_cautions_stay_in_view_to_the_end(pilot: Pilot[None]) -> None:
    await typed(pilot, "Sage", "", "leaf", "", "100 g", "", "", "", "", "500 ml", "40 %")
    said = " ".join(screen_text(pilot.app).replace("│", " ").split())
    assert "Know the plant with certainty" in said
    assert "food-grade ethanol only" in said


async def test_a_deadly_plant_gets_a_warning_under_either_name(pilot: Pilot[None]) -> None:
    for herb, botanical, is_warned_of in (
        ("Foxglove", "", True),
        ("Sage", "Salvia officinalis", False),
        ("Purple bells", "Digitalis purpurea", True),
        ("Enchanter's nightshade", "Circaea lutetiana", False),
        ("Deadly nightshade", "", True),
    ):
        await type_in(pilot, "backspace", herb, "tab", "backspace", botanical, "tab")
        names = [field.value for field in pilot.app.screen.query(Input)][:2]
        assert names == [herb, botanical]
        assert ("deadly even in small" in flat(pilot.app)) == is_warned_of, names
        await type_in(pilot, "shift+tab", "shift+tab")  # back, each with all of it selected


async def test_a_deadly_plant_needs_confirmation_and_is_marked_from_then_on(
    pilot: Pilot[None], keeper: Keeper
) -> None:
    await typed(pilot, "Monk's-hood", "", "root", "", "50 g", "", "", "", "", "250 ml", "40 %")
    await keep(pilot)
    assert shelves_view(keeper).jars == ()
    await keep(pilot)
    jar = only_jar(keeper)
    await pilot.press("enter")
    await pilot.pause()
    assert "deadly even in small" in screen_text(pilot.app)
    tincture = strain(keeper, StrainDraft(jar.card.jar_id, keeper.today, 200, Pressing.SQUEEZED))
    assert any("deadly even in small" in said for said in tincture.to_mind)


async def test_pasted_text_becomes_one_line(pilot: Pilot[None]) -> None:
    field = pilot.app.screen.query_one("#note Input", Input)
    field.focus()
    await pilot.pause()
    pilot.app.post_message(Paste("first line\nsecond line\n\nfourth"))
    await pilot.pause()
    assert field.value == "first line second line fourth"


async def test_a_jar_that_is_too_small_is_reported(pilot: Pilot[None]) -> None:
    await typed(pilot, "Sage", "", "", "", "100 g", "", "", "", "", "500 ml", "40 %", "400 ml")
    assert "! Doesn't fit:" in screen_text(pilot.app)


@pytest.mark.parametrize(
    ("mass", "volume", "strength", "expected"),
    [
        ("2 lb 3 oz", "0,5 l", "80 proof", (992.233, 500, 40)),
        ("120", "1 1/2 cups", "40%", (120, 375, 40)),
        ("120g", "8 US fl oz", "40 % vol", (120, 236.588, 40)),
    ],
)
async def test_quantities_are_read_as_people_write_them(
    pilot: Pilot[None],
    keeper: Keeper,
    mass: str,
    volume: str,
    strength: str,
    expected: tuple[float, float, float],
) -> None:
    """Avoirdupois pound 453.59237 g, US fluid ounce 29.5735295625 mL (exact), metric cup 250 mL."""
    await typed(pilot, "Sage", "", "", "", mass, "", "", "", "", volume, strength)
    await keep(pilot)
    jar = only_jar(keeper)
    found = (jar.charges[0].mass_g, jar.pours[0].volume_ml, jar.pours[0].strength_abv)
    assert found == pytest.approx(expected, abs=0.001)


async def test_what_cannot_be_read_is_reported_at_its_field_and_nothing_typed_is_lost(
    pilot: Pilot[None], keeper: Keeper
) -> None:
    await typed(pilot, "Sage", "", "", "", "a handful", "", "", "", "", "500 ml", "40 %")
    await keep(pilot)
    lines = screen_text(pilot.app).splitlines()
    at = next(i for i, line in enumerate(lines) if "a handful" in line)
    assert "! " in lines[at + 1]
    assert "Sage" in "\n".join(lines)
    assert shelves_view(keeper).jars == ()


async def test_too_many_shakes_are_reported_at_their_field(pilot: Pilot[None]) -> None:
    form = pilot.app.screen
    form.query_one("#shakes Input").focus()
    await type_in(pilot, "99", "tab")
    assert "Write a number from 0 to 9." in screen_text(pilot.app)
    assert form.query_one("#shakes").has_class("-wrong")


async def test_a_jar_without_liquid_is_refused(pilot: Pilot[None], keeper: Keeper) -> None:
    await typed(pilot, "Sage")
    await keep(pilot)
    assert "A jar needs liquid" in screen_text(pilot.app)
    assert shelves_view(keeper).jars == ()


async def test_escape_asks_once_before_unsaved_entries_are_dropped(
    pilot: Pilot[None], keeper: Keeper
) -> None:
    await typed(pilot, "Sage")
    await pilot.press("escape")
    assert "Press esc again" in screen_text(pilot.app)
    assert isinstance(pilot.app.screen, FillDialog)
    await pilot.press("escape")
    assert not isinstance(pilot.app.screen, FillDialog)
    assert shelves_view(keeper).jars == ()


async def test_two_herbs_and_two_liquids_share_a_jar(pilot: Pilot[None], keeper: Keeper) -> None:
    await typed(pilot, "Sage", "", "", "", "60 g", "", "", "", "", "300 ml", "60 %")
    await pilot.press("ctrl+l", "end")
    await pilot.pause()
    await pilot.press("right", "tab", *"100 ml")
    await pilot.press("ctrl+n")
    await pilot.pause()
    await typed(pilot, "Thyme", "", "a", "", "40 g")
    await keep(pilot)
    jar = only_jar(keeper)
    assert [(c.herb, c.part, c.mass_g) for c in jar.charges] == [
        ("Sage", "leaf", 60),
        ("Thyme", "aerial parts", 40),
    ]
    assert [(p.kind, p.volume_ml) for p in jar.pours] == [("spirit", 300), ("water", 100)]


async def test_a_decoction_shows_the_caution_to_let_it_cool(pilot: Pilot[None]) -> None:
    await typed(pilot, "Elecampane", "", "root", "f", "100 g", "", "", "", "d", "400 ml")
    assert "Let the decoction cool" in " ".join(screen_text(pilot.app).split())


async def test_spirit_poured_is_taken_from_the_cupboard(keeper: Keeper) -> None:
    add_spirit(keeper, SpiritDraft("Rye vodka", 40, bought_ml=700))
    async with StillroomApp(keeper).run_test(size=(80, 24)) as pilot:
        await pilot.press("n")
        await pilot.pause()
        await typed(pilot, "Sage", "", "", "", "100 g", "", "", "", "", "500 ml")
        assert "40 % Rye vodka" in screen_text(pilot.app)
        await keep(pilot)
    assert spirits(keeper)[0].left_ml == pytest.approx(200)


async def test_more_spirit_than_the_cupboard_has_is_refused(keeper: Keeper) -> None:
    add_spirit(keeper, SpiritDraft("Rye vodka", 40, bought_ml=300))
    async with StillroomApp(keeper).run_test(size=(80, 24)) as pilot:
        await pilot.press("n")
        await pilot.pause()
        await typed(pilot, "Sage", "", "", "", "100 g", "", "", "", "", "500 ml")
        await keep(pilot)
        assert "isn't that much of this spirit left" in screen_text(pilot.app)
    assert shelves_view(keeper).jars == ()


async def test_a_known_herb_is_suggested_and_brings_its_botanical_name(keeper: Keeper) -> None:
    async with StillroomApp(keeper).run_test(size=(80, 24)) as pilot:
        await pilot.press("n")
        await pilot.pause()
        await typed(pilot, "Sage", "Salvia officinalis", "", "", "", "", "", "", "", "9 ml", "40")
        await keep(pilot)
        await pilot.press("n")
        await pilot.pause()
        await pilot.press(*"sag")
        await until(pilot, lambda: "sage" in screen_text(pilot.app))
        await pilot.press("right", "tab")
        await pilot.pause()
        assert "Salvia officinalis" in screen_text(pilot.app)


async def test_fresh_herb_of_unknown_weight_never_gets_the_verdict_that_it_keeps(
    pilot: Pilot[None],
) -> None:
    """200 g at 80 % water in 300 mL of 30 % would be under 20 %: mass balance by OIML R 22."""
    await typed(pilot, "Sage", "", "", "f", "", "", "", "", "", "300 ml", "30 %")
    said = " ".join(screen_text(pilot.app).replace("│", " ").split())
    assert "Not known whether it will keep" in said
    assert "Strong enough" not in said


async def test_herb_that_takes_up_all_the_liquid_is_reported(pilot: Pilot[None]) -> None:
    await typed(pilot, "Sage", "", "", "", "500 g", "", "", "", "", "600 ml", "40 %")
    assert "takes up all of this liquid" in screen_text(pilot.app)


async def test_a_simmered_herb_needs_the_volume_of_the_decoction(pilot: Pilot[None]) -> None:
    await typed(pilot, "Elecampane", "", "r", "f", "100 g", "", "", "", "", "200 ml", "96")
    await type_in(pilot, "tab", "tab", "tab", "tab", "tab")
    await pilot.press("right")
    await pilot.pause()
    assert "decoction, cooled" in screen_text(pilot.app)
    assert "what was poured off" in screen_text(pilot.app)
    assert "water in the simmered herb" in screen_text(pilot.app)
    assert "Enter how much decoction goes in" in screen_text(pilot.app)
    assert "Strong enough" not in screen_text(pilot.app)
    await pilot.press("ctrl+s")
    await pilot.pause()
    assert "no decoction is entered" in screen_text(pilot.app)
    assert isinstance(pilot.app.screen, FillDialog)
    await pilot.press("ctrl+s")
    await pilot.pause()
    assert not isinstance(pilot.app.screen, FillDialog)


async def test_a_date_is_shown_in_full_once_the_field_is_left(pilot: Pilot[None]) -> None:
    await typed(pilot, "Sage", "", "", "", "50 g", "", "3 apr")
    await pilot.pause()
    assert "3 Apr 2026" in screen_text(pilot.app)
    await pilot.press("shift+tab", "home", "shift+end", *"3 foo", "tab")
    await pilot.pause()
    assert "3 foo " in screen_text(pilot.app)


async def test_the_keys_of_a_form_stay_visible_however_long_it_is(
    pilot: Pilot[None],
) -> None:
    await pilot.press("ctrl+n")
    await pilot.pause()
    await pilot.press("ctrl+l")
    await pilot.pause()
    await keep(pilot)
    lines = screen_text(pilot.app).splitlines()
    assert any("^s Fill" in line for line in lines)
    assert any("Not saved yet" in line for line in lines)
