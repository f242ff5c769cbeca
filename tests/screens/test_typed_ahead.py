"""Keys typed ahead of the screen: a burst does what the same keys do one by one."""

import asyncio
import random
from collections.abc import Iterator
from pathlib import Path
from shutil import copyfile

import pytest
from textual.pilot import Pilot
from textual.widgets import Input

from stillroom.clock import SetClock
from stillroom.keeping.interchange.writing import export_json
from stillroom.keeping.keeper import Keeper
from stillroom.records.store import Store
from stillroom.screens import scanner
from stillroom.screens.app import StillroomApp
from stillroom.screens.jar.liquid_fields import LiquidFields
from stillroom.screens.kit import choice
from stillroom.screens.kit.choice import Choice

from ..conftest import NOW, open_copy
from ..examples import IS_LONG
from .hands import PASTE, send, starved, type_in, type_slowly, type_unevenly
from .stocked import fill, spirit

pytestmark = pytest.mark.usefixtures("scanner_on")

HERB = ("Fe", *["tab"] * 8)
"""The first herb of the form for filling, up to the first liquid."""
SCRIPTS = {
    "another herb": ["n", "Sa", "tab", "ctrl+n", "Fe", "tab"],
    "two liquids more": ["n", *HERB, "tab", "1", "ctrl+l", "tab", "2", "ctrl+l", "3", "ctrl+s"],
    "simmered": ["n", *HERB, "tab", "200", *["tab"] * 5, "y", "tab", "later", "shift+tab"],
    "a jar, then another": ["n", *HERB, "tab", "200", "ctrl+s", "n", "Mint", "tab", "Mentha"],
    "a paste between keys": ["n", f"{PASTE}Lovage", "tab", f"{PASTE}Levisticum", "tab", "ro"],
    "correct": ["c", "Thyme", "ctrl+s", "e", "20 days ago", "ctrl+s"],
    "strain, then bottle": ["s", "210", "ctrl+s", "ctrl+l", "50", "tab", "50", "ctrl+s", "5"],
    "top up": ["t", "60", "tab", "50 %", "ctrl+s", "n", "Dill"],
    "a page, then its find line": ["2", "/", "cal", "enter", "enter", "escape", "1", "/", "yar"],
    "pages": ["5", "/", "fill", "escape", "4", "n", "Gin", "tab", "41", "ctrl+s", "n", "Rum"],
    "cupboard, next part": ["4", "tab", "n", "Hyssop", "ctrl+s", "n", "Rue", "ctrl+s"],
    "draw": ["2", "d", "30", "ctrl+s", "d", "20", "ctrl+s", "u", "n"],
    "calculator": ["3", "/", "dilute", "enter", "enter", "96", "tab", "40", "tab", "500"],
    "calculator, rows": ["3", "down", "down", "enter", "60", "tab", "ctrl+n", "70", "tab", "8"],
    "jar page": ["enter", "o", "smells of hay", "ctrl+s", "r", "12", "tab", "3"],
    "round": ["r", "o", "cloudy", "ctrl+s", "space", "enter"],
    "stock-take": ["2", "c", "enter", "90", "enter", "80", "enter"],
    "blend": ["2", "m", "B", "tab", "20", "tab", "10", "ctrl+s"],
    "help and palette": ["?", "escape", "ctrl+p", "calc", "escape", "n", "Hop"],
    "left and opened again": ["n", "Sa", "escape", "escape", "n", "Oregano", "tab", "O"],
}


@pytest.fixture(autouse=True)
def slow_words(monkeypatch: pytest.MonkeyPatch) -> None:
    """Letters for a choice are one word however slowly a busy machine lets them be typed."""
    monkeypatch.setattr(choice, "TYPING_PAUSE_S", 1e9)


