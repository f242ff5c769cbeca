"""Make the sample shelf: two invented years in a small dispensary, through the use cases.

Run `python tests/make_sample_shelf.py`; it writes the same bytes every time, into `sample_shelf/`
and into the copy that the package holds.
Herbs, weights and yields are invented, though within what is usual; people and sellers are too.
"""

import random
import shutil
import sys
import tempfile
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path

from stillroom.clock import SetClock
from stillroom.keeping.bottles.blends import make_blend
from stillroom.keeping.bottles.bottle_views import bottle_rows
from stillroom.keeping.bottles.bottling import bottle_up, propose_bottles
from stillroom.keeping.bottles.formulas import keep_formula
from stillroom.keeping.bottles.labels import labels_for
from stillroom.keeping.bottles.print_log import record_printed
from stillroom.keeping.bottles.stock import (
    discard_bottle,
    move_bottle,
    pour_together,
    put_right,
    take_out,
    weigh_in,
)
from stillroom.keeping.closing import close_batch, close_month
from stillroom.keeping.correcting.correct import correct
from stillroom.keeping.correcting.subjects import subject_of_code
from stillroom.keeping.cupboard.cupboard import (
    add_herb,
    add_shelf,
    add_spirit,
    keep_bottle_size,
    shelf_rows,
    spirits,
)
from stillroom.keeping.cupboard.lot_reading import herb_lots
from stillroom.keeping.cupboard.lots import add_lot, discard_herb, dry, give_herb, lay_out, use_up
from stillroom.keeping.cupboard.taking import charge_of_lot
from stillroom.keeping.drafts import (
    BlendDraft,
    BlendPartDraft,
    BottleDraft,
    BottlingDraft,
    ChargeDraft,
    FormulaDraft,
    FormulaPartDraft,
    HerbDraft,
    HerbLotDraft,
    JarDraft,
    PourDraft,
    ShelfDraft,
    SpiritDraft,
    StrainDraft,
)
from stillroom.keeping.interchange.writing import export_folder
from stillroom.keeping.jars.expecting import yield_outlook
from stillroom.keeping.jars.jar import (
    discard_jar,
    fill_jar,
    mark_covered,
    note_jar,
    shake,
    shake_all,
    top_up,
)
from stillroom.keeping.jars.jar_view import jar_view
from stillroom.keeping.jars.shelves import shelves_view
from stillroom.keeping.jars.straining import strain
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import save_settings, settings_of
from stillroom.keeping.views import BottleRow, TinctureView
from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.states import HerbCame, HerbMovementKind, LiquidKind, MovementKind
from stillroom.reckoning.yields import Pressing
from stillroom.records.store import Store

sys.path.insert(0, str(Path(__file__).parents[1]))

from tests.sample_materials import handle_materials

TODAY = date(2026, 11, 26)
"""The sample's today; opening it moves every date from here to the real today."""
FIRST_DAY = TODAY - timedelta(days=735)
LOTS_SINCE = TODAY - timedelta(days=150)
"""From then on, lots of bottles and caps are entered."""
PRINTED = ("26-005", "26-008", "26-014")
"""Batches whose labels are printed."""
FOLDER = Path(__file__).parent.parent / "sample_shelf"
COPY = FOLDER.parent / "src" / "stillroom" / "sample_shelf"
"""What a wheel holds; no link, which not every system and archive knows."""

DRIED, FRESH = Condition.DRIED, Condition.FRESH
LARDER, KITCHEN, CELLAR, RAFI = "North larder", "Kitchen, top", "Cellar [old bed]", "Ράφι της αυλής"
ELDER = "Elderflower from the three old trees behind the chapel at the end of the lane, 2nd picking"

SHELVES = (
    ShelfDraft(LARDER, "North wall, no window."),
    ShelfDraft(KITCHEN, "Above the dresser; out of the sun after ten."),
    ShelfDraft(CELLAR, "Cool. The boards are from the old bed."),
    ShelfDraft(RAFI),
)

