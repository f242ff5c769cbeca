"""The line of keys at the foot of every screen, and the line of facts at its head."""

from rich.cells import cell_len
from rich.text import Text
from textual.app import RenderResult
from textual.binding import Binding
from textual.events import Click, Resize
from textual.reactive import reactive
from textual.screen import Screen
from textual.widget import Widget

from stillroom.screens.pages import key_range, marked_range


class KeyLine(Widget):
    """The keys that matter here, drawn in one piece.

    Textual's own footer keeps every key it ever drew alive; this one is a single widget, so a
    program that stays open for months does not grow.
    """

    COMPONENT_CLASSES = {"keyline--key", "keyline--word"}
    DEFAULT_CSS = """
    KeyLine {
        dock: bottom; height: auto; max-height: 2; padding: 0 1;
        background: $panel; color: $foreground;
        & > .keyline--key { color: $footer-key-foreground; text-style: bold; background: $panel; }
        & > .keyline--word { color: $foreground; background: $panel; }
    }
    """

    shown: reactive[tuple[Binding, ...]] = reactive((), layout=True)
    """The bindings to draw."""

    def on_mount(self) -> None:
        """Follow what the screen can do."""
        self.screen.bindings_updated_signal.subscribe(self, self._read)
        # At once, so that the first layout has the right height already.
        self._take(self.screen)

    def _read(self, screen: Screen[object]) -> None:
        if screen.is_current:
            self._take(screen)

    def _take(self, screen: Screen[object]) -> None:
        active = [entry.binding for entry in screen.active_bindings.values() if entry.binding.show]
        # One word for one thing, however many keys do it.
        words: dict[str, Binding] = {}
        for binding in active:
            words.setdefault(binding.description, binding)
        self.shown = tuple(sorted(words.values(), key=_is_common))

    def render(self) -> RenderResult:
        """Draw as many keys as two lines hold; the rest is in the help."""
        key_style = self.get_component_rich_style("keyline--key")
        word_style = self.get_component_rich_style("keyline--word")
        text = Text(no_wrap=False, overflow="ellipsis")
        used = 0
        lines = 1
        width = max(1, self.content_size.width or self.app.size.width - 2)
        for binding in self._that_fit(width):
            key = self._shown_key(binding)
            length = cell_len(key) + 1 + cell_len(binding.description)
            if used and used + 2 + length > width:
                if lines == 2:
                    break
                text.append("\n")
                lines, used = 2, 0
            elif used:
                text.append("  ", word_style)
                used += 2
            text.append(key, key_style)
            text.append(f" {binding.description}", word_style)
            text.apply_meta({"pressed": binding.key}, len(text) - length)
            used += length
        return text

    def _that_fit(self, width: int) -> tuple[Binding, ...]:
        """All keys, or all but the one that may be left out, where two lines don't hold them."""
        lines, used = 1, 0
        for binding in self.shown:
            length = cell_len(self._shown_key(binding)) + 1 + cell_len(binding.description)
            if used and used + 2 + length > width:
                lines, used = lines + 1, length
            else:
                used += length + (2 if used else 0)
        if lines <= 2:
            return self.shown
        return tuple(each for each in self.shown if each.id != WHERE_THERE_IS_ROOM)

    def _shown_key(self, binding: Binding) -> str:
        """The key as it is drawn; of the keys of the pages, the page that is open is marked."""
        key = self.app.get_key_display(binding)
        return marked_range(type(self.screen).__name__) if key == key_range() else key

    def on_resize(self, event: Resize) -> None:
        """Break the line again."""
        self.refresh(layout=True)

    def on_click(self, event: Click) -> None:
        """A key that is clicked is a key pressed."""
        key = event.style.meta.get("pressed")
        if key:
            event.stop()
            self.app.simulate_key(key)


WHERE_THERE_IS_ROOM = "page.correct"
"""A key that is drawn only where two lines hold all the others as well."""


def _is_common(binding: Binding) -> bool:
    """Keys that every page has come last."""
    return (binding.id or "").startswith("page.")


class HeadLine(Widget):
    """One line of facts above a page: words at the left, the day at the right."""

    DEFAULT_CSS = """
    HeadLine { dock: top; height: 1; padding: 0 1; background: $panel; color: $foreground; }
    """

    left: reactive[Text] = reactive(Text)
    right: reactive[Text] = reactive(Text)
    who: reactive[str] = reactive("")
    """Initials of who is at the shelf, shown where there is room."""

    def render(self) -> RenderResult:
        """Left part cut to what the right part leaves."""
        width = self.content_size.width or self.app.size.width - 2
        right = self.right.copy()
        if self.who and self.left.cell_len + cell_len(self.who) + 4 + right.cell_len <= width:
            right = Text.assemble((self.who, "bold"), " · ", right)
        room = max(0, width - right.cell_len - 1)
        left = self.left.copy()
        left.truncate(room, overflow="ellipsis", pad=True)
        return Text.assemble(left, " ", right, no_wrap=True)
