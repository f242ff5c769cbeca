"""The bottles and the page of one bottle, driven by keys over a real file."""

from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest
from textual.pilot import Pilot

from stillroom.clock import SetClock
from stillroom.dates import show_day
from stillroom.keeping.bottles.blends import make_blend
from stillroom.keeping.bottles.bottle_views import bottle_rows, bottle_view
from stillroom.keeping.bottles.formulas import formulas, keep_formula
from stillroom.keeping.bottles.print_log import old_labels
from stillroom.keeping.bottles.returns import still_out_ml
from stillroom.keeping.bottles.status import how_many_batches
from stillroom.keeping.bottles.stock import set_keep_until, take_out
from stillroom.keeping.bottles.tinctures import unbottled
from stillroom.keeping.drafts import BlendDraft, BlendPartDraft, FormulaDraft, FormulaPartDraft
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import save_settings, settings_of
from stillroom.keeping.views import BottleRow
from stillroom.paper.calendar import calendar_file
from stillroom.paper.sheets import DEFAULT_SHEET, last_sheet
from stillroom.screens.app import StillroomApp
from stillroom.screens.bottles.bottle import BottlePage
from stillroom.screens.bottles.bottling import BottleFields, BottlingDialog
from stillroom.screens.bottles.page import BottlesPage
from stillroom.screens.jar.page import JarPage
from stillroom.screens.kit.fields import Entry
from stillroom.screens.trace.page import RecallPage, TreeLine

from .driving import SIZES, choose, flat, press, turn_to, type_into, until
from .screen_text import screen_text
from .stocked import bottled, fill, strained


def others_may_read(path: Path) -> bool:
    """Whether a file has the rights that every new file has here, or else its owner's alone."""
    (plain := path.with_name("plain")).touch()
    mode = path.stat().st_mode & 0o777
    assert mode in (0o600, plain.stat().st_mode & 0o777)
    return mode != 0o600


def bottle(keeper: Keeper, code: str) -> BottleRow:
    return next(row for row in bottle_rows(keeper, empties=True) if row.code == code)


async def opened(app: StillroomApp, pilot: Pilot[None], code: str = "") -> BottlesPage:
    page = await turn_to(app, pilot, "2", BottlesPage)
    if code:
        assert page.stock.select(("bottle", bottle(app.keeper, code).bottle_id))
        await press(pilot, "down", "up")
        await pilot.pause()
        assert page.stock.select(("bottle", bottle(app.keeper, code).bottle_id))
    return page


async def test_an_empty_stock_shows_how_to_get_bottles(keeper: Keeper) -> None:
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot)
        assert "There are no bottles yet" in screen_text(app)


@pytest.mark.parametrize("size", SIZES)
async def test_the_stock_is_listed_by_herb_with_what_is_left(
    stocked: Keeper, size: tuple[int, int]
) -> None:
    app = StillroomApp(stocked)
    async with app.run_test(size=size) as pilot:
        await opened(app, pilot)
        text = screen_text(app)
        assert "3 bottles · 550 mL · 1 to bottle" in text
        assert "Calendula   2 bottles, 350 mL" in text
        assert "[b]Éch[/b] [50%]   1 bottle" in text
        full, part = ("█████", "██░░░") if size[0] > 100 else ("███", "█░░")
        assert f"{full}     250 mL" in text
        assert f"{part}     100 mL" in text
        assert "flower, dried" in text
        assert "North larder" in text
        assert "To be bottled" in text
        assert ("Made" in text) == (size[0] > 100)


async def test_slash_finds_bottles_by_herb_place_or_state(stocked: Keeper) -> None:
    set_keep_until(stocked, bottle(stocked, "26-002.1").tincture_id, stocked.today)
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24)) as pilot:
        page = await opened(app, pilot)
        assert "1 soon" in screen_text(app)
        await press(pilot, "slash", *"north cal")
        assert len(page.stock.rows) == 2
        await press(pilot, "escape", "slash", *"soon")
        assert [row.code for row in page.stock.rows] == ["26-002.1"]
        await press(pilot, "enter")
        assert page.stock.has_focus


