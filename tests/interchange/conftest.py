"""Shelves to write out and to read into, and folders to spoil."""

import csv
import json
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path
from shutil import copyfile, copytree

import pytest

from stillroom.clock import SetClock
from stillroom.keeping.bottles.blends import make_blend
from stillroom.keeping.bottles.bottle_views import bottle_rows
from stillroom.keeping.bottles.formulas import keep_formula
from stillroom.keeping.bottles.labels import labels_for
from stillroom.keeping.bottles.print_log import record_printed
from stillroom.keeping.bottles.stock import take_out
from stillroom.keeping.closing import close_batch, close_month
from stillroom.keeping.cupboard.cupboard import add_spirit, keep_bottle_size
from stillroom.keeping.cupboard.lots import add_lot, dry, give_herb, lay_out
from stillroom.keeping.cupboard.taking import charge_of_lot
from stillroom.keeping.drafts import (
    BlendDraft,
    BlendPartDraft,
    BottleDraft,
    ChargeDraft,
    FormulaDraft,
    FormulaPartDraft,
    HerbLotDraft,
    PourDraft,
    SpiritDraft,
    StrainDraft,
)
from stillroom.keeping.interchange.writing import export_folder
from stillroom.keeping.jars.jar import note_jar, shake
from stillroom.keeping.jars.straining import drain
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import Settings, save_settings
from stillroom.keeping.year.gathering import SeasonDraft, set_season
from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.states import HerbCame, LiquidKind, MovementKind
from stillroom.reckoning.yields import Pressing
from stillroom.records.file_state import OWN_SETTINGS
from stillroom.records.store import Store

from ..builders import bottled, filled, spirit, strained
from ..conftest import NOW, keeper_of_copy, open_copy

LAST = NOW + timedelta(days=28)
"""When the days that `stock` lives at a shelf are over."""

NewShelf = Callable[[str], Keeper]


@pytest.fixture
def new_shelf(tmp_path: Path, clock: SetClock, new_shelf_file: Path) -> Iterator[NewShelf]:
    """Makes empty shelves by name."""
    stores = []

    def make(name: str) -> Keeper:
        stores.append(open_copy(new_shelf_file, tmp_path / f"{name}.stillroom"))
        return Keeper(stores[-1], clock)

    yield make
    for store in stores:
        store.close()


@pytest.fixture
def stocked(shelf_file: Path, clock: SetClock, stocked_once: Path) -> Iterator[Keeper]:
    """A small shelf with at least one line of every kind of record, at the end of its days."""
    clock.moment = LAST
    with keeper_of_copy(stocked_once, shelf_file, clock) as keeper:
        yield keeper


def stock(keeper: Keeper, clock: SetClock) -> None:
    """Live a few days at a shelf."""
    save_settings(keeper, Settings(maker="EV"))
    keep_bottle_size(keeper, 100, 12)
    for lot in ("lot 1", "lot 2"):
        add_spirit(keeper, SpiritDraft("Vodka", 40, 5000, 60.5, keeper.today, f"Weir, {lot}"))
    for herb in ("Fennel", 'Thyme, "Silver"'):
        charge = ChargeDraft(herb, Part.SEED, Condition.DRIED, 100, 0.085, origin="Mill Lane")
        water = PourDraft(LiquidKind.WATER, 33.3)
        note = "First line,\nsecond line"
        jar_id = filled(keeper, [charge], spirit(500, 40, 1), water, note=note)
        shake(keeper, jar_id)
        clock.advance(days=14)
        made = strained(keeper, jar_id, 410.25, Pressing.PRESSED, marc_g=212)
        bottled(keeper, made, *[BottleDraft(100, 100, "Larder")] * 2)
    one, other = (row for row in bottle_rows(keeper) if row.code.endswith(".2"))
    take_out(keeper, one.bottle_id, 12.5, kind=MovementKind.GIVE, note="=for J.")
    parts = (BlendPartDraft(one.bottle_id, 20), BlendPartDraft(other.bottle_id, 30))
    blend = make_blend(keeper, BlendDraft("Evening", parts, keeper.today))
    bottled(keeper, blend, BottleDraft(50, 45), write_off_rest=True)
    close_month(keeper, keeper.today.replace(day=1) - timedelta(days=40))
    close_batch(keeper, blend.tincture_id)
    record_printed(keeper, labels_for(keeper, [row.bottle_id for row in bottle_rows(keeper)]))
    keep_formula(
        keeper,
        FormulaDraft(
            "Evening",
            (
                FormulaPartDraft("Fennel", 2, Part.SEED, Condition.DRIED),
                FormulaPartDraft("Evening", 1),
            ),
        ),
    )
    fresh = add_lot(
        keeper,
        HerbLotDraft("Δίκταμο", Part.LEAF, Condition.FRESH, HerbCame.GATHERED, keeper.today,
                     "Ridge, above the spring", mass_g=512.5, water_fraction=0.81, note="=dew"),
    )  # fmt: skip
    part = lay_out(keeper, fresh.lot_id, 300)
    dry(keeper, part.lot_id, 66.6)
    give_herb(keeper, fresh.lot_id, 20, person="Ada", note="@ the gate")
    give_herb(keeper, fresh.lot_id, None)
    decoction = PourDraft(LiquidKind.DECOCTION, 200)
    charge = charge_of_lot(fresh, None)
    jar_id = filled(keeper, [charge], decoction, spirit(200, 96), simmered=True)
    note_jar(keeper, jar_id, "@ the window")
    set_season(keeper, SeasonDraft("Fennel", Part.SEED, (8, 1), (2, 29), 7.5))
    seed = ChargeDraft("Fennel", Part.SEED, Condition.DRIED, 100)
    again = filled(keeper, [seed], spirit(500), days=0)
    drain(keeper, StrainDraft(again, keeper.today, 260, Pressing.DRAINED, note="cloudy"))
    drain(keeper, StrainDraft(again, keeper.today, 60, Pressing.SQUEEZED))


