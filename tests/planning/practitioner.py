"""A simulated practitioner: people who take tincture, seasons, chance and now and then a big gift.

It knows nothing of how the program plans. Each herb is used at random days, more in its season and
more or less from year to year; a few large gifts come from nowhere; a marc keeps more or less; what
is past its date is thrown away. A rule sees what a shelf records and says how much to make.
"""

import math
import random
from collections.abc import Callable
from dataclasses import dataclass

YEAR = 365
YEARS = 5
STEEP = 21
KEEPS = 2 * YEAR
START_YEAR_ML = 1.0
"""The first stock, in years of use."""


@dataclass
class Seen:
    """What a shelf has recorded of one herb."""

    today: int
    first_year_ml: float
    """What the practitioner took to be a year's use when they began."""
    taken: list[tuple[int, float]]
    in_stock: list[bool]
    """Of each day, whether it began with some."""
    lots: list[tuple[float, int]]
    """mL, and the day it passes its date."""
    steeping: list[tuple[float, int]]
    """mL expected, and the day it is ready."""
    yields: list[float]
    """What came out of what was expected, for each straining."""
    is_gathered: bool
    """Whether it is made once a year, on this day and its like."""


Rule = Callable[[Seen], float]
"""How much to make today, mL."""


@dataclass
class Outcome:
    """What five years came to."""

    wanted_ml: float = 0.0
    missed_ml: float = 0.0
    wasted_ml: float = 0.0
    made_ml: float = 0.0
    days_without: int = 0

    def __iadd__(self, other: "Outcome") -> "Outcome":
        for name in ("wanted_ml", "missed_ml", "wasted_ml", "made_ml", "days_without"):
            setattr(self, name, getattr(self, name) + getattr(other, name))
        return self


@dataclass
class Wants:
    """What is wanted of one herb, day by day."""

    monthly: float
    days: list[float]
    gathered_on: int
    chance: random.Random


def wants_of(seed: int, years: int = YEARS, gifts_a_year: float = 0.4) -> Wants:
    """One herb at random: how much, how often, in which season, more or less each year."""
    chance = random.Random(seed)
    monthly = chance.uniform(20, 120)
    per_month = chance.uniform(2, 8)
    season, strength = chance.uniform(0, 2 * math.pi), chance.choice((0.0, 0.5, 0.9))
    level = [1.0]
    for _ in range(years):
        level.append(level[-1] * math.exp(chance.gauss(0, 0.2)))
    gathered_on = chance.randrange(YEAR)
    days = []
    for day in range(years * YEAR):
        now = 1 + strength * math.cos(2 * math.pi * day / YEAR - season)
        ml = 0.0
        if chance.random() < per_month * now / 30:
            usual = monthly * level[day // YEAR] / per_month
            ml += usual * math.exp(chance.gauss(-0.125, 0.5))
        if chance.random() < gifts_a_year / YEAR:
            ml += chance.uniform(3, 6) * monthly
        days.append(ml)
    return Wants(monthly, days, gathered_on, chance)


def live(rule: Rule, seed: int, *, is_gathered: bool, years: int = YEARS) -> Outcome:
    """Five years of one herb under one rule; the same seed wants the same amounts."""
    herb = wants_of(seed, years)
    wants, gathered_on = herb.days, herb.gathered_on
    luck = random.Random(seed + 1_000_000)
    guess = 12 * herb.monthly * math.exp(herb.chance.gauss(0, 0.25))
    seen = Seen(0, guess, [], [], [(START_YEAR_ML * guess, KEEPS)], [], [], is_gathered)
    done = Outcome()
    for day, wish in enumerate(wants):
        seen.today = day
        for volume_ml, ready in [lot for lot in seen.steeping if lot[1] <= day]:
            came = volume_ml * min(1.1, max(0.6, luck.gauss(1.0, 0.08)))
            seen.yields.append(came / volume_ml)
            seen.lots.append((came, ready + KEEPS))
            done.made_ml += came
        seen.steeping = [lot for lot in seen.steeping if lot[1] > day]
        done.wasted_ml += sum(lot[0] for lot in seen.lots if lot[1] < day)
        seen.lots = sorted((lot for lot in seen.lots if lot[1] >= day), key=lambda lot: lot[1])
        seen.in_stock.append(bool(seen.lots))
        done.days_without += not seen.lots
        done.wanted_ml += wish
        got = take(seen, wish)
        done.missed_ml += wish - got
        if got:
            seen.taken.append((day, got))
        may_make = (day % YEAR == gathered_on) if is_gathered else day % 30 == 0
        if may_make and (more := rule(seen)) > 0:
            seen.steeping.append((more, day + STEEP))
    # What nobody will use before its date is waste, too, in whichever year it is thrown away.
    yearly = sum(wants[-YEAR:])
    for volume_ml, good_until in seen.lots:
        use_by_then = yearly * (good_until - years * YEAR) / YEAR
        done.wasted_ml += max(0.0, volume_ml - use_by_then)
    return done


def take(seen: Seen, wish: float) -> float:
    """Take from what expires first; what isn't there is gone without."""
    got, lots = 0.0, []
    for volume_ml, good_until in seen.lots:
        some = min(volume_ml, wish - got)
        got += some
        if volume_ml - some > 1e-9:
            lots.append((volume_ml - some, good_until))
    seen.lots = lots
    return got
