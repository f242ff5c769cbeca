"""Documents as PDF: one quiet style for every page that is not a label."""

from collections.abc import Iterator, Sequence
from enum import StrEnum
from io import BytesIO
from typing import Any
from xml.sax.saxutils import escape

from stillroom.keeping.settings import Settings
from stillroom.paper.charts import chart
from stillroom.paper.document import (
    BlankLines,
    Block,
    Chart,
    Document,
    Facts,
    Grid,
    Prose,
    Section,
)
from stillroom.paper.fonts import (
    UNDRAWN,
    Face,
    draw_row,
    make_ready,
    missing,
    pieces,
    printable,
    width,
)
from stillroom.paper.long_table import long_table
from stillroom.paper.pdf_facts import PdfFacts, write_facts
from stillroom.paper.scripts import is_foreign, runs_left
from stillroom.quantities import UnitSystem

POINTS_PER_MM = 72 / 25.4
MARGIN_MM = 17.0
FOOT_MM = 9.0
EMPTY = "\u00a0"
"""A plain space alone would take no height."""
CELL_GAP = 5
"""Points between a cell and the next."""
ABOVE, BELOW = 1.5, 2.5
"""Points above and below what is in a cell."""
LONG = 100
"""Rows from which on a table is surely longer than a page."""
TALLEST = 300.0
"""Points of the tallest row that is sure to fit on a page."""
INK, GREY, PALE = "#111111", "#555555", "#bbbbbb"


class PaperSize(StrEnum):
    """A size of paper."""

    A4 = "a4"
    LETTER = "letter"

    @property
    def size_mm(self) -> tuple[float, float]:
        """Width and height."""
        return (210.0, 297.0) if self is PaperSize.A4 else (215.9, 279.4)


def page_for(settings: Settings) -> PaperSize:
    """The paper that goes with the units of a shelf: letter with US units, otherwise A4."""
    return PaperSize.LETTER if settings.units is UnitSystem.US else PaperSize.A4


def as_pdf(
    document: Document, page: PaperSize = PaperSize.A4, facts: PdfFacts | None = None
) -> bytes:
    """A document on paper; the same document always gives the same bytes.

    Letters that the font lacks are replaced by a mark, and the foot of each page says so.
    """
    from reportlab.platypus import SimpleDocTemplate

    make_ready()
    closing = document.closing
    if any(missing(text) for text in document.texts):
        closing = f"{closing}   {UNDRAWN}: a letter this font lacks.".strip()
    content = BytesIO()
    page_width, page_height = (mm * POINTS_PER_MM for mm in page.size_mm)
    # Platypus frames keep 6 points more on every side.
    margin = MARGIN_MM * POINTS_PER_MM - 6
    template = SimpleDocTemplate(
        content,
        pagesize=(page_width, page_height),
        leftMargin=margin,
        rightMargin=margin,
        topMargin=margin,
        bottomMargin=margin,
        invariant=1,
        pageCompression=1,
        lang=(facts or PdfFacts()).language,
    )
    styles = _Styles(page_width - 2 * MARGIN_MM * POINTS_PER_MM)
    template.build(
        list(_story(document, styles)), canvasmaker=_footed(document.title, closing, facts)
    )
    return content.getvalue()


def _footed(title: str, closing: str, facts: PdfFacts | None) -> type[Any]:
    """A canvas that holds its pages back until it knows how many there are to number."""
    from reportlab.pdfgen.canvas import Canvas

    class Footed(Canvas):  # type: ignore[misc]
        def __init__(self, *args: Any, **options: Any) -> None:
            # A canvas begins with a font of every viewer, which would not be embedded.
            super().__init__(*args, **options | {"initialFontName": Face.PLAIN.value})
            self._held: list[dict[str, Any]] = []

        def showPage(self) -> None:  # noqa: N802 (the library's own name)
            self._held.append(dict(self.__dict__))
            # Private, but the only way to go on to a page without writing the last one out;
            # `_pagesize` below is what a page was made with. The tests read "Page 1 of 3" back.
            self._startPage()

        def save(self) -> None:
            for state in self._held:
                self.__dict__.update(state)
                self._draw_foot(len(self._held))
                super().showPage()
            write_facts(self, title, facts or PdfFacts())
            super().save()

        def _draw_foot(self, pages: int) -> None:
            side, low = MARGIN_MM * POINTS_PER_MM, FOOT_MM * POINTS_PER_MM
            self.setFont(Face.PLAIN.value, 7.5)
            self.setFillColor(GREY)
            draw_row(self, side, low, printable(closing), Face.PLAIN, 7.5)
            self.setFont(Face.PLAIN.value, 7.5)
            number = f"Page {self.getPageNumber()} of {pages}"
            self.drawRightString(self._pagesize[0] - side, low, number)

    return Footed


