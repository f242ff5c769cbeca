"""Blends: what they make, what went into them, and what they may not do."""

import random
from collections.abc import Callable
from datetime import date, timedelta

import pytest

from stillroom.clock import SetClock
from stillroom.errors import NeedsConfirmation, NotUnderstood, Refused
from stillroom.keeping.bottles.blends import blend_parts, make_blend, plan_blend, shared_out
from stillroom.keeping.bottles.bottle_views import bottle_row, bottle_rows, bottle_view
from stillroom.keeping.bottles.bottling import bottle_up
from stillroom.keeping.bottles.labels import labels_for
from stillroom.keeping.bottles.stock import set_keep_until, take_out
from stillroom.keeping.bottles.tinctures import tincture_view, unbottled
from stillroom.keeping.contents import herb_equivalents
from stillroom.keeping.drafts import (
    ALL,
    BlendDraft,
    BlendPartDraft,
    BottleDraft,
    BottlingDraft,
    ChargeDraft,
    ToTake,
)
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.undo import redo, undo
from stillroom.keeping.views import BottleRow, TinctureView
from stillroom.reckoning.charge import Condition, Part
from stillroom.records.tables import Tincture

Bottled = Callable[..., list[BottleRow]]


def draft(keeper: Keeper, *parts: tuple[BottleRow, ToTake], name: str = "Digestive") -> BlendDraft:
    return BlendDraft(
        name,
        tuple(BlendPartDraft(bottle.bottle_id, volume_ml) for bottle, volume_ml in parts),
        keeper.today,
    )


def bottle(keeper: Keeper, tincture: TinctureView, volume_ml: float) -> BottleRow:
    bottles = (BottleDraft(volume_ml, volume_ml),)
    bottle_up(keeper, BottlingDraft(tincture.tincture_id, bottles, keeper.today))
    return next(row for row in bottle_rows(keeper) if row.tincture_id == tincture.tincture_id)


def test_a_blend_draws_its_parts_and_waits_to_be_bottled(keeper: Keeper, bottled: Bottled) -> None:
    (fennel,) = bottled("Fennel")
    (anise,) = bottled("Anise")
    made = make_blend(keeper, draft(keeper, (fennel, 60), (anise, 40)))

    assert (made.code, made.name, made.is_blend) == ("26-003", "Digestive", True)
    assert [h.herb for h in made.herbs] == ["Fennel", "Anise"]
    assert made in unbottled(keeper)
    assert bottle_row(keeper, fennel.bottle_id).left_ml == pytest.approx(40)
    last = bottle_view(keeper, fennel.bottle_id).movements[-1]
    assert (last.kind, last.volume_ml, last.note) == ("blend", -60, "into 26-003")
    parts = blend_parts(keeper, made.tincture_id)
    assert [(part.bottle.code, part.volume_ml, part.share_percent) for part in parts] == [
        (fennel.code, 60, 60),
        (anise.code, 40, 40),
    ]


def test_strong_and_weak_liquid_contract_together_and_keep_their_ethanol(
    keeper: Keeper, bottled: Bottled
) -> None:
    (weak,) = bottled("Fennel", measured_abv=40)
    (strong,) = bottled("Myrrh", spirit_abv=96, measured_abv=90)
    plan = plan_blend(keeper, draft(keeper, (weak, 100), (strong, 50)))
    assert plan.poured_ml == 150
    assert 1 < plan.contraction_ml < 3
    assert plan.strength_abv is not None
    assert plan.volume_ml * plan.strength_abv == pytest.approx(100 * 40 + 50 * 90)
    assert plan.strength_by == "calculated"