async def test_d_draws_with_a_kind_and_u_undoes_it(stocked: Keeper) -> None:
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot, "26-001.1")
        await press(pilot, "d")
        await type_into(app, pilot, "volume", "300")
        assert "Not enough left: 26-001.1 holds 250 mL, not 300 mL" in flat(app)
        await press(pilot, "ctrl+s")
        assert flat(app).count("Not enough left: 26-001.1 holds 250 mL, not 300 mL") == 2
        await type_into(app, pilot, "volume", "30 ml")
        assert "Leaves 220 mL" in flat(app)
        await choose(app, pilot, "reason", "give")
        await type_into(app, pilot, "person", "[Ann]")
        await type_into(app, pilot, "note", "for a cold")
        await press(pilot, "ctrl+s")
        assert bottle(stocked, "26-001.1").left_ml == pytest.approx(220)
        last = bottle_view(stocked, bottle(stocked, "26-001.1").bottle_id).movements[-1]
        assert (last.kind, last.person, last.note) == ("give", "[Ann]", "for a cold")
        assert "30 mL used a year" in flat(app)
        await press(pilot, "u")
        assert bottle(stocked, "26-001.1").left_ml == pytest.approx(250)


async def test_g_records_what_came_back_and_leaves_the_bottle_as_it_is(
    stocked: Keeper,
) -> None:
    row = bottle(stocked, "26-001.1")
    take_out(stocked, row.bottle_id, 30, person="Ann")
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot, "26-001.1")
        await press(pilot, "g")
        assert "Drawn or given, and not returned: 30 mL. It isn't added to the bottle." in flat(app)
        await type_into(app, pilot, "volume", "20 ml")
        await type_into(app, pilot, "person", "Ann")
        await press(pilot, "ctrl+s")
        assert still_out_ml(stocked, row.bottle_id) == pytest.approx(10)
        assert bottle(stocked, "26-001.1").left_ml == pytest.approx(220)
        await press(pilot, "u")
        assert still_out_ml(stocked, row.bottle_id) == pytest.approx(30)


async def test_the_word_all_draws_the_rest_of_a_bottle(stocked: Keeper) -> None:
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot, "26-001.2")
        await press(pilot, "d", *"all")
        assert "Leaves 0 mL" in flat(app)
        await press(pilot, "ctrl+s")
        assert bottle(stocked, "26-001.2").left_ml == 0


async def test_a_name_is_completed_from_earlier_recipients(stocked: Keeper) -> None:
    row = bottle(stocked, "26-001.1")
    take_out(stocked, row.bottle_id, 10, person="Ada from the market")
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot, row.code)
        await press(pilot, "d", *"20", "tab", "tab", *"ad")
        await until(pilot, lambda: "ada from the market" in screen_text(app))
        await press(pilot, "right", "ctrl+s")
        last = bottle_view(stocked, row.bottle_id).movements[-1]
        assert last.person == "Ada from the market"


async def test_shift_d_draws_from_the_bottle_that_expires_first(stocked: Keeper) -> None:
    later = strained(stocked, "Calendula", days_ago=15)
    bottled(stocked, later, 100)
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot, f"{later.code}.1")
        await press(pilot, "d")
        assert "26-001.2 expires first: keep until" in flat(app)
        await press(pilot, "escape", "D")
        assert "Calendula, flower, dried · 26-001.2" in flat(app)
        assert "The first to expire of 3 bottles" in flat(app)
        await type_into(app, pilot, "volume", "10 ml")
        await press(pilot, "ctrl+s")
        assert bottle(stocked, "26-001.2").left_ml == pytest.approx(90)


@pytest.mark.parametrize("size", SIZES)
async def test_a_blend_shows_what_each_bottle_holds_and_can_take_all_of_it(
    stocked: Keeper, size: tuple[int, int]
) -> None:
    first, second = bottle(stocked, "26-001.1"), bottle(stocked, "26-002.1")
    app = StillroomApp(stocked)
    async with app.run_test(size=size) as pilot:
        await opened(app, pilot, first.code)
        await press(pilot, "space", "end", "space", "b")
        assert "holds 250 mL ·" in flat(app)
        assert "holds 200 mL ·" in flat(app)
        await type_into(app, pilot, "blend-name", "Mix")
        await type_into(app, pilot, f"part-{first.bottle_id}", "all")
        await type_into(app, pilot, f"part-{second.bottle_id}", "210 ml")
        assert "Not enough left: 26-002.1 holds 200 mL, not 210 mL" in flat(app)
        await type_into(app, pilot, f"part-{second.bottle_id}", "40 ml")
        assert "290 mL measured separately" in flat(app)
        await press(pilot, "ctrl+s")
        assert bottle(stocked, first.code).left_ml == 0