HERBS = (
    HerbDraft("Calendula", "Calendula officinalis", "", "Whole heads, picked at noon, dry."),
    HerbDraft("Elecampane", "Inula helenium", "Not with an allergy to the daisy family."),
    HerbDraft("Девясил", "Inula helenium", "", "The same plant, from Vera's garden."),
    HerbDraft(
        "Valerian", "Valeriana officinalis", "May cause drowsiness: don't drive after taking it."
    ),
    HerbDraft("Yarrow [old bed]", "Achillea millefolium"),
    HerbDraft("Meadowsweet", "Filipendula ulmaria", "Not with an allergy to salicylates."),
    HerbDraft(ELDER, "Sambucus nigra"),
    HerbDraft("Rosehip", "Rosa canina"),
    HerbDraft("Marshmallow", "Althaea officinalis"),
    HerbDraft("黄芩", "Scutellaria baicalensis", "", "Bought root, third year."),
    HerbDraft("Fennel", "Foeniculum vulgare"),
    HerbDraft("Cramp bark", "Viburnum opulus"),
    HerbDraft("Mullein", "Verbascum thapsus", "", "Strain through cloth: the hairs scratch."),
    HerbDraft("Plantain", "Plantago lanceolata"),
    HerbDraft("Mugwort", "Artemisia vulgaris", "Not in pregnancy."),
    HerbDraft("Чабрец", "Thymus serpyllum"),
    HerbDraft("Thyme", "Thymus vulgaris"),
    HerbDraft("Sage", "Salvia officinalis", "Not in pregnancy; not for long."),
    HerbDraft("Réglisse", "Glycyrrhiza glabra", "Not with high blood pressure."),
    HerbDraft("Δίκταμο", "Origanum dictamnus"),
    HerbDraft("Lady's mantle", "Alchemilla xanthochlora"),
    HerbDraft("Myrrh", "Commiphora myrrha", "Not in pregnancy."),
    HerbDraft("Ginger", "Zingiber officinale"),
)


@dataclass(frozen=True)
class Plan:
    """A jar to fill, and what becomes of it."""

    filled: int
    """Days before today."""
    charges: tuple[ChargeDraft, ...]
    liquids: tuple[tuple[str, float, float], ...]
    """Kind, mL and % v/v."""
    shelf: str
    steep: int = 14
    shakes: int = 1
    simmered: bool = False
    capacity_ml: float | None = None
    note: str = ""
    strained: int | None = None
    """Days before today; None while it still steeps, or is thrown out."""
    pressing: Pressing = Pressing.SQUEEZED
    sizes_ml: tuple[float, ...] | None = ()
    """Bottles to fill, as far as it goes; None leaves all in the jar."""
    place: str = ""
    thrown_out: tuple[int, str] | None = None
    """Days before today, and why."""
    topped_up: tuple[int, float, float] | None = None
    """Days before today, mL, % v/v."""
    uncovered: int | None = None
    """Days before today from which the herb is not under the liquid."""
    remark: tuple[int, str] | None = None


def herb(
    name: str,
    part: Part,
    condition: Condition = DRIED,
    mass_g: float | None = None,
    *,
    gathered: int | None = None,
    origin: str = "",
    water: float | None = None,
) -> ChargeDraft:
    """One herb of a jar, gathered so many days before today."""
    day = None if gathered is None else TODAY - timedelta(days=gathered)
    return ChargeDraft(name, part, condition, mass_g, water, gathered_on=day, origin=origin)


def spirit(volume_ml: float, strength_abv: float) -> tuple[str, float, float]:
    """A pour from the cupboard."""
    return ("spirit", volume_ml, strength_abv)


def water(volume_ml: float) -> tuple[str, float, float]:
    """A pour of water."""
    return ("water", volume_ml, 0.0)


def decoction(volume_ml: float) -> tuple[str, float, float]:
    """What the root was simmered in, kept and cooled."""
    return ("decoction", volume_ml, 0.0)


GARDEN = "Own garden, south bed"
HEDGE = "Hedge along Mill Lane"
SELLER = "Mill Lane Herbs"

