"""Which keys may be the beginning of a scanned code, and so have to wait for the next one."""

import random

import pytest

from stillroom.keeping.trace.scanning import could_begin_any

RNG = random.Random(5)


@pytest.mark.parametrize("this_year", [2026, 2031, 2050, 2076, 2099])
def test_every_code_of_the_last_fifty_years_is_held_from_its_first_key(this_year: int) -> None:
    for year in range(this_year - 50, this_year + 2):
        code = f"{RNG.choice(('', 'H-', 'h-'))}{str(year)[2:]}-{RNG.randrange(1, 5000):03}"
        code += RNG.choice(("", ".3", " Yarrow", ".12; 45 %"))
        for end in range(1, len(code) + 1):
            assert could_begin_any(code[:end], this_year), code[:end]


def test_a_digit_that_begins_no_year_is_not_held() -> None:
    held = {
        this_year: "".join(d for d in "0123456789" if could_begin_any(d, this_year))
        for this_year in (2026, 2028, 2029, 2040)
    }
    # 1976 to 2027, 1978 to 2029, 1979 to 2030, 1990 to 2041
    assert held == {2026: "012789", 2028: "012789", 2029: "0123789", 2040: "012349"}


def test_a_code_may_be_of_next_year_but_not_of_later_ones() -> None:
    assert could_begin_any("27-0", 2026)
    assert not could_begin_any("28", 2026)
    assert not could_begin_any("H-28", 2026)
