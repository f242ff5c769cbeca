"""What to ask about a correction: what is unlikely but possible, and what is dangerous."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from stillroom.keeping.bottles.stock import keeps_too_long
from stillroom.keeping.bottles.tinctures import charge_views, tincture_view
from stillroom.keeping.correcting.columns import KEEP_UNTIL, USUAL
from stillroom.keeping.correcting.kinds import NewValue, SubjectKind
from stillroom.keeping.correcting.reached import matters
from stillroom.keeping.jars.expecting import oddities
from stillroom.keeping.jars.liquid import outlook, pours_of_jars
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.views import ChargeView, Outlook, PourView
from stillroom.reckoning.cautions import deadly_warning
from stillroom.reckoning.yields import Pressing


def deadly(keeper: Keeper, asked: Sequence[NewValue]) -> list[str]:
    """Warnings about herbs that jars are said to hold, or that are renamed so."""
    found = []
    for each in asked:
        column = each.fact.cell.column
        is_name = column == "herb_id" or (
            each.subject.kind is SubjectKind.HERB and column == "name"
        )
        is_botanical = each.subject.kind is SubjectKind.HERB and column == "botanical"
        if is_name or is_botanical:
            name, botanical = str(each.value), str(each.value) if is_botanical else ""
            rows = keeper.rows("SELECT botanical FROM herb WHERE name = ?", name)
            found.append(deadly_warning(name, botanical or (rows[0][0] if rows else "")))
    return [warning for warning in dict.fromkeys(found) if warning]


def questions_about(keeper: Keeper, asked: Sequence[NewValue]) -> list[str]:
    """What to ask about the jars that were corrected; odd yields are recorded as confirmed."""
    columns: dict[int, set[tuple[str, str]]] = defaultdict(set)
    for each in asked:
        if each.subject.kind is SubjectKind.JAR and _matters_or_days(each):
            cell = each.fact.cell
            columns[each.subject.row_id].add((cell.record, cell.column))
    questions = _too_long(keeper, asked)
    for jar_id, changed in columns.items():
        if {record for record, _ in changed} & _ODD_BY:
            odd_yield, odd_strength = _odd(keeper, jar_id)
            keeper.store.db.execute_sql(
                "UPDATE straining SET confirmed = ? WHERE jar_id = ?", (bool(odd_yield), jar_id)
            )
            questions += filter(None, (odd_yield, odd_strength))
        if {column for _, column in changed} & _STEEPING_DAYS:
            questions += _shakes_outside(keeper, jar_id)
    return questions


def _too_long(keeper: Keeper, asked: Sequence[NewValue]) -> list[str]:
    """Keep-until dates set by hand that are later than what will not keep should have."""
    found = []
    for each in asked:
        cell, day = each.fact.cell, each.value
        if cell.column == KEEP_UNTIL and cell.row_id is not None and day != USUAL:
            assert day is None or isinstance(day, date)
            found.append(keeps_too_long(keeper, tincture_view(keeper, cell.row_id), day))
    return list(filter(None, found))


_ODD_BY = {"charge_line", "pour", "straining", "straining_go"}
_STEEPING_DAYS = {"filled_on", "strained_on", "ended_on", "shakes", "jar_id"}


def _matters_or_days(asked: NewValue) -> bool:
    return matters(asked) or asked.fact.cell.column in _STEEPING_DAYS


@dataclass(frozen=True)
class _StrainedContents:
    """What the yield of a strained jar is judged by."""

    jar_id: int
    charges: tuple[ChargeView, ...]
    pours: tuple[PourView, ...]
    outlook: Outlook
    capacity_ml: float | None


def _odd(keeper: Keeper, jar_id: int) -> tuple[str, str]:
    rows = keeper.rows(
        """SELECT s.yield_ml, s.pressing, s.measured_abv, j.capacity_ml FROM straining s
           JOIN jar j ON j.id = s.jar_id WHERE s.jar_id = ? AND NOT s.more""",
        jar_id,
    )
    charges = charge_views(keeper, jar_id)
    pours = pours_of_jars(keeper, [jar_id]).get(jar_id, ())
    if not rows or not charges or not pours:
        return "", ""
    ((yield_ml, pressing, measured, capacity_ml),) = rows
    jar = _StrainedContents(jar_id, charges, pours, outlook(charges, pours), capacity_ml)
    return oddities(keeper, jar, yield_ml, Pressing(pressing), measured)


def _shakes_outside(keeper: Keeper, jar_id: int) -> list[str]:
    ((code, shaken),) = keeper.rows(
        """SELECT j.code, (SELECT count(*) FROM shake s WHERE s.jar_id = j.id
                           AND (s.day < j.filled_on OR s.day > coalesce(j.ended_on, s.day)))
           FROM jar j WHERE j.id = ?""",
        jar_id,
    )
    if not shaken:
        return []
    return [f"Shakes of {code} are recorded for days when it would not be steeping: {shaken}."]
