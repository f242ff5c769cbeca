"""The planks with their jars, in one file, as cursor, layout and drawing share what is in view."""

from bisect import bisect_right
from collections.abc import Callable, Iterator, Sequence
from typing import ClassVar

from rich.cells import cell_len
from rich.segment import Segment
from textual.binding import Binding, BindingType
from textual.events import Click, Resize
from textual.geometry import Region, Size
from textual.message import Message
from textual.scroll_view import ScrollView
from textual.strip import Strip

from stillroom.keeping.cards import JarCard, ShelfView, ShelvesView
from stillroom.paper.plain import wrap
from stillroom.quantities import METRIC, Notation, how_many
from stillroom.screens.drawing import jar_art
from stillroom.screens.drawing.look import LOW_HEIGHT, Line, Look, Span
from stillroom.screens.drawing.painter import JarPainter
from stillroom.screens.kit.text import fit
from stillroom.screens.shelves.planks import Planks, Spot, Stretch

_NARROWEST = 19
_ROOMY = 26
"""Columns a jar takes on a screen that has room to spare."""
_LOW_BELOW = 30
"""Rows of a screen below which jars are drawn low, to have a dozen of them in sight."""
_EMPTY_HEIGHT = 3
_ROOM = "room for a jar"
_HINT_GAP = 2
_LEAST_NAME = 12
"""Letters of a shelf's name that are shown before the number of its jars."""
_KEPT_PLANKS = 64
_KEPT_CELLS = 512


