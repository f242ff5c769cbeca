"""Help: what a page is for, its keys by what they act on, the words of the trade, cautions."""

from collections.abc import Iterator
from typing import NamedTuple

from rich.console import Console, ConsoleOptions, RenderResult
from rich.text import Text
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical, VerticalScroll
from textual.events import Resize
from textual.screen import Screen
from textual.widgets import Static

from stillroom.paper.plain import wrap
from stillroom.reckoning.cautions import ALL as CAUTIONS
from stillroom.screens.kit.dialog import Dialog
from stillroom.screens.kit.dims_page import DimsPage
from stillroom.screens.kit.keyline import KeyLine
from stillroom.screens.pages import key_range


class FramedText(DimsPage[None]):
    """Something to read in a frame, closed by any of the usual keys."""

    BINDINGS = [
        Binding("escape,enter,question_mark,q,f1", "dismiss", "Close", key_display="esc",
                id="sheet.close", tooltip="Close"),
    ]  # fmt: skip
    DEFAULT_CSS = """
    FramedText { align: center middle; }
    FramedText > Vertical {
        width: 78; max-width: 100%; height: auto; max-height: 100%; padding: 0 1;
        background: $background; border: round $primary; border-title-color: $accent;
        border-title-style: bold;
    }
    FramedText VerticalScroll { height: auto; max-height: 100%; }
    FramedText Static { margin-bottom: 1; }
    FramedText Static.-tight { margin-bottom: 0; }
    FramedText KeyLine {
        dock: none; padding: 0; background: $background;
        & > .keyline--key, & > .keyline--word { background: $background; }
    }
    """

    HEADING = ""

    def compose(self) -> ComposeResult:
        """The frame around the text."""
        with Vertical() as box:
            box.border_title = self.HEADING
            with VerticalScroll():
                yield from self.compose_text()
            yield KeyLine()

    def on_resize(self, event: Resize) -> None:
        """Leave room below the text for the key that closes it, and for the frame."""
        self.query_one(VerticalScroll).styles.max_height = max(1, event.size.height - 3)

    def compose_text(self) -> ComposeResult:
        """The text inside the frame."""
        raise NotImplementedError


FORMS = (
    "Fill in the fields, then press ctrl+s. The words beside a field, or in it while it is blank, "
    "show what it takes. In ‹ ›, the left and right arrows choose. Nothing is saved before you "
    "press ctrl+s."
)
"""Help on any form."""

WORDS = (
    ("menstruum", "the liquid poured on the herb: spirit, water or a decoction"),
    ("maceration", "steeping herb in liquid for days or weeks"),
    ("decoction", "water in which root or bark was simmered, then cooled"),
    ("marc", "the spent herb that is left after straining"),
    ("ratio 1:5", "1 gram of herb to 5 millilitres of liquid poured"),
    ("w/v", "weight of herb to volume of liquid"),
    ("% v/v", "share of alcohol by volume, at 20 °C"),
    ("tincture", "the strained liquid; one straining or one blend of it is a batch"),
    ("batch", "all bottles of one tincture, with one batch code"),
    ("keep until", "the last day to use it: a convention, not a proof"),
)
"""Words of the trade that the pages use, and what they mean."""

_BY_ID = {
    "board.open": "This jar",
    "jar.fill": "All jars",
    "shelves.restore": "Everywhere",
    "jar.round": "All jars",
    "jar.shake_all": "All jars",
    "table.open": "This line",
    "cupboard.next": "Move",
    "cupboard.before": "Move",
    "year.next": "Move",
    "year.before": "Move",
    "page.undo": "Everywhere",
    "page.redo": "Everywhere",
    "page.print": "Everywhere",
    "page.who": "Everywhere",
    "page.correct": "Everywhere",
    "page.help": "Everywhere",
    "page.quit": "Everywhere",
}
_BY_PREFIX = {
    "jar": "This jar",
    "round": "The round",
    "bottle": "This bottle",
    "bottles": "All bottles",
    "calculator": "Calculator",
    "cupboard": "Cupboard",
    "ledger": "Ledger",
    "year": "Year",
    "find": "Find and go back",
    "list": "Find and go back",
    "jar_page": "Find and go back",
    "board": "Move",
    "table": "Move",
    "outcome": "Move",
    "choice": "Move",
    "page": "Pages",
}
_HEADINGS = (
    "This jar", "All jars", "The round", "This bottle", "All bottles", "Calculator", "Cupboard",
    "Ledger", "Year", "This form", "This line", "Find and go back", "Everywhere", "Move", "Pages",
)  # fmt: skip
"""In the order in which help lists them: the day's acts first."""


