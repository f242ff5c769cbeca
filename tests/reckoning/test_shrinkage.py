"""What is left of herb when it dries, against the e-Handbook's own formula and whole numbers."""

from fractions import Fraction
from statistics import median

from hypothesis import assume, given
from hypothesis import strategies as st

from stillroom.reckoning.drying import learned_shrinkage

WEIGHTS = st.lists(st.tuples(st.integers(200, 2000), st.integers(20, 190)), min_size=1, max_size=12)


def scores(shares: list[Fraction]) -> list[Fraction]:
    """NIST/SEMATECH e-Handbook 1.3.5.17: M = 0.6745 (x − median) ÷ MAD, out where |M| > 3.5.

    Shares that agree to a hundredth, what scales read, are never far apart.
    """
    middle = median(shares)
    mad = max(median(abs(x - middle) for x in shares), Fraction(1, 100) * Fraction(6745, 10_000))
    return [Fraction(6745, 10_000) * abs(x - middle) / mad for x in shares]


def test_without_weighings_nothing_is_shown() -> None:
    assert learned_shrinkage([]) is None


def test_a_lot_that_spoiled_while_drying_is_left_out() -> None:
    found = learned_shrinkage([(900, 160), (500, 90), (700, 126), (400, 72), (600, 420)])
    assert found is not None
    assert (found.count, found.odd_count) == (4, 1)
    assert abs(found.share - (160 / 900 + 3 * 0.18) / 4) < 1e-12
    assert (found.low, found.high) == (160 / 900, 0.18)


@given(WEIGHTS)
def test_mean_and_range_are_of_the_lots_that_agree(weights: list[tuple[int, int]]) -> None:
    shares = [Fraction(dry, fresh) for fresh, dry in weights]
    far = scores(shares)
    # 1.4826 is 1 ÷ 0.6745 rounded: at the very limit either judgement is right.
    assume(all(abs(score - Fraction(7, 2)) > Fraction(1, 1000) for score in far))
    is_few = len(shares) < 4
    kept = [x for x, score in zip(shares, far, strict=True) if is_few or score <= Fraction(7, 2)]
    found = learned_shrinkage(weights)
    assert found is not None
    assert (found.count, found.odd_count) == (len(kept), len(shares) - len(kept))
    assert abs(found.share - float(sum(kept) / len(kept))) < 1e-9
    assert (found.low, found.high) == (float(min(kept)), float(max(kept)))