class Board(ScrollView, can_focus=True):
    """Shelves with their jars; one of the jars is chosen."""

    DEFAULT_CSS = """
    Board {
        background: $background;
        color: $foreground;
        overflow-x: hidden;
        overflow-y: auto;
        scrollbar-gutter: stable;
        scrollbar-size-vertical: 1;
    }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "open", "Open", id="board.open", tooltip="Open the chosen jar", show=True),
        Binding(
            "tab",
            "go_to_needy(1)",
            "To do",
            id="board.needy",
            tooltip="Go to the next jar to strain, press, bottle or cover",
        ),
        Binding(
            "shift+tab",
            "go_to_needy(-1)",
            "To do before",
            False,
            id="board.needy_before",
            tooltip="Go back to the previous jar that needs something",
        ),
        Binding("left", "go(-1)", "Left", False, id="board.left", tooltip="Go to the previous jar"),
        Binding("right", "go(1)", "Right", False, id="board.right", tooltip="Go to the next jar"),
        Binding("up", "climb(-1)", "Up", False, id="board.up", tooltip="Go to the jar above"),
        Binding("down", "climb(1)", "Down", False, id="board.down", tooltip="Go to the jar below"),
        Binding("home", "edge(0)", "First", False, id="board.first", tooltip="Go to the first jar"),
        Binding("end", "edge(-1)", "Last", False, id="board.last", tooltip="Go to the last jar"),
        Binding("pageup", "page(-1)", "Page up", False, id="board.page_up", tooltip="Go a page up"),
        Binding(
            "pagedown",
            "page(1)",
            "Page down",
            False,
            id="board.page_down",
            tooltip="Go a page down",
        ),
    ]
    ALLOW_SELECT = False

    class Opened(Message):
        """A jar is to be looked into."""

        def __init__(self, board: "Board", jar_id: int) -> None:
            super().__init__()
            self.board = board
            self.jar_id = jar_id

        @property
        def control(self) -> "Board":
            """The board it happened on."""
            return self.board

    def __init__(
        self,
        *,
        is_plain: bool = False,
        id: str | None = None,
        classes: str | None = None,
        when_chosen: Callable[[], object] = lambda: None,
    ) -> None:
        """Make it, empty for now.

        `when_chosen` is called where the cursor has come to another jar, or there is none: at once,
        so that what a page shows of the jar is drawn in the same frame.
        """
        # Before the base class, whose start may already ask for styles to be forgotten.
        self._painter = JarPainter(self)
        self._cells: dict[tuple[JarCard, bool, int, bool], list[list[Segment]]] = {}
        self._strips: dict[int, list[Strip]] = {}
        super().__init__(id=id, classes=classes)
        self._is_plain = is_plain
        self._when_chosen = when_chosen
        self._view: ShelvesView | None = None
        self._hint = ""
        self._look = Look(is_plain=is_plain)
        self._notation = self._look.notation
        self._per_plank = 1
        self._planks = Planks(None, 1)
        self._looks: list[Look] = []
        """How the jars of each plank are drawn."""
        self._urgent: Spot | None = None
        """The jar that has waited longest past its strain date: drawn largest."""
        self._tops: list[int] = [0]
        """The line each plank row begins on, and the end."""
        self._spot: Spot | None = None
        self._chosen_id: int | None = None
        self._column = 0
        """The place that up and down keep to, even across shorter planks."""

    def show(self, view: ShelvesView, hint: str = "", notation: Notation = METRIC) -> None:
        """Show these shelves; the chosen jar stays chosen.

        The hint is what the board shows while there is no jar.
        """
        before, self._view = self._view, view
        is_rewritten, self._notation = notation != self._notation, notation
        is_same = before is not None and not is_rewritten and hint == self._hint
        if before is None or not is_same or not self._is_laid_out_for(before, view):
            self._hint = hint
            self._lay_out()
        else:
            self._redraw_changed(before, view)
        self._keep_chosen()

    @property
    def view(self) -> ShelvesView | None:
        """The shelves on show."""
        return self._view

    @property
    def selected(self) -> JarCard | None:
        """The jar at the cursor."""
        return self._jar_at(self._spot)

    def select(self, jar_id: int) -> bool:
        """Put the cursor on a jar and bring it into view; False where it is not on the board."""
        spot = self._find(jar_id)
        if spot is not None:
            self._choose(spot)
        return spot is not None

    def _lay_out(self) -> None:
        """Cut the shelves into planks for the present width."""
        # Before the first layout the widget has no size; the screen's is near enough to draw with.
        width, height = self.scrollable_content_region.size if self.size else self.app.size
        is_low = self.app.size.height < _LOW_BELOW
        is_roomy = width >= 150 and height >= 36
        narrowest = _ROOMY if is_roomy else _NARROWEST
        self._per_plank = max(1, width // narrowest)
        self._look = Look(
            cell_width=max(narrowest, min(narrowest + 6, width // self._per_plank)),
            scale=2 if is_roomy else 1,
            is_low=is_low,
            is_flat=self.app.native_ansi_color,
            is_plain=self._is_plain,
            notation=self._notation,
        )
        self._urgent = _most_urgent(self._view)
        wide = None if is_low else self._urgent
        self._planks = Planks(self._view, self._per_plank, shares=is_low, wide=wide)
        self._looks = [self._look_for(stretches) for stretches in self._planks.rows]
        self._tops = [0]
        for at in range(len(self._planks.rows)):
            self._tops.append(self._tops[-1] + self._plank_height(at))
        self._cells.clear()
        self._strips.clear()
        hint = self._hint_lines(width)
        self.virtual_size = Size(width, self._tops[-1] + (_HINT_GAP + len(hint) if hint else 0))
        self.refresh()

    def _look_for(self, stretches: Sequence[Stretch]) -> Look:
        """How the jars of a plank are drawn: high enough for their names and the largest figure."""
        if self._look.is_low:
            return self._look
        inner = self._look.cell_width - 4
        lines = 2
        is_largest = False
        for stretch in stretches:
            lines = max([lines, *(jar_art.label_lines(j, inner) for j in self._jars_on(stretch))])
            is_largest = is_largest or stretch.wide >= 0
        room = self._largest.figure_height if is_largest else 0
        return self._look._replace(label_lines=lines, figure_room=room)

    @property
    def _largest(self) -> Look:
        """How the most urgent jar is drawn, but for the height of its plank."""
        look = self._look
        return look._replace(cell_width=2 * look.cell_width, scale=look.scale + 1)

    def _plank_height(self, at: int) -> int:
        """Lines of a plank with its jars; an empty one keeps room for a hint."""
        return self._looks[at].jar_height + 1 if self._planks.is_filled(at) else _EMPTY_HEIGHT

    def _is_laid_out_for(self, before: ShelvesView, view: ShelvesView) -> bool:
        """Whether a later view has its jars in the same places and their names as high."""
        if _frame(before) != _frame(view):
            return False
        if self._look.is_low:
            return True
        is_same = all(
            was is now or _label_of(was) == _label_of(now)
            for was, now in zip(before.jars, view.jars, strict=True)
        )
        return is_same and self._urgent == _most_urgent(view)

    def _jars_on(self, stretch: Stretch) -> tuple[JarCard, ...]:
        """The jars of a stretch."""
        return _jars_on(self._view, stretch) if self._view else ()

    @property
    def _margin(self) -> int:
        """Columns left of the first jar."""
        width = self.scrollable_content_region.width
        return max(0, (width - self._per_plank * self._look.cell_width) // 2)

    def _redraw_changed(self, before: ShelvesView, view: ShelvesView) -> None:
        """Redraw each jar of the drawn planks that has changed; the rest stays."""
        for at in list(self._strips):
            for stretch in self._planks.rows[at]:
                jars = zip(_jars_on(before, stretch), _jars_on(view, stretch), strict=True)
                for place, (was, now) in enumerate(jars, stretch.first):
                    if was != now:
                        self._redraw(Spot(stretch.shelf_at, place))

    def _redraw(self, spot: Spot) -> None:
        """Redraw one jar."""
        stretch = self._planks.stretch_of(spot)
        self._strips.pop(stretch.plank, None)
        cell = self._look.cell_width
        top = self._tops[stretch.plank] - self.scroll_offset.y
        left = self._margin + stretch.column_of(spot) * cell
        width = cell * (2 if spot.place == stretch.wide else 1)
        self.refresh(Region(left, top, width, self._looks[stretch.plank].jar_height))

    def _plank_of(self, spot: Spot) -> tuple[int, int]:
        """The plank a spot is on, and the column there."""
        stretch = self._planks.stretch_of(spot)
        return stretch.plank, stretch.column_of(spot)

    def _jar_at(self, spot: Spot | None) -> JarCard | None:
        """The jar at a spot."""
        if self._view is None or spot is None or spot.shelf_at >= len(self._view.shelves):
            return None
        jars = self._view.shelves[spot.shelf_at].jars
        return jars[spot.place] if spot.place < len(jars) else None

    def _find(self, jar_id: int) -> Spot | None:
        """The spot of a jar."""
        for shelf_at, shelf in enumerate(self._view.shelves if self._view else ()):
            for place, jar in enumerate(shelf.jars):
                if jar.jar_id == jar_id:
                    return Spot(shelf_at, place)
        return None

    def _keep_chosen(self) -> None:
        """After a change: stay on the jar, or at its place, or on the nearest before it."""
        jar = self._jar_at(self._spot)
        if jar is not None and jar.jar_id == self._chosen_id:
            return
        found = None if self._chosen_id is None else self._find(self._chosen_id)
        self._choose(found or self._nearest(self._spot or Spot(0, 0)))

    def _nearest(self, spot: Spot) -> Spot | None:
        """The spot itself if it holds a jar, or the last jar before it, or the first."""
        shelves = self._view.shelves if self._view else ()
        for shelf_at in range(min(spot.shelf_at, len(shelves) - 1), -1, -1):
            last = len(shelves[shelf_at].jars) - 1
            if last >= 0:
                place = min(spot.place, last) if shelf_at == spot.shelf_at else last
                return Spot(shelf_at, place)
        return self._beside(Spot(0, -1), 1)

    def _beside(self, spot: Spot, step: int) -> Spot | None:
        """The jar before or after a spot, across shelves."""
        shelves = self._view.shelves if self._view else ()
        shelf_at, place = spot.shelf_at, spot.place + step
        while 0 <= shelf_at < len(shelves):
            if 0 <= place < len(shelves[shelf_at].jars):
                return Spot(shelf_at, place)
            shelf_at += step
            if 0 <= shelf_at < len(shelves):
                place = 0 if step > 0 else len(shelves[shelf_at].jars) - 1
        return None

    def _choose(self, spot: Spot | None, *, keeps_column: bool = False) -> None:
        """Put the cursor on a spot, draw the two jars concerned, and say so."""
        for changed in (self._spot, spot):
            if changed is not None and self._jar_at(changed) is not None:
                self._redraw(changed)
        self._spot = spot
        if spot is not None:
            if not keeps_column:
                self._column = self._plank_of(spot)[1]
            self._reveal(spot)
        jar = self._jar_at(spot)
        jar_id = None if jar is None else jar.jar_id
        if jar_id != self._chosen_id:
            self._chosen_id = jar_id
            self._when_chosen()

    def _reveal(self, spot: Spot) -> None:
        """Scroll so that the jar and its plank are wholly in view."""
        at, _ = self._plank_of(spot)
        top, bottom = self._tops[at], self._tops[at + 1]
        height = self.scrollable_content_region.height
        if top < self.scroll_offset.y or bottom - top > height:
            self.scroll_to(y=top, animate=False)
        elif bottom > self.scroll_offset.y + height:
            self.scroll_to(y=bottom - height, animate=False)

    def action_open(self) -> None:
        """Ask for the chosen jar to be opened."""
        if self._chosen_id is not None:
            self.post_message(self.Opened(self, self._chosen_id))

    def action_go(self, step: int) -> None:
        """Move one jar along the shelves."""
        spot = self._beside(self._spot, step) if self._spot else None
        if spot is not None:
            self._choose(spot)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Offer the way to the next jar that needs something only where there is one."""
        if action == "go_to_needy" and self._view:
            return any(jar.needs_something(self._view.today) for jar in self._view.jars)
        return super().check_action(action, parameters)

    def action_go_to_needy(self, step: int) -> None:
        """Move along the shelves to a jar that needs something, round and round."""
        if self._view is None or self._spot is None:
            return
        today, jars = self._view.today, self._view.jars
        chosen = next((at for at, jar in enumerate(jars) if jar.jar_id == self._chosen_id), 0)
        for away in range(1, len(jars) + 1):
            jar = jars[(chosen + step * away) % len(jars)]
            if jar.needs_something(today):
                self.select(jar.jar_id)
                return

    def action_climb(self, step: int) -> None:
        """Move to the next plank that has jars, keeping the column."""
        if self._spot is not None and not self._climb(step, 1):
            # At either end there may be empty planks still to be seen.
            self.scroll_to(y=0 if step < 0 else self._tops[-1], animate=False)

    def action_page(self, step: int) -> None:
        """Move by as many planks as are in view."""
        if not self._spot:
            return
        height = self._looks[self._plank_of(self._spot)[0]].jar_height + 1
        in_view = self.scrollable_content_region.height // height
        self._climb(step, max(1, in_view))

    def _climb(self, step: int, planks: int) -> bool:
        """Move up or down by planks that have jars; False where there was none."""
        if self._spot is None:
            return False
        at, _ = self._plank_of(self._spot)
        target = None
        while planks and 0 <= at + step < len(self._planks.rows):
            at += step
            if self._planks.is_filled(at):
                target = at
                planks -= 1
        if target is None:
            return False
        self._choose(self._planks.nearest(target, self._column), keeps_column=True)
        return True

    def action_edge(self, end: int) -> None:
        """Move to the first jar or the last."""
        shelves = self._view.shelves if self._view else ()
        spot = self._beside(Spot(0, -1), 1)
        if end < 0 and shelves:
            spot = self._beside(Spot(len(shelves) - 1, len(shelves[-1].jars)), -1)
        if spot is not None:
            self._choose(spot)

    def on_click(self, event: Click) -> None:
        """Choose the jar under the mouse; open it if it was chosen already."""
        spot = self._spot_under(event.x, event.y + self.scroll_offset.y)
        if spot is None:
            return
        event.stop()
        if spot == self._spot:
            self.action_open()
        else:
            self._choose(spot)

    def _spot_under(self, x: int, y: int) -> Spot | None:
        """The jar at a point of the whole board."""
        at = bisect_right(self._tops, y) - 1
        if not 0 <= at < len(self._planks.rows) or x < self._margin:
            return None
        if y - self._tops[at] >= self._looks[at].jar_height:
            return None
        column = (x - self._margin) // self._look.cell_width
        found = (stretch.spot_at(column) for stretch in self._planks.rows[at])
        return next((spot for spot in found if spot), None)

    def on_resize(self, event: Resize) -> None:
        """Divide the planks again and keep the chosen jar in view."""
        self._lay_out()
        if self._spot is not None:
            self._column = self._plank_of(self._spot)[1]
            self._reveal(self._spot)

    def notify_style_update(self) -> None:
        """Colours have changed: nothing drawn is good any more."""
        super().notify_style_update()
        self._painter.forget()
        self._cells.clear()
        self._strips.clear()
        if self.is_mounted and self._look.is_flat != self.app.native_ansi_color:
            self._lay_out()

    def render_line(self, y: int) -> Strip:
        """One line of what is in view."""
        width = self.scrollable_content_region.width
        line = y + self.scroll_offset.y
        at = bisect_right(self._tops, line) - 1
        if at >= len(self._planks.rows):
            return self._hint_line(line - self._tops[-1] - _HINT_GAP, width)
        return self._plank_strips(at)[line - self._tops[at]]

    def _hint_line(self, at: int, width: int) -> Strip:
        """A line of what the board shows while it has no jar."""
        air = self._painter.style("", "air")
        lines = self._hint_lines(width)
        if not 0 <= at < len(lines):
            return Strip.blank(width, air)
        left = max(0, width - max(map(cell_len, lines))) // 2
        line = (Span(" " * left), Span(lines[at], "hint"))
        return Strip(self._painter.segments(line)).adjust_cell_length(width, air)

    def _hint_lines(self, width: int) -> list[str]:
        """The hint, wrapped; empty once there is a jar."""
        if not self._hint or (self._view is not None and any(s.jars for s in self._view.shelves)):
            return []
        return wrap(self._hint, max(10, min(width - 4, 72)))

    def _plank_strips(self, at: int) -> list[Strip]:
        """The lines of a plank row, drawn when first wanted."""
        if at not in self._strips:
            if len(self._strips) >= _KEPT_PLANKS:
                self._strips.clear()
            self._strips[at] = self._draw_plank(at)
        return self._strips[at]

    def _draw_plank(self, at: int) -> list[Strip]:
        """The jars of a plank side by side, and the plank under them."""
        assert self._view is not None
        width = self.scrollable_content_region.width
        air = self._painter.style("", "air")
        lines = self._jar_lines(at) if self._planks.is_filled(at) else self._room_lines()
        strips = [Strip(line).adjust_cell_length(width, air) for line in lines]
        edge = Strip(self._painter.segments(self._edges(at, width)))
        return [*strips, edge.adjust_cell_length(width, air)]

    def _edges(self, at: int, width: int) -> Line:
        """The front edge of a plank, under the jars of each shelf its name."""
        assert self._view is not None
        stretches = self._planks.rows[at]
        cell = self._look.cell_width
        starts = [self._margin + each.column * cell for each in stretches]
        starts[0] = 0
        edge: list[Span] = []
        for stretch, left, right in zip(stretches, starts, [*starts[1:], width], strict=True):
            shelf = self._view.shelves[stretch.shelf_at]
            edge += _edge(shelf, stretch, right - left, self._look)
        return tuple(edge)

    def _jar_lines(self, at: int) -> Iterator[list[Segment]]:
        """The lines of the jars on a plank."""
        assert self._view is not None
        look = self._looks[at]
        air = self._painter.style("", "air")
        margin = Segment(" " * self._margin, air)
        cells: list[list[list[Segment]]] = []
        for stretch in self._planks.rows[at]:
            jars = self._jars_on(stretch)
            for jar, (spot, _, columns) in zip(jars, stretch.places(), strict=True):
                cells.append(self._cell(jar, look, spot == self._spot, is_largest=columns == 2))
            if not jars:
                room = f"{_ROOM:^{look.cell_width}}"
                blank = [Segment(" " * look.cell_width, air)]
                lines = [blank] * look.jar_height
                lines[LOW_HEIGHT // 2] = self._painter.segments((Span(room, "faint", "air"),))
                cells.append(lines)
        for drawn in zip(*cells, strict=True):
            yield [margin, *(segment for line in drawn for segment in line)]

    def _cell(
        self, jar: JarCard, look: Look, is_chosen: bool, *, is_largest: bool
    ) -> list[list[Segment]]:
        """One jar's lines; a card that is equal is drawn the same, so they are kept by card."""
        assert self._view is not None
        key = (jar, is_chosen, look.jar_height, is_largest)
        if key not in self._cells:
            if len(self._cells) >= _KEPT_CELLS:
                self._cells.clear()
            if is_largest:
                look = look._replace(cell_width=2 * look.cell_width, scale=look.scale + 1)
            lines = jar_art.small(jar, self._view.today, look, is_chosen=is_chosen)
            self._cells[key] = [self._painter.segments(line) for line in lines]
        return self._cells[key]

    def _room_lines(self) -> list[list[Segment]]:
        """What an empty plank shows: a word about being empty."""
        text = f"{' ' * (self._margin + 2)}{_ROOM}"
        return [[], self._painter.segments((Span(text, "faint", "air"),))]


def _most_urgent(view: ShelvesView | None) -> Spot | None:
    """The jar that has waited longest past its strain date, or else is due today."""
    found: tuple[int, Spot] | None = None
    for shelf_at, shelf in enumerate(view.shelves if view else ()):
        for place, jar in enumerate(shelf.jars):
            left = jar.days_left(view.today) if view and jar.is_steeping else 1
            if left <= 0 and (found is None or left < found[0]):
                found = left, Spot(shelf_at, place)
    return found and found[1]


def _label_of(jar: JarCard) -> tuple[object, ...]:
    """What is written on a jar's label."""
    return (jar.herb, jar.more_herbs, jar.part, jar.condition)


def _frame(view: ShelvesView) -> tuple[object, ...]:
    """All that the layout rests on; views of one frame differ in single jars only."""
    shelves = ((s.shelf_id, s.name, s.note, len(s.jars)) for s in view.shelves)
    return (view.today, *shelves)


def _jars_on(view: ShelvesView, stretch: Stretch) -> tuple[JarCard, ...]:
    """The jars of a stretch."""
    return view.shelves[stretch.shelf_at].jars[stretch.first : stretch.first + stretch.filled]


def _edge(shelf: ShelfView, stretch: Stretch, width: int, look: Look) -> Line:
    """The front edge of a plank, with the shelf's name on it."""
    marks = look.marks
    board = marks.board
    jars = len(shelf.jars)
    count = how_many(jars, "jar") if jars else "no jars"
    if stretch.of > 1:
        count = f"{count}, plank {stretch.number} of {stretch.of}"
    tail = f" {count} {board * 2}"
    if width - cell_len(tail) - 6 < min(_LEAST_NAME, cell_len(shelf.name)):
        name = fit(shelf.name, max(4, width - 5), marks.ellipsis)
        fill = max(0, width - 4 - cell_len(name))
        return (
            Span(board * 2 + " ", "plank-line", "plank"),
            Span(name, "plank-name", "plank"),
            Span(" " + board * fill, "plank-line", "plank"),
        )
    name = fit(shelf.name, max(4, width - cell_len(tail) - 6), marks.ellipsis)
    room = width - cell_len(name) - cell_len(tail) - 6
    note = fit(shelf.note, room - 3, marks.ellipsis) if room > 8 else ""
    note = f" {marks.dot} {note}" if note else ""
    fill = max(0, width - 4 - cell_len(name) - cell_len(note) - cell_len(tail))
    return (
        Span(board * 2 + " ", "plank-line", "plank"),
        Span(name, "plank-name", "plank"),
        Span(note + " ", "plank-note", "plank"),
        Span(board * fill, "plank-line", "plank"),
        Span(f" {count} ", "plank-note", "plank"),
        Span(board * 2, "plank-line", "plank"),
    )
