"""The list of the stock: its columns, and what it shows of each bottle and batch."""

from datetime import date

from rich.text import Text

from stillroom.keeping.bottles.stock_outlook import SOON
from stillroom.keeping.tolerances import EMPTY_ML
from stillroom.keeping.views import BottleRow, TinctureView
from stillroom.keeping.wording import Wording
from stillroom.screens.kit.columns import Cell, Column, gauge
from stillroom.screens.kit.text import safe

Line = BottleRow | TinctureView

_BAR, _SHORT_BAR = 5, 3
_ROOMY = 104
"""Columns from which on days are shown in full."""
STOCK_COLUMNS = (
    Column("Bottle", 9),
    Column("", share=13),
    Column("", _SHORT_BAR, below_width=_ROOMY, is_bar=True),
    Column("", _BAR, from_width=_ROOMY, is_bar=True),
    Column("Left", 10, is_right=True),
    Column("Strength", 8, is_right=True),
    Column("Ratio", 6, is_right=True, below_width=_ROOMY),
    Column("Ratio poured", 12, is_right=True, from_width=_ROOMY),
    Column("Made", 11, is_right=True, from_width=_ROOMY),
    Column("Until", 8, is_right=True, below_width=_ROOMY),
    Column("Keep until", 16, is_right=True, from_width=_ROOMY),
    Column("Place", share=12),
)


def age_of(keep_until: date | None, today: date) -> str:
    """Whether a keep-until date has passed or soon will have."""
    if keep_until is None:
        return ""
    if keep_until < today:
        return "past"
    return "soon" if keep_until <= today + SOON else ""


def lasts(runs_out_on: date | None, rows: list[BottleRow], today: date, said: Wording) -> str:
    """How long there will be some to use, by what went out and by the keep-until dates."""
    dates = [row.keep_until for row in rows if row.left_ml > EMPTY_ML]
    good_until = max((day for day in dates if day), default=None)
    if good_until is None or None in dates:
        good_until = date.max
    if good_until < today:
        return "past keep-until"
    if runs_out_on is None or runs_out_on > good_until:
        month = said.month(good_until)
        return "" if good_until == date.max else f"more than you'll use by {month}"
    return f"runs out {said.month(runs_out_on)}"


def stock_cells(line: Line, part: Cell, today: date, said: Wording) -> tuple[Cell, ...]:
    """A line of the list; `part` is what it shows of a bottle's herb."""
    age = age_of(line.keep_until, today)
    ink = {"past": "problem", "soon": "warning"}.get(age, "")
    until = said.day(line.keep_until) if line.keep_until else ""
    ratio = said.ratio(line.ratio)
    common = (
        Cell(said.strength_cell(line) or "unknown"),
        Cell(ratio or "?"),
        Cell(ratio or "unknown"),
        Cell(said.day_known(line.made_on, line.made_by)),
        Cell(age or until.partition(" ")[2], ink),
        Cell(f"{age} {until}".strip(), ink),
    )
    if isinstance(line, TinctureView):
        loose = said.volume(line.loose_ml)
        return (
            Cell(line.code, "strong"), Cell(line.name), Cell(""), Cell(""), Cell(loose),
            *common,
            Cell("to bottle", "warning"),
        )  # fmt: skip
    left = said.volume(line.left_ml) if line.left_ml > EMPTY_ML else "empty"
    return (
        Cell(line.code, "strong"),
        part,
        gauge(line.left_ml / line.size_ml, _SHORT_BAR),
        gauge(line.left_ml / line.size_ml, _BAR),
        Cell(left, "strong"),
        *common,
        Cell(line.place),
    )


def about_bottle(row: BottleRow, said: Wording) -> Text:
    """What is shown below the list of the bottle at the cursor."""
    named = [safe(row.botanical), safe(f"{row.part}, {row.condition}"), f"batch {row.batch}"]
    held = f"{said.volume(row.left_ml)} of {said.volume(row.size_ml)}"
    facts = [
        f"holds {held}",
        f"strength {row.strength_by}",
        f"made {said.day_known(row.made_on, row.made_by)}",
        f"keep until {said.day(row.keep_until)}" if row.keep_until else "no keep-until date",
        safe(row.place),
    ]
    return Text.assemble(
        (safe(row.name), "bold"),
        " · ",
        " · ".join(filter(None, named)),
        "\n",
        " · ".join(filter(None, facts)),
    )
