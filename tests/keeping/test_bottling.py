"""The bottles proposed for a volume, and filled."""

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from stillroom.errors import Refused
from stillroom.keeping.bottles.bottle_views import bottle_rows
from stillroom.keeping.bottles.bottling import bottle_up, propose_bottles
from stillroom.keeping.cupboard.cupboard import keep_bottle_size
from stillroom.keeping.drafts import BottleDraft, BottlingDraft, ChargeDraft
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.tolerances import LOOSE_ML
from stillroom.reckoning.charge import Condition, Part

from .. import builders
from ..examples import examples


def proposed(keeper: Keeper, volume_ml: float) -> list[tuple[float, float]]:
    """Size and content of each, in mL."""
    bottles = propose_bottles(keeper, volume_ml)
    return [(bottle.size_ml, round(bottle.volume_ml, 6)) for bottle in bottles]


@pytest.mark.parametrize(
    ("volume_ml", "bottles"),
    [
        (100, [(100, 100)]),
        (99.9, [(100, 99.9)]),  # not 3 × 30 mL and a rest
        (247, [(100, 100), (100, 97), (50, 50)]),
        (430, [(100, 100)] * 4 + [(30, 30)]),
        (12, [(30, 12)]),
        (405, [(100, 100)] * 4 + [(30, 5)]),
    ],
)
def test_the_proposal_is_full_bottles_or_one_nearly_full(
    keeper: Keeper, volume_ml: float, bottles: list[tuple[float, float]]
) -> None:
    for size_ml in (100, 50, 30):
        keep_bottle_size(keeper, size_ml, None)
    assert proposed(keeper, volume_ml) == bottles


def test_default_sizes_are_proposed_until_the_shelf_has_its_own(keeper: Keeper) -> None:
    """500, 250, 100 and 50 mL: common practice, no source."""
    assert proposed(keeper, 900) == [(500, 500), (250, 250), (100, 100), (50, 50)]


def test_no_more_bottles_are_proposed_than_there_are_empties(keeper: Keeper) -> None:
    keep_bottle_size(keeper, 100, 1)
    keep_bottle_size(keeper, 30, 2)
    assert proposed(keeper, 199) == [(100, 100), (30, 30), (30, 30)]


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=examples(100))
@given(volume_ml=st.floats(0.1, 5000))
def test_all_the_liquid_is_bottled_and_at_most_one_bottle_is_not_full(
    keeper: Keeper, volume_ml: float
) -> None:
    bottles = propose_bottles(keeper, volume_ml)
    assert sum(bottle.volume_ml for bottle in bottles) == pytest.approx(volume_ml, abs=LOOSE_ML)
    assert all(0 < bottle.volume_ml <= bottle.size_ml for bottle in bottles)
    short = [bottle for bottle in bottles if bottle.volume_ml < bottle.size_ml]
    assert len(short) <= 1
    # 250, 100, 100 and two of 50 at most beside the largest.
    assert len(bottles) <= volume_ml // 500 + 5


@pytest.mark.parametrize(
    ("yield_ml", "volumes", "filled"),
    [
        (434.7, (250, 185), (250, 184.7)),  # 435 mL, as it reads
        (434.7, (250, 184), (250, 184)),
        (434.7, (435, 0.2), None),  # the last bottle is less than the difference
        (434.7, (250, 186), None),
    ],
)
def test_bottles_typed_as_the_rest_is_shown_take_all_of_it(
    keeper: Keeper,
    yield_ml: float,
    volumes: tuple[float, ...],
    filled: tuple[float, ...] | None,
) -> None:
    herb = ChargeDraft("Fennel", Part.SEED, Condition.DRIED, 40)
    jar_id = builders.filled(keeper, (herb,), builders.spirit(600, 40), days=0)
    tincture = builders.strained(keeper, jar_id, yield_ml)
    draft = BottlingDraft(
        tincture.tincture_id, tuple(BottleDraft(500, each) for each in volumes), keeper.today
    )
    if filled is None:
        with pytest.raises(Refused, match=r"need 43\d mL, but only 435 mL is left to bottle"):
            bottle_up(keeper, draft)
    else:
        bottle_up(keeper, draft)
        held = sorted((row.left_ml for row in bottle_rows(keeper)), reverse=True)
        assert held == pytest.approx(filled)