PAST = (
    Plan(
        728,
        (herb("Calendula", Part.FLOWER, DRIED, 150, gathered=850, origin=GARDEN),),
        (spirit(750, 60),),
        LARDER,
        strained=713,
        sizes_ml=(250, 250, 50),
        place="Larder, door",
    ),
    Plan(
        712,
        (herb("Valerian", Part.ROOT, FRESH, 400, gathered=713, origin=GARDEN),),
        (spirit(800, 60),),
        CELLAR,
        steep=21,
        strained=690,
        pressing=Pressing.PRESSED,
        sizes_ml=(500, 250, 100, 50),
        place="Cellar, box 1",
    ),
    Plan(
        700,
        (herb("Mugwort", Part.AERIAL_PARTS, DRIED, 60, gathered=840, origin=HEDGE),),
        (spirit(350, 40),),
        KITCHEN,
        thrown_out=(692, "The lid had cracked; it smelled of vinegar."),
    ),
    Plan(
        655,
        (herb("Elecampane", Part.ROOT, DRIED, 100, origin=f"{SELLER}, lot E-17"),),
        (decoction(400), spirit(230, 96)),
        LARDER,
        simmered=True,
        strained=640,
        pressing=Pressing.PRESSED,
        sizes_ml=(250, 250, 100, 50),
        place="Larder, door",
        note="Simmered 25 minutes, left to cool overnight before the spirit went on.",
    ),
    Plan(
        620,
        (herb("Fennel", Part.SEED, DRIED, 80, origin=f"{SELLER}, lot F-09"),),
        (spirit(400, 60),),
        KITCHEN,
        strained=606,
        sizes_ml=(250,),
        place="Kitchen drawer",
    ),
    Plan(
        560,
        (herb("Thyme", Part.AERIAL_PARTS, FRESH, 200, gathered=560, origin=GARDEN),),
        (spirit(400, 60),),
        KITCHEN,
        strained=545,
        sizes_ml=(250, 100, 50),
        place="Kitchen drawer",
        remark=(552, "Smells strong already."),
    ),
    Plan(
        525,
        (herb(ELDER, Part.FLOWER, FRESH, None, gathered=525, origin="The chapel lane"),),
        (spirit(700, 40),),
        LARDER,
        strained=510,
        pressing=Pressing.DRAINED,
        sizes_ml=(250, 250),
        place="Larder, door",
    ),
    Plan(
        505,
        (herb("Meadowsweet", Part.FLOWER, FRESH, 180, gathered=506, origin="Brook meadow"),),
        (spirit(360, 40),),
        LARDER,
        shakes=2,
        strained=490,
        sizes_ml=(250, 50),
        place="Larder, door",
    ),
    Plan(
        470,
        (herb("Yarrow [old bed]", Part.AERIAL_PARTS, DRIED, None, gathered=500, origin="Old bed"),),
        (spirit(700, 40),),
        CELLAR,
        steep=28,
        strained=440,
        sizes_ml=(500,),
        place="Cellar, box 1",
    ),
    Plan(
        430,
        (herb("Rosehip", Part.FRUIT, FRESH, 300, gathered=431, origin=HEDGE),),
        (spirit(500, 40),),
        RAFI,
        steep=21,
        strained=408,
        sizes_ml=(250, 250),
        place="Cellar, box 2",
        note="Split and seeded first.",
    ),
    Plan(
        405,
        (herb("Девясил", Part.ROOT, DRIED, 90, origin="Огород Веры"),),
        (decoction(500), spirit(250, 96)),
        CELLAR,
        simmered=True,
        strained=391,
        pressing=Pressing.PRESSED,
        sizes_ml=(500, 250, 50),
        place="Cellar, box 2",
    ),
    Plan(
        352,
        (herb("Réglisse", Part.ROOT, DRIED, 100, origin="Herboristerie de l'Étoile, lot 7/B"),),
        (decoction(450), spirit(180, 96)),
        LARDER,
        simmered=True,
        strained=338,
        sizes_ml=(250, 250, 50),
        place="Larder, door",
    ),
    Plan(
        330,
        (herb("Cramp bark", Part.BARK, DRIED, 150, origin=f"{SELLER}, lot C-31"),),
        (spirit(750, 60),),
        CELLAR,
        steep=28,
        strained=300,
        pressing=Pressing.PRESSED,
        sizes_ml=(250, 250, 100),
        place="Cellar, box 2",
    ),
    Plan(
        290,
        (herb("Myrrh", Part.RESIN, DRIED, 40, origin=f"{SELLER}, lot M-02"),),
        (spirit(200, 96),),
        KITCHEN,
        steep=28,
        strained=261,
        pressing=Pressing.DRAINED,
        sizes_ml=(100, 50),
        place="Kitchen drawer",
    ),
    Plan(
        240,
        (herb("Mullein", Part.LEAF, DRIED, 60, gathered=480, origin="Railway bank"),),
        (spirit(300, 40), water(50)),
        KITCHEN,
        thrown_out=(236, "Grey film on top: the leaf had not been dry."),
    ),
    Plan(
        205,
        (herb("Plantain", Part.LEAF, FRESH, 150, gathered=205, origin=GARDEN),),
        (spirit(300, 96),),
        LARDER,
        strained=190,
        pressing=Pressing.PRESSED,
        sizes_ml=(250, 100),
        place="Larder, door",
    ),
    Plan(
        170,
        (herb("Lady's mantle", Part.AERIAL_PARTS, FRESH, 160, gathered=171, origin="Ridge path"),),
        (spirit(320, 60),),
        RAFI,
        strained=155,
        sizes_ml=(250, 50),
        place="Cellar, box 2",
        topped_up=(168, 40, 60),
    ),
    Plan(
        150,
        (herb("Calendula", Part.FLOWER, FRESH, 220, gathered=150, origin=GARDEN),),
        (spirit(440, 96),),
        LARDER,
        shakes=2,
        strained=135,
        pressing=Pressing.PRESSED,
        sizes_ml=(250, 100, 100, 30, 30, 30),
        place="Larder, door",
    ),
    Plan(
        120,
        (herb("Δίκταμο", Part.AERIAL_PARTS, DRIED, 50, origin="Κρήτη, από τη Μαρία"),),
        (spirit(250, 40),),
        RAFI,
        strained=105,
        sizes_ml=(100, 100),
        place="Kitchen drawer",
    ),
    Plan(
        75,
        (
            herb("Thyme", Part.AERIAL_PARTS, DRIED, 40, gathered=150, origin=GARDEN),
            herb("Fennel", Part.SEED, DRIED, 30, origin=f"{SELLER}, lot F-22"),
            herb("Ginger", Part.ROOT, FRESH, 50, water=0.79, origin="Market"),
        ),
        (spirit(600, 40),),
        KITCHEN,
        strained=60,
        sizes_ml=(250, 100, 50),
        place="Kitchen drawer",
    ),
    Plan(
        62,
        (herb("Marshmallow", Part.ROOT, FRESH, 250, gathered=63, origin="Own garden, north wall"),),
        (spirit(500, 96),),
        CELLAR,
        steep=28,
        strained=33,
        pressing=Pressing.PRESSED,
        sizes_ml=(250, 250, 50),
        place="Cellar, box 1",
    ),
)

