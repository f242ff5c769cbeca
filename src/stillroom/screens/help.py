"""What a page is for, its keys, and the cautions."""

from rich.text import Text
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical, VerticalScroll
from textual.screen import ModalScreen, Screen
from textual.widgets import Static

from ..reckoning.cautions import EVERYTHING as CAUTIONS
from .keyline import KeyLine


class HelpScreen(ModalScreen[None]):
    """Help for the screen it was opened from."""

    BINDINGS = [
        Binding("escape,question_mark,q", "dismiss", "Close", key_display="esc", id="help.close"),
    ]
    DEFAULT_CSS = """
    HelpScreen { align: center middle; }
    HelpScreen > Vertical {
        width: 78; max-width: 100%; height: auto; max-height: 100%; padding: 0 1;
        background: $background; border: round $primary; border-title-color: $accent;
        border-title-style: bold;
    }
    HelpScreen VerticalScroll { height: auto; max-height: 100%; }
    HelpScreen Static { margin-bottom: 1; }
    HelpScreen KeyLine { dock: none; padding: 0; background: $background; }
    """

    def __init__(self, page: Screen[object]) -> None:
        super().__init__()
        self.purpose = str(getattr(page, "HELP", ""))
        self.keys = _keys(page)

    def compose(self) -> ComposeResult:
        """Purpose, keys, cautions."""
        with Vertical() as box:
            box.border_title = "Help"
            with VerticalScroll():
                yield Static(self.purpose, markup=False)
                yield Static(self.keys)
                yield Static("Cautions", classes="heading")
                yield Static("\n".join(f"· {caution}" for caution in CAUTIONS), markup=False)
            yield KeyLine()


def _keys(page: Screen[object]) -> Text:
    """A table of the keys that work on a page, one a line."""
    text = Text()
    for _, binding, enabled, tooltip in page.active_bindings.values():
        words = tooltip or binding.description
        if enabled and words and not binding.system:
            key = page.app.get_key_display(binding)
            text.append(f"{key:>10}", "bold")
            text.append(f"  {words}\n")
    text.right_crop(1)
    return text
