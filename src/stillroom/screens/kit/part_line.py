"""The line that names the parts of a page."""

from collections.abc import Sequence
from typing import ClassVar

from rich.cells import cell_len
from rich.text import Text
from textual.app import RenderResult
from textual.events import Click
from textual.message import Message
from textual.reactive import reactive

from stillroom.screens.kit.placed_once import PlacedOnce


class PartLine(PlacedOnce):
    """The parts of a page on one line; the one shown is highlighted."""

    COMPONENT_CLASSES: ClassVar[set[str]] = {"parts--part", "parts--chosen"}
    DEFAULT_CSS = """
    PartLine {
        height: 1; padding: 0 1; background: $panel;
        & > .parts--part { color: $text-muted; background: $panel; }
        & > .parts--chosen { color: $accent; background: $background; text-style: bold; }
    }
    """

    chosen: reactive[int] = reactive(0)

    class Clicked(Message):
        """A part was clicked on."""

        def __init__(self, number: int) -> None:
            super().__init__()
            self.number = number

    def __init__(self, titles: Sequence[str]) -> None:
        super().__init__()
        self.titles = titles

    def render(self) -> RenderResult:
        """The titles, the chosen one in brackets, so that colour is not needed to see it."""
        text = Text(no_wrap=True, overflow="ellipsis")
        first = self._first()
        if first:
            text.append("… ", self.get_component_rich_style("parts--part"))
            text.apply_meta({"part": first - 1}, 0)
        for number, title in enumerate(self.titles[first:], first):
            is_chosen = number == self.chosen
            start = len(text)
            style = self.get_component_rich_style(f"parts--{'chosen' if is_chosen else 'part'}")
            text.append(f"[{title}]" if is_chosen else f" {title} ", style)
            text.apply_meta({"part": number}, start)
            text.append(" ")
        return text

    def _first(self) -> int:
        """The first title that is drawn: on few columns the chosen one has its neighbours by it."""
        width = self.content_size.width or self.app.size.width - 2
        if sum(cell_len(title) + 3 for title in self.titles) <= width:
            return 0
        for first in range(self.chosen):
            needed = self.titles[first : self.chosen + 2]
            if sum(cell_len(title) + 3 for title in needed) + 2 * bool(first) <= width:
                return first
        return max(0, self.chosen - 1)

    def on_click(self, event: Click) -> None:
        """Report the part that was clicked."""
        number = event.style.meta.get("part")
        if number is not None:
            self.post_message(self.Clicked(number))
