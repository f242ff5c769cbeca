"""Label sheets: where each label is on the page, and the page as PDF."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from io import BytesIO
from typing import Any

from stillroom.errors import NotUnderstood, Refused
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.label_text import AnyLabel
from stillroom.keeping.settings import remember, settings_of
from stillroom.paper.fonts import Face, make_ready, omission
from stillroom.paper.label_face import POINTS_PER_MM, Layout, draw_label, lay_out
from stillroom.paper.label_square import Box
from stillroom.paper.pdf_facts import PdfFacts, write_facts
from stillroom.quantities import UnitSystem, how_many

MOST_LABELS = 5000

EDGE_MM = 5.0
"""Nearer to the paper's edge many printers cannot print. Common practice, no source."""
PADDING_MM, ROLL_PADDING_MM = 2.4, 2.0
"""White inside a label's edge, on a sheet and on a roll; it is also the quiet zone of the code
square."""


@dataclass(frozen=True)
class LabelSheet:
    """A page of equal labels in rows and columns; every measure in mm."""

    page_width_mm: float
    page_height_mm: float
    columns: int
    rows: int
    label_width_mm: float
    label_height_mm: float
    left_mm: float
    """From the page's left edge to the first label."""
    top_mm: float
    """From the page's top edge to the first label."""
    column_gap_mm: float = 0.0
    row_gap_mm: float = 0.0

    def __post_init__(self) -> None:
        if self.columns < 1 or self.rows < 1:
            raise NotUnderstood("A sheet has at least one row and one column.")
        if self.label_width_mm < 20 or self.label_height_mm < 12:
            raise NotUnderstood("A label is at least 20 mm wide and 12 mm high.")
        if min(self.left_mm, self.top_mm, self.column_gap_mm, self.row_gap_mm) < 0:
            raise NotUnderstood("Margins and gaps can't be negative.")
        if max(self.page_width_mm, self.page_height_mm) > 2000:
            raise NotUnderstood("A page is at most 2000 mm long.")
        self._refuse_beyond("wide", self._right_mm, self.page_width_mm)
        self._refuse_beyond("high", self._bottom_mm, self.page_height_mm)

    @property
    def _right_mm(self) -> float:
        pitch = self.label_width_mm + self.column_gap_mm
        return self.left_mm + self.columns * pitch - self.column_gap_mm

    @property
    def _bottom_mm(self) -> float:
        pitch = self.label_height_mm + self.row_gap_mm
        return self.top_mm + self.rows * pitch - self.row_gap_mm

    def _refuse_beyond(self, way: str, used_mm: float, page_mm: float) -> None:
        if used_mm > page_mm + 0.01:
            raise NotUnderstood(
                f"These labels need {used_mm:g} mm, and the page is {page_mm:g} mm {way}."
            )

    @property
    def per_page(self) -> int:
        """How many labels a full page holds."""
        return self.columns * self.rows

    def place(self, position: int) -> Box:
        """Where a label is, positions counted from 1, along the rows; mm from the top left."""
        row, column = divmod(position - 1, self.columns)
        return Box(
            self.left_mm + column * (self.label_width_mm + self.column_gap_mm),
            self.top_mm + row * (self.label_height_mm + self.row_gap_mm),
            self.label_width_mm,
            self.label_height_mm,
        )

    @property
    def is_roll(self) -> bool:
        """Whether each page is one label: label printers print nearly to its edge."""
        page = self.page_width_mm, self.page_height_mm
        return (self.label_width_mm, self.label_height_mm) == page

    def inside(self, box: Box) -> Box:
        """The part of a label that is printed on."""
        padding, edge = (ROLL_PADDING_MM, 0.0) if self.is_roll else (PADDING_MM, EDGE_MM)
        left, top = max(box.left + padding, edge), max(box.top + padding, edge)
        right = min(box.right - padding, self.page_width_mm - edge)
        bottom = min(box.bottom - padding, self.page_height_mm - edge)
        return Box(left, top, right - left, bottom - top)


def _roll(width_mm: float, height_mm: float) -> LabelSheet:
    """A roll of labels, each a page of its own."""
    return LabelSheet(width_mm, height_mm, 1, 1, width_mm, height_mm, 0, 0)


