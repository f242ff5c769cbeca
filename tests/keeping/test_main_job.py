"""The main job, from filling to drawing, through the use cases alone."""

from datetime import timedelta

import pytest

from stillroom.clock import SetClock
from stillroom.errors import NeedsConfirmation, Refused
from stillroom.keeping.bottles.bottle_views import bottle_rows, bottle_view
from stillroom.keeping.bottles.bottling import bottle_up, propose_bottles
from stillroom.keeping.bottles.stock import take_out
from stillroom.keeping.day import day_view
from stillroom.keeping.drafts import (
    BottleDraft,
    BottlingDraft,
    ChargeDraft,
    JarDraft,
    PourDraft,
    StrainDraft,
)
from stillroom.keeping.jars.jar import fill_jar, set_dates, shake
from stillroom.keeping.jars.jar_view import jar_view
from stillroom.keeping.jars.shelves import shelves_view
from stillroom.keeping.jars.straining import strain
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.undo import undo
from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.states import LiquidKind
from stillroom.reckoning.yields import Pressing

from ..builders import calendula


def test_simmered_root_brings_the_water_it_soaked_up(keeper: Keeper) -> None:
    day = keeper.today

    def strength(*, simmered: bool, poured_on: float) -> float:
        draft = JarDraft(
            charges=(ChargeDraft("Elecampane", Part.ROOT, Condition.DRIED, 100),),
            pours=(
                PourDraft(LiquidKind.DECOCTION, poured_on),
                PourDraft(LiquidKind.SPIRIT, 220, 96),
            ),
            filled_on=day,
            strain_on=day + timedelta(days=14),
            simmered=simmered,
        )
        return jar_view(keeper, fill_jar(keeper, draft).jar_id).outlook.strength_abv

    # 1.75 mL per g, of which 10 g were in the dried root before.
    soaked_ml = 175 - 10 / 0.9982
    simmered = strength(simmered=True, poured_on=350)
    assert simmered == pytest.approx(strength(simmered=False, poured_on=350 + soaked_ml), abs=0.01)
    assert simmered < strength(simmered=False, poured_on=350) - 5


def test_a_jar_goes_from_filling_to_a_draw(keeper: Keeper) -> None:
    jar = calendula(keeper)
    assert (jar.code, jar.days_left(keeper.today)) == ("26-001", 14)
    assert shake(keeper, jar.jar_id).shakes_left == 0
    with pytest.raises(Refused, match="has had today's shakes"):
        shake(keeper, jar.jar_id)

    back = keeper.today - timedelta(days=15)
    jar = set_dates(keeper, jar.jar_id, back, back + timedelta(days=14), 1)
    assert shelves_view(keeper).over == (jar,)

    with pytest.raises(NeedsConfirmation, match="more than"):
        strain(keeper, StrainDraft(jar.jar_id, keeper.today, 700, Pressing.SQUEEZED))
    tincture = strain(keeper, StrainDraft(jar.jar_id, keeper.today, 430, Pressing.SQUEEZED))
    assert tincture.ratio == pytest.approx(5)
    bottles = propose_bottles(keeper, tincture.volume_ml)
    tincture = bottle_up(keeper, BottlingDraft(tincture.tincture_id, bottles, keeper.today))
    assert tincture.loose_ml == pytest.approx(0)
    assert shelves_view(keeper).jars == ()

    first, *_ = bottle_rows(keeper)
    assert take_out(keeper, first.bottle_id, 30).left_ml == pytest.approx(first.left_ml - 30)
    assert undo(keeper) == f"Drew 30 mL from {first.code}"
    assert bottle_view(keeper, first.bottle_id).row == first


def test_a_tincture_too_weak_to_keep_is_warned_about_at_every_step(
    keeper: Keeper, clock: SetClock
) -> None:
    charge = ChargeDraft("Sage", Part.LEAF, Condition.FRESH, 100)
    day = keeper.today
    draft = JarDraft(
        (charge,), (PourDraft(LiquidKind.SPIRIT, 200, 20),), day, day + timedelta(days=14)
    )
    jar = fill_jar(keeper, draft)
    clock.advance(days=14)
    tincture = strain(keeper, StrainDraft(jar.jar_id, keeper.today, 200, Pressing.SQUEEZED))
    assert tincture.strength_abv is not None
    assert tincture.strength_abv < 20
    assert tincture.keep_until == keeper.today + timedelta(days=7)
    bottles = (BottleDraft(250, 200),)
    bottle_up(keeper, BottlingDraft(tincture.tincture_id, bottles, keeper.today))
    (bottle,) = day_view(keeper).passing
    clock.advance(days=8)
    with pytest.raises(NeedsConfirmation, match="passed its keep-until date"):
        take_out(keeper, bottle.bottle_id, 30)