async def test_enter_goes_through_the_draw_form_and_saves_at_its_date(stocked: Keeper) -> None:
    """The note after it is seldom filled in, and costs no key."""
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot, "26-001.1")
        await press(pilot, "d", *"30", "enter", "enter", *"Ann", "enter", "enter")
        assert isinstance(app.screen, BottlesPage)
        await press(pilot, "d", *"20", "tab", "tab", "tab", "tab", *"a cold", "enter")
        assert isinstance(app.screen, BottlesPage)
    moves = bottle_view(stocked, bottle(stocked, "26-001.1").bottle_id).movements[-2:]
    assert [(m.volume_ml, m.person, m.note) for m in moves] == [
        (-30, "Ann", ""),
        (-20, "", "a cold"),
    ]


async def test_a_draw_can_be_dated_yesterday(stocked: Keeper, clock: SetClock) -> None:
    yesterday = stocked.today
    clock.advance(days=1)
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot, "26-001.1")
        await press(pilot, "d", *"30")
        await type_into(app, pilot, "day", "yesterday")
        await press(pilot, "ctrl+s")
    drawn_from = bottle_view(stocked, bottle(stocked, "26-001.1").bottle_id)
    assert drawn_from.movements[-1].day == yesterday


async def test_a_draw_past_the_keep_until_date_is_asked_about_once(
    stocked: Keeper, clock: SetClock
) -> None:
    row = bottle(stocked, "26-002.1")
    set_keep_until(stocked, row.tincture_id, stocked.today)
    clock.advance(days=1)
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot, row.code)
        assert "1 past" in screen_text(app)
        await press(pilot, "d")
        await type_into(app, pilot, "volume", "10")
        await press(pilot, "ctrl+s")
        assert "Press ctrl+s again" in flat(app)
        assert bottle(stocked, row.code).left_ml == pytest.approx(200)
        await press(pilot, "ctrl+s")
        assert bottle(stocked, row.code).left_ml == pytest.approx(190)


async def test_w_converts_weight_to_volume_while_typing(stocked: Keeper) -> None:
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot, "26-001.1")
        await press(pilot, "w")
        await type_into(app, pilot, "gross", "320 g")
        await type_into(app, pilot, "tare", "130 g")
        assert "less than recorded" in flat(app)
        await press(pilot, "ctrl+s")
        row = bottle(stocked, "26-001.1")
        # 190 g of about 37 % v/v: between the densities of 35 and 40 % v/v at 20 °C, 0.9581 and
        # 0.9480 g/mL (OIML R 22, table II).
        assert 190 / 0.9581 < row.left_ml < 190 / 0.9480


async def test_c_corrects_what_a_bottle_holds(stocked: Keeper) -> None:
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot, "26-001.2")
        await press(pilot, "c")
        await type_into(app, pilot, "volume", "90")
        assert "10 mL less than recorded" in flat(app)
        await press(pilot, "ctrl+s")
        assert bottle(stocked, "26-001.2").left_ml == pytest.approx(90)


async def test_p_pours_two_bottles_of_a_batch_together(stocked: Keeper) -> None:
    take_out(stocked, bottle(stocked, "26-001.1").bottle_id, 200)
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24), notifications=True) as pilot:
        await opened(app, pilot, "26-001.2")
        await press(pilot, "p")
        assert "26-001.2 then holds 0 mL and 26-001.1 holds 150 mL." in flat(app)
        await press(pilot, "ctrl+s")
        assert bottle(stocked, "26-001.1").left_ml == pytest.approx(150)
        assert bottle(stocked, "26-001.2").left_ml == 0
        await opened(app, pilot, "26-002.1")
        await press(pilot, "p")
        assert "There is no other bottle of batch 26-002" in flat(app)


async def test_m_moves_and_k_dates_and_x_discards_a_bottle(stocked: Keeper) -> None:
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24)) as pilot:
        page = await opened(app, pilot, "26-001.2")
        await press(pilot, "m")
        await type_into(app, pilot, "place", "Attic")
        await press(pilot, "ctrl+s", "k")
        await type_into(app, pilot, "until", "1 Jan 2030")
        await press(pilot, "ctrl+s", "x")
        await type_into(app, pilot, "note", "mould")
        await press(pilot, "ctrl+s")
        row = bottle(stocked, "26-001.2")
        assert (row.place, row.keep_until, row.left_ml) == ("Attic", date(2030, 1, 1), 0)
        assert row.code not in [r.code for r in page.stock.rows]
        await press(pilot, "e")
        assert row.code in [r.code for r in page.stock.rows]
        assert "with empty ones" in screen_text(app)
        await press(pilot, "e")
        assert row.code not in [r.code for r in page.stock.rows]


