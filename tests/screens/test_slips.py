"""Slips noticed after twenty later acts, a blend and a restart are corrected by keys at 80×24.

Each shelf then has the figures of one on which the same was entered right the first time. That
shelf is made by the ordinary use cases, which know nothing of corrections.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path

import pytest
from textual.pilot import Pilot

from stillroom.clock import SetClock
from stillroom.keeping.bottles.blends import make_blend
from stillroom.keeping.bottles.bottle_views import bottle_rows, bottle_view
from stillroom.keeping.bottles.stock import take_out
from stillroom.keeping.contents import grams_by_herb, herb_equivalents
from stillroom.keeping.cupboard.cupboard import add_spirit, spirits
from stillroom.keeping.drafts import (
    BlendDraft,
    BlendPartDraft,
    BottleDraft,
    ChargeDraft,
    SpiritDraft,
)
from stillroom.keeping.jars.jar import note_jar, shake
from stillroom.keeping.jars.jar_view import jar_view
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.ledger import LedgerFilter, ledger
from stillroom.keeping.shelf_file.check import check
from stillroom.keeping.undo import undo
from stillroom.reckoning.charge import Condition, Part
from stillroom.records.store import Store
from stillroom.screens.app import StillroomApp
from stillroom.screens.correcting.form import CorrectionDialog
from stillroom.screens.kit.choice import Pick

from ..builders import bottled, filled, spirit, strained
from ..conftest import NOW, open_copy
from .driving import flat, press
from .screen_text import screen_text


@dataclass(frozen=True)
class Entered:
    """What was typed for a history; what isn't named was right."""

    jar: int = 2
    """Number of the jar that was strained."""
    part: Part = Part.FRUIT
    spirit_abv: float = 38
    bottles: int = 2
    draw_days_ago: int = 12


RIGHT = Entered()


def live(keeper: Keeper, clock: SetClock, entered: Entered) -> None:
    """Two jars, one strained and bottled, drawn from and blended, then twenty more acts."""
    clock.moment = NOW - timedelta(days=60)
    vodka = add_spirit(keeper, SpiritDraft("Vodka", entered.spirit_abv, 5000))
    jars = [
        filled(
            keeper,
            [ChargeDraft("Elderberry", part, Condition.DRIED, 100)],
            spirit(volume_ml, entered.spirit_abv, vodka),
        )
        for part, volume_ml in ((Part.FRUIT, 500), (entered.part, 600))
    ]
    other = filled(keeper, [ChargeDraft("Sage", Part.LEAF, Condition.DRIED, 80)], spirit(400, 60))
    clock.advance(days=30)
    tincture = strained(keeper, jars[entered.jar - 1], 400)
    bottled(keeper, tincture, *[BottleDraft(120, 120)] * entered.bottles)
    bottled(keeper, strained(keeper, other, 300), BottleDraft(250, 250))
    clock.advance(days=15)
    first, *_, sage = sorted(bottle_rows(keeper), key=lambda row: row.bottle_id)
    day = NOW.date() - timedelta(days=entered.draw_days_ago)
    clock.advance(days=4)
    take_out(keeper, first.bottle_id, 20, day=day, note="with honey")
    parts = (BlendPartDraft(first.bottle_id, 50), BlendPartDraft(sage.bottle_id, 100))
    mixed = make_blend(keeper, BlendDraft("Winter chest", parts, keeper.today))
    bottled(keeper, mixed, BottleDraft(150, 140))
    clock.moment = NOW
    for number in range(16):
        note_jar(keeper, jars[0], f"note {number}")
    for row in bottle_rows(keeper):
        if not row.code.endswith(".3"):  # a bottle that was never there
            take_out(keeper, row.bottle_id, 5)
    shake(keeper, jars[2 - entered.jar])


def figures(keeper: Keeper) -> dict[str, object]:
    """All that the shelf shows of it but codes, which stay as they are on the labels."""
    rows = sorted(bottle_rows(keeper), key=lambda row: row.bottle_id)
    return {
        "bottles": [
            (row.name, row.part, row.strength_abv, row.strength_by, row.ratio, row.made_on,
             row.keep_until, row.size_ml, round(row.left_ml, 6))
            for row in rows
        ],
        "herbs": [grams_by_herb(herb_equivalents(keeper, row.tincture_id)) for row in rows],
        "movements": [
            [(each.kind, each.volume_ml, each.day) for each in view.movements]
            for view in (bottle_view(keeper, row.bottle_id) for row in rows)
        ],
        "jars": [
            (view.state, view.straining and view.straining.yield_ml,
             view.straining and view.straining.liquid_ml, view.outlook,
             view.tincture and view.tincture.loose_ml)
            for view in (jar_view(keeper, jar_id) for jar_id in (1, 2))
        ],
        "spirits": [(each.strength_abv, each.left_ml) for each in spirits(keeper)],
    }  # fmt: skip