PRESENT = (
    Plan(
        0,
        (herb("Calendula", Part.FLOWER, DRIED, 120, gathered=110, origin=GARDEN),),
        (spirit(600, 40),),
        LARDER,
        capacity_ml=1000,
    ),
    Plan(
        7,
        (herb("Elecampane", Part.ROOT, DRIED, 100, origin=f"{SELLER}, lot E-40"),),
        (decoction(350), spirit(220, 96)),
        LARDER,
        simmered=True,
        capacity_ml=1000,
        note="Simmered half an hour, down to 350 mL; quite cold when the spirit went on.",
    ),
    Plan(
        14,
        (herb("Valerian", Part.ROOT, FRESH, 250, gathered=15, origin=GARDEN),),
        (spirit(500, 60),),
        LARDER,
        capacity_ml=1000,
    ),
    Plan(
        17,
        (herb("Yarrow [old bed]", Part.AERIAL_PARTS, DRIED, None, gathered=90, origin="Old bed"),),
        (spirit(700, 40),),
        LARDER,
        capacity_ml=1000,
    ),
    Plan(
        4,
        (herb("Meadowsweet", Part.FLOWER, DRIED, 80, gathered=120, origin="Brook meadow"),),
        (spirit(400, 40),),
        LARDER,
        shakes=2,
        capacity_ml=750,
    ),
    Plan(
        9,
        (herb(ELDER, Part.FLOWER, DRIED, None, gathered=165, origin="The chapel lane"),),
        (spirit(450, 40),),
        KITCHEN,
        steep=21,
        uncovered=2,
    ),
    Plan(
        20,
        (
            herb("Rosehip", Part.FRUIT, DRIED, 90, gathered=50, origin=HEDGE),
            herb("Fennel", Part.SEED, DRIED, 30, origin=f"{SELLER}, lot F-22"),
            herb("Réglisse", Part.ROOT, DRIED, 20, origin="Herboristerie de l'Étoile, lot 9/A"),
        ),
        (spirit(700, 40),),
        KITCHEN,
        steep=28,
        capacity_ml=1000,
        topped_up=(12, 60, 40),
    ),
    Plan(
        26,
        (herb("Cramp bark", Part.BARK, DRIED, 200, origin=f"{SELLER}, lot C-44"),),
        (spirit(1000, 60),),
        CELLAR,
        steep=28,
        capacity_ml=1500,
    ),
    Plan(
        12,
        (herb("Mullein", Part.LEAF, DRIED, 50, gathered=140, origin="Railway bank"),),
        (spirit(500, 40),),
        CELLAR,
        steep=42,
        remark=(5, "Pushed under again with a spoon."),
    ),
    Plan(
        13,
        (herb("黄芩", Part.ROOT, DRIED, 60, origin="同仁药行, 批号 118"),),
        (spirit(300, 60),),
        CELLAR,
    ),
    Plan(
        30,
        (herb("Δίκταμο", Part.AERIAL_PARTS, DRIED, None, origin="Κρήτη, από τη Μαρία"),),
        (spirit(250, 40),),
        RAFI,
        steep=28,
    ),
    Plan(
        2,
        (herb("Чабрец", Part.AERIAL_PARTS, DRIED, 60, gathered=130, origin="Склон за домом"),),
        (spirit(300, 40),),
        RAFI,
        shakes=2,
    ),
    Plan(
        6,
        (herb("Lady's mantle", Part.AERIAL_PARTS, FRESH, 120, gathered=6, origin="Ridge path"),),
        (spirit(240, 60),),
        RAFI,
        steep=28,
        shakes=0,
        note="Stood, not shaken, to see whether it makes a difference.",
    ),
    Plan(
        28,
        (herb("Sage", Part.LEAF, DRIED, 80, gathered=100, origin=GARDEN),),
        (spirit(250, 96), water(150)),
        KITCHEN,
        steep=28,
    ),
    Plan(
        16,
        (herb("Plantain", Part.LEAF, FRESH, 200, gathered=16, origin=GARDEN),),
        (spirit(400, 96),),
        KITCHEN,
        strained=1,
        sizes_ml=None,
    ),
    Plan(
        19,
        (herb("Mugwort", Part.AERIAL_PARTS, DRIED, 90, gathered=110, origin=HEDGE),),
        (spirit(450, 60),),
        CELLAR,
        strained=3,
        sizes_ml=(250,),
        place="Cellar, box 1",
    ),
)