async def test_enter_on_a_batch_still_to_be_bottled_bottles_it(stocked: Keeper) -> None:
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24)) as pilot:
        page = await opened(app, pilot)
        await press(pilot, "home", "enter")
        assert isinstance(app.screen, BottlingDialog)
        first = app.screen.query(BottleFields).first()
        first.bottle_size.typed, first.holds.typed = "400", "400"
        await pilot.pause()
        assert "Not enough left: these bottles need 500 mL, but only 350 mL" in flat(app)
        first.bottle_size.typed, first.holds.typed = "250", "250"
        await press(pilot, "ctrl+s")
        assert app.screen is page
        # A stocked with 250 mL bottles alone fills one and has 100 mL over in another.
        assert [row.left_ml for row in bottle_rows(stocked) if row.herb == "Yarrow"] == [
            pytest.approx(250),
            pytest.approx(100),
        ]


async def test_keys_for_bottles_explain_themselves_on_a_batch_still_to_be_bottled(
    stocked: Keeper,
) -> None:
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24), notifications=True) as pilot:
        page = await opened(app, pilot)
        await press(pilot, "home", "d")
        assert app.screen is page
        assert "This is still to be bottled. Press enter to bottle it." in flat(app)


async def test_l_shows_the_labels_of_the_marked_bottles_and_prints_them(
    stocked: Keeper, tmp_path: Path
) -> None:
    app = StillroomApp(stocked)
    async with app.run_test(size=(120, 40)) as pilot:
        page = await opened(app, pilot, "26-001.1")
        await press(pilot, "space", "space", "l")
        text = flat(app)
        assert "2 labels" in text
        assert "Calendula" in text
        assert "1:5 w/v, herb to liquid poured" in text
        assert "2 labels on 1 sheet, 21 to a sheet" in text
        await type_into(app, pilot, "start", "21")
        assert "2 labels on 2 sheets, 21 to a sheet" in flat(app)
        await type_into(app, pilot, "file", str(tmp_path / "labels.pdf"))
        await choose(app, pilot, "readers", "all")
        await press(pilot, "ctrl+s")
        assert (tmp_path / "labels.pdf").read_bytes().startswith(b"%PDF")
        assert others_may_read(tmp_path / "labels.pdf")
        assert len(page.stock.marked) == 2
        assert "2 marked" in screen_text(app)
        await press(pilot, "escape")
        assert not page.stock.marked


async def test_old_labels_are_marked_counted_and_printed_again_or_dismissed(
    stocked: Keeper, clock: SetClock, tmp_path: Path
) -> None:
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24)) as pilot:
        page = await opened(app, pilot, "26-001.1")
        assert page.check_action("old_labels", ()) is False
        await press(pilot, "space", "space", "l")
        await type_into(app, pilot, "file", str(tmp_path / "labels.pdf"))
        await press(pilot, "ctrl+s", "escape")
        clock.advance(minutes=1)
        row = bottle(stocked, "26-001.1")
        set_keep_until(stocked, row.tincture_id, row.made_on + timedelta(days=90))
        app.changed()
        await press(pilot)
        assert "2 old labels" in flat(app)
        assert "old label: " in flat(app)
        await press(pilot, "L")
        assert f"now Keep until {show_day(row.made_on + timedelta(days=90))}" in flat(app)
        await press(pilot, "ctrl+s")  # print again
        await type_into(app, pilot, "file", str(tmp_path / "again.pdf"))
        await press(pilot, "ctrl+s")
        assert (tmp_path / "again.pdf").exists()
        assert "old label" not in flat(app)
        clock.advance(minutes=1)
        set_keep_until(stocked, row.tincture_id, row.made_on + timedelta(days=91))
        app.changed()
        await press(pilot, "L")
        await choose(app, pilot, "act", "dismiss")
        await press(pilot, "ctrl+s")
        assert app.screen is page
        assert "old label" not in flat(app)
    assert old_labels(stocked) == []