@pytest.fixture(scope="module")
def right(new_shelf_file: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, object]:
    """The figures of the history as it should have been entered."""
    clock = SetClock(NOW)
    path = tmp_path_factory.mktemp("right") / "right.stillroom"
    keeper = Keeper(open_copy(new_shelf_file, path), clock)
    live(keeper, clock, RIGHT)
    found = figures(keeper)
    keeper.store.close()
    return found


@pytest.fixture
def slipped(
    new_shelf_file: Path, tmp_path: Path, clock: SetClock
) -> Iterator[Callable[..., Keeper]]:
    """Lives through a history with a slip, and opens the shelf again."""
    kept: list[Keeper] = []

    def lived(entered: Entered) -> Keeper:
        path = tmp_path / "slip.stillroom"
        keeper = Keeper(open_copy(new_shelf_file, path), clock)
        live(keeper, clock, entered)
        keeper.store.close()
        kept.append(Keeper(Store.open(path), clock))
        return kept[-1]

    yield lived
    for keeper in kept:
        keeper.store.close()


async def go_to(app: StillroomApp, pilot: Pilot[None], field: str) -> None:
    """Press tab until a field of the form has the keys."""
    for _ in range(20):
        if app.focused and any(each.id == field for each in app.focused.ancestors):
            return
        await press(pilot, "tab")
    raise AssertionError(f"There is no way to {field}.\n{screen_text(app)}")


async def of_the_entry(pilot: Pilot[None], words: str) -> None:
    """Find the entry in the ledger and ask for the form."""
    await press(pilot, "5", "slash", *words, "enter", "C")


async def moved_to_its_jar(app: StillroomApp, pilot: Pilot[None]) -> None:
    await of_the_entry(pilot, "strained elderberry")
    await go_to(app, pilot, "jar")
    await press(pilot, *"26-002")


async def berries_and_no_leaf(app: StillroomApp, pilot: Pilot[None]) -> None:
    await of_the_entry(pilot, "filled elderberry")
    await go_to(app, pilot, "part")
    for _ in Part:
        if app.screen.query_one("#part", Pick).value == Part.FRUIT:
            return
        await press(pilot, "right")


async def weaker_spirit(app: StillroomApp, pilot: Pilot[None]) -> None:
    await press(pilot, "4", "C")
    await go_to(app, pilot, "strength")
    await press(pilot, *"38 %")


async def one_bottle_fewer(app: StillroomApp, pilot: Pilot[None]) -> None:
    await of_the_entry(pilot, "bottled elderberry")
    await press(pilot, "shift+tab", "right", "right", "tab", "0")


async def drawn_earlier(app: StillroomApp, pilot: Pilot[None]) -> None:
    await of_the_entry(pilot, "honey")
    await go_to(app, pilot, "movement-1_day")
    await press(pilot, *"12 days ago")


SLIPS = {
    "a yield on the wrong jar": (Entered(jar=1), moved_to_its_jar),
    "berries recorded as leaf": (Entered(part=Part.LEAF), berries_and_no_leaf),
    "a spirit of 38 and not 40 %": (Entered(spirit_abv=40), weaker_spirit),
    "a bottle counted twice": (Entered(bottles=3), one_bottle_fewer),
    "a draw on the wrong day": (Entered(draw_days_ago=11), drawn_earlier),
}


@pytest.mark.parametrize("slip", SLIPS)
async def test_a_slip_is_corrected_in_everything_made_from_it(
    slip: str, slipped: Callable[[Entered], Keeper], right: dict[str, object]
) -> None:
    entered, keys = SLIPS[slip]
    keeper = slipped(entered)
    before = figures(keeper)
    assert before != right
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "escape")
        await keys(app, pilot)
        assert isinstance(app.screen, CorrectionDialog), screen_text(app)
        await press(pilot, "tab")
        assert "Changes: " in screen_text(app)
        assert figures(keeper) == before
        await press(pilot, "ctrl+s")
        if isinstance(app.screen, CorrectionDialog):  # a question first
            assert "Press ctrl+s again." in flat(app)
            await press(pilot, "ctrl+s")
        assert not isinstance(app.screen, CorrectionDialog), screen_text(app)
        for name, found in figures(keeper).items():
            assert found == right[name], name
        assert "corrected" in {line.mark for line in ledger(keeper, LedgerFilter(), limit=-1)}
        assert check(keeper) == []
        undo(keeper)
        assert figures(keeper) == before
