"""One jar in full: contents, calculated figures, history."""

from collections import Counter
from datetime import date
from typing import Any

from stillroom.errors import Refused
from stillroom.keeping.bottles.tinctures import charge_views, tincture_of_jar
from stillroom.keeping.jars.liquid import narrowed, outlook, pour_views
from stillroom.keeping.jars.shelves import jar_card
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.ledger import jar_history
from stillroom.keeping.ledger_views import EventView, Mark
from stillroom.keeping.views import GoView, JarView, StrainingView
from stillroom.reckoning.states import DayBy, JarState
from stillroom.reckoning.yields import Pressing
from stillroom.records.tables import Jar, Shake, Shelf, Straining, StrainingGo


def jar_view(keeper: Keeper, jar_id: int) -> JarView:
    """Everything about a jar; Refused where it is no longer there."""
    card = jar_card(keeper, jar_id)
    jar: Any = Jar.select(Jar, Shelf).join(Shelf).where(Jar.id == jar_id).get_or_none()
    if card is None or jar is None:
        raise Refused("That jar no longer exists.")
    charges = charge_views(keeper, jar_id)
    pours = pour_views(keeper, jar_id)
    straining = _straining(jar_id)
    found = outlook(charges, pours)
    days_shaken = _days_shaken(jar_id)
    lines = tuple(jar_history(keeper, jar_id))
    is_imported = any(was_imported(event) for event in lines)
    return JarView(
        card=card,
        shelf=jar.shelf.name,
        state=JarState(jar.state),
        simmered=jar.simmered,
        capacity_ml=jar.capacity_ml,
        ended_on=jar.ended_on,
        note=jar.note,
        charges=charges,
        pours=pours,
        outlook=(
            narrowed(found, straining.yield_ml) if straining and not straining.more else found
        ),
        days_shaken=days_shaken,
        shakes_recorded_from=(min(days_shaken, default=None) if is_imported else card.filled_on),
        events=lines,
        straining=straining,
        tincture=tincture_of_jar(keeper, jar_id),
        is_imported=is_imported,
        marc_of=_code_of(keeper, "id", jar.marc_of_id),
        poured_again=_code_of(keeper, "marc_of_id", jar_id),
    )


def _code_of(keeper: Keeper, column: str, jar_id: int | None) -> str:
    rows = keeper.rows(f"SELECT code FROM jar WHERE {column} = ?", jar_id)
    return str(rows[0][0]) if rows else ""


def was_imported(event: EventView) -> bool:
    """Whether a jar came from a spreadsheet then; the first release called that a filling."""
    if event.mark is Mark.UNDONE:
        return False
    is_old = event.kind == "filled" and event.text.startswith("Taken over from ")
    return event.kind == "imported" or is_old


def _days_shaken(jar_id: int) -> dict[date, int]:
    return dict(Counter(s.day for s in Shake.select(Shake.day).where(Shake.jar == jar_id)))


def _straining(jar_id: int) -> StrainingView | None:
    straining: Any = Straining.get_or_none(Straining.jar == jar_id)
    if straining is None:
        return None
    return StrainingView(
        strained_on=straining.strained_on,
        yield_ml=straining.yield_ml,
        pressing=Pressing(straining.pressing),
        marc_g=straining.marc_g,
        measured_abv=straining.measured_abv,
        liquid_ml=straining.liquid_ml,
        expected_ml=straining.expected_ml,
        confirmed=straining.confirmed,
        note=straining.note,
        more=straining.more,
        pressing_assumed=straining.pressing_assumed,
        day_by=DayBy(straining.day_by),
        goes=tuple(_go(row) for row in _goes(straining.id)),
    )


def _goes(straining_id: int) -> list[Any]:
    rows = StrainingGo.select().where(StrainingGo.straining == straining_id)
    return list(rows.order_by(StrainingGo.strained_on, StrainingGo.id))


def _go(row: Any) -> GoView:
    return GoView(row.strained_on, row.yield_ml, Pressing(row.pressing), row.maker, row.note)
