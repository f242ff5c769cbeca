"""What spirits and other liquids have in common when they are bought."""

from datetime import date

from stillroom.errors import Refused
from stillroom.keeping.drafts import LiquidDraft, SpiritDraft
from stillroom.keeping.words import clean_name, clean_note


def purchase_columns(draft: SpiritDraft | LiquidDraft, today: date) -> dict[str, object]:
    """The columns of a purchase, its texts cleaned.

    Refused where it was bought after today, NotUnderstood where a text can't be stored.
    """
    if draft.bought_on is not None and draft.bought_on > today:
        raise Refused("The day it was bought is in the future.")
    return {
        "bought_ml": draft.bought_ml,
        "price": draft.price,
        "bought_on": draft.bought_on,
        "origin": clean_name(draft.origin, "The origin", required=False, limit=2000),
        "lot": clean_name(draft.lot, "The lot", required=False, limit=2000),
        "code": clean_name(draft.code, "The code", required=False, limit=40) or None,
        "note": clean_note(draft.note),
    }
