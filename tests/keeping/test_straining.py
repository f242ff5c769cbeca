"""What a straining teaches, what it shows about herb by eye, and what is asked about."""

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta

import pytest

from stillroom.errors import NeedsConfirmation
from stillroom.keeping.bottles.blends import make_blend, plan_blend
from stillroom.keeping.bottles.bottle_views import bottle_row, bottle_rows
from stillroom.keeping.bottles.bottling import bottle_up
from stillroom.keeping.bottles.tinctures import tincture_view
from stillroom.keeping.drafts import (
    BlendDraft,
    BlendPartDraft,
    BottleDraft,
    BottlingDraft,
    ChargeDraft,
    JarDraft,
    PourDraft,
)
from stillroom.keeping.jars.expecting import yield_outlook
from stillroom.keeping.jars.jar import fill_jar
from stillroom.keeping.jars.jar_view import jar_view
from stillroom.keeping.jars.learning import own_strainings
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import save_settings, settings_of
from stillroom.keeping.trace.ancestry import trace_bottle
from stillroom.keeping.views import BottleRow, JarView, TinctureView
from stillroom.keeping.wording import wording
from stillroom.quantities import UnitSystem
from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.states import LiquidKind
from stillroom.reckoning.yields import KNOWN_PRESSINGS, Pressing
from stillroom.records.tables import Tincture

from .. import builders
from ..builders import retentions_seen

Bottled = Callable[..., list[BottleRow]]

DRIED, FRESH = Condition.DRIED, Condition.FRESH


def herb(
    name: str = "Sage",
    mass_g: float | None = 100,
    condition: Condition = DRIED,
    part: Part = Part.LEAF,
) -> ChargeDraft:
    return ChargeDraft(name, part, condition, mass_g)


def jar_of(
    keeper: Keeper, *herbs: ChargeDraft, poured_ml: float = 500, spirit_abv: float = 40
) -> JarView:
    day = keeper.today - timedelta(days=20)
    pours = (PourDraft(LiquidKind.SPIRIT, poured_ml, spirit_abv),)
    return jar_view(keeper, fill_jar(keeper, JarDraft(herbs, pours, day, keeper.today)).jar_id)


def strained(
    keeper: Keeper,
    jar: JarView,
    yield_ml: float,
    pressing: Pressing = Pressing.SQUEEZED,
    *,
    measured_abv: float | None = None,
    confirmed: bool = False,
) -> TinctureView:
    return builders.strained(
        keeper,
        jar.card.jar_id,
        yield_ml,
        pressing,
        measured_abv=measured_abv,
        confirmed=confirmed,
    )


def in_bottle(keeper: Keeper, tincture: TinctureView, size_ml: float = 100) -> BottleRow:
    bottles = (BottleDraft(size_ml, size_ml),)
    bottle_up(keeper, BottlingDraft(tincture.tincture_id, bottles, keeper.today))
    (row,) = [r for r in bottle_rows(keeper) if r.tincture_id == tincture.tincture_id]
    return row


def test_strainings_of_a_herb_teach_its_next_yield(keeper: Keeper) -> None:
    strained(keeper, jar_of(keeper, herb("Sage")), 310)
    strained(keeper, jar_of(keeper, herb("Thyme")), 370)
    sage, thyme = jar_of(keeper, herb("Sage")), jar_of(keeper, herb("Thyme"))
    # 500 mL poured and 10 mL of the herb's water, less a hair of contraction, on 100 g.
    assert retentions_seen(keeper, sage, Pressing.SQUEEZED) == [pytest.approx(2.0, abs=0.02)]
    assert retentions_seen(keeper, thyme, Pressing.SQUEEZED) == [pytest.approx(1.4, abs=0.02)]
    assert [own.yield_ml for own in own_strainings(keeper, Pressing.SQUEEZED, sage)] == [310]
    sage_ml = yield_outlook(keeper, sage, Pressing.SQUEEZED).expected_ml or 0
    thyme_ml = yield_outlook(keeper, thyme, Pressing.SQUEEZED).expected_ml or 0
    assert 310 < sage_ml < 320 < 360 < thyme_ml < 370