# The sizes are sold everywhere; margins and gaps leave the rows and columns centred on the page.
# Common practice, no source: a keeper measures the sheet at hand.
SHEETS = {
    "a4-99x68": LabelSheet(210, 297, 2, 4, 99, 67.7, 4.75, 13.1, 2.5),
    "a4-99x57": LabelSheet(210, 297, 2, 5, 99, 57, 4.75, 6, 2.5),
    "a4-70x50": LabelSheet(210, 297, 3, 5, 70, 50, 0, 23.5),
    "a4-70x37": LabelSheet(210, 297, 3, 8, 70, 37, 0, 0.5),
    "a4-63x38": LabelSheet(210, 297, 3, 7, 63.5, 38.1, 7.25, 15.15, 2.5),
    "letter-102x51": LabelSheet(215.9, 279.4, 2, 5, 101.6, 50.8, 4, 12.7, 4.7),
    "letter-67x25": LabelSheet(215.9, 279.4, 3, 10, 66.7, 25.4, 4.7, 12.7, 3.2),
    **{
        f"roll-{wide}x{high}": _roll(wide, high)
        for wide, high in ((62, 29), (50, 30), (76, 25), (57, 32))
    },
}
"""Sheets by page and label size in mm, and rolls by label size."""

DEFAULT_SHEET, LETTER_SHEET = "a4-63x38", "letter-102x51"
_LAST_SHEET, _NEXT_LABEL = "label_sheet", "label_next"
"""Name the settings."""


def last_sheet(keeper: Keeper) -> str:
    """The sheet that labels were last printed on, as `sheet_from` reads it; at first, one of the
    paper that goes with the units."""
    is_us = settings_of(keeper).units is UnitSystem.US
    return keeper.setting(_LAST_SHEET, LETTER_SHEET if is_us else DEFAULT_SHEET)


def next_label(keeper: Keeper, text: str) -> int:
    """Where a half-used sheet goes on, where it was the last one used; otherwise 1."""
    number = keeper.setting(_NEXT_LABEL, "1")
    if sheet_from(text) != sheet_from(last_sheet(keeper)) or not number.isdecimal():
        return 1
    return int(number) if 1 <= int(number) <= sheet_from(text).per_page else 1


def remember_sheet(keeper: Keeper, text: str, labels: int = 0, start: int = 1) -> None:
    """Propose this sheet the next time, from the first label that is left on it."""
    per_page = sheet_from(text).per_page
    remember(keeper, _LAST_SHEET, text)
    remember(keeper, _NEXT_LABEL, f"{(start - 1 + labels) % per_page + 1}")


_OWN = re.compile(
    r"page (?P<page>\S+) grid (?P<grid>\S+) label (?P<label>\S+)"
    r" margin (?P<margin>\S+)(?: gap (?P<gap>\S+))?"
)
_ROLL = re.compile(r"(?:roll[ -])?(\d\S*[x×*]\d\S*)")
_EXAMPLE = (
    "write the size of a label on a roll, such as 62x29; or "
    "write page 210x297 grid 3x7 label 63.5x38.1 margin 7.25x15.15 gap 2.5x0: "
    "columns × rows, width × height, left × top, in mm"
)


def sheet_from(text: str) -> LabelSheet:
    """Read a sheet: the name of one of ours, or its measures written out in mm."""
    plain = " ".join(text.lower().split())
    if plain in SHEETS:
        return SHEETS[plain]
    if roll := _ROLL.fullmatch(plain):
        return _roll(*_pair(roll[1]))
    found = _OWN.fullmatch(plain)
    if not found:
        raise NotUnderstood(f"Not a sheet: one of {', '.join(SHEETS)}; or {_EXAMPLE}.")
    columns, rows = _pair(found["grid"])
    if columns != int(columns) or rows != int(rows):
        raise NotUnderstood("Columns and rows must be whole numbers.")
    return LabelSheet(
        *_pair(found["page"]),
        int(columns),
        int(rows),
        *_pair(found["label"]),
        *_pair(found["margin"]),
        *_pair(found["gap"] or "0x0"),
    )


