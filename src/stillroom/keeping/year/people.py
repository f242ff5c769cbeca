"""Who was given what: names as they were written beside what was drawn or given."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from itertools import groupby

from stillroom.keeping.bottles.bottle_views import bottles_by_id
from stillroom.keeping.graph import downstream
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.memo import remembered
from stillroom.reckoning.states import MovementKind

_TAKEN = """
    SELECT m.person, m.day, m.bottle_id, b.tincture_id, m.kind, -m.volume_ml, m.note
    FROM movement m JOIN bottle b ON b.id = m.bottle_id
    WHERE m.person <> '' ORDER BY m.day, m.id
"""


@dataclass(frozen=True)
class Taken:
    """What one person got on one day."""

    person: str
    day: date
    code: str
    """Of the bottle."""
    batch: str
    name: str
    kind: MovementKind
    volume_ml: float
    note: str
    bottle_id: int

    @property
    def how(self) -> str:
        """Its kind as a participle, for a list of what somebody got."""
        return _HOW.get(self.kind, str(self.kind))


_HOW = {MovementKind.DRAW: "drawn", MovementKind.GIVE: "given"}


@dataclass(frozen=True)
class Person:
    """A person with all that was taken for them, oldest first."""

    name: str
    """As it was written last."""
    taken: tuple[Taken, ...]

    @property
    def volume_ml(self) -> float:
        """Everything this person got, mL."""
        return sum(each.volume_ml for each in self.taken)

    @property
    def last_on(self) -> date:
        """When something was last taken for them."""
        return self.taken[-1].day


def people(keeper: Keeper) -> list[Person]:
    """Everybody for whom something was taken, by name; names that differ in case are one."""
    return remembered(keeper, "people", (), lambda: _by_name(_taken(keeper)))


def names(keeper: Keeper) -> list[str]:
    """The names by which to complete one that is typed, the latest first."""
    rows = keeper.rows(
        "SELECT person FROM movement WHERE person <> '' GROUP BY person ORDER BY max(id) DESC"
    )
    return [name for (name,) in rows]


def batch_called(keeper: Keeper, code: str) -> int | None:
    """The batch of a code, or of the bottle with it; None where there is none."""
    code = code.strip()
    for sql in (
        "SELECT id FROM tincture WHERE code = ? COLLATE NOCASE",
        "SELECT tincture_id FROM bottle WHERE code = ? COLLATE NOCASE",
    ):
        if rows := keeper.rows(sql, code):
            return int(rows[0][0])
    return None


def who_got(keeper: Keeper, tincture_id: int) -> list[Person]:
    """Who got any of a batch, out of its own bottles or in a batch made with it."""
    return _by_name(_taken(keeper, set(downstream(keeper, [tincture_id]))))


def _taken(keeper: Keeper, tincture_ids: set[int] | None = None) -> list[Taken]:
    rows = [r for r in keeper.rows(_TAKEN) if tincture_ids is None or r[3] in tincture_ids]
    bottles = bottles_by_id(keeper, {row[2] for row in rows})
    return [
        Taken(
            person, date.fromisoformat(day), bottles[bottle_id].code, bottles[bottle_id].batch,
            bottles[bottle_id].name, MovementKind(kind), volume_ml, note, bottle_id,
        )
        for person, day, bottle_id, _, kind, volume_ml, note in rows
    ]  # fmt: skip


def _by_name(taken: Iterable[Taken]) -> list[Person]:
    in_order = sorted(taken, key=lambda each: each.person.casefold())
    return [
        Person(lines[-1].person, lines)
        for _, group in groupby(in_order, key=lambda each: each.person.casefold())
        if (lines := tuple(group))
    ]
