"""A scanned code opens what it belongs to, from everywhere, and does nothing else."""

import itertools
from collections.abc import AsyncIterator
from dataclasses import replace
from datetime import timedelta

import pytest
from textual.events import Key
from textual.keys import _character_to_key
from textual.pilot import Pilot
from textual.widgets import Input

from stillroom.keeping.bottles.bottle_views import bottle_rows
from stillroom.keeping.bottles.labels import labels_for
from stillroom.keeping.bottles.tinctures import tincture_view
from stillroom.keeping.cupboard.lots import add_lot
from stillroom.keeping.drafts import HerbLotDraft
from stillroom.keeping.interchange.writing import export_json
from stillroom.keeping.jars.shelves import shelves_view
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import save_settings, settings_of
from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.states import HerbCame
from stillroom.screens.app import StillroomApp
from stillroom.screens.bottles.blend import BlendDialog
from stillroom.screens.bottles.bottle import BottlePage
from stillroom.screens.bottles.dialogs import DrawDialog
from stillroom.screens.bottles.page import BottlesPage
from stillroom.screens.bottles.stock_take import StockTakeDialog
from stillroom.screens.correcting.form import CorrectionDialog
from stillroom.screens.cupboard.page import CupboardPage
from stillroom.screens.jar.fill import FillDialog
from stillroom.screens.jar.page import JarPage
from stillroom.screens.kit.dialog import Dialog
from stillroom.screens.kit.fields import Entry
from stillroom.screens.pages import PAGES
from stillroom.screens.shelves.round import RoundScreen

from .driving import flat, press, type_into, until
from .hands import caught_up, type_in
from .stocked import fill

MOMENTS = itertools.count(1e9, 1000)
"""When each scan begins, in seconds of a clock that only these tests have."""

pytestmark = pytest.mark.usefixtures("scanner_on")


@pytest.fixture
def shelf(stocked: Keeper) -> Keeper:
    """Three bottles, jars that steep, a lot of herb; codes of two years."""
    for herb, shakes in (("Yarrow", 1), ("Mugwort", 2)):
        fill(stocked, herb, shakes=shakes)
    add_lot(stocked, HerbLotDraft("Yarrow", Part.LEAF, Condition.DRIED, HerbCame.GATHERED,
                                  stocked.today - timedelta(days=9), mass_g=300))  # fmt: skip
    return stocked


@pytest.fixture
async def pilot(shelf: Keeper) -> AsyncIterator[Pilot[None]]:
    """The program on it."""
    async with StillroomApp(shelf).run_test(size=(80, 24), notifications=True) as running:
        yield running


async def scan(pilot: Pilot[None], text: str, *, gap_s: float = 0.004) -> float:
    """Send a text and Enter as a scanner does, long after the key before; when Enter came."""
    at = next(MOMENTS)
    for letter in text:
        key = Key(_character_to_key(letter), letter)
        key.time = at = at + gap_s
        pilot.app.post_message(key)
    enter = Key("enter", "\r")
    enter.time = at + gap_s
    pilot.app.post_message(enter)
    await caught_up(pilot)
    return enter.time


async def is_said(pilot: Pilot[None], words: str) -> None:
    """Wait for a message."""
    await until(pilot, lambda: words in flat(pilot.app))


def app_of(pilot: Pilot[None]) -> StillroomApp:
    assert isinstance(pilot.app, StillroomApp)
    return pilot.app


OPENED_FROM = [
    (), *((entry.key,) for entry in PAGES[1:]), ("2", "down", "enter"), ("enter",), ("4", "tab"),
    ("2", "slash"), ("question_mark",), ("ctrl+p",), ("3", "enter"), ("slash",),
]  # fmt: skip