def test_strainings_of_every_herb_are_used_where_the_herb_has_none(keeper: Keeper) -> None:
    strained(keeper, jar_of(keeper, herb("Sage")), 310)
    mint = jar_of(keeper, herb("Peppermint"))
    (own,) = own_strainings(keeper, Pressing.SQUEEZED, mint)
    assert (own.yield_ml, own.is_same_herb) == (310, False)
    outlook = yield_outlook(keeper, mint, Pressing.SQUEEZED)
    assert outlook.rests_on == 1
    # Two of the published 1.8 mL per g and one of 2.0: 510 − 187 mL, and as wide as before.
    assert outlook.expected_ml == pytest.approx(323, abs=1)
    assert (outlook.high_ml or 0) - (outlook.low_ml or 0) == pytest.approx(4 * 0.447 * 100, abs=1)


def test_another_part_of_the_plant_is_learned_separately(keeper: Keeper) -> None:
    strained(keeper, jar_of(keeper, herb("Angelica", part=Part.ROOT)), 310)
    seed = jar_of(keeper, herb("Angelica", part=Part.SEED))
    assert not any(o.is_same_herb for o in own_strainings(keeper, Pressing.SQUEEZED, seed))


def test_fresh_and_dried_are_learned_separately(keeper: Keeper) -> None:
    for _ in range(3):
        strained(keeper, jar_of(keeper, herb(condition=FRESH), poured_ml=200), 190)
    dried, fresh = jar_of(keeper, herb()), jar_of(keeper, herb(condition=FRESH), poured_ml=200)
    assert retentions_seen(keeper, dried, Pressing.SQUEEZED) == []
    thyme = jar_of(keeper, herb("Thyme"))
    assert yield_outlook(keeper, thyme, Pressing.SQUEEZED).rests_on == 0
    assert len(retentions_seen(keeper, fresh, Pressing.SQUEEZED)) == 3
    assert yield_outlook(keeper, dried, Pressing.SQUEEZED).expected_ml == pytest.approx(330, abs=1)


def test_each_way_of_pressing_is_learned_separately(keeper: Keeper) -> None:
    strained(keeper, jar_of(keeper, herb()), 420, Pressing.PRESSED)
    jar = jar_of(keeper, herb())
    counts = {how: yield_outlook(keeper, jar, how).rests_on for how in KNOWN_PRESSINGS}
    assert counts == {Pressing.DRAINED: 0, Pressing.SQUEEZED: 0, Pressing.PRESSED: 1}


def test_a_jar_with_a_pinch_of_a_herb_teaches_nothing_about_it(keeper: Keeper) -> None:
    strained(keeper, jar_of(keeper, herb("Sage", 5), herb("Myrrh", 95, part=Part.RESIN)), 400)
    sage, myrrh = jar_of(keeper, herb("Sage")), jar_of(keeper, herb("Myrrh", part=Part.RESIN))
    assert not any(o.is_same_herb for o in own_strainings(keeper, Pressing.SQUEEZED, sage))
    assert all(o.is_same_herb for o in own_strainings(keeper, Pressing.SQUEEZED, myrrh))


def test_the_main_herb_of_a_mixed_jar_is_the_one_that_counts(keeper: Keeper) -> None:
    strained(keeper, jar_of(keeper, herb("Sage")), 310)
    mixed = jar_of(keeper, herb("Myrrh", 5, part=Part.RESIN), herb("Sage", 95))
    (own,) = own_strainings(keeper, Pressing.SQUEEZED, mixed)
    assert own.is_same_herb


def test_a_jar_by_eye_neither_teaches_nor_gets_a_prediction(keeper: Keeper) -> None:
    strained(keeper, jar_of(keeper, herb(mass_g=None)), 400)
    by_eye = jar_of(keeper, herb(mass_g=None))
    assert own_strainings(keeper, Pressing.SQUEEZED, jar_of(keeper, herb())) == []
    assert yield_outlook(keeper, by_eye, Pressing.SQUEEZED).expected_ml is None


@pytest.mark.parametrize("yield_ml", [5, 34, 2500])
def test_a_confirmed_odd_yield_does_not_teach(keeper: Keeper, yield_ml: float) -> None:
    before = yield_outlook(keeper, jar_of(keeper, herb()), Pressing.SQUEEZED)
    strained(keeper, jar_of(keeper, herb()), yield_ml, confirmed=True)
    assert yield_outlook(keeper, jar_of(keeper, herb()), Pressing.SQUEEZED) == before


