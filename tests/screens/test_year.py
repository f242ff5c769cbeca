"""The Year page, driven by keys over a real file."""

import csv
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from textual.pilot import Pilot

from stillroom.clock import SetClock
from stillroom.keeping.bottles.bottle_views import bottle_rows
from stillroom.keeping.bottles.stock import take_out
from stillroom.keeping.cupboard.lots import add_lot
from stillroom.keeping.drafts import HerbLotDraft
from stillroom.keeping.keeper import Keeper
from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.states import HerbCame
from stillroom.screens.app import StillroomApp
from stillroom.screens.bottles.bottle import BottlePage
from stillroom.screens.help import FramedText
from stillroom.screens.kit.fields import Entry, Pair
from stillroom.screens.trace.page import HerbPage
from stillroom.screens.year.page import YearPage
from stillroom.screens.year.people import PersonPage

from ..conftest import NOW, keeper_of_copy
from .driving import SIZES, flat, press, turn_to, type_into
from .screen_text import screen_text


@pytest.fixture(scope="module")
def used_once(
    stocked_once: Path, tmp_path_factory: pytest.TempPathFactory
) -> tuple[Path, SetClock]:
    """The file that `used` copies, and the moment it was left at."""
    clock = SetClock(NOW)
    path = tmp_path_factory.mktemp("used") / "shelf.stillroom"
    with keeper_of_copy(stocked_once, path, clock) as keeper:
        row = next(r for r in bottle_rows(keeper) if r.code == "26-001.1")
        for _ in range(8):
            clock.advance(days=7)
            take_out(keeper, row.bottle_id, 25)
    return path, clock


@pytest.fixture
def used(used_once: tuple[Path, SetClock], shelf_file: Path, clock: SetClock) -> Iterator[Keeper]:
    """The stocked shelf after two months of use."""
    made, then = used_once
    clock.moment = then.moment
    with keeper_of_copy(made, shelf_file, clock) as keeper:
        yield keeper


async def opened(app: StillroomApp, pilot: Pilot[None], part: str = "Ahead") -> YearPage:
    page = await turn_to(app, pilot, "6", YearPage)
    while page.part.title != part:
        await press(pilot, "tab")
    return page


def chosen(page: YearPage) -> Any:
    """The line at the cursor."""
    assert page.rows.selected is not None
    return page.rows.selected


async def test_every_empty_section_shows_what_it_will_hold(keeper: Keeper) -> None:
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot)
        for begins in (
            "nothing to plan yet",
            "Nothing was made or used",
            "no strainings yet",
            "Nobody is named yet",
        ):
            assert begins in flat(app)
            await press(pilot, "tab")


@pytest.mark.parametrize("size", SIZES)
async def test_ahead_lists_first_what_must_start_first(used: Keeper, size: tuple[int, int]) -> None:
    herb = ("Calendula", Part.FLOWER, Condition.DRIED)
    add_lot(used, HerbLotDraft(*herb, HerbCame.BOUGHT, used.today, mass_g=5))
    app = StillroomApp(used)
    async with app.run_test(size=size) as pilot:
        page = await opened(app, pilot)
        text = flat(app)
        assert "[Ahead]" in text
        assert "To start this month 1 tincture" in text
        assert chosen(page).herb == "Calendula"
        assert "Make: " in text
        assert ("Fill by" in text.split("Calendula")[0]) == (size[0] >= 104)
        assert ("Press enter for the rest." in text) == (size[1] < 30)
        await press(pilot, "enter")
        # 200 mL in the 72 days that it has been in stock by then: strained a fortnight before.
        rate = f"{200 / 72 * 365.25 / 12:.1f} mL a month over 72 days in stock"
        assert rate in flat(app)
        assert isinstance(app.screen, FramedText)
        await press(pilot, "escape")
        assert app.screen is page
        assert (rate in flat(app)) == (size[1] >= 30)


