"""What a herb has yielded over the years."""

from dataclasses import dataclass
from datetime import date

from stillroom.keeping.keeper import Keeper
from stillroom.reckoning.yields import share_of_theoretical

_STRAININGS = """
    SELECT s.jar_id, j.code, s.strained_on, s.pressing, s.yield_ml, s.liquid_ml,
           (SELECT count(*) FROM charge_line WHERE jar_id = s.jar_id) - 1,
           l.part, l.condition, j.note
    FROM charge_line l
    CROSS JOIN straining s ON s.jar_id = l.jar_id
    CROSS JOIN jar j ON j.id = s.jar_id
    WHERE l.herb_id = ? AND l.id = (
        SELECT min(id) FROM charge_line WHERE jar_id = l.jar_id AND herb_id = l.herb_id)
    ORDER BY s.strained_on, s.id
"""
"""In this order of tables, which SQLite keeps to: else it reads the strainings of every herb."""


@dataclass(frozen=True)
class HerbStraining:
    """One straining of a jar with this herb in it."""

    jar_id: int
    code: str
    strained_on: date
    pressing: str
    yield_ml: float
    liquid_ml: float | None
    """All the liquid calculated to be there; None if a mass was not known."""
    other_herbs: int
    """How many further herbs shared the jar."""
    part: str
    condition: str
    note: str

    @property
    def percent(self) -> float | None:
        """The yield as a share of the liquid that was there, in percent."""
        if self.liquid_ml is None:
            return None
        return share_of_theoretical(self.yield_ml, self.liquid_ml)


def herb_strainings(keeper: Keeper, herb_id: int) -> list[HerbStraining]:
    """The strainings of jars with a herb in them, oldest first."""
    return [
        HerbStraining(jar_id, code, date.fromisoformat(day), *rest)
        for jar_id, code, day, *rest in keeper.rows(_STRAININGS, herb_id)
    ]
