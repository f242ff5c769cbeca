"""A form that is out of date isn't saved over what others have written."""

from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from textual.pilot import Pilot

from stillroom.clock import SetClock
from stillroom.keeping.bottles.bottle_views import bottle_rows
from stillroom.keeping.bottles.stock import take_out
from stillroom.keeping.cupboard.cupboard import (
    change_herb,
    change_shelf,
    change_spirit,
    herbs,
    spirits,
)
from stillroom.keeping.drafts import HerbDraft, PourDraft, ShelfDraft, SpiritDraft
from stillroom.keeping.jars.jar import set_dates, top_up
from stillroom.keeping.jars.shelves import shelves_view
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import save_settings, settings_of
from stillroom.reckoning.states import LiquidKind
from stillroom.records.base import database
from stillroom.records.store import Store
from stillroom.screens.app import StillroomApp
from stillroom.screens.kit.dialog import Dialog

from ..conftest import NOW, keeper_of_copy
from .screen_text import screen_text
from .stocked import fill, stock

Change = Callable[[Keeper], object]


@pytest.fixture(scope="module")
def made_once(empty_shelf: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A stocked shelf with a jar that steeps, of which each test has a copy."""
    path = tmp_path_factory.mktemp("two windows") / "shelf.stillroom"
    with keeper_of_copy(empty_shelf, path, SetClock(NOW)) as keeper:
        fill(keeper, "Borage")
        stock(keeper)
    return path


@pytest.fixture
def keeper(made_once: Path, shelf_file: Path, clock: SetClock) -> Iterator[Keeper]:
    """The keeper of this window."""
    with keeper_of_copy(made_once, shelf_file, clock) as keeper:
        yield keeper


@pytest.fixture
def elsewhere(keeper: Keeper, clock: SetClock) -> Iterator[Callable[[Change], None]]:
    """Has somebody else change the shelf, over a connection of their own."""
    here, there = keeper.store, Store.open(keeper.store.path)
    database.initialize(here.db)

    def do(change: Change) -> None:
        database.initialize(there.db)
        try:
            change(Keeper(there, clock))
        finally:
            database.initialize(here.db)

    yield do
    there.close()


def topped_up(other: Keeper) -> None:
    (jar,) = shelves_view(other).jars[:1]
    top_up(other, jar.jar_id, PourDraft(LiquidKind.SPIRIT, 50, 40), covers=True)


def put_off(other: Keeper) -> None:
    (jar,) = shelves_view(other).jars[:1]
    later = jar.strain_on + timedelta(days=10)
    set_dates(other, jar.jar_id, jar.filled_on, later, jar.shakes_per_day)


def dearer(other: Keeper) -> None:
    spirit = spirits(other)[0]
    change_spirit(other, spirit.spirit_id, SpiritDraft(spirit.name, 40, 4000, price=120))


def noted(other: Keeper) -> None:
    herb = herbs(other)[0]
    change_herb(other, herb.herb_id, HerbDraft(herb.name, "Nomen novum"))


def renamed(other: Keeper) -> None:
    change_shelf(other, shelves_view(other).shelves[0].shelf_id, ShelfDraft("Loft"))


def set_up(other: Keeper) -> None:
    save_settings(other, replace(settings_of(other), steep_days=28))


def drawn(other: Keeper) -> None:
    take_out(other, bottle_rows(other)[0].bottle_id, 30)


async def _put_into(pilot: Pilot[None], keys: str) -> None:
    for key in keys.split():
        await pilot.press(key)
        await pilot.pause()


@pytest.mark.parametrize(
    ("opened_by", "typed", "change"),
    [
        ("1 enter c", "X", topped_up),
        ("1 e", "tab 9", put_off),
        ("4 e", "X", dearer),
        ("4 tab e", "X", noted),
        ("4 tab tab e", "X", renamed),
        ("4 tab tab tab tab tab tab e", "right", set_up),
        ("2 down c", "9 9", drawn),
    ],
)
async def test_a_form_that_is_out_of_date_cannot_be_saved(
    keeper: Keeper,
    elsewhere: Callable[[Change], None],
    opened_by: str,
    typed: str,
    change: Change,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    app = StillroomApp(keeper)
    look = app.check_file
    # Not before it is saved: a form about a bottle follows the check made once a second.
    monkeypatch.setattr(app, "check_file", lambda: None)
    async with app.run_test(size=(120, 40)) as pilot:
        await _put_into(pilot, opened_by)
        form = app.screen
        assert isinstance(form, Dialog), screen_text(app)
        elsewhere(change)
        before = keeper.rows("SELECT count(*), max(id) FROM action")
        await _put_into(pilot, f"{typed} ctrl+s")
        said = " ".join(screen_text(app).replace("│", " ").split())
        assert "Another window changed this" in said
        assert app.screen is form
        assert keeper.rows("SELECT count(*), max(id) FROM action") == before
        # Opened again it shows what is written now, and can be saved.
        await _put_into(pilot, "escape escape")
        look()
        await _put_into(pilot, opened_by.split()[-1])
        await _put_into(pilot, f"{typed} ctrl+s")
        assert not isinstance(app.screen, Dialog), screen_text(app)
        assert keeper.rows("SELECT count(*), max(id) FROM action") > before


async def test_a_form_for_a_bottle_shows_what_another_window_has_drawn(
    keeper: Keeper, elsewhere: Callable[[Change], None]
) -> None:
    app = StillroomApp(keeper)
    async with app.run_test(size=(120, 40)) as pilot:
        await _put_into(pilot, "2 down d 2 0 0")
        assert "Leaves 50 mL" in screen_text(app)
        elsewhere(drawn)
        app.check_file()
        await pilot.pause()
        said = screen_text(app)
        assert "Recorded: 220 mL of 250 mL" in said
        assert "Leaves 20 mL" in said
        await _put_into(pilot, "ctrl+s")
        assert not isinstance(app.screen, Dialog)
        assert bottle_rows(keeper)[0].left_ml == pytest.approx(20)


async def test_a_stock_take_asks_to_look_again_at_what_another_window_changed(
    keeper: Keeper, elsewhere: Callable[[Change], None]
) -> None:
    first, second = bottle_rows(keeper)[:2]
    app = StillroomApp(keeper)
    async with app.run_test(size=(120, 40)) as pilot:
        await _put_into(pilot, "2 s right ctrl+s 2 4 0 down 9 0 up")
        assert f"Stock-take: {first.place}" in screen_text(app)
        elsewhere(drawn)
        await _put_into(pilot, "ctrl+s")
        said = " ".join(screen_text(app).replace("│", " ").split())
        assert f"Bottle {first.code} was changed in another window" in said
        await _put_into(pilot, "ctrl+s")  # the other bottle's entry has stayed
        assert "1 bottle counted" in screen_text(app)
        left = {row.code: row.left_ml for row in bottle_rows(keeper)}
        assert left[first.code] == pytest.approx(220)
        assert left[second.code] == pytest.approx(90)