def test_a_blend_that_contracts_holds_all_the_herb_of_its_parts(
    keeper: Keeper, bottled: Bottled
) -> None:
    """60 mL each of 50 and 85 % by weight, which NBS Bulletin 9 prints at 0.91384 and 0.83095 g/cc.

    54.83 and 49.86 g hold 69.79 g of ethanol, 66.67 %; 66 and 67 % are 0.87713 and 0.87477 g/cc,
    so they are 119.57 mL together. Ethanol itself is 0.78934.
    """
    weak_abv, strong_abv = 50 * 0.91384 / 0.78934, 85 * 0.83095 / 0.78934
    (weak,) = bottled("Fennel", spirit_abv=weak_abv, measured_abv=weak_abv)
    (strong,) = bottled("Myrrh", spirit_abv=strong_abv, measured_abv=strong_abv)
    drawn = draft(keeper, (weak, 60), (strong, 60))
    of_each = [h for b in (weak, strong) for h in herb_equivalents(keeper, b.tincture_id)]
    made = plan_blend(keeper, drawn)
    assert made.volume_ml == pytest.approx(119.57, abs=0.05)
    for herb, before in zip(made.herbs, of_each, strict=True):
        assert herb.herb == before.herb
        assert herb.g_per_ml == pytest.approx((before.g_per_ml or 0) * 60 / 119.57, rel=5e-4)
    blend = make_blend(keeper, drawn)
    assert herb_equivalents(keeper, blend.tincture_id) == made.herbs


def test_planning_a_blend_writes_nothing(keeper: Keeper, bottled: Bottled) -> None:
    (fennel,) = bottled("Fennel")
    (anise,) = bottled("Anise")
    before = keeper.rows("SELECT count(*), sum(volume_ml) FROM movement")
    plan_blend(keeper, draft(keeper, (fennel, 60), (anise, 40)))
    assert keeper.rows("SELECT count(*), sum(volume_ml) FROM movement") == before


def test_herbs_are_given_in_grams_per_millilitre(keeper: Keeper, bottled: Bottled) -> None:
    # 40 g with 4 mL of water in 200 mL of 40 %: 204 mL, no noticeable contraction.
    (fennel,) = bottled("Fennel", measured_abv=40)
    angelica = ChargeDraft("Angelica", Part.ROOT, Condition.DRIED, 30)
    ginger = ChargeDraft("Ginger", Part.ROOT, Condition.FRESH, 10)
    (roots,) = bottled(angelica, ginger, measured_abv=40)  # 3 + 7 mL of water: 210 mL
    plan = plan_blend(keeper, draft(keeper, (fennel, 75), (roots, 25)))
    told = [(h.herb, h.part, h.condition, h.g_per_ml) for h in plan.herbs]
    assert told == [
        ("Fennel", "seed", "dried", pytest.approx(0.75 * 40 / 204, rel=2e-3)),
        ("Angelica", "root", "dried", pytest.approx(0.25 * 30 / 210, rel=2e-3)),
        ("Ginger", "root", "fresh", pytest.approx(0.25 * 10 / 210, rel=2e-3)),
    ]
    # 75 mL with 75 · 200 / 204 mL poured in them, and 25 with 25 · 200 / 210.
    assert plan.ratio == pytest.approx(5)
    made = make_blend(keeper, draft(keeper, (fennel, 75), (roots, 25)))
    assert herb_equivalents(keeper, made.tincture_id) == plan.herbs


def test_a_herb_by_eye_has_no_figure_and_the_others_keep_theirs(
    keeper: Keeper, bottled: Bottled
) -> None:
    (fennel,) = bottled("Fennel")
    by_eye = ChargeDraft("Angelica", Part.ROOT, Condition.DRIED)
    weighed = ChargeDraft("Ginger", Part.ROOT, Condition.DRIED, 20)
    (roots,) = bottled(by_eye, weighed)
    plan = plan_blend(keeper, draft(keeper, (fennel, 50), (roots, 50)))
    told = {h.herb: h.g_per_ml for h in plan.herbs}
    assert told["Angelica"] is None
    assert told["Ginger"] == pytest.approx(0.5 * 20 / 202, rel=2e-3)
    assert told["Fennel"] == pytest.approx(0.5 * 40 / 204, rel=2e-3)
    assert (plan.ratio, plan.strength_by) == (None, "estimated")


