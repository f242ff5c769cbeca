"""What a calculator has found: the main figure large, then warnings, working and the rest."""

import re
from collections.abc import Iterable
from dataclasses import replace
from typing import ClassVar

from rich.console import RenderableType
from rich.segment import Segment
from rich.style import Style
from rich.table import Table as Grid
from rich.text import Text
from textual.binding import Binding, BindingType
from textual.events import Resize
from textual.geometry import Size
from textual.renderables.digits import Digits
from textual.scroll_view import ScrollView
from textual.strip import Strip

from stillroom.keeping.wording import Wording
from stillroom.reckoning.kinds import Figure
from stillroom.reckoning.registry import Outcome, Sentence
from stillroom.screens.kit.text import safe

_SECTIONS = (
    ("working", "Working"),
    ("assumptions", "Assumptions"),
    ("sources", "Sources"),
    ("cautions", "Cautions"),
)
_INKS = ("quiet", "main", "strong", "heading", "warning")
_LABEL_WIDTH = 26
"""Cells that a result's name gets before it breaks."""
_LARGE = 16
"""Characters up to which a figure is drawn in large ones."""
_ROOMY = 14
"""Lines from which blank ones may part the main figure from the rest."""
_JOINT = "␣"
"""Between a number and its unit until lines are broken: Rich breaks at every kind of space, a
no-break space included."""


