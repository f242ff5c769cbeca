"""The shelves: planks with jars standing on them, drawn line by line, and one jar drawn large."""

from bisect import bisect_right
from collections.abc import Iterator
from functools import lru_cache
from typing import ClassVar, NamedTuple
import unicodedata

from rich.cells import cell_len
from rich.segment import Segment
from rich.style import Style
from textual.app import RenderResult
from textual.binding import Binding, BindingType
from textual.events import Blur, Click, Focus, Resize
from textual.geometry import Region, Size
from textual.message import Message
from textual.scroll_view import ScrollView
from textual.strip import Strip
from textual.widget import Widget

from stillroom.keeping.views import JarCard, ShelfView, ShelvesView
from stillroom.screens import jar_art
from stillroom.screens.jar_art import Line, Look, Span

_COLOURS = """
    & > .jar--air { background: $background; }
    & > .jar--inside { background: $surface; }
    & > .jar--label { background: $panel; }
    & > .jar--pick { background: $block-cursor-background; color: $block-cursor-foreground; text-style: bold; }
    & > .jar--liquid { background: $primary-muted; }
    & > .jar--tincture { background: $success-muted; }
    & > .jar--due { background: $warning; color: auto 95%; text-style: bold; }
    & > .jar--over { background: $error; color: auto 95%; text-style: bold; }
    & > .jar--lid { background: $secondary-muted; color: $text-muted; }
    & > .jar--plank { background: $secondary-muted; }
    & > .jar--herb { color: $foreground; text-style: bold; }
    & > .jar--faint { color: $text-muted; }
    & > .jar--glass { color: $foreground 40%; }
    & > .jar--cursor { color: $accent; text-style: bold; }
    & > .jar--count { color: $foreground; text-style: bold; }
    & > .jar--done { color: $text-success; }
    & > .jar--wanted { color: $foreground; }
    & > .jar--warning { color: $text-error; text-style: bold; }
    & > .jar--surface { color: $primary-muted; }
    & > .jar--tincture-surface { color: $success-muted; }
    & > .jar--plank-name { color: $foreground; text-style: bold; }
    & > .jar--plank-line { color: $secondary; }
    &:ansi {
        & > .jar--pick { background: ansi_default; color: ansi_default; text-style: bold reverse; }
        & > .jar--liquid { background: ansi_default; }
        & > .jar--tincture { background: ansi_default; }
        & > .jar--due { background: ansi_default; color: $warning; text-style: bold reverse; }
        & > .jar--over { background: ansi_default; color: $error; text-style: bold reverse; }
        & > .jar--lid { background: ansi_default; color: ansi_default; }
        & > .jar--plank { background: ansi_default; }
        & > .jar--glass { color: ansi_default; }
        & > .jar--faint { color: ansi_default; }
        & > .jar--surface { color: $warning; }
        & > .jar--tincture-surface { color: $success; }
    }
"""
"""One set of rules for every widget that draws jars."""

_COMPONENTS = {f"jar--{name}" for name in (*jar_art.INKS, *jar_art.GROUNDS)}


class JarPainter:
    """Turns spans into segments with the colours of a widget's theme."""

    def __init__(self, widget: Widget) -> None:
        self._widget = widget
        self._styles: dict[tuple[str, str], Style] = {}

    def forget(self) -> None:
        """Drop all styles: the theme has changed."""
        self._styles.clear()

    def style(self, ink: str, ground: str) -> Style:
        """The style of an ink on a ground."""
        key = (ink, ground)
        if key not in self._styles:
            below = self._widget.get_component_rich_style(f"jar--{ground or 'air'}")
            above = Style()
            if ink:
                # On its own an ink would bring along the widget's background.
                full = self._widget.get_component_rich_style(f"jar--{ink}")
                above = Style(color=full.color, bold=full.bold)
            self._styles[key] = below + above
        return self._styles[key]

    def segments(self, line: Line) -> list[Segment]:
        """A line as segments."""
        return [
            Segment(span.text, self.style(span.ink, span.ground)) for span in line if span.text
        ]


# --- Narrowing -------------------------------------------------------------------------------


@lru_cache(8192)
def _folded(text: str) -> str:
    """Text without case and accents, for finding."""
    text = text.casefold()
    if text.isascii():
        return text
    bare = unicodedata.normalize("NFKD", text)
    return "".join(character for character in bare if not unicodedata.combining(character))