@dataclass
class Dispensary:
    """Two people and their shelf, day by day."""

    keeper: Keeper
    clock: SetClock
    luck: random.Random
    jars: dict[Plan, int] = field(default_factory=dict)
    lots: "dict[LotPlan, int]" = field(default_factory=dict)
    drying: "dict[LotPlan, int]" = field(default_factory=dict)
    """What was laid out of each."""

    def run(self) -> None:
        """Live through every day up to today."""
        self.furnish()
        for ago in range((TODAY - FIRST_DAY).days, -1, -1):
            self.wake(ago)
            self.buy(ago)
            for lot in LOTS:
                self.store(lot, ago)
            for plan in (*PAST, *PRESENT):
                self.tend(plan, ago)
            self.use_stock(ago)
            self.make_blends(ago)
            if ago:
                self.shake(ago)
        self.shake_some()
        self.keep_books()
        handle_materials(self)

    def wake(self, ago: int) -> None:
        """Begin a day, on its morning."""
        morning = datetime.combine(TODAY - timedelta(days=ago), time(5, 30), UTC)
        self.clock.moment = morning + timedelta(minutes=self.luck.randrange(30))
        if ago % 45 == 0:
            maker = "EV" if ago % 90 == 0 else "JO"
            self.sign(maker)

    def sign(self, maker: str) -> None:
        """Have someone else take over; units and the rest stay as they were set."""
        before = settings_of(self.keeper)
        signed = replace(before, maker=maker, maker_name="Stillroom at the Mill")
        save_settings(self.keeper, signed)

    def furnish(self) -> None:
        """Set up the shelves, herbs and sizes of the first day."""
        self.wake((TODAY - FIRST_DAY).days + 1)
        self.sign("EV")
        for shelf in SHELVES:
            add_shelf(self.keeper, shelf)
        for each in HERBS:
            add_herb(self.keeper, each)
        for size_ml, empties in ((500.0, None), (250.0, 60), (100.0, 40), (50.0, 48), (30.0, None)):
            keep_bottle_size(self.keeper, size_ml, empties)

    def buy(self, ago: int) -> None:
        """Bring in spirit, a few times a year; all of it food grade."""
        for days, draft in PURCHASES:
            if days == ago:
                add_spirit(self.keeper, draft)

    def store(self, lot: "LotPlan", ago: int) -> None:
        """Do to one lot of herb what falls on this day."""
        if ago == lot.got:
            came = HerbCame.BOUGHT if lot.price is not None else HerbCame.GATHERED
            draft = HerbLotDraft(
                lot.herb, lot.part, lot.condition, came, self.keeper.today, lot.origin,
                lot.seller_lot, lot.mass_g, lot.price,
            )  # fmt: skip
            self.lots[lot] = add_lot(self.keeper, draft).lot_id
            if lot.laid_out_g is not None:
                self.drying[lot] = lay_out(self.keeper, self.lots[lot], lot.laid_out_g).lot_id
        if lot.dry and lot.dry[0] == ago:
            dry(self.keeper, self.drying[lot], lot.dry[1])
        if lot.after and lot.after[0] == ago:
            _, kind, mass_g, note = lot.after
            lot_id = self.lots[lot]
            if kind is HerbMovementKind.GIVE:
                give_herb(self.keeper, lot_id, mass_g, person="J. at the market", note=note)
            elif kind is HerbMovementKind.USED_UP:
                use_up(self.keeper, lot_id, note=note)
            else:
                discard_herb(self.keeper, lot_id, mass_g, kind=kind, note=note)

    def from_store(self, charge: ChargeDraft) -> ChargeDraft:
        """A herb as its lot has it, where one in store has enough."""
        for lot in herb_lots(self.keeper, with_empty=False):
            same = not lot.is_drying and (lot.herb, lot.part, lot.condition) == (
                charge.herb, charge.part, charge.condition,
            )  # fmt: skip
            if same and charge.mass_g and (lot.left_g or 0.0) >= charge.mass_g:
                return charge_of_lot(lot, charge.mass_g)
        return charge

    def tend(self, plan: Plan, ago: int) -> None:
        """Do to one jar what falls on this day."""
        if ago == plan.filled:
            self.fill(plan)
        if plan.topped_up and plan.topped_up[0] == ago:
            _, volume_ml, strength = plan.topped_up
            self.step()
            top_up(self.keeper, self.jars[plan], self.pour(LiquidKind.SPIRIT, volume_ml, strength))
        if plan.uncovered == ago:
            mark_covered(self.keeper, self.jars[plan], False)
        if plan.remark and plan.remark[0] == ago:
            note_jar(self.keeper, self.jars[plan], plan.remark[1])
        if plan.thrown_out and plan.thrown_out[0] == ago:
            discard_jar(self.keeper, self.jars[plan], plan.thrown_out[1])
        if plan.strained == ago:
            self.bottle(plan, self.strain(plan))

    def step(self) -> None:
        """Let a few minutes pass."""
        self.clock.advance(seconds=self.luck.randrange(60, 240))

    def fill(self, plan: Plan) -> None:
        """Fill a jar."""
        self.step()
        shelf_id = next(s.shelf_id for s in shelf_rows(self.keeper) if s.name == plan.shelf)
        draft = JarDraft(
            charges=tuple(map(self.from_store, plan.charges)),
            pours=tuple(self.pour(LiquidKind(kind), *rest) for kind, *rest in plan.liquids),
            filled_on=self.keeper.today,
            strain_on=self.keeper.today + timedelta(days=plan.steep),
            shakes_per_day=plan.shakes,
            shelf_id=shelf_id,
            capacity_ml=plan.capacity_ml,
            simmered=plan.simmered,
            note=plan.note,
        )
        self.jars[plan] = fill_jar(self.keeper, draft).jar_id

    def pour(self, kind: LiquidKind, volume_ml: float, strength_abv: float) -> PourDraft:
        """A pour, taken from the oldest spirit of that strength that has enough."""
        if kind != LiquidKind.SPIRIT:
            return PourDraft(kind, volume_ml)
        fitting = [
            s.spirit_id
            for s in spirits(self.keeper)
            if s.strength_abv == strength_abv and (s.left_ml is None or s.left_ml >= volume_ml)
        ]
        return PourDraft(kind, volume_ml, strength_abv, fitting[-1])

    def strain(self, plan: Plan) -> TinctureView:
        """Strain a jar; the yield is near what is expected, read off a jug."""
        self.step()
        jar = jar_view(self.keeper, self.jars[plan])
        expected = yield_outlook(self.keeper, jar, plan.pressing).expected_ml
        volume_ml = (expected or 0.82 * jar.outlook.volume_ml) * self.luck.uniform(0.95, 1.02)
        dry_g = sum(c.mass_g * (1 - c.water_fraction) for c in jar.charges if c.mass_g)
        marc_g = 5.0 * round(dry_g * self.luck.uniform(2.0, 2.4) / 5)
        return strain(
            self.keeper,
            StrainDraft(
                self.jars[plan],
                self.keeper.today,
                5.0 * round(volume_ml / 5),
                plan.pressing,
                marc_g=marc_g or None,
            ),
        )

    def bottle(self, plan: Plan, tincture: TinctureView) -> None:
        """Fill the bottles that a plan names; of finished jars, the small rest is lost."""
        if plan.sizes_ml is None:
            return
        self.step()
        bottles: list[BottleDraft] = []
        rest = tincture.loose_ml
        for size_ml in plan.sizes_ml:
            if size_ml <= rest:
                bottles.append(BottleDraft(size_ml, size_ml, plan.place))
                rest -= size_ml
        is_finished = plan in PAST
        if is_finished and rest >= 30:
            more = propose_bottles(self.keeper, rest)
            bottles += [BottleDraft(b.size_ml, b.volume_ml, plan.place) for b in more]
        draft = BottlingDraft(tincture.tincture_id, tuple(bottles), self.keeper.today, is_finished)
        if self.keeper.today >= LOTS_SINCE:
            draft = replace(draft, bottle_lot="brown glass 26-3", cap_lot="droppers 1107")
        bottle_up(self.keeper, draft)

    def keep_books(self) -> None:
        """Print labels, correct a slip, close the first month and the first record."""
        in_stock = [row for row in bottle_rows(self.keeper) if row.batch in PRINTED]
        said = record_printed(
            self.keeper, labels_for(self.keeper, [row.bottle_id for row in in_stock])
        )
        assert not said
        self.clock.advance(minutes=2)
        rosehip = subject_of_code(self.keeper, "25-007")
        correct(self.keeper, rosehip, {"origin": "Hedge along Chapel Lane"}, why="wrong lane")
        for close in (
            lambda: close_month(self.keeper, FIRST_DAY),
            lambda: close_batch(self.keeper, self.named("Myrrh").tincture_id),
        ):
            self.clock.advance(minutes=2)
            close()

    def shake(self, ago: int) -> None:
        """The round, morning and evening; now and then a day is missed."""
        wanting = shelves_view(self.keeper).to_shake
        if not wanting or (ago > 10 and self.luck.random() < 0.06):
            return
        self.step()
        shake_all(self.keeper)
        if any(jar.shakes_per_day > 1 for jar in wanting):
            self.clock.advance(hours=11)
            shake_all(self.keeper)

    def shake_some(self) -> None:
        """Today's round has only begun."""
        for jar in shelves_view(self.keeper).to_shake[1:4]:
            self.step()
            shake(self.keeper, jar.jar_id)

    def use_stock(self, ago: int) -> None:
        """What leaves the bottles, mostly in small amounts."""
        stock = bottle_rows(self.keeper)
        if stock and self.luck.random() < 0.17:
            row = self.luck.choice(stock)
            volume_ml = min(row.left_ml, self.luck.choice((10.0, 15.0, 20.0, 30.0, 30.0, 50.0)))
            kind, person, note = self.luck.choice(REASONS)
            self.step()
            take_out(
                self.keeper,
                row.bottle_id,
                volume_ml,
                kind=MovementKind(kind),
                person=person,
                note=note,
                confirmed=True,
            )
        if ago in ODD_JOBS:
            self.step()
            ODD_JOBS[ago](self)

    def named(self, text: str, *, size_ml: float | None = None) -> BottleRow:
        """The fullest bottle whose name begins so."""
        fitting = [
            row
            for row in bottle_rows(self.keeper)
            if row.name.startswith(text) and size_ml in (None, row.size_ml)
        ]
        return max(fitting, key=lambda row: (row.left_ml, -row.bottle_id))

    def make_blends(self, ago: int) -> None:
        """Blend from the stock, and later blend the blend."""
        for blend in BLENDS:
            if blend.made == ago:
                self.step()
                self.blend(blend)

    def blend(self, plan: "BlendPlan") -> None:
        """Make one blend and bottle it."""
        parts = tuple(
            BlendPartDraft(self.named(name).bottle_id, volume_ml) for name, volume_ml in plan.parts
        )
        draft = BlendDraft(plan.name, parts, self.keeper.today, plan.note)
        made = make_blend(self.keeper, draft, confirmed=True)
        bottles = tuple(BottleDraft(s, s, "Kitchen drawer") for s in plan.sizes_ml)
        rest = made.loose_ml - sum(plan.sizes_ml)
        bottles += (BottleDraft(50, min(50.0, rest), "Kitchen drawer"),)
        bottle_up(self.keeper, BottlingDraft(made.tincture_id, bottles, self.keeper.today, True))


