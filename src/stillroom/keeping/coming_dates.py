"""The days a calendar should remind of: strain and keep-until dates, and what the plan asks."""

from dataclasses import dataclass
from datetime import date
from itertools import groupby

from stillroom.keeping.bottles.bottle_views import bottle_rows
from stillroom.keeping.cupboard.lot_reading import herb_lots
from stillroom.keeping.cupboard.lots_good import Good, good_of, goods
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import remember
from stillroom.keeping.tolerances import EMPTY_ML
from stillroom.keeping.views import BottleRow
from stillroom.keeping.wording import wording
from stillroom.keeping.words import listed
from stillroom.keeping.year import plan_words
from stillroom.keeping.year.ahead import plan_view


@dataclass(frozen=True)
class StrainDate:
    """When a jar is due."""

    code: str
    born_at: str
    """When its filling was recorded; with the code it identifies a jar among all shelves."""
    herb: str
    """Its herbs, as are part and condition, in one line."""
    part: str
    condition: str
    shelf: str
    strain_on: date
    is_off: bool
    """Whether the jar was strained or discarded before that day."""
    is_to_press: bool = False
    """Whether it is drained, so that it is to be pressed: on the next day, or today."""


@dataclass(frozen=True)
class KeepUntilDate:
    """When a tincture that is still in bottles passes."""

    code: str
    born_at: str
    name: str
    keep_until: date
    left_ml: float
    bottles: tuple[str, ...]
    """Their codes, with the place where one is known."""
    is_off: bool = False
    """Whether every bottle of it is empty, so that nothing is left to keep."""


@dataclass(frozen=True)
class UndoneJar:
    """A jar whose filling was undone: a calendar may still have its date."""

    code: str
    born_at: str
    day: date
    """The day on which its filling was recorded."""


@dataclass(frozen=True)
class PlanDate:
    """A day by which to fill, or days on which to gather."""

    what: str
    """`Fill` or `Gather`."""
    tincture: str
    born_at: str
    """When the shelf began; with the rest it identifies an entry among all shelves."""
    first: date
    last: date
    about: str
    is_off: bool
    """Whether the plan no longer asks for it."""


def herb_dates(keeper: Keeper) -> list[Good]:
    """Until when lots of dried herb are usually good, and those that ended before that day."""
    ended = [
        good
        for lot in herb_lots(keeper)
        if not lot.is_in_store and (good := good_of(keeper, lot)) and good.until >= keeper.today
    ]
    return [*goods(keeper), *ended]


def plan_dates(keeper: Keeper) -> list[PlanDate]:
    """What the plan asks to gather and fill, and what it no longer asks."""
    ((born_at,),) = keeper.rows("SELECT coalesce(min(at), '') FROM event")
    said = wording(keeper)
    found = []
    for each in plan_view(keeper).herbs:
        plan, name = each.plan, plan_words.heading(each)
        if plan is None:
            continue
        about = "\n".join(
            filter(None, (plan_words.make(each, said), plan_words.to_get(each, said)))
        )
        is_off = not plan.is_needed or plan.fill_on is None
        day = plan.fill_on or keeper.today
        found.append(PlanDate("Fill", name, born_at, day, day, about, is_off))
        if plan.window is not None:
            is_off = not plan.is_needed or (each.to_get is not None and each.to_get.is_enough)
            first, _, last = plan.window
            found.append(PlanDate("Gather", name, born_at, first, last, about, is_off))
    return sorted(found, key=lambda each: (each.first, each.what, each.tincture))


def strain_dates(keeper: Keeper) -> list[StrainDate]:
    """Jars that steep, and those that ended before their day has come, so that it can be undone."""
    rows = keeper.rows(
        """SELECT j.code,
                  coalesce((SELECT min(at) FROM standing
                            WHERE jar_id = j.id AND kind = 'filled'), ''),
                  s.name, coalesce(max(date(w.strained_on, '+1 day'), ?), j.strain_on) AS day,
                  j.state NOT IN ('steeping', 'drained'), w.id IS NOT NULL,
                  h.name, l.part, l.condition
           FROM jar j
           LEFT JOIN straining w ON w.jar_id = j.id
                AND (w.more OR EXISTS (SELECT 1 FROM straining_go WHERE straining_id = w.id))
           JOIN shelf s ON s.id = j.shelf_id
           JOIN charge_line l ON l.jar_id = j.id
           JOIN herb h ON h.id = l.herb_id
           WHERE j.state IN ('steeping', 'drained') OR j.strain_on >= ?
                 OR w.strained_on >= date(?, '-1 day')
           ORDER BY day, j.id, l.id""",
        *[keeper.today.isoformat()] * 3,
    )
    found = []
    for facts, group in groupby(rows, lambda row: row[:6]):
        code, born_at, shelf, strain_on, is_off, is_to_press = facts
        herbs, parts, conditions = zip(*(row[6:] for row in group), strict=True)
        found.append(
            StrainDate(
                code=code,
                born_at=born_at,
                herb=listed(herbs),
                part=listed(parts),
                condition=listed(conditions),
                shelf=shelf,
                strain_on=date.fromisoformat(strain_on),
                is_off=bool(is_off),
                is_to_press=bool(is_to_press),
            )
        )
    return found