@pytest.fixture(scope="session")
def stocked_once(stocked_once: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Jars that steep, bottles, a spirit."""
    path = copyfile(stocked_once, tmp_path_factory.mktemp("jars") / "shelf.stillroom")
    keeper = Keeper(Store.open(path), SetClock(NOW))
    fill(keeper, "Yarrow")
    fill(keeper, "Mugwort")
    keeper.store.close()
    return path


async def after(
    keeper: Keeper,
    keys: list[str],
    folder: Path,
    *,
    slowly: bool = False,
    dice: random.Random | None = None,
) -> list[object]:
    """Where everything is after these keys on a copy of the shelf; with dice, at random times."""
    file = folder / ("slow" if slowly else "burst")
    file.unlink(missing_ok=True)
    keeper.store.db.execute_sql("PRAGMA wal_checkpoint(TRUNCATE)")
    copy = Keeper(open_copy(keeper.store.path, file), keeper.clock)
    app = StillroomApp(copy)
    async with app.run_test(size=(80, 24)) as pilot:
        if dice:
            await type_unevenly(pilot, keys, dice)
        else:
            await (type_slowly if slowly else type_in)(pilot, *keys)
        found = [*standing(pilot), export_json(copy)]
    copy.store.close()
    return found


def standing(pilot: Pilot[None]) -> Iterator[object]:
    """The open forms, what is in their fields, and which of these has the keys."""
    for screen in pilot.app.screen_stack:
        yield type(screen).__name__
        for field in screen.query("Input, Choice"):
            assert isinstance(field, Input | Choice)
            yield f"{field.value}{' <' if field is screen.focused else ''}"
        yield type(screen.focused).__name__


@pytest.mark.parametrize("script", SCRIPTS)
async def test_a_burst_on_a_busy_machine_does_what_the_same_keys_do_one_by_one(
    script: str, stocked: Keeper, tmp_path: Path
) -> None:
    keys = SCRIPTS[script]
    slow = await after(stocked, keys, tmp_path, slowly=True)
    with starved():
        burst = await after(stocked, keys, tmp_path, slowly=False)
    assert burst == slow


ANY = [
    *"12345", *"nsecbdtomlrf/ g", "tab", "shift+tab", "enter", "escape", "down", "up", "space",
    "ctrl+s", "ctrl+n", "ctrl+l", "40", "20 ml", "Sage", f"{PASTE}Dill", "a", "u",
]  # fmt: skip


@pytest.mark.parametrize("seed", range(20 if IS_LONG else 2))
async def test_any_burst_does_what_the_same_keys_do_one_by_one(
    seed: int, stocked: Keeper, tmp_path: Path
) -> None:
    keys = random.Random(seed).choices(ANY, k=20)
    slow = await after(stocked, keys, tmp_path, slowly=True)
    assert await after(stocked, keys, tmp_path, slowly=False) == slow


CODE_LIKE = ["26-0", "26-001.1", "H-26", "26", "26-999 Dill", "25-1", "/", "n"]


@pytest.mark.parametrize("seed", range(20 if IS_LONG else 2))
async def test_keys_at_any_pace_do_the_same_with_and_without_a_scanner(
    seed: int, stocked: Keeper, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """But for a complete code and Enter at once: here Enter comes too late for that."""
    dice = random.Random(seed)
    words = dice.choices([*ANY, *3 * CODE_LIKE], k=25)
    monkeypatch.setattr(scanner, "pace_s", lambda found: 0.005)
    with_scanner = await after(stocked, words, tmp_path, dice=dice)
    monkeypatch.setattr(scanner, "pace_s", lambda found: 0.0)
    assert await after(stocked, words, tmp_path, slowly=True) == with_scanner


async def test_a_new_field_has_its_place_in_the_order_before_the_next_key(
    stocked: Keeper,
) -> None:
    """Focus moves by where fields are drawn; one that is not drawn yet would come too early."""
    spirit(stocked)  # two of one name, so that a liquid and its volume are below each other
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24)) as pilot:
        await type_slowly(pilot, "n", "Fe", *["tab"] * 8)
        send(pilot, "o")
        while app.message_queue_size or app.is_catching_up:
            await asyncio.sleep(0)
        at_once = list(app.screen.focus_chain)
        await pilot.pause()
        assert at_once == app.screen.focus_chain
        await type_in(pilot, "tab", "200", "tab", "40")
        (fields,) = app.screen.query(LiquidFields)
        assert (fields.volume.typed, fields.strength.typed) == ("200", "40")


async def test_keys_pressed_before_the_first_picture_are_handled(keeper: Keeper) -> None:
    app = StillroomApp(keeper)
    async with app.run_test() as pilot:
        await type_in(pilot, "n", "Fennel")
        assert app.focused is not None
        assert isinstance(app.focused, Input)
        assert app.focused.value == "Fennel"


async def test_two_volumes_typed_in_one_burst_are_two_pours(
    stocked: Keeper, clock: SetClock
) -> None:
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24)) as pilot:
        await type_in(pilot, "n", *HERB, "tab", "200", "ctrl+l", "tab", "150", "ctrl+s")
    poured = stocked.rows(
        "SELECT volume_ml FROM pour WHERE jar_id = (SELECT max(id) FROM jar) ORDER BY id"
    )
    assert poured == [(200.0,), (150.0,)]
