"""Random histories of what is done with materials, against a ledger kept apart.

    python -m tests.keeping.materials [--histories 300] [--seed 1]

The ledger reads nothing but the rows of the file and the printed density table of this folder's
neighbour: from what was bought and weighed it works out what is in a millilitre of each batch, and
what has become of all of it. Herb is gathered, laid out, dried, weighed, given, discarded and used
up; jars are filled by weight and from lots of herb, drained and pressed, poured on again, also
simmered, and have tinctures poured on their herb; batches are joined, thinned, sweetened and lost;
the cupboard is counted and spilled. Mass, ethanol, each herb and each liquid are conserved from
lots and purchases to bottles, losses and marc, counts of the cupboard and weights of herb stay as
they were seen, and every figure of the program agrees with the ledger.
"""

import argparse
import json
import random
import sys
import tempfile
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

from stillroom.clock import SetClock
from stillroom.errors import StillroomError
from stillroom.keeping.bottles.blends import make_blend
from stillroom.keeping.bottles.bottle_views import bottle_rows
from stillroom.keeping.bottles.bottling import bottle_up
from stillroom.keeping.bottles.joining import Taken, Thinning, joined, thinned
from stillroom.keeping.bottles.losses import lose
from stillroom.keeping.bottles.stock import take_out
from stillroom.keeping.bottles.tinctures import unbottled
from stillroom.keeping.correcting.correct import correct
from stillroom.keeping.correcting.facts import facts_of
from stillroom.keeping.correcting.subjects import subject_of_tincture
from stillroom.keeping.cupboard.counting import (
    count_in_cupboard,
    in_cupboard,
    take_from_cupboard,
)
from stillroom.keeping.cupboard.cupboard import add_spirit
from stillroom.keeping.cupboard.liquids import add_liquid
from stillroom.keeping.cupboard.lot_reading import herb_lots
from stillroom.keeping.cupboard.lot_views import HerbLotView
from stillroom.keeping.cupboard.lots import (
    add_lot,
    discard_herb,
    dry,
    give_herb,
    lay_out,
    use_up,
    weigh_lot,
)
from stillroom.keeping.cupboard.taking import charge_of_lot
from stillroom.keeping.drafts import (
    ALL,
    AgainDraft,
    BlendDraft,
    BlendPartDraft,
    BottleDraft,
    BottlingDraft,
    ChargeDraft,
    HerbLotDraft,
    InputDraft,
    LiquidDraft,
    PourDraft,
    SpiritDraft,
    StrainDraft,
)
from stillroom.keeping.jars.marc import pour_again
from stillroom.keeping.jars.straining import drain, strain
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import remember
from stillroom.keeping.undo import redo, undo
from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.states import (
    BY_HAND,
    HERB_DISCARDS,
    LOSS_KINDS,
    CupboardMovementKind,
    HerbCame,
    InputKind,
    LiquidKind,
    OtherLiquidKind,
)
from stillroom.reckoning.yields import Pressing
from stillroom.records.store import Store

from ..builders import filled, strained
from .material_ledger import WATER_IN_DRIED, problems

STEPS = 40
HERBS = ("Sage", "Fennel", "Thyme")