UNDONE_DAYS = 60
"""How long a filling that was undone is reported to calendars."""


def undone_jars(keeper: Keeper) -> list[UndoneJar]:
    """Jars whose filling was undone lately and not redone, oldest first."""
    rows = keeper.rows(
        """SELECT e.subject, e.at, e.day FROM event e
           WHERE e.kind = 'filled' AND e.subject <> '' AND e.day >= date(?, ?)
                 AND NOT EXISTS (SELECT 1 FROM standing s WHERE s.kind = 'filled'
                                 AND s.subject = e.subject AND s.at = e.at)
           ORDER BY e.id""",
        keeper.today.isoformat(),
        f"-{UNDONE_DAYS} days",
    )
    return [  # a subject is the code, then the herb
        UndoneJar(subject.partition(" ")[0], at, date.fromisoformat(day))
        for subject, at, day in rows
    ]


@dataclass(frozen=True)
class ShakeReminder:
    """A reminder each morning to shake the jars."""

    born_at: str
    """When the shelf was begun, by which it is told from other shelves."""
    jars: tuple[str, ...]
    """Codes of the jars that are shaken; none where nothing is to be shaken."""
    until: date
    """The last day on which one of them is shaken."""


_SHAKES = "calendar_shakes"
"""Names the setting."""


def ask_for_shakes(keeper: Keeper, wanted: bool) -> None:
    """Put a daily reminder into calendars from now on, or take it out of them."""
    if wanted or keeper.setting(_SHAKES):
        remember(keeper, _SHAKES, "yes" if wanted else "no")


def shake_reminder(keeper: Keeper) -> ShakeReminder | None:
    """The reminder, where it was ever asked for; without jars where it is off."""
    asked = keeper.setting(_SHAKES)
    if not asked:
        return None
    ((born_at,),) = keeper.rows("SELECT coalesce(min(at), '') FROM event")
    rows = keeper.rows(
        """SELECT code, date(strain_on, '-1 day') FROM jar
           WHERE state = 'steeping' AND shakes_per_day > 0 AND strain_on > ? ORDER BY code""",
        keeper.today.isoformat(),
    )
    if asked != "yes" or not rows:
        return ShakeReminder(born_at, (), keeper.today)
    last = max(date.fromisoformat(day) for _, day in rows)
    return ShakeReminder(born_at, tuple(code for code, _ in rows), last)


def keep_until_dates(keeper: Keeper) -> list[KeepUntilDate]:
    """Tinctures by date: those that bottles still hold, and those of which none is left before
    their date has come, so that a calendar drops what it has of them."""
    by_tincture: dict[int, list[BottleRow]] = {}
    for bottle in bottle_rows(keeper, empties=True):
        if bottle.keep_until is not None:
            by_tincture.setdefault(bottle.tincture_id, []).append(bottle)
    for tincture_id, bottles in list(by_tincture.items()):
        full = [bottle for bottle in bottles if bottle.left_ml > EMPTY_ML]
        if full:
            by_tincture[tincture_id] = full
        elif (bottles[0].keep_until or keeper.today) < keeper.today:
            del by_tincture[tincture_id]
    born = dict(
        keeper.rows(
            """SELECT tincture_id, min(at) FROM standing
               WHERE tincture_id IS NOT NULL AND kind IN ('strained', 'blended')
               GROUP BY tincture_id"""
        )
    )
    found = [
        _keep_until(group, born.get(tincture_id, "")) for tincture_id, group in by_tincture.items()
    ]
    return sorted(found, key=lambda each: (each.keep_until, each.code))


def _keep_until(bottles: list[BottleRow], born_at: str) -> KeepUntilDate:
    first = bottles[0]
    return KeepUntilDate(
        code=first.batch,
        born_at=born_at,
        name=first.name,
        keep_until=first.keep_until or first.made_on,
        left_ml=sum(bottle.left_ml for bottle in bottles),
        bottles=tuple(f"{b.code} ({b.place})" if b.place else b.code for b in bottles),
        is_off=all(bottle.left_ml <= EMPTY_ML for bottle in bottles),
    )
