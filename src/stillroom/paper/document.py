"""A page in the abstract: headings, facts and grids, which become PDF or plain text alike."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from stillroom.keeping.year.pictures import Picture
from stillroom.paper.plain import cells, pad, wrap
from stillroom.printable import printable

TO_TICK, TICKED = "☐", "☑"
"""A box to tick with a pencil, and one that is ticked."""

GAP, NARROW_GAP = 2, 1
"""Cells between the columns of a grid in plain text, and where words would break otherwise."""
LEAST_COLUMN = 4


@dataclass(frozen=True)
class Facts:
    """Named values; a blank one is left open, to be written in by hand."""

    rows: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Grid:
    """Rows under a head."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    shares: tuple[float, ...]
    """How the width of the page is shared out among the columns."""
    right: frozenset[int] = frozenset()
    """Columns that are aligned right."""
    ticks: frozenset[int] = frozenset()
    """Columns of boxes to tick."""
    to_write: frozenset[int] = frozenset()
    """Columns left open for a pencil."""


@dataclass(frozen=True)
class Prose:
    """Running text; its line breaks are kept."""

    text: str
    later: str = ""
    """What became of an entry that was undone or corrected: the text is struck through, and this
    follows it."""


@dataclass(frozen=True)
class BlankLines:
    """Empty lines to write on."""

    count: int


@dataclass(frozen=True)
class Chart:
    """A picture; in plain text its table takes its place."""

    picture: Picture


Block = Facts | Grid | BlankLines | Prose | Chart


@dataclass(frozen=True)
class Section:
    """A heading and what is under it."""

    heading: str
    blocks: tuple[Block, ...]


@dataclass(frozen=True)
class Document:
    """Something to print."""

    title: str
    subtitle: str
    sections: tuple[Section, ...]
    closing: str = ""
    """A line at the foot of every page."""
    is_list: bool = False
    """Whether it names many things, so that one name the font lacks doesn't stop all of it."""

    @property
    def texts(self) -> Iterator[str]:
        """Every text in it."""
        yield from (self.title, self.subtitle, self.closing)
        for section in self.sections:
            yield section.heading
            for block in section.blocks:
                yield from _texts_of(block)


def _texts_of(block: Block) -> Iterator[str]:
    match block:
        case Facts(rows):
            for name, value in rows:
                yield from (name, value)
        case Grid(head, rows):
            yield from head
            for row in rows:
                yield from row
        case Prose(text, later):
            yield text
            yield later
        case Chart(picture):
            yield from (picture.heading, *picture.head)
            for row in picture.rows:
                yield from row


def as_text(document: Document, width: int = 80) -> str:
    """A document as plain text no wider than `width`; every line ends with a line feed."""
    lines = [*wrap(document.title, width), *wrap(document.subtitle, width)]
    for section in document.sections:
        lines += ["", *wrap(section.heading.upper(), width)]
        for number, block in enumerate(section.blocks):
            lines += [""] if number else []
            lines += _lines_of(block, width)
    if document.closing:
        lines += ["", *wrap(document.closing, width)]
    return "".join(f"{printable(ticks(line)).rstrip()}\n" for line in lines)


def ticks(line: str) -> str:
    """Boxes as any printer and terminal can draw them; `_lines_of` has left room for them."""
    return line.replace(TO_TICK, "[ ]").replace(TICKED, "[x]")


def _width_of(text: str) -> int:
    return max((cells(ticks(line)) for line in text.split("\n")), default=0)


def _lines_of(block: Block, width: int) -> list[str]:
    match block:
        case Facts(rows):
            return list(_facts(rows, width))
        case Grid():
            return list(_grid(block, width))
        case BlankLines(count):
            return ["_" * width] * count
        case Chart(picture):
            return [*wrap(picture.heading, width), *_grid(_table_of(picture), width)]
        case Prose(text, later):
            return wrap(f"[struck out: {text}] {later}" if later else text, width)


def _table_of(picture: Picture) -> Grid:
    return Grid(picture.head, picture.rows, tuple([1.0] * len(picture.head)))


def _facts(rows: Sequence[tuple[str, str]], width: int) -> Iterator[str]:
    names = min(max((cells(name) for name, _ in rows), default=0), width // 2)
    for name, value in rows:
        yield from _beside(
            [wrap(name, names), wrap(value or "____", width - names - GAP)], (names, 0)
        )


def _grid(grid: Grid, width: int) -> Iterator[str]:
    widths, gap = _column_widths(grid, width)
    head = [wrap(text, w) for text, w in zip(grid.head, widths, strict=True)]
    yield from _beside(head, widths, grid.right, gap)
    yield "─" * (sum(widths) + gap * (len(widths) - 1))
    for row in grid.rows:
        texts = ("____" if n in grid.to_write and not text else text for n, text in enumerate(row))
        columns = [
            [text] if number in grid.ticks else wrap(text, column)
            for number, (text, column) in enumerate(zip(texts, widths, strict=True))
        ]
        yield from _beside(columns, widths, grid.right, gap)


def _column_widths(grid: Grid, width: int) -> tuple[tuple[int, ...], int]:
    """As wide as their text where there is room, and the gap between them.

    Else the widest give way, words whole at first; then the gaps; then words are broken.
    """
    columns = list(zip(grid.head, *grid.rows, strict=True))
    full = [max(LEAST_COLUMN, *(_width_of(text) for text in column)) for column in columns]
    longest = [
        max([LEAST_COLUMN, *(_width_of(word) for text in column for word in text.split())])
        for column in columns
    ]
    for gap in (GAP, NARROW_GAP):
        widths = list(full)
        excess = sum(widths) + gap * (len(widths) - 1) - width
        excess = _narrow(widths, longest, grid.ticks, excess)
        if excess <= 0:
            break
    _narrow(widths, [LEAST_COLUMN] * len(widths), grid.ticks, excess)
    return tuple(widths), gap


def _narrow(widths: list[int], least: Sequence[int], fixed: frozenset[int], excess: int) -> int:
    """Take the excess from the widest columns, none below its least; what is left of it."""
    while excess > 0:
        yielding = [n for n in range(len(widths)) if n not in fixed and widths[n] > least[n]]
        if not yielding:
            break
        widths[max(yielding, key=lambda n: widths[n])] -= 1
        excess -= 1
    return excess


def _beside(
    columns: Sequence[Sequence[str]],
    widths: Sequence[int],
    right: Iterable[int] = (),
    gap: int = GAP,
) -> Iterator[str]:
    """Columns of lines set side by side."""
    for number in range(max(len(lines) for lines in columns)):
        parts = []
        for column, (lines, wide) in enumerate(zip(columns, widths, strict=True)):
            text = lines[number] if number < len(lines) else ""
            # A tick box takes three cells once it is drawn as plain text.
            boxes = 2 * (text.count(TO_TICK) + text.count(TICKED))
            parts.append(pad(text, wide - boxes, right=column in right))
        yield (" " * gap).join(parts)