async def test_on_every_page_a_scan_opens_the_bottle_and_does_nothing_else(
    pilot: Pilot[None], shelf: Keeper
) -> None:
    wanted = next(row for row in bottle_rows(shelf) if row.code == "26-002.1")
    before = export_json(shelf)
    for keys in OPENED_FROM:
        await press(pilot, "1", *keys)
        page = app_of(pilot).screen_stack[1] if len(app_of(pilot).screen_stack) > 1 else None
        await scan(pilot, wanted.code)
        screen = app_of(pilot).screen
        assert isinstance(screen, BottlePage), keys
        assert screen.bottle_id == wanted.bottle_id
        # What was below is below still, and no letter has gone into a field of it.
        if page and not isinstance(page, BottlePage | JarPage) and "question_mark" not in keys:
            assert page in app_of(pilot).screen_stack or "ctrl+p" in keys
            assert all("26" not in field.value for field in page.query(Input))
        while len(app_of(pilot).screen_stack) > 1:
            await press(pilot, "escape", "1")
    assert export_json(shelf) == before


async def test_a_jar_a_batch_and_a_lot_open_on_their_pages(
    pilot: Pilot[None], shelf: Keeper
) -> None:
    jar = next(jar for jar in shelves_view(shelf).jars if jar.herb == "Yarrow" and jar.is_steeping)
    await scan(pilot, jar.code)
    opened = app_of(pilot).screen
    assert isinstance(opened, JarPage)
    assert opened.jar_id == jar.jar_id
    await scan(pilot, "26-001.1")  # in place of the jar, not over it
    assert isinstance(app_of(pilot).screen, BottlePage)
    assert len(app_of(pilot).screen_stack) == 2
    await scan(pilot, "H-26-001")
    screen = app_of(pilot).screen
    assert isinstance(screen, CupboardPage)
    assert screen.rows.selected is not None
    assert screen.rows.selected.code == "H-26-001"


async def test_a_scan_right_after_a_page_key_opens_the_bottle(pilot: Pilot[None]) -> None:
    """The page is still being made then; that of the calculators took longest, and lost it."""
    for entry in (*PAGES[1:], PAGES[0]):
        turn = Key(entry.key, entry.key)
        turn.time = next(MOMENTS)
        pilot.app.post_message(turn)
        await scan(pilot, "26-002.1")
        assert isinstance(app_of(pilot).screen, BottlePage), entry.name
        await press(pilot, "escape")
        assert type(app_of(pilot).screen).__name__ == entry.class_name


async def test_a_label_scanned_with_a_german_or_french_layout_opens_its_bottle(
    pilot: Pilot[None], shelf: Keeper
) -> None:
    row = next(row for row in bottle_rows(shelf) if row.code == "26-001.2")
    (label,) = labels_for(shelf, [row.bottle_id])
    german = label.scan_text.translate(str.maketrans("-zyZY", "ßyzYZ"))
    french = row.code.translate(str.maketrans("1234567890-.", "&é\"'(-è_çà):"))
    for text in (label.scan_text, german, french):
        await scan(pilot, text)
        screen = app_of(pilot).screen
        assert isinstance(screen, BottlePage), text
        assert screen.bottle_id == row.bottle_id
        await press(pilot, "escape")


async def test_an_unknown_code_is_reported_and_its_keys_do_nothing(pilot: Pilot[None]) -> None:
    for code in ("26-999", "25-001.4", "H-25-003"):
        await scan(pilot, code)
        await is_said(pilot, f"Nothing on this shelf has the code {code}.")
        assert app_of(pilot).screen is app_of(pilot).screen_stack[0]


async def test_an_unknown_code_that_reaches_a_text_field_is_typing(
    pilot: Pilot[None],
) -> None:
    """The line for searching is only asked for when the code arrives."""
    await press(pilot, "2")
    slash = Key("slash", "/")
    slash.time = next(MOMENTS)
    pilot.app.post_message(slash)
    await scan(pilot, "26-999")
    page = app_of(pilot).screen
    assert isinstance(page, BottlesPage)
    assert page.query_one("#find", Input).value == "26-999"
    assert "Nothing on this shelf has the code" not in flat(pilot.app)


async def test_a_line_end_right_after_enter_belongs_to_the_scan(pilot: Pilot[None]) -> None:
    await press(pilot, "n")
    field = pilot.app.focused
    for gap_s, is_part in ((0.03, True), (0.5, False)):
        again = Key("enter", "\r")
        again.time = await scan(pilot, "26-001.1") + gap_s
        pilot.app.post_message(again)
        await caught_up(pilot)
        assert (pilot.app.focused is field) == is_part