@dataclass(frozen=True)
class BlendPlan:
    """A blend to make."""

    made: int
    """Days before today."""
    name: str
    parts: tuple[tuple[str, float], ...]
    """The beginning of a tincture's name, and mL of it."""
    sizes_ml: tuple[float, ...]
    note: str = ""


@dataclass(frozen=True)
class LotPlan:
    """Herb to gather or buy, and what becomes of it."""

    got: int
    """Days before today."""
    herb: str
    part: Part
    condition: Condition
    mass_g: float
    origin: str
    price: float | None = None
    """None where it is gathered."""
    seller_lot: str = ""
    laid_out_g: float | None = None
    """Laid out the same day, all of it or a part."""
    dry: tuple[int, float] | None = None
    """Days before today, and its weight."""
    after: tuple[int, HerbMovementKind, float | None, str] | None = None
    """Days before today, what happened, g, and a note."""


LOTS = (
    LotPlan(733, "Mullein", Part.LEAF, FRESH, 300, "Railway bank", laid_out_g=300, dry=(727, 52)),
    LotPlan(560, "Thyme", Part.AERIAL_PARTS, FRESH, 260, GARDEN, laid_out_g=260, dry=(554, 74)),
    LotPlan(
        120, "Meadowsweet", Part.FLOWER, FRESH, 480, "Brook meadow", laid_out_g=480,
        dry=(114, 92), after=(3, HerbMovementKind.USED_UP, None, "only dust was left"),
    ),
    LotPlan(
        110, "Mugwort", Part.AERIAL_PARTS, FRESH, 600, HEDGE, laid_out_g=500, dry=(103, 128),
        after=(109, HerbMovementKind.SPOILED, None, "turned black in the bag"),
    ),
    LotPlan(110, "Calendula", Part.FLOWER, FRESH, 900, GARDEN, laid_out_g=900, dry=(105, 168)),
    LotPlan(100, "Fennel", Part.SEED, DRIED, 250, SELLER, 6.4, "F-22"),
    LotPlan(100, "Sage", Part.LEAF, FRESH, 640, GARDEN, laid_out_g=640, dry=(95, 131)),
    LotPlan(
        60, "Cramp bark", Part.BARK, DRIED, 500, SELLER, 21.0, "C-44",
        after=(22, HerbMovementKind.GIVE, 30.0, "for her own kitchen"),
    ),
    LotPlan(3, "Plantain", Part.LEAF, FRESH, 420, GARDEN, laid_out_g=420),
)  # fmt: skip

