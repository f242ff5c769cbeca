"""Sharing out the cupboard against brute force over a printed density table.

The reference knows nothing of the program: it tries every corner of what can be poured. Volumes are
bounded by what is on hand and add up to a limit, and the share of ethanol by weight is one straight
sum over another, so its greatest value is at a corner: some bottles emptied, at most one of them in
part, and the rest water.
"""

from itertools import combinations, pairwise, product
from random import Random

import pytest

from stillroom.reckoning.alcoholometry import density
from stillroom.reckoning.mixing import (
    Recipe,
    Shortfall,
    SpiritOnHand,
    make_up,
    most_at_strength_ml,
    pours_for_jar,
)

from ..examples import examples
from .printed_density import ETHANOL, FROM_MEMORY, g_per_ml, mixed, steps

WATER_G = 0.99823
"""Of 1 mL at 20 °C: Perry, table of densities of water."""
CLOSE_ABV = 0.05
Cupboard = list[SpiritOnHand]


def test_the_rows_from_memory_continue_the_printed_ones():
    """A wrong digit would put a kink into the fall from row to row."""
    falls = [fall for weight, fall in steps() if weight > 10]
    assert all(abs(b - a) < 0.00025 for a, b in pairwise(falls))
    for weight, printed in FROM_MEMORY.items():
        assert density(weight / 100) / 1000 == pytest.approx(printed, abs=0.00015)


def a_cupboard(random: Random, most: int) -> Cupboard:
    """Bottles limited and unlimited, empty, of one strength, as weak as water."""
    bottles = []
    for _ in range(random.randint(1, most)):
        abv = random.choice(
            [random.uniform(0, 100), random.uniform(20, 96), random.choice([0, 37.5, 40, 50, 96])]
        )
        on_hand = random.choice([None, 0.0, *[random.uniform(1, 900)] * 8])
        bottles.append(SpiritOnHand(abv, on_hand))
    return bottles


def poured(cupboard: Cupboard, recipe: Recipe) -> list[tuple[float, float]]:
    return [
        *((ml, s.strength_abv) for ml, s in zip(recipe.amounts_ml, cupboard, strict=True)),
        (recipe.water_ml, 0.0),
    ]


def best_in_jar(cupboard: Cupboard, poured_ml: float, plant_water_g: float) -> float:
    """The greatest strength of any corner."""
    plant = (plant_water_g / WATER_G, 0.0)
    best = 0.0
    limits = [min(poured_ml, s.limit_ml) for s in cupboard]
    for emptied in product((False, True), repeat=len(cupboard)):
        full = [
            (ml, s.strength_abv)
            for ml, s, is_in in zip(limits, cupboard, emptied, strict=True)
            if is_in
        ]
        left_ml = poured_ml - sum(ml for ml, _ in full)
        if left_ml < -1e-9:
            continue
        for in_part in range(-1, len(cupboard)):
            some = []
            if in_part >= 0:
                if emptied[in_part]:
                    continue
                some = [(min(left_ml, limits[in_part]), cupboard[in_part].strength_abv)]
            rest_ml = left_ml - sum(ml for ml, _ in some)
            best = max(best, mixed([*full, *some, (max(0.0, rest_ml), 0.0), plant])[1])
    return best


def emptied_into(limits: list[float], cupboard: Cupboard, emptied: tuple[bool, ...]):
    each = zip(limits, cupboard, emptied, strict=True)
    return [(ml, spirit.strength_abv) for ml, spirit, is_in in each if is_in]


def best_made_up(cupboard: Cupboard, volume_ml: float) -> float:
    """The same for a volume after mixing: the last bottle, or water, fills it to the mark."""
    best = 0.0
    limits = [min(2 * volume_ml, s.limit_ml) for s in cupboard]
    for emptied in product((False, True), repeat=len(cupboard)):
        full = [
            (ml, s.strength_abv)
            for ml, s, is_in in zip(limits, cupboard, emptied, strict=True)
            if is_in
        ]
        if full and sum(ml for ml, _ in full) > 0.0 and mixed(full)[0] > volume_ml + 1e-6:
            continue
        for last in range(-1, len(cupboard)):
            if last >= 0 and emptied[last]:
                continue
            limit_ml, abv = (limits[last], cupboard[last].strength_abv) if last >= 0 else (0.0, 0.0)
            some_ml = to_the_mark(full, abv, limit_ml, volume_ml)
            water_ml = to_the_mark([*full, (some_ml, abv)], 0.0, 2 * volume_ml, volume_ml)
            best = max(best, mixed([*full, (some_ml, abv), (water_ml, 0.0)])[1])
    return best


def to_the_mark(full: list[tuple[float, float]], abv: float, most_ml: float, mark_ml: float):
    low, high = 0.0, most_ml
    for _ in range(40):
        middle = (low + high) / 2
        if middle > 0 and mixed([*full, (middle, abv)])[0] > mark_ml:
            high = middle
        else:
            low = middle
    return high


