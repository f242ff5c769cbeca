"""What a plan learns from the shelf: how each tincture was made, used and gathered."""

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace
from datetime import date, timedelta
from itertools import pairwise
from statistics import median

from stillroom.keeping.jars.expecting import yield_outlook
from stillroom.keeping.jars.jar_view import jar_view
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.tolerances import EMPTY_ML
from stillroom.keeping.words import listed
from stillroom.reckoning.planning import (
    ENOUGH_DAYS,
    Range,
    UseRate,
    UsualRecipe,
    Window,
    learned_window,
    use_rate,
)
from stillroom.reckoning.states import JarState
from stillroom.reckoning.year import USED, DatedAmount, What
from stillroom.reckoning.yields import Pressing

YEAR = timedelta(days=365)
_ON_THE_WAY = (What.FILTERED_OFF, What.DREGS, What.EVAPORATED, What.SAMPLE, What.LOST)
"""What is lost between straining and bottle."""

_ANOTHER = 0
"""The id of no jar."""

Key = tuple[str, str]
"""Herbs and parts, as they are listed."""

# Of each jar: its batch code, what went in, and the latest first.
_JARS = """
    SELECT j.id, coalesce(t.code, j.code), j.state, j.filled_on, j.strain_on, h.name, l.part,
           l.condition, l.mass_g, s.pressing
    FROM jar j
    JOIN charge_line l ON l.jar_id = j.id
    JOIN herb h ON h.id = l.herb_id
    LEFT JOIN straining s ON s.jar_id = j.id
    LEFT JOIN tincture t ON t.straining_id = s.id
    ORDER BY j.filled_on DESC, j.id DESC, l.id
"""

_GATHERED = """
    SELECT h.name, l.part, l.gathered_on FROM charge_line l
    JOIN herb h ON h.id = l.herb_id WHERE l.gathered_on IS NOT NULL
    UNION
    SELECT h.name, l.part, l.got_on FROM herb_lot l
    JOIN herb h ON h.id = l.herb_id WHERE l.came = 'gathered'
"""


@dataclass
class JarToPlan:
    """A jar as far as a plan needs it."""

    jar_id: int
    code: str
    state: JarState
    steep_days: int
    herbs: list[tuple[str, str, str, float | None]]
    """Name, part, condition and g of each."""
    pressing: Pressing | None

    @property
    def key(self) -> Key:
        """What it is a jar of."""
        return listed(h[0] for h in self.herbs), listed(h[1] for h in self.herbs)

    @property
    def mass_g(self) -> float | None:
        """Of all its herbs; None where one is by eye."""
        masses = [h[3] for h in self.herbs]
        return None if None in masses else sum(m for m in masses if m)


def jars_to_plan(keeper: Keeper) -> Iterable[JarToPlan]:
    """Every jar, the latest first."""
    found: dict[int, JarToPlan] = {}
    for row in keeper.rows(_JARS):
        jar_id, code, state, filled_on, strain_on, *herb, pressing = row
        if jar_id not in found:
            steep = (date.fromisoformat(strain_on) - date.fromisoformat(filled_on)).days
            pressed = Pressing(pressing) if pressing else None
            found[jar_id] = JarToPlan(jar_id, code, JarState(state), steep, [], pressed)
        found[jar_id].herbs.append((herb[0], herb[1], herb[2], herb[3]))
    return found.values()


def windows_learned(keeper: Keeper) -> dict[Key, Window]:
    """When each part was gathered so far, by its herb and part."""
    days: dict[Key, list[date]] = defaultdict(list)
    for herb, part, day in keeper.rows(_GATHERED):
        days[herb, part].append(date.fromisoformat(day))
    return {key: window for key, each in days.items() if (window := learned_window(each))}


def rate_of_use(
    of_herb: Iterable[DatedAmount], today: date, moved: Collection[tuple[str, date]]
) -> UseRate | None:
    """The use of the last year, or of the last two where it was seldom in stock."""
    every = [entry for entry in of_herb if entry.day <= today]
    for back in (YEAR, 2 * YEAR):
        since = today - back
        days = _days_in_stock(every, since, today)
        if days >= ENOUGH_DAYS:
            break
    lately = [entry for entry in every if entry.day > since]
    taken = [
        entry.amount
        for entry in lately
        if entry.what in USED
        and not (entry.what is What.INTO_BLENDS and (entry.batch, entry.day) in moved)
    ]
    missing = -sum(entry.amount for entry in lately if entry.what is What.COUNTED)
    return use_rate(taken, days, missing)


def _days_in_stock(every: Iterable[DatedAmount], since: date, until: date) -> int:
    """Days that began with some in stock."""
    changes: dict[date, float] = defaultdict(float)
    for entry in every:
        changes[max(entry.day, since)] += entry.change_ml
    days, held_ml = 0, 0.0
    for day, following in pairwise([*sorted(changes), until]):
        held_ml += changes[day]
        if held_ml > EMPTY_ML:
            days += (following - day).days
    return days


def usual_recipe(
    keeper: Keeper, jars: list[JarToPlan], of_herb: Iterable[DatedAmount], pressing: Pressing
) -> UsualRecipe | None:
    """As the last weighed jar was made; None where none was weighed."""
    for jar in jars:
        if not jar.mass_g:
            continue
        view = jar_view(keeper, jar.jar_id)
        # A jar like it, which learns from its own straining too.
        another = replace(view, card=view.card._replace(jar_id=_ANOTHER))
        expected = yield_outlook(keeper, another, pressing)
        poured_ml = sum(pour.volume_ml for pour in view.pours)
        if expected.expected_ml is None or not expected.low_ml or not poured_ml:
            continue
        ethanol_ml = sum(pour.volume_ml * pour.strength_abv for pour in view.pours)
        per_g = Range(expected.low_ml, expected.expected_ml, expected.high_ml or 0.0)
        return UsualRecipe(
            poured_ml_per_g=poured_ml / jar.mass_g,
            strength_abv=ethanol_ml / poured_ml,
            spirits=tuple(
                (pour.strength_abv, pour.volume_ml / jar.mass_g)
                for pour in view.pours
                if pour.strength_abv
            ),
            yield_ml_per_g=per_g.times(_kept(of_herb) / jar.mass_g),
            jar_ml=median(_poured(keeper, jars) or [poured_ml]),
            steep_days=int(median(each.steep_days for each in jars)),
        )
    return None


def _poured(keeper: Keeper, jars: Iterable[JarToPlan]) -> list[float]:
    wanted = {jar.jar_id for jar in jars}
    sums: dict[int, float] = defaultdict(float)
    for jar_id, volume_ml in keeper.rows("SELECT jar_id, volume_ml FROM pour"):
        if jar_id in wanted:
            sums[jar_id] += volume_ml
    return list(sums.values())


def _kept(of_herb: Iterable[DatedAmount]) -> float:
    """The share of what was strained that came into bottles."""
    strained = lost = 0.0
    for entry in of_herb:
        strained += entry.amount if entry.what is What.STRAINED else 0.0
        lost += entry.amount if entry.what in _ON_THE_WAY else 0.0
    return 1.0 - lost / strained if strained and lost < strained else 1.0