class KeyAct(NamedTuple):
    """Something a key does here."""

    heading: str
    shown_key: str
    key: str
    words: str


def acts_of(screen: Screen[object]) -> list[KeyAct]:
    """What the keys of a screen can do now, the day's acts first; each act once."""
    acts: dict[tuple[str, str], KeyAct] = {}
    for _, binding, enabled, tooltip in screen.active_bindings.values():
        words = tooltip or binding.description
        # Textual's own keys have no id: they need no help here.
        if enabled and words and binding.id and not binding.system:
            shown = _shown_key(screen, binding)
            acts.setdefault((shown, words), KeyAct(_heading(binding.id), shown, binding.key, words))
    return sorted(acts.values(), key=lambda act: _HEADINGS.index(act.heading))


def _shown_key(screen: Screen[object], binding: Binding) -> str:
    """How a key is called; those of the pages one by one, which the key line shows together."""
    is_of_page = binding.key_display == key_range()
    return binding.key if is_of_page else screen.app.get_key_display(binding)


def _heading(binding_id: str) -> str:
    return _BY_ID.get(binding_id) or _BY_PREFIX.get(binding_id.partition(".")[0], "This form")


class Pairs:
    """Keys or words at the left, what they mean at the right, further in where it runs on."""

    def __init__(self, pairs: list[tuple[str, str]], room: int = 10) -> None:
        self.pairs = pairs
        self.room = room

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        """As wide as there is room."""
        for name, words in self.pairs:
            width = max(1, options.max_width - self.room - 2)
            for number, part in enumerate(wrap(words, width)):
                left = f"{name:>{self.room}}  " if number == 0 else " " * (self.room + 2)
                yield Text(left, "bold") + Text(part)


class HelpScreen(FramedText):
    """Help for the screen it was opened from."""

    HEADING = "Help"
    BINDINGS = [
        # Textual has ctrl+p for itself; this one can be tapped, and is shown as that.
        Binding("f10", "commands", "All commands", key_display="^p", id="sheet.commands",
                tooltip="Find any command by name"),
    ]  # fmt: skip

    def __init__(self, page: Screen[object]) -> None:
        super().__init__()
        about_page = getattr(page, "HELP", None)  # which is None where nothing is written
        self.purpose = about_page or (FORMS if isinstance(page, Dialog) else "")
        self.acts = acts_of(page)

    async def action_commands(self) -> None:
        """Close the help, and list the commands of the screen it was opened from."""
        app = self.app
        await app.pop_screen()
        await app.run_action("command_palette")

    def compose_text(self) -> ComposeResult:
        """Purpose, keys, words, cautions."""
        if self.purpose:
            yield Static(self.purpose, markup=False)
        for heading, pairs in self._groups():
            yield Static(heading, classes="heading -tight")
            yield Static(Pairs(pairs))
        yield Static("Words", classes="heading -tight")
        yield Static(Pairs(list(WORDS)))
        yield Static("Cautions", classes="heading")
        yield Static(_cautions(), markup=False)

    def _groups(self) -> Iterator[tuple[str, list[tuple[str, str]]]]:
        for heading in _HEADINGS:
            pairs = [(act.shown_key, act.words) for act in self.acts if act.heading == heading]
            if pairs:
                yield heading, pairs


class FirstCautions(FramedText):
    """The cautions, once, before a shelf is used for the first time."""

    HEADING = "Before you begin"

    def compose_text(self) -> ComposeResult:
        """The cautions and where to find them again."""
        yield Static(_cautions(), markup=False)
        yield Static("You can read these again on any page: press ?.", markup=False)


def _cautions() -> str:
    return "\n".join(f"· {caution}" for caution in CAUTIONS)
