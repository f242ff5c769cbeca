"""The ledger page, driven by keys over a real file."""

import csv
import io
from dataclasses import replace
from pathlib import Path

import pytest
from textual.pilot import Pilot

from stillroom.clock import SetClock
from stillroom.keeping.bottles.bottle_views import bottle_row, bottle_rows
from stillroom.keeping.bottles.stock import put_right, set_keep_until
from stillroom.keeping.closing import closings
from stillroom.keeping.cupboard.cupboard import add_shelf
from stillroom.keeping.drafts import ShelfDraft
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import save_settings, settings_of
from stillroom.screens.app import StillroomApp
from stillroom.screens.bottles.bottle import BottlePage
from stillroom.screens.jar.page import JarPage
from stillroom.screens.kit.page import Page
from stillroom.screens.kit.table import Table
from stillroom.screens.ledger.page import LedgerPage

from .driving import SIZES, flat, press, turn_to, type_into
from .screen_text import screen_text
from .stocked import AWKWARD, stock


async def opened(app: StillroomApp, pilot: Pilot[None]) -> LedgerPage:
    return await turn_to(app, pilot, "5", LedgerPage)


async def test_an_empty_ledger_shows_what_it_will_hold(keeper: Keeper) -> None:
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot)
        assert "There are no entries yet" in screen_text(app)


@pytest.mark.parametrize("size", SIZES)
async def test_entries_are_under_their_day_with_the_newest_first(
    stocked: Keeper, size: tuple[int, int]
) -> None:
    app = StillroomApp(stocked)
    async with app.run_test(size=size) as pilot:
        page = await opened(app, pilot)
        text = screen_text(app)
        assert "Thursday 26 Nov 2026" in text
        assert "strained" in text
        assert "[b]Éch[/b] [50%]" in text
        ids = [event.event_id for event in page.lines.rows]
        assert ids == sorted(ids, reverse=True)
        assert max(map(len, text.splitlines())) <= size[0]


async def test_slash_finds_words_while_typing_and_escape_shows_all(stocked: Keeper) -> None:
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24)) as pilot:
        page = await opened(app, pilot)
        all_lines = len(page.lines.rows)
        await pilot.press("slash", *"yarrow")
        await pilot.pause()
        assert {event.kind for event in page.lines.rows} == {"filled", "strained"}
        await pilot.press("enter")
        assert page.lines.has_focus
        await pilot.press("escape")
        await pilot.pause()
        assert len(page.lines.rows) == all_lines
        await pilot.press("slash", *"zzz", "down")
        await pilot.pause()
        assert page.lines.has_focus
        assert "No entry matches" in screen_text(app)


async def test_f_cycles_through_the_kinds_and_back_to_all(stocked: Keeper) -> None:
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24)) as pilot:
        page = await opened(app, pilot)
        await pilot.press("f")
        first = {event.kind for event in page.lines.rows}
        assert len(first) == 1
        assert f"· {first.pop()} ·" in screen_text(app)
        await pilot.press("F")
        assert len({event.kind for event in page.lines.rows}) > 1
        await pilot.press("F")
        assert {event.kind for event in page.lines.rows} == {"strained"}
        await pilot.press("escape")
        assert "all kinds" in screen_text(app)


async def test_enter_on_an_entry_about_the_cupboard_opens_nothing(keeper: Keeper) -> None:
    add_shelf(keeper, ShelfDraft("Cellar"))
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24), notifications=True) as pilot:
        page = await opened(app, pilot)
        await pilot.press("enter")
        await pilot.pause()
        assert app.screen is page
        assert "isn't about one jar or bottle" in screen_text(app)


@pytest.mark.parametrize(
    ("words", "opens"),
    [("count", BottlePage), ("strained yarrow", JarPage), ("keep until", BottlePage)],
)
async def test_enter_opens_what_an_entry_is_about(
    stocked: Keeper, words: str, opens: type[Page]
) -> None:
    row = bottle_rows(stocked)[0]
    put_right(stocked, row.bottle_id, 90)
    set_keep_until(stocked, row.tincture_id, stocked.today)
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24)) as pilot:
        page = await opened(app, pilot)
        await press(pilot, "slash", *words, "enter", "enter")
        assert isinstance(app.screen, opens)
        await press(pilot, "escape")
        assert app.screen is page


