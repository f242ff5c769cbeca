"""Batches made of others: joined, thinned, strengthened, sweetened."""

from collections.abc import Callable

import pytest

from stillroom.errors import Refused
from stillroom.keeping.bottles.blends import make_blend, plan_blend
from stillroom.keeping.bottles.bottle_views import bottle_row
from stillroom.keeping.bottles.bottling import bottle_up
from stillroom.keeping.bottles.joining import Taken, Thinning, joined, thinned
from stillroom.keeping.bottles.tinctures import tincture_view
from stillroom.keeping.contents import herb_equivalents
from stillroom.keeping.cupboard.cupboard import add_spirit, spirits
from stillroom.keeping.cupboard.liquids import add_liquid, change_liquid, liquids, remove_liquid
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
from stillroom.keeping.shelf_file.check import check
from stillroom.keeping.undo import redo, undo
from stillroom.keeping.views import BottleRow, TinctureView
from stillroom.reckoning.states import InputKind, OtherLiquidKind, StrengthBy

Bottled = Callable[..., list[BottleRow]]


def waiting(tincture_id: int, volume_ml: float | None = None) -> InputDraft:
    return InputDraft(InputKind.BATCH, ALL if volume_ml is None else volume_ml, tincture_id)


def all_of(row: BottleRow) -> BlendPartDraft:
    return BlendPartDraft(row.bottle_id, ALL)


def thin(keeper: Keeper, taken: Taken, target: float, spirit_id: int | None = None) -> TinctureView:
    draft = thinned(keeper, Thinning(taken, target, keeper.today, spirit_id))
    return make_blend(keeper, draft)


def add(
    keeper: Keeper, kind: OtherLiquidKind, density: float, glycerol: float | None = None
) -> int:
    return add_liquid(
        keeper, LiquidDraft(kind.capitalize(), kind, density, bought_ml=1000, glycerol=glycerol)
    )


def test_the_water_in_a_thinned_batch_counts_in_its_ratio(keeper: Keeper, bottled: Bottled) -> None:
    """The herb is what was in the bottle; its liquid is what was poured on, and the water."""
    (sage,) = bottled("Sage", measured_abv=40, write_off_rest=False)
    before = tincture_view(keeper, sage.tincture_id)
    (herb,) = herb_equivalents(keeper, sage.tincture_id)
    assert before.ratio is not None
    assert herb.g_per_ml is not None
    grams = herb.g_per_ml * sage.left_ml
    plan = plan_blend(keeper, thinned(keeper, Thinning(all_of(sage), 20, keeper.today)))
    (water,) = plan.inputs
    made = thin(keeper, all_of(sage), 20)
    in_all = (before.ratio * grams + water.volume_ml) / grams
    assert made.ratio == pytest.approx(in_all)
    assert plan.ratio == pytest.approx(in_all)
    assert check(keeper) == []


def test_unbottled_batches_and_bottles_are_joined_under_a_new_code(
    keeper: Keeper, bottled: Bottled
) -> None:
    """Of 150 mL each 100 mL are in a bottle and 50 mL wait."""
    (sage,) = bottled("Sage", measured_abv=40, write_off_rest=False)
    (fennel,) = bottled("Fennel", measured_abv=40, write_off_rest=False)
    made = make_blend(
        keeper,
        joined(keeper, (waiting(sage.tincture_id), all_of(fennel)), keeper.today),
    )
    assert (made.code, made.name, made.volume_ml) == ("26-003", "Sage", pytest.approx(150))
    assert tincture_view(keeper, sage.tincture_id).loose_ml == 0
    assert bottle_row(keeper, fennel.bottle_id).left_ml == 0
    assert tincture_view(keeper, fennel.tincture_id).loose_ml == pytest.approx(50)
    # Each was 40 g in a jar of 204 mL; a third is Sage and two thirds Fennel.
    grams = {h.herb: h.g_per_ml for h in herb_equivalents(keeper, made.tincture_id)}
    (of_one,) = (h.g_per_ml for h in herb_equivalents(keeper, sage.tincture_id))
    assert of_one is not None
    assert grams["Sage"] == pytest.approx(of_one / 3)
    assert grams["Fennel"] == pytest.approx(of_one * 2 / 3)
    assert check(keeper) == []
    undo(keeper)
    assert tincture_view(keeper, sage.tincture_id).loose_ml == pytest.approx(50)
    assert bottle_row(keeper, fennel.bottle_id).left_ml == pytest.approx(100)
    redo(keeper)
    assert check(keeper) == []


def test_no_more_is_joined_than_is_left(keeper: Keeper, bottled: Bottled) -> None:
    (sage,) = bottled("Sage", write_off_rest=False)
    (fennel,) = bottled("Fennel")
    draft = joined(keeper, (waiting(sage.tincture_id, 51), all_of(fennel)), keeper.today)
    with pytest.raises(Refused, match="Only 50 mL is left of 26-001, not 51 mL"):
        make_blend(keeper, draft)
    with pytest.raises(Refused, match="Nothing is left of 26-002"):
        plan_blend(
            keeper, joined(keeper, (waiting(fennel.tincture_id), all_of(sage)), keeper.today)
        )