async def test_labels_are_printed_from_a_read_only_shelf_with_a_note_that_it_is_not_recorded(
    stocked: Keeper, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    app = StillroomApp(stocked)
    async with app.run_test(size=(120, 40), notifications=True) as pilot:
        await opened(app, pilot, "26-001.1")
        monkeypatch.setattr(stocked.store, "read_only", True)
        await press(pilot, "l")
        await type_into(app, pilot, "file", str(tmp_path / "labels.pdf"))
        await press(pilot, "ctrl+s")
        assert "The printing wasn't recorded. This shelf is read-only" in flat(app)
    assert (tmp_path / "labels.pdf").exists()


async def test_labels_are_written_as_plain_text_and_onto_a_custom_sheet(
    stocked: Keeper, tmp_path: Path
) -> None:
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot, "26-001.1")
        await press(pilot, "l")
        await choose(app, pilot, "sheet", "own")
        await type_into(app, pilot, "own", "page 100x50 grid 1x1 label 90x40 margin 5x5")
        assert "1 label on 1 sheet, 1 to a sheet" in flat(app)
        await choose(app, pilot, "form", "text")
        await type_into(app, pilot, "copies", "2")
        await type_into(app, pilot, "file", str(tmp_path / "label.txt"))
        await press(pilot, "ctrl+s")
        written = (tmp_path / "label.txt").read_text(encoding="utf-8")
        assert written.count("26-001.1") == 2
        assert last_sheet(stocked) == DEFAULT_SHEET


async def test_the_sheet_used_last_is_proposed(stocked: Keeper, tmp_path: Path) -> None:
    own = "page 100x50 grid 1x1 label 90x40 margin 5x5"
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24)) as pilot:
        page = await opened(app, pilot, "26-001.1")
        await press(pilot, "l")
        await choose(app, pilot, "sheet", "own")
        await type_into(app, pilot, "own", own)
        await type_into(app, pilot, "file", str(tmp_path / "label.pdf"))
        await press(pilot, "ctrl+s")
        assert app.screen is page
        await press(pilot, "l")
        assert own in flat(app)
        await choose(app, pilot, "sheet", "a4-70x37")
        await type_into(app, pilot, "file", str(tmp_path / "more.pdf"))
        await press(pilot, "ctrl+s")
    assert last_sheet(stocked) == "a4-70x37"


async def test_b_blends_the_marked_bottles_and_then_opens_bottling(stocked: Keeper) -> None:
    first, second = bottle(stocked, "26-001.1"), bottle(stocked, "26-002.1")
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot, first.code)
        await press(pilot, "space", "end", "space", "b")
        await type_into(app, pilot, "blend-name", "Winter [mix]")
        await type_into(app, pilot, f"part-{first.bottle_id}", "60 ml")
        await type_into(app, pilot, f"part-{second.bottle_id}", "40 ml")
        assert "100 mL measured separately makes 100 mL" in flat(app)
        assert "1:5 all herb to all liquid poured" in flat(app)
        # 100 g in 500 mL of 40 % and the 10 mL of water in it: 0.196 g in each mL.
        assert "0.118 g Calendula" in flat(app)
        await press(pilot, "ctrl+s")
        assert isinstance(app.screen, BottlingDialog)
        await press(pilot, "ctrl+s")
        assert bottle(stocked, first.code).left_ml == pytest.approx(190)
        made = next(row for row in bottle_rows(stocked) if row.name == "Winter [mix]")
        assert made.left_ml == pytest.approx(100, abs=0.5)


@pytest.mark.parametrize("left_out", ["", "0"])
async def test_a_marked_bottle_can_be_left_out_of_the_blend(stocked: Keeper, left_out: str) -> None:
    first, other = bottle(stocked, "26-001.1"), bottle(stocked, "26-001.2")
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot, first.code)
        await press(pilot, "space", "space", "end", "space", "b")
        await type_into(app, pilot, "blend-name", "Winter")
        await type_into(app, pilot, f"part-{first.bottle_id}", "60 ml")
        await type_into(app, pilot, f"part-{other.bottle_id}", left_out)
        await type_into(app, pilot, f"part-{bottle(stocked, '26-002.1').bottle_id}", "40 ml")
        await press(pilot, "ctrl+s")
        assert isinstance(app.screen, BottlingDialog)
        assert bottle(stocked, other.code).left_ml == other.left_ml


async def test_a_blend_is_measured_in_parts_of_a_total(stocked: Keeper) -> None:
    first, second = bottle(stocked, "26-001.1"), bottle(stocked, "26-002.1")
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot, first.code)
        await press(pilot, "space", "end", "space", "b")
        await type_into(app, pilot, "blend-name", "Mix")
        await choose(app, pilot, "by", "parts")
        await type_into(app, pilot, f"part-{first.bottle_id}", "3")
        await type_into(app, pilot, f"part-{second.bottle_id}", "1")
        assert "Enter the total to make" in flat(app)
        await type_into(app, pilot, "total", "800 ml")
        assert "Not enough left: 26-001.1 holds 250 mL, not 600 mL" in flat(app)
        await press(pilot, "ctrl+s")
        assert not [t for t in unbottled(stocked) if t.is_blend]
        await type_into(app, pilot, "total", "200 ml")
        await press(pilot, "ctrl+s")
        assert bottle(stocked, second.code).left_ml == pytest.approx(150)