async def test_a_code_typed_by_hand_in_the_find_line_is_a_search(
    pilot: Pilot[None], shelf: Keeper
) -> None:
    await press(pilot, "2", "slash")
    await scan(pilot, "26-001.1", gap_s=0.15)
    page = app_of(pilot).screen
    assert isinstance(page, BottlesPage)
    assert page.query_one("#find", Input).value == "26-001.1"
    assert [row.code for row in page.stock.rows] == ["26-001.1"]


async def test_keys_typed_ahead_of_a_slow_machine_are_typing(pilot: Pilot[None]) -> None:
    """They arrive as one burst, but it doesn't begin with a code."""
    await type_in(pilot, "2", "/", "26-001.2", "enter")
    page = app_of(pilot).screen
    assert isinstance(page, BottlesPage)
    assert [row.code for row in page.stock.rows] == ["26-001.2"]
    await type_in(pilot, "escape", "1", "2")  # a single key that a code could begin with
    assert isinstance(app_of(pilot).screen, BottlesPage)


async def test_in_the_round_a_scan_shakes_that_jar_and_no_other(
    pilot: Pilot[None], shelf: Keeper
) -> None:
    yarrow, mugwort = (
        next(jar for jar in shelves_view(shelf).jars if jar.herb == herb and jar.is_steeping)
        for herb in ("Yarrow", "Mugwort")
    )
    await press(pilot, "r")
    for code, shaken in ((mugwort.code, 1), (mugwort.code, 2), (mugwort.code, 2)):
        await scan(pilot, code)
        now = {jar.jar_id: jar.shaken for jar in shelves_view(shelf).jars}
        assert (now[mugwort.jar_id], now[yarrow.jar_id]) == (shaken, 0)
        assert isinstance(app_of(pilot).screen, RoundScreen)
    await is_said(pilot, "has been shaken today")
    await scan(pilot, "26-001.1")
    await is_said(pilot, "26-001.1 isn't a jar to shake.")
    await press(pilot, "u")
    assert {jar.shaken for jar in shelves_view(shelf).jars if jar.jar_id == mugwort.jar_id} == {1}


async def test_in_a_stock_take_a_scan_goes_to_the_line_of_the_bottle(
    pilot: Pilot[None], shelf: Keeper
) -> None:
    await press(pilot, "2", "down", "s", "enter")
    form = app_of(pilot).screen
    assert isinstance(form, StockTakeDialog)
    codes = [row.code for row in form.rows]
    assert codes == ["26-001.1", "26-001.2"]
    await type_in(pilot, "240")
    await scan(pilot, "26-001.2")
    assert form.table.selected is not None
    assert form.table.selected.code == "26-001.2"
    assert list(form.seen.values()) == [240]
    await scan(pilot, "26-002.1")
    await is_said(pilot, "26-002.1 is recorded elsewhere: Cellar.")
    assert form.table.selected.code == "26-001.2"


async def test_the_draw_form_switches_to_the_scanned_bottle_and_keeps_what_was_typed(
    pilot: Pilot[None], shelf: Keeper
) -> None:
    await press(pilot, "2", "down", "d")
    await type_in(pilot, "30")
    await scan(pilot, "26-001.2")
    form = app_of(pilot).screen
    assert isinstance(form, DrawDialog)
    assert form.row.code == "26-001.2"
    assert "Recorded: 100 mL of 250 mL." in flat(pilot.app)
    await press(pilot, "ctrl+s")
    assert {row.code: row.left_ml for row in bottle_rows(shelf)} == pytest.approx(
        {"26-001.1": 250, "26-001.2": 70, "26-002.1": 200}
    )


