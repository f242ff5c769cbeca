"""What a calculator has found: the main figure large, then warnings, working and the rest."""

from collections.abc import Iterable, Sequence

from rich.table import Table as Grid
from rich.text import Text
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import VerticalScroll
from textual.widgets import Digits, Static

from ..keeping.preferences import Preferences
from ..quantities import fill_in, show
from ..reckoning.kinds import Figure
from ..reckoning.registry import Outcome, Result, Sentence
from .jar_art import safe

_SECTIONS = (
    ("working", "Working"),
    ("assumptions", "Taken for granted"),
    ("sources", "Sources"),
    ("cautions", "Cautions"),
)

_LABEL_WIDTH = 26
"""Cells that a result's name gets before it breaks."""


class OutcomePane(VerticalScroll):
    """A calculator's outcome, or what it still waits for."""

    BINDINGS = [
        Binding("up", "scroll_up", "Scroll up", show=False, id="outcome.up", tooltip="Scroll up"),
        Binding("down", "scroll_down", "Scroll down", show=False, id="outcome.down",
                tooltip="Scroll down"),
    ]  # fmt: skip
    DEFAULT_CSS = """
    OutcomePane { height: 1fr; scrollbar-size-vertical: 1; }
    OutcomePane > Static, OutcomePane > Digits { height: auto; }
    OutcomePane > #main { text-style: bold; color: $accent; }
    OutcomePane > #main-words { text-style: bold; }
    OutcomePane > #warnings { margin-top: 1; }
    OutcomePane > #results { margin-top: 1; }
    OutcomePane > .outcome--section { margin-top: 1; }
    OutcomePane > .-none { display: none; }
    """

    def __init__(self, *, is_plain: bool, id: str | None = None) -> None:
        super().__init__(id=id)
        self.is_plain = is_plain
        """Whether the terminal has no glyphs for large figures."""

    def compose(self) -> ComposeResult:
        """One part under the other; what is empty takes no room."""
        yield Static("", id="main-label", classes="quiet", markup=False)
        yield Digits("", id="main")
        yield Static("", id="main-words", markup=False)
        yield Static("", id="waiting", classes="quiet", markup=False)
        yield Static("", id="warnings", classes="warning", markup=False)
        yield Static("", id="results", markup=False)
        for name, heading in _SECTIONS:
            yield Static(heading, id=f"{name}-heading", classes="heading outcome--section")
            yield Static("", id=name, markup=False)

    def show(self, outcome: Outcome, wanted: Preferences) -> None:
        """Show an outcome in the units of this shelf."""

        def said(words: Sentence | Figure | str) -> str:
            if isinstance(words, Figure):
                return show(words, system=wanted.units, decimal_comma=wanted.decimal_comma)
            if isinstance(words, str):
                return words
            return fill_in(
                words.text, words.figures, wanted.units, decimal_comma=wanted.decimal_comma
            )

        main, *others = outcome.results
        self._show_main(said(main.label), main, said(main.value))
        self._put("waiting", "")
        self._put("warnings", _listed((said(w) for w in outcome.warnings), "!"))
        self._put("results", _results([(said(r.label), said(r.value)) for r in others]))
        for name, _ in _SECTIONS:
            lines = [said(each) for each in getattr(outcome, name)]
            self._put(name, _listed(lines, "·"))
            self.query_one(f"#{name}-heading").set_class(not lines, "-none")

    def _show_main(self, label: str, main: Result, value: str) -> None:
        # Words have no large letters, and a sentence would not fit in them.
        is_large = not self.is_plain and value[:1].isdigit() and len(value) <= 16
        self._put("main-label", safe(label))
        self.query_one("#main", Digits).update(value if is_large else "")
        self.query_one("#main").set_class(not is_large, "-none")
        self._put("main-words", "" if is_large else safe(value))

    def wait(self, sentence: str, *, is_wrong: bool = False) -> None:
        """Show why there is no outcome: something is still to come, or cannot be."""
        for part in self.query("OutcomePane > Static, OutcomePane > Digits"):
            part.add_class("-none")
        self._put(
            "warnings" if is_wrong else "waiting", _listed([sentence], "!" if is_wrong else "·")
        )
        self.scroll_home(animate=False)

    def _put(self, name: str, content: Grid | str | None) -> None:
        part = self.query_one(f"#{name}", Static)
        part.set_class(not content, "-none")
        part.update(content or "")


def _listed(lines: Iterable[str], mark: str) -> Grid | None:
    """Sentences under each other, each behind its mark."""
    grid = Grid.grid(padding=(0, 1, 0, 0))
    for line in lines:
        grid.add_row(Text(mark), Text(safe(line)))
    return grid if grid.row_count else None


def _results(lines: Sequence[tuple[str, str]]) -> Grid | None:
    """Names and values in two columns."""
    grid = Grid.grid(padding=(0, 2, 0, 0), expand=True)
    grid.add_column(max_width=_LABEL_WIDTH)
    grid.add_column(ratio=1)
    for label, value in lines:
        grid.add_row(Text(safe(label)), Text(safe(value), style="bold"))
    return grid if grid.row_count else None