@pytest.mark.parametrize(
    ("target", "ml_of_963"), [(80, 830.7), (70, 726.9), (60, 623.1), (50, 519.2), (20, 207.7)]
)
def test_thinning_gives_the_volumes_printed_in_the_pharmacopoeia(
    keeper: Keeper, bottled: Bottled, target: float, ml_of_963: float
) -> None:
    """BP dilute ethanols: so much of 96 % (by its limits 96.3 %) is made up to 1000 mL."""
    (sage,) = bottled(
        "Sage", sizes_ml=[ml_of_963], spirit_abv=96.3, poured_ml=1200, yield_ml=1100,
        measured_abv=96.3,
    )  # fmt: skip
    made = thin(keeper, all_of(sage), target)
    assert made.volume_ml == pytest.approx(1000, abs=0.2)
    assert made.strength_abv == pytest.approx(target, abs=1e-6)
    assert made.strength_by == StrengthBy.CALCULATED
    assert check(keeper) == []


def test_strengthening_takes_spirit_from_the_cupboard(keeper: Keeper, bottled: Bottled) -> None:
    """500 mL of 40 % to 60 %: an independent sum of ethanol over mass, densities from Perry:
    40 % is 0.94806, 96 % 0.80742 and 60 % 0.90911 g/mL at 20 °C."""
    (sage,) = bottled("Sage", sizes_ml=[500], poured_ml=700, yield_ml=600, measured_abv=40)
    spirit_id = add_spirit(keeper, SpiritDraft("Rectified", 96, 1000))
    made = thin(keeper, all_of(sage), 60, spirit_id)
    # v·(40·500 + 96·x)/100 = 60/100·V and 0.90911·V = 0.94806·500 + 0.80742·x
    x = (60 * 0.94806 * 500 / 0.90911 - 40 * 500) / (96 - 60 * 0.80742 / 0.90911)
    assert 1000 - (spirits(keeper)[0].left_ml or 0) == pytest.approx(x, rel=1e-3)
    assert made.strength_abv == pytest.approx(60, abs=1e-6)
    with pytest.raises(Refused, match="can't bring it from"):
        thin(keeper, waiting(made.tincture_id), 97, spirit_id)
    with pytest.raises(Refused, match="Water of 0 % v/v can't bring it from"):
        thin(keeper, waiting(made.tincture_id), 70)


def test_a_batch_can_be_thinned_before_any_of_it_is_bottled(
    keeper: Keeper, bottled: Bottled
) -> None:
    (sage,) = bottled("Sage", spirit_abv=60, measured_abv=50, write_off_rest=False)
    made = thin(keeper, waiting(sage.tincture_id), 30)
    assert made.name == "Sage"
    assert tincture_view(keeper, sage.tincture_id).is_to_bottle is False
    bottles = (BottleDraft(50, 50),)
    assert bottle_up(keeper, BottlingDraft(made.tincture_id, bottles, keeper.today)).loose_ml > 30
    assert check(keeper) == []


def test_glycerine_and_spirit_give_the_printed_strength(keeper: Keeper, bottled: Bottled) -> None:
    """A printed exercise of pharmacy: coal tar solution 80 mL (85 % alcohol), glycerin 160 mL,
    alcohol 500 mL (95 %), boric acid solution to make 1000 mL: 54.3 % (de.scribd.com/doc/62992467,
    question b). The watery solution is taken as water; how much it takes is found here by halving.
    """
    (tar,) = bottled("Sage", sizes_ml=[80], spirit_abv=90, measured_abv=85)
    spirit_id = add_spirit(keeper, SpiritDraft("Alcohol", 95, 2000))
    glycerine = add(keeper, OtherLiquidKind.GLYCERINE, 1.261, glycerol=100.0)

    def mixed_with(water_ml: float) -> BlendDraft:
        return BlendDraft(
            "Liniment", (all_of(tar),), keeper.today,
            others=(
                InputDraft(InputKind.LIQUID, 160, glycerine),
                InputDraft(InputKind.SPIRIT, 500, spirit_id),
                InputDraft(InputKind.WATER, water_ml),
            ),
        )  # fmt: skip

    low, high = 200.0, 400.0
    for _ in range(40):
        middle = (low + high) / 2
        low, high = (
            (middle, high) if plan_blend(keeper, mixed_with(middle)).volume_ml < 1000
            else (low, middle)
        )  # fmt: skip
    made = make_blend(keeper, mixed_with(low))
    assert made.volume_ml == pytest.approx(1000, abs=1e-6)
    assert made.strength_abv == pytest.approx(54.3, abs=1e-6)
    assert made.others.glycerol_percent == pytest.approx(16)
    assert low > 1000 - 80 - 160 - 500  # spirit and water shrink, so more goes in
    assert check(keeper) == []


