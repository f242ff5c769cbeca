"""Long lists: rows under headings, drawn line by line, with a cursor that stays on its row."""

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Hashable, Sequence
from typing import Any, ClassVar, Generic, TypeVar

from rich.cells import cell_len
from rich.segment import Segment
from rich.style import Style
from textual.binding import Binding, BindingType
from textual.events import Click, Resize
from textual.geometry import Size
from textual.message import Message
from textual.scroll_view import ScrollView
from textual.strip import Strip

from stillroom.paper.plain import wrap
from stillroom.screens.kit.columns import INKS, PLAIN_MARKS, Cell, Column, Heading, fitting
from stillroom.screens.kit.text import fit, fit_marked

T = TypeVar("T")

_POINTER, _MARK = "▶", "✓"
_GUTTER = 3  # the pointer, the mark, and air
_GAP = " "


class Table(ScrollView, Generic[T], can_focus=True, inherit_bindings=False):
    """A list of which only the lines in view are drawn, however long it is."""

    COMPONENT_CLASSES: ClassVar[set[str]] = {f"table--{name}" for name in (*INKS, "cursor", "rest")}
    DEFAULT_CSS = """
    Table {
        background: $background; color: $foreground; height: 1fr;
        overflow-x: hidden; overflow-y: auto;
        scrollbar-gutter: stable; scrollbar-size-vertical: 1;
        & > .table--title { color: $text-muted; }
        & > .table--heading { color: $accent; text-style: bold; }
        & > .table--heading-note { color: $text-muted; }
        & > .table--quiet { color: $text-muted; }
        & > .table--strong { color: $foreground; text-style: bold; }
        & > .table--good { color: $text-success; }
        & > .table--warning { color: $text-warning; text-style: bold; }
        & > .table--problem { color: $text-error; text-style: bold; }
        & > .table--bar { color: $primary; }
        & > .table--struck { color: $text-muted; text-style: strike; }
        & > .table--cursor {
            background: $block-cursor-background; color: $block-cursor-foreground; text-style: bold;
        }
        & > .table--rest { background: $panel; color: $foreground; }
        &:ansi {
            & > .table--title, & > .table--quiet, & > .table--heading-note,
            & > .table--struck { color: ansi_default; }
            & > .table--heading { color: ansi_default; text-style: bold underline; }
            & > .table--cursor {
                background: ansi_default; color: ansi_default; text-style: bold reverse;
            }
            & > .table--rest { background: ansi_default; color: ansi_default; text-style: bold; }
        }
    }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "open", "Open", id="table.open", tooltip="Open the chosen line"),
        Binding("up", "go(-1)", "Up", show=False, id="table.up", tooltip="Go a line up"),
        Binding("down", "go(1)", "Down", show=False, id="table.down", tooltip="Go a line down"),
        Binding("home", "edge(0)", "First", show=False, id="table.first",
                tooltip="Go to the first line"),
        Binding("end", "edge(-1)", "Last", show=False, id="table.last",
                tooltip="Go to the last line"),
        Binding("pageup", "page(-1)", "Page up", show=False, id="table.page_up",
                tooltip="Go a page up"),
        Binding("pagedown", "page(1)", "Page down", show=False, id="table.page_down",
                tooltip="Go a page down"),
    ]  # fmt: skip
    ALLOW_SELECT = False

    class Opened(Message):
        """The row at the cursor is to be looked into."""

        def __init__(self, table: "Table[Any]") -> None:
            super().__init__()
            self.table = table

        @property
        def control(self) -> "Table[Any]":
            """The list it happened on."""
            return self.table

    def __init__(
        self,
        columns: Sequence[Column],
        cells: Callable[[T], Sequence[Cell]],
        key: Callable[[T], Hashable],
        *,
        is_plain: bool = False,
        id: str | None = None,
        when_chosen: Callable[[], object] = lambda: None,
    ) -> None:
        """Make an empty list.

        `when_chosen` is called at once when the cursor moves to another row or to none, or its row
        may have changed: so what a page shows of the row is drawn in the same frame.
        """
        # Before the base class, whose start may already ask for styles to be forgotten.
        self._styles: dict[tuple[str, str], Style] = {}
        super().__init__(id=id)
        self._is_plain = is_plain
        self._columns = tuple(columns)
        self._cells = cells
        self._key = key
        self._when_chosen = when_chosen
        self._lines: Sequence[T | Heading] = ()
        self._row_lines: list[int] = []
        """Which lines are rows."""
        self._hint = ""
        self._at: int | None = None
        """The line of the cursor."""
        self._marked: set[Hashable] = set()
        self._widths: list[int] = []

    def show(self, lines: Sequence[T | Heading], hint: str = "") -> None:
        """Show these lines, or the hint if there is none; the cursor stays on or near its row."""
        chosen = self.selected
        place = bisect_left(self._row_lines, self._at) if self._at is not None else 0
        self._lines, self._hint = lines, hint
        self._row_lines = [at for at, line in enumerate(lines) if not isinstance(line, Heading)]
        self._lay_out()
        if chosen is None or not self.select(self._key(chosen)):
            self._put_cursor_by_place(place)
        self._when_chosen()

    def set_columns(
        self,
        columns: Sequence[Column],
        cells: Callable[[T], Sequence[Cell]],
        key: Callable[[T], Hashable],
    ) -> None:
        """Become a list of something else, empty for now, the cursor at its beginning."""
        self._columns, self._cells, self._key = tuple(columns), cells, key
        self._lines, self._row_lines, self._at = (), [], None
        self._marked.clear()
        self.scroll_to(y=0, animate=False)

    @property
    def rows(self) -> list[T]:
        """The rows on show, without the headings."""
        return [line for line in self._lines if not isinstance(line, Heading)]

    @property
    def selected(self) -> T | None:
        """The row at the cursor."""
        if self._at is None:
            return None
        line = self._lines[self._at]
        return None if isinstance(line, Heading) else line

    def select(self, key: Hashable) -> bool:
        """Put the cursor on a row; False where there is none with this key."""
        for at in self._row_lines:
            line = self._lines[at]
            if not isinstance(line, Heading) and self._key(line) == key:
                self._choose(at)
                return True
        return False

    @property
    def marked(self) -> frozenset[Hashable]:
        """The keys of the rows that were marked, those not on show now among them."""
        return frozenset(self._marked)

    def mark(self) -> None:
        """Mark the row at the cursor, or unmark it, and go on to the next."""
        row = self.selected
        if row is not None:
            self._marked ^= {self._key(row)}
            self._redraw(self._at)
            self.action_go(1)

    def unmark_all(self) -> None:
        """Take all marks away."""
        self._marked.clear()
        self.refresh()

    @property
    def _title_height(self) -> int:
        """Lines taken by the titles, which stay while the rows scroll."""
        return 1 if any(column.title for column in self._columns) and self._row_lines else 0

    def _lay_out(self) -> None:
        """Share the width among the columns."""
        width = self.scrollable_content_region.width
        shown = fitting(self._columns, width, _GUTTER, len(_GAP))
        fixed = sum(column.width for column in shown)
        gaps = _GUTTER + len(_GAP) * max(0, len(shown) - 1)
        room = max(0, width - fixed - gaps)
        shares = sum(column.share for column in shown if not column.width)
        self._widths = []
        for column in self._columns:
            if column not in shown:
                self._widths.append(0)
            elif column.width:
                self._widths.append(column.width)
            else:
                part = room * column.share // shares
                room, shares = room - part, shares - column.share
                self._widths.append(max(1, part))
        self.virtual_size = Size(width, len(self._lines) + self._title_height)
        self.refresh()

    def on_resize(self, event: Resize) -> None:
        """Divide the width again and keep the cursor in view."""
        self._lay_out()
        if self._at is not None:
            self._reveal(self._at)

    def _choose(self, at: int) -> None:
        """Put the cursor on a line and bring it into view."""
        before, self._at = self._at, at
        self._redraw(before)
        self._redraw(at)
        self._reveal(at)

    def _put_cursor_by_place(self, place: int) -> None:
        """Put the cursor on the row of this number, or the last."""
        self._at = None
        if self._row_lines:
            self._choose(self._row_lines[min(place, len(self._row_lines) - 1)])

    def _redraw(self, at: int | None) -> None:
        if at is not None:
            self.refresh_line(at + self._title_height)

    def _reveal(self, at: int) -> None:
        """Scroll so that a row is in view, and the heading right above it."""
        first = at
        while first and isinstance(self._lines[first - 1], Heading):
            first -= 1
        height = self.scrollable_content_region.height - self._title_height
        if first < self.scroll_offset.y:
            self.scroll_to(y=first, animate=False)
        elif height > 0 and at >= self.scroll_offset.y + height:
            self.scroll_to(y=at - height + 1, animate=False)

    def _go_to(self, place: int) -> None:
        """Put the cursor on the row of a number within the list, and say so."""
        if not self._row_lines:
            return
        place = min(max(place, 0), len(self._row_lines) - 1)
        if self._row_lines[place] != self._at:
            self._choose(self._row_lines[place])
            self._when_chosen()

    @property
    def _place(self) -> int:
        """The number of the row at the cursor."""
        return 0 if self._at is None else bisect_left(self._row_lines, self._at)

    def action_open(self) -> None:
        """Ask for the chosen row to be opened."""
        if self._at is not None:
            self.post_message(self.Opened(self))

    def action_go(self, step: int) -> None:
        """Move by rows."""
        self._go_to(self._place + step)

    def action_page(self, step: int) -> None:
        """Move by as many lines as are in view."""
        height = max(1, self.scrollable_content_region.height - self._title_height - 1)
        line = (self._at or 0) + step * height
        place = bisect_left(self._row_lines, line) if step > 0 else bisect_right(
            self._row_lines, line
        ) - 1  # fmt: skip
        self._go_to(place)

    def action_edge(self, end: int) -> None:
        """Move to the first row or the last."""
        self._go_to(0 if end == 0 else len(self._row_lines) - 1)

    def on_click(self, event: Click) -> None:
        """Choose the row under the mouse; open it if it was chosen already."""
        if event.y < self._title_height:
            return
        at = event.y - self._title_height + self.scroll_offset.y
        place = bisect_left(self._row_lines, at)
        if place >= len(self._row_lines) or self._row_lines[place] != at:
            return
        event.stop()
        if at == self._at:
            self.action_open()
        else:
            self._go_to(place)

    def on_focus(self) -> None:
        """The cursor looks otherwise when keys go to it."""
        self._redraw(self._at)

    def on_blur(self) -> None:
        """And when they do not."""
        self._redraw(self._at)

    def notify_style_update(self) -> None:
        """Colours have changed: no style is good any more."""
        super().notify_style_update()
        self._styles.clear()

    def _style(self, ink: str, ground: str = "") -> Style:
        """The style of an ink on the list's own ground or the cursor's."""
        key = (ink, ground)
        if key not in self._styles:
            below = self.get_component_rich_style(f"table--{ground}") if ground else self.rich_style
            # The cursor's own colours are what can be read on it.
            above = Style(strike=ink == "struck" or None)
            if ink and ground != "cursor":
                # On its own an ink would bring along the widget's background.
                full = self.get_component_rich_style(f"table--{ink}")
                above += Style(color=full.color, bold=full.bold, underline=full.underline or None)
            self._styles[key] = below + above
        return self._styles[key]

    def render_line(self, y: int) -> Strip:
        """One line of what is in view."""
        width = self.scrollable_content_region.width
        if not self._row_lines:
            segments = self._hint_line(y, width)
        elif y < self._title_height:
            segments = self._titles()
        else:
            at = y - self._title_height + self.scroll_offset.y
            segments = self._line(at, width) if at < len(self._lines) else []
        return Strip(segments).adjust_cell_length(width, self._style(""))

    def _hint_line(self, y: int, width: int) -> list[Segment]:
        """A line of the hint shown while there is no row."""
        room = max(10, min(width - 4, 74))
        lines = [""]
        for paragraph in self._hint.split("\n"):
            lines.extend(wrap(paragraph, room))
        return [Segment(f"  {lines[y]}" if y < len(lines) else "", self._style(""))]

    def _titles(self) -> list[Segment]:
        return self._in_columns([Cell(c.title) for c in self._columns], " " * _GUTTER, "", "title")

    def _line(self, at: int, width: int) -> list[Segment]:
        line = self._lines[at]
        if isinstance(line, Heading):
            return self._heading(line, width)
        ground = ""
        if at == self._at:
            ground = "cursor" if self.has_focus else "rest"
        pointer = _POINTER if at == self._at else " "
        mark = _MARK if self._key(line) in self._marked else " "
        return self._in_columns(self._cells(line), self._drawn(f"{pointer}{mark} "), ground)

    def _drawn(self, marks: str) -> str:
        """Marks as this screen can draw them."""
        return marks.translate(PLAIN_MARKS) if self._is_plain else marks

    def _heading(self, heading: Heading, width: int) -> list[Segment]:
        # However long the name, what is said of it stays in sight.
        text = fit(heading.text, width - 5 - min(cell_len(heading.note), width // 2))
        note = fit(heading.note, width - cell_len(text) - 5)
        return [
            Segment(f" {text}", self._style("heading")),
            Segment(f"   {note}" if note else "", self._style(heading.ink)),
        ]

    def _in_columns(
        self, cells: Sequence[Cell], gutter: str, ground: str, ink: str = ""
    ) -> list[Segment]:
        segments = [Segment(gutter, self._style("strong", ground))]
        for at, width in self._stretches(cells):
            is_right = self._columns[at].is_right
            segments.extend(self._cell(cells[at], width, is_right, ground, ink))
            segments.append(Segment(_GAP, self._style("", ground)))
        return segments

    def _stretches(self, cells: Sequence[Cell]) -> list[tuple[int, int]]:
        """Which cells are drawn, and how wide."""
        stretches: list[tuple[int, int]] = []
        for at, (width, cell) in enumerate(zip(self._widths, cells, strict=True)):
            if not width:
                continue
            if stretches and not cell.text and not cell.lead and cells[stretches[-1][0]].is_wide:
                first, so_far = stretches[-1]
                stretches[-1] = (first, so_far + len(_GAP) + width)
            else:
                stretches.append((at, width))
        return stretches

    def _cell(self, cell: Cell, width: int, is_right: bool, ground: str, ink: str) -> list[Segment]:
        lead = self._drawn(cell.lead[:width])
        text = (fit_marked if cell.is_marked else fit)(cell.text, width - cell_len(lead))
        space = " " * (width - cell_len(lead) - cell_len(text))
        segments = [Segment(lead, self._style(cell.lead_ink, ground))] if lead else []
        shown = f"{space}{text}" if is_right else f"{text}{space}"
        return [*segments, Segment(shown, self._style(cell.ink or ink, ground))]