async def test_a_blend_is_saved_as_a_formula_and_made_again(stocked: Keeper) -> None:
    parts = [bottle(stocked, code).bottle_id for code in ("26-001.1", "26-002.1")]
    made = make_blend(
        stocked,
        BlendDraft("Mix", tuple(BlendPartDraft(part, 30) for part in parts), stocked.today),
    )
    bottled(stocked, made, 50)
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot, f"{made.code}.1")
        await press(pilot, "enter")
        assert isinstance(app.screen, BottlePage)
        assert "1 mL stands for 0.098 g Calendula" in flat(app)
        await press(pilot, "f")
        await choose(app, pilot, "part-0", "dried")
        await press(pilot, "ctrl+s")
        (kept,) = formulas(stocked)
        assert (kept.name, [part.condition for part in kept.parts]) == ("Mix", ["dried", None])
        await press(pilot, "escape", "b")
        await type_into(app, pilot, "volume", "100 ml")
        assert "50 %" in flat(app)
        await press(pilot, "ctrl+s")
        assert "100 mL measured separately makes 100 mL" in flat(app)
        await press(pilot, "ctrl+s")
        assert isinstance(app.screen, BottlingDialog)


async def test_a_deleted_formula_is_restored_by_undo(stocked: Keeper) -> None:
    parts = (FormulaPartDraft("Calendula", 2), FormulaPartDraft("Yarrow", 1))
    keep_formula(stocked, FormulaDraft("Skin", parts))
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24)) as pilot:
        page = await opened(app, pilot)
        await press(pilot, "b")
        assert "66.7 %" in flat(app)
        await type_into(app, pilot, "volume", "90 ml")
        await press(pilot, "ctrl+s")
        # Yarrow is strained but in no bottle yet, so there is nothing to blend it from.
        assert app.screen is page
        await press(pilot, "b", "ctrl+d")
        assert "will be deleted. Press ctrl+d again." in flat(app)
        await press(pilot, "ctrl+d")
        assert formulas(stocked) == []
        await press(pilot, "u")
        assert [formula.name for formula in formulas(stocked)] == ["Skin"]


async def test_b_without_marks_or_formulas_explains_what_to_do(stocked: Keeper) -> None:
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24), notifications=True) as pilot:
        page = await opened(app, pilot)
        await press(pilot, "b")
        assert app.screen is page
        assert "Mark two or more bottles" in flat(app)


async def test_s_counts_one_place_and_corrects_it_in_one_act(stocked: Keeper) -> None:
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24)) as pilot:
        page = await opened(app, pilot)
        await press(pilot, "s")
        await press(pilot, "right", "ctrl+s")
        assert "Stock-take: North larder" in flat(app)
        await press(pilot, *"240", "enter", *"much", "enter")
        assert "Not a volume" in flat(app)
        await type_into(app, pilot, "volume", "")
        await press(pilot, "down", "ctrl+s")
        assert "1 bottle counted" in flat(app)
        assert "26-001.1: 250 mL recorded, 240 mL seen" in flat(app)
        assert "Not counted: 26-001.2" in flat(app)
        await press(pilot, "escape")
        assert app.screen is page
        assert bottle(stocked, "26-001.1").left_ml == pytest.approx(240)
        await press(pilot, "u")
        assert bottle(stocked, "26-001.1").left_ml == pytest.approx(250)


async def test_counts_typed_in_a_stock_take_can_be_reviewed_and_changed(stocked: Keeper) -> None:
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot, "26-001.1")
        await press(pilot, "s", "ctrl+s")
        assert "Stock-take: North larder" in flat(app)  # where the chosen bottle stands
        await press(pilot, *"251", "enter")
        assert "Bottle 26-001.1 holds at most 250 mL." in flat(app)
        await type_into(app, pilot, "volume", "240")
        await press(pilot, "down", *"90", "up")
        assert app.screen.query_one("#volume", Entry).typed == "240"
        await type_into(app, pilot, "volume", "")
        await press(pilot, "down", "ctrl+s")
        assert "1 bottle counted" in flat(app)
        assert "Not counted: 26-001.1" in flat(app)
        assert "^s" not in flat(app)
        await press(pilot, "enter")
        assert bottle(stocked, "26-001.1").left_ml == pytest.approx(250)
        assert bottle(stocked, "26-001.2").left_ml == pytest.approx(90)