def test_a_blend_of_blends_carries_every_herb_through(keeper: Keeper, bottled: Bottled) -> None:
    (fennel,) = bottled("Fennel", measured_abv=40)
    (anise,) = bottled("Anise", measured_abv=40)
    (ginger,) = bottled("Ginger", measured_abv=40)
    first = make_blend(keeper, draft(keeper, (fennel, 50), (anise, 50)))
    second = make_blend(
        keeper, draft(keeper, (bottle(keeper, first, 100), 60), (ginger, 40), (fennel, 20))
    )
    assert [h.herb for h in second.herbs] == ["Fennel", "Ginger", "Anise"]  # most first
    told = {h.herb: h.g_per_ml for h in herb_equivalents(keeper, second.tincture_id)}
    # Of 120 mL, 30 + 20 are Fennel, 30 Anise and 40 Ginger, each 40 g in 204 mL.
    per_ml = 40 / 204
    assert told == pytest.approx(
        {"Fennel": 50 * per_ml / 120, "Anise": 30 * per_ml / 120, "Ginger": 40 * per_ml / 120},
        rel=2e-3,
    )


def test_blends_of_any_depth_are_followed(keeper: Keeper, bottled: Bottled) -> None:
    (last,) = bottled("Fennel", measured_abv=40)
    (anise,) = bottled("Anise", measured_abv=40)
    for _ in range(25):
        last = bottle(keeper, make_blend(keeper, draft(keeper, (last, 50), (anise, 0.5))), 50)
    told = {h.herb: h.g_per_ml for h in herb_equivalents(keeper, last.tincture_id)}
    left = (50 / 50.5) ** 25
    per_ml = 40 / 204
    assert told == pytest.approx({"Fennel": left * per_ml, "Anise": (1 - left) * per_ml}, rel=2e-3)


def test_keep_until_is_the_earliest_of_its_parts(keeper: Keeper, bottled: Bottled) -> None:
    (old,) = bottled("Fennel", days_ago=400)
    (new,) = bottled("Anise")
    plan = plan_blend(keeper, draft(keeper, (old, 50), (new, 50)))
    assert plan.keep_until == old.keep_until


def test_keep_until_is_no_later_than_the_strength_allows(keeper: Keeper, bottled: Bottled) -> None:
    (weak,) = bottled("Fennel", spirit_abv=25)
    (strong,) = bottled("Anise", spirit_abv=25)
    for each in (weak, strong):
        set_keep_until(keeper, each.tincture_id, date(2040, 1, 1))
    plan = plan_blend(keeper, draft(keeper, (weak, 50), (strong, 50)))
    assert plan.strength_abv is not None
    assert 20 < plan.strength_abv < 25
    assert plan.keep_until == date(2027, 11, 26)
    assert any("May not keep" in said for said in plan.warnings)


def test_a_blend_too_weak_to_keep_is_marked_and_keeps_for_days_only(
    keeper: Keeper, bottled: Bottled
) -> None:
    (weak,) = bottled("Fennel", spirit_abv=15)
    (weaker,) = bottled("Anise", spirit_abv=12)
    set_keep_until(keeper, weak.tincture_id, date(2027, 1, 1), confirmed=True)
    plan = plan_blend(keeper, draft(keeper, (weak, 50), (weaker, 50)))
    assert plan.keep_until == keeper.today + timedelta(days=7)
    assert any("Too weak to keep" in said for said in plan.warnings)


def test_an_unknown_strength_makes_the_strength_of_its_blends_unknown(
    keeper: Keeper, bottled: Bottled
) -> None:
    (fennel,) = bottled("Fennel")
    (anise,) = bottled("Anise")
    with keeper.act("Forgot a strength"):
        Tincture.update(strength_abv=None, strength_by="unknown").where(
            Tincture.id == anise.tincture_id
        ).execute()
    plan = plan_blend(keeper, draft(keeper, (fennel, 50), (anise, 50)))
    assert (plan.strength_abv, plan.strength_by) == (None, "unknown")
    assert plan.volume_ml == pytest.approx(100)
    assert plan.keep_until == anise.keep_until
    assert f"The blend's strength is not known: {anise.code} has no strength." in plan.warnings
    assert make_blend(keeper, draft(keeper, (fennel, 50), (anise, 50))).strength_abv is None


def test_a_part_past_its_date_is_asked_about_once(
    keeper: Keeper, bottled: Bottled, clock: SetClock
) -> None:
    (fennel,) = bottled("Fennel")
    (anise,) = bottled("Anise")
    set_keep_until(keeper, fennel.tincture_id, keeper.today + timedelta(days=1))
    clock.advance(days=2)
    wanted = draft(keeper, (fennel, 50), (anise, 50))
    with pytest.raises(NeedsConfirmation, match=r"keep-until date, 27 Nov 2026\. Blend anyway\?"):
        make_blend(keeper, wanted)
    assert unbottled(keeper) == []
    assert make_blend(keeper, wanted, confirmed=True).keep_until == date(2026, 11, 27)


