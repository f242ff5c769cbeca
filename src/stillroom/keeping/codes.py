"""Batch codes: the year and a running number, short enough to write on glass."""

from datetime import date

from stillroom.keeping.keeper import Keeper


def next_batch_code(keeper: Keeper, today: date) -> str:
    """The next free code of this year, such as `26-041`; jars and blends share one series."""
    year = f"{today:%y}-"
    taken = keeper.rows(
        "SELECT code FROM jar WHERE code GLOB ?1"
        " UNION SELECT code FROM tincture WHERE code GLOB ?1",
        f"{year}[0-9]*",
    )
    numbers = [code.removeprefix(year) for (code,) in taken]
    highest = max((int(n) for n in numbers if n.isdecimal()), default=0)
    return f"{year}{highest + 1:03d}"


def bottle_code(batch: str, number: int) -> str:
    """The code of a bottle: its batch and its number in it, such as `26-041.2`."""
    return f"{batch}.{number}"