def _pair(text: str) -> tuple[float, float]:
    number = r"(\d{1,4}(?:[.,]\d{1,3})?)"
    found = re.fullmatch(f"{number}[x×*]{number}", text, re.ASCII)
    if not found:
        raise NotUnderstood(f"“{text}” is not two numbers with an x between: {_EXAMPLE}.")
    return float(found[1].replace(",", ".")), float(found[2].replace(",", "."))


def sheet_in_words(sheet: LabelSheet) -> str:
    """A sheet written out so that `sheet_from` reads the same back."""
    return (
        f"page {sheet.page_width_mm:g}x{sheet.page_height_mm:g} grid {sheet.columns}x{sheet.rows} "
        f"label {sheet.label_width_mm:g}x{sheet.label_height_mm:g} "
        f"margin {sheet.left_mm:g}x{sheet.top_mm:g} "
        f"gap {sheet.column_gap_mm:g}x{sheet.row_gap_mm:g}"
    )


def pages_needed(labels: int, sheet: LabelSheet, start: int = 1) -> int:
    """How many sheets a number of labels takes."""
    return -(-(labels + start - 1) // sheet.per_page)


def label_sheets_pdf(
    labels: Sequence[AnyLabel],
    sheet: LabelSheet,
    *,
    start: int = 1,
    outlines: bool = False,
    facts: PdfFacts | None = None,
) -> bytes:
    """Labels on sheets, from position `start` of the first one; a page is never scaled.

    `outlines` draws each label's edge, for plain paper and scissors. Raises CannotDraw or
    LabelTooSmall, which say which label and why, before anything is written.
    """
    from reportlab.pdfgen.canvas import Canvas

    if not labels:
        raise Refused("There are no labels to print. Choose a bottle, and at least one copy.")
    if len(labels) > MOST_LABELS:
        raise Refused(f"Print at most {MOST_LABELS} labels at once.")
    if not 1 <= start <= sheet.per_page:
        raise Refused(f"This sheet has {sheet.per_page} labels. Start at 1 to {sheet.per_page}.")
    size = sheet.page_width_mm * POINTS_PER_MM, sheet.page_height_mm * POINTS_PER_MM
    content = BytesIO()
    make_ready()
    facts = facts or PdfFacts()
    canvas = Canvas(
        content,
        size,
        invariant=1,
        pageCompression=1,
        initialFontName=Face.PLAIN.value,
        lang=facts.language,
    )
    write_facts(canvas, "Labels", facts)
    # Without this some viewers offer to shrink the page to fit, and the labels miss their places.
    canvas.setViewerPreference("PrintScaling", "None")
    for count, label in enumerate(labels, start - 1):
        page, position = divmod(count, sheet.per_page)
        if page and position == 0:
            canvas.showPage()
        box = sheet.place(position + 1)
        draw_label(canvas, _on(sheet, label, box), sheet.page_height_mm)
        if outlines:
            _draw_outline(canvas, box, sheet.page_height_mm)
    canvas.save()
    return content.getvalue()


def _on(sheet: LabelSheet, label: AnyLabel, box: Box) -> Layout:
    return lay_out(label, sheet.inside(box), (sheet.label_width_mm, sheet.label_height_mm))


def left_out(labels: Sequence[AnyLabel], sheet: LabelSheet, start: int = 1) -> str:
    """What isn't on some of these labels, in a sentence or two; blank where everything is."""
    found: dict[str, int] = {}
    for count, label in enumerate(labels, start - 1):
        box = sheet.place(count % sheet.per_page + 1)
        for what in _on(sheet, label, box).left_out:
            found[what] = found.get(what, 0) + 1
    unprinted = omission(line.text for label in labels for line in label.lines)
    if not found:
        return unprinted
    named = ", ".join(f"{what} ({how_many(count, 'label')})" for what, count in found.items())
    return f"Left out, because it doesn't fit: {named}. {unprinted}".rstrip()


def _draw_outline(canvas: Any, box: Box, page_height_mm: float) -> None:
    canvas.setLineWidth(0.3)
    canvas.setStrokeGray(0.6)
    canvas.rect(
        box.left * POINTS_PER_MM,
        (page_height_mm - box.bottom) * POINTS_PER_MM,
        box.width * POINTS_PER_MM,
        box.height * POINTS_PER_MM,
    )