@pytest.mark.parametrize("seed", range(4))
def test_a_blend_lists_its_herbs_by_weight(keeper: Keeper, bottled: Bottled, seed: int) -> None:
    """Regulation (EU) 1169/2011, article 18(1): in descending order of weight."""
    dice = random.Random(seed)
    names = ["Fennel", "Anise", "Caraway", "Dill"]
    grams = dict(zip(names, dice.sample([8, 15, 29, 55], 4), strict=True))
    by_eye = ChargeDraft("Cumin", Part.SEED, Condition.DRIED)
    parts = [(bottled(by_eye)[0], 50)]
    weights = {}
    for name in names:
        herb = ChargeDraft(name, Part.SEED, Condition.DRIED, grams[name])
        volume_ml = dice.choice([30, 40, 50])
        # 200 mL of spirit, and what water is in the herb.
        weights[name] = volume_ml * grams[name] / (200 + 0.1 * grams[name])
        parts.append((bottled(herb)[0], volume_ml))
    dice.shuffle(parts)
    made = make_blend(keeper, draft(keeper, *parts))
    by_weight = sorted(weights, key=lambda name: -weights[name])
    assert [herb.herb for herb in made.herbs] == [*by_weight, "Cumin"]
    row = bottle(keeper, made, 100)
    assert [herb.herb for herb in labels_for(keeper, [row.bottle_id])[0].herbs] == [
        *by_weight,
        "Cumin",
    ]


def test_a_blend_never_takes_more_than_a_bottle_holds(keeper: Keeper, bottled: Bottled) -> None:
    (fennel,) = bottled("Fennel")
    (anise,) = bottled("Anise")
    wanted = draft(keeper, (fennel, 50), (anise, 120))
    assert plan_blend(keeper, wanted).obstacles == (
        "Not enough left: 26-002.1 holds 100 mL, not 120 mL.",
    )
    with pytest.raises(Refused, match="holds 100 mL, not 120 mL"):
        make_blend(keeper, wanted)
    assert bottle_row(keeper, fennel.bottle_id).left_ml == 100


def test_the_rest_of_a_bottle_can_go_into_a_blend(keeper: Keeper, bottled: Bottled) -> None:
    (fennel,) = bottled("Fennel")
    (anise,) = bottled("Anise")
    take_out(keeper, fennel.bottle_id, 62.5)
    made = make_blend(keeper, draft(keeper, (fennel, ALL), (anise, 40)))
    assert made.volume_ml == pytest.approx(77.5)
    assert bottle_row(keeper, fennel.bottle_id).left_ml == 0
    again = draft(keeper, (fennel, ALL), (anise, 40))
    with pytest.raises(Refused, match=r"Bottle 26-001\.1 is empty"):
        make_blend(keeper, again)


def test_a_blend_of_one_batch_is_refused(keeper: Keeper, bottled: Bottled) -> None:
    first, second = bottled("Fennel", sizes_ml=(50, 50))
    with pytest.raises(Refused, match="needs two tinctures"):
        make_blend(keeper, draft(keeper, (first, 20), (second, 20)))


@pytest.mark.parametrize(("days", "said"), [(1, "is in the future"), (-3, "26-001.1 was made")])
def test_a_blend_is_dated_after_its_parts_and_not_in_the_future(
    keeper: Keeper, bottled: Bottled, days: int, said: str
) -> None:
    (fennel,) = bottled("Fennel", days_ago=2)
    (anise,) = bottled("Anise", days_ago=20)
    parts = (BlendPartDraft(fennel.bottle_id, 20), BlendPartDraft(anise.bottle_id, 20))
    with pytest.raises(Refused, match=said):
        make_blend(keeper, BlendDraft("Digestive", parts, keeper.today + timedelta(days=days)))