async def test_the_blend_form_adds_the_scanned_bottle(pilot: Pilot[None], shelf: Keeper) -> None:
    await press(pilot, "2", "down", "space", "space", "b")
    form = app_of(pilot).screen
    assert isinstance(form, BlendDialog)
    assert len(form.parts) == 2
    await scan(pilot, "26-001.2")
    assert len(form.parts) == 2
    await scan(pilot, "26-002.1")
    assert [row.code for row, _ in form.parts] == ["26-001.1", "26-001.2", "26-002.1"]
    await type_in(pilot, "40")
    await scan(pilot, "26-001.1")
    await type_in(pilot, "60")
    await type_into(app_of(pilot), pilot, "blend-name", "Evening")
    await press(pilot, "ctrl+s")
    left = {row.code: row.left_ml for row in bottle_rows(shelf)}
    assert (left["26-001.1"], left["26-001.2"], left["26-002.1"]) == (190, 100, 160)


async def test_a_scan_fills_a_text_field_and_changes_no_other(
    pilot: Pilot[None], shelf: Keeper
) -> None:
    await press(pilot, "n")
    form = app_of(pilot).screen
    assert isinstance(form, FillDialog)
    await type_in(pilot, "Fennel", "tab", "tab", "tab", "tab")
    before = [field.value for field in form.query(Input)]
    await scan(pilot, "26-001.1")
    assert app_of(pilot).screen is form
    assert [field.value for field in form.query(Input)] == before
    await is_said(pilot, "26-001.1 was scanned")
    words = next(entry for entry in form.query(Entry) if entry.takes_words and not entry.typed)
    words.field.focus()
    await pilot.pause()
    for _ in range(2):  # the second would have run into the first
        await scan(pilot, "26-001.1")
        assert words.typed == "26-001.1"
    assert app_of(pilot).screen is form


FORMS = [
    ("s",), ("t",), ("m",), ("e",), ("c",), ("w",), ("x",), ("n",), ("C",), ("P",), ("i",),
    *(("2", "home", "down", key) for key in "dwcmkxltjC"), ("2", "home", "y"),
    ("2", "home", "enter"), ("4", "n"),
    ("4", "tab", "n"), ("4", "e"), ("3", "enter"),
]  # fmt: skip
"""How forms are opened; those that pick a bottle take it."""


async def test_in_every_form_a_scan_saves_closes_and_loses_nothing(
    pilot: Pilot[None], shelf: Keeper
) -> None:
    before = export_json(shelf)
    seen = set()
    for keys in FORMS:
        await press(pilot, "1", "home", "right", *keys)
        form = app_of(pilot).screen
        if not isinstance(form, Dialog):
            assert keys == ("3", "enter")
            continue
        seen.add(type(form).__name__)
        held = [field.value for field in form.query(Input)]
        await scan(pilot, "26-001.2 Oxeye, 40 %")
        assert app_of(pilot).screen is form, keys
        now = [field.value for field in form.query(Input)]
        more = [(was, is_now) for was, is_now in zip(held, now, strict=True) if was != is_now]
        assert all("26-001.2" in is_now and was in is_now for was, is_now in more), keys
        assert len(more) <= 1
        await press(pilot, "escape", "escape")
        assert app_of(pilot).screen is not form, keys
    assert len(seen) > 20
    assert export_json(shelf) == before


async def test_a_code_scanned_in_a_code_field_is_the_answer(pilot: Pilot[None]) -> None:
    app_of(pilot).action_correct_code()
    await pilot.pause()
    await scan(pilot, "26-001.1")
    assert isinstance(app_of(pilot).screen, CorrectionDialog)


async def test_scanner_pace_and_prefix_are_settings(pilot: Pilot[None], shelf: Keeper) -> None:
    save_settings(shelf, replace(settings_of(shelf), scan_gap_ms=200, scan_prefix="~~"))
    await scan(pilot, "26-001.1", gap_s=0.15)
    assert isinstance(app_of(pilot).screen, BottlePage)
    await press(pilot, "escape", "slash")
    await scan(pilot, "~~ANY 7")
    await is_said(pilot, "Nothing on this shelf has the code ANY 7.")
    save_settings(shelf, replace(settings_of(shelf), scan_gap_ms=0))
    await press(pilot, "escape", "slash")
    await scan(pilot, "26-001.1")
    assert app_of(pilot).screen.query_one("#find", Input).value == "26-001.1"
    assert not isinstance(app_of(pilot).screen, Dialog)
    assert tincture_view(shelf, 1).code == "26-001"