class Materials:
    """One shelf on which things are done at random."""

    def __init__(self, keeper: Keeper, seed: int) -> None:
        self.keeper = keeper
        self.luck = random.Random(seed)
        self.done: Counter[str] = Counter()
        self.counts: dict[tuple[InputKind, int], tuple[float, int, int | None, int | None]] = {}
        """By spirit or liquid what was last seen, and the last rows there were then."""
        self.weights: dict[int, tuple[float, int, int, int]] = {}
        """By lot of herb what it last weighed, and the last rows there were then."""
        self.spirits = [
            (add_spirit(keeper, SpiritDraft(f"Spirit {abv}", abv, 50_000)), abv) for abv in (40, 96)
        ]
        self.liquids = [
            add_liquid(
                keeper, LiquidDraft(str(kind), kind, density, glycerol=glycerol, bought_ml=20_000)
            )
            for kind, density, glycerol in (
                (OtherLiquidKind.GLYCERINE, 1.261, 99.5),
                (OtherLiquidKind.HONEY, 1.42, None),
            )
        ]
        for herb in HERBS:
            add_lot(
                keeper,
                HerbLotDraft(
                    herb, Part.LEAF, Condition.DRIED, HerbCame.BOUGHT, keeper.today,
                    mass_g=400, water_fraction=WATER_IN_DRIED,
                ),
            )  # fmt: skip

    def run(self) -> None:
        """Fill two jars, and then do this and that."""
        self.jar()
        self.jar()
        acts: list[tuple[Callable[[], None], int]] = [
            (self.jar, 3), (self.bottle, 5), (self.take, 3), (self.lose, 3), (self.join, 4),
            (self.again, 3), (self.weigh, 1), (self.count, 3), (self.thin, 4), (self.sweeten, 4),
            (self.correct, 6), (self.undo, 3), (self.redo, 2), (self.press, 3), (self.gather, 2),
            (self.lay_out, 2), (self.dry, 3), (self.part_with, 2), (self.spill, 2),
        ]  # fmt: skip
        kinds, weights = zip(*acts, strict=True)
        for _ in range(STEPS):
            (act,) = self.luck.choices(kinds, weights)
            try:
                act()
                self.done[act.__name__] += 1
            except StillroomError:
                self.done[f"{act.__name__} refused"] += 1

    def jar(self) -> None:
        herbs = self.luck.sample(HERBS, self.luck.randint(1, 2))
        charges = [
            ChargeDraft(herb, Part.LEAF, Condition.DRIED, self.luck.uniform(20, 80), WATER_IN_DRIED)
            for herb in herbs
        ]
        lots = self.lots(lambda lot: not lot.is_drying)
        if lots and self.luck.random() < 0.7:
            lot = self.luck.choice(lots)
            charges[0] = charge_of_lot(lot, (lot.left_g or 0.0) * self.luck.uniform(0.05, 0.4))
        spirit_id, abv = self.luck.choice(self.spirits)
        pours = [PourDraft(LiquidKind.SPIRIT, self.luck.uniform(300, 900), abv, spirit_id)]
        if self.luck.random() < 0.4:
            pours.append(PourDraft(LiquidKind.WATER, self.luck.uniform(20, 200)))
        if self.luck.random() < 0.3:
            liquid_id = self.luck.choice(self.liquids)
            volume_ml = self.luck.uniform(50, 200)
            pours.append(PourDraft(LiquidKind.LIQUID, volume_ml, liquid_id=liquid_id))
        if self.luck.random() < 0.3:
            pours += self.tincture()
        jar_id = filled(self.keeper, charges, *pours, days=0)
        self.strain(jar_id, sum(pour.volume_ml for pour in pours))

    def strain(self, jar_id: int, poured_ml: float) -> None:
        """Strain a jar in one go, or drain it; sometimes the marc is weighed."""
        yield_ml = poured_ml * self.luck.uniform(0.5, 0.8)
        ((herb_g,),) = self.keeper.rows(
            "SELECT coalesce(sum(mass_g), 0) FROM charge_line WHERE jar_id = ?", jar_id
        )
        marc_g = None
        if self.luck.random() < 0.3:
            marc_g = herb_g + (poured_ml - yield_ml) * self.luck.uniform(0.7, 1.1)
        if self.luck.random() < 0.7:
            strained(self.keeper, jar_id, yield_ml, marc_g=marc_g, confirmed=True)
            return
        draft = StrainDraft(
            jar_id, self.keeper.today, 0.6 * yield_ml, Pressing.DRAINED, confirmed=True
        )
        drain(self.keeper, draft)

    def press(self) -> None:
        """Press a jar that was drained; sometimes nothing comes."""
        jars = self.keeper.rows(
            """SELECT j.id, s.yield_ml FROM jar j JOIN straining s ON s.jar_id = j.id
               WHERE j.state = 'drained' ORDER BY j.id"""
        )
        if jars:
            jar_id, so_far_ml = self.luck.choice(jars)
            more_ml = so_far_ml * self.luck.choice((0.0, self.luck.uniform(0.1, 0.5)))
            today = self.keeper.today
            draft = StrainDraft(jar_id, today, more_ml, Pressing.PRESSED, confirmed=True)
            strain(self.keeper, draft)

    def lots(self, are_meant: Callable[[HerbLotView], bool]) -> list[HerbLotView]:
        """Those in store, or of which nothing is left on record, that are meant."""
        return [lot for lot in herb_lots(self.keeper) if lot.is_in_store and are_meant(lot)]

    def gather(self) -> None:
        """Gather fresh leaf."""
        herb, mass_g = self.luck.choice(HERBS), self.luck.uniform(200, 900)
        draft = HerbLotDraft(
            herb, Part.LEAF, Condition.FRESH, HerbCame.GATHERED, self.keeper.today, mass_g=mass_g
        )
        add_lot(self.keeper, draft)

    def lay_out(self) -> None:
        """Lay out fresh herb, all of it or a part."""
        fresh = self.lots(lambda lot: lot.condition is Condition.FRESH and not lot.is_drying)
        if fresh:
            lot = self.luck.choice(fresh)
            part_g = (lot.left_g or 0.0) * self.luck.uniform(0.3, 0.9)
            lay_out(self.keeper, lot.lot_id, self.luck.choice((None, part_g)))

    def dry(self) -> None:
        """Take in what was laid out."""
        drying = self.lots(lambda lot: lot.is_drying)
        if drying:
            lot = self.luck.choice(drying)
            dry(self.keeper, lot.lot_id, (lot.left_g or 0.0) * self.luck.uniform(0.15, 0.3))

    def part_with(self) -> None:
        """Give herb away, discard some, or use a lot up."""
        lots = self.lots(lambda lot: True)
        if not lots:
            return
        lot = self.luck.choice(lots)
        some_g = (lot.left_g or 0.0) * self.luck.uniform(0.05, 0.3)
        how = self.luck.randint(1, 3)
        if how == 1:
            give_herb(self.keeper, lot.lot_id, some_g)
        elif how == 2:
            kind = self.luck.choice(tuple(HERB_DISCARDS))
            discard_herb(self.keeper, lot.lot_id, some_g, kind=kind)
        else:
            use_up(self.keeper, lot.lot_id)

    def spill(self) -> None:
        """Spill some of a spirit or liquid."""
        kind, row_id = self.luck.choice(self.bought)
        volume_ml = self.luck.uniform(5, 50)
        take_from_cupboard(self.keeper, kind, row_id, volume_ml, CupboardMovementKind.SPILL)

    @property
    def bought(self) -> list[tuple[InputKind, int]]:
        """All spirits and liquids."""
        spirits = [(InputKind.SPIRIT, spirit_id) for spirit_id, _ in self.spirits]
        return [*spirits, *((InputKind.LIQUID, liquid_id) for liquid_id in self.liquids)]

    def tincture(self) -> list[PourDraft]:
        """Some out of a bottle, or of what waits to be bottled, to pour on herb."""
        bottles = [(row.left_ml, {"bottle_id": row.bottle_id}) for row in bottle_rows(self.keeper)]
        waiting = [
            (view.loose_ml, {"source_id": view.tincture_id}) for view in unbottled(self.keeper)
        ]
        if not bottles + waiting:
            return []
        held_ml, of = self.luck.choice(bottles + waiting)
        volume_ml = held_ml * self.luck.uniform(0.2, 0.9)
        return [PourDraft(LiquidKind.TINCTURE, volume_ml, **of)]

    def again(self) -> None:
        """Pour spirit on the marc of a strained jar, or simmer it in water, and strain that."""
        jars = self.keeper.rows("""SELECT id FROM jar WHERE state = 'strained' ORDER BY id""")
        if not jars:
            return
        jar_id = self.luck.choice(jars)[0]
        spirit_id, abv = self.luck.choice(self.spirits)
        volume_ml = self.luck.uniform(200, 500)
        is_simmered = self.luck.random() < 0.3
        pour = PourDraft(LiquidKind.SPIRIT, volume_ml, abv, spirit_id)
        if is_simmered:
            pour = PourDraft(LiquidKind.DECOCTION, volume_ml)
        today = self.keeper.today
        draft = AgainDraft(jar_id, (pour,), today, today, simmered=is_simmered)
        self.strain(pour_again(self.keeper, draft).jar_id, volume_ml)

    def weigh(self) -> None:
        """Find a lot of herb a little lighter or heavier than it should be, or some of one that was
        used up."""
        lots = [lot for lot in herb_lots(self.keeper) if not lot.is_drying]
        lot = self.luck.choice(lots)
        seen_g = (lot.left_g or 20.0) * self.luck.uniform(0.9, 1.05)
        weigh_lot(self.keeper, lot.lot_id, seen_g)
        ((mark,),) = self.keeper.rows(
            """SELECT json_array((SELECT max(id) FROM herb_movement),
                                 coalesce((SELECT max(id) FROM charge_line), 0),
                                 (SELECT max(id) FROM herb_lot))"""
        )
        self.weights[lot.lot_id] = (seen_g, *json.loads(mark))

    def misweighed(self) -> Iterator[str]:
        """Where less or more is left than a lot weighed last, less what was taken of it since."""
        for lot_id, (seen_g, movement, charge, split) in self.weights.items():
            is_there = self.keeper.rows(
                "SELECT 1 FROM herb_movement WHERE id = ? AND lot_id = ? AND kind = 'weigh-in'",
                movement, lot_id,
            )  # fmt: skip
            if not is_there:  # undone
                continue
            ((used_g, left_g),) = self.keeper.rows(
                """SELECT coalesce((SELECT sum(mass_g) FROM charge_line
                                    WHERE lot_id = s.lot_id AND id > ?), 0)
                        - coalesce((SELECT sum(mass_g) FROM herb_movement
                                    WHERE lot_id = s.lot_id AND id > ?), 0)
                        + coalesce((SELECT sum(mass_g) FROM herb_lot
                                    WHERE from_lot_id = s.lot_id AND id > ?), 0), left_g
                   FROM in_store s WHERE lot_id = ?""",
                charge, movement, split, lot_id,
            )  # fmt: skip
            if abs(left_g - (seen_g - used_g)) > 0.02:
                yield f"lot {lot_id}: {left_g} g left, by the last weighing {seen_g - used_g}"

    def count(self) -> None:
        """Find a little less or more of a spirit or liquid than there should be."""
        kind, row_id = self.luck.choice(self.bought)
        left_ml = in_cupboard(self.keeper, kind, row_id).left_ml
        seen_ml = (left_ml or 0.0) * self.luck.uniform(0.95, 1.02)
        count_in_cupboard(self.keeper, kind, row_id, seen_ml)
        ((mark,),) = self.keeper.rows(
            """SELECT json_array((SELECT max(id) FROM cupboard_movement),
                                 (SELECT max(id) FROM pour), (SELECT max(id) FROM batch_input))"""
        )
        self.counts[kind, row_id] = (seen_ml, *json.loads(mark))

    def miscounted(self) -> Iterator[str]:
        """Where less or more is left than what was counted last, less what was used since."""
        for (kind, row_id), (seen_ml, movement, pour, put_in) in self.counts.items():
            # Its number may be of a later movement by now, of another spirit.
            is_there = self.keeper.rows(
                f"""SELECT 1 FROM cupboard_movement
                    WHERE id = ? AND {kind}_id = ? AND kind = 'count'""",
                movement, row_id,
            )  # fmt: skip
            if not is_there:  # undone
                continue
            ((used_ml,),) = self.keeper.rows(
                f"""SELECT coalesce((SELECT sum(volume_ml) FROM pour
                                     WHERE {kind}_id = ? AND id > ?), 0)
                         + coalesce((SELECT sum(volume_ml) FROM batch_input
                                     WHERE {kind}_id = ? AND id > ?), 0)
                         - coalesce((SELECT sum(volume_ml) FROM cupboard_movement
                                     WHERE {kind}_id = ? AND id > ?), 0)""",
                row_id, pour or 0, row_id, put_in or 0, row_id, movement,
            )  # fmt: skip
            left_ml = in_cupboard(self.keeper, kind, row_id).left_ml or 0.0
            if abs(left_ml - (seen_ml - used_ml)) > 0.02:
                yield f"{kind} {row_id}: {left_ml} mL left, by the last count {seen_ml - used_ml}"

    def sources(self) -> list[Taken]:
        """All that a bottle holds, or that waits, or a part of it."""
        found: list[Taken] = []
        for row in bottle_rows(self.keeper):
            part_ml = row.left_ml * self.luck.uniform(0.2, 0.9)
            found.append(BlendPartDraft(row.bottle_id, self.luck.choice((ALL, part_ml))))
        for view in unbottled(self.keeper):
            part_ml = view.loose_ml * self.luck.uniform(0.2, 0.9)
            found.append(
                InputDraft(InputKind.BATCH, self.luck.choice((ALL, part_ml)), view.tincture_id)
            )
        self.luck.shuffle(found)
        return found

    def bottle(self) -> None:
        view = self.luck.choice(unbottled(self.keeper) or [None])
        if view:
            volume_ml = view.loose_ml * self.luck.uniform(0.2, 0.95)
            kind = self.luck.choice(LOSS_KINDS)
            is_lost = self.luck.random() < 0.2
            draft = BottleDraft(volume_ml, volume_ml)
            bottling = BottlingDraft(view.tincture_id, (draft,), self.keeper.today, is_lost, kind)
            bottle_up(self.keeper, bottling)

    def take(self) -> None:
        row = self.luck.choice(bottle_rows(self.keeper) or [None])
        if row:
            volume_ml = row.left_ml * self.luck.uniform(0.05, 0.5)
            take_out(
                self.keeper, row.bottle_id, volume_ml, kind=self.luck.choice(BY_HAND),
                confirmed=True,
            )  # fmt: skip

    def lose(self) -> None:
        view = self.luck.choice(unbottled(self.keeper) or [None])
        if view:
            volume_ml = view.loose_ml * self.luck.uniform(0.02, 0.3)
            lose(self.keeper, view.tincture_id, self.luck.choice(LOSS_KINDS), volume_ml)

    def join(self) -> None:
        taken = tuple(self.sources()[: self.luck.randint(2, 4)])
        if taken:
            draft = joined(self.keeper, taken, self.keeper.today)
            make_blend(self.keeper, draft, confirmed=True)

    def thin(self) -> None:
        taken = self.sources()[:1]
        if taken:
            target = self.luck.uniform(15, 70)
            asked = Thinning(taken[0], target, self.keeper.today)
            try:
                draft = thinned(self.keeper, asked)
            except StillroomError:  # it is weaker than that
                draft = thinned(self.keeper, replace(asked, spirit_id=self.spirits[1][0]))
            make_blend(self.keeper, draft, confirmed=True)

    def sweeten(self) -> None:
        taken = self.sources()[: self.luck.randint(1, 2)]
        if not taken:
            return
        added = [
            InputDraft(InputKind.LIQUID, self.luck.uniform(10, 150), each)
            for each in self.luck.sample(self.liquids, self.luck.randint(1, 2))
        ]
        draft = BlendDraft(
            "Sweet",
            tuple(each for each in taken if isinstance(each, BlendPartDraft)),
            self.keeper.today,
            others=(*(each for each in taken if isinstance(each, InputDraft)), *added),
        )
        make_blend(self.keeper, draft, confirmed=True)

    def correct(self) -> None:
        """A volume or weight of any batch, a little more or less."""
        ids = [found for (found,) in self.keeper.rows("SELECT id FROM tincture ORDER BY id")]
        if not ids:
            return
        subject = subject_of_tincture(self.keeper, self.luck.choice(ids))
        facts = [
            fact
            for fact in facts_of(self.keeper, subject)
            if fact.name.rpartition(".")[2].partition("-")[0] in ("volume", "yield", "weight")
            and isinstance(fact.value, float)
            and not fact.is_one_more
        ]
        fact = self.luck.choice(facts)
        assert isinstance(fact.value, float)
        unit = "g" if fact.name.startswith("weight") else "ml"
        # No more comes out of a jar than was in it.
        value = fact.value * self.luck.uniform(0.7, 1.0 if fact.name == "yield" else 1.2)
        correct(self.keeper, subject, {fact.name: f"{value:.2f} {unit}"}, confirmed=True)

    def undo(self) -> None:
        """And sometimes redo it at once, as later nothing can be redone."""
        undo(self.keeper)
        if self.luck.random() < 0.4:
            redo(self.keeper)

    def redo(self) -> None:
        redo(self.keeper)


def live(folder: Path, seed: int) -> tuple[list[str], Counter[str]]:
    """Live one history; what is wrong at its end, and what was done."""
    clock = SetClock(datetime(2026, 11, 26, 9, 15, tzinfo=UTC))
    keeper = Keeper(Store.open(folder / f"{seed}.stillroom", create=True), clock)
    remember(keeper, "cautions_read", "2026-11-26")
    lived = Materials(keeper, seed)
    lived.run()
    found = [*problems(keeper), *lived.miscounted(), *lived.misweighed()]
    keeper.store.close()
    return found, lived.done


def main() -> int:
    """Live many; ends with 1 at the first that doesn't add up."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--histories", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    done: Counter[str] = Counter()
    for seed in range(asked.seed, asked.seed + asked.histories):
        with tempfile.TemporaryDirectory() as folder:
            found, lived = live(Path(folder), seed)
        done += lived
        if found:
            print(f"seed {seed}:", *found, sep="\n")
            return 1
    print(f"{asked.histories} histories add up. Done: {dict(sorted(done.items()))}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
