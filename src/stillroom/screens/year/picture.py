"""Pictures of one herb, or of a period, each with its table behind one key."""

from collections.abc import Callable, Sequence

from rich.text import Text
from textual import on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.widgets import Static

from stillroom.keeping.keeper import Keeper
from stillroom.keeping.year.pictures import Picture, Point
from stillroom.screens.drawing.plot import legend, plot
from stillroom.screens.kit.columns import Cell, Column
from stillroom.screens.kit.list_page import OverPage
from stillroom.screens.kit.table import Table
from stillroom.screens.kit.text import safe

Line = tuple[str, ...]
MOST_COLUMNS = 5


class PicturePage(OverPage):
    """One picture at a time."""

    HELP = (
        "One picture at a time; press tab for the next, t for its table. Left and right choose a "
        "mark, and enter opens the jar that it came from. Marks differ in shape: hollow ones, or "
        "small letters, were set aside and teach nothing."
    )
    BINDINGS = [
        Binding("tab", "turn(1)", "Next picture", id="picture.next",
                tooltip="Go to the next picture"),
        Binding("shift+tab", "turn(-1)", "Previous picture", show=False, id="picture.before",
                tooltip="Go back to the previous picture"),
        Binding("t", "table", "Table", id="picture.table",
                tooltip="Show the table of this picture, or the picture again"),
        Binding("right", "step(1)", "Next mark", id="picture.mark_next",
                tooltip="Choose the next mark"),
        Binding("left", "step(-1)", "Previous mark", show=False, id="picture.mark_before",
                tooltip="Choose the mark before"),
        Binding("enter", "open", "Open", id="picture.open",
                tooltip="Open the jar that the chosen mark came from"),
    ]  # fmt: skip
    DEFAULT_CSS = """
    PicturePage > #picture { height: 1fr; padding: 0 1; }
    PicturePage.-table > #picture { display: none; }
    PicturePage > #rows { display: none; }
    PicturePage.-table > #rows { display: block; }
    """
    FIND_HINT = "words in the table"

    def __init__(self, keeper: Keeper, name: str, make: Callable[[], Sequence[Picture]]) -> None:
        super().__init__(keeper)
        self.about_what = name
        self._make = make
        self._pictures: Sequence[Picture] = ()
        self._shown = 0
        self._chosen = -1

    def compose_list(self) -> ComposeResult:
        """The picture, and its table."""
        yield Static("", id="picture", markup=False)
        columns = tuple(Column("", share=2) for _ in range(MOST_COLUMNS))
        yield Table[Line](columns, self._cells, lambda row: row, is_plain=self.host.is_plain,
                          id="rows")  # fmt: skip

    @property
    def picture(self) -> Picture | None:
        """The one on show."""
        return self._pictures[self._shown] if self._pictures else None

    @property
    def chosen(self) -> Point | None:
        """The chosen mark; None where none can be opened."""
        marks = self._marks()
        return marks[self._chosen % len(marks)] if marks else None

    def _marks(self) -> list[Point]:
        return [p for p in self.picture.points if p.jar_id is not None] if self.picture else []

    def read(self) -> None:
        """Read what the pictures show."""
        self._pictures = self._make()
        self._shown = min(self._shown, max(0, len(self._pictures) - 1))
        self._show()

    def show_rows(self) -> None:
        """Show what passes the words."""
        self.set_class(True, "-table")
        self._show()

    def _show(self) -> None:
        picture = self.picture
        if picture is None:
            self.head(Text(safe(self.about_what), style="bold"))
            self.query_one("#picture", Static).update("There is nothing to draw yet.")
            return
        place = f"{self._shown + 1} of {len(self._pictures)}"
        title = f"{safe(self.about_what)} · {picture.heading}"
        self.head(Text(title, style="bold"), place)
        rows = self.query_one("#rows", Table)
        rows.set_columns(self._columns(picture), self._cells, lambda row: row)
        rows.show([row for row in picture.rows if self.matches(*row)], "Nothing matches.")
        self._draw()
        self._tell()
        self.refresh_bindings()

    def _columns(self, picture: Picture) -> tuple[Column, ...]:
        return tuple(Column(name, share=1) for name in picture.head)

    def _cells(self, row: Line) -> tuple[Cell, ...]:
        return tuple(Cell(text) for text in row)

    def _draw(self) -> None:
        picture, panel = self.picture, self.query_one("#picture", Static)
        if picture is None or not panel.size.height:
            return
        is_plain = self.host.is_plain
        words = legend(picture, self.chosen, is_plain=is_plain)
        below = 1 + len(words) // max(1, panel.size.width)
        drawn = plot(
            picture, panel.size.width, panel.size.height - below, self.chosen,
            self.wording.number, is_plain=is_plain,
        )  # fmt: skip
        if not drawn:
            panel.update("This window is too small for the picture. Press t for its table.")
            return
        panel.update(Text(f"{drawn}\n{words}"))

    def _tell(self) -> None:
        point, picture = self.chosen, self.picture
        if point is None or picture is None or self.has_class("-table"):
            self.about("")
            return
        aside = ", set aside" if point.is_hollow else ""
        name = next(s.name for s in picture.series if point in s.points)
        value = f"{self.wording.number(point.value)} {picture.unit}"
        self.about(f"{self.wording.day(point.day)}: jar {point.label}, {name}, {value}{aside}")

    def on_resize(self) -> None:
        """Draw in the room there is."""
        self.call_after_refresh(self._draw)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Marks are chosen where some can be opened."""
        if action in ("step", "open"):
            return bool(self._marks()) and not self.has_class("-table")
        if action == "turn":
            return len(self._pictures) > 1
        return super().check_action(action, parameters)

    def action_turn(self, step: int) -> None:
        """Show another picture."""
        self._shown = (self._shown + step) % len(self._pictures)
        self._chosen = -1
        self._show()

    def action_step(self, step: int) -> None:
        """Choose another mark."""
        self._chosen = (self._chosen + step) % len(self._marks())
        self._draw()
        self._tell()

    def action_table(self) -> None:
        """Show the table, or the picture."""
        self.toggle_class("-table")
        if self.has_class("-table"):
            self.query_one("#rows", Table).focus()
        self._tell()
        self.refresh_bindings()
        self.call_after_refresh(self._draw)

    @on(Table.Opened)
    def _opened(self) -> None:
        self.action_open()

    def action_open(self) -> None:
        """Open the jar of the chosen mark."""
        point = self.chosen
        if point is not None and point.jar_id is not None:
            self.host.open_jar(point.jar_id)
