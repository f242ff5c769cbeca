"""The calculator page, driven by keys over a real file."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

import pytest
from textual.binding import Binding
from textual.events import Paste
from textual.pilot import Pilot
from textual.widgets import Input

from stillroom.keeping.cupboard.cupboard import add_spirit, keep_bottle_size
from stillroom.keeping.drafts import ChargeDraft, JarDraft, PourDraft, SpiritDraft
from stillroom.keeping.jars.jar import fill_jar
from stillroom.keeping.jars.jar_view import jar_view
from stillroom.keeping.jars.shelves import shelves_view
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import remember, save_settings, settings_of
from stillroom.quantities import UnitSystem, parse
from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.kinds import Kind
from stillroom.reckoning.registry import calculators
from stillroom.reckoning.states import LiquidKind
from stillroom.screens.app import CAUTIONS_READ, StillroomApp
from stillroom.screens.calculator.fields import AddRow, Rows, Slot
from stillroom.screens.calculator.form import CalculatorForm
from stillroom.screens.calculator.offers import OffersScreen
from stillroom.screens.calculator.outcome import OutcomePane
from stillroom.screens.calculator.page import CalculatorPage
from stillroom.screens.calculator.starts import from_shelf
from stillroom.screens.jar.fill import FillDialog
from stillroom.screens.kit.table import Table
from stillroom.screens.shelves.page import ShelvesPage

from .screen_text import screen_text
from .stocked import AWKWARD, bottled, strained

SIZES = [(80, 24), (120, 40)]


@pytest.fixture
def app(keeper: Keeper) -> StillroomApp:
    """The program on an empty shelf whose cautions were read."""
    remember(keeper, CAUTIONS_READ, keeper.today.isoformat())
    return StillroomApp(keeper)


async def opened(app: StillroomApp, pilot: Pilot[None], name: str = "fill") -> CalculatorPage:
    """The page with a calculator chosen and the keys in its form."""
    page = app._page("calculator")
    assert isinstance(page, CalculatorPage)
    page.begin(name, {})  # before the page is shown, so that it shows no other form first
    await pilot.press("3")
    assert page.is_current
    return page


def form_of(page: CalculatorPage) -> CalculatorForm:
    assert page.form is not None
    return page.form


def typed(page: CalculatorPage, key: str) -> str:
    """The contents of a field."""
    part = form_of(page).parts[key]
    assert isinstance(part, Slot)
    return part.state


def rows(page: CalculatorPage, key: str) -> list[tuple[str, ...]]:
    """The contents of the rows of a list."""
    part = form_of(page).parts[key]
    assert isinstance(part, Rows)
    return [tuple(slot.state for slot in row.slots) for row in part.fields]


def main_figure(page: CalculatorPage) -> str:
    """The figure that is shown large; blank while there is none."""
    return page.query_one(OutcomePane).figure


def result(app: StillroomApp, label: str) -> str:
    """The value on screen beside a label."""
    lines = [line for line in screen_text(app).splitlines() if f" {label}  " in line]
    line = lines[-1]
    return line.rpartition(f" {label}  ")[2].strip(" ▁▂▃▄▅▆▇█")


def waiting(page: CalculatorPage) -> bool:
    """Whether the page says what it still needs instead of a figure."""
    return bool(page.query_one(OutcomePane).waits_for)


async def fill_in(pilot: Pilot[None], *texts: str) -> None:
    """Paste into one field after the other; blank leaves a field as it is."""
    for text in texts:
        if text:
            pilot.app.post_message(Paste(text))
        await pilot.press("tab")


@pytest.mark.parametrize("size", SIZES)
async def test_every_calculator_shows_a_result_or_a_plain_question(
    app: StillroomApp, size: tuple[int, int]
) -> None:
    async with app.run_test(size=size) as pilot:
        page = await opened(app, pilot)
        await pilot.press("escape")
        asked = {}
        for calculator in calculators().values():
            await pilot.pause()
            text = screen_text(app)
            assert page.names.selected is calculator
            assert calculator.title in text.splitlines()[0]
            assert max(map(len, text.splitlines())) <= size[0]
            assert form_of(page).display
            if waiting(page):
                assert "needs a " in text or "is needed" in text or "Add a row" in text
                asked[calculator.name] = page.query_one(OutcomePane).waits_for
            else:
                assert main_figure(page)
            await pilot.press("down")
    # What has nothing typed in it shows nothing, least of all a strength or a dose.
    assert set(asked) >= set(calculators()) - {"mix"}
    assert "Enter the weight of the herb" in asked["fill"]
    assert "Enter the volume you have" in asked["dilute"]


async def test_every_key_has_an_id_and_a_tooltip() -> None:
    for owner in (CalculatorPage, CalculatorForm, AddRow, OutcomePane, OffersScreen):
        for binding in owner.BINDINGS:
            assert isinstance(binding, Binding)
            assert binding.id
            assert binding.tooltip


async def test_the_dilution_shows_the_printed_volume_of_water(app: StillroomApp) -> None:
    """95 to 40 takes 144 of water to 100 of spirit: dilution table after 27 CFR 30.66, as printed
    to three digits, so 720 mL to 500 mL within half a digit."""
    async with app.run_test(size=(80, 24)) as pilot:
        page = await opened(app, pilot, "dilute")
        await fill_in(pilot, "95", "40", "500")
        assert parse(Kind.VOLUME, main_figure(page)) == pytest.approx(720, abs=2.5)
        assert result(app, "Strength") == "40 %"


async def test_proof_is_twice_the_strength(app: StillroomApp) -> None:
    """27 CFR 30.11."""
    async with app.run_test(size=(120, 40)) as pilot:
        await opened(app, pilot, "mix")
        await fill_in(pilot, "500 ml", "80 proof")
        assert result(app, "Strength") == "40 %"


async def test_a_reading_in_proof_keeps_its_scale_when_the_units_change(
    app: StillroomApp, keeper: Keeper
) -> None:
    """27 CFR 30.61: 193 proof at 75 °F is 189.5."""
    async with app.run_test(size=(80, 24)) as pilot:
        page = await opened(app, pilot, "alcoholometer")
        await fill_in(pilot, "193 proof", "75 °F")
        assert main_figure(page) == "189.5 proof"
        save_settings(keeper, replace(settings_of(keeper), units=UnitSystem.US))
        app.changed()
        await pilot.pause()
        assert typed(page, "reading") == "193 proof"
        assert main_figure(page) == "189.5 proof"


async def test_the_figures_follow_every_key(app: StillroomApp) -> None:
    async with app.run_test(size=(80, 24)) as pilot:
        page = await opened(app, pilot, "weigh")
        page.begin("weigh", {"empty": 120.0, "strength": 40.0})
        await pilot.pause()
        await pilot.press(*"22")
        await pilot.pause()
        assert main_figure(page) == ""
        await pilot.press("0")
        await pilot.pause()
        first = parse(Kind.VOLUME, main_figure(page))
        await pilot.press("0")
        await pilot.pause()
        # Of the same strength, so as the net weights: 100 g and 2080 g.
        second = parse(Kind.VOLUME, main_figure(page))
        assert second / first == pytest.approx(20.8, rel=0.005)


async def test_working_sources_and_cautions_are_reached_by_scrolling(app: StillroomApp) -> None:
    async with app.run_test(size=(80, 24)) as pilot:
        page = await opened(app, pilot, "alcoholometer")
        assert "can't read a finished tincture" not in screen_text(app)
        await fill_in(pilot, "40", "25", "", "")
        assert page.query_one(OutcomePane).has_focus
        seen = screen_text(app)
        for _ in range(5):
            await pilot.press("pagedown")
            await pilot.wait_for_animation()
            seen += screen_text(app)
    for heading in ("Working", "Assumptions", "Sources", "Cautions"):
        assert heading in seen
    assert "An alcoholometer can't read a finished tincture" in seen


async def test_a_range_is_shown_with_both_ends(app: StillroomApp) -> None:
    async with app.run_test(size=(80, 24)) as pilot:
        page = await opened(app, pilot, "drops")
        await fill_in(pilot, "40")
        assert " to " in main_figure(page)
        assert "! No one figure is right" in screen_text(app)


async def test_colours_follow_the_theme(app: StillroomApp) -> None:
    async with app.run_test(size=(80, 24)) as pilot:
        page = await opened(app, pilot, "drops")
        await fill_in(pilot, "40")
        pane = page.query_one(OutcomePane)
        shown = {}
        for theme in ("larder-dusk", "larder-noon", "ansi-dark"):
            app.theme = theme
            await pilot.pause()
            await pilot.pause()
            styles = [s.style for y in range(8) for s in pane.render_line(y) if s.text.strip()]
            shown[theme] = {style.color for style in styles if style}
        assert not shown["larder-dusk"] & shown["larder-noon"]
        # There the terminal's own colours are used, whatever they are.
        assert not any(color.triplet for color in shown["ansi-dark"] if color)


async def test_a_plain_terminal_shows_the_main_figure_as_text(
    keeper: Keeper, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("TERM", "linux")
    remember(keeper, CAUTIONS_READ, "read")
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24)) as pilot:
        page = await opened(app, pilot, "alcoholometer")
        await fill_in(pilot, "40", "25")
        assert f" {main_figure(page)}\n" in screen_text(app)


async def test_values_that_contradict_each_other_are_reported_at_their_field(
    app: StillroomApp,
) -> None:
    async with app.run_test(size=(80, 24)) as pilot:
        page = await opened(app, pilot, "weigh")
        page.begin("weigh", {"empty": 120.0, "strength": 40.0})
        await pilot.pause()
        await fill_in(pilot, "100 g")
        lines = screen_text(app).splitlines()
        full = next(at for at, line in enumerate(lines) if " Full  " in line)
        assert "! The full weight must be at least the empty weight." in lines[full + 1]
        assert main_figure(page) == ""
        await pilot.press(*"80 g")  # The other weight, which was typed second, puts it right.
        await pilot.pause()
        assert "! The full weight" not in screen_text(app)
        assert main_figure(page)


async def test_what_cannot_be_read_is_reported_at_its_field(app: StillroomApp) -> None:
    async with app.run_test(size=(80, 24)) as pilot:
        page = await opened(app, pilot, "weigh")
        await fill_in(pilot, "heavy")
        lines = screen_text(app).splitlines()
        full = next(at for at, line in enumerate(lines) if " Full  " in line)
        assert "! Not a weight: write e.g. 120 g" in lines[full + 1]
        assert main_figure(page) == ""
        await pilot.press("up", *"213 g")
        await fill_in(pilot, "", "120 g", "40")
        assert "! Not a weight" not in screen_text(app)
        assert main_figure(page)


async def test_a_problem_in_a_row_is_reported_below_it(app: StillroomApp) -> None:
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot, "bottles")
        await pilot.press(*"430", "tab", *"50 ml", "ctrl+n", *"100 ml", "tab", *"1", "ctrl+n")
        await fill_in(pilot, "0.5 ml")
        lines = screen_text(app).splitlines()
        wrong = next(at for at, line in enumerate(lines) if " 0.5 ml " in line)
        assert "! Size: A bottle must hold 1 mL or more." in lines[wrong + 1]


async def test_a_required_blank_field_asks_without_an_error(app: StillroomApp) -> None:
    async with app.run_test(size=(80, 24)) as pilot:
        page = await opened(app, pilot, "weigh")
        await pilot.press("delete")
        await pilot.pause()
        text = screen_text(app)
        assert "needs a weight" in text
        assert "!" not in text
        assert waiting(page)
        await pilot.press(*"213", "backspace", "backspace", "backspace")
        await pilot.pause()
        assert "needs a weight" in screen_text(app)


async def test_every_field_accepts_any_text_without_harm(app: StillroomApp) -> None:
    awkward = ("[b]x[/b]", "{0}", "1e400", "-5", "½", "5 %%", "0")
    async with app.run_test(size=(80, 24)) as pilot:
        page = await opened(app, pilot)
        for name in calculators():
            page.begin(name, {})
            await pilot.pause()
            for first in (0, 3):
                for at, entry in enumerate(form_of(page).query(Input), first):
                    entry.value = awkward[at % len(awkward)]
                await pilot.pause()
                assert main_figure(page) or waiting(page)


async def test_rows_are_added_and_removed(app: StillroomApp) -> None:
    async with app.run_test(size=(80, 24)) as pilot:
        page = await opened(app, pilot, "mix")
        assert rows(page, "liquids") == [("500 mL", "40 %", "20 °C")]
        await pilot.press("ctrl+n")
        await pilot.pause()
        assert main_figure(page) == "500 mL"  # A row that is still blank does not count.
        await fill_in(pilot, "250", "0")
        assert result(app, "Ethanol in it") == "200 mL"  # 40 % of 500 mL and nothing else.
        assert rows(page, "liquids")[1] == ("250", "0", "20 °C")
        await pilot.press("ctrl+r")
        await pilot.pause()
        assert rows(page, "liquids") == [("500 mL", "40 %", "20 °C")]
        assert main_figure(page) == "500 mL"


async def test_a_row_is_added_from_below_the_list(app: StillroomApp) -> None:
    async with app.run_test(size=(80, 24)) as pilot:
        page = await opened(app, pilot, "jar-strength")
        assert isinstance(app.focused, AddRow)
        await pilot.press("enter", *"100 g")
        await pilot.pause()
        assert rows(page, "herbs") == [("100 g", "leaf", "dried", "", "no")]
        await pilot.click(form_of(page).query(AddRow).first())
        await pilot.pause()
        assert len(rows(page, "herbs")) == 2
        assert "! Herb that was not weighed is left out" in screen_text(app)


async def test_escape_returns_to_the_list_and_the_arrows_move_through_the_form(
    app: StillroomApp,
) -> None:
    async with app.run_test(size=(80, 24)) as pilot:
        page = await opened(app, pilot, "weigh")
        fields = list(form_of(page).query(Input))
        assert fields[0].has_focus
        await pilot.press("down", "enter")
        assert fields[2].has_focus
        await pilot.press("up")
        assert fields[1].has_focus
        await pilot.press("escape")
        assert page.names.has_focus
        await pilot.press("down")
        await pilot.pause()
        assert form_of(page).calculator.name == "alcoholometer"


async def test_a_calculator_is_found_by_a_word_in_its_summary(app: StillroomApp) -> None:
    async with app.run_test(size=(80, 24)) as pilot:
        page = await opened(app, pilot)
        await pilot.press("escape", "slash", *"proof")
        await pilot.pause()
        assert [c.name for c in page.names.rows] == ["alcoholometer", "convert"]
        assert form_of(page).calculator.name == "alcoholometer"
        await pilot.press("enter", "enter")
        assert form_of(page).query(Input).first().has_focus
        await pilot.press("escape", "slash", *"zzz")
        await pilot.pause()
        assert page.names.selected is None
        assert "No calculator" in screen_text(app)
        await pilot.press("escape")
        await pilot.pause()
        assert len(page.names.rows) == len(calculators())


async def test_a_slash_in_a_field_is_part_of_a_fraction(app: StillroomApp) -> None:
    async with app.run_test(size=(80, 24)) as pilot:
        page = await opened(app, pilot, "weigh")
        assert "/ Find" not in screen_text(app)
        await pilot.press(*"1/2 lb")
        assert typed(page, "full") == "1/2 lb"
        await pilot.press("escape")
        await pilot.pause()
        assert "/ Find" in screen_text(app)


async def test_what_you_are_reading_stays_in_place_when_the_shelf_changes(
    app: StillroomApp,
) -> None:
    async with app.run_test(size=(80, 24)) as pilot:
        page = await opened(app, pilot, "simmer")
        page.begin("simmer", {"mass": 40.0, "put_in": 750.0, "spirit": 40.0})
        await pilot.pause()
        pane = page.query_one(OutcomePane)
        pane.focus()
        await pilot.press("pagedown")
        await pilot.wait_for_animation()
        place = pane.scroll_offset.y
        assert place > 0
        app.changed()
        await pilot.pause()
        assert pane.scroll_offset.y == place


async def test_a_click_selects_a_calculator_and_a_second_click_opens_it(app: StillroomApp) -> None:
    async with app.run_test(size=(120, 40)) as pilot:
        page = await opened(app, pilot)
        await pilot.press("escape")
        await pilot.click("#names", offset=(5, 7))
        await pilot.pause()
        assert form_of(page).calculator.name == "weigh"
        assert page.names.has_focus
        await pilot.click("#names", offset=(5, 7))
        await pilot.pause()
        assert form_of(page).query(Input).first().has_focus


async def test_the_help_of_the_field_is_shown_with_the_keys(app: StillroomApp) -> None:
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot, "weigh")
        assert "The volume in a bottle or jar from its weight" in screen_text(app)
        await pilot.press("tab")
        await pilot.pause()
        assert "With its cap or dropper, as weighed full." in screen_text(app)


async def test_what_was_typed_survives_other_calculators_and_pages(app: StillroomApp) -> None:
    async with app.run_test(size=(80, 24)) as pilot:
        page = await opened(app, pilot, "weigh")
        await fill_in(pilot, "300 g", "abc")
        await pilot.press("escape", "down", "down", "enter", *"60", "escape", "5")
        await pilot.pause()
        await pilot.press("3", "up", "up")
        await pilot.pause()
        assert typed(page, "full") == "300 g"
        assert typed(page, "empty") == "abc"


async def all_visited(page: CalculatorPage, pilot: Pilot[None]) -> None:
    """Every calculator has been on the screen."""
    for name in calculators():
        page.names.select(name)
        await pilot.pause()


async def test_a_form_is_restored_however_many_were_opened_since(
    app: StillroomApp, keeper: Keeper
) -> None:
    async with app.run_test(size=(80, 24)) as pilot:
        page = await opened(app, pilot, "mix")
        await fill_in(pilot, "7 oz", "odd")
        await pilot.press("ctrl+n", *"946.4", "tab", *"80 proof")
        left = rows(page, "liquids")
        await all_visited(page, pilot)
        assert len(page.query(CalculatorForm)) < len(calculators())
        page.names.select("mix")
        await pilot.pause()
        assert rows(page, "liquids") == left
        save_settings(keeper, replace(settings_of(keeper), units=UnitSystem.US))
        await all_visited(page, pilot)
        app.changed()
        page.names.select("mix")
        await pilot.pause()
        assert rows(page, "liquids")[1] == ("32 fl oz", "40 %", "68 °F")


async def test_an_untouched_form_follows_the_shelf_while_off_screen(
    app: StillroomApp, keeper: Keeper
) -> None:
    async with app.run_test(size=(80, 24)) as pilot:
        page = await opened(app, pilot, "fill")
        await pilot.press(*"120 g")
        await all_visited(page, pilot)
        add_spirit(keeper, SpiritDraft("Rectified", 96, 1000))
        app.changed()
        page.names.select("fill")
        await pilot.pause()
        assert typed(page, "mass") == "120 g"
        assert rows(page, "spirits") == [("96 %", "1 L")]
        await pilot.press("ctrl+l")
        await pilot.pause()
        assert typed(page, "mass") == ""


async def test_a_cleared_form_is_as_it_was_at_first(app: StillroomApp) -> None:
    async with app.run_test(size=(80, 24)) as pilot:
        page = await opened(app, pilot, "mix")
        before = rows(page, "liquids"), main_figure(page)
        await pilot.press(*"7", "tab", *"x", "ctrl+n", *"80", "ctrl+l")
        await pilot.pause()
        assert (rows(page, "liquids"), main_figure(page)) == before


@pytest.mark.parametrize(
    ("units", "unit", "size"),
    [(UnitSystem.US, "fl oz", "3.2 fl oz"), (UnitSystem.IMPERIAL, "fl oz", "3.3 fl oz")],
)
async def test_units_are_those_of_the_shelf(
    app: StillroomApp, keeper: Keeper, units: UnitSystem, unit: str, size: str
) -> None:
    """A net 90.7 g (3.2 oz) of 40 % spirit at 0.948 g/mL (OIML R 22) is 95.7 mL."""
    save_settings(keeper, replace(settings_of(keeper), units=units))
    async with app.run_test(size=(80, 24)) as pilot:
        page = await opened(app, pilot, "weigh")
        await fill_in(pilot, "7.2", "4", "40")
        assert main_figure(page) == size.replace("3.3", "3.4")
        assert "oz" in screen_text(app)


async def test_a_decimal_comma_is_read_and_shown(app: StillroomApp, keeper: Keeper) -> None:
    save_settings(keeper, replace(settings_of(keeper), decimal_comma=True))
    async with app.run_test(size=(80, 24)) as pilot:
        page = await opened(app, pilot, "weigh")
        page.begin("weigh", {"empty": 120.5, "strength": 40.0})
        await pilot.pause()
        assert typed(page, "empty") == "121 g"
        await fill_in(pilot, "213,5 g")
        assert "," in main_figure(page)


async def test_changing_the_units_converts_what_was_typed(
    app: StillroomApp, keeper: Keeper
) -> None:
    async with app.run_test(size=(80, 24)) as pilot:
        page = await opened(app, pilot, "mix")
        await fill_in(pilot, "946.4", "odd")
        save_settings(keeper, replace(settings_of(keeper), units=UnitSystem.US))
        app.changed()
        await pilot.pause()
        assert rows(page, "liquids") == [("32 fl oz", "odd", "68 °F")]


async def test_spirits_and_bottle_sizes_come_from_the_cupboard(
    app: StillroomApp, keeper: Keeper
) -> None:
    add_spirit(keeper, SpiritDraft("Rectified", 96, 1000))
    add_spirit(keeper, SpiritDraft("Grain spirit", 40))
    keep_bottle_size(keeper, 100, 7)
    keep_bottle_size(keeper, 30, None)
    save_settings(keeper, replace(settings_of(keeper), drops_per_ml=28))
    async with app.run_test(size=(80, 24)) as pilot:
        page = await opened(app, pilot)
        assert rows(page, "spirits") == [("96 %", "1 L"), ("40 %", "")]
        page.begin("bottles", {})
        await pilot.pause()
        assert rows(page, "sizes") == [("100 mL", "7"), ("30 mL", "")]
        page.begin("drops", {})
        await pilot.pause()
        assert main_figure(page) == "28 drops/mL"


async def test_what_the_shelf_filled_in_follows_it_until_you_edit_it(
    app: StillroomApp, keeper: Keeper
) -> None:
    async with app.run_test(size=(80, 24)) as pilot:
        page = await opened(app, pilot)
        assert rows(page, "spirits") == [("40 %", "")]
        add_spirit(keeper, SpiritDraft("Rectified", 96, 1000))
        app.changed()
        await pilot.pause()
        assert rows(page, "spirits") == [("96 %", "1 L")]
        await pilot.press(*["tab"] * 7, *"95")
        add_spirit(keeper, SpiritDraft("Grain spirit", 50))
        app.changed()
        await pilot.pause()
        assert rows(page, "spirits") == [("95", "1 L")]


async def test_the_expected_yield_rests_on_strainings_of_this_shelf(
    app: StillroomApp, keeper: Keeper
) -> None:
    for days_ago in range(30, 42):
        strained(keeper, "Yarrow", days_ago=days_ago)
    async with app.run_test(size=(120, 40)) as pilot:
        page = await opened(app, pilot, "yield")
        await fill_in(pilot, "500", "100")
        assert result(app, "Your own strainings used") == "12"
        assert len(rows(page, "own")) == 8
        assert "and 4 more, included in the result" in screen_text(app)
        # Squeezed were all of them; none was pressed.
        await pilot.press(*["tab"] * 3, "right")
        await pilot.pause()
        assert typed(page, "pressing") == "pressed"
        assert result(app, "Your own strainings used") == "0"


async def test_a_calculation_starts_with_a_jar_of_the_shelf(
    app: StillroomApp, keeper: Keeper
) -> None:
    jar = fill_jar(
        keeper,
        JarDraft(
            (ChargeDraft(AWKWARD, Part.ROOT, Condition.FRESH, 200),),
            (PourDraft(LiquidKind.SPIRIT, 600, 96), PourDraft(LiquidKind.WATER, 50)),
            filled_on=keeper.today,
            strain_on=keeper.today,
            capacity_ml=1000,
        ),
    )
    async with app.run_test(size=(80, 24)) as pilot:
        page = await opened(app, pilot, "jar-strength")
        await pilot.press("ctrl+o")
        await pilot.pause()
        assert isinstance(app.screen, OffersScreen)
        assert f"[b]Éch[/b] [50%] · {jar.code}" in screen_text(app)
        await pilot.press("enter")
        await pilot.pause()
        assert rows(page, "herbs") == [("200 g", "root", "fresh", "", "no")]
        assert rows(page, "pours") == [
            ("600 mL", "96 %", "20 °C", ""),
            ("50 mL", "0 %", "20 °C", ""),
        ]
        strength = jar_view(keeper, jar.jar_id).outlook.strength_abv
        assert parse(Kind.STRENGTH, main_figure(page)) == pytest.approx(strength, abs=0.05)


async def test_bottles_of_the_shelf_are_added_to_a_blend(app: StillroomApp, keeper: Keeper) -> None:
    bottled(keeper, strained(keeper, "Yarrow"), 100)
    bottled(keeper, strained(keeper, "[i]Calendula"), 50)
    async with app.run_test(size=(120, 40)) as pilot:
        page = await opened(app, pilot, "blend")
        await pilot.press("ctrl+o", "slash", *"yarr", "down", "enter")
        await pilot.pause()
        await pilot.press("ctrl+o", "enter")
        await pilot.pause()
        parts = rows(page, "parts")
        assert [(name, volume) for name, volume, *_ in parts] == [
            ("Yarrow", "100 mL"),
            ("[i]Calendula", "50 mL"),
        ]
        assert main_figure(page) == "150 mL"
        assert "[i]Calendula: share" in screen_text(app)


async def test_an_empty_shelf_reports_that_there_is_nothing_to_start_with(
    app: StillroomApp,
) -> None:
    async with app.run_test(size=(80, 24), notifications=True) as pilot:
        page = await opened(app, pilot, "weigh")
        await pilot.press("ctrl+o")
        await pilot.pause()
        assert app.screen is page
        assert "There are no bottles in stock." in screen_text(app)


async def test_every_calculator_can_start_with_everything_it_offers(
    app: StillroomApp, stocked: Keeper
) -> None:
    async with app.run_test(size=(80, 24)) as pilot:
        page = await opened(app, pilot)
        begun = set()
        for name in calculators():
            page.begin(name, {})
            await pilot.pause()
            await pilot.press("ctrl+o")
            await pilot.pause()
            if isinstance(app.screen, OffersScreen):
                begun.add(name)
                await pilot.press("enter")
                await pilot.pause()
                assert app.screen is page
                assert main_figure(page) or waiting(page)
    assert begun == {
        "jar-strength", "yield", "cost", "weigh", "drops", "amount", "blend", "bottles",
        "dilute", "mix", "simmer",
    }  # fmt: skip


async def test_a_calculation_can_start_from_another_page(app: StillroomApp) -> None:
    async with app.run_test(size=(80, 24)) as pilot:
        page = app._page("calculator")
        assert isinstance(page, CalculatorPage)
        page.begin("weigh", {"strength": 60.0})  # Before it was ever shown.
        await pilot.press("3")
        await pilot.pause()
        assert typed(page, "strength") == "60 %"
        assert form_of(page).query(Input).first().has_focus
        await fill_in(pilot, "500 g")
        page.begin("weigh", {"strength": 50.0})
        await pilot.pause()
        assert (typed(page, "full"), typed(page, "strength")) == ("", "50 %")


async def test_a_plan_is_passed_to_the_fill_form_and_saved(
    app: StillroomApp, keeper: Keeper
) -> None:
    spirit_id = add_spirit(keeper, SpiritDraft("Rectified", 96, 1000))
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot)
        # 200 g of fresh root in 1:2, to be 50 % in the jar.
        await pilot.press(*"200 g", "tab", "tab", *"1:2", "tab", "r", "tab", "left", "tab", "tab")
        await pilot.press(*"50", "ctrl+u")
        await pilot.pause()
        assert isinstance(app.screen, FillDialog)
        await pilot.press(*"Elecampane", "ctrl+s")
        await pilot.pause()
        (card,) = shelves_view(keeper).jars
        jar = jar_view(keeper, card.jar_id)
        assert isinstance(app.screen, ShelvesPage)
        assert app.screen.board.selected == card
    (charge,) = jar.charges
    assert (charge.herb, charge.part, charge.condition) == ("Elecampane", "root", "fresh")
    assert charge.mass_g == 200
    assert [(p.kind, p.spirit_id) for p in jar.pours] == [("spirit", spirit_id), ("water", None)]
    assert sum(p.volume_ml for p in jar.pours) == pytest.approx(400, abs=1)
    assert jar.outlook.strength_abv == pytest.approx(50, abs=0.2)


async def test_a_plan_uses_every_bottle_of_its_strength(app: StillroomApp, keeper: Keeper) -> None:
    old = add_spirit(keeper, SpiritDraft("Old", 40, 200))
    new = add_spirit(keeper, SpiritDraft("New", 40, 300))
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot)
        await pilot.press(*"90 g", "ctrl+u")
        await pilot.pause()
        await pilot.press(*"Yarrow", "ctrl+s")
        await pilot.pause()
        (card,) = shelves_view(keeper).jars
        pours = jar_view(keeper, card.jar_id).pours
    assert [(p.spirit_id, p.volume_ml) for p in pours] == [(old, 200), (new, 250)]


async def test_a_single_bottle_that_holds_enough_is_used_alone(
    app: StillroomApp, keeper: Keeper
) -> None:
    add_spirit(keeper, SpiritDraft("Old", 40, 200))
    new = add_spirit(keeper, SpiritDraft("New", 40, 500))
    add_spirit(keeper, SpiritDraft("Newer", 40, 600))
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot)
        await pilot.press(*"90 g", "ctrl+u")
        await pilot.pause()
        await pilot.press(*"Yarrow", "ctrl+s")
        await pilot.pause()
        (card,) = shelves_view(keeper).jars
        pours = jar_view(keeper, card.jar_id).pours
    assert [(p.spirit_id, p.volume_ml) for p in pours] == [(new, 450)]


def test_opened_bottles_are_used_first_and_then_the_oldest_lot(keeper: Keeper) -> None:
    add_spirit(keeper, SpiritDraft("This year's", 60, 700, bought_on=date(2026, 2, 1)))
    add_spirit(keeper, SpiritDraft("Undated", 55, 700))
    add_spirit(keeper, SpiritDraft("Last year's", 50, 700, bought_on=date(2025, 2, 1)))
    in_use = add_spirit(keeper, SpiritDraft("In use", 45, 700, bought_on=date(2026, 3, 1)))
    pour = PourDraft(LiquidKind.SPIRIT, 100, 45, spirit_id=in_use)
    herb = ChargeDraft("Yarrow", Part.LEAF, Condition.DRIED, 20)
    fill_jar(keeper, JarDraft((herb,), (pour,), filled_on=keeper.today, strain_on=keeper.today))
    spirits = from_shelf(keeper, "fill")["spirits"]
    assert isinstance(spirits, list)
    assert [row["strength"] for row in spirits] == [45, 50, 60, 55]


def shown_keys(app: StillroomApp) -> Sequence[str]:
    return [b.binding.key for b in app.screen.active_bindings.values() if b.binding.show]


async def test_use_this_is_offered_only_with_a_plan(app: StillroomApp) -> None:
    async with app.run_test(size=(80, 24)) as pilot:
        page = await opened(app, pilot)
        assert "ctrl+u" not in shown_keys(app)
        await pilot.press("ctrl+u")
        await pilot.pause()
        assert app.screen is page
        await pilot.press(*"100 g")
        await pilot.pause()
        assert "ctrl+u" in shown_keys(app)
        assert "^u Use this" in screen_text(app)


async def test_the_offers_can_be_closed_with_escape(app: StillroomApp, keeper: Keeper) -> None:
    bottled(keeper, strained(keeper, "Yarrow"), 100)
    async with app.run_test(size=(80, 24)) as pilot:
        page = await opened(app, pilot, "weigh")
        await fill_in(pilot, "150 g")
        await pilot.press("ctrl+o")
        await pilot.pause()
        assert isinstance(app.screen, OffersScreen)
        await pilot.press("slash", *"zzz")
        await pilot.pause()
        assert "Nothing matches." in screen_text(app)
        assert app.screen.query_one(Table).selected is None
        await pilot.press("escape")
        await pilot.pause()
        assert app.screen is page
        assert typed(page, "full") == "150 g"


async def test_two_lots_of_a_long_name_differ_at_80_columns(
    app: StillroomApp, keeper: Keeper
) -> None:
    name = "Organic wheat spirit from the copper still of the mill, distilled twice"
    for lot in ("2026-0001", "2026-0002", ""):
        add_spirit(keeper, SpiritDraft(name, 96, 2000, 30.0, keeper.today, lot=lot))
    add_spirit(keeper, SpiritDraft(name, 96, 2000, 31.5, keeper.today))
    marks = ("2026-0001", "2026-0002", "number 3", "number 4")
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot, "dilute")
        await pilot.press("ctrl+o")
        await pilot.pause()
        assert all(f"… · {mark}" in screen_text(app) for mark in marks)
        await pilot.press("escape", "escape", "4")
        await pilot.pause()
        assert all(f" {mark} " in screen_text(app) for mark in marks)
