"""Charts on paper: what they show is what their table says."""

from datetime import date

from stillroom.keeping.year.pictures import Picture, Point, Series
from stillroom.paper.document import Chart, Document, Section
from stillroom.paper.pdf import as_pdf

from .reading import pages


def test_a_month_in_which_nothing_happened_is_drawn_empty() -> None:
    made = Series("made", (Point(date(2026, 1, 1), 300.0), Point(date(2026, 4, 1), 12.5)))
    picture = Picture("Made", "mL", (made, Series("used", ())), are_bars=True, decimal_comma=True)
    (page,) = pages(as_pdf(Document("Year", "", (Section("Made", (Chart(picture),)),))))
    shown = [page.index(f"{month} 26") for month in ("Jan", "Feb", "Mar", "Apr")]
    assert shown == sorted(shown)
