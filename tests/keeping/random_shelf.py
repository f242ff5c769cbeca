"""A shelf with a random history of some years, made by the use cases."""

import random
from collections.abc import Callable
from contextlib import suppress
from datetime import timedelta

from stillroom.clock import SetClock
from stillroom.errors import NeedsConfirmation, Refused
from stillroom.keeping.bottles.blends import make_blend
from stillroom.keeping.bottles.bottle_views import bottle_rows
from stillroom.keeping.bottles.bottling import bottle_up
from stillroom.keeping.bottles.stock import (
    discard_bottle,
    pour_together,
    put_right,
    set_keep_until,
    take_out,
)
from stillroom.keeping.bottles.tinctures import unbottled
from stillroom.keeping.cupboard.cupboard import add_spirit
from stillroom.keeping.cupboard.lot_reading import herb_lots
from stillroom.keeping.cupboard.lot_views import HerbLotView
from stillroom.keeping.cupboard.lots import add_lot, discard_herb, dry, give_herb, lay_out
from stillroom.keeping.cupboard.taking import charge_of_lot
from stillroom.keeping.drafts import (
    BlendDraft,
    BlendPartDraft,
    BottleDraft,
    BottlingDraft,
    ChargeDraft,
    HerbLotDraft,
    JarDraft,
    PourDraft,
    SpiritDraft,
    StrainDraft,
)
from stillroom.keeping.jars.jar import discard_jar, fill_jar, top_up
from stillroom.keeping.jars.jar_view import jar_view
from stillroom.keeping.jars.straining import strain
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.undo import undo
from stillroom.keeping.views import BottleRow
from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.states import BY_HAND, HerbCame, LiquidKind
from stillroom.reckoning.yields import Pressing

HERBS = ("Calendula", "Yarrow", "Fennel", "Thyme", "Elecampane")
PEOPLE = ("Ada", "B. at the market", "ada", "")