class Folder:
    """An exported folder that can be spoiled."""

    def __init__(self, path: Path) -> None:
        """Point at a folder."""
        self.path = path

    def bytes(self) -> dict[str, bytes]:
        """Every file's content."""
        return {file.name: file.read_bytes() for file in sorted(self.path.iterdir())}

    def rows(self, name: str) -> list[list[str]]:
        """The lines of a file, its heading first."""
        with (self.path / name).open(encoding="utf-8", newline="") as file:
            return list(csv.reader(file))

    def write(self, name: str, rows: list[list[str]]) -> None:
        """Put other lines into a file, and their number into the manifest."""
        with (self.path / name).open("w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows(rows)
        manifest = json.loads((self.path / "manifest.json").read_text(encoding="utf-8"))
        manifest["lines"][name.removesuffix(".csv")] = len(rows) - 1
        (self.path / "manifest.json").write_text(json.dumps(manifest), encoding="utf-8")

    def set(self, name: str, line: int, column: str, cell: str) -> None:
        """Change one cell; lines count from 1 with the heading."""
        rows = self.rows(name)
        rows[line - 1][rows[0].index(column)] = cell
        self.write(name, rows)

    def drop(self, name: str, line: int) -> None:
        """Take out a line."""
        rows = self.rows(name)
        del rows[line - 1]
        self.write(name, rows)

    def repeat(self, name: str, line: int) -> None:
        """Put a line in twice."""
        rows = self.rows(name)
        self.write(name, [*rows, rows[line - 1]])


@pytest.fixture(scope="session")
def stocked_once(empty_shelf: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The file that `stocked` copies."""
    path = tmp_path_factory.mktemp("stocked") / "shelf.stillroom"
    clock = SetClock(NOW)
    keeper = Keeper(Store.open(copyfile(empty_shelf, path)), clock)
    stock(keeper, clock)
    assert clock.moment == LAST
    keeper.store.close()
    return path


@pytest.fixture(scope="session")
def exported(stocked_once: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The stocked shelf, written out once for all tests."""
    place = tmp_path_factory.mktemp("exported")
    store = Store.open(copyfile(stocked_once, place / "shelf.stillroom"))
    export_folder(Keeper(store, SetClock(LAST)), place / "out")
    store.close()
    return place / "out"


@pytest.fixture
def folder(exported: Path, clock: SetClock, tmp_path: Path) -> Folder:
    """The stocked shelf, written out, at the end of its days."""
    copytree(exported, tmp_path / "out")
    clock.moment = LAST
    return Folder(tmp_path / "out")


@pytest.fixture
def contents() -> Callable[[Keeper], list[tuple[object, ...]]]:
    """Everything a shelf's file holds, its undo log included; not what it counts its acts by."""

    def read(keeper: Keeper) -> list[tuple[object, ...]]:
        names = [n for (n,) in keeper.rows("SELECT name FROM sqlite_schema WHERE type = 'table'")]
        rows = [(name, *row) for name in names for row in keeper.rows(f"SELECT * FROM {name}")]
        return [row for row in rows if row[2:3] not in [(own,) for own in OWN_SETTINGS]]

    return read
