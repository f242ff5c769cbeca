"""Where what went into a joined, thinned or sweetened batch came from, and where it went."""

from collections.abc import Callable

import pytest

from stillroom.keeping.bottles.blends import make_blend
from stillroom.keeping.bottles.bottling import bottle_up
from stillroom.keeping.bottles.joining import Thinning, joined, thinned
from stillroom.keeping.bottles.status import made_with
from stillroom.keeping.cupboard.cupboard import add_spirit
from stillroom.keeping.cupboard.liquids import add_liquid
from stillroom.keeping.drafts import (
    ALL,
    BlendDraft,
    BlendPartDraft,
    BottleDraft,
    BottlingDraft,
    InputDraft,
    LiquidDraft,
    SpiritDraft,
)
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.trace.ancestry import trace
from stillroom.keeping.trace.recall import recall_words
from stillroom.keeping.views import BottleRow, TinctureView
from stillroom.reckoning.states import InputKind, OtherLiquidKind

Bottled = Callable[..., list[BottleRow]]


@pytest.fixture
def made(keeper: Keeper, bottled: Bottled) -> TinctureView:
    """Sage and Fennel joined (100 mL of 50 %), strengthened to 60 % with Rectified, sweetened with
    a quarter of honey, bottled."""
    spirit_id = add_spirit(keeper, SpiritDraft("Rectified", 96, 1000, origin="Weir, lot 96"))
    honey = LiquidDraft("Honey", OtherLiquidKind.HONEY, 1.42, bought_ml=500, lot="lot H")
    honey_id = add_liquid(keeper, honey)
    (sage,) = bottled("Sage", spirit_abv=60, measured_abv=50, write_off_rest=False)
    (fennel,) = bottled("Fennel", spirit_abv=60, measured_abv=50, write_off_rest=False)
    one = make_blend(
        keeper,
        joined(
            keeper,
            (
                InputDraft(InputKind.BATCH, ALL, sage.tincture_id),
                BlendPartDraft(fennel.bottle_id, 50),
            ),
            keeper.today,
        ),
    )
    strong = make_blend(
        keeper,
        thinned(
            keeper,
            Thinning(
                InputDraft(InputKind.BATCH, ALL, one.tincture_id), 60, keeper.today, spirit_id
            ),
        ),
    )
    sweet = make_blend(
        keeper,
        BlendDraft(
            "Sweet",
            (),
            keeper.today,
            others=(
                InputDraft(InputKind.BATCH, ALL, strong.tincture_id),
                InputDraft(InputKind.LIQUID, strong.volume_ml / 3, honey_id),
            ),
        ),
    )
    return bottle_up(
        keeper, BottlingDraft(sweet.tincture_id, (BottleDraft(100, 100),), keeper.today)
    )


def test_a_bottle_is_traced_to_everything_that_went_into_it(
    keeper: Keeper, made: TinctureView
) -> None:
    labels = [node.label for node in trace(keeper, f"{made.code}.1").walk()]
    for name in ("Sage", "Fennel", "Rectified", "Honey"):
        assert name in labels, name
    details = " ".join(node.detail for node in trace(keeper, made.code).walk())
    assert "Weir, lot 96" in details
    assert "lot H" in details


@pytest.mark.parametrize("words", ["Sage", "Fennel", "lot 96", "Honey", "lot H"])
def test_recall_finds_the_bottle_from_each_of_them(
    keeper: Keeper, made: TinctureView, words: str
) -> None:
    found = {node.label for root in recall_words(keeper, words) for node in root.walk()}
    assert f"{made.code}.1" in found


def test_recall_lists_how_much_of_a_liquid_is_where(keeper: Keeper, made: TinctureView) -> None:
    """A quarter of the bottle of 100 mL is honey."""
    (root,) = recall_words(keeper, "Honey")
    bottle = next(node for node in root.walk() if node.label == f"{made.code}.1")
    assert bottle.contains_ml == pytest.approx(25)


def test_everything_made_with_one_of_them_is_found_for_withdrawal(
    keeper: Keeper, made: TinctureView
) -> None:
    assert made.code in {view.code for view in made_with(keeper, [1])}
    assert made.code in {view.code for view in made_with(keeper, [2])}