async def test_twelve_rows_are_visible_at_80_by_24_whatever_the_details(sample: Keeper) -> None:
    app = StillroomApp(sample, is_sample=True)
    async with app.run_test(size=(80, 24)) as pilot:
        page = await opened(app, pilot)
        # As worked by hand in tests/cli/test_plan_by_hand.py.
        for line in (
            "Réglisse 450 mL 13.5 mL 24 Dec 2026 150 mL 24.5 g",
            "Myrrh 55 mL 8.7 mL 5 Jun 2027 50 mL 15.4 g",
        ):
            assert line in " ".join(flat(app).split())
        await press(pilot, "w")
        await type_into(app, pilot, "months", "36")
        await press(pilot, "ctrl+s")
        for part in ("Ahead", "Made and used", "Learning", "People"):
            assert page.part.title == part
            for _ in range(6):
                assert page.rows.size.height >= 1 + 12, "its own heads, and rows"
                head = screen_text(app).splitlines()[0]
                assert f"Year · {part} " in head
                assert "…" not in head
                await press(pilot, "down")
            await press(pilot, "tab")


async def test_a_season_is_entered_and_trial_changes_save_nothing(used: Keeper) -> None:
    row = next(r for r in bottle_rows(used) if r.code == "26-001.1")
    for name in ("Ada", "Bo"):
        take_out(used, row.bottle_id, 5, person=name)
    app = StillroomApp(used)
    async with app.run_test(size=(120, 40)) as pilot:
        page = await opened(app, pilot)
        await press(pilot, "e")
        await type_into(app, pilot, "first", "15 Jun")
        await press(pilot, "ctrl+s")
        assert "Give both the first and the last day" in flat(app)
        await type_into(app, pilot, "last", "31 Aug")
        await type_into(app, pilot, "months", "24")
        await press(pilot, "ctrl+s")
        assert app.screen is page
        assert "Gather: 15 Jun 2027 to 31 Aug 2027, as you set" in flat(app)
        assert "Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec" in flat(app)
        assert "G gather, F fill, X runs out" in flat(app)
        lines = used.rows("SELECT count(*) FROM journal")
        as_it_is = chosen(page).plan.to_make_ml.middle
        await press(pilot, "w")
        await type_into(app, pilot, "months", "36")
        await press(pilot, "ctrl+s")
        assert "What if: 36 months in hand" in flat(app)
        assert chosen(page).plan.to_make_ml.middle > as_it_is
        await press(pilot, "w")
        await type_into(app, pilot, "person0", "Nobody")
        await type_into(app, pilot, "more0", "-20 %")
        await press(pilot, "ctrl+s")
        assert "Nobody called Nobody got anything." in flat(app)
        await type_into(app, pilot, "person0", "bo")
        await type_into(app, pilot, "person1", "Ada")
        await type_into(app, pilot, "more1", "50")
        await press(pilot, "ctrl+s")
        assert "What if: 36 months in hand, Bo 20 % less, Ada 50 % more" in flat(app)
        await press(pilot, "w")
        assert app.screen.query_one("#more0", Entry).typed == "-20"
        for field in ("months", "person0", "more0", "person1", "more1"):
            await type_into(app, pilot, field, "")
        await press(pilot, "ctrl+s")
        assert "What if:" not in flat(app)
        assert "Moon" not in flat(app)
        assert used.rows("SELECT count(*) FROM journal") == lines


@pytest.mark.parametrize("size", SIZES)
async def test_behind_adds_up_any_period(used: Keeper, size: tuple[int, int]) -> None:
    app = StillroomApp(used)
    async with app.run_test(size=size) as pilot:
        page = await opened(app, pilot, "Made and used")
        assert "1 Jan 2027 to 21 Jan 2027" in flat(app)
        assert "Used: 75 mL taken" in flat(app)
        await press(pilot, "minus")
        assert "1 Jan 2026 to 31 Dec 2026" in flat(app)
        assert "Used: 125 mL taken" in flat(app)
        assert "Not in the cost: " in flat(app)
        await press(pilot, "plus", "f")
        await type_into(app, pilot, "since", "2026-12-01")
        await type_into(app, pilot, "until", "2026-11-01")
        await press(pilot, "ctrl+s")
        assert "The last day is before the first" in flat(app)
        await type_into(app, pilot, "until", "2026-12-10")
        await press(pilot, "ctrl+s")
        assert app.screen is page
        assert "1 Dec 2026 to 10 Dec 2026" in flat(app)
        assert "Used: 50 mL taken" in flat(app)
        await press(pilot, "slash", *"calen", "enter")
        assert "By month" not in flat(app)
        assert chosen(page).name == "Calendula"


