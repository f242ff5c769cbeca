"""How long a tincture is kept: a convention to start from, never proof."""

from datetime import date

from stillroom.reckoning.charge import Keeping, will_it_keep

KEEPING_YEARS = {Keeping.KEEPS: 5, Keeping.DOUBTFUL: 1, Keeping.WILL_NOT: 0}
"""Whole years by verdict. Five years is what French mother tinctures are given; one year for the
doubtful is common practice, no source."""

SHELF_LIFE_SOURCE = (
    "Five years: French practice for mother tinctures. A date is a convention: thyme and greater "
    "celandine tinctures lost over a tenth of their marker within six weeks, elder held six months."
)


def keeping_years(strength_abv: float) -> int:
    """Returns the years a tincture of a strength is kept by convention; 0 when it will not keep.

    >>> keeping_years(40), keeping_years(22), keeping_years(15)
    (5, 1, 0)
    """
    return KEEPING_YEARS[will_it_keep(strength_abv)]


def keep_until(made_on: date, strength_abv: float) -> date | None:
    """Returns the conventional keep-until date; None when the strength will not keep at all.

    >>> keep_until(date(2024, 2, 29), 40)
    datetime.date(2029, 2, 28)
    """
    years = keeping_years(strength_abv)
    if years == 0:
        return None
    try:
        return made_on.replace(year=made_on.year + years)
    except ValueError:
        return made_on.replace(year=made_on.year + years, day=28)