BLENDS = (
    BlendPlan(
        40,
        "Winter chest",
        (("Thyme", 60.0), ("Réglisse", 30.0), ("Elecampane", 60.0)),
        (100.0,),
        "For the shelf by the door.",
    ),
    BlendPlan(
        18,
        "Winter chest & elder",
        (("Winter chest", 60.0), ("Elderflower", 40.0)),
        (50.0,),
    ),
)

PURCHASES = (
    (734, SpiritDraft("Vodka", 40, 4200, 96.0, date(2024, 11, 20), "Cash & carry, lot 4417")),
    (
        734,
        SpiritDraft(
            "Grain spirit 60", 60, 5000, 160.0, date(2024, 11, 21), "The Copper Still, lot 60-3"
        ),
    ),
    (
        733,
        SpiritDraft(
            "Rectified spirit, food grade",
            96,
            3000,
            141.0,
            date(2024, 11, 23),
            "The Copper Still, lot 96-18",
            "Keep the licence with it.",
        ),
    ),
    (335, SpiritDraft("Vodka", 40, 4200, 99.6, date(2025, 12, 20), "Cash & carry, lot 5120")),
    (
        335,
        SpiritDraft(
            "Grain spirit 60", 60, 5000, 165.0, date(2025, 12, 20), "The Copper Still, lot 60-7"
        ),
    ),
    (
        210,
        SpiritDraft(
            "Rectified spirit, food grade",
            96,
            3000,
            147.0,
            date(2026, 4, 28),
            "The Copper Still, lot 96-25",
        ),
    ),
    (100, SpiritDraft("Eau-de-vie de marc", 45, None, None, None, "Cadeau de l'oncle Rémi")),
    (31, SpiritDraft("Vodka", 40, 2100, 51.0, date(2026, 10, 26), "Cash & carry, lot 6043")),
)

