"""What came back of liquid that had been drawn or given: it isn't added to the bottle again."""

from datetime import date

from stillroom.errors import Refused
from stillroom.keeping.bottles.bottle_views import bottle_row, filling_day
from stillroom.keeping.drafts import ALL, ToTake
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.tolerances import EMPTY_ML
from stillroom.keeping.views import BottleRow
from stillroom.keeping.wording import wording
from stillroom.keeping.words import clean_name, clean_note
from stillroom.reckoning.states import MovementKind, in_sql
from stillroom.records.tables import Returned

NOT_ADDED = "It isn't added to the bottle."
_OUT = f"""
    SELECT coalesce((SELECT -sum(volume_ml) FROM movement WHERE bottle_id = ?
                     AND kind IN {in_sql((MovementKind.DRAW, MovementKind.GIVE))}), 0),
           coalesce((SELECT sum(volume_ml) FROM returned WHERE bottle_id = ?), 0)
"""


def still_out_ml(keeper: Keeper, bottle_id: int) -> float:
    """mL drawn and given from a bottle that didn't come back."""
    ((out_ml, back_ml),) = keeper.rows(_OUT, bottle_id, bottle_id)
    return max(0.0, float(out_ml - back_ml))


def record_return(
    keeper: Keeper,
    bottle_id: int,
    returned: ToTake,
    *,
    person: str = "",
    note: str = "",
    day: date | None = None,
) -> BottleRow:
    """Record what came back of a bottle, today unless a day is given; ALL is all that is out.

    Refused where less was drawn and given, or before the bottle was filled.
    """
    said = wording(keeper)
    with keeper.act("Returned") as act:
        row = bottle_row(keeper, bottle_id)
        day = day or act.day
        filled_on = filling_day(keeper, bottle_id)
        if not filled_on <= day <= act.day:
            raise Refused(
                f"Bottle {row.code} was filled on {said.day(filled_on)}: "
                "enter a date from then until today."
            )
        out_ml = still_out_ml(keeper, bottle_id)
        if out_ml <= EMPTY_ML:
            raise Refused(f"Nothing that was drawn or given from {row.code} is still out.")
        volume_ml = out_ml if returned is ALL else returned
        if not volume_ml > EMPTY_ML:
            raise Refused("The volume must be greater than zero.")
        if volume_ml > out_ml + EMPTY_ML:
            raise Refused(
                f"Only {said.volume(out_ml)} that was drawn or given from {row.code} is still "
                f"out, not {said.volume(volume_ml)}."
            )
        volume_ml = min(volume_ml, out_ml)
        person = clean_name(person, "The name", required=False)
        note = clean_note(note, "The note", limit=2000)
        Returned.insert(
            bottle=bottle_id,
            volume_ml=volume_ml,
            at=act.at,
            day=day,
            maker=act.maker,
            person=person,
            note=note,
        ).execute()
        act.title = f"{said.volume(volume_ml)} of {row.code} returned"
        act.note(
            "returned",
            " · ".join(filter(None, (f"{said.volume(volume_ml)} {_from(person)}".strip(), note))),
            bottle_id=bottle_id,
            tincture_id=row.tincture_id,
        )
        return row


def _from(person: str) -> str:
    return f"from {person}" if person else ""