def check(cupboard: Cupboard, recipe: Recipe, best_abv: float, plant_water_g: float = 0.0) -> None:
    """Nothing more than is on hand, what it says it is, and the target or else the very best."""
    for ml, spirit in zip(recipe.amounts_ml, cupboard, strict=True):
        assert 0.0 <= ml <= spirit.limit_ml
    assert recipe.water_ml >= 0.0
    jar_abv = mixed([*poured(cupboard, recipe), (plant_water_g / WATER_G, 0.0)])[1]
    assert jar_abv == pytest.approx(recipe.result.strength_abv, abs=CLOSE_ABV)
    assert jar_abv == pytest.approx(min(recipe.target_abv, best_abv), abs=CLOSE_ABV)
    if recipe.is_reached:
        assert recipe.result.strength_abv == pytest.approx(recipe.target_abv, abs=1e-6)
    if abs(recipe.target_abv - best_abv) > CLOSE_ABV:
        assert recipe.is_reached == (recipe.target_abv < best_abv)


@pytest.mark.parametrize(
    ("seed", "cupboards", "most"),
    [(1, examples(2500), 4), (8, examples(2500), 4), (2, examples(200), 8)],
)
def test_the_pours_for_a_jar_agree_with_brute_force(seed, cupboards, most):
    random = Random(seed)
    for _ in range(cupboards):
        cupboard = a_cupboard(random, most)
        poured_ml = random.uniform(50, 2000)
        plant_water_g = random.choice([0.0, random.uniform(0, poured_ml)])
        target_abv = random.uniform(1, 96)
        recipe = pours_for_jar(cupboard, target_abv, poured_ml, plant_water_g)
        assert sum(ml for ml, _ in poured(cupboard, recipe)) == pytest.approx(poured_ml)
        check(cupboard, recipe, best_in_jar(cupboard, poured_ml, plant_water_g), plant_water_g)


@pytest.mark.parametrize(("seed", "cupboards", "most"), [(3, examples(500), 4), (4, 4, 7)])
def test_a_volume_made_up_agrees_with_brute_force(seed, cupboards, most):
    random = Random(seed)
    for _ in range(cupboards):
        cupboard = a_cupboard(random, most)
        volume_ml, target_abv = random.uniform(50, 2000), random.uniform(1, 96)
        recipe = make_up(cupboard, target_abv, volume_ml)
        assert mixed(poured(cupboard, recipe))[0] == pytest.approx(volume_ml, rel=0.0005)
        check(cupboard, recipe, best_made_up(cupboard, volume_ml))


def test_the_largest_volume_of_a_strength_agrees_with_brute_force():
    random = Random(5)
    tried = 0
    for _ in range(80):
        cupboard = a_cupboard(random, 4)
        target_abv = random.uniform(5, 90)
        most_ml = most_at_strength_ml(cupboard, target_abv, 5000.0)
        if 10.0 < most_ml < 4900.0:
            tried += 1
            assert best_made_up(cupboard, most_ml) == pytest.approx(target_abv, abs=CLOSE_ABV)
            assert best_made_up(cupboard, 1.02 * most_ml) < target_abv
    assert tried > 15


def vertices(cupboard: Cupboard, target_abv: float, poured_ml: float, plant_water_g: float):
    """Every corner that reaches a strength in the jar: all bottles empty or full but for two.

    Each corner is the amounts with the water last; both sums in the reference's own figures.
    """
    limits = [*(s.limit_ml for s in cupboard), float("inf")]
    strengths = [*(s.strength_abv for s in cupboard), 0.0]
    goal_g = target_abv / 100 * ETHANOL / g_per_ml(target_abv)
    gain = [abv / 100 * ETHANOL - goal_g * g_per_ml(abv) for abv in strengths]
    places = range(len(limits))
    for two in combinations(places, 2):
        others = [i for i in places if i not in two]
        choices = [(0.0,) if limits[i] == float("inf") else (0.0, limits[i]) for i in others]
        for chosen in product(*choices):
            amounts = dict(zip(others, chosen, strict=True))
            ml = poured_ml - sum(chosen)
            lacking = goal_g * plant_water_g - sum(gain[i] * a for i, a in amounts.items())
            a, b = two
            if abs(gain[a] - gain[b]) < 1e-6:
                continue
            amounts[a] = (lacking - gain[b] * ml) / (gain[a] - gain[b])
            amounts[b] = ml - amounts[a]
            if all(0.0 <= amounts[i] <= limits[i] for i in two):
                yield [amounts[i] for i in places]