async def test_a_stock_take_can_be_done_by_weight(stocked: Keeper) -> None:
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot)
        await press(pilot, "s", "ctrl+s")
        await type_into(app, pilot, "gross", "230 g")
        await press(pilot, "enter", *"130 g", "enter", "ctrl+s")
        # 100 g between 35 and 40 % v/v (OIML R 22, table II).
        assert 100 / 0.9581 < bottle(stocked, "26-002.1").left_ml < 100 / 0.9480


@pytest.mark.parametrize("size", SIZES)
async def test_a_bottle_opens_with_its_history_and_ancestry(
    stocked: Keeper, size: tuple[int, int]
) -> None:
    bottle_id = bottle(stocked, "26-001.1").bottle_id
    take_out(stocked, bottle_id, 30, person="Ann Example", note="a cough")
    app = StillroomApp(stocked)
    async with app.run_test(size=size) as pilot:
        stock_page = await opened(app, pilot, "26-001.1")
        await press(pilot, "enter")
        page = app.screen
        assert isinstance(page, BottlePage)
        text = flat(app)
        assert "holds 220 mL of 250 mL" in text
        assert "−30 mL 220 mL" in text
        assert "for Ann" in text
        assert "+250 mL 250 mL" in text
        for line in page.history.rows:
            if isinstance(line, TreeLine) and line.node.kind == "jar":
                page.history.select(("tree", line.number))
        await press(pilot, "enter")
        assert isinstance(app.screen, JarPage)
        await press(pilot, "escape")
        await press(pilot, "end", "enter")
        assert isinstance(app.screen, RecallPage)
        assert "in 2 bottles now" in screen_text(app)
        await press(pilot, "escape", "escape")
        assert app.screen is stock_page


async def test_the_keys_of_a_bottle_work_on_its_own_page(stocked: Keeper) -> None:
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24)) as pilot:
        page = await opened(app, pilot, "26-001.1")
        await press(pilot, "enter", "d")
        await type_into(app, pilot, "volume", "50")
        await press(pilot, "ctrl+s")
        assert "holds 200 mL of 250 mL" in flat(app)
        await press(pilot, "slash", *"draw", "enter")
        assert "draw" in flat(app)
        await press(pilot, "escape", "escape")
        assert app.screen is page
        assert "200 mL" in screen_text(app)


async def test_r_shows_the_batch_record_and_writes_it_to_a_file(
    stocked: Keeper, tmp_path: Path
) -> None:
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot, "26-001.1")
        await press(pilot, "enter", "r")
        assert "Calendula" in flat(app)
        await type_into(app, pilot, "file", str(tmp_path / "batch.txt"))
        await press(pilot, "ctrl+s")
        assert "26-001" in (tmp_path / "batch.txt").read_text(encoding="utf-8")
        assert not others_may_read(tmp_path / "batch.txt")
        await press(pilot, "r")
        await choose(app, pilot, "readers", "all")
        assert "Calendula" in flat(app)
        await type_into(app, pilot, "file", str(tmp_path / "batch.pdf"))
        await press(pilot, "ctrl+s")
        assert (tmp_path / "batch.pdf").read_bytes().startswith(b"%PDF")
        assert others_may_read(tmp_path / "batch.pdf")


async def test_undoing_the_bottling_closes_the_page_of_the_bottle(keeper: Keeper) -> None:
    bottled(keeper, strained(keeper, "Calendula"), 250)
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24), notifications=True) as pilot:
        page = await opened(app, pilot, "26-001.1")
        await press(pilot, "enter", "u")
        assert app.screen is page
        assert "no longer exists" in flat(app)


async def test_the_cursor_stays_on_its_bottle_when_the_stock_changes(stocked: Keeper) -> None:
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24)) as pilot:
        page = await opened(app, pilot, "26-001.2")
        bottled(stocked, strained(stocked, "Angelica", days_ago=60), 100)
        app.changed()
        await pilot.pause()
        chosen = page.stock.selected
        assert isinstance(chosen, BottleRow)
        assert chosen.code == "26-001.2"


async def test_low_stock_is_marked_at_its_herb(keeper: Keeper, clock: SetClock) -> None:
    bottled(keeper, strained(keeper, "Calendula", days_ago=400, yield_ml=250), 250)
    for _ in range(4):
        take_out(keeper, bottle(keeper, "25-001.1").bottle_id, 60)
        clock.advance(days=10)
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot)
        runs_out = keeper.today + timedelta(days=int(10 * 365 / 240))
        assert f"LOW, runs out {runs_out:%b %Y}" in flat(app)
        assert "1 low" in screen_text(app)