async def test_older_entries_are_read_when_the_cursor_reaches_them(
    keeper: Keeper, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("stillroom.screens.ledger.page.AT_A_TIME", 3)
    stock(keeper)
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24)) as pilot:
        page = await opened(app, pilot)
        assert len(page.lines.rows) == 3
        assert "3+ entries" in screen_text(app)
        for _ in range(8):
            await pilot.press("end")
            await pilot.pause()
        assert "filled" in {event.kind for event in page.lines.rows}
        assert "+" not in screen_text(app).splitlines()[0]


async def test_w_writes_the_entries_shown_and_never_over_a_file_unasked(
    stocked: Keeper, tmp_path: Path
) -> None:
    target = tmp_path / "lines.csv"
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24)) as pilot:
        page = await opened(app, pilot)
        await pilot.press("slash", *"strained", "enter", "w")
        await pilot.pause()
        await type_into(app, pilot, "file", str(target))
        await pilot.press("ctrl+s")
        await pilot.pause()
        assert app.screen is page
        lines = list(csv.DictReader(io.StringIO(target.read_text(encoding="utf-8"))))
        assert [line["kind"] for line in lines] == ["strained"] * 3
        assert any(AWKWARD in line["about"] for line in lines)

        target.write_text("mine")
        await pilot.press("w")
        await pilot.pause()
        await type_into(app, pilot, "file", str(target))
        await pilot.press("ctrl+s")
        await pilot.pause()
        assert target.read_text() == "mine"
        assert "Replace it?" in flat(app)
        await pilot.press("ctrl+s")
        await pilot.pause()
        assert target.read_text() != "mine"


async def test_the_cursor_stays_on_its_entry_when_the_shelf_changes(stocked: Keeper) -> None:
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24)) as pilot:
        page = await opened(app, pilot)
        await pilot.press("down", "down")
        before = page.lines.selected
        add_shelf(stocked, ShelfDraft("Cellar"))
        app.changed()
        await pilot.pause()
        assert page.lines.selected == before
        await pilot.press("home")
        assert page.lines.selected is page.lines.rows[0]
        await pilot.press("pagedown")
        await pilot.pause()
        assert isinstance(page.lines, Table)
        assert page.lines.selected is not page.lines.rows[0]


async def test_a_month_is_closed_by_key_and_later_changes_need_a_reason(
    stocked: Keeper, clock: SetClock
) -> None:
    clock.advance(days=10)
    save_settings(stocked, replace(settings_of(stocked), maker="AL"))
    row = bottle_rows(stocked)[0]
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24), notifications=True) as pilot:
        await press(pilot, "5", "K")
        assert "2026-11" in screen_text(app)
        await press(pilot, "ctrl+s")
        assert "Closed Nov 2026" in flat(app)
        await press(pilot, "2")
        app.open_bottle(row.bottle_id)
        await press(pilot, "d")
        await type_into(app, pilot, "volume", "10")
        await type_into(app, pilot, "day", "27 Nov 2026")
        await press(pilot, "ctrl+s")
        assert "Nov 2026 is closed: give a reason for this." in flat(app)
        await press(pilot, *"late", "ctrl+s")
        assert bottle_row(stocked, row.bottle_id).left_ml == row.left_ml - 10
        assert stocked.rows("SELECT why FROM journal ORDER BY id DESC LIMIT 1") == [("late",)]
        await press(pilot, "u")
        assert "Correct it instead, and give a reason." in flat(app).replace("▌ ", "")
        assert bottle_row(stocked, row.bottle_id).left_ml == row.left_ml - 10


async def test_a_batch_record_is_closed_from_its_preview(stocked: Keeper) -> None:
    save_settings(stocked, replace(settings_of(stocked), maker="AL"))
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "2")
        app.open_bottle(bottle_rows(stocked)[0].bottle_id)
        await press(pilot, "r")
        await press(pilot, "ctrl+l")
        assert "needs a reason" in flat(app)
        await press(pilot, "ctrl+s")
        assert len(closings(stocked)) == 1
        await press(pilot, "escape", "u")
        assert closings(stocked) == []
