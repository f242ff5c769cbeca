"""Which days and what-ifs the papers of the year are about."""

from dataclasses import dataclass
from datetime import date

from stillroom.keeping.year.plan_views import AS_IT_IS, WhatIf


@dataclass(frozen=True)
class YearAsked:
    """A period, both days included, and what is otherwise in the plan."""

    since: date
    until: date
    what_if: WhatIf = AS_IT_IS


def year_so_far(today: date) -> YearAsked:
    """This calendar year up to today, and the plan as it is."""
    return YearAsked(date(today.year, 1, 1), today)
