"""The rows of a jar, of the herbs in it and of what was poured on."""

from datetime import date
from typing import Any

from stillroom.keeping.drafts import JarDraft
from stillroom.keeping.words import clean_note
from stillroom.records.tables import ChargeLine, Jar, Pour


def jar_columns(draft: JarDraft) -> dict[str, Any]:
    """What a draft says of the jar itself."""
    return {
        "simmered": draft.simmered,
        "filled_on": draft.filled_on,
        "strain_on": draft.strain_on,
        "shakes_per_day": draft.shakes_per_day,
        "capacity_ml": draft.capacity_ml,
        "note": clean_note(draft.note),
    }


def next_place(shelf_id: int) -> int:
    """The place behind the last jar of a shelf."""
    last = Jar.select(Jar.place).where(Jar.shelf == shelf_id).order_by(Jar.place.desc()).scalar()
    return int(last or 0) + 1


def insert_jar(code: str, shelf_id: int, draft: JarDraft, *, marc_of: int | None = None) -> int:
    """Put a jar at the end of a shelf, with no herb in it yet; returns its id."""
    return int(
        Jar.insert(
            code=code,
            shelf=shelf_id,
            place=next_place(shelf_id),
            marc_of=marc_of,
            **jar_columns(draft),
        ).execute()
    )


def insert_charge(jar_id: int, columns: dict[str, Any]) -> None:
    """Put one herb into a jar."""
    ChargeLine.insert(jar=jar_id, **columns).execute()


def insert_pour(jar_id: int, day: date, columns: dict[str, Any]) -> None:
    """Pour one liquid on."""
    Pour.insert(jar=jar_id, poured_on=day, **columns).execute()
