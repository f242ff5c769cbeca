"""What a plan learns from the shelf: how each tincture was made, used and gathered."""

from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta
from itertools import pairwise
from statistics import median

from stillroom.keeping.jars.expecting import in_brief, yield_outlook
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.tolerances import EMPTY_ML
from stillroom.keeping.words import listed
from stillroom.reckoning.months import next_month
from stillroom.reckoning.planning import (
    ENOUGH_DAYS,
    Range,
    UseRate,
    UsualRecipe,
    capped,
    use_rate,
    usual_most,
)
from stillroom.reckoning.seasons import Season, season_of
from stillroom.reckoning.states import JarState
from stillroom.reckoning.year import USED, DatedAmount, What
from stillroom.reckoning.yields import Pressing

YEAR = timedelta(days=365)
FEWEST_OF_A_YEAR = 12
"""With fewer amounts in a year no season is looked for. Judgement."""
_ON_THE_WAY = (What.FILTERED_OFF, What.DREGS, What.EVAPORATED, What.SAMPLE, What.LOST)
"""What is lost between straining and bottle."""

_ANOTHER = 0
"""The id of no jar."""

Key = tuple[str, str]
"""Herbs and parts, as they are listed."""

# Of each jar: its batch code, what went in, and the latest first.
_JARS = """
    SELECT j.id, coalesce(t.code, j.code), j.state, j.filled_on, j.strain_on, h.name, l.part,
           l.condition, l.mass_g, j.capacity_ml, s.pressing
    FROM jar j
    JOIN charge_line l ON l.jar_id = j.id
    JOIN herb h ON h.id = l.herb_id
    LEFT JOIN straining s ON s.jar_id = j.id
    LEFT JOIN tincture t ON t.straining_id = s.id
    ORDER BY j.filled_on DESC, j.id DESC, l.id
"""


@dataclass
class JarToPlan:
    """A jar as far as a plan needs it."""

    jar_id: int
    code: str
    state: JarState
    strain_on: date
    steep_days: int
    herbs: list[tuple[str, str, str, float | None]]
    """Name, part, condition and g of each."""
    pressing: Pressing | None
    size_ml: float | None
    """Of the jar, where it is known."""

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
        jar_id, code, state, filled_on, strain_on, *herb, size_ml, pressing = row
        if jar_id not in found:
            due = date.fromisoformat(strain_on)
            steep = (due - date.fromisoformat(filled_on)).days
            is_known = pressing and pressing != Pressing.NOT_KNOWN
            pressed = Pressing(pressing) if is_known else None
            found[jar_id] = JarToPlan(
                jar_id, code, JarState(state), due, steep, [], pressed, size_ml
            )
        found[jar_id].herbs.append((herb[0], herb[1], herb[2], herb[3]))
    return found.values()


def rate_of_use(
    of_herb: Iterable[DatedAmount],
    today: date,
    moved: Collection[tuple[str, date]],
    more: Iterable[tuple[DatedAmount, float]] = (),
) -> UseRate | None:
    """The use of the last year, or of the last two where it was seldom in stock.

    `more` is what somebody got who is to get more or less, each with the change as a share.
    """
    every = [entry for entry in of_herb if entry.day <= today]
    stock = _StockDays(every, today - 2 * YEAR, today)
    for back in (YEAR, 2 * YEAR):
        since = today - back
        if stock.count(since, today) >= ENOUGH_DAYS:
            break
    used = [entry for entry in every if entry.day > today - 2 * YEAR and _is_use(entry, moved)]
    missing = -sum(e.amount for e in every if e.what is What.COUNTED and e.day > since)
    taken = [entry.amount for entry in used if entry.day > since]
    rate = use_rate(taken, stock.count(since, today), missing)
    if rate is None:
        return None
    most = usual_most(taken)
    of_people = [
        (min(entry.amount, most), share) for entry, share in more if since < entry.day <= today
    ]
    others = [(ml, ml * (1 + share)) for ml, share in of_people]
    return replace(rate.with_others(others), season=_season(used, stock, today))


def _is_use(entry: DatedAmount, moved: Collection[tuple[str, date]]) -> bool:
    if entry.what not in USED:
        return False
    return entry.what is not What.INTO_BLENDS or (entry.batch, entry.day) not in moved


