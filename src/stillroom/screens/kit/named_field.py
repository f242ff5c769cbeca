"""What every field of a form has around it: its name before it, and a hint after it."""

from rich.cells import cell_len
from textual.app import ComposeResult, RenderResult
from textual.containers import Vertical
from textual.content import Content
from textual.geometry import Region

from stillroom.screens.kit.placed_once import PlacedOnce
from stillroom.screens.kit.text import fit


class Taker(PlacedOnce):
    """What takes the keys of a field."""

    def on_resize(self) -> None:
        """Have the name and the hint around it drawn where it now is."""
        if isinstance(self.parent, NamedField):
            self.parent.taker_was_placed()


class NamedField(Vertical, PlacedOnce):
    """A widget that takes keys, with its name in its left margin and a hint beside it.

    Both are drawn here, not by widgets of their own: a form has dozens of them, and most of the
    time that a form takes to open goes into making, styling and placing widgets.
    """

    DEFAULT_CSS = """
    NamedField { height: auto; text-wrap: nowrap; }
    NamedField > .taker { width: 26; margin-left: 15; }
    NamedField.-half > .taker { width: 1fr; }
    """

    def __init__(
        self,
        label: str,
        taker: Taker,
        *,
        hint: str = "",
        id: str | None = None,
        classes: str | None = None,
    ) -> None:
        super().__init__(id=id, classes=classes)
        self.label = label
        self.taker = taker
        taker.add_class("taker")
        self.hint = hint
        self._drawn_around = Region()

    def compose(self) -> ComposeResult:
        """What takes the keys."""
        yield self.taker

    @property
    def name_width(self) -> int:
        """Columns for the name, without the one that keeps it apart from the field."""
        return max(0, self.taker.virtual_region.x - 1)

    @property
    def hint_width(self) -> int:
        """Columns for the hint, without the one that keeps it apart from the field."""
        return max(0, self.size.width - self.taker.virtual_region.right - 1)

    def render(self) -> RenderResult:
        """The name and the hint, with a gap for what takes the keys."""
        around = self._drawn_around = self.taker.virtual_region
        name, hint = fit(self.label, self.name_width), fit(self.hint, self.hint_width)
        return Content.assemble(
            (name, "bold $foreground" if self.has_focus_within else "$text-muted"),
            " " * (around.right + 1 - cell_len(name)),
            (hint, "$text-muted"),
        )

    def taker_was_placed(self) -> None:
        """Draw name and hint anew if what takes the keys has another place than they left it."""
        if self.taker.virtual_region != self._drawn_around:
            self.refresh()

    def on_descendant_focus(self) -> None:
        """The name of the field that has the keys is bold."""
        self.refresh()

    def on_descendant_blur(self) -> None:
        """The others are not."""
        self.refresh()
