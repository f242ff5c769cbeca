"""The cupboard page, driven by keys over a real file."""

import pytest
from textual.pilot import Pilot

from stillroom.errors import Refused
from stillroom.keeping.cupboard.cupboard import add_spirit, bottle_sizes, herbs, shelf_rows, spirits
from stillroom.keeping.cupboard.liquids import liquids
from stillroom.keeping.drafts import SpiritDraft
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import Settings, settings_of
from stillroom.quantities import UnitSystem
from stillroom.screens.app import StillroomApp
from stillroom.screens.cupboard.page import CupboardPage
from stillroom.screens.kit.part_line import PartLine
from stillroom.screens.trace.page import HerbPage, RecallPage

from .driving import SIZES, choose, flat, press, turn_to, type_into
from .screen_text import screen_text
from .stocked import AWKWARD, spirit, strained


async def opened(app: StillroomApp, pilot: Pilot[None], part: str = "Spirits") -> CupboardPage:
    page = await turn_to(app, pilot, "4", CupboardPage)
    while page.part.title != part:
        await press(pilot, "tab")
    return page


async def test_every_empty_section_shows_how_to_begin(keeper: Keeper) -> None:
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot)
        for begins in (
            "no spirits yet",
            "no herbs yet",
            "no shelves yet",
            "no bottle sizes yet",
            "no other liquids yet",
            "no herbs in store yet",
        ):
            assert begins in screen_text(app)
            assert "Press n" in flat(app)
            await press(pilot, "tab")
        assert "Days to steep" in screen_text(app)


@pytest.mark.parametrize("size", SIZES)
async def test_every_section_fits_with_awkward_names(
    stocked: Keeper, size: tuple[int, int]
) -> None:
    app = StillroomApp(stocked)
    async with app.run_test(size=size) as pilot:
        await opened(app, pilot)
        text = screen_text(app)
        assert "500 mL" in text
        assert "1 L" in text
        assert "████░░░░" in text
        assert "Bought on" in text  # price gives way before lot and day
        assert ("25.00/L" in text) == (size[0] >= 110)
        await press(pilot, "right")
        assert "[b]" in screen_text(app)
        assert "[Herbs]" in screen_text(app)
        await press(pilot, "left", "left")
        assert "[Settings]" in screen_text(app)
        await press(pilot, "shift+tab")
        assert "[Herb lots]" in screen_text(app)
        await press(pilot, "shift+tab")
        assert "[Liquids]" in screen_text(app)
        await press(pilot, "shift+tab")
        assert "250 mL" in screen_text(app)


async def test_a_liquid_gets_the_default_density_and_is_found_again(
    keeper: Keeper,
) -> None:
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot, "Liquids")
        await press(pilot, "n")
        await type_into(app, pilot, "name", "Glycerine")
        await type_into(app, pilot, "bought", "1 l")
        await press(pilot, "ctrl+s")
        assert "1.261 g/mL" in screen_text(app)
        assert "glycerol 100 %" in flat(app)
        (row,) = liquids(keeper)
        assert (row.density_g_per_ml, row.glycerol, row.left_ml) == (1.261, 100, 1000)
        assert "CRC Handbook" in row.density_source
        await press(pilot, "u")
        assert "no other liquids yet" in screen_text(app)


async def test_n_adds_a_spirit_and_x_deletes_it(keeper: Keeper) -> None:
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot)
        await press(pilot, "n")
        await type_into(app, pilot, "name", "Grape spirit")
        await type_into(app, pilot, "strength", "96")
        await type_into(app, pilot, "bought", "1 l")
        await type_into(app, pilot, "price", "18,50")
        await press(pilot, "ctrl+s")
        (kept,) = spirits(keeper)
        assert (kept.name, kept.strength_abv, kept.left_ml, kept.price) == (
            "Grape spirit",
            96,
            1000,
            18.5,
        )
        assert "Grape spirit" in screen_text(app)
        await press(pilot, "x", "ctrl+s")
        assert spirits(keeper) == []
        await press(pilot, "u")
        assert [s.name for s in spirits(keeper)] == ["Grape spirit"]