def test_a_confirmed_odd_yield_among_ten_changes_nothing(keeper: Keeper) -> None:
    for number in range(10):
        strained(keeper, jar_of(keeper, herb()), 325 + number)
    before = yield_outlook(keeper, jar_of(keeper, herb()), Pressing.SQUEEZED)
    assert before.rests_on == 10
    strained(keeper, jar_of(keeper, herb()), 34, confirmed=True)
    assert yield_outlook(keeper, jar_of(keeper, herb()), Pressing.SQUEEZED) == before


@pytest.mark.parametrize(
    ("yield_ml", "question"),
    [
        (34, "34 mL is far less than the 330 mL expected"),
        (500, "500 mL is far more than the 330 mL expected"),
        (2500, "more than the 515 mL this jar can have held"),
    ],
)
def test_an_outlying_yield_is_asked_about(keeper: Keeper, yield_ml: float, question: str) -> None:
    jar = jar_of(keeper, herb())
    with pytest.raises(NeedsConfirmation, match=question):
        strained(keeper, jar, yield_ml)
    made = strained(keeper, jar, yield_ml, confirmed=True)
    assert made.volume_ml == yield_ml
    straining = jar_view(keeper, jar.card.jar_id).straining
    assert straining is not None
    assert straining.confirmed


def test_a_small_yield_from_a_jar_by_eye_is_asked_about(keeper: Keeper) -> None:
    with pytest.raises(NeedsConfirmation, match="30 mL is far less than the 500 mL poured"):
        strained(keeper, jar_of(keeper, herb(mass_g=None)), 30)


@pytest.mark.parametrize(
    ("spirit_abv", "measured_abv", "question"),
    [
        (20, 95, "95 % v/v is stronger than anything poured into the jar: 20 % v/v at most"),
        (96, 5, "5 % v/v is less than half of the 94.* % v/v calculated"),
        (40, 40.1, "stronger than anything poured"),
    ],
)
def test_an_impossible_measured_strength_is_asked_about(
    keeper: Keeper, spirit_abv: float, measured_abv: float, question: str
) -> None:
    jar = jar_of(keeper, herb(), spirit_abv=spirit_abv)
    with pytest.raises(NeedsConfirmation, match=question):
        strained(keeper, jar, 330, measured_abv=measured_abv)
    made = strained(keeper, jar, 330, measured_abv=measured_abv, confirmed=True)
    assert (made.strength_abv, made.strength_by) == (measured_abv, "measured")
    # Only the strength was out of the way: the yield teaches all the same.
    assert len(retentions_seen(keeper, jar_of(keeper, herb()), Pressing.SQUEEZED)) == 1


def test_questions_are_in_the_units_of_the_shelf(keeper: Keeper) -> None:
    save_settings(keeper, replace(settings_of(keeper), units=UnitSystem.US))
    jar = jar_of(keeper, herb(), spirit_abv=20)
    with pytest.raises(NeedsConfirmation, match=r"1\.1 fl oz is far less .* 95 % v/v"):
        strained(keeper, jar, 34, measured_abv=95)


def test_a_possible_measured_strength_is_accepted(keeper: Keeper) -> None:
    jar = jar_of(keeper, herb(), spirit_abv=40)
    assert strained(keeper, jar, 330, measured_abv=38.5).strength_abv == 38.5


def by_eye(keeper: Keeper, yield_ml: float = 340) -> TinctureView:
    """300 mL of 40 % on fresh calendula that was not weighed."""
    calendula = herb("Calendula", None, FRESH, Part.FLOWER)
    return strained(keeper, jar_of(keeper, calendula, poured_ml=300), yield_ml)


def test_a_yield_above_what_was_poured_lowers_the_most_the_strength_can_be(keeper: Keeper) -> None:
    """120 mL of ethanol were poured: in 340 mL they are 35.3 %, and there may be more liquid."""
    made = by_eye(keeper)
    assert made.strength_abv == pytest.approx(100 * (300 * 0.40) / 340)
    assert (made.strength_by, made.strength_at_most) == ("estimated", True)
    assert jar_view(keeper, made.jar_id or 0).outlook.strength_abv == made.strength_abv