@pytest.mark.parametrize(
    ("taken_ml", "tincture_abv", "least", "most"),
    [
        # Cherry Syrup, NF 30 (USP 35, page 1754): 20 mL of alcohol in 1000 mL, 1.0 to 2.0 %.
        (20, 95, 1.0, 2.0),
        # Orange Syrup, NF 27 (USP 32): 50 mL of sweet orange peel tincture, which is of 62 to 72 %
        # alcohol, in 1000 mL: 2.0 to 5.0 %.
        (50, 62, 2.0, 5.0),
        (50, 72, 2.0, 5.0),
    ],
)
def test_syrups_have_the_alcohol_printed_in_the_formulary(
    keeper: Keeper,
    bottled: Bottled,
    taken_ml: float,
    tincture_abv: float,
    least: float,
    most: float,
) -> None:
    (peel,) = bottled("Orange", sizes_ml=[taken_ml], spirit_abv=96, measured_abv=tincture_abv)
    syrup = add(keeper, OtherLiquidKind.SYRUP, 1.3)
    made = make_blend(
        keeper,
        BlendDraft(
            "Syrup", (all_of(peel),), keeper.today,
            others=(InputDraft(InputKind.LIQUID, 1000 - taken_ml, syrup),),
        ),
    )  # fmt: skip
    assert made.strength_abv is not None
    assert least <= made.strength_abv <= most


def test_where_there_is_no_rule_for_keeping_the_shares_are_shown_and_no_verdict(
    keeper: Keeper, bottled: Bottled
) -> None:
    (sage,) = bottled("Sage", measured_abv=40)
    glycerine = add(keeper, OtherLiquidKind.GLYCERINE, 1.261, glycerol=99.5)
    draft = BlendDraft(
        "Sweet", (BlendPartDraft(sage.bottle_id, 40),), keeper.today,
        others=(InputDraft(InputKind.LIQUID, 60, glycerine),),
    )  # fmt: skip
    plan = plan_blend(keeper, draft)
    said = " ".join(plan.warnings)
    assert "without contraction" in said
    assert "Glycerine 60 %, glycerol 59.7 %" in said
    assert "from 25 to 80 %" in said
    assert "Too weak" not in said
    made = make_blend(keeper, draft)
    assert (made.keep_until, made.strength_abv) == (None, pytest.approx(16))
    assert not [line for line in made.to_mind if "weak" in line]
    # Strong enough for the rule of alcohol, whatever else is in it.
    strong = BlendDraft(
        "Strong", (BlendPartDraft(sage.bottle_id, 55),), keeper.today,
        others=(InputDraft(InputKind.LIQUID, 5, glycerine),),
    )  # fmt: skip
    assert plan_blend(keeper, strong).keep_until is not None


def test_other_liquids_are_carried_through_batches_and_thinning(
    keeper: Keeper, bottled: Bottled
) -> None:
    (sage,) = bottled("Sage", sizes_ml=[140], measured_abv=40)
    honey = add(keeper, OtherLiquidKind.HONEY, 1.42)
    sweet = make_blend(
        keeper,
        BlendDraft(
            "Sweet", (BlendPartDraft(sage.bottle_id, 100),), keeper.today,
            others=(InputDraft(InputKind.LIQUID, 100, honey),),
        ),
    )  # fmt: skip
    assert sweet.others.share == pytest.approx(0.5)
    weak = thin(keeper, waiting(sweet.tincture_id), 10)
    assert weak.strength_abv == pytest.approx(10, abs=1e-6)
    assert weak.volume_ml * weak.others.share == pytest.approx(100)
    assert weak.volume_ml * (weak.strength_abv or 0) == pytest.approx(4000)
    assert check(keeper) == []


def test_a_liquid_in_use_keeps_its_density_and_cannot_be_deleted(
    keeper: Keeper, bottled: Bottled
) -> None:
    (sage,) = bottled("Sage")
    honey = add(keeper, OtherLiquidKind.HONEY, 1.42)
    others = (InputDraft(InputKind.LIQUID, 900, honey),)
    made = make_blend(keeper, BlendDraft("Sweet", (all_of(sage),), keeper.today, others=others))
    assert liquids(keeper)[0].left_ml == pytest.approx(100)
    changed = LiquidDraft("Honey", OtherLiquidKind.HONEY, 1.4, bought_ml=1000)
    with pytest.raises(Refused, match=r"has been used\. Correct its density"):
        change_liquid(keeper, honey, changed)
    with pytest.raises(Refused, match="can't be deleted"):
        remove_liquid(keeper, honey)
    with pytest.raises(Refused, match="Only 100 mL is left"):
        make_blend(
            keeper,
            BlendDraft(
                "More", (), keeper.today,
                others=(InputDraft(InputKind.LIQUID, 101, honey), waiting(made.tincture_id)),
            ),
        )  # fmt: skip