def test_a_blend_made_yesterday_is_entered_under_yesterday(
    keeper: Keeper, bottled: Bottled
) -> None:
    (fennel,) = bottled("Fennel", days_ago=9)
    (anise,) = bottled("Anise", days_ago=9)
    parts = (BlendPartDraft(fennel.bottle_id, 20), BlendPartDraft(anise.bottle_id, 20))
    yesterday = keeper.today - timedelta(days=1)
    assert make_blend(keeper, BlendDraft("Digestive", parts, yesterday)).made_on == yesterday
    assert bottle_view(keeper, fennel.bottle_id).movements[-1].day == yesterday


@pytest.mark.parametrize(
    ("volumes", "said"),
    [
        ((), "how much goes in"),
        ((20, 0), "greater than zero"),
        ((20, -5), "greater than zero"),
        ((20, float("nan")), "greater than zero"),
        ((20, float("inf")), "greater than zero"),
    ],
)
def test_parts_that_make_no_sense_are_refused(
    keeper: Keeper, bottled: Bottled, volumes: tuple[float, ...], said: str
) -> None:
    bottles = [*bottled("Fennel"), *bottled("Anise")]
    with pytest.raises(Refused, match=said):
        plan_blend(keeper, draft(keeper, *zip(bottles, volumes, strict=False)))


def test_a_bottle_is_listed_once_and_must_exist(keeper: Keeper, bottled: Bottled) -> None:
    (fennel,) = bottled("Fennel")
    with pytest.raises(Refused, match="each bottle only once"):
        plan_blend(keeper, draft(keeper, (fennel, 10), (fennel, 10)))
    gone = BlendDraft("Digestive", (BlendPartDraft(fennel.bottle_id + 9, 10),), keeper.today)
    with pytest.raises(Refused, match="no longer exists"):
        plan_blend(keeper, gone)


def test_a_blend_needs_a_name(keeper: Keeper, bottled: Bottled) -> None:
    (fennel,) = bottled("Fennel")
    (anise,) = bottled("Anise")
    with pytest.raises(NotUnderstood, match="name is needed"):
        make_blend(keeper, draft(keeper, (fennel, 10), (anise, 10), name=" "))


def test_a_blend_is_undone_and_redone_completely(keeper: Keeper, bottled: Bottled) -> None:
    (fennel,) = bottled("Fennel")
    (anise,) = bottled("Anise")
    made = make_blend(keeper, draft(keeper, (fennel, 60), (anise, 40)))
    assert undo(keeper) == "Blended Digestive 26-003"
    assert unbottled(keeper) == []
    assert bottle_row(keeper, fennel.bottle_id) == fennel
    redo(keeper)
    assert tincture_view(keeper, made.tincture_id) == made


def test_shares_in_parts_become_volumes() -> None:
    assert shared_out(120, [(1, 2), (2, 1)]) == (BlendPartDraft(1, 80), BlendPartDraft(2, 40))
    assert shared_out(200, [(1, 60), (2, 40)]) == (BlendPartDraft(1, 120), BlendPartDraft(2, 80))


@pytest.mark.parametrize(
    ("total_ml", "shares"), [(0, [(1, 1)]), (100, []), (100, [(1, 0)]), (100, [(1, 3), (2, -1)])]
)
def test_totals_and_parts_that_must_be_greater_than_zero_are_refused(
    total_ml: float, shares: list[tuple[int, float]]
) -> None:
    with pytest.raises(Refused, match="greater than zero"):
        shared_out(total_ml, shares)


def test_a_blend_with_dried_herb_by_eye_has_an_estimated_strength_and_not_at_most(
    keeper: Keeper, bottled: Bottled
) -> None:
    (fennel,) = bottled("Fennel")
    (roots,) = bottled(ChargeDraft("Angelica", Part.ROOT, Condition.DRIED))
    plan = plan_blend(keeper, draft(keeper, (fennel, 50), (roots, 50)))
    assert (plan.strength_by, plan.strength_at_most) == ("estimated", False)


@pytest.mark.parametrize("shares", [[(1, 0), (2, 1)], [(1, 2), (2, -1)], []])
def test_a_part_of_zero_is_refused(shares: list[tuple[int, float]]) -> None:
    with pytest.raises(Refused, match="greater than zero"):
        shared_out(100, shares)