def test_a_yield_below_what_was_poured_leaves_the_strength_open(keeper: Keeper) -> None:
    made = by_eye(keeper, 280)
    assert made.strength_abv == pytest.approx(40)
    assert made.strength_at_most


def test_a_lowered_strength_too_weak_to_keep_keeps_for_days_only(keeper: Keeper) -> None:
    calendula = herb("Calendula", None, FRESH, Part.FLOWER)
    made = strained(keeper, jar_of(keeper, calendula, poured_ml=300, spirit_abv=22), 340)
    assert made.strength_abv == pytest.approx(22 * 300 / 340)
    assert made.keep_until == keeper.today + timedelta(days=7)


def test_a_strength_at_most_so_much_is_shown_for_the_bottle_and_in_the_tree(keeper: Keeper) -> None:
    row = in_bottle(keeper, by_eye(keeper))
    assert row.strength_at_most
    assert wording(keeper).finished_strength(row) == "at most 35.3 % v/v"
    assert "at most 35.3 % v/v" in trace_bottle(keeper, row.bottle_id).children[0].detail


def test_a_strength_stored_by_an_earlier_version_is_lowered_when_read(
    keeper: Keeper,
) -> None:
    """The first release wrote the spirit's 40 %: 120 mL of ethanol in 340 mL are 35.3 %."""
    made = by_eye(keeper)
    bottle_id = in_bottle(keeper, made).bottle_id
    with keeper.act("Made as the first release did"):
        Tincture.update(strength_abv=40.0).execute()
    expected = pytest.approx(100 * 120 / 340)
    assert bottle_row(keeper, bottle_id).strength_abv == expected
    assert [row.strength_abv for row in bottle_rows(keeper)] == [expected]
    assert tincture_view(keeper, made.tincture_id).strength_abv == expected


def test_at_most_is_never_rounded_down(keeper: Keeper) -> None:
    """120 mL in 341 mL are 35.19 %: 35.2 % is proved, 35.1 % is not."""
    assert wording(keeper).finished_strength(by_eye(keeper, 341)) == "at most 35.2 % v/v"
    assert wording(keeper).strength_at_most(35.21) == "at most 35.3 % v/v"


def test_at_most_is_carried_into_blends_of_blends(keeper: Keeper, bottled: Bottled) -> None:
    fresh = in_bottle(keeper, by_eye(keeper))
    (fennel, other) = bottled("Fennel", sizes_ml=(60, 60))
    first = BlendDraft(
        "One", (BlendPartDraft(fresh.bottle_id, 50), BlendPartDraft(fennel.bottle_id, 50)),
        keeper.today,
    )  # fmt: skip
    assert plan_blend(keeper, first).strength_at_most
    one = make_blend(keeper, first)
    assert one.strength_at_most
    row = in_bottle(keeper, one, 50)
    assert row.strength_at_most
    two = make_blend(
        keeper,
        BlendDraft(
            "Two", (BlendPartDraft(row.bottle_id, 20), BlendPartDraft(other.bottle_id, 20)),
            keeper.today,
        ),
    )  # fmt: skip
    assert two.strength_at_most
    assert not tincture_view(keeper, fennel.tincture_id).strength_at_most


@pytest.mark.parametrize(
    "charge", [herb("Sage", None), herb("Sage", 100, FRESH)], ids=["dried by eye", "weighed"]
)
def test_a_strength_with_little_in_doubt_is_not_at_most(
    keeper: Keeper, charge: ChargeDraft
) -> None:
    made = strained(keeper, jar_of(keeper, charge, poured_ml=300), 250)
    assert not made.strength_at_most
    assert not in_bottle(keeper, made).strength_at_most


def test_a_measured_strength_is_never_at_most(keeper: Keeper) -> None:
    jar = jar_of(keeper, herb("Calendula", None, FRESH, Part.FLOWER), poured_ml=300)
    made = strained(keeper, jar, 340, measured_abv=33)
    assert not made.strength_at_most
    assert not in_bottle(keeper, made).strength_at_most