async def test_learning_lists_strainings_and_opens_the_herb(used: Keeper) -> None:
    app = StillroomApp(used)
    async with app.run_test(size=(80, 24)) as pilot:
        page = await opened(app, pilot, "Learning")
        assert "[Learning]" in flat(app)
        assert "flower, dried, " in flat(app)
        assert "next, from 1 straining of your own" in flat(app)
        herb = chosen(page)
        await press(pilot, "enter")
        assert isinstance(app.screen, HerbPage)
        assert app.screen.herb_id == herb.herb_id


async def test_the_page_follows_a_draw(used: Keeper) -> None:
    app = StillroomApp(used)
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot, "Made and used")
        take_out(used, next(r.bottle_id for r in bottle_rows(used)), 10)
        app.changed()
        await press(pilot)
        assert "Used: 85 mL taken" in flat(app)


async def test_each_person_has_a_page_and_a_batch_code_finds_who_got_any(used: Keeper) -> None:
    row = next(r for r in bottle_rows(used) if r.code == "26-001.1")
    other = next(r for r in bottle_rows(used) if r.batch != row.batch)
    take_out(used, row.bottle_id, 5, person="Ada", note="for the market")
    take_out(used, other.bottle_id, 3, person="Bo")
    app = StillroomApp(used)
    async with app.run_test(size=(120, 40)) as pilot:
        page = await opened(app, pilot, "People")
        assert chosen(page).name == "Ada"
        await press(pilot, "slash", *row.batch, "enter")
        assert f"Got any of {row.batch}" in flat(app)
        assert "1 name" in flat(app)
        await press(pilot, "enter")
        assert isinstance(app.screen, PersonPage)
        assert "for the market" in flat(app)
        await press(pilot, "enter")
        assert isinstance(app.screen, BottlePage)
        assert "Batch cost" in flat(app)
        await press(pilot, "d")
        await type_into(app, pilot, "person", "a")
        await pilot.pause()
        await press(pilot, "right")
        assert app.screen.query_one("#person", Entry).typed == "Ada"


async def test_papers_use_the_period_and_trial_changes_on_screen_or_ones_that_are_typed(
    used: Keeper, tmp_path: Path
) -> None:
    app = StillroomApp(used)
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot, "Made and used")
        await press(pilot, "minus", "P")
        form = app.screen
        assert form.query_one("#file", Entry).typed == "~/year-2026-01-01-to-2026-12-31.pdf"
        assert "1 Jan 2026 to 31 Dec 2026" in flat(app)
        await type_into(app, pilot, "since", "2026-12-01")
        await type_into(app, pilot, "until", "2026-11-01")
        await type_into(app, pilot, "file", str(tmp_path / "days.csv"))
        await press(pilot, "ctrl+s")
        assert "The last day is before the first." in flat(app)
        await type_into(app, pilot, "until", "2026-12-10")
        await press(pilot, "tab")
        assert "1 Dec 2026 to 10 Dec 2026" in flat(app), "the preview follows"
        await press(pilot, "ctrl+s")
        with (tmp_path / "days.csv").open(encoding="utf-8", newline="") as file:
            total = next(csv.DictReader(file))
        assert (total["name"], total["taken"]) == ("2026-12-01 to 2026-12-10", "50")
        await press(pilot, "shift+tab", "w")
        await type_into(app, pilot, "months", "36")
        await press(pilot, "ctrl+s", "P")
        assert "what if: 36 months in hand" in flat(app)
        assert not app.screen.query_one(Pair).display, "a plan is of today"
