"""Random histories of lots: every gram of each herb is somewhere, by a ledger kept by hand."""

import random

import pytest
from tests.builders import filled, spirit

from stillroom.clock import SetClock
from stillroom.errors import NotUnderstood, Refused
from stillroom.keeping.cupboard.lot_reading import herb_lots
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
from stillroom.keeping.drafts import HerbLotDraft
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.shelf_file.check import check
from stillroom.keeping.undo import redo, undo
from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.states import HERB_DISCARDS, HerbCame

HERBS = ("Yarrow", "Elecampane", "Fennel")
ACTS = ("gather", "lay out", "dry", "fill", "give", "discard", "weigh", "use up", "undo")


class Books:
    """What came, and where it went, in g by lot; written without looking at the shelf."""

    def __init__(self) -> None:
        self.held: dict[str, float] = {}

    def copy(self) -> dict[str, float]:
        return dict(self.held)


def one_act(keeper: Keeper, books: Books, luck: random.Random, act: str) -> None:
    if act == "gather" or not books.held:
        grams = round(luck.uniform(50, 900), 1)
        condition = luck.choice(tuple(Condition))
        lot = add_lot(
            keeper,
            HerbLotDraft(luck.choice(HERBS), Part.LEAF, condition, HerbCame.GATHERED,
                         keeper.today, mass_g=grams),
        )  # fmt: skip
        assert lot.code not in books.held
        books.held[lot.code] = grams
        return
    lot = luck.choice(herb_lots(keeper))
    part = books.held[lot.code] * luck.uniform(0.05, 1.2)
    if act == "lay out":
        laid = lay_out(keeper, lot.lot_id, part)
        if laid.code != lot.code:
            books.held[laid.code] = part
            books.held[lot.code] -= part
    elif act == "dry":
        dry_g = books.held[lot.code] * luck.uniform(0.1, 1.1)
        dry(keeper, lot.lot_id, dry_g)
        books.held[lot.code] = dry_g
    elif act == "fill":
        filled(keeper, [charge_of_lot(lot, part)], spirit(500))
        books.held[lot.code] -= part
    elif act == "give":
        give_herb(keeper, lot.lot_id, part)
        books.held[lot.code] -= part
    elif act == "discard":
        discard_herb(keeper, lot.lot_id, part, kind=luck.choice(HERB_DISCARDS))
        books.held[lot.code] -= part
    elif act == "weigh":
        weigh_lot(keeper, lot.lot_id, part)
        books.held[lot.code] = part
    elif act == "use up":
        use_up(keeper, lot.lot_id)
        books.held[lot.code] = 0.0


@pytest.mark.parametrize("seed", range(8))
def test_every_gram_is_in_store_or_in_a_jar_or_written_off(
    keeper: Keeper, clock: SetClock, seed: int
) -> None:
    luck, books = random.Random(seed), Books()
    done, earlier = 0, books.copy()
    for _ in range(30):
        clock.advance(seconds=60)
        act = luck.choice(ACTS)
        before = books.copy()
        if act == "undo":
            if done:
                undo(keeper)
                if luck.random() < 0.5:
                    redo(keeper)
                else:
                    books.held = earlier
                    done = 0
            continue
        try:
            one_act(keeper, books, luck, act)
        except (NotUnderstood, Refused):
            books.held = before
        else:
            earlier, done = before, 1
    held = {lot.code: lot.left_g for lot in herb_lots(keeper)}
    assert held == pytest.approx(books.held, abs=0.05)
    in_jars = keeper.rows("SELECT coalesce(sum(mass_g), 0) FROM charge_line")[0][0]
    came = keeper.rows("SELECT sum(mass_g) FROM herb_lot WHERE from_lot_id IS NULL")[0][0]
    moved = keeper.rows("SELECT coalesce(sum(mass_g), 0) FROM herb_movement")[0][0]
    assert came + moved == pytest.approx(sum(books.held.values()) + in_jars, abs=0.05)
    assert check(keeper) == []
