"""What spirits and other liquids have in common when they are bought."""

from stillroom.keeping.drafts import LiquidDraft, SpiritDraft
from stillroom.keeping.words import clean_name, clean_note


def purchase_columns(draft: SpiritDraft | LiquidDraft) -> dict[str, object]:
    """The columns of a purchase, its texts cleaned; NotUnderstood where one can't be stored."""
    return {
        "bought_ml": draft.bought_ml,
        "price": draft.price,
        "bought_on": draft.bought_on,
        "origin": clean_name(draft.origin, "The origin", required=False, limit=2000),
        "lot": clean_name(draft.lot, "The lot", required=False, limit=2000),
        "code": clean_name(draft.code, "The code", required=False, limit=40) or None,
        "note": clean_note(draft.note),
    }
