"""How long a tincture is kept: a convention to start from, never proof."""

from datetime import date, timedelta

from stillroom.reckoning.charge import Keeping
from stillroom.reckoning.months import years_on

KEEPING_YEARS = {Keeping.KEEPS: 5, Keeping.DOUBTFUL: 1, Keeping.WILL_NOT: 0}
"""Whole years by verdict. Five years is what French mother tinctures are given; one year for the
doubtful is common practice, no source."""

DAYS_COLD = 7
"""Days given to what will not keep, in the cold. Common practice, no source."""

SHELF_LIFE_SOURCE = (
    "Five years: French practice for mother tinctures. A date is a convention: thyme and greater "
    "celandine tinctures lost over a tenth of their marker within six weeks, elder held six months."
)


def keep_until(made_on: date, keeping: Keeping) -> date:
    """Returns the conventional keep-until date; a few days for what will not keep.

    >>> keep_until(date(2024, 2, 29), Keeping.KEEPS)
    datetime.date(2029, 2, 28)
    """
    years = KEEPING_YEARS[keeping]
    if years == 0:
        return made_on + timedelta(days=DAYS_COLD)
    return years_on(made_on, years)
