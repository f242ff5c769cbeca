"""One jar, drawn as large as the room allows."""

from datetime import date

from textual.geometry import Size
from textual.strip import Strip

from stillroom.keeping.cards import JarCard
from stillroom.quantities import METRIC, Notation
from stillroom.screens.drawing import jar_art
from stillroom.screens.drawing.look import Look
from stillroom.screens.drawing.painter import JarPainter
from stillroom.screens.kit.placed_once import PlacedOnce


class BigJar(PlacedOnce):
    """One jar as large as the room allows."""

    DEFAULT_CSS = "BigJar { background: $background; color: $foreground; }"
    ALLOW_SELECT = False

    def __init__(self, *, is_plain: bool = False, id: str | None = None) -> None:
        self._painter = JarPainter(self)
        self._strips: list[Strip] = []
        super().__init__(id=id)
        self._is_plain = is_plain
        self._shown: tuple[JarCard, date] | None = None
        self._notation = METRIC
        self._drawn_for = Size()

    def show(self, card: JarCard | None, today: date, notation: Notation = METRIC) -> None:
        """Show a jar as of a day, or none."""
        self._shown = None if card is None else (card, today)
        self._notation = notation
        self._strips = []
        self.refresh()

    def notify_style_update(self) -> None:
        """Colours have changed: draw the picture again."""
        super().notify_style_update()
        self._painter.forget()
        self._strips = []

    def render_line(self, y: int) -> Strip:
        """One line of the picture."""
        if self._drawn_for != self.size:
            # The room is checked here, as a line may be needed before the resize event arrives.
            self._drawn_for = self.size
            self._strips = []
        if self._shown is not None and not self._strips:
            self._strips = self._draw(*self._shown)
        if y < len(self._strips):
            return self._strips[y]
        return Strip.blank(self.size.width, self._painter.style("", "air"))

    def _draw(self, card: JarCard, today: date) -> list[Strip]:
        """All of the picture."""
        width, height = self.size
        look = Look(
            is_flat=self.app.native_ansi_color, is_plain=self._is_plain, notation=self._notation
        )
        air = self._painter.style("", "air")
        return [
            Strip(self._painter.segments(line)).adjust_cell_length(width, air)
            for line in jar_art.large(card, today, width, height, look)
        ]