def test_of_all_ways_the_one_with_least_water_and_then_fewest_bottles_is_chosen():
    """Water to 2 mL in 2 L, as the tables differ; bottles only where no water is needed."""
    random = Random(6)
    watered = dry = 0
    for _ in range(250):
        cupboard = [SpiritOnHand(s.strength_abv, s.on_hand_ml) for s in a_cupboard(random, 5)]
        poured_ml, target_abv = random.uniform(50, 2000), random.uniform(5, 80)
        plant_water_g = random.choice([0.0, 80.0])
        recipe = pours_for_jar(cupboard, target_abv, poured_ml, plant_water_g)
        corners = list(vertices(cupboard, target_abv, poured_ml, plant_water_g))
        if not recipe.is_reached or not corners:
            continue
        bottled_water = [i for i, s in enumerate(cupboard) if s.strength_abv == 0.0]
        real = [c for c in corners if not any(c[i] for i in bottled_water)]
        assert recipe.water_ml == pytest.approx(min(c[-1] for c in real), abs=0.001 * poured_ml)
        if recipe.water_ml > 1.0:
            watered += 1
        elif recipe.water_ml == 0.0:
            dry += 1
            none = [c for c in real if c[-1] == 0.0]
            fewest = min(sum(ml > 0.0 for ml in c[:-1]) for c in none)
            assert sum(ml > 0.0 for ml in recipe.amounts_ml) <= fewest
    assert watered > 30
    assert dry > 30


def test_the_order_of_the_spirits_changes_only_the_order_of_the_result():
    random = Random(7)
    for _ in range(150):
        cupboard = a_cupboard(random, 6)
        shuffled = random.sample(cupboard, len(cupboard))
        target_abv, volume_ml = random.uniform(1, 96), random.uniform(50, 2000)
        both = (
            (make_up(cupboard, target_abv, volume_ml), make_up(shuffled, target_abv, volume_ml)),
            (
                pours_for_jar(cupboard, target_abv, volume_ml, 60.0),
                pours_for_jar(shuffled, target_abv, volume_ml, 60.0),
            ),
        )
        for one, other in both:
            assert one.shortfall is other.shortfall
            assert one.water_ml == pytest.approx(other.water_ml, abs=1e-6)
            assert one.result.strength_abv == pytest.approx(other.result.strength_abv, abs=1e-9)
            poured_of_one = by_strength(cupboard, one)
            assert poured_of_one == pytest.approx(by_strength(shuffled, other), abs=1e-6)


def by_strength(cupboard: Cupboard, recipe: Recipe) -> dict[float, float]:
    """Poured of each strength; bottles of one strength are alike but for their age."""
    total = dict.fromkeys(sorted(s.strength_abv for s in cupboard), 0.0)
    for ml, spirit in zip(recipe.amounts_ml, cupboard, strict=True):
        total[spirit.strength_abv] += ml
    return total


def test_of_bottles_that_are_alike_the_fewest_are_used_and_the_oldest_first():
    lots = [SpiritOnHand(40, 100), SpiritOnHand(40, 600), SpiritOnHand(40, 700)]
    assert make_up(lots, 30, 600).amounts_ml == pytest.approx((0, 450, 0))
    assert make_up(lots, 40, 50).amounts_ml == pytest.approx((50, 0, 0))


def test_weaker_spirit_is_used_before_strong_spirit_is_thinned():
    """700 mL of 40 % and the rest from 96 %: 450 − 280 = 170 mL of ethanol, 177 mL of it."""
    recipe = make_up([SpiritOnHand(96), SpiritOnHand(40, 700)], 45, 1000)
    assert recipe.amounts_ml == pytest.approx((177.08, 700), abs=0.01)


def test_three_part_bottles_reach_what_two_of_them_cannot():
    cupboard = [SpiritOnHand(37.5, 200), SpiritOnHand(96, 100), SpiritOnHand(50, 200)]
    recipe = pours_for_jar(cupboard, 50, 480, 9.6)
    assert recipe.is_reached
    assert recipe.result.strength_abv == pytest.approx(50)


def test_empty_bottles_and_bottled_water_add_no_strength():
    nothing = make_up([SpiritOnHand(96, 0.0), SpiritOnHand(0.0)], 40, 500)
    assert nothing.shortfall is Shortfall.TOO_WEAK
    assert nothing.amounts_ml == (0.0, 0.0)
    assert nothing.result.strength_abv == 0.0
    assert make_up([SpiritOnHand(0.0), SpiritOnHand(40)], 0, 500).water_ml == pytest.approx(500)


def test_thirty_bottles_can_be_shared_out():
    cupboard = [SpiritOnHand(30 + 2 * i, 10.0) for i in range(30)]
    recipe = pours_for_jar(cupboard, 55, 250, 5)
    assert recipe.is_reached
    assert mixed([*poured(cupboard, recipe), (5, 0)])[1] == pytest.approx(55, abs=CLOSE_ABV)
