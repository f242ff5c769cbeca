"""Documents as PDF: one quiet style for every page that is not a label."""

from collections.abc import Iterator
from enum import StrEnum
from io import BytesIO
from typing import Any
from xml.sax.saxutils import escape

from ..keeping.preferences import Preferences
from ..quantities import UnitSystem
from .document import Block, Document, Facts, Grid, Prose, Section
from .fonts import Face, make_ready, refuse_undrawable

POINTS_PER_MM = 72 / 25.4
MARGIN_MM = 17.0
FOOT_MM = 10.0
INK, GREY, PALE = "#111111", "#555555", "#bbbbbb"


class Page(StrEnum):
    """A size of paper."""

    A4 = "a4"
    LETTER = "letter"

    @property
    def size_mm(self) -> tuple[float, float]:
        """Width and height."""
        return (210.0, 297.0) if self is Page.A4 else (215.9, 279.4)


def page_for(preferences: Preferences) -> Page:
    """The paper that goes with the units of a shelf: letter with US units, otherwise A4."""
    return Page.LETTER if preferences.units is UnitSystem.US else Page.A4


def as_pdf(document: Document, page: Page = Page.A4) -> bytes:
    """A document on paper; the same document always gives the same bytes.

    Raises CannotDraw, naming the characters, where a text could only be printed in part.
    """
    make_ready()
    refuse_undrawable(document.texts, f"“{document.title}”")
    pages, _ = _build(document, page, 0)
    return _build(document, page, pages)[1]


def _build(document: Document, page: Page, pages: int) -> tuple[int, bytes]:
    """The number of pages and the file; the number goes into the foot of each page."""
    from reportlab.platypus import SimpleDocTemplate

    content = BytesIO()
    width, height = (mm * POINTS_PER_MM for mm in page.size_mm)
    margin = MARGIN_MM * POINTS_PER_MM
    template = SimpleDocTemplate(
        content,
        pagesize=(width, height),
        leftMargin=margin,
        rightMargin=margin,
        topMargin=margin,
        bottomMargin=margin,
        title=document.title,
        author="",
        creator="Stillroom",
        invariant=1,
        pageCompression=1,
    )

    def foot(canvas: Any, template: Any) -> None:
        canvas.saveState()
        canvas.setFont(Face.PLAIN.value, 7.5)
        canvas.setFillColor(GREY)
        low = FOOT_MM * POINTS_PER_MM
        canvas.drawString(margin, low, document.closing)
        canvas.drawRightString(width - margin, low, f"Page {template.page} of {pages}")
        canvas.restoreState()

    styles = _Styles(width - 2 * margin - 12)  # platypus frames keep 6 points on either side
    template.build(list(_story(document, styles)), onFirstPage=foot, onLaterPages=foot)
    return template.page, content.getvalue()


class _Styles:
    """The few kinds of text on a page."""

    def __init__(self, width: float) -> None:
        from reportlab.lib.styles import ParagraphStyle

        self.width = width
        """Points between the margins."""
        self.body = ParagraphStyle(
            "body", fontName=Face.PLAIN.value, fontSize=8.6, leading=11, textColor=INK
        )
        self.right = ParagraphStyle("right", self.body, alignment=2)
        self.tick = ParagraphStyle("tick", self.body, fontSize=14, leading=14)
        self.name = ParagraphStyle("name", self.body, textColor=GREY)
        self.head = ParagraphStyle("head", self.name, fontSize=7.6, leading=9.5)
        self.head_right = ParagraphStyle("head-right", self.head, alignment=2)
        self.title = ParagraphStyle(
            "title", self.body, fontName=Face.BOLD.value, fontSize=17, leading=21
        )
        self.subtitle = ParagraphStyle("subtitle", self.name, fontSize=9.5, leading=13)
        self.heading = ParagraphStyle(
            "heading", self.body, fontName=Face.BOLD.value, fontSize=10.5, leading=13,
            spaceBefore=11, spaceAfter=3, keepWithNext=1,
        )  # fmt: skip


def _paragraph(text: str, style: Any) -> Any:
    from reportlab.platypus import Paragraph

    return Paragraph(escape(text).replace("\n", "<br/>"), style)


def _story(document: Document, styles: _Styles) -> Iterator[Any]:
    yield _paragraph(document.title, styles.title)
    if document.subtitle:
        yield _paragraph(document.subtitle, styles.subtitle)
    for section in document.sections:
        yield from _section(section, styles)


def _section(section: Section, styles: _Styles) -> Iterator[Any]:
    from reportlab.platypus import Spacer

    yield _paragraph(section.heading, styles.heading)
    for number, block in enumerate(section.blocks):
        if number:
            yield Spacer(0, 5)
        yield from _block(block, styles)


def _block(block: Block, styles: _Styles) -> Iterator[Any]:
    match block:
        case Facts():
            yield _facts(block, styles)
        case Grid():
            yield _grid(block, styles)
        case Prose(text):
            for line in text.split("\n"):
                yield _paragraph(line or " ", styles.body)


def _facts(facts: Facts, styles: _Styles) -> Any:
    """Names and values in two pairs of columns, read down; an open value gets a line."""
    half = -(-len(facts.rows) // 2)
    lines = []
    commands: list[tuple[Any, ...]] = []
    for number in range(half):
        line: list[Any] = []
        for pair, place in enumerate((number, number + half)):
            name, value = facts.rows[place] if place < len(facts.rows) else ("", "")
            line += [_paragraph(name, styles.name), _paragraph(value, styles.body)]
            if name and not value:
                cell = (2 * pair + 1, number)
                commands.append(("LINEBELOW", cell, cell, 0.4, PALE))
        lines.append(line)
    return _table(lines, [styles.width * share for share in (0.17, 0.33) * 2], commands)


def _grid(grid: Grid, styles: _Styles) -> Any:
    def style_of(column: int) -> Any:
        if column in grid.ticks:
            return styles.tick
        return styles.right if column in grid.right else styles.body

    head = [
        _paragraph(text, styles.head_right if column in grid.right else styles.head)
        for column, text in enumerate(grid.head)
    ]
    rows = [
        [_paragraph(text, style_of(column)) for column, text in enumerate(row)] for row in grid.rows
    ]
    widths = [styles.width * share / sum(grid.shares) for share in grid.shares]
    commands = [
        ("LINEBELOW", (0, 0), (-1, 0), 0.6, INK),
        ("LINEBELOW", (0, 1), (-1, -1), 0.3, PALE),
        ("VALIGN", (0, 0), (-1, 0), "BOTTOM"),
    ]
    return _table([head, *rows], widths, commands, head=1)


def _table(
    lines: list[list[Any]], widths: list[float], commands: list[tuple[Any, ...]], head: int = 0
) -> Any:
    from reportlab.platypus import Table, TableStyle

    table = Table(lines, widths, repeatRows=head, splitInRow=1, hAlign="LEFT")
    common = [
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("LEFTPADDING", (0, 0), (-1, -1), 0),
        ("RIGHTPADDING", (0, 0), (-1, -1), 7),
        ("TOPPADDING", (0, 0), (-1, -1), 1.5),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 2.5),
    ]
    table.setStyle(TableStyle([*common, *commands]))
    return table