REASONS = (
    ("draw", "", ""),
    ("draw", "", ""),
    ("draw", "", "for the dropper bottles"),
    ("draw", "", "own use"),
    ("give", "the neighbours", ""),
    ("give", "J. at the market", ""),
    ("spill", "", "knocked over"),
)


def _weigh_valerian(at: Dispensary) -> None:
    row = at.named("Valerian")
    weigh_in(at.keeper, row.bottle_id, 0.93 * row.left_ml + 180, 182, note="scale, lid off")


def _count_yarrow(at: Dispensary) -> None:
    row = at.named("Yarrow")
    put_right(at.keeper, row.bottle_id, row.left_ml - 12, note="by the mark on the glass")


def _pour_rosehip_together(at: Dispensary) -> None:
    one, other, *_ = (row for row in bottle_rows(at.keeper) if row.name == "Rosehip")
    if not other.left_ml < other.size_ml:
        take_out(at.keeper, other.bottle_id, 40.0)
    pour_together(at.keeper, one.bottle_id, other.bottle_id)


def _move_cramp_bark(at: Dispensary) -> None:
    move_bottle(at.keeper, at.named("Cramp bark").bottle_id, "Bag, first aid")


def _throw_out_fennel(at: Dispensary) -> None:
    discard_bottle(at.keeper, at.named("Fennel").bottle_id, "The cork had rotted.")


def _keep_formula(at: Dispensary) -> None:
    parts = (
        FormulaPartDraft("Thyme", 2),
        FormulaPartDraft("Réglisse", 1, Part.ROOT),
        FormulaPartDraft("Elecampane", 2),
    )
    keep_formula(at.keeper, FormulaDraft("Winter chest", parts, "From the first cold week on."))


ODD_JOBS = {
    500: _weigh_valerian,
    350: _count_yarrow,
    250: _pour_rosehip_together,
    180: _move_cramp_bark,
    90: _throw_out_fennel,
    39: _keep_formula,
}
"""What happens once, by days before today."""


def make_sample_shelf(folder: Path) -> dict[str, int]:
    """Write the sample shelf into a folder; returns the number of lines by kind of record."""
    with tempfile.TemporaryDirectory() as scratch:
        clock = SetClock(datetime(2024, 1, 1, tzinfo=UTC))
        store = Store.open(Path(scratch) / "sample.stillroom", create=True)
        try:
            keeper = Keeper(store, clock)
            Dispensary(keeper, clock, random.Random(20261126)).run()
            return export_folder(keeper, folder, overwrite=True)
        finally:
            store.close()


if __name__ == "__main__":
    target = Path(sys.argv[1]) if len(sys.argv) > 1 else FOLDER
    for name, count in make_sample_shelf(target).items():
        print(f"{count:6} {name}")
    if target == FOLDER:
        shutil.rmtree(COPY, ignore_errors=True)
        shutil.copytree(FOLDER, COPY)
