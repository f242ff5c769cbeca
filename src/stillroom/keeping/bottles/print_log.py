"""The print log: what labels showed when printed, and which no longer fit their bottle."""

import json
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from stillroom.dates import DayForm
from stillroom.errors import StillroomError
from stillroom.keeping.bottles.labels import Label, label_lines, labels_for
from stillroom.keeping.bottles.status import why_not_to_use
from stillroom.keeping.bottles.stock import bottles_by_id
from stillroom.keeping.bottles.tinctures import tincture_views
from stillroom.keeping.keeper import Keeper, stamp
from stillroom.keeping.settings import Settings, settings_of
from stillroom.keeping.tolerances import EMPTY_ML
from stillroom.keeping.views import BottleRow
from stillroom.quantities import UnitSystem
from stillroom.reckoning.states import PrintKind
from stillroom.records.tables import PrintLine

# A label shows what a bottle holds, and is not wrong because some was drawn since.
_LAST_LINES = """
    SELECT b.id, l.text, l.day, l.units, l.day_form, l.decimal_comma,
           (SELECT coalesce(sum(volume_ml), 0) FROM movement WHERE bottle_id = b.id AND at <= l.at)
    FROM print_log l JOIN bottle b ON b.code = l.bottle
    WHERE l.id IN (SELECT max(id) FROM print_log GROUP BY bottle)
          AND (SELECT sum(volume_ml) FROM movement WHERE bottle_id = b.id) > ?
    ORDER BY b.id
"""


@dataclass(frozen=True)
class OldLabel:
    """A bottle whose label no longer shows what it should."""

    bottle: BottleRow
    printed_on: date
    """When it was last printed, or dismissed."""
    gone: tuple[str, ...]
    """Lines of it that are no longer right."""
    new: tuple[str, ...]
    """Lines that a label printed now would have in their place."""


@dataclass(frozen=True)
class PrintedLabel:
    """One line of the print log."""

    at: str
    day: date
    maker: str
    kind: PrintKind
    bottle: str
    """Code of the bottle as it was."""
    text: str
    """The label, line by line."""
    copies: int


def label_text(label: Label) -> str:
    """A label as the print log holds it: its lines, each on its own."""
    return "\n".join(line.text for line in label.lines)


def record_printed(keeper: Keeper, labels: Iterable[Label], copies: int = 1) -> str:
    """Record that labels were printed. Undo doesn't take it back.

    They are on paper by now: where it can't be recorded, nothing is raised. Returns why in a
    sentence, or nothing.
    """
    try:
        _write(keeper, labels, PrintKind.PRINTED, copies)
    except StillroomError as error:
        return f"The printing wasn't recorded. {error}"
    return ""


def dismiss_labels(keeper: Keeper, bottle_ids: Iterable[int]) -> int:
    """Leave the labels of these bottles as they are, until they change again; returns how many."""
    labels = labels_for(keeper, bottle_ids)
    _write(keeper, labels, PrintKind.DISMISSED, 0)
    return len(labels)


def _write(keeper: Keeper, labels: Iterable[Label], kind: PrintKind, copies: int) -> None:
    settings = settings_of(keeper)
    with keeper.writing():
        for label in labels:
            PrintLine.insert(
                at=stamp(keeper.clock.now()),
                day=keeper.today,
                maker=keeper.maker,
                kind=kind,
                bottle=label.code,
                text=label_text(label),
                copies=copies,
                units=settings.units,
                day_form=settings.day_form,
                decimal_comma=settings.decimal_comma,
            ).execute()


def old_labels(keeper: Keeper) -> list[OldLabel]:
    """Bottles in stock whose label would have another text if it were printed now.

    The two are compared in the units, dates and decimal mark of the one that was printed.
    """
    lines = keeper.rows(_LAST_LINES, EMPTY_ML)
    if not lines:
        return []
    bottles = bottles_by_id(keeper, [line[0] for line in lines])
    tinctures = tincture_views(keeper, {row.tincture_id for row in bottles.values()})
    settings = settings_of(keeper)
    found = []
    for bottle_id, text, day, *notation, held_ml in lines:
        row = bottles[bottle_id]
        if why_not_to_use(row):
            continue
        as_then = replace(row, left_ml=max(0.0, held_ml))
        label = label_lines(as_then, tinctures[row.tincture_id], _in(settings, *notation))
        if (now := label_text(label)) != text:
            old, new = text.split("\n"), now.split("\n")
            found.append(
                OldLabel(
                    row,
                    date.fromisoformat(day),
                    gone=tuple(line for line in old if line not in new),
                    new=tuple(line for line in new if line not in old),
                )
            )
    return found


def _in(settings: Settings, units: str, day_form: str, decimal_comma: int) -> Settings:
    """The settings with the notation of a printed label; what is unknown stays as it is."""
    if units in tuple(UnitSystem):
        settings = replace(settings, units=UnitSystem(units))
    if day_form in tuple(DayForm):
        settings = replace(settings, day_form=DayForm(day_form))
    return replace(settings, decimal_comma=bool(decimal_comma))


def printed_labels(keeper: Keeper, codes: Iterable[str]) -> list[PrintedLabel]:
    """What the print log holds of these bottles, oldest first."""
    lines: list[tuple[Any, ...]] = keeper.rows(
        """SELECT at, day, maker, kind, bottle, text, copies FROM print_log
           WHERE bottle IN (SELECT value FROM json_each(?)) ORDER BY id""",
        json.dumps(list(codes)),
    )
    return [
        PrintedLabel(at, date.fromisoformat(day), maker, PrintKind(kind), bottle, text, copies)
        for at, day, maker, kind, bottle, text, copies in lines
    ]
