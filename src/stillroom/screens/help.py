"""What a page is for, its keys, and the cautions."""

from rich.text import Text
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical, VerticalScroll
from textual.screen import ModalScreen, Screen
from textual.widgets import Static

from stillroom.reckoning.cautions import ALL as CAUTIONS
from stillroom.screens.kit.keyline import KeyLine


class Sheet(ModalScreen[None]):
    """Something to read in a frame, closed by any of the usual keys."""

    BINDINGS = [
        Binding("escape,enter,question_mark,q", "dismiss", "Close", key_display="esc",
                id="sheet.close", tooltip="Close"),
    ]  # fmt: skip
    DEFAULT_CSS = """
    Sheet { align: center middle; }
    Sheet > Vertical {
        width: 78; max-width: 100%; height: auto; max-height: 100%; padding: 0 1;
        background: $background; border: round $primary; border-title-color: $accent;
        border-title-style: bold;
    }
    Sheet VerticalScroll { height: auto; max-height: 100%; }
    Sheet Static { margin-bottom: 1; }
    Sheet KeyLine {
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

    def compose_text(self) -> ComposeResult:
        """What there is to read."""
        raise NotImplementedError


class HelpScreen(Sheet):
    """Help for the screen it was opened from."""

    HEADING = "Help"

    def __init__(self, page: Screen[object]) -> None:
        super().__init__()
        self.purpose = str(getattr(page, "HELP", ""))
        self.keys = _keys(page)

    def compose_text(self) -> ComposeResult:
        """Purpose, keys, cautions."""
        yield Static(self.purpose, markup=False)
        yield Static(self.keys)
        yield Static("Cautions", classes="heading")
        yield Static(_cautions(), markup=False)


class FirstCautions(Sheet):
    """The cautions, once, before a shelf is used for the first time."""

    HEADING = "Before you begin"

    def compose_text(self) -> ComposeResult:
        """The cautions and where to find them again."""
        yield Static(_cautions(), markup=False)
        yield Static("They stand in the help of every page: press ? there.", markup=False)


def _cautions() -> str:
    return "\n".join(f"· {caution}" for caution in CAUTIONS)


def _keys(page: Screen[object]) -> Text:
    """A table of the keys that work on a page, one a line; other keys for the same are left out."""
    text = Text()
    told = set()
    for _, binding, enabled, tooltip in page.active_bindings.values():
        words = tooltip or binding.description
        # Textual's own keys have no id: what they do needs no telling here.
        if enabled and words and binding.id and not binding.system:
            key = page.app.get_key_display(binding)
            if (key, words) in told:
                continue
            told.add((key, words))
            text.append(f"{key:>10}", "bold")
            text.append(f"  {words}\n")
    text.right_crop(1)
    return text
