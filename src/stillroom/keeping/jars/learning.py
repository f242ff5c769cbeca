"""What the next yield can be predicted from: a person's own strainings."""

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass
from itertools import groupby
from operator import itemgetter
from typing import Protocol, TypeVar

from stillroom.keeping.keeper import Keeper
from stillroom.keeping.views import ChargeView, Outlook, PourView
from stillroom.reckoning.charge import (
    Charge,
    Condition,
    Part,
    charge_as_recorded,
    dried_mass_g,
)
from stillroom.reckoning.yields import JUDGED_BY_THEIR_OWN, Pressing, is_possible, retention_seen

K = TypeVar("K", bound=Hashable)

CHIEF_SHARE = 0.5
"""An herb teaches from a jar of which it is at least this share, by dried weight. Judgement."""


class JarToStrain(Protocol):
    """The facts of a jar that decide what it may yield."""

    @property
    def jar_id(self) -> int: ...
    @property
    def charges(self) -> tuple[ChargeView, ...]: ...
    @property
    def pours(self) -> tuple[PourView, ...]: ...
    @property
    def outlook(self) -> Outlook: ...
    @property
    def capacity_ml(self) -> float | None: ...


@dataclass(frozen=True)
class OwnStraining:
    """What went into one of the user's own strainings, and what came out."""

    liquid_ml: float
    dried_g: float
    yield_ml: float
    is_same_herb: bool
    """Whether it was of the herb and part that is to be predicted."""

    @property
    def retention(self) -> float:
        """What its marc kept, mL per g dried."""
        return retention_seen(self.liquid_ml, self.yield_ml, self.dried_g)


def own_strainings(
    keeper: Keeper,
    pressing: Pressing,
    jar: JarToStrain | None = None,
    condition: Condition | None = None,
) -> list[OwnStraining]:
    """The user's own strainings from which to predict the yield of a jar, oldest first.

    They were pressed the same way and of herb in the same condition (dried, where neither a jar
    nor a condition is given), every mass was known, and no more came out than was in. Of these,
    the ones that were for the most part of the jar's chief herb and part; where there are none, or
    no jar is given, those of every herb. A yield that was asked about and confirmed counts only
    among enough others to be judged by them: reckoning then leaves it out if it is far from them.
    One that was set aside teaches nothing, nor does the jar's own.
    """
    chief = _chief(jar) if jar else None
    wanted = condition or (chief_condition(jar) if jar else Condition.DRIED)
    own_id = jar.jar_id if jar else None
    if chief is not None:
        # Only jars with some of it in them can be of it for the most part.
        found = _strainings(keeper, pressing, wanted, own_id, chief, with_chief_only=True)
        same = _that_teach([each for each in found if each[0].is_same_herb])
        if same:
            return same
    return _that_teach(_strainings(keeper, pressing, wanted, own_id, chief))


def _strainings(
    keeper: Keeper,
    pressing: Pressing,
    wanted: Condition,
    own_id: int | None,
    chief: tuple[int, Part] | None,
    *,
    with_chief_only: bool = False,
) -> list[tuple[OwnStraining, bool]]:
    """Strainings that may teach, each with whether its yield was asked about and confirmed."""
    values: list[object] = [pressing.value, own_id]
    condition = "1"
    if with_chief_only and chief is not None:
        condition = "s.jar_id IN (SELECT jar_id FROM charge_line WHERE herb_id = ? AND part = ?)"
        values += [chief[0], chief[1].value]
    lines = keeper.rows(
        f"""SELECT s.id, s.liquid_ml, s.yield_ml, s.confirmed, l.herb_id, l.part, l.condition,
                  l.mass_g, l.water_fraction
           FROM straining s JOIN charge_line l ON l.jar_id = s.jar_id
           WHERE s.pressing = ? AND s.liquid_ml IS NOT NULL AND s.teaches AND s.jar_id IS NOT ?
                 AND {condition}
           ORDER BY s.id""",
        *values,
    )
    every = []
    for _, straining in groupby(lines, key=itemgetter(0)):
        (_, liquid_ml, yield_ml, confirmed, *_), *_ = rows = list(straining)
        herbs = [
            _HerbInJar(herb_id, Part(part), Condition(held), _charge(part, held, mass_g, water))
            for *_, herb_id, part, held, mass_g, water in rows
        ]
        dried_g = dried_mass_g([herb.charge for herb in herbs])
        if not dried_g or not is_possible(liquid_ml, yield_ml):
            continue
        if _most_by_dried_weight(herbs, lambda herb: herb.condition) != wanted:
            continue
        of_chief = sum(h.charge.dried_g for h in herbs if (h.herb_id, h.part) == chief)
        is_same = of_chief >= CHIEF_SHARE * dried_g
        every.append((OwnStraining(liquid_ml, dried_g, yield_ml, is_same), bool(confirmed)))
    return every


def _that_teach(own: list[tuple[OwnStraining, bool]]) -> list[OwnStraining]:
    """Without those confirmed as odd, while they are too few to be judged by each other."""
    are_judged = len(own) >= JUDGED_BY_THEIR_OWN
    return [straining for straining, confirmed in own if are_judged or not confirmed]


def chief_condition(jar: JarToStrain) -> Condition:
    """Whether a jar is one of fresh or of dried herb, by what most of it is."""
    return _most_by_dried_weight(_parts(jar), lambda herb: herb.condition)


def _chief(jar: JarToStrain) -> tuple[int, Part]:
    """The herb and part that most of a jar is."""
    return _most_by_dried_weight(_parts(jar), lambda herb: (herb.herb_id, herb.part))


@dataclass(frozen=True)
class _HerbInJar:
    herb_id: int
    part: Part
    condition: Condition
    charge: Charge


def _parts(jar: JarToStrain) -> list[_HerbInJar]:
    return [_HerbInJar(c.herb_id, c.part, c.condition, c.charge) for c in jar.charges]


def _most_by_dried_weight(herbs: Sequence[_HerbInJar], key: Callable[[_HerbInJar], K]) -> K:
    """The key that most of the dried weight has; the first of them where all is by eye."""
    weights: dict[K, float] = {}
    for herb in herbs:
        weights[key(herb)] = weights.get(key(herb), 0.0) + herb.charge.dried_g
    return max(weights, key=lambda each: weights[each])


def _charge(part: str, condition: str, mass_g: float | None, water: float | None) -> Charge:
    return charge_as_recorded(mass_g, Part(part), Condition(condition), water)
