"""The form that corrects any entry: its groups, what it shows before saving, what it refuses."""

from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path

import pytest
from textual.pilot import Pilot

from stillroom.clock import SetClock
from stillroom.keeping.bottles.bottle_views import bottle_rows
from stillroom.keeping.bottles.stock import take_out
from stillroom.keeping.closing import close_month
from stillroom.keeping.correcting.correct import correct
from stillroom.keeping.correcting.kinds import Subject, SubjectKind
from stillroom.keeping.cupboard.cupboard import add_shelf
from stillroom.keeping.drafts import ShelfDraft
from stillroom.keeping.jars.jar_view import jar_view
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import Settings, save_settings
from stillroom.keeping.undo import undo
from stillroom.records.base import database
from stillroom.records.store import Store
from stillroom.screens.app import StillroomApp
from stillroom.screens.correcting.form import CorrectionDialog
from stillroom.screens.help import acts_of
from stillroom.screens.kit.choice import Pick
from stillroom.screens.kit.fields import Entry
from stillroom.screens.pages import PAGES

from ..conftest import NOW, keeper_of_copy
from .driving import SIZES, flat, press, until
from .screen_text import screen_text
from .stocked import bottled, fill, stock, strained


def form_of(app: StillroomApp) -> CorrectionDialog:
    assert isinstance(app.screen, CorrectionDialog), screen_text(app)
    return app.screen


def group(app: StillroomApp) -> str:
    return form_of(app).query_one("#group", Pick).value


@pytest.fixture
def jar_id(keeper: Keeper) -> int:
    """A jar strained to 350 mL a fortnight after it was filled."""
    jar_id = strained(keeper, "Yarrow").jar_id
    assert jar_id
    return jar_id


@pytest.mark.parametrize("size", SIZES)
async def test_every_group_of_a_jar_is_reachable_and_keeps_what_was_typed(
    keeper: Keeper, jar_id: int, size: tuple[int, int]
) -> None:
    app = StillroomApp(keeper)
    async with app.run_test(size=size) as pilot:
        app.open_jar(jar_id)
        await press(pilot, "C")
        seen = []
        for _ in range(20):
            if group(app) in seen:
                break
            seen.append(group(app))
            if group(app) == "Straining":
                await press(pilot, "tab", *"340 ml", "shift+tab")
            await press(pilot, "right")
        assert seen[:2] == ["Jar", "Herb"]
        assert {"Liquid 1", "Straining", "Tincture"} <= set(seen)
        await press(pilot, "s")
        assert group(app) == "Straining"
        assert form_of(app).query_one("#yield", Entry).typed == "340 ml"
        assert "Yield 350 mL → 340 mL" in flat(app)
        assert max(map(len, screen_text(app).splitlines())) <= size[0]


async def test_the_consequences_are_shown_before_saving(keeper: Keeper, jar_id: int) -> None:
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24), notifications=True) as pilot:
        app.open_jar(jar_id)
        await press(pilot, "C", "s", "tab", *"340 ml", "ctrl+s")
        assert "Yield 350 mL → 340 mL" in flat(app)
        assert "Save what is shown here? Press ctrl+s again." in flat(app)
        straining = jar_view(keeper, jar_id).straining
        assert straining
        assert straining.yield_ml == 350
        await press(pilot, "ctrl+s")
        assert not isinstance(app.screen, CorrectionDialog)
        straining = jar_view(keeper, jar_id).straining
        assert straining
        assert straining.yield_ml == 340


async def test_consequences_already_shown_need_no_second_save(keeper: Keeper, jar_id: int) -> None:
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24)) as pilot:
        app.open_jar(jar_id)
        await press(pilot, "C", "s", "tab", *"340 ml", "tab")
        assert "Yield 350 mL → 340 mL" in flat(app)
        await press(pilot, "ctrl+s")
        assert not isinstance(app.screen, CorrectionDialog)
        straining = jar_view(keeper, jar_id).straining
        assert straining
        assert straining.yield_ml == 340


