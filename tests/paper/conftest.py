"""A shelf with a past: a jar strained and bottled, one steeping, one due, and a blend."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path

import pytest

from stillroom.clock import SetClock
from stillroom.keeping.bottles.blends import make_blend
from stillroom.keeping.bottles.bottle_views import bottle_rows
from stillroom.keeping.bottles.stock import take_out
from stillroom.keeping.cupboard.cupboard import add_spirit
from stillroom.keeping.drafts import (
    BlendDraft,
    BlendPartDraft,
    BottleDraft,
    ChargeDraft,
    PourDraft,
    SpiritDraft,
)
from stillroom.keeping.jars.jar import mark_covered, note_jar, shake, top_up
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import Settings, save_settings
from stillroom.keeping.views import BottleRow, TinctureView
from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.states import LiquidKind

from ..builders import bottled, filled, strained
from ..conftest import NOW, keeper_of_copy


@dataclass(frozen=True)
class Worked:
    """The contents of the shelf."""

    calendula: TinctureView
    blend: TinctureView
    steeping_id: int
    due_id: int


def _jar(keeper: Keeper, charge: ChargeDraft, pour: PourDraft, days: int = 14) -> int:
    return filled(keeper, [charge], pour, days=days, capacity_ml=1000)


def _bottled(
    keeper: Keeper, jar_id: int, yield_ml: float, *bottles: BottleDraft, marc_g: float | None = None
) -> TinctureView:
    tincture = strained(keeper, jar_id, yield_ml, marc_g=marc_g)
    return bottled(keeper, tincture, *bottles, write_off_rest=True)


@pytest.fixture(scope="session")
def worked_once(empty_shelf: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Worked]:
    """The file that `keeper` copies for a test that asks for `worked`, and what is in it."""
    path = tmp_path_factory.mktemp("worked") / "shelf.stillroom"
    clock = SetClock(NOW)
    with keeper_of_copy(empty_shelf, path, clock) as keeper:
        made = work(keeper, clock)
    return path, made


@pytest.fixture
def keeper(
    request: pytest.FixtureRequest, shelf_file: Path, clock: SetClock, empty_shelf: Path
) -> Iterator[Keeper]:
    """A keeper of an empty shelf, or of the worked one where the test asks for that."""
    is_worked = "worked" in request.fixturenames
    made = request.getfixturevalue("worked_once")[0] if is_worked else empty_shelf
    with keeper_of_copy(made, shelf_file, clock) as keeper:
        yield keeper


@pytest.fixture
def worked(worked_once: tuple[Path, Worked]) -> Worked:
    """Six weeks at the shelf, up to today."""
    return worked_once[1]


def work(keeper: Keeper, clock: SetClock) -> Worked:
    """Work at an empty shelf for six weeks, up to the clock's day."""
    today = clock.moment
    clock.advance(days=-42)
    save_settings(keeper, Settings(maker="AL", maker_name="Made by Anna Lind, North Larder"))
    brandy = add_spirit(
        keeper,
        SpiritDraft("Grape spirit", 45, 5000, 62, keeper.today, "Weinhof, lot 7"),
    )
    calendula = _jar(
        keeper,
        ChargeDraft(
            "Calendula", Part.FLOWER, Condition.DRIED, 120, botanical="Calendula officinalis L.",
            origin="Own garden, bed 3", gathered_on=keeper.today - timedelta(days=60),
        ),
        PourDraft(LiquidKind.SPIRIT, 600, 45, brandy),
    )  # fmt: skip
    fennel = _jar(
        keeper,
        ChargeDraft("Fennel", Part.SEED, Condition.DRIED, 80, botanical="Foeniculum vulgare Mill."),
        PourDraft(LiquidKind.SPIRIT, 400, 45, brandy),
    )
    for day in range(14):
        if day not in {4, 5, 9}:
            shake(keeper, calendula)
        shake(keeper, fennel)
        if day == 2:
            mark_covered(keeper, calendula, False)
            top_up(keeper, calendula, PourDraft(LiquidKind.SPIRIT, 60, 45, brandy))
        clock.advance(days=1)
    note_jar(keeper, calendula, "Deep gold, smells of hay.\nA little sediment.")
    bottles = (
        BottleDraft(250, 250, "Door, left"), BottleDraft(100, 100, "Door, left"),
        BottleDraft(100, 80, "Travel case"),
    )  # fmt: skip
    made = _bottled(keeper, calendula, 435, *bottles, marc_g=310)
    _bottled(keeper, fennel, 280, BottleDraft(250, 250, "Door, right"))
    clock.advance(days=14)
    first = {row.name: row for row in reversed(bottle_rows(keeper))}
    take_out(keeper, first["Calendula"].bottle_id, 30)
    parts = tuple(
        BlendPartDraft(row.bottle_id, ml)
        for row, ml in ((first["Calendula"], 60), (first["Fennel"], 40))
    )
    blend = make_blend(keeper, BlendDraft("Winter evening", parts, keeper.today))
    blend = bottled(keeper, blend, BottleDraft(100, 95), write_off_rest=True)
    due = _jar(
        keeper,
        ChargeDraft("Девясил высокий", Part.ROOT, Condition.FRESH, 200, botanical="Inula helenium"),
        PourDraft(LiquidKind.SPIRIT, 400, 60),
    )
    clock.moment = today - timedelta(days=3)
    steeping = _jar(
        keeper,
        ChargeDraft("Θυμάρι", Part.AERIAL_PARTS, Condition.DRIED, botanical="Thymus vulgaris L."),
        PourDraft(LiquidKind.SPIRIT, 500, 45, brandy),
    )
    mark_covered(keeper, steeping, False)
    clock.moment = today
    shake(keeper, due)
    return Worked(made, blend, steeping, due)


@pytest.fixture
def bottle_named(keeper: Keeper) -> Callable[[str], BottleRow]:
    """Find a bottle by its code."""

    def find(code: str) -> BottleRow:
        return next(row for row in bottle_rows(keeper, empties=True) if row.code == code)

    return find