async def test_a_herb_that_is_used_up_is_listed(stocked: Keeper) -> None:
    take_out(stocked, bottle(stocked, "26-002.1").bottle_id, 200)
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot)
        assert "[50%] none left · 200 mL used a year" in flat(app)


async def test_shift_p_shows_the_stock_list_and_writes_it_to_a_file(
    stocked: Keeper, tmp_path: Path
) -> None:
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24)) as pilot:
        page = await opened(app, pilot)
        await press(pilot, "P")
        assert "26-001.1" in flat(app)
        await press(pilot, "pagedown", "pageup")
        await type_into(app, pilot, "file", str(tmp_path / "stock.txt"))
        await press(pilot, "ctrl+s")
        assert app.screen is page
        assert "26-001.2" in (tmp_path / "stock.txt").read_text(encoding="utf-8")


async def test_the_day_sheet_shelf_list_and_calendar_are_shown_and_written_to_files(
    stocked: Keeper, tmp_path: Path
) -> None:
    strained(stocked, "Calendula")
    day = stocked.today
    fill(stocked, "Yarrow", days=3)
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "P")
        assert f"~/day-{day}.pdf" in screen_text(app)
        assert "SHAKE" in screen_text(app)
        await choose(app, pilot, "paper", "shelves")
        assert f"~/shelves-{day}.pdf" in screen_text(app)
        assert "Yarrow, leaf" in flat(app), screen_text(app)
        await choose(app, pilot, "paper", "calendar")
        assert f"~/dates-{day}.ics" in screen_text(app)
        assert show_day(day + timedelta(days=3)) in flat(app)
        await choose(app, pilot, "readers", "all")
        assert f"~/dates-{day}.ics" in screen_text(app)  # and the paper is the same still
        await type_into(app, pilot, "file", str(tmp_path / "dates.ics"))
        await press(pilot, "ctrl+s")
    assert (tmp_path / "dates.ics").read_bytes() == calendar_file(stocked)
    assert others_may_read(tmp_path / "dates.ics")


async def test_marks_are_kept_while_you_search_for_the_next_bottle(stocked: Keeper) -> None:
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot, "26-001.1")
        await press(pilot, "space", "slash", *"cellar", "enter", "space", "escape", "b")
        assert "26-001.1" in flat(app)
        assert "26-002.1" in flat(app)
        assert "2 marked" in screen_text(app)


async def test_batches_are_released_by_key_where_the_settings_require_it(stocked: Keeper) -> None:
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24)) as pilot:
        page = await opened(app, pilot, "26-001.1")
        assert page.check_action("release", ()) is False
        save_settings(stocked, replace(settings_of(stocked), releases=True, maker="AL"))
        app.changed()
        row = bottle(stocked, "26-001.1")
        await press(pilot, "R")
        await choose(app, pilot, "verdict", "rejected")
        await type_into(app, pilot, "why", "mould")
        await press(pilot, "ctrl+s")
        assert app.screen is page
        assert bottle(stocked, row.code).status == "rejected"
        assert "rejected: " in flat(app)
        await press(pilot, "d")
        await type_into(app, pilot, "volume", "10")
        await press(pilot, "ctrl+s")
        assert "was rejected" in flat(app)
        await press(pilot, "escape", "escape")
        await press(pilot, "R", "ctrl+s")
        assert "Release it anyway? Press ctrl+s again." in flat(app)
        await press(pilot, "ctrl+s")
        assert bottle(stocked, row.code).status == "released"
        assert "rejected: " not in flat(app)


async def test_everything_made_from_a_batch_is_withdrawn_by_key_and_restored_by_undo(
    stocked: Keeper,
) -> None:
    save_settings(stocked, replace(settings_of(stocked), maker="AL"))
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "4", "enter")
        assert isinstance(app.screen, RecallPage)
        await press(pilot, "W")
        await type_into(app, pilot, "why", "seal broken")
        await press(pilot, "ctrl+s")
        (line,) = stocked.rows("SELECT title, why FROM journal ORDER BY id DESC LIMIT 1")
        gone = [row for row in bottle_rows(stocked) if row.status == "withdrawn"]
        assert line[0].startswith(
            f"Withdrew {how_many_batches(len({row.batch for row in gone}))}: "
        )
        assert line[1] == "seal broken"
        await press(pilot, "2")
        assert "withdrawn: " in flat(app)
        await press(pilot, "u")
        assert {row.status for row in bottle_rows(stocked)} == {None}