class OutcomePane(ScrollView, can_focus=True):
    """A calculator's outcome, or what is still missing.

    One widget that draws its own lines: an outcome that follows every key must not lay out the
    screen again each time.
    """

    COMPONENT_CLASSES: ClassVar[set[str]] = {f"outcome--{ink}" for ink in _INKS}
    DEFAULT_CSS = """
    OutcomePane {
        height: 1fr; overflow-x: hidden; overflow-y: auto; scrollbar-gutter: stable;
        scrollbar-size-vertical: 1; background: $background; color: $foreground;
        & > .outcome--quiet { color: $text-muted; }
        & > .outcome--main { color: $accent; text-style: bold; }
        & > .outcome--strong { text-style: bold; }
        & > .outcome--heading { color: $accent; text-style: bold; }
        & > .outcome--warning { color: $text-warning; text-style: bold; }
        &:ansi {
            & > .outcome--quiet { color: ansi_default; }
            & > .outcome--main { color: ansi_default; text-style: bold; }
            & > .outcome--heading { color: ansi_default; text-style: bold underline; }
        }
    }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("up", "scroll_up", "Scroll up", show=False, id="outcome.up", tooltip="Scroll up"),
        Binding("down", "scroll_down", "Scroll down", show=False, id="outcome.down",
                tooltip="Scroll down"),
    ]  # fmt: skip
    ALLOW_SELECT = False

    def __init__(self, *, is_plain: bool, id: str | None = None) -> None:
        # Before the base class, whose start may already ask for styles to be forgotten.
        self._styles: dict[str, Style] = {}
        self._is_stale = False
        super().__init__(id=id)
        self.is_plain = is_plain
        """Whether the terminal has no glyphs for large figures."""
        self.figure = ""
        """The main result as shown; blank while there is none."""
        self.waits_for = ""
        """Why there is no result."""
        self._outcome: Outcome | None = None
        self._wording = Wording()
        self._is_wrong = False
        self._lines: list[list[Segment]] = []

    def show(self, outcome: Outcome, wording: Wording) -> None:
        """Show an outcome in the units of this shelf."""
        self._outcome, self._wording, self.waits_for = outcome, replace(wording, joint=_JOINT), ""
        self.figure = self._said(outcome.results[0].value).replace(_JOINT, " ")
        self._draw()

    def wait(self, sentence: str, *, is_wrong: bool = False) -> None:
        """Show why there is no outcome: a field is still blank, or a value isn't possible."""
        self._outcome, self.figure = None, ""
        self.waits_for, self._is_wrong = sentence, is_wrong
        self._draw()
        self.scroll_home(animate=False)

    def _said(self, words: Sentence | Figure | str) -> str:
        if isinstance(words, Figure):
            return self._wording.figure(words)
        filled = (
            words
            if isinstance(words, str)
            else self._wording.fill_in(words.text, words.figures, words.sum)
        )
        return re.sub(r"(?<=\d) (?=[%°])", _JOINT, filled)  # figures that are part of the words

    def _parts(self) -> Iterable[RenderableType]:
        """Everything to be read, from above."""
        outcome = self._outcome
        if outcome is None:
            ink, mark = ("warning", "!") if self._is_wrong else ("quiet", "·")
            yield self._listed([self.waits_for], mark, ink)
            return
        main, *others = outcome.results
        yield Text(safe(self._said(main.label)), self._style("quiet"))
        yield self._large(self.figure)
        if outcome.warnings:
            if self.size.height >= _ROOMY:
                yield Text()
            yield self._listed(map(self._said, outcome.warnings), "!", "warning")
        if others:
            yield Text()
            yield self._results([(self._said(r.label), self._said(r.value)) for r in others])
        for name, heading in _SECTIONS:
            lines = [self._said(each) for each in getattr(outcome, name)]
            if lines:
                yield Text()
                yield Text(heading, self._style("heading"))
                yield self._listed(lines, "·", "")

    def _large(self, value: str) -> RenderableType:
        # Words have no large letters, and a sentence would not fit in them.
        if not self.is_plain and value[:1].isdigit() and len(value) <= _LARGE:
            return Digits(value, self._style("main"))
        return Text(safe(value), self._style("main"))

    def _listed(self, lines: Iterable[str], mark: str, ink: str) -> Grid:
        """Sentences under each other, each behind its mark."""
        grid = Grid.grid(padding=(0, 1, 0, 0))
        for line in lines:
            grid.add_row(Text(mark, self._style(ink)), Text(safe(line), self._style(ink)))
        return grid

    def _results(self, lines: Iterable[tuple[str, str]]) -> Grid:
        """Names and values in two columns."""
        grid = Grid.grid(padding=(0, 2, 0, 0), expand=True)
        grid.add_column(max_width=_LABEL_WIDTH)
        grid.add_column(ratio=1)
        for label, value in lines:
            grid.add_row(Text(safe(label)), Text(safe(value), self._style("strong")))
        return grid

    def _style(self, ink: str) -> Style:
        """The style of an ink, which brings no ground of its own."""
        if not ink:
            return Style.null()
        if ink not in self._styles:
            full = self.get_component_rich_style(f"outcome--{ink}")
            self._styles[ink] = Style(
                color=full.color, bold=full.bold, underline=full.underline or None
            )
        return self._styles[ink]

    def _draw(self) -> None:
        """Break everything into lines and make room for them."""
        self._break_lines()
        self.virtual_size = Size(self.scrollable_content_region.width, len(self._lines))
        self.refresh()

    def _break_lines(self) -> None:
        self._is_stale = False
        width = self.scrollable_content_region.width
        if width <= 0:
            return
        console = self.app.console
        options = console.options.update(width=width, height=None)
        self._lines = [
            [Segment(each.text.replace(_JOINT, " "), each.style) for each in line]
            for part in self._parts()
            for line in console.render_lines(part, options, new_lines=False)
        ]

    def on_resize(self, event: Resize) -> None:
        """Break the lines again."""
        self._draw()

    def notify_style_update(self) -> None:
        """Colours have changed: what was drawn is drawn again, once they are known."""
        super().notify_style_update()
        self._styles.clear()
        self._is_stale = True

    def render_line(self, y: int) -> Strip:
        """One line of what is in view."""
        if self._is_stale:
            self._break_lines()
        at = y + self.scroll_offset.y
        segments = self._lines[at] if at < len(self._lines) else []
        strip = Strip(segments).adjust_cell_length(self.scrollable_content_region.width)
        return strip.apply_style(self.rich_style)