async def test_a_strength_that_cannot_be_read_is_reported_at_its_field(keeper: Keeper) -> None:
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot)
        await press(pilot, "n")
        await type_into(app, pilot, "name", "Grape spirit")
        await type_into(app, pilot, "strength", "strong")
        await press(pilot, "ctrl+s")
        assert "Not a strength: write e.g. 40 % or 80 proof" in flat(app)
        assert spirits(keeper) == []


async def test_a_spirit_in_use_cannot_be_deleted(stocked: Keeper) -> None:
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24), notifications=True) as pilot:
        await opened(app, pilot)
        await press(pilot, "x", "ctrl+s")
        assert "so it can't be deleted." in flat(app)
        assert len(spirits(stocked)) == 1


async def test_e_changes_a_herb_and_keeps_the_lines_of_its_note(stocked: Keeper) -> None:
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24)) as pilot:
        page = await opened(app, pilot, "Herbs")
        page.rows.select(next(h.herb_id for h in herbs(stocked) if h.name == "Yarrow"))
        for text in ("cut at noon // from the bank", "cut at noon // from the bank, north"):
            await press(pilot, "e")
            await type_into(app, pilot, "note", text)
            await type_into(app, pilot, "cautions", "may make the skin tender")
            await press(pilot, "ctrl+s")
        yarrow = next(h for h in herbs(stocked) if h.name == "Yarrow")
        assert yarrow.note == "cut at noon\nfrom the bank, north"
        assert "may make the skin tender" in flat(app)


async def test_slash_finds_a_herb_without_accents(stocked: Keeper) -> None:
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24)) as pilot:
        page = await opened(app, pilot, "Herbs")
        await press(pilot, "slash", *"ech")
        assert [row.name for row in page.rows.rows] == [AWKWARD]
        await press(pilot, "escape")
        assert len(page.rows.rows) == 3


async def test_slash_finds_a_herb_by_where_it_came_from(stocked: Keeper) -> None:
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24)) as pilot:
        page = await opened(app, pilot, "Herbs")
        await press(pilot, "slash", *"own gard")
        assert "Calendula" in [row.name for row in page.rows.rows]
        await press(pilot, "escape", "slash", *"lot 8")
        assert not page.rows.rows


async def test_enter_on_a_herb_shows_its_yields_and_its_uses(stocked: Keeper) -> None:
    strained(stocked, "Calendula", days_ago=200, yield_ml=300)
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24)) as pilot:
        page = await opened(app, pilot, "Herbs")
        page.rows.select(next(h.herb_id for h in herbs(stocked) if h.name == "Calendula"))
        await press(pilot, "down", "up")
        assert "mean" in flat(app)
        await press(pilot, "enter")
        assert isinstance(app.screen, HerbPage)
        text = screen_text(app)
        assert "300 mL" in text
        assert "350 mL" in text
        assert "own garden" in text
        await press(pilot, "end", "enter")
        assert isinstance(app.screen, RecallPage)
        assert "Jar 26-004" in screen_text(app)
        await press(pilot, "escape", "escape")
        assert app.screen is page


async def test_enter_on_a_spirit_lists_the_bottles_it_went_into(stocked: Keeper) -> None:
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24)) as pilot:
        page = await opened(app, pilot)
        await press(pilot, "enter")
        assert isinstance(app.screen, RecallPage)
        text = screen_text(app)
        assert "in 2 bottles now" in text
        assert "26-001.1" in text
        await press(pilot, "escape")
        assert app.screen is page


async def test_shelves_are_added_and_reordered(keeper: Keeper) -> None:
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot, "Shelves")
        for name in ("Cellar", "Larder", "Attic"):
            await press(pilot, "n")
            await type_into(app, pilot, "name", name)
            await press(pilot, "ctrl+s")
        await press(pilot, "home", "minus")
        assert [s.name for s in shelf_rows(keeper)] == ["Larder", "Cellar", "Attic"]
        await press(pilot, "plus")
        assert [s.name for s in shelf_rows(keeper)] == ["Cellar", "Larder", "Attic"]
        await press(pilot, "enter")
        await type_into(app, pilot, "note", "cool")
        await press(pilot, "ctrl+s")
        assert shelf_rows(keeper)[0].note == "cool"
        await press(pilot, "x", "ctrl+s")
        assert [s.name for s in shelf_rows(keeper)] == ["Larder", "Attic"]