async def test_saving_without_a_change_writes_nothing(keeper: Keeper, jar_id: int) -> None:
    before = keeper.rows("SELECT count(*) FROM journal")
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24)) as pilot:
        app.open_jar(jar_id)
        await press(pilot, "C", "right", "right", "ctrl+s")
        assert not isinstance(app.screen, CorrectionDialog)
    assert keeper.rows("SELECT count(*) FROM journal") == before


async def test_escape_asks_before_what_was_typed_is_lost(keeper: Keeper, jar_id: int) -> None:
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24)) as pilot:
        app.open_jar(jar_id)
        await press(pilot, "C", "s", "tab", *"340 ml", "shift+tab", "right", "escape")
        assert "Nothing is saved yet" in flat(app)
        await press(pilot, "escape")
        assert not isinstance(app.screen, CorrectionDialog)


async def test_what_cannot_be_read_is_reported_at_its_field(keeper: Keeper, jar_id: int) -> None:
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24)) as pilot:
        app.open_jar(jar_id)
        await press(pilot, "C", "s", "tab", *"a lot", "ctrl+s")
        form = form_of(app)
        assert form.query_one("#yield", Entry).has_class("-wrong")
        assert "Not saved yet" in flat(app)


KEYS = {
    "a jar on its shelf": ("1 C", "Borage", "Jar"),
    "a tincture to be bottled": ("2 C", "Yarrow", "Jar"),
    "a bottle in the list": ("2 down C", "26-", "Bottle"),
    "a spirit": ("4 C", "Grain spirit", "Spirit"),
    "a herb": ("4 tab C", "", "Herb"),
    "everything a spirit went into": ("4 enter C", "Grain spirit", "Spirit"),
    "a jar in that tree": ("4 enter down C", "Calendula", "Jar"),
    "a straining of a herb": ("4 tab down enter C", "Calendula", "Jar"),
    "a draw on the page of its bottle": ("2 down enter C", "26-", "Movement 1: draw"),
    "a draw in the ledger": ("5 C", "26-", "Movement 1: draw"),
}