class _Styles:
    """The few kinds of text on a page."""

    def __init__(self, width: float) -> None:
        from reportlab.lib.styles import ParagraphStyle

        self.width = width
        """Points between the margins."""
        self.body = ParagraphStyle(
            "body", fontName=Face.PLAIN.value, fontSize=8.6, leading=11, textColor=INK
        )
        self.small = ParagraphStyle("small", self.body, fontSize=7.8, leading=10)
        self.tick = ParagraphStyle("tick", self.body, fontSize=14, leading=14)
        self.name = ParagraphStyle("name", self.body, textColor=GREY)
        self.head = ParagraphStyle("head", self.name, fontSize=7.6, leading=9.5)
        self.title = ParagraphStyle(
            "title", self.body, fontName=Face.BOLD.value, fontSize=17, leading=21
        )
        self.subtitle = ParagraphStyle("subtitle", self.name, fontSize=9.5, leading=13)
        self.heading = ParagraphStyle(
            "heading", self.body, fontName=Face.BOLD.value, fontSize=10.5, leading=13,
            spaceBefore=9, spaceAfter=2,
        )  # fmt: skip


def _paragraph(
    text: str, style: Any, *, right: bool = False, is_struck: bool = False, then: str = ""
) -> Any:
    from reportlab.platypus import Paragraph

    marked = "<br/>".join(_marked(line) for line in text.split("\n"))
    if is_struck:
        marked = f"<strike>{marked}</strike>"
    if then:
        marked += f" {_marked(then)}"
    return Paragraph(f'<para align="right">{marked}</para>' if right else marked, style)


def _marked(line: str) -> str:
    """A line as markup, with the fonts of other scripts named.

    What has letters read from right to left is put in order as one row, so it is not broken
    between words.
    """
    plain = printable(line)
    if not is_foreign(plain):
        return escape(plain)
    if runs_left(plain):
        plain = plain.replace(" ", EMPTY)
    return "".join(
        escape(part) if font == Face.PLAIN else f'<font name="{font}">{escape(part)}</font>'
        for part, font in pieces(plain, Face.PLAIN)
    )


def _story(document: Document, styles: _Styles) -> Iterator[Any]:
    yield _paragraph(document.title, styles.title)
    if document.subtitle:
        yield _paragraph(document.subtitle, styles.subtitle)
    for section in document.sections:
        yield from _section(section, styles)


HEADING_ROOM = 72.0
"""Points left on a page below which a new section begins on the next."""


def _section(section: Section, styles: _Styles) -> Iterator[Any]:
    from reportlab.platypus import CondPageBreak, Spacer

    # Room for the heading and a few lines; keeping it with all of a long table would move both on.
    yield CondPageBreak(HEADING_ROOM)
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
        case BlankLines(count):
            yield _lines(count, styles)
        case Chart(picture):
            yield chart(picture, styles.width)
        case Prose(text, later):
            *lines, last = text.split("\n")
            for line in lines:
                yield _paragraph(line or EMPTY, styles.body, is_struck=bool(later))
            yield _paragraph(last or EMPTY, styles.body, is_struck=bool(later), then=later)