async def test_shelf_keys_do_nothing_in_other_sections(keeper: Keeper) -> None:
    spirit(keeper, "One")
    spirit(keeper, "Two")
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24)) as pilot:
        page = await opened(app, pilot)
        before = page.rows.rows
        await press(pilot, "plus", "minus")
        assert page.rows.rows == before
        assert "Higher" not in screen_text(app)


async def test_bottle_sizes_are_entered_and_their_empties_counted(keeper: Keeper) -> None:
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot, "Bottle sizes")
        await press(pilot, "n")
        await type_into(app, pilot, "volume", "100 ml")
        await type_into(app, pilot, "empties", "24")
        await press(pilot, "ctrl+s", "e")
        await type_into(app, pilot, "empties", "20")
        await press(pilot, "ctrl+s")
        assert [(s.size_ml, s.empties) for s in bottle_sizes(keeper)] == [(100, 20)]
        await press(pilot, "x", "ctrl+s")
        assert bottle_sizes(keeper) == []


@pytest.mark.parametrize(
    "name",
    [
        "Rubbing alcohol", "denatured ethanol", "Isopropyl", "Methylated spirit", "METHANOL",
        "Hand sanitiser", "Bioethanol stove fuel", "Fuel ethanol", "E85", "SDA 40B",
        "Denat. alcohol", "IPA 99", "Brennspiritus", "alcool à brûler", "alcohol desnaturalizado",
    ],
)  # fmt: skip
def test_a_spirit_that_must_never_be_drunk_is_refused(keeper: Keeper, name: str) -> None:
    with pytest.raises(Refused, match="must never be drunk"):
        add_spirit(keeper, SpiritDraft(name, 70))


@pytest.mark.parametrize(
    "name", ["Ethanol, undenatured", "not denatured", "Natural grain alcohol", "Weingeist", "Rum"]
)
def test_a_spirit_that_can_be_drunk_is_added(keeper: Keeper, name: str) -> None:
    assert add_spirit(keeper, SpiritDraft(name, 70))


async def test_settings_are_changed_and_apply_at_once(stocked: Keeper) -> None:
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot, "Settings")
        await press(pilot, "e")
        await choose(app, pilot, "units", UnitSystem.US)
        await choose(app, pilot, "decimal_comma", "comma")
        await type_into(app, pilot, "maker", "KL")
        await type_into(app, pilot, "maker_name", "Lark Stillroom")
        await type_into(app, pilot, "steep_days", "21")
        await type_into(app, pilot, "shakes_per_day", "2")
        await type_into(app, pilot, "drops_per_ml", "28,5")
        await choose(app, pilot, "alcoholometer", "15c")
        await choose(app, pilot, "releases", "yes")
        await type_into(app, pilot, "label_caution", "Not for cats.")
        await press(pilot, "ctrl+s")
        assert settings_of(stocked) == Settings(
            units=UnitSystem.US, decimal_comma=True, maker="KL", maker_name="Lark Stillroom",
            steep_days=21, shakes_per_day=2, drops_per_ml=28.5, label_caution="Not for cats.",
            alcoholometer="15c", releases=True,
        )  # fmt: skip
        assert "true at 15 °C" in screen_text(app)
        assert "US: fl oz and oz" in screen_text(app)
        await press(pilot, "tab")
        assert "16,9 fl oz" in flat(app)


async def test_a_setting_opens_at_its_field(keeper: Keeper) -> None:
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot, "Settings")
        await press(pilot, "down", "down", "down", "down", "enter", "K", "L", "ctrl+s")
        assert settings_of(keeper).maker == "KL"


async def test_sections_are_changed_by_mouse(stocked: Keeper) -> None:
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24)) as pilot:
        page = await opened(app, pilot)
        await pilot.click(PartLine, offset=(14, 0))
        await pilot.pause()
        assert page.part.title == "Herbs"
        assert page.rows.has_focus


async def test_another_section_clears_the_search(stocked: Keeper) -> None:
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24)) as pilot:
        page = await opened(app, pilot)
        await press(pilot, "slash", *"grain", "enter", "tab")
        assert len(page.rows.rows) == 3
