"""An entry that was undone or corrected is struck through, marked, and the later line beside it."""

import csv
import io
from pathlib import Path

import pytest
from textual.pilot import Pilot

from stillroom.keeping.bottles.bottle_views import bottle_rows
from stillroom.keeping.bottles.stock import take_out
from stillroom.keeping.jars.jar import note_jar
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.ledger import LedgerFilter, ledger
from stillroom.keeping.undo import redo, undo
from stillroom.paper.ledger_csv import ledger_csv
from stillroom.reckoning.states import LineKind
from stillroom.screens.app import StillroomApp
from stillroom.screens.bottles.bottle import BottlePage
from stillroom.screens.kit.page import Page
from stillroom.screens.ledger.page import LedgerPage

from .driving import SIZES, flat, press, turn_to
from .screen_text import screen_text, struck_text
from .stocked import fill

WHY = "misread jug"


def correct_the_last(keeper: Keeper, why: str = WHY) -> None:
    """Mark the newest line of the ledger as corrected, as a correction does."""
    last = ledger(keeper, LedgerFilter(), limit=1)[0]
    with keeper.act("Corrected it", kind=LineKind.CORRECTION, why=why) as act:
        keeper.store.db.execute_sql(
            "UPDATE jar SET note = note || '.' WHERE id = ?", (last.jar_id,)
        )
        keeper.store.db.execute_sql(
            "INSERT INTO corrected (event_id, journal_id) VALUES (?, ?)",
            (last.event_id, act.line_id),
        )


@pytest.fixture
def noted(keeper: Keeper) -> Keeper:
    """A jar with two notes: the first stands, the second was corrected."""
    jar_id = fill(keeper, "Yarrow").jar_id
    note_jar(keeper, jar_id, "smells of summer")
    note_jar(keeper, jar_id, "smells of winter")
    correct_the_last(keeper)
    return keeper


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("page", ["5", "enter"])
async def test_a_corrected_entry_is_struck_through_with_date_and_reason(
    noted: Keeper, page: str, size: tuple[int, int]
) -> None:
    app = StillroomApp(noted)
    async with app.run_test(size=size) as pilot:
        await press(pilot, page)
        struck = " ".join(struck_text(app).split())
        assert "smells of" in struck
        assert "summer" not in struck
        assert "corrected" not in struck
        # Beside the big jar the line is broken, and the jar is read between its parts.
        for words in ("corrected 26", "2026", *WHY.split()):
            assert words in flat(app)


async def test_an_undone_entry_is_struck_through_until_it_is_redone(keeper: Keeper) -> None:
    jar_id = fill(keeper, "Yarrow").jar_id
    note_jar(keeper, jar_id, "smells of winter")
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "enter")
        assert struck_text(app) == ""
        await press(pilot, "u")
        assert "smells of winter" in struck_text(app)
        assert "· undone 26 Nov 2026" in flat(app)
        await press(pilot, "U")
        assert struck_text(app) == ""
        assert flat(app).count("undone 26 Nov 2026") == 0


async def test_the_date_and_the_initials_are_separate_words(keeper: Keeper) -> None:
    keeper.at_shelf = "AK"
    note_jar(keeper, fill(keeper, "Yarrow").jar_id, "smells of summer")
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "enter")
        assert "26 Nov 2026 AK note: smells of summer" in screen_text(app)


async def test_a_long_entry_is_struck_through_to_its_end_and_no_further(keeper: Keeper) -> None:
    jar_id = fill(keeper, "Yarrow").jar_id
    note = "word " * 30 + "Donaudampfschiff" * 6 + " last"
    note_jar(keeper, jar_id, note)
    undo(keeper)
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "enter")
        app.screen.query_one("#history").scroll_visible(animate=False)
        await press(pilot)
        struck = "".join(struck_text(app).split())
        assert struck == "note:" + "".join(note.split())


async def test_a_struck_row_of_the_ledger_is_visible_at_the_cursor_too(noted: Keeper) -> None:
    app = StillroomApp(noted)
    async with app.run_test(size=(80, 24)) as pilot:
        page = await turn_to(app, pilot, "5", LedgerPage)
        assert page.lines.selected
        assert page.lines.selected.mark == "corrected"
        row = next(line for line in screen_text(app).splitlines() if "winter" in line)
        assert "corrected smells of winter" in row
        assert "smells of winter" in struck_text(app)


async def test_an_entry_is_found_by_the_words_of_its_mark_and_reason(noted: Keeper) -> None:
    app = StillroomApp(noted)
    async with app.run_test(size=(80, 24)) as pilot:
        page = await turn_to(app, pilot, "5", LedgerPage)
        for words in ("corrected", "JUG misread"):
            await press(pilot, "slash", *words, "enter")
            assert [line.text for line in page.lines.rows] == ["smells of winter"]
            await press(pilot, "escape")


async def drawn_and_undone(keeper: Keeper, app: StillroomApp, pilot: Pilot[None]) -> Page:
    """Draw from the first bottle, undo that, and open the bottle."""
    row = bottle_rows(keeper)[0]
    take_out(keeper, row.bottle_id, 30, note="for the tea shelf")
    undo(keeper)
    app.open_bottle(row.bottle_id)
    await press(pilot)
    assert isinstance(app.screen, BottlePage)
    return app.screen


async def test_an_undone_draw_is_on_the_page_of_its_bottle(stocked: Keeper) -> None:
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24)) as pilot:
        page = await drawn_and_undone(stocked, app, pilot)
        assert isinstance(page, BottlePage)
        assert "Undone or corrected" in screen_text(app)
        assert "draw −30 mL · for the tea shelf" in struck_text(app)
        await press(pilot, "down")
        assert "undone 26 Nov 2026" in flat(app)
        redo(stocked)
        app.changed()
        await press(pilot)
        assert "Undone or corrected" not in screen_text(app)


async def test_with_plain_glyphs_a_word_marks_the_entry(
    noted: Keeper, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("TERM", "linux")
    app = StillroomApp(noted)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "5")
        text = screen_text(app)
        assert "corrected smells of winter" in text
        assert f"corrected 26 Nov 2026: {WHY}" in flat(app)


def test_the_csv_file_has_mark_date_initials_and_reason(noted: Keeper, tmp_path: Path) -> None:
    sheet = ledger_csv(ledger(noted, LedgerFilter(), limit=-1)).decode()
    lines = list(csv.DictReader(io.StringIO(sheet)))
    assert [(line["text"], line["mark"], line["later_on"], line["later_why"]) for line in lines][
        :2
    ] == [
        ("smells of winter", "corrected", "2026-11-26", WHY),
        ("smells of summer", "", "", ""),
    ]


def test_an_undone_correction_no_longer_strikes_through_the_entry(noted: Keeper) -> None:
    undo(noted)
    marks = [line.mark for line in ledger(noted, LedgerFilter()) if line.kind == "note"]
    assert marks == ["", ""]
