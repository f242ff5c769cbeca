"""The print log: what labels showed when printed, and which no longer fit their bottle."""

import json
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from stillroom.dates import DayForm
from stillroom.errors import StillroomError
from stillroom.keeping.bottles.bottle_views import bottles_by_id
from stillroom.keeping.bottles.labels import Label, label_lines, labels_for
from stillroom.keeping.bottles.status import why_not_to_use
from stillroom.keeping.bottles.tinctures import tincture_views
from stillroom.keeping.drafts import BottleDraft
from stillroom.keeping.keeper import Keeper, stamp
from stillroom.keeping.label_words import languages
from stillroom.keeping.settings import Settings, settings_of
from stillroom.keeping.tolerances import EMPTY_ML
from stillroom.keeping.views import BottleRow
from stillroom.quantities import UnitSystem
from stillroom.reckoning.states import PrintKind
from stillroom.records.tables import PrintLine

# The code of a bottle changes where its straining is moved to another jar. What was printed of the
# code it had then is its label; what was printed of another bottle that had its code before is not.
_CODES = """
    renamed (bottle_id, code, at) AS MATERIALIZED (
        SELECT c.row_id, json_extract(c.before, '$.code'), j.at
        FROM wanted w CROSS JOIN journal_change c ON c.record = 'bottle' AND c.row_id = w.bottle_id
        CROSS JOIN journal j ON j.id = c.journal_id
        WHERE c.after IS NOT NULL
              AND json_extract(c.before, '$.code') <> json_extract(c.after, '$.code')),
    known (bottle_id, code, since, until) AS (
        SELECT b.id, b.code,
               coalesce((SELECT max(at) FROM renamed WHERE bottle_id = b.id),
                        (SELECT min(at) FROM movement WHERE bottle_id = b.id), ''), '~'
        FROM wanted w CROSS JOIN bottle b ON b.id = w.bottle_id
        UNION ALL
        SELECT bottle_id, code, '', at FROM renamed)
"""
"""Needs `wanted`, the bottles to look at."""
# A label shows what a bottle holds, and is not wrong because some was drawn since.
_LAST_LINES = f"""
    WITH wanted (bottle_id) AS (SELECT bottle_id FROM in_stock), {_CODES},
    last (bottle_id, line_id) AS (
        SELECT k.bottle_id, max(l.id) FROM known k
        CROSS JOIN print_log l ON l.bottle = k.code AND l.at BETWEEN k.since AND k.until
        GROUP BY k.bottle_id)
    SELECT b.id, b.tincture_id, b.code, b.size_ml, l.id, l.text, l.day, l.units, l.day_form,
           l.decimal_comma, l.language,
           (SELECT coalesce(sum(volume_ml), 0) FROM movement WHERE bottle_id = b.id AND at <= l.at),
           (SELECT sum(volume_ml) FROM movement WHERE bottle_id = b.id AND kind = 'fill')
    FROM last CROSS JOIN print_log l ON l.id = last.line_id
    CROSS JOIN bottle b ON b.id = last.bottle_id
    WHERE (SELECT sum(volume_ml) FROM movement WHERE bottle_id = b.id) > ?
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
                language=label.words.language,
            ).execute()


def old_labels(keeper: Keeper) -> list[OldLabel]:
    """Bottles in stock whose label would have another text if it were printed now.

    The two are compared in the units, dates and decimal mark of the one that was printed. What was
    found before is used again where nothing has changed of what a label shows.
    """
    if not keeper.rows("SELECT 1 FROM print_log LIMIT 1"):
        return []
    lines = keeper.rows(_LAST_LINES, EMPTY_ML)
    tinctures = tincture_views(keeper, {line[1] for line in lines})
    settings = settings_of(keeper)
    written = {line[7:11] for line in lines}
    notations = {notation: _in(settings, *notation) for notation in written}
    before = keeper.labels_compared
    now: dict[int, tuple[Any, str]] = {}
    for bottle_id, tincture_id, code, size_ml, line_id, _, day, *notation, held_ml, full in lines:
        tincture = tinctures[tincture_id]
        as_then = notations[tuple(notation)]
        facts = (line_id, code, held_ml, full, tincture, as_then)
        known = before.get(bottle_id)
        if known is None or known[0] != facts:
            draft = BottleDraft(size_ml, max(0.0, held_ml))
            printed_on = date.fromisoformat(day)
            label = label_lines(
                draft, tincture, as_then, code=code, filled_ml=full, today=printed_on
            )
            known = facts, label_text(label)
        now[bottle_id] = known
    keeper.labels_compared = now
    old = [line for line in lines if now[line[0]][1] != line[5]]
    bottles = bottles_by_id(keeper, [line[0] for line in old])
    return [
        _old_label(bottles[bottle_id], day, text, now[bottle_id][1])
        for bottle_id, _, _, _, _, text, day, *_ in old
        if not why_not_to_use(bottles[bottle_id])
    ]


def _old_label(row: BottleRow, day: str, text: str, now: str) -> OldLabel:
    old, new = text.split("\n"), now.split("\n")
    return OldLabel(
        row,
        date.fromisoformat(day),
        gone=tuple(line for line in old if line not in new),
        new=tuple(line for line in new if line not in old),
    )


def _in(
    settings: Settings, units: str, day_form: str, decimal_comma: int, language: str
) -> Settings:
    """The settings with the notation of a printed label; what is unknown stays as it is."""
    if units in tuple(UnitSystem):
        settings = replace(settings, units=UnitSystem(units))
    if day_form in tuple(DayForm):
        settings = replace(settings, day_form=DayForm(day_form))
    if language in languages():
        settings = replace(settings, label_language=language)
    return replace(settings, decimal_comma=bool(decimal_comma))


def printed_labels(keeper: Keeper, codes: Iterable[str]) -> list[PrintedLabel]:
    """What the print log holds of these bottles, oldest first."""
    lines: list[tuple[Any, ...]] = keeper.rows(
        f"""WITH asked (code) AS (SELECT value FROM json_each(?)),
            wanted (bottle_id) AS (SELECT b.id FROM asked JOIN bottle b ON b.code = asked.code),
            {_CODES}
            SELECT at, day, maker, kind, bottle, text, copies FROM print_log
            WHERE id IN (SELECT l.id FROM asked JOIN bottle b ON b.code = asked.code
                         JOIN known k ON k.bottle_id = b.id
                         JOIN print_log l ON l.bottle = k.code AND l.at BETWEEN k.since AND k.until)
                  OR bottle IN (SELECT code FROM asked EXCEPT SELECT code FROM bottle)
            ORDER BY id""",
        json.dumps(list(codes)),
    )
    return [
        PrintedLabel(at, date.fromisoformat(day), maker, PrintKind(kind), bottle, text, copies)
        for at, day, maker, kind, bottle, text, copies in lines
    ]