def _facts(facts: Facts, styles: _Styles) -> Any:
    """Names and values in two pairs of columns, read down; an open value gets a line."""
    half = -(-len(facts.rows) // 2)
    lines = []
    commands: list[tuple[Any, ...]] = []
    for number in range(half):
        line: list[Any] = []
        for pair, place in enumerate((number, number + half)):
            name, value = facts.rows[place] if place < len(facts.rows) else ("", "")
            line += [_paragraph(name, styles.name), _paragraph(value, styles.body), ""]
            if name and not value:
                cell = (3 * pair + 1, number)
                commands.append(("LINEBELOW", cell, cell, 0.4, PALE))
        lines.append(line[:-1])
    widths = [styles.width * share for share in (0.15, 0.325, 0.05, 0.15, 0.325)]
    return _table(lines, widths, commands)


def _lines(count: int, styles: _Styles) -> Any:
    rows = [(0, number) for number in range(count)]
    commands: list[tuple[Any, ...]] = [("LINEBELOW", cell, cell, 0.4, PALE) for cell in rows]
    return _table([[_paragraph(EMPTY, styles.tick)] for _ in rows], [styles.width], commands)


def _grid(grid: Grid, styles: _Styles) -> Any:
    body = styles.small if len(grid.head) > 8 else styles.body
    last = len(grid.head) - 1
    widths = [styles.width * share / sum(grid.shares) for share in grid.shares]
    # Figures flush right would touch the words that follow them flush left.
    gaps = [
        0 if n == last else 12 if n in grid.right and n + 1 not in grid.right else CELL_GAP
        for n in range(last + 1)
    ]

    def cell(text: str, column: int, style: Any) -> Any:
        if not text and column in grid.to_write:
            line = int((widths[column] - gaps[column]) / width("_", Face.PLAIN, style.fontSize))
            return "_" * max(1, line)
        # A paragraph costs fifty times what a plain string does, and a long list is all cells.
        plain = printable(text)
        room = widths[column] - gaps[column]
        is_one_font = "\n" not in plain and not is_foreign(plain)
        if is_one_font and width(plain, Face.PLAIN, style.fontSize) <= room:
            return plain
        return _paragraph(text, style, right=column in grid.right)

    looks = [styles.tick if n in grid.ticks else body for n in range(last + 1)]
    head = [cell(text, n, styles.head) for n, text in enumerate(grid.head)]
    rows = [[cell(text, n, looks[n]) for n, text in enumerate(row)] for row in grid.rows]
    commands: list[tuple[Any, ...]] = [
        ("LINEBELOW", (0, 0), (-1, 0), 0.6, INK),
        ("LINEBELOW", (0, 1), (-1, -1), 0.3, PALE),
        *_look((0, 0), (-1, 0), styles.head),
        ("VALIGN", (0, 0), (-1, 0), "BOTTOM"),
    ]
    for n, look in enumerate(looks):
        commands += _look((n, 1), (n, -1), look)
        commands.append(("RIGHTPADDING", (n, 0), (n, -1), gaps[n]))
    commands += [("ALIGN", (n, 0), (n, -1), "RIGHT") for n in grid.right]
    if grid.ticks:
        commands.append(("VALIGN", (0, 1), (-1, -1), "MIDDLE"))
    if len(rows) < LONG:
        return _table([head, *rows], widths, commands, head=1)
    rooms = [width - gap for width, gap in zip(widths, gaps, strict=True)]
    heights = [
        _height(head, rooms, [styles.head] * len(head)),
        *(_height(row, rooms, looks) for row in rows),
    ]
    if max(heights) > TALLEST:
        return _table([head, *rows], widths, commands, head=1)

    def part(first: int, last: int) -> Any:
        of_part = [heights[0], *heights[1 + first : 1 + last]]
        return _table([head, *rows[first:last]], widths, commands, head=1, heights=of_part)

    return long_table(heights, part)


def _height(row: Sequence[Any], rooms: Sequence[float], looks: Sequence[Any]) -> float:
    """Points that a row takes, as a table would find."""
    inside = max(
        look.leading if isinstance(cell, str) else cell.wrap(room, TALLEST)[1]
        for cell, room, look in zip(row, rooms, looks, strict=True)
    )
    return float(inside + ABOVE + BELOW)


def _look(first: tuple[int, int], last: tuple[int, int], style: Any) -> list[tuple[Any, ...]]:
    """How plain strings in some cells look, so that they are like paragraphs of a style."""
    from reportlab.lib.colors import toColor

    return [
        ("FONT", first, last, style.fontName, style.fontSize, style.leading),
        ("TEXTCOLOR", first, last, toColor(style.textColor)),
    ]


def _table(
    lines: list[list[Any]],
    widths: list[float],
    commands: list[tuple[Any, ...]],
    head: int = 0,
    heights: list[float] | None = None,
) -> Any:
    from reportlab.platypus import Table, TableStyle

    table = Table(lines, widths, heights, repeatRows=head, splitInRow=1, hAlign="LEFT")
    common = [
        ("FONTNAME", (0, 0), (-1, -1), Face.PLAIN.value),
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("LEFTPADDING", (0, 0), (-1, -1), 0),
        ("RIGHTPADDING", (0, 0), (-1, -1), CELL_GAP),
        ("TOPPADDING", (0, 0), (-1, -1), ABOVE),
        ("BOTTOMPADDING", (0, 0), (-1, -1), BELOW),
    ]
    table.setStyle(TableStyle([*common, *commands]))
    return table