@pytest.fixture(scope="module")
def drawn_from_once(empty_shelf: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The file that `drawn_from` copies."""
    path = tmp_path_factory.mktemp("drawn from") / "shelf.stillroom"
    with keeper_of_copy(empty_shelf, path, SetClock(NOW)) as keeper:
        fill(keeper, "Borage")
        stock(keeper)
        for row in bottle_rows(keeper):
            take_out(keeper, row.bottle_id, 5)
    return path


@pytest.fixture
def drawn_from(drawn_from_once: Path, shelf_file: Path, clock: SetClock) -> Iterator[Keeper]:
    """A keeper of a jar that steeps and a stock of which something was drawn."""
    with keeper_of_copy(drawn_from_once, shelf_file, clock) as keeper:
        yield keeper


@pytest.mark.parametrize("where", KEYS)
async def test_the_form_opens_everywhere_with_what_is_selected(
    drawn_from: Keeper, where: str
) -> None:
    keys, title, first = KEYS[where]
    app = StillroomApp(drawn_from)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, *keys.split())
        assert f"Correct {title}" in screen_text(app)
        assert group(app) == first


async def test_help_and_palette_list_its_key_wherever_something_can_be_corrected(
    drawn_from: Keeper,
) -> None:
    app = StillroomApp(drawn_from)
    async with app.run_test(size=(80, 24)) as pilot:
        listed = {}
        for entry in PAGES:
            await press(pilot, entry.key)
            listed[entry.name] = {act.key for act in acts_of(app.screen)} & {"C", "i"}
        assert listed == {
            "shelves": {"C", "i"},
            "bottles": {"C", "i"},
            "calculator": {"i"},
            "cupboard": {"C", "i"},
            "ledger": {"C", "i"},
            "year": {"i"},
        }


async def test_the_palette_finds_what_to_correct_by_code(stocked: Keeper) -> None:
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "3", "ctrl+p", *"correct any")
        await until(pilot, lambda: "Correct any entry" in screen_text(app))
        await press(pilot, "enter")
        await until(pilot, lambda: "Code or name" in screen_text(app))
        await press(pilot, *"26-009", "enter")
        assert "26-009" in flat(app)
        assert not isinstance(app.screen, CorrectionDialog)
        await press(pilot, "home", "shift+end", *"26-001.1", "enter")
        assert group(app) == "Bottle"


async def test_what_cannot_be_corrected_is_reported_when_the_form_is_requested(
    keeper: Keeper,
) -> None:
    fill(keeper, "Borage")
    undo(keeper)
    add_shelf(keeper, ShelfDraft("Cellar"))
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24), notifications=True) as pilot:
        page = app.screen
        await press(pilot, "5", "C")
        assert not isinstance(app.screen, CorrectionDialog)
        assert "This entry isn't about a jar, bottle, spirit or herb" in flat(app)
        await press(pilot, "end", "C")
        assert not isinstance(app.screen, CorrectionDialog)
        await until(pilot, lambda: "This entry was undone" in flat(app))
        await press(pilot, "1", "C")
        assert app.screen is page


async def with_reason(app: StillroomApp, pilot: Pilot[None], why: str) -> None:
    """Correct the yield, with the text typed as the reason."""
    await press(pilot, "C", "s", "tab", *"340 ml", "tab")
    form_of(app).query_one("#why", Entry).field.focus()
    await press(pilot, *why, "ctrl+s", "ctrl+s")


async def test_the_reason_is_optional_unless_the_setting_requires_it(
    keeper: Keeper, jar_id: int
) -> None:
    save_settings(keeper, Settings(why_required=True))
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24)) as pilot:
        app.open_jar(jar_id)
        await with_reason(app, pilot, "")
        assert "Reason is needed" in flat(app)
        assert form_of(app)
        await press(pilot, *"misread jug", "ctrl+s", "ctrl+s")
        assert not isinstance(app.screen, CorrectionDialog)
    assert keeper.rows("SELECT kind, why FROM journal ORDER BY id DESC LIMIT 1") == [
        ("correction", "misread jug")
    ]


async def test_a_closed_record_asks_for_the_reason_at_its_field(
    keeper: Keeper, jar_id: int
) -> None:
    save_settings(keeper, Settings(maker="AK"))
    close_month(keeper, keeper.today.replace(month=10))
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24)) as pilot:
        app.open_jar(jar_id)
        await press(pilot, "C", "right", "tab")
        form = form_of(app)
        form.query_one("#weight", Entry).field.focus()
        await press(pilot, *"110 g", "tab", "ctrl+s")
        assert form.query_one("#why", Entry).has_class("-wrong")
        assert "Oct 2026 is closed: give a reason" in flat(app)
        await press(pilot, *"scales off", "ctrl+s")
        assert not isinstance(app.screen, CorrectionDialog), screen_text(app)
    assert keeper.rows("SELECT maker, why FROM journal ORDER BY id DESC LIMIT 1") == [
        ("AK", "scales off")
    ]


async def test_a_correction_of_a_steeping_jar_has_a_reason_too(keeper: Keeper) -> None:
    fill(keeper, "Borage")
    save_settings(keeper, Settings(why_required=True))
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24)) as pilot:
        form = app.screen
        await press(pilot, "c", *"Borago", "ctrl+s")
        why = app.screen.query_one("#why", Entry)
        assert why.has_class("-wrong")
        assert why.field.has_focus
        await press(pilot, *"wrong word", "ctrl+s")
        assert app.screen is form
    assert keeper.rows("SELECT kind, why FROM journal ORDER BY id DESC LIMIT 1") == [
        ("correction", "wrong word")
    ]


@pytest.fixture
def elsewhere(keeper: Keeper, clock: SetClock) -> Callable[[Subject, str, str], None]:
    """Corrects the same thing over a connection of its own, as another window does."""

    def do(subject: Subject, name: str, text: str) -> None:
        here, there = keeper.store, Store.open(keeper.store.path)
        database.initialize(there.db)
        try:
            correct(Keeper(there, clock), subject, {name: text}, why="in another window")
        finally:
            database.initialize(here.db)
            there.close()

    return do


async def test_of_two_windows_the_second_to_save_is_refused(
    keeper: Keeper, jar_id: int, elsewhere: Callable[[Subject, str, str], None]
) -> None:
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24)) as pilot:
        app.open_jar(jar_id)
        await press(pilot, "C", "s", "tab", *"340 ml")
        elsewhere(Subject(SubjectKind.JAR, jar_id), "yield", "330 ml")
        await press(pilot, "ctrl+s", "ctrl+s")
        assert "Another window changed this." in flat(app)
        straining = jar_view(keeper, jar_id).straining
        assert straining
        assert straining.yield_ml == 330


async def test_a_date_is_read_as_people_write_it_and_shown_in_full(
    keeper: Keeper, jar_id: int
) -> None:
    app = StillroomApp(keeper)
    before = jar_view(keeper, jar_id)
    assert before.straining
    day = before.straining.strained_on - timedelta(days=1)
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24)) as pilot:
        app.open_jar(jar_id)
        await press(pilot, "C", "s", "tab", "tab", *f"{day:%d.%m.%Y}", "tab")
        assert f"→ {day.day} {day:%b %Y}" in flat(app)
        await press(pilot, "ctrl+s")
    after = jar_view(keeper, jar_id)
    assert after.straining
    assert after.straining.strained_on == day


@pytest.mark.parametrize("size", SIZES)
async def test_the_way_out_of_a_refusal_is_in_the_same_form_and_the_same_act(
    keeper: Keeper, size: tuple[int, int]
) -> None:
    """300 mL were bottled; strained were not 350 mL but 290 mL, and one bottle took 40 mL."""
    tincture = strained(keeper, "Yarrow")
    bottled(keeper, tincture, 250, 50)
    acts = keeper.rows("SELECT count(*) FROM action")[0][0]
    app = StillroomApp(keeper)
    async with app.run_test(size=size) as pilot:
        app.open_jar(tincture.jar_id or 0)
        await press(pilot, "C", "s", "tab", *"290 ml", "ctrl+s")
        assert "300 mL was bottled from 26-001, but there would be only 290 mL." in flat(app)
        assert "=…" not in flat(app)
        field = form_of(app).query_one("#bottle-1_volume", Entry)
        assert field.field.has_focus
        await press(pilot, "tab", *"40 ml", "ctrl+s", "ctrl+s")
        assert not isinstance(app.screen, CorrectionDialog), screen_text(app)
        assert [row.left_ml for row in bottle_rows(keeper)] == [250, 40]
        assert keeper.rows("SELECT count(*) FROM action")[0][0] == acts + 1
        undo(keeper)
        assert [row.left_ml for row in bottle_rows(keeper)] == [250, 50]


async def test_labels_to_print_again_are_counted_before_saving(stocked: Keeper) -> None:
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24), notifications=True) as pilot:
        await press(pilot, "4", "C", "tab", *"38 %", "tab")
        shown = flat(app)
        assert "Strength 40 % → 38 %" in shown
        assert "2 labels to print again" in shown
        await press(pilot, "ctrl+s")
        assert "Corrected Grain spirit" in flat(app)


@pytest.mark.parametrize("key", ["1", "5"])
async def test_its_key_is_in_the_key_line_where_there_is_room(
    keeper: Keeper, jar_id: int, key: str
) -> None:
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "escape", key)
        *_, above, below = screen_text(app).splitlines()
        assert "C Correct entry" in above + below
        assert "q Quit" in above + below