class _StockDays:
    """The days that began with some in stock."""

    def __init__(self, every: Iterable[DatedAmount], since: date, until: date) -> None:
        changes: dict[date, float] = defaultdict(float)
        for entry in every:
            if change_ml := entry.change_ml:
                changes[max(entry.day, since)] += change_ml
        self._spans: list[tuple[date, date]] = []
        held_ml = 0.0
        for day, following in pairwise([*sorted(changes), until]):
            held_ml += changes[day]
            if held_ml <= EMPTY_ML:
                continue
            if self._spans and self._spans[-1][1] == day:
                day = self._spans.pop()[0]
            self._spans.append((day, following))

    def count(self, since: date, until: date) -> int:
        """How many of the days from one to another."""
        return sum(
            max(0, (min(last, until) - max(first, since)).days) for first, last in self._spans
        )


def _season(used: Iterable[DatedAmount], stock: _StockDays, today: date) -> Season | None:
    """The season that the last two years show, a large single amount counted as the usual most."""
    entries = list(used)
    amounts = zip(entries, capped([entry.amount for entry in entries]), strict=True)
    taken = [[0.0] * 12, [0.0] * 12]
    for entry, amount in amounts:
        taken[entry.day > today - YEAR][entry.day.month - 1] += amount
    if min(sum(1 for e in entries if (e.day > today - YEAR) is late) for late in (False, True)) < (
        FEWEST_OF_A_YEAR
    ):
        return None
    return season_of(
        [
            [_per_day(taken[late][month], stock, _spans(today, late, month)) for month in range(12)]
            for late in (False, True)
        ]
    )


def _spans(today: date, late: bool, month: int) -> list[tuple[date, date]]:
    """A month within the last 365 days, or the 365 before: in two pieces, where it is cut."""
    until = today if late else today - YEAR
    since = until - YEAR
    found = []
    for year in {since.year, until.year}:
        first = date(year, month + 1, 1)
        last = next_month(first)
        first, last = max(first, since), min(last, until)
        if first < last:
            found.append((first, last))
    return found


def _per_day(
    taken_ml: float, stock: _StockDays, spans: Iterable[tuple[date, date]]
) -> float | None:
    spans = list(spans)
    days = sum((last - first).days for first, last in spans)
    there = sum(stock.count(*span) for span in spans)
    return taken_ml / there if days and there >= days / 2 else None


def usual_recipe(
    keeper: Keeper,
    jars: list[JarToPlan],
    of_herb: Iterable[DatedAmount],
    pressing: Pressing,
    poured: Mapping[int, float],
) -> UsualRecipe | None:
    """As the last weighed jar was made; None where none was weighed.

    `poured` is mL poured into each jar by its id.
    """
    for jar in jars:
        if not jar.mass_g:
            continue
        view = in_brief(keeper, jar.jar_id)
        # A jar like it, which learns from its own straining too.
        another = replace(view, jar_id=_ANOTHER)
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
            jar_ml=median(
                [poured[jar.jar_id] for jar in jars if jar.jar_id in poured] or [poured_ml]
            ),
            steep_days=int(median(each.steep_days for each in jars)),
            jar_size_ml=_usual_size(jars),
        )
    return None


def _usual_size(jars: Iterable[JarToPlan]) -> float | None:
    """The size of jar used most; the latest of several."""
    sizes = Counter(jar.size_ml for jar in jars if jar.size_ml)
    return sizes.most_common(1)[0][0] if sizes else None


def poured_into_jars(keeper: Keeper) -> dict[int, float]:
    """How many mL were poured into each jar, by its id."""
    return dict(keeper.rows("SELECT jar_id, sum(volume_ml) FROM pour GROUP BY jar_id"))


def _kept(of_herb: Iterable[DatedAmount]) -> float:
    """The share of what was strained that came into bottles."""
    strained = lost = 0.0
    for entry in of_herb:
        strained += entry.amount if entry.what is What.STRAINED else 0.0
        lost += entry.amount if entry.what in _ON_THE_WAY else 0.0
    return 1.0 - lost / strained if strained and lost < strained else 1.0
