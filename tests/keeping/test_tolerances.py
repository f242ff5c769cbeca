"""A volume of exactly the tolerance counts as empty everywhere."""

import re
from collections.abc import Callable

import pytest

from stillroom.errors import Refused
from stillroom.keeping.bottles.blends import plan_blend
from stillroom.keeping.bottles.bottle_views import bottle_rows
from stillroom.keeping.bottles.bottling import bottle_up
from stillroom.keeping.bottles.stock import (
    all_if_it_reads_so,
    discard_bottle,
    pour_together,
    put_right,
    take_out,
)
from stillroom.keeping.bottles.stock_outlook import stock_outlook
from stillroom.keeping.bottles.stocktake import settle_stocktake
from stillroom.keeping.cupboard.cupboard import add_spirit
from stillroom.keeping.drafts import (
    BlendDraft,
    BlendPartDraft,
    BottleDraft,
    BottlingDraft,
    SpiritDraft,
)
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.tolerances import EMPTY_ML
from stillroom.keeping.trace.recall import recall_spirit
from stillroom.keeping.views import BottleRow
from stillroom.keeping.wording import wording

Bottled = Callable[..., list[BottleRow]]


@pytest.fixture
def vodka(keeper: Keeper) -> int:
    return add_spirit(keeper, SpiritDraft("Vodka", 40.0))


@pytest.fixture
def empty(keeper: Keeper, bottled: Bottled, vodka: int) -> BottleRow:
    """A bottle of 100 mL that holds exactly the tolerance, from one filling."""
    (row,) = bottled("Fennel", spirit_id=vodka, place="Larder", write_off_rest=False)
    small = (BottleDraft(100, EMPTY_ML, "Larder"),)
    bottle_up(keeper, BottlingDraft(row.tincture_id, small, keeper.today))
    return max(bottle_rows(keeper, empties=True), key=lambda each: each.bottle_id)


@pytest.fixture
def full(keeper: Keeper, empty: BottleRow) -> BottleRow:
    return min(bottle_rows(keeper), key=lambda each: each.bottle_id)


def test_a_bottle_within_the_tolerance_is_empty_in_the_list_and_for_every_act(
    keeper: Keeper, empty: BottleRow, full: BottleRow
) -> None:
    assert empty.left_ml == EMPTY_ML
    assert empty not in bottle_rows(keeper)
    for act in (
        lambda: take_out(keeper, empty.bottle_id, 1),
        lambda: discard_bottle(keeper, empty.bottle_id, ""),
        lambda: pour_together(keeper, empty.bottle_id, full.bottle_id),
    ):
        with pytest.raises(Refused, match="empty"):
            act()
    assert all_if_it_reads_so(empty, 0.004, wording(keeper)) == 0.004


def test_the_tolerance_itself_is_too_little_to_draw_or_to_correct(
    keeper: Keeper, empty: BottleRow, full: BottleRow
) -> None:
    with pytest.raises(Refused, match="too little to record"):
        take_out(keeper, full.bottle_id, EMPTY_ML)
    assert 2 * EMPTY_ML - empty.left_ml == EMPTY_ML
    with pytest.raises(Refused, match="exactly what is recorded"):
        put_right(keeper, empty.bottle_id, 2 * EMPTY_ML)


def test_a_stock_take_ignores_what_is_within_the_tolerance(
    keeper: Keeper, empty: BottleRow, full: BottleRow
) -> None:
    seen = {full.bottle_id: full.left_ml}
    assert settle_stocktake(keeper, "Larder", seen).not_counted == ()
    recorded = seen | {empty.bottle_id: 0.0}
    found = settle_stocktake(keeper, "Larder", seen | {empty.bottle_id: 2 * EMPTY_ML}, recorded)
    assert found.differences == ()


def test_a_blend_cannot_take_what_is_within_the_tolerance(
    keeper: Keeper, empty: BottleRow, full: BottleRow, bottled: Bottled
) -> None:
    (other,) = bottled("Anise")
    parts = (BlendPartDraft(empty.bottle_id, EMPTY_ML), BlendPartDraft(other.bottle_id, 10))
    with pytest.raises(Refused, match=f"Bottle {empty.code} is empty."):
        plan_blend(keeper, BlendDraft("Seeds", parts, keeper.today))


def test_recall_lists_a_bottle_within_the_tolerance_as_empty(
    keeper: Keeper, empty: BottleRow, vodka: int
) -> None:
    (node,) = [n for n in recall_spirit(keeper, vodka).walk() if empty.code in n.label]
    assert node.detail.startswith("empty")


def test_the_outlook_leaves_out_a_herb_with_only_the_tolerance_left(
    keeper: Keeper, bottled: Bottled
) -> None:
    bottled("Anise", sizes_ml=(EMPTY_ML,))
    bottled("Fennel", sizes_ml=(2 * EMPTY_ML,))
    assert [row.herb for row in stock_outlook(keeper)] == ["Fennel"]


def test_the_rules_of_the_schema_allow_what_counts_as_empty(keeper: Keeper) -> None:
    """Every tolerance in a CHECK or a trigger is the one constant."""
    rules = "\n".join(sql for (sql,) in keeper.rows("SELECT sql FROM sqlite_schema") if sql)
    found = [float(figure) for figure in re.findall(r"[-+] ?(0?\.\d+)\b", rules)]
    found += [float(figure) for figure in re.findall(r"BETWEEN -(0?\.\d+)\b", rules)]
    assert len(found) > 8
    assert set(found) == {EMPTY_ML}
