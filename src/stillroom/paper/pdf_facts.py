"""What a PDF says of itself: title, author, language and the moment it was made."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any


@dataclass(frozen=True)
class PdfFacts:
    """Facts of a PDF that no page shows."""

    author: str = ""
    language: str = "en"
    """By BCP 47."""
    made_at: datetime | None = None
    """Fixed, and so are the bytes; None for the beginning of the year 2000."""


def write_facts(canvas: Any, title: str, facts: PdfFacts) -> None:
    """Put them on a PDF canvas."""
    canvas.setTitle(title)
    canvas.setAuthor(facts.author)
    canvas.setCreator("Stillroom")
    canvas.setSubject(title)
    moment = facts.made_at
    if moment is not None:
        offset = moment.strftime("%z") or "+0000"
        text = f"D:{moment:%Y%m%d%H%M%S}{offset[:3]}'{offset[3:5]}'"
        canvas.setDateFormatter(lambda *_: text)