class RandomShelf:
    """Acts at random, on days that follow each other at random."""

    def __init__(self, keeper: Keeper, clock: SetClock, seed: int) -> None:
        self.keeper, self.clock, self.dice = keeper, clock, random.Random(seed)
        self.jars: list[int] = []
        self.spirits: list[int | None] = [None]

    def run(self, acts: int) -> None:
        """Do so many acts, some of which the shelf refuses."""
        self.buy()
        self.buy()
        weighted: list[tuple[Callable[[], None], float]] = [
            (self.get_herb, 3), (self.lay_out, 2), (self.dry, 3), (self.lose_herb, 1),
            (self.fill, 5), (self.strain, 6), (self.bottle, 8), (self.take, 14), (self.count, 3),
            (self.blend, 3), (self.discard, 2), (self.expire, 1), (self.combine, 1),
            (self.buy, 1), (self.top_up, 1), (self.throw_jar_out, 0.3), (self.undo, 1),
        ]  # fmt: skip
        kinds, weights = zip(*weighted, strict=True)
        for _ in range(acts):
            self.clock.advance(days=self.dice.choice((0, 1, 2, 5, 13)))
            with suppress(Refused, NeedsConfirmation):
                self.dice.choices(kinds, weights)[0]()

    def buy(self) -> None:
        price = self.dice.choice((None, 0.0, 18.5, 31.0))
        bought_ml = self.dice.choice((None, 2000.0, 5000.0))
        strength = self.dice.choice((40, 70, 96))
        draft = SpiritDraft("Vodka", strength, bought_ml, price, self.keeper.today)
        self.spirits.append(add_spirit(self.keeper, draft))

    def fill(self) -> None:
        charges = tuple(
            ChargeDraft(
                herb,
                self.dice.choice((Part.LEAF, Part.ROOT)),
                self.dice.choice(list(Condition)),
                self.dice.choice((None, 40.0, 75.5, 120.0)),
            )
            for herb in self.dice.sample(HERBS, self.dice.choice((1, 1, 1, 2)))
        )
        lots = [lot for lot in herb_lots(self.keeper) if lot.is_in_store and not lot.is_drying]
        if lots and self.dice.random() < 0.6:
            charges = (charge_of_lot(self.dice.choice(lots), 20.0), *charges[1:])
        pours = [self.poured()]
        if self.dice.random() < 0.3:
            pours.append(PourDraft(LiquidKind.WATER, 50))
        day = self.keeper.today
        draft = JarDraft(charges, tuple(pours), day, day + timedelta(days=14))
        self.jars.append(fill_jar(self.keeper, draft).jar_id)

    def get_herb(self) -> None:
        draft = HerbLotDraft(
            self.dice.choice(HERBS),
            self.dice.choice((Part.LEAF, Part.ROOT)),
            self.dice.choice(list(Condition)),
            self.dice.choice(list(HerbCame)),
            self.keeper.today,
            mass_g=self.dice.choice((300.0, 900.0)),
            price=self.dice.choice((None, 12.0)),
        )
        add_lot(self.keeper, draft)

    def a_lot(self) -> HerbLotView:
        if not (lots := [lot for lot in herb_lots(self.keeper) if lot.is_in_store]):
            raise Refused("There is no lot.")
        return self.dice.choice(lots)

    def lay_out(self) -> None:
        lot = self.a_lot()
        lay_out(self.keeper, lot.lot_id, self.dice.choice((None, 100.0)))

    def dry(self) -> None:
        drying = [lot for lot in herb_lots(self.keeper) if lot.is_drying and lot.left_g]
        if drying:
            lot = self.dice.choice(drying)
            dry(self.keeper, lot.lot_id, 0.2 * (lot.left_g or 0.0))

    def lose_herb(self) -> None:
        lot = self.a_lot()
        if self.dice.random() < 0.5:
            give_herb(self.keeper, lot.lot_id, 5.0)
        else:
            discard_herb(self.keeper, lot.lot_id, 10.0)

    def poured(self) -> PourDraft:
        spirit_id = self.dice.choice(self.spirits)
        return PourDraft(LiquidKind.SPIRIT, self.dice.choice((200, 333, 500)), 40, spirit_id)

    def top_up(self) -> None:
        if self.jars:
            top_up(self.keeper, self.dice.choice(self.jars), self.poured())

    def throw_jar_out(self) -> None:
        if self.jars:
            discard_jar(self.keeper, self.jars.pop(0), "mould")

    def strain(self) -> None:
        if not self.jars:
            return
        jar_id = self.jars.pop(0)
        liquid_ml = jar_view(self.keeper, jar_id).outlook.volume_ml
        share = self.dice.uniform(0.5, 0.95)
        pressing = self.dice.choice(list(Pressing))
        draft = StrainDraft(jar_id, self.keeper.today, share * liquid_ml, pressing, confirmed=True)
        strain(self.keeper, draft)

    def bottle(self) -> None:
        if not (waiting := unbottled(self.keeper)):
            return
        tincture = self.dice.choice(waiting)
        volume_ml = tincture.loose_ml * self.dice.choice((0.3, 0.8, 1.0))
        bottles = [BottleDraft(500, volume_ml / 3) for _ in range(3)]
        lost = self.dice.random() < 0.5
        bottle_up(
            self.keeper,
            BottlingDraft(tincture.tincture_id, tuple(bottles), self.keeper.today, lost),
        )

    def full(self) -> BottleRow:
        if not (rows := bottle_rows(self.keeper)):
            raise Refused("There is no bottle.")
        return self.dice.choice(rows)

    def take(self) -> None:
        row = self.full()
        volume_ml = row.left_ml * self.dice.choice((0.1, 0.4, 1.0))
        person = self.dice.choice(PEOPLE)
        kind = self.dice.choice(BY_HAND)
        take_out(self.keeper, row.bottle_id, volume_ml, kind=kind, person=person, confirmed=True)

    def count(self) -> None:
        row = self.full()
        seen_ml = min(row.size_ml, row.left_ml * self.dice.choice((0.9, 1.05)))
        put_right(self.keeper, row.bottle_id, seen_ml)

    def blend(self) -> None:
        first, second = self.full(), self.full()
        parts = tuple(BlendPartDraft(row.bottle_id, row.left_ml / 2) for row in (first, second))
        name = self.dice.choice(("Evening", "Winter"))
        make_blend(self.keeper, BlendDraft(name, parts, self.keeper.today), confirmed=True)

    def discard(self) -> None:
        discard_bottle(self.keeper, self.full().bottle_id, "cloudy")

    def expire(self) -> None:
        row = self.full()
        day = self.keeper.today
        if day > row.made_on:
            set_keep_until(self.keeper, row.tincture_id, day - timedelta(days=1), confirmed=True)
            discard_bottle(self.keeper, row.bottle_id, "past its date")

    def combine(self) -> None:
        row = self.full()
        same = [r for r in bottle_rows(self.keeper) if r.tincture_id == row.tincture_id]
        pour_together(self.keeper, row.bottle_id, self.dice.choice(same).bottle_id)

    def undo(self) -> None:
        undo(self.keeper)
        self.jars = [
            jar_id for (jar_id,) in self.keeper.rows("SELECT id FROM jar WHERE state = 'steeping'")
        ]
        bought = [each for (each,) in self.keeper.rows("SELECT id FROM spirit")]
        self.spirits = [None, *bought]