def matching(view: ShelvesView, text: str) -> ShelvesView:
    """The jars in whose herb, code, part, condition or shelf every word of a text occurs."""
    words = _folded(text).split()
    if not words:
        return view
    shelves = []
    for shelf in view.shelves:
        place = _folded(shelf.name)
        jars = tuple(jar for jar in shelf.jars if _has_words(jar, place, words))
        if jars:
            shelves.append(ShelfView(shelf.shelf_id, shelf.name, shelf.note, jars))
    return ShelvesView(view.today, tuple(shelves))


def _has_words(jar: JarCard, place: str, words: list[str]) -> bool:
    """Whether every word occurs in what is written on the jar or on its plank."""
    parts = (jar.herb, jar.code, jar.part, jar.condition)
    text = "\n".join((*map(_folded, parts), place))
    return all(word in text for word in words)


# --- Planks ----------------------------------------------------------------------------------


class Plank(NamedTuple):
    """A plank row: as many jars of one shelf as fit side by side."""

    shelf_at: int
    """Which shelf of the view it belongs to."""
    first: int
    """Place in the shelf of its first jar."""
    count: int
    number: int
    """Which of the shelf's planks it is, from 1."""
    of: int
    """How many planks the shelf takes."""


def planks_for(view: ShelvesView, per_plank: int) -> list[Plank]:
    """Every shelf cut into planks."""
    planks = []
    for shelf_at, shelf in enumerate(view.shelves):
        total = len(shelf.jars)
        of = max(1, -(-total // per_plank))
        for at in range(of):
            first = at * per_plank
            planks.append(Plank(shelf_at, first, min(per_plank, total - first), at + 1, of))
    return planks


_NARROWEST = 19
_ROOMY = 26


class Board(ScrollView, can_focus=True):
    """Shelves with their jars; one of the jars is chosen."""

    DEFAULT_CSS = (
        """
Board {
    background: $background;
    color: $foreground;
    overflow-x: hidden;
    overflow-y: auto;
    scrollbar-gutter: stable;
    scrollbar-size-vertical: 1;
"""
        + _COLOURS
        + "}"
    )
    COMPONENT_CLASSES: ClassVar[set[str]] = _COMPONENTS
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding(
            "enter", "open", "Open", id="board.open", tooltip="Open the chosen jar", show=True
        ),
        Binding("left", "go(-1)", "Left", False, id="board.left", tooltip="The jar before"),
        Binding("right", "go(1)", "Right", False, id="board.right", tooltip="The jar after"),
        Binding("up", "climb(-1)", "Up", False, id="board.up", tooltip="The jar above"),
        Binding("down", "climb(1)", "Down", False, id="board.down", tooltip="The jar below"),
        Binding("home", "edge(0)", "First", False, id="board.first", tooltip="The first jar"),
        Binding("end", "edge(-1)", "Last", False, id="board.last", tooltip="The last jar"),
        Binding("pageup", "page(-1)", "Page up", False, id="board.page_up", tooltip="A page up"),
        Binding(
            "pagedown", "page(1)", "Page down", False, id="board.page_down", tooltip="A page down"
        ),
    ]
    ALLOW_SELECT = False

    class _JarMessage(Message):
        """Something about the jar at the cursor."""

        def __init__(self, board: "Board", jar_id: int | None) -> None:
            super().__init__()
            self.board = board
            self.jar_id = jar_id

        @property
        def control(self) -> "Board":
            """The board it happened on."""
            return self.board

    class Highlighted(_JarMessage):
        """The cursor has come to another jar, or there is none."""

    class Opened(_JarMessage):
        """A jar is to be looked into."""

        jar_id: int

    def __init__(
        self,
        *,
        is_plain: bool = False,
        id: str | None = None,
        classes: str | None = None,
    ) -> None:
        # Before the base class, whose start may already ask for styles to be forgotten.
        self._painter = JarPainter(self)
        self._cells: dict[tuple[JarCard, bool], list[list[Segment]]] = {}
        self._strips: dict[int, list[Strip]] = {}
        super().__init__(id=id, classes=classes)
        self._is_plain = is_plain
        self._view: ShelvesView | None = None
        self._hint = ""
        self._look = Look(is_plain=is_plain)
        self._per_plank = 1
        self._planks: list[Plank] = []
        self._tops: list[int] = [0]
        self._cursor: tuple[int, int] | None = None
        """Plank and place on it of the chosen jar."""
        self._column = 0
        """The place up and down keep to, even across shorter planks."""

    # --- What it shows ---

    def show(self, view: ShelvesView, hint: str = "") -> None:
        """Show these shelves; the chosen jar stays chosen.

        The hint is what stands on the board when there is no shelf to show.
        """
        before, self._view = self._view, view
        was_chosen = self._jar_of(before, self._cursor)
        if before is None or _frame(before) != _frame(view) or hint != self._hint:
            self._hint = hint
            self._cells.clear()
            self._lay_out()
        else:
            self._drop_changed(before, view)
        self._follow(was_chosen)

    @property
    def view(self) -> ShelvesView | None:
        """The shelves on show."""
        return self._view

    @property
    def selected(self) -> JarCard | None:
        """The jar at the cursor."""
        return self._jar_of(self._view, self._cursor)

    def select(self, jar_id: int) -> bool:
        """Put the cursor on a jar and bring it into view; False where it is not on the board."""
        spot = self._find(jar_id)
        if spot is None:
            return False
        self._move_to(spot)
        return True

    # --- Layout ---

    def _lay_out(self) -> None:
        """Cut the shelves into planks for the present width."""
        width, height = self.scrollable_content_region.size
        is_roomy = width >= 150 and height >= 36
        narrowest = _ROOMY if is_roomy else _NARROWEST
        self._per_plank = max(1, width // narrowest)
        self._look = Look(
            cell_width=max(_NARROWEST, min(narrowest + 6, width // self._per_plank)),
            scale=2 if is_roomy else 1,
            is_flat=self.app.native_ansi_color,
            is_plain=self._is_plain,
        )
        self._planks = planks_for(self._view, self._per_plank) if self._view else []
        self._tops = [0]
        for plank in self._planks:
            self._tops.append(self._tops[-1] + self._plank_height(plank))
        self._strips.clear()
        self.virtual_size = Size(width, self._tops[-1])
        self.refresh()

    def _plank_height(self, plank: Plank) -> int:
        """Lines of a plank with what stands on it; an empty one keeps room for a hint."""
        return self._look.jar_height + 1 if plank.count else 3

    @property
    def _margin(self) -> int:
        """Columns left of the first jar."""
        width = self.scrollable_content_region.width
        return max(0, (width - self._per_plank * self._look.cell_width) // 2)

    def _drop_changed(self, before: ShelvesView, view: ShelvesView) -> None:
        """Forget the picture of each drawn jar that is not as it was; the rest stays."""
        for at in list(self._strips):
            plank = self._planks[at]
            old = _jars_on(before, plank)
            new = _jars_on(view, plank)
            for column, (was, now) in enumerate(zip(old, new, strict=True)):
                if was != now:
                    self._redraw((at, column))

    def _redraw(self, spot: tuple[int, int]) -> None:
        """Draw one jar anew."""
        at, column = spot
        self._strips.pop(at, None)
        cell = self._look.cell_width
        self.refresh(
            Region(
                self._margin + column * cell,
                self._tops[at] - self.scroll_offset.y,
                cell,
                self._look.jar_height,
            )
        )

    # --- The cursor ---

    def _jar_of(self, view: ShelvesView | None, spot: tuple[int, int] | None) -> JarCard | None:
        """The jar at a spot."""
        if view is None or spot is None:
            return None
        plank = self._planks[spot[0]]
        return view.shelves[plank.shelf_at].jars[plank.first + spot[1]]

    def _find(self, jar_id: int) -> tuple[int, int] | None:
        """Where a jar stands."""
        if self._view is None:
            return None
        for at, plank in enumerate(self._planks):
            for column, jar in enumerate(_jars_on(self._view, plank)):
                if jar.jar_id == jar_id:
                    return at, column
        return None

    def _follow(self, was_chosen: JarCard | None) -> None:
        """Keep the cursor on the jar it was on, or as near as can be."""
        here = self._cursor_if_there()
        if was_chosen is None:
            self._move_to(self._nearest(here or (0, 0)))
            return
        jar = self._jar_of(self._view, here)
        if jar is not None and jar.jar_id == was_chosen.jar_id:
            self._cursor = here
            return
        spot = self._find(was_chosen.jar_id) or self._nearest(self._cursor or (0, 0))
        self._move_to(spot)

    def _move_to(self, spot: tuple[int, int] | None) -> None:
        """Put the cursor on a spot, drawing only the two jars concerned."""
