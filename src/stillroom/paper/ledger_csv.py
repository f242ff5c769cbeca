"""The ledger as a table that any spreadsheet opens."""

import csv
import io
from collections.abc import Iterable

from stillroom.keeping.interchange.cells import guarded
from stillroom.keeping.ledger_views import EventView, Later

_COLUMNS = (
    "day", "at_utc", "maker", "kind", "about", "text", "mark", "later_on", "later_by", "later_why",
)  # fmt: skip


def ledger_csv(events: Iterable[EventView]) -> bytes:
    """Lines of the ledger as CSV (RFC 4180, UTF-8), in the order given.

    A text that a spreadsheet would take for a formula is made harmless with an apostrophe.
    """
    sheet = io.StringIO()
    writer = csv.writer(sheet)
    writer.writerow(_COLUMNS)
    for event in events:
        line = (
            event.day.isoformat(), event.at, event.maker, event.kind, event.subject, event.text,
            event.mark, *_later(event.later),
        )  # fmt: skip
        writer.writerow([guarded(text) for text in line])
    return sheet.getvalue().encode()


def _later(later: Later | None) -> tuple[str, str, str]:
    """Day, initials and reason of what undid or corrected a line; blank if still valid."""
    return (later.day.isoformat(), later.maker, later.why) if later else ("", "", "")
